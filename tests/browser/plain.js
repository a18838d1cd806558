// What every page has, whatever it shows: returns in words what this one lacks.
() => {
  const found = [];
  const count = (what) => document.querySelectorAll(what).length;
  const one = (what) => { if (count(what) !== 1) found.push(`${count(what)} ${what} instead of one`); };
  ['h1', 'main', 'header.top', 'footer.foot', 'html[lang]', 'head > title'].forEach(one);
  if (!/^\S.* · chamberwatch$/.test(document.title)) found.push(`title: ${document.title}`);
  if (!count('.skip[href="#page"]')) found.push('no way past the navigation');
  const ids = [...document.querySelectorAll('[id]')].map((node) => node.id);
  for (const id of new Set(ids.filter((each, at) => ids.indexOf(each) !== at))) found.push(`twice: #${id}`);
  let last = 0;
  for (const node of document.querySelectorAll('h1, h2, h3, h4, h5')) {
    if (!node.checkVisibility()) continue;
    const level = Number(node.tagName[1]);
    if (level > last + 1) found.push(`h${level} after h${last}: ${node.textContent.trim().slice(0, 40)}`);
    last = level;
  }
  return found;
}
