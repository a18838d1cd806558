// Figures as the server's pages write them (web/figures.py): the grower's units, the decimal sign
// that the browser asked for; and the page's own words with values put in.
"use strict";
window.chamberwatchFigures = (() => {
  const GAP = "\u00a0";
  const MINUS = "\u2212";
  const THIN = "\u202f";
  const LONG = 5; // digits from which thousands are parted

  // How a page was told to write: `comma` for the decimal point, `fahrenheit` for °C.
  function writer({ comma, fahrenheit }) {
    const unit = fahrenheit ? "°F" : "°C";

    function number(value, decimals) {
      const [whole, part] = Math.abs(value).toFixed(decimals).split(".");
      const parted = whole.length < LONG ? whole : whole.replace(/\B(?=(\d{3})+$)/g, comma ? THIN : ",");
      const text = part ? `${parted}${comma ? "," : "."}${part}` : parted;
      return value < 0 && /[1-9]/.test(text) ? MINUS + text : text;
    }

    return {
      number,
      temperature: (c) => `${number(fahrenheit ? c * 1.8 + 32 : c, 1)}${GAP}${unit}`,
      difference: (k, decimals) => `${number(fahrenheit ? k * 1.8 : k, decimals)}${GAP}${unit}`,
    };
  }

  // Words as gettext has them, `%(name)s` for a value and `%%` for a per cent sign.
  const filled = (words, values) => words.replace(/%(?:\((\w+)\)s|%)/g, (_, name) => (name ? values[name] : "%"));

  return { writer, filled, GAP };
})();
