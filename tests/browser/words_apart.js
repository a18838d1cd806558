// Words that lie on other words, and words that are cut off.
() => {
  const found = [];
  const boxes = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode;
    const owner = text.parentElement;
    if (!text.data.trim() || !owner.checkVisibility({ visibilityProperty: true, opacityProperty: true })) continue;
    if (owner.closest('.unseen, .skip, title, desc, style, script, option')) continue;
    const range = document.createRange();
    range.selectNodeContents(text);
    for (const box of range.getClientRects()) {
      if (box.width < 2 || box.height < 2) continue;
      // The box holds room for accents and tails; the letters are the middle of it.
      const trim = box.height * 0.25;
      boxes.push({ words: text.data.trim().replace(/\s+/g, ' ').slice(0, 30), l: box.left + 1, r: box.right - 1, t: box.top + trim, b: box.bottom - trim, owner });
    }
  }
  boxes.sort((one, other) => one.t - other.t);
  for (const [at, one] of boxes.entries()) {
    for (let next = at + 1; next < boxes.length && boxes[next].t < one.b; next += 1) {
      const other = boxes[next];
      if (one.l < other.r && other.l < one.r && one.words !== other.words) found.push(`${one.words} | ${other.words}`);
    }
  }
  for (const node of document.querySelectorAll('main *')) {
    if (node instanceof SVGElement || node.matches('input, textarea, select') || !node.checkVisibility() || node.closest('.unseen')) continue;
    const hides = getComputedStyle(node).overflowX === 'hidden' || getComputedStyle(node).overflowX === 'clip';
    if (hides && node.scrollWidth > node.clientWidth + 1) found.push(`cut off: ${node.className} ${node.textContent.trim().slice(0, 30)}`);
  }
  return [...new Set(found)];
}
