() => {
  const found = [];
  for (const scene of document.querySelectorAll('svg.scene')) {
    const frame = scene.getBoundingClientRect();
    const boxes = [...scene.querySelectorAll('text')].filter((node) => node.checkVisibility()).map((node) => {
      const box = node.getBoundingClientRect();
      // The box holds room for accents and tails; the letters are the middle of it.
      const trim = box.height * 0.2;
      return { text: node.lastChild.textContent, l: box.left, r: box.right, t: box.top + trim, b: box.bottom - trim };
    }).filter((box) => box.text.trim());
    for (const [at, one] of boxes.entries()) {
      if (one.l < frame.left - 1 || one.r > frame.right + 1) found.push(`out of the drawing: ${one.text}`);
      for (const other of boxes.slice(at + 1)) {
        if (one.l < other.r && other.l < one.r && one.t < other.b && other.t < one.b) found.push(`${one.text} | ${other.text}`);
      }
    }
  }
  return found;
}
