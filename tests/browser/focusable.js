// Marks all that can be acted on with a number, and returns the words of each by its number.
() => {
  // In a drawing a frame of its own shows the focus, in place of an outline.
  window.lookOf = (node) => [...node.children].map((each) => {
    const style = getComputedStyle(each);
    return `${style.stroke} ${style.strokeWidth}`;
  }).join();
  const words = {};
  const groups = new Set();
  let number = 0;
  const all = 'a[href], button:not(:disabled), summary, select:not(:disabled), textarea:not(:disabled), input:not([type=hidden]):not(:disabled)';
  for (const node of document.querySelectorAll(all)) {
    if (!node.checkVisibility({ visibilityProperty: true }) || node.tabIndex < 0) continue;
    // Of dots that belong together one is stopped at, and arrows lead on.
    if (node.type === 'radio') {
      const group = `${node.form?.id ?? ''}/${node.name}`;
      const checked = document.querySelector(`input[type=radio][name="${node.name}"]:checked`);
      if (groups.has(group) || (checked && checked !== node && checked.form === node.form)) continue;
      groups.add(group);
    }
    number += 1;
    node.dataset.stop = String(number);
    node.dataset.look = window.lookOf(node);
    words[number] = `${node.tagName.toLowerCase()} ${(node.textContent.trim() || node.name || node.id).replace(/\s+/g, ' ').slice(0, 40)}`;
  }
  document.activeElement?.blur();
  window.scrollTo(0, 0);
  return words;
}
