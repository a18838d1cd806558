// Links, buttons and fields that a wet finger would miss (WCAG 2.2, 2.5.5: 44 px each way).
// Left out, as there: a link within a sentence or beside words of its line.
() => {
  const LEAST = 44;
  const found = [];
  const outer = (node) => {
    // A tick or a dot is touched by its label as well.
    const label = node.closest('label') ?? (node.id && document.querySelector(`label[for="${node.id}"]`));
    const small = node.matches('[type=checkbox], [type=radio]');
    const boxes = [node, small ? label : null].filter(Boolean).map((each) => each.getBoundingClientRect());
    return {
      wide: Math.max(...boxes.map((b) => b.right)) - Math.min(...boxes.map((b) => b.left)),
      high: Math.max(...boxes.map((b) => b.bottom)) - Math.min(...boxes.map((b) => b.top)),
    };
  };
  const inSentence = (node) => {
    if (!node.matches('a') || node instanceof SVGElement) return false;
    if (getComputedStyle(node).display !== 'inline') return false;
    const block = node.closest('p, li, dd, dt, td, th, figcaption, legend, label, h1, h2, h3, h4');
    if (!block) return false;
    const others = block.cloneNode(true);
    others.querySelectorAll('a, button, form').forEach((each) => each.remove());
    return /[\p{L}\p{N}]/u.test(others.textContent);
  };
  for (const node of document.querySelectorAll('a[href], button, summary, select, textarea, input:not([type=hidden])')) {
    if (!node.checkVisibility() || node.closest('.unseen, .skip')) continue;
    if (inSentence(node)) continue;
    const { wide, high } = outer(node);
    if (wide < LEAST || high < LEAST) {
      const words = (node.textContent.trim() || node.name || node.id || node.getAttribute('aria-label') || '').replace(/\s+/g, ' ');
      found.push(`${node.tagName.toLowerCase()} ${words.slice(0, 40)}: ${Math.round(wide)} x ${Math.round(high)}`);
    }
  }
  return found;
}
