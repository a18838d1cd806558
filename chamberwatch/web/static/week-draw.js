// Draws charts: from what the API told to what is put before the drawing library. Keeps no state.
"use strict";
(() => {
  const week = window.chamberwatchWeek;
  const { outside, beyond, crossed } = week;
  const LEFT = 46;
  const RIGHT = 10;
  const LANE = 20;
  const TITLE = 22;
  const GAP = 10;
  const FOOT = 26;
  const AT_THE_END = 3;
  const PER_MARK = 66;
  const PER_LETTER = 6.4;
  const PER_BOLD = 7.2;
  const TOGETHER = 12;
  const PER_HAIR = 14;
  const PER_SIGN = 14;
  const NIGHT_SEEN = 3;
  const MARGIN = 0.08;
  const NEAR_HARM = 0.2;
  const STROKE = 4;
  const PER_STROKE = 7;
  const CROSSED_SEEN = 4;
  const ROOM_FOR_WORDS = 80;

  const seconds = (iso) => Date.parse(iso) / 1000;
  const isTemperature = (quantity) => quantity === "temperature_c" || quantity === "dew_point_c";

  // What the API told, in the units that are shown, with times as numbers.
  function read(told, fahrenheit) {
    const turn = (quantity, value) =>
      value === null || !fahrenheit || !isTemperature(quantity) ? value : value * 1.8 + 32;
    const lines = {};
    for (const line of told.lines) {
      const turned = (values) => values.map((value) => turn(line.quantity, value));
      lines[line.quantity] = {
        at: line.at, least: turned(line.least), mean: turned(line.mean), most: turned(line.most),
      };
    }
    const bands = told.bands.map((band) => ({
      quantity: band.quantity, from: seconds(band.from), to: seconds(band.to), why: band.why,
      low: turn(band.quantity, band.low), high: turn(band.quantity, band.high),
      harmLow: turn(band.quantity, band.harm_low), harmHigh: turn(band.quantity, band.harm_high),
    }));
    const marks = told.marks.map((mark) => ({
      kind: mark.kind, word: mark.word, text: mark.text, at: seconds(mark.at),
      until: mark.until === null ? null : seconds(mark.until),
    }));
    const nights = told.nights.map(([start, end]) => [seconds(start), seconds(end)]);
    return { lines, bands, marks, nights, step: told.step_s, from: seconds(told.from), to: seconds(told.to) };
  }

  // From which to which value a panel is drawn: all values, the bands, and harm that came near.
  function stretch(quantities, charts, bands, kind) {
    let least = Infinity;
    let most = -Infinity;
    const see = (value) => {
      if (value === null) return;
      least = Math.min(least, value);
      most = Math.max(most, value);
    };
    for (const chart of charts) {
      for (const quantity of quantities) {
        const line = chart.lines[quantity];
        if (!line) continue;
        line.least.forEach(see);
        line.most.forEach(see);
      }
    }
    const [lowest, highest] = [least, most];
    for (const band of bands) {
      see(band.low);
      see(band.high);
      const { low, high, harmLow, harmHigh } = band;
      if (harmLow !== null && (low === null || lowest < low - NEAR_HARM * (low - harmLow))) see(harmLow);
      if (harmHigh !== null && (high === null || highest > high + NEAR_HARM * (harmHigh - high))) see(harmHigh);
    }
    if (least > most) least = most = kind.floor ?? 0;
    const lacking = Math.max(0, kind.leastSpread - (most - least)) / 2;
    const margin = MARGIN * (most - least) + lacking;
    const floor = kind.floor === null ? -Infinity : Math.min(kind.floor, least);
    const ceiling = kind.ceiling === null ? Infinity : Math.max(kind.ceiling, most);
    return [Math.max(least - margin, floor), Math.min(most + margin, ceiling)];
  }

  function roundNumbers(low, high) {
    const ten = 10 ** Math.floor(Math.log10(high - low));
    const step = [0.1, 0.2, 0.25, 0.5, 1, 2, 2.5, 5].map((n) => n * ten)
      .find((each) => Math.floor(high / each + 1e-9) - Math.ceil(low / each - 1e-9) < 4);
    const numbers = [];
    for (let n = Math.ceil(low / step - 1e-9); n <= Math.floor(high / step + 1e-9); n += 1) numbers.push(n * step);
    return numbers;
  }

  function decimalsFor(numbers) {
    for (let n = 0; n < 4; n += 1) {
      if (numbers.every((value) => Math.abs(value - Number(value.toFixed(n))) < 1e-9)) return n;
    }
    return 4;
  }

  function inks() {
    const style = getComputedStyle(document.documentElement);
    const ink = (name) => style.getPropertyValue(name).trim();
    return {
      ink: ink("--ink"), soft: ink("--soft"), line: ink("--line"), faint: ink("--faint"), paper: ink("--paper"),
      band: ink("--band"), out: ink("--out"), track: ink("--track"), ground: ink("--ground"), sans: ink("--sans"),
    };
  }

  // Marks that would lie on one another are one sign.
  function signs(marks, place, end) {
    const found = [];
    for (const mark of marks) {
      const x = place(mark.at);
      const until = mark.kind === "reminder" ? mark.until ?? end : mark.at;
      const last = found[found.length - 1];
      if (last && last.kind === mark.kind && x - last.x < TOGETHER) {
        last.words.push(mark.word);
        last.until = Math.max(last.until, until);
      } else {
        found.push({ kind: mark.kind, at: mark.at, until, x, words: [mark.word] });
      }
    }
    return found;
  }

  function wordOf(sign) {
    const count = sign.words.length;
    if (count === 1) return sign.words[0];
    return new Set(sign.words).size === 1 ? `${sign.words[0]} ×${count}` : `×${count}`;
  }

  // Where everything stands, in pixels.
  function layout(width, height, panels, lanes) {
    const top = lanes * LANE;
    const panel = (height - top - FOOT - panels * TITLE - (panels - 1) * GAP) / panels;
    const tops = Array.from({ length: panels }, (_, n) => top + TITLE + n * (panel + TITLE + GAP));
    return { left: LEFT, right: width - RIGHT, width: width - LEFT - RIGHT, top, panel, tops, foot: FOOT };
  }

  const QUIET = { silent: true, animation: false, emphasis: { disabled: true }, symbol: "none" };

  function pairs(line, values) {
    return line.at.map((at, n) => [at, values[n]]);
  }

  function lineSeries(axis, data, style, z) {
    return { ...QUIET, type: "line", xAxisIndex: axis, yAxisIndex: axis, data, lineStyle: style, z, connectNulls: false, showSymbol: false };
  }

  function panelSeries(axis, quantities, colours, chart, beside) {
    const series = [];
    quantities.forEach((quantity, number) => {
      const line = chart.lines[quantity];
      if (!line) return;
      if (number === 0 && beside && beside.lines[quantity]) {
        const moved = beside.lines[quantity];
        const data = moved.at.map((at, n) => [at + beside.later, moved.mean[n]]);
        series.push(lineSeries(axis, data, { color: colours.soft, width: 1.1, type: [5, 3] }, 5));
      }
      const style = number ? { color: colours.ink, width: 1.1, type: [1, 3] } : { color: colours.ink, width: 1.5 };
      series.push(lineSeries(axis, pairs(line, line.mean), style, 6));
      const out = outside(line, chart.bands, quantity);
      if (out.length) series.push(lineSeries(axis, out, { color: colours.out, width: 3, cap: "round", join: "round" }, 7));
    });
    return series;
  }

  // ------------------------------------------------------------------ all but the lines

  // Collects shapes; places in pixels, cut at the ends of the panels.
  function pencil(colours) {
    const made = [];
    const add = (type, z, shape, style) => made.push({ type, z, shape, style });
    return {
      made,
      rect: (z, x, y, width, height, style) => add("Rect", z, { x, y, width, height }, style),
      line: (z, x1, y1, x2, y2, stroke, lineWidth, lineDash) =>
        add("Line", z, { x1, y1, x2, y2 }, { stroke, lineWidth, lineDash, fill: null }),
      shape: (z, points, style) => add("Polygon", z, { points }, style),
      path: (z, x, y, path, style) => made.push({ type: "path", z, path, x, y, style }),
      text: (x, y, words, fill, align, weight) => made.push({
        type: "Text", z: 8,
        style: { x, y, text: words, fill, font: `${weight || 400} 11.5px ${colours.sans}`, align, verticalAlign: "middle" },
      }),
    };
  }

  // From the least to the most of each stretch, as an area for each run without a gap.
  function spreadShapes(pen, quantity, scene, colours, up) {
    const { place, view } = scene;
    const line = scene.chart.lines[quantity];
    const put = (points) => points.map(([at, value]) => [place(at), up(value)]);
    let most = [];
    let least = [];
    const close = () => {
      const wide = most.some(([, value], n) => up(least[n][1]) - up(value) > 0.5);
      if (most.length > 1 && wide) {
        pen.shape(4, put([...most, ...[...least].reverse()]), { fill: colours.ink, opacity: 0.14 });
        const style = { fill: colours.out, fillOpacity: 0.4, stroke: colours.out, lineWidth: 1.2, lineJoin: "round" };
        for (const outline of beyond(least, most, scene.chart.bands, quantity)) pen.shape(5, put(outline), style);
      }
      most = [];
      least = [];
    };
    line.at.forEach((at, n) => {
      if (line.most[n] === null) close();
      else if (at >= view.from && at <= view.to) {
        most.push([at, line.most[n]]);
        least.push([at, line.least[n]]);
      }
    });
    close();
  }

  // Harm limits: a soft line with strokes on its harmful side, strong where it was crossed.
  function harmShapes(pen, panel, scene, colours) {
    const { quantities, top, height, bounds, bands } = panel;
    const { chart, across, up, view } = scene;
    let said = false;
    for (const band of bands) {
      const [x1, x2] = [across(band.from), across(band.to)];
      if (x2 <= x1) continue;
      for (const [limit, low] of [[band.harmLow, true], [band.harmHigh, false]]) {
        if (limit === null || limit <= bounds[0] || limit >= bounds[1]) continue;
        const y = up(limit);
        pen.path(5, 0, 0, fence(x1, x2, y, low), { fill: null, stroke: colours.soft, lineWidth: 0.8 });
        if (said || x2 - x1 <= ROOM_FOR_WORDS) continue;
        said = true;
        const within = low ? top + height - y > 18 : y - top > 18;
        const off = (within ? 11 : 9) * (low === within ? 1 : -1);
        pen.text(x1 + 5, y + off, low ? week.says.harmBelow : week.says.harmAbove, colours.soft, "left");
      }
    }
    for (const quantity of quantities) {
      for (const [start, end, limit] of crossed(chart.lines[quantity], bands, quantity)) {
        if (end < view.from || start > view.to) continue;
        const x = across(start);
        pen.line(5, x, up(limit), Math.max(across(end), x + CROSSED_SEEN), up(limit), colours.out, 3);
      }
    }
  }

  function fence(x1, x2, y, low) {
    let path = `M${x1} ${y}H${x2}`;
    for (let x = x1 + STROKE; x <= x2; x += PER_STROKE) path += `M${x} ${y}l${-STROKE} ${low ? STROKE : -STROKE}`;
    return path;
  }

  function panelShapes(pen, panel, scene, colours, ticks) {
    const { quantities, top, height, bounds: [low, high], bands } = panel;
    const { places, place, chart, told, write } = scene;
    const foot = top + height;
    const across = (time) => Math.min(places.right, Math.max(places.left, place(time)));
    const up = (value) => foot - Math.min(1, Math.max(0, (value - low) / (high - low))) * height;
    pen.rect(0, places.left, top, places.width, height, { fill: colours.paper });
    for (const [start, end] of chart.nights) {
      const x = across(start);
      const width = across(end) - x;
      if (place(end) - place(start) >= NIGHT_SEEN && width > 0) pen.rect(1, x, top, width, height, { fill: colours.ink, opacity: 0.08 });
    }
    for (const band of bands) {
      const [x1, x2] = [across(band.from), across(band.to)];
      if (x2 <= x1) continue;
      const [upper, lower] = [band.high ?? band.harmHigh, band.low ?? band.harmLow];
      const y = upper === null ? top : up(upper);
      pen.rect(2, x1, y, x2 - x1, (lower === null ? foot : up(lower)) - y, { fill: colours.band, opacity: 0.8 });
      for (const limit of [band.low, band.high]) {
        if (limit !== null && limit > low && limit < high) pen.line(3, x1, up(limit), x2, up(limit), colours.line, 1);
      }
    }
    harmShapes(pen, panel, { ...scene, across, up }, colours);
    if (chart.lines[quantities[0]]) spreadShapes(pen, quantities[0], scene, colours, up);
    for (const tick of ticks) {
      const x = place(tick.at);
      pen.line(3, x, top, x, foot, tick.major ? colours.line : colours.faint, 0.8);
    }
    const numbers = roundNumbers(low, high);
    const decimals = decimalsFor(numbers);
    for (const number of numbers) {
      pen.line(3, places.left - 4, up(number), places.left, up(number), colours.soft, 1);
      pen.text(places.left - 7, up(number), write(number, decimals), colours.soft, "right");
    }
    const { label, unit } = told.kinds[quantities[0]];
    const words = `${label}, ${unit}`;
    const middle = top - TITLE / 2;
    pen.text(places.left, middle, words, colours.ink, "left");
    if (quantities.length > 1) {
      const x = places.left + words.length * PER_LETTER + 22;
      pen.line(8, x, middle, x + 26, middle, colours.ink, 1.2, [1, 3]);
      pen.text(x + 32, middle, told.kinds[quantities[1]].label, colours.ink, "left");
    }
  }

  // Faint lines through all panels where something was done, unless they would crowd.
  function hairs(pen, scene, colours, foot) {
    const { places, place, chart, view } = scene;
    const deeds = chart.marks.filter((mark) =>
      (mark.kind === "deed" || mark.kind === "found") && mark.at >= view.from && mark.at <= view.to);
    if (deeds.length > places.width / PER_HAIR) return;
    for (const { at } of deeds) pen.line(3, place(at), places.top, place(at), foot, colours.soft, 0.8, [1, 3]);
  }

  // Signs of what was done, of batches and of reminders, each kind in its own row above the panels.
  function laneShapes(pen, row, name, kinds, scene, colours) {
    const { places, place, chart, view, told } = scene;
    const y = row * LANE + LANE / 2;
    pen.text(places.left - 7, y, name, colours.soft, "right");
    const own = chart.marks.filter((mark) =>
      kinds.includes(mark.kind) && mark.at <= view.to && (mark.kind === "reminder" ? mark.until ?? chart.to : mark.at) >= view.from);
    const found = signs(own, place, chart.to);
    if (found.length > places.width / PER_SIGN) {
      pen.text(places.left + 4, y, week.filled(week.says.many, { number: own.length }), colours.soft, "left");
      return;
    }
    let taken = places.left;
    found.forEach((sign, n) => {
      const x = Math.max(places.left, sign.x);
      const ends = sign.kind === "reminder" ? Math.max(x + 3, Math.min(places.right, place(sign.until))) : x;
      if (sign.kind === "reminder") {
        pen.rect(8, x, y - 7, ends - x, 14, { fill: colours.track, stroke: colours.ink, lineWidth: 1 });
      } else {
        const fill = sign.kind === "found" ? null : colours.ink;
        pen.path(8, x, y, told.signs[sign.kind], { fill, stroke: colours.ink, lineWidth: 1 });
      }
      const after = n + 1 < found.length ? found[n + 1].x : places.right;
      taken = Math.max(taken, ends, laneWord(pen, wordOf(sign), { x, y, ends, taken, after, right: places.right }, colours));
    });
  }

  // A sign's word within its frame, behind it, or before it at the right end; returns where it ends.
  function laneWord(pen, word, { x, y, ends, taken, after, right }, colours) {
    const long = word.length * PER_LETTER;
    const starts = ends > x ? Math.max(ends, x + 3) + 4 : x + 8;
    const before = x - (ends > x ? 4 : 8);
    // A frame that began earlier may still last, or the next begin within this one.
    if (taken <= x && Math.min(ends, after) - x > long + 8) {
      pen.text(x + 5, y, word, colours.ink, "left");
      return ends;
    }
    if (taken <= starts && starts + long < after - 10) {
      pen.text(starts, y, word, colours.soft, "left");
      return starts + long;
    }
    if (starts + long >= right - 10 && taken + 6 < before - long) pen.text(before, y, word, colours.soft, "right");
    return x;
  }

  function timeWords(pen, ticks, scene, colours, y) {
    let free = 0;
    for (const tick of ticks) {
      const half = (tick.label.length * (tick.major ? PER_BOLD : PER_LETTER)) / 2;
      // At the ends of the sheet they move inwards and are not cut.
      const x = Math.min(Math.max(scene.place(tick.at), half), scene.width - half - AT_THE_END);
      if (x - half < free) continue;
      free = x + half + 6;
      pen.text(x, y, tick.label, tick.major ? colours.ink : colours.soft, "center", tick.major ? 600 : 400);
    }
  }

  // Everything that is drawn: axes and lines for the library, and shapes for its canvas.
  function plan(scene) {
    const { view, chart, beside, told, clock, width, height } = scene;
    const colours = inks();
    const lanes = told.lanes.filter(([, kinds]) => chart.marks.some((mark) => kinds.includes(mark.kind)));
    const places = layout(width, height, told.panels.length, lanes.length);
    const place = (time) => places.left + ((time - view.from) / (view.to - view.from)) * places.width;
    const ticks = week.marks(clock, view.from, view.to, Math.floor(places.width / PER_MARK));
    const whole = { ...scene, places, place };
    const pen = pencil(colours);
    const panels = told.panels.map((quantities, n) => {
      const charts = beside ? [chart, { lines: { [quantities[0]]: beside.lines[quantities[0]] } }] : [chart];
      const bands = chart.bands.filter((band) => quantities.includes(band.quantity));
      const bounds = stretch(quantities, charts, bands, told.kinds[quantities[0]]);
      return { quantities, bands, bounds, top: places.tops[n], height: places.panel };
    });
    for (const panel of panels) panelShapes(pen, panel, whole, colours, ticks);
    hairs(pen, whole, colours, height - FOOT);
    lanes.forEach(([name, kinds], row) => laneShapes(pen, row, name, kinds, whole, colours));
    timeWords(pen, ticks, whole, colours, height - 12);
    const hidden = { type: "value", show: false };
    const axes = panels.map((_, n) => ({ ...hidden, gridIndex: n, min: view.from, max: view.to }));
    return {
      shapes: pen.made,
      axes,
      option: {
        animation: false, backgroundColor: "transparent",
        grid: panels.map(({ top, height: high }) => ({ left: LEFT, width: places.width, top, height: high })),
        xAxis: axes,
        yAxis: panels.map(({ bounds: [low, high] }, n) => ({ ...hidden, gridIndex: n, min: low, max: high })),
        series: panels.flatMap(({ quantities }, n) => panelSeries(n, quantities, colours, chart, beside)),
      },
    };
  }

  Object.assign(week, { read, plan, LEFT, RIGHT });
})();
