// Times by the clock of the site, whatever zone the browser is in. All times are seconds since 1970.
"use strict";
window.chamberwatchWeek = window.chamberwatchWeek || {};
(() => {
  const QUARTER = 900;
  const DAY = 86400;
  const CLOCK = [5, 15, 30, 60, 120, 180, 360, 720].map((minutes) => minutes * 60);
  const DAYS = [1, 2, 7, 14];
  const MONTHS = [1, 2, 3, 6, 12, 24, 60, 120];

  // A clock on the wall of a place: `wall` seconds are what it shows, as if it hung in UTC.
  function clockOf(zone) {
    const format = new Intl.DateTimeFormat("en-GB", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric",
      hour: "numeric", minute: "numeric", second: "numeric",
    });
    const known = new Map();

    function offset(time) {
      const quarter = Math.floor(time / QUARTER);
      if (!known.has(quarter)) {
        const at = {};
        for (const part of format.formatToParts(quarter * QUARTER * 1000)) at[part.type] = Number(part.value);
        const wall = Date.UTC(at.year, at.month - 1, at.day, at.hour, at.minute, at.second) / 1000;
        known.set(quarter, wall - quarter * QUARTER);
      }
      return known.get(quarter);
    }

    const wall = (time) => time + offset(time);

    // Of a time that the clock shows twice the first, of one it leaps over the one after the leap.
    function fromWall(shown) {
      const early = shown - offset(shown - DAY);
      const late = shown - offset(shown + DAY);
      if (wall(early) === shown) return early;
      return wall(late) === shown ? late : early;
    }

    const byDays = (time, days) => fromWall(wall(time) + days * DAY);
    return { offset, wall, fromWall, byDays };
  }

  // The words are the page's (`says`, handed over with it), whatever the browser speaks.
  const { filled } = window.chamberwatchFigures;
  const two = (number) => String(number).padStart(2, "0");

  // The parts of what a wall clock shows.
  function parts(wall) {
    const date = new Date(wall * 1000);
    const { says } = window.chamberwatchWeek;
    const fromMonday = (date.getUTCDay() + 6) % 7;
    return {
      year: date.getUTCFullYear(), month: date.getUTCMonth(), day: date.getUTCDate(),
      weekday: date.getUTCDay(), minutes: date.getUTCHours() * 60 + date.getUTCMinutes(),
      clock: `${two(date.getUTCHours())}:${two(date.getUTCMinutes())}`,
      longDay: says.weekdays[fromMonday], longMonth: says.months[date.getUTCMonth()],
      weekdayName: says.weekdaysShort[fromMonday], monthName: says.monthsShort[date.getUTCMonth()],
    };
  }

  function ofTheClock(clock, from, to, step) {
    const marks = [];
    const grid = Math.min(QUARTER, step);
    for (let time = Math.ceil(from / grid) * grid; time <= to; time += grid) {
      const shown = parts(clock.wall(time));
      if ((shown.minutes * 60) % step) continue;
      const midnight = shown.minutes === 0;
      marks.push({ at: time, label: midnight ? `${shown.weekdayName} ${shown.day}` : shown.clock, major: midnight });
    }
    return marks;
  }

  function ofDays(clock, from, to, wanted, say) {
    const marks = [];
    for (let day = Math.floor(clock.wall(from) / DAY); ; day += 1) {
      const time = clock.fromWall(day * DAY);
      if (time > to) return marks;
      const shown = parts(day * DAY);
      if (time >= from && wanted(day, shown)) marks.push({ at: time, ...say(shown) });
    }
  }

  // Marks at round local times, at most about so many; the same that the server's drawing has.
  function marks(clock, from, to, most) {
    const length = to - from;
    const step = CLOCK.find((each) => length / each <= most);
    if (step) return ofTheClock(clock, from, to, step);
    const days = DAYS.find((each) => length / (each * DAY) <= most);
    if (days) {
      // Days are counted from the Monday 0001-01-01, so that whole weeks begin on Mondays.
      return ofDays(clock, from, to, (day) => (day + 719162) % days === 0,
        (shown) => days >= 7
          ? { label: `${shown.day} ${shown.monthName}`, major: false }
          : { label: `${shown.weekdayName} ${shown.day}`, major: shown.weekday === 1 });
    }
    const months = MONTHS.find((each) => length / (each * (each < 12 ? 30 : 365 / 12) * DAY) <= most) || 120;
    return ofDays(clock, from, to,
      (_, shown) => shown.day === 1 && (shown.year * 12 + shown.month) % months === 0,
      (shown) => shown.month === 0 ? { label: String(shown.year), major: true } : { label: shown.monthName, major: false });
  }

  function moment(clock, time, withYear) {
    const shown = parts(clock.wall(time));
    const year = withYear ? ` ${shown.year}` : "";
    return `${shown.weekdayName} ${shown.day} ${shown.monthName}${year} ${shown.clock}`;
  }

  function dayWords({ longDay, day, longMonth, year }) {
    return filled(window.chamberwatchWeek.says.day, { weekday: longDay, day, month: longMonth, year });
  }

  // The same that the server says of a span (week_span.py).
  function spanWords(clock, from, to) {
    const { says } = window.chamberwatchWeek;
    const start = parts(clock.wall(from));
    const end = parts(clock.wall(to));
    if (start.year === end.year && start.month === end.month && start.day === end.day) {
      return filled(says.within, { day: dayWords(start), since: start.clock, until: end.clock });
    }
    const whole = start.minutes === 0 && end.minutes === 0;
    const last = whole ? parts(clock.wall(to) - 60) : end;
    if (whole && last.day === start.day && to - from < 2 * DAY) return dayWords(start);
    const date = (said, { day, monthName, year, clock: at }) =>
      filled(said, { day, month: monthName, year }) + (whole ? "" : ` ${at}`);
    const since = date(start.year === end.year ? says.date : says.dated, start);
    return filled(says.span, { since, until: date(says.dated, last) });
  }

  Object.assign(window.chamberwatchWeek, { clockOf, marks, moment, spanWords, filled, parts, DAY });
})();
