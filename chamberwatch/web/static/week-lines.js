// A line in pieces: where it left its band, how far, and where it crossed a harm limit; the same
// that the server's drawing has (chart_lines.py, chart_harm.py).
"use strict";
(() => {
  function bandAt(bands, quantity, time) {
    return bands.find((band) => band.quantity === quantity && band.from <= time && time < band.to) || null;
  }

  // The limit beyond which a value lies; null inside.
  function limitLeft(bands, quantity, time, value) {
    const band = bandAt(bands, quantity, time);
    if (!band) return null;
    const low = band.low ?? band.harmLow;
    const high = band.high ?? band.harmHigh;
    if (low !== null && value < low) return low;
    return high !== null && value > high ? high : null;
  }

  function crossing([start, first], [end, second], limit) {
    if (first === second || limit < Math.min(first, second) || limit > Math.max(first, second)) return [];
    return [[start + ((end - start) * (limit - first)) / (second - first), limit]];
  }

  // The pieces of a line outside its band, cut where they cross a limit, with gaps between.
  function outside(line, bands, quantity) {
    const found = [];
    let before = null;
    let left = null;
    for (let n = 0; n < line.at.length; n += 1) {
      if (line.mean[n] === null) {
        if (left !== null) found.push([line.at[n], null]);
        before = null;
        left = null;
        continue;
      }
      const point = [line.at[n], line.mean[n]];
      const beyond = limitLeft(bands, quantity, ...point);
      if (before && left !== null && beyond !== left) found.push(...crossing(before, point, left), [point[0], null]);
      if (beyond !== null) {
        if (before && beyond !== left) found.push(...crossing(before, point, beyond));
        found.push(point);
      }
      before = point;
      left = beyond;
    }
    return found;
  }

  // The parts from least to most that lie beyond the band, as outlines: along the far edge, and
  // back along the limit, or along the near edge where that is beyond it too.
  function beyond(least, most, bands, quantity) {
    return [...lobes(most, least, Math.max), ...lobes(least, most, Math.min)];

    function lobes(far, near, inner) {
      const edge = new Map(near);
      const line = { at: far.map(([at]) => at), mean: far.map(([, value]) => value) };
      const found = [];
      for (const piece of pieces(outside(line, bands, quantity))) {
        const out = piece.find(([at, value]) => limitLeft(bands, quantity, at, value) !== null);
        const limit = limitLeft(bands, quantity, ...out);
        if (inner(out[1], limit) !== out[1]) continue;
        const back = [...piece].reverse().map(([at]) => [at, inner(edge.get(at) ?? limit, limit)]);
        found.push([...piece, ...back]);
      }
      return found;
    }
  }

  // A line with gaps as a list of lines without.
  function pieces(line) {
    const found = [[]];
    for (const point of line) {
      if (point[1] === null) found.push([]);
      else found[found.length - 1].push(point);
    }
    return found.filter((piece) => piece.length > 0);
  }

  // From when to when the least lay below a harm limit, or the most above one, and the limit.
  function crossed(line, bands, quantity) {
    if (!line) return [];
    const only = (low, high) => bands.map((band) => ({ ...band, low: band[low] ?? null, high: band[high] ?? null, harmLow: null, harmHigh: null }));
    return [[line.least, only("harmLow", "")], [line.most, only("", "harmHigh")]].flatMap(([values, held]) =>
      pieces(outside({ at: line.at, mean: values }, held, quantity)).map((piece) => {
        const limit = piece.map(([at, value]) => limitLeft(held, quantity, at, value)).find((each) => each !== null);
        return [piece[0][0], piece[piece.length - 1][0], limit];
      }));
  }

  Object.assign(window.chamberwatchWeek, { limitLeft, outside, beyond, crossed });
})();
