// The page Week under the hand: what is shown, fetching it, and the fingers, keys and links that
// change it. Without this script the page shows the server's own drawing.
"use strict";
(() => {
  const week = window.chamberwatchWeek;
  const root = document.getElementById("week");
  if (!root || !week || !window.echarts) return;
  const by = (id) => document.getElementById(id);
  const told = JSON.parse(root.dataset.told);
  const canvas = by("canvas");
  const plot = by("plot");
  const clock = week.clockOf(told.zone);
  const write = window.chamberwatchFigures.writer(told).number;
  week.says = told.says;

  const HOUR = 3600;
  const SHORTEST = HOUR / 4;
  const LONGEST = 11 * 366 * week.DAY;
  const SETTLES_MS = 160;
  const RESTS_MS = 700;
  const EVERY_MS = 60000;

  const epoch = (iso) => Date.parse(iso) / 1000;
  const iso = (time) => new Date(Math.round(time) * 1000).toISOString().replace(".000Z", "Z");
  const began = Date.now() / 1000;
  // The site's clock, which the browser's may differ from.
  const now = () => epoch(told.now) + Date.now() / 1000 - began;
  const newestEnd = () => Math.ceil(now() / HOUR) * HOUR;

  const view = { from: epoch(told.from), to: epoch(told.to) };
  // What its other parts are given: reading off (week-read.js) and hands (week-hands.js).
  const page = { told, view, clock, plot, canvas, write, besideName, chart: null, beside: null, reading: null };
  let board = null;
  let fetching = null;
  let settling = 0;
  let resting = 0;
  let under = Promise.resolve();

  // ------------------------------------------------------------------ words

  function daysBefore(length) {
    return length <= week.DAY + HOUR ? 1 : Math.max(1, Math.ceil((length - HOUR) / (7 * week.DAY))) * 7;
  }
  function besideName() {
    if (told.beside !== told.before) return told.titles[told.beside] || "";
    const days = daysBefore(view.to - view.from);
    if (days === 1) return told.says.dayBefore;
    return days === 7 ? told.says.weekBefore : week.filled(told.says.weeksBefore, { weeks: days / 7 });
  }

  // ------------------------------------------------------------------ from the server

  const points = () => Math.min(1000, Math.max(300, Math.ceil((plot.clientWidth - 56) / 100) * 100));

  function address(what, chamber, from, to) {
    const query = new URLSearchParams({
      from: iso(from), to: iso(to), quantities: told.order.join(","), points: points(),
    });
    return `/api/v1/chambers/${encodeURIComponent(chamber)}/${what}?${query}`;
  }

  function pageAddress() {
    const query = new URLSearchParams({ chamber: told.chamber, from: iso(view.from), to: iso(view.to) });
    if (told.beside) query.set("beside", told.beside);
    return `/week?${query}`;
  }

  async function ask(address_, signal) {
    const answer = await fetch(address_, { signal, headers: { Accept: "application/json" } });
    if (answer.redirected || answer.status === 401) {
      // The session has ended: the page itself leads to where one logs in.
      location.reload();
      throw new DOMException("left", "AbortError");
    }
    if (!answer.ok) throw new Error(`answered ${answer.status}`);
    return answer.json();
  }

  async function load() {
    if (fetching) fetching.abort();
    const mine = new AbortController();
    fetching = mine;
    const { from, to } = view;
    const asked = [ask(address("chart", told.chamber, from, to), mine.signal)];
    let later = 0;
    if (told.beside === told.before) {
      const start = clock.byDays(from, -daysBefore(to - from));
      later = from - start;
      asked.push(ask(address("chart", told.chamber, start, start + to - from), mine.signal));
    } else if (told.beside) {
      asked.push(ask(address("chart", told.beside, from, to), mine.signal));
    }
    try {
      const [own, other] = await Promise.all(asked);
      page.chart = week.read(own, told.fahrenheit);
      page.beside = other ? { ...week.read(other, told.fahrenheit), later } : null;
      by("csv").href = address("chart.csv", told.chamber, from, to);
      by("trouble").hidden = true;
      draw();
      root.dataset.drawn = `${iso(from)}/${iso(to)}`;
    } catch (fault) {
      if (fault.name === "AbortError") return;
      by("trouble").textContent = told.says.unreached;
      by("trouble").hidden = false;
    } finally {
      if (fetching === mine) fetching = null;
      if (!fetching && !settling) canvas.removeAttribute("aria-busy");
    }
  }

  // What stands beneath the chart, for paper too, follows when the hand rests.
  async function follow() {
    const asked = pageAddress();
    try {
      const answer = await fetch(asked);
      if (!answer.ok || asked !== pageAddress()) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const open = by("happened") && by("happened").open;
      for (const id of ["under", "by-server"]) by(id).replaceChildren(...fresh.getElementById(id).childNodes);
      if (by("happened")) by("happened").open = open;
      for (const name of ["from", "to"]) {
        by("choose").elements[name].value = fresh.getElementById("choose").elements[name].value;
      }
      document.title = fresh.title;
      for (const link of root.querySelectorAll(".steps a")) {
        const other = fresh.querySelector(`.steps a[data-act="${link.dataset.act}"]`);
        if (other && other.hasAttribute("href")) link.setAttribute("href", other.getAttribute("href"));
      }
    } catch { /* the chart says it when the server is away */ }
  }

  // ------------------------------------------------------------------ drawing

  function scene() {
    return { view, chart: page.chart, beside: page.beside, told, clock, width: plot.clientWidth, height: plot.clientHeight, write };
  }

  // Bands, nights, signs and words are plain shapes on the library's canvas; they come and go whole.
  let group = null;
  function put(shapes) {
    const { graphic } = window.echarts;
    const fresh = new graphic.Group({ silent: true });
    for (const { type, path, ...props } of shapes) {
      const whole = { ...props, silent: true };
      fresh.add(path ? graphic.makePath(path, whole) : new graphic[type](whole));
    }
    const canvas_ = board.getZr();
    if (group) canvas_.remove(group);
    canvas_.add(fresh);
    group = fresh;
  }

  function draw() {
    if (!page.chart) return;
    if (!board) {
      by("charts").hidden = false;
      root.classList.add("drawn-by-script");
      board = window.echarts.init(plot, null, { renderer: "canvas" });
    }
    const { option, shapes } = week.plan(scene());
    board.setOption(option, { notMerge: true, silent: true });
    put(shapes);
    board.getZr().flush();
    root.dataset.first = root.dataset.first || String(Math.round(performance.now()));
    said();
    page.readOff();
  }

  // While a hand moves, only the times along the axis change.
  let frame = 0;
  function drawMoved() {
    if (frame || !board) return;
    frame = requestAnimationFrame(() => {
      frame = 0;
      const { axes, shapes } = week.plan(scene());
      board.setOption({ xAxis: axes }, { silent: true });
      put(shapes);
      said();
      page.readOff();
    });
  }

  // Steps that don't always lead on, and whether they do.
  const steps = {
    later: () => view.to < now(), now: () => view.to < now(),
    closer: () => view.to - view.from > SHORTEST, farther: () => view.to - view.from < LONGEST,
  };

  // The words and links that tell what is shown.
  function said() {
    by("span-words").textContent = week.spanWords(clock, view.from, view.to);
    const length = view.to - view.from;
    for (const link of root.querySelectorAll(".steps a")) {
      const of = told.lengths[link.dataset.act];
      const here = of && Math.abs(length - of) < of / 20;
      if (here) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
      const can = steps[link.dataset.act];
      if (can) {
        if (can()) link.removeAttribute("aria-disabled");
        else link.setAttribute("aria-disabled", "true");
        if (can() && !link.hasAttribute("href")) link.setAttribute("href", pageAddress());
      }
    }
    by("beside-key").hidden = !told.beside;
    if (told.beside) by("beside-name").textContent = besideName();
  }

  // ------------------------------------------------------------------ from when to when

  function show(from, to, atOnce) {
    let length = Math.min(LONGEST, Math.max(SHORTEST, to - from));
    const middle = (from + to) / 2;
    if (length !== to - from) [from, to] = [middle - length / 2, middle + length / 2];
    // A little of what is to come may stand at the right, but not more than that.
    const last = Math.max(newestEnd(), now() + length / 10);
    if (to > last) [from, to] = [last - length, last];
    const grain = length > 6 * HOUR ? 60 : 1;
    from = Math.round(from / grain) * grain;
    to = Math.round(to / grain) * grain;
    if (from === view.from && to === view.to) return;
    Object.assign(view, { from, to });
    canvas.setAttribute("aria-busy", "true");
    drawMoved();
    clearTimeout(settling);
    settling = setTimeout(settle, atOnce ? 0 : SETTLES_MS);
  }

  function settle() {
    settling = 0;
    history.replaceState(null, "", pageAddress());
    load();
    clearTimeout(resting);
    resting = setTimeout(() => { resting = 0; under = follow(); }, RESTS_MS);
  }

  function zoom(factor, x) {
    const length = (view.to - view.from) * factor;
    const atEnd = x === null && view.to >= now();
    const anchor = atEnd ? view.to : x === null ? (view.from + view.to) / 2 : page.timeAt(x);
    const share = (anchor - view.from) / (view.to - view.from);
    show(anchor - share * length, anchor + (1 - share) * length, x === null);
  }

  function step(times) {
    const [from, to] = [clock.wall(view.from), clock.wall(view.to)];
    const length = to - from;
    // Whole days stay whole days of the site's clock, also where one has 23 or 25 hours.
    if (length % week.DAY === 0) show(clock.fromWall(from + times * length), clock.fromWall(to + times * length), true);
    else show(view.from + times * (view.to - view.from), view.to + times * (view.to - view.from), true);
  }

  function lasting(length) {
    let { to } = view;
    if (to < now()) to = Math.min((view.from + view.to) / 2 + length / 2, newestEnd());
    show(length % week.DAY === 0 ? clock.byDays(to, -length / week.DAY) : to - length, to, true);
  }

  function act(name) {
    if (name === "earlier") step(-1);
    else if (name === "later") step(1);
    else if (name === "now") show(newestEnd() - (view.to - view.from), newestEnd(), true);
    else if (name === "farther") zoom(2, null);
    else if (name === "closer") zoom(0.5, null);
    else if (told.lengths[name]) lasting(told.lengths[name]);
  }

  root.addEventListener("click", (event) => {
    const button = event.target.closest("[data-act]");
    if (!button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    if (button.getAttribute("aria-disabled") !== "true") act(button.dataset.act);
  });

  by("print").addEventListener("click", async (event) => {
    event.preventDefault();
    if (resting) {
      clearTimeout(resting);
      resting = 0;
      under = follow();
    }
    await under;
    print();
  });

  // ------------------------------------------------------------------ what changes around it

  new ResizeObserver(() => {
    if (!board || plot.clientWidth === board.getWidth()) return;
    board.resize();
    draw();
  }).observe(plot);
  for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) {
    matchMedia(query).addEventListener("change", draw);
  }
  setInterval(() => {
    if (document.hidden || page.held || view.to < now() - EVERY_MS / 1000) return;
    const late = newestEnd() - view.to;
    if (late > 0 && late <= HOUR) show(view.from + late, view.to + late, true);
    else load();
  }, EVERY_MS);

  week.reading(page);
  Object.assign(page, { show, zoom, act });
  week.hands(page);
  by("how-to-read").hidden = false;
  by("print").hidden = false;
  load();
})();
