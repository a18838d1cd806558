// Moist air by the relations the watcher itself uses, so that a point read here agrees with what
// is said elsewhere. Source: ASHRAE Fundamentals (2017) ch. 1: eqn. 5 and 6 (saturation over ice
// and water), 20 and 22 (humidity ratio), 30 (enthalpy), 33 and 35 (wet bulb).
"use strict";
const moistAir = (() => {
  const KELVIN = 273.15;
  const ICE = [-5674.5359, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019];
  const WATER = [-5800.2206, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0, 6.5459673];

  function saturationPa(celsius) {
    const t = celsius + KELVIN;
    const c = celsius <= 0.01 ? ICE : WATER;
    return Math.exp(c[0] / t + c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))) + c[6] * Math.log(t));
  }

  function ratioOf(vapourPa, pressurePa) {
    return (0.621945 * vapourPa) / (pressurePa - vapourPa);
  }

  // Where a rising function passes 0, by halving.
  function turns(rising, low, high) {
    for (let n = 0; n < 50; n += 1) {
      const middle = (low + high) / 2;
      if (rising(middle) < 0) low = middle;
      else high = middle;
    }
    return (low + high) / 2;
  }

  function ratioOfWetBulb(wet, celsius, pressurePa) {
    const held = ratioOf(saturationPa(wet), pressurePa);
    if (wet >= 0) {
      return ((2501 - 2.326 * wet) * held - 1.006 * (celsius - wet)) / (2501 + 1.86 * celsius - 4.186 * wet);
    }
    return ((2830 - 0.24 * wet) * held - 1.006 * (celsius - wet)) / (2830 + 1.86 * celsius - 2.1 * wet);
  }

  function wetBulb(celsius, ratio, dew, pressurePa) {
    let [low, high] = [dew, celsius];
    if (low < 0 && high > 0) {
      // The relation jumps at 0 °C: the wet bulb over ice is given where there is one.
      const overIce = ratioOfWetBulb(-1e-9, celsius, pressurePa) >= ratio;
      [low, high] = overIce ? [low, -1e-9] : [0, high];
    }
    return turns((wet) => ratioOfWetBulb(wet, celsius, pressurePa) - ratio, low, high);
  }

  // What follows from a temperature [°C], a humidity ratio [kg/kg] and a pressure [Pa].
  function stateAt(celsius, ratio, pressurePa) {
    const saturation = saturationPa(celsius);
    const vapour = Math.max((pressurePa * ratio) / (0.621945 + ratio), saturation * 0.001);
    const humidity = Math.min((100 * vapour) / saturation, 100);
    const dew = humidity >= 100 ? celsius : turns((t) => saturationPa(t) - vapour, -80, celsius);
    const exact = ratioOf(vapour, pressurePa);
    return {
      temperature: celsius,
      humidity,
      ratio: exact,
      dewPoint: dew,
      frost: dew < 0,
      vpdPa: Math.max(saturation - vapour, 0),
      wetBulb: humidity >= 100 ? celsius : wetBulb(celsius, exact, dew, pressurePa),
      enthalpyKj: 1.006 * celsius + exact * (2501 + 1.86 * celsius),
    };
  }

  return {
    stateAt,
    mostRatio: (celsius, pressurePa) => ratioOf(saturationPa(celsius), pressurePa),
    state: (celsius, humidity, pressurePa) =>
      stateAt(celsius, ratioOf((saturationPa(celsius) * Math.min(humidity, 100)) / 100, pressurePa), pressurePa),
  };
})();
