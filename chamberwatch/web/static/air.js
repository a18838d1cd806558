// Reads any point of the chart: a ring that a finger, a mouse or the arrow keys move, and a line
// of text that says what air there is, and how it stands against the band.
"use strict";
(() => {
  const { writer, filled, GAP } = window.chamberwatchFigures;
  let at = null; // temperature [°C] and humidity ratio [g/kg] of the ring

  const one = (id) => document.getElementById(id);

  function paper() {
    const chart = one("airchart");
    if (!chart) return null;
    const [left, top, right, bottom] = chart.dataset.plot.split(" ").map(Number);
    const [low, high, most] = chart.dataset.window.split(" ").map(Number);
    const reads = JSON.parse(chart.dataset.reads);
    return { chart, left, top, right, bottom, low, high, most, reads };
  }

  function place(p, point) {
    return [
      p.left + ((point.t - p.low) / (p.high - p.low)) * (p.right - p.left),
      p.bottom - (point.w / p.most) * (p.bottom - p.top),
    ];
  }

  function pointAt(p, event) {
    const box = p.chart.getBoundingClientRect();
    const per = p.chart.viewBox.baseVal.width / box.width;
    const x = (event.clientX - box.left) * per;
    const y = (event.clientY - box.top) * per;
    const t = p.low + ((x - p.left) / (p.right - p.left)) * (p.high - p.low);
    return { t, w: ((p.bottom - y) / (p.bottom - p.top)) * p.most };
  }

  function kept(p, point) {
    const inside = (value, low, high) => Math.min(Math.max(value, low), high);
    return { t: inside(point.t, p.low, p.high), w: inside(point.w, 0, p.most) };
  }

  function verdict(reads, write, air) {
    if (!reads.judged) return { words: reads.says.none, out: false };
    const said = [];
    let harm = false;
    const look = (value, [low, high, harmLow, harmHigh], below, above, usual, amount) => {
      const tell = (by, key) => {
        if (by > 0) said.push(filled(reads.says[key], { by: amount(by, usual + (by < 0.5 * 10 ** -usual ? 1 : 0)) }));
      };
      if (low !== null) tell(low - value, below);
      if (high !== null) tell(value - high, above);
      harm = harm || (harmLow !== null && value < harmLow) || (harmHigh !== null && value > harmHigh);
    };
    look(air.temperature, reads.limits.t, "cold", "warm", 1, write.difference);
    look(air.humidity, reads.limits.rh, "dry", "humid", 0, (by, decimals) => `${write.number(by, decimals)}${GAP}%`);
    if (harm) said.push(reads.says.harm);
    return { words: said.join(", ") || reads.says.within, out: said.length > 0 };
  }

  function telling(p, point) {
    const { reads } = p;
    const write = writer(reads);
    const most = moistAir.mostRatio(point.t, reads.pressure) * 1000;
    if (point.w > most) {
      const tail = filled(reads.says.most, { t: write.temperature(point.t), water: write.number(most, 1) });
      return { air: reads.says.fog, follows: tail, verdict: { words: "", out: false } };
    }
    const air = moistAir.stateAt(point.t, point.w / 1000, reads.pressure);
    return {
      air: filled(reads.says.air, { t: write.temperature(air.temperature), rh: write.number(air.humidity, 0) }),
      verdict: verdict(reads, write, air),
      follows: filled(reads.says.follows, {
        point: air.frost ? reads.says.frost : reads.says.dew,
        dew: write.temperature(air.dewPoint),
        vpd: write.number(air.vpdPa / 1000, 2),
        wet: write.temperature(air.wetBulb),
        water: write.number(air.ratio * 1000, 1),
        heat: write.number(air.enthalpyKj, 1),
      }),
    };
  }

  // An element of its own, for only such a one can keep a finger from moving the page.
  function grip(p, x, y) {
    const handle = one("grip");
    const box = p.chart.getBoundingClientRect();
    const from = one("reading").getBoundingClientRect();
    const per = box.width / p.chart.viewBox.baseVal.width;
    handle.hidden = false;
    handle.style.left = `${box.left - from.left + x * per}px`;
    handle.style.top = `${box.top - from.top + y * per}px`;
  }

  function show() {
    const p = paper();
    const cross = one("cross");
    const line = one("readoff");
    if (!p || !cross || !line || !at) return;
    at = kept(p, at);
    const [x, y] = place(p, at);
    cross.removeAttribute("hidden");
    cross.querySelector(".lines").setAttribute("d", `M${p.left} ${y}H${p.right}M${x} ${p.top}V${p.bottom}`);
    const ring = cross.querySelector(".ring");
    ring.setAttribute("cx", x);
    ring.setAttribute("cy", y);
    grip(p, x, y);
    const told = telling(p, at);
    const strong = document.createElement("b");
    strong.textContent = told.air;
    const stands = document.createElement("span");
    stands.textContent = told.verdict.words;
    stands.className = told.verdict.out ? "out" : "";
    line.replaceChildren(strong, " ", stands, told.verdict.words ? "; " : " ", told.follows);
  }

  function begin() {
    const p = paper();
    if (!p || at) return;
    const now = p.chart.querySelector(".mark-now .spot");
    if (now) {
      const x = Number(now.getAttribute("cx"));
      const y = Number(now.getAttribute("cy"));
      at = {
        t: p.low + ((x - p.left) / (p.right - p.left)) * (p.high - p.low),
        w: ((p.bottom - y) / (p.bottom - p.top)) * p.most,
      };
    } else {
      at = { t: (p.low + p.high) / 2, w: p.most / 3 };
    }
    show();
  }

  function follow(event) {
    const p = paper();
    if (!p) return;
    at = pointAt(p, event);
    show();
  }

  const over = (event) => event.target instanceof Element && event.target.closest("#reading");

  document.addEventListener("pointerdown", (event) => {
    if (!over(event)) return;
    if (event.target.id === "grip") event.target.setPointerCapture(event.pointerId);
    follow(event);
  });
  document.addEventListener("pointermove", (event) => {
    // A mouse reads as it passes; a finger while it is down.
    if (over(event) && (event.pointerType === "mouse" || event.buttons)) follow(event);
  });
  document.addEventListener("focusin", (event) => {
    if (event.target.id === "reading") begin();
  });
  const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  document.addEventListener("keydown", (event) => {
    const step = STEPS[event.key];
    if (!step || event.target.id !== "reading" || event.altKey || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    begin();
    const far = event.shiftKey ? 5 : 1;
    at = { t: at.t + step[0] * 0.2 * far, w: at.w + step[1] * 0.1 * far };
    show();
  });

  // The live view may put in a new chart, with another window; the ring stays with its air.
  function arm() {
    const reading = one("reading");
    if (!reading) return;
    if (!reading.hasAttribute("tabindex")) reading.tabIndex = 0;
    one("readoff").hidden = false;
    if (!one("readoff").textContent) one("readoff").textContent = one("reading-how").textContent;
    show();
  }
  addEventListener("resize", show);
  const live = one("live");
  if (!live) return;
  new MutationObserver((changes) => {
    if (changes.some((change) => !one("readoff")?.contains(change.target))) arm();
  }).observe(live, { childList: true, subtree: true });
  arm();
  document.documentElement.dataset.reads = "yes";
})();
