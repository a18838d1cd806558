() => {
  const shade = (text) => {
    const [r, g, b, a = 1] = text.match(/[\d.]+/g).map(Number);
    const part = (c) => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
    return [0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b), a];
  };
  const ground = (node) => {
    for (let at = node; at; at = at.parentElement) {
      const [light, alpha] = shade(getComputedStyle(at).backgroundColor);
      if (alpha > 0.99) return light;
    }
    return 1;
  };
  const cover = document.querySelector('.cover');
  const tags = { value: '.tag' };
  const poor = [];
  for (const node of document.querySelectorAll('p, h1, h2, h3, h4, a, button, dt, dd, b, s, li, svg text')) {
    if (!node.textContent.trim() || !node.getClientRects().length) continue;
    const style = getComputedStyle(node);
    const inside = node instanceof SVGElement;
    let on = ground(inside ? node.ownerSVGElement.parentElement : node);
    if (inside) {
      const under = node.classList.contains('value')
        ? node.parentElement.querySelector('.tag')
        : (node.closest('.around') ? null : cover);
      if (under) on = shade(getComputedStyle(under).fill)[0];
    }
    const [ink] = shade(inside ? style.fill : style.color);
    const ratio = (Math.max(ink, on) + 0.05) / (Math.min(ink, on) + 0.05);
    if (ratio < 4.5) poor.push(`${node.className.baseVal ?? node.className} ${node.textContent.trim().slice(0, 30)} ${ratio.toFixed(2)}`);
  }
  return poor;
}
