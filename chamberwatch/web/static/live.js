// Keeps an open page fresh: hears that something changed, fetches the changing part anew and puts
// in only the pieces that differ. Without this script the page reloads itself once a minute.
// What it shows is only as fresh as the last answer: when none has come for a while, whether the
// watcher stopped, the network went or the phone slept, the whole drawing looks old and says since.
"use strict";
(() => {
  const live = document.getElementById("live");
  if (!live) return;
  const lost = document.getElementById("lost");
  const lostAt = document.getElementById("lost-at");
  const EVERY_MS = 20000;
  const PATIENCE_MS = 6000;
  // Two rounds without an answer: then nobody can say that it is still so.
  const OLD_MS = 45000;
  const LOOK_MS = 1000;
  let stream = null;
  let running = false;
  let again = false;
  let doubt = 0;
  let fresh = Date.now();
  // Loaded anew or brought back from the browser's memory, a page is as old as its words say.
  let drawn = document.getElementById("drawn-at").textContent;

  // The mark that tells a double tap differs at each drawing and shows nothing.
  const shown = (node) =>
    node.outerHTML.replace(/name="once" value="[^"]*"/g, "").replace(/ open(="")?/g, "");

  function isLost() {
    if (!lost.hidden) return;
    // As the watcher wrote it: a browser in another zone would tell another time.
    lostAt.textContent = drawn;
    lost.hidden = false;
    live.classList.add("stopped");
  }

  function isBack() {
    fresh = Date.now();
    drawn = document.getElementById("drawn-at").textContent;
    clearTimeout(doubt);
    doubt = 0;
    lost.hidden = true;
    live.classList.remove("stopped");
  }

  function look() {
    if (Date.now() - fresh > OLD_MS) isLost();
  }

  function doubted() {
    if (!doubt) doubt = setTimeout(isLost, PATIENCE_MS);
  }

  function pieces(root) {
    return new Map([...root.querySelectorAll("[data-piece]")].map((node) => [node.id, node]));
  }

  function put(newer) {
    const focused = document.activeElement && document.activeElement.id;
    const open = [...live.querySelectorAll("details[open]")].map((node) => node.id);
    const before = pieces(live);
    const after = pieces(newer);
    const same =
      before.size === after.size && [...after.keys()].every((id) => before.has(id)) &&
      live.querySelectorAll("article").length === newer.querySelectorAll("article").length;
    if (same) {
      for (const [id, node] of after) {
        const old = before.get(id);
        if (shown(old) === shown(node)) continue;
        old.className = node.className;
        old.replaceChildren(...node.childNodes);
      }
      const articles = newer.querySelectorAll("article");
      live.querySelectorAll("article").forEach((node, at) => {
        node.className = articles[at].className;
      });
    } else {
      live.replaceChildren(...newer.childNodes);
    }
    for (const id of open) {
      const node = document.getElementById(id);
      if (node) node.open = true;
    }
    if (focused && document.activeElement.id !== focused) {
      const node = document.getElementById(focused);
      if (node) node.focus({ preventScroll: true });
    }
  }

  async function refresh() {
    if (running) {
      again = true;
      return;
    }
    running = true;
    try {
      const answer = await fetch(live.dataset.part, {
        cache: "no-store",
        signal: AbortSignal.timeout(EVERY_MS),
      });
      if (answer.redirected) {
        // The session has ended: the page itself leads to where one logs in.
        location.reload();
        return;
      }
      if (!answer.ok) throw new Error(`answered ${answer.status}`);
      const text = await answer.text();
      put(new DOMParser().parseFromString(text, "text/html").body);
      isBack();
    } catch {
      doubted();
    } finally {
      running = false;
      if (again) {
        again = false;
        refresh();
      }
    }
  }

  function listen() {
    if (stream) return;
    stream = new EventSource("/live");
    stream.addEventListener("pulse", refresh);
    stream.addEventListener("error", () => {
      doubted();
      if (stream.readyState === EventSource.CLOSED) {
        stream = null;
        setTimeout(listen, 10000);
      }
    });
  }

  function rest() {
    if (stream) stream.close();
    stream = null;
  }

  // A page nobody looks at holds no connection; browsers have few of them for one site.
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) rest();
    else {
      look();
      listen();
      refresh();
    }
  });
  addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    look();
    listen();
    refresh();
  });
  addEventListener("pagehide", rest);
  addEventListener("submit", (event) => {
    for (const button of event.target.querySelectorAll("button")) {
      setTimeout(() => { button.disabled = true; }, 0);
    }
  });
  // What a form did is said once; which chamber was asked for stays in the address.
  const asked = new URLSearchParams(location.search);
  if (asked.has("said")) {
    asked.delete("said");
    const rest = String(asked) && `?${asked}`;
    history.replaceState(null, "", location.pathname + rest + location.hash);
  }
  setInterval(() => { if (!document.hidden) refresh(); }, EVERY_MS);
  setInterval(look, LOOK_MS);
  listen();
  document.documentElement.dataset.live = "yes";
})();
