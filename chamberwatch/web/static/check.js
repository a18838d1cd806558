// Keeps what the sensor sends fresh while the page lies open; without it, "Look again" does that.
"use strict";
(() => {
  const EVERY_MS = 10000;
  const address = location.pathname;
  const renew = async () => {
    if (document.hidden) return;
    try {
      const answer = await fetch(address, { headers: { Accept: "text/html" } });
      if (!answer.ok || answer.redirected) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const now = fresh.getElementById("now");
      if (now) document.getElementById("now").replaceWith(now);
    } catch {
      // Out of reach for a moment: what is shown tells its age, and is renewed the next time.
    }
  };
  setInterval(renew, EVERY_MS);
})();
