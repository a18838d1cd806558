// Reads a chart off: which values stand at a time, as one line of words.
"use strict";
window.chamberwatchWeek.reading = (page) => {
  const week = window.chamberwatchWeek;
  const { told, view, clock, plot, write, besideName } = page;
  const RESTS_MS = 700;
  const by = (id) => document.getElementById(id);
  const hair = by("hair");
  const amount = (quantity, value) =>
    `${write(value, told.kinds[quantity].decimals)}\u00a0${told.kinds[quantity].unit}`;

  const widthOf = () => plot.clientWidth - week.LEFT - week.RIGHT;
  const placeOf = (time) => week.LEFT + ((time - view.from) / (view.to - view.from)) * widthOf();
  const timeAt = (x) => view.from + ((x - week.LEFT) / widthOf()) * (view.to - view.from);

  // The number of the point nearest to a time; -1 where none is near.
  function nearest(line, time, step) {
    const { at } = line;
    let low = 0;
    let high = at.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (at[middle] < time) low = middle + 1;
      else high = middle;
    }
    const near = low > 0 && (low === at.length || time - at[low - 1] < at[low] - time) ? low - 1 : low;
    const reach = Math.max(step * 0.75, (view.to - view.from) / 200);
    return near < at.length && Math.abs(at[near] - time) <= reach && line.mean[near] !== null ? near : -1;
  }

  function newest() {
    const times = Object.values(page.chart.lines).map((line) => {
      for (let n = line.at.length - 1; n >= 0; n -= 1) if (line.mean[n] !== null) return line.at[n];
      return -Infinity;
    });
    return Math.max(...times);
  }

  function piece(tag, words, cls) {
    const made = document.createElement(tag);
    made.textContent = words;
    if (cls) made.className = cls;
    return made;
  }

  function valueAt(quantity, time) {
    const line = page.chart.lines[quantity];
    const n = line ? nearest(line, time, page.chart.step) : -1;
    const { short } = told.kinds[quantity];
    if (n < 0) return { words: week.filled(told.says.notRead, { quantity: short }), out: false };
    const value = line.mean[n];
    const limit = week.limitLeft(page.chart.bands, quantity, line.at[n], value);
    const wide = line.most[n] - line.least[n];
    const decimals = told.kinds[quantity].decimals;
    const between = wide >= 10 ** -decimals && plot.clientWidth > 700
      ? ` ${week.filled(told.says.between, { low: write(line.least[n], decimals), high: write(line.most[n], decimals) })}` : "";
    const reads = `${short} ${amount(quantity, value)}${between}`;
    if (limit === null) return { words: reads, out: false };
    return { words: week.filled(value < limit ? told.says.below : told.says.above, { value: reads }), out: true };
  }

  function besideAt(time) {
    if (!page.beside) return "";
    const parts = told.panels.map(([quantity]) => {
      const line = page.beside.lines[quantity];
      const n = line ? nearest(line, time - page.beside.later, page.beside.step) : -1;
      return n < 0 ? "" : amount(quantity, line.mean[n]);
    }).filter(Boolean);
    return parts.length ? `${besideName()}: ${parts.join(", ")}` : "";
  }

  function markAt(time) {
    const reach = (view.to - view.from) * (8 / widthOf());
    const near = page.chart.marks.filter((mark) =>
      mark.kind === "reminder" ? mark.at - reach <= time && time <= (mark.until ?? view.to) : Math.abs(mark.at - time) <= reach);
    const marks = near.slice(0, 2).map((mark) => mark.text).join("; ");
    return near.length > 2 ? week.filled(told.says.more, { marks, number: near.length - 2 }) : marks;
  }

  function readOff() {
    if (!page.chart) return "";
    const last = newest();
    const time = page.reading ?? Math.min(last, view.to);
    const line = by("read-off");
    hair.hidden = page.reading === null || page.reading < view.from || page.reading > view.to;
    if (!hair.hidden) hair.style.transform = `translateX(${placeOf(page.reading).toFixed(1)}px)`;
    if (last === -Infinity) {
      line.replaceChildren(piece("b", told.says.nothing));
      return line.textContent;
    }
    const made = [piece("b", week.moment(clock, time, view.to - view.from > 180 * week.DAY))];
    for (const quantity of told.order) {
      const { words, out } = valueAt(quantity, time);
      made.push(piece("span", words, out ? "out" : ""));
    }
    const then = besideAt(time);
    if (then) made.push(piece("span", then, "then"));
    const mark = page.reading === null ? "" : markAt(time);
    if (mark) made.push(piece("span", mark, "mark-text"));
    line.replaceChildren(...made.flatMap((each) => [each, " "]));
    return made.map((each) => each.textContent).join("; ");
  }

  // Said aloud only when a key or a tap has come to rest, not while a hand slides.
  let speaking = 0;
  function speak() {
    clearTimeout(speaking);
    speaking = setTimeout(() => { by("read-out").textContent = readOff(); }, RESTS_MS);
  }

  function readAt(x, aloud) {
    page.reading = x === null ? null : Math.min(view.to, Math.max(view.from, timeAt(x)));
    readOff();
    if (aloud) speak();
  }

  function readNext(steps) {
    const line = Object.values(page.chart.lines).find((each) => each.at.length);
    if (!line) return;
    const each = Math.max(page.chart.step || 0, (view.to - view.from) / 300);
    const start = page.reading ?? Math.min(newest(), view.to);
    page.reading = Math.min(view.to, Math.max(view.from, start + steps * each));
    readOff();
    speak();
  }

  Object.assign(page, { widthOf, timeAt, readOff, readAt, readNext, speak });
};
