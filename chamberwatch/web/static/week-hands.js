// Fingers, mouse, wheel and keys on the chart.
"use strict";
window.chamberwatchWeek.hands = (page) => {
  const week = window.chamberwatchWeek;
  const { view, canvas, plot, widthOf, timeAt, show, zoom, act, readOff, readAt, readNext, speak } = page;
  const HOLD_MS = 350;
  const SCROLLS_MS = 300;

  const xOf = (event) => event.clientX - plot.getBoundingClientRect().left;
  const fingers = new Map();
  let hand = null;
  let holding = 0;

  function grip() {
    clearTimeout(holding);
    page.held = true;
    const [one, two] = [...fingers.values()];
    hand = two
      ? { does: "pinch", times: [timeAt(one), timeAt(two)] }
      : { does: "rest", x: one, from: view.from, to: view.to };
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button !== 0) return;
    fingers.set(event.pointerId, xOf(event));
    if (fingers.size > 2) return;
    canvas.setPointerCapture(event.pointerId);
    grip();
    if (event.pointerType !== "mouse" && hand.does === "rest") {
      holding = setTimeout(() => {
        if (!hand || hand.does !== "rest") return;
        hand.does = "read";
        readAt(hand.x, false);
      }, HOLD_MS);
    }
  });

  canvas.addEventListener("pointermove", (event) => {
    const x = xOf(event);
    if (!fingers.has(event.pointerId)) {
      if (event.pointerType === "mouse") readAt(x, false);
      return;
    }
    fingers.set(event.pointerId, x);
    if (!hand) return;
    if (hand.does === "pinch") {
      pinch();
      return;
    }
    if (hand.does === "read") {
      readAt(x, false);
      return;
    }
    if (hand.does === "rest" && Math.abs(x - hand.x) > (event.pointerType === "mouse" ? 3 : 7)) {
      clearTimeout(holding);
      hand.does = "drag";
      canvas.classList.add("held");
    }
    if (hand.does === "drag") {
      const by_ = ((hand.x - x) / widthOf()) * (hand.to - hand.from);
      show(hand.from + by_, hand.to + by_, false);
    }
  });

  // Each of two fingers keeps the time that it touched.
  function pinch() {
    const places = [...fingers.values()];
    const apart = places[1] - places[0];
    const [one, two] = hand.times;
    if (Math.abs(apart) < 16 || (apart > 0) !== (two > one)) return;
    const perPixel = (two - one) / apart;
    const from = one - (places[0] - week.LEFT) * perPixel;
    show(from, from + widthOf() * perPixel, false);
  }

  function lift(event) {
    if (!fingers.delete(event.pointerId)) return;
    clearTimeout(holding);
    const rested = hand && hand.does === "rest" && event.type === "pointerup";
    if (rested && event.pointerType !== "mouse") readAt(hand.x, true);
    if (hand && hand.does === "read") speak();
    canvas.classList.remove("held");
    if (fingers.size) {
      // The finger that stays after a pinch drags on, and is no tap.
      grip();
      hand.does = "drag";
    } else {
      hand = null;
      page.held = false;
    }
  }
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("pointerleave", (event) => {
    if (event.pointerType === "mouse" && !fingers.size && document.activeElement !== canvas) readAt(null, false);
  });
  // With two fingers the page must not scroll beneath them.
  canvas.addEventListener("touchstart", (event) => { if (event.touches.length > 1) event.preventDefault(); }, { passive: false });
  canvas.addEventListener("contextmenu", (event) => { if (hand) event.preventDefault(); });

  // A page that is being scrolled scrolls on across the chart; else the wheel brings closer.
  let scrolled = 0;
  let turned = 0;
  addEventListener("scroll", () => { scrolled = performance.now(); }, { passive: true });
  canvas.addEventListener("wheel", (event) => {
    const at = performance.now();
    if (at - scrolled < SCROLLS_MS && at - turned > SCROLLS_MS && !event.ctrlKey) return;
    event.preventDefault();
    turned = at;
    const unit = event.deltaMode === 1 ? 24 : 1;
    if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) {
      const by_ = ((event.deltaX * unit) / widthOf()) * (view.to - view.from);
      show(view.from + by_, view.to + by_, false);
    } else {
      const pull = Math.max(-0.5, Math.min(0.5, event.deltaY * unit * 0.002));
      zoom(Math.exp(pull), xOf(event));
      readAt(xOf(event), false);
    }
  }, { passive: false });

  const KEYS = {
    ArrowLeft: () => readNext(-1), ArrowRight: () => readNext(1),
    PageUp: () => act("earlier"), PageDown: () => act("later"),
    "+": () => act("closer"), "=": () => act("closer"), "-": () => act("farther"), End: () => act("now"),
    Escape: () => { page.reading = null; readOff(); },
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !KEYS[event.key] || !page.chart) return;
    event.preventDefault();
    KEYS[event.key]();
  });
};
