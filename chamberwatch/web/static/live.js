// Keeps an open page fresh: hears that something changed, fetches the changing part anew and puts
// in only the pieces that differ. Without this script the page reloads itself once a minute.
"use strict";
(() => {
  const live = document.getElementById("live");
  if (!live) return;
  const lost = document.getElementById("lost");
  const lostAt = document.getElementById("lost-at");
  const EVERY_MS = 20000;
  const PATIENCE_MS = 6000;
  let stream = null;
  let running = false;
  let again = false;
  let doubt = 0;

  // The mark that tells a double tap differs at each drawing and shows nothing.
  const shown = (node) =>
    node.outerHTML.replace(/name="once" value="[^"]*"/g, "").replace(/ open(="")?/g, "");

  function isLost() {
    if (!lost.hidden) return;
    lostAt.textContent = new Date().toTimeString().slice(0, 5);
    lost.hidden = false;
    live.classList.add("stopped");
  }

  function isBack() {
    clearTimeout(doubt);
    doubt = 0;
    lost.hidden = true;
    live.classList.remove("stopped");
  }

  function doubted() {
    if (!doubt) doubt = setTimeout(isLost, PATIENCE_MS);
  }

  function pieces(root) {
    return new Map([...root.querySelectorAll("[data-piece]")].map((node) => [node.id, node]));
  }

  function put(fresh) {
    const focused = document.activeElement && document.activeElement.id;
    const open = [...live.querySelectorAll("details[open]")].map((node) => node.id);
    const before = pieces(live);
    const after = pieces(fresh);
    const same =
      before.size === after.size && [...after.keys()].every((id) => before.has(id)) &&
      live.querySelectorAll("article").length === fresh.querySelectorAll("article").length;
    if (same) {
      for (const [id, node] of after) {
        const old = before.get(id);
        if (shown(old) === shown(node)) continue;
        old.className = node.className;
        old.replaceChildren(...node.childNodes);
      }
      const articles = fresh.querySelectorAll("article");
      live.querySelectorAll("article").forEach((node, at) => {
        node.className = articles[at].className;
      });
    } else {
      live.replaceChildren(...fresh.childNodes);
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
      const answer = await fetch(live.dataset.part, { cache: "no-store" });
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
      listen();
      refresh();
    }
  });
  addEventListener("pagehide", rest);
  addEventListener("submit", (event) => {
    for (const button of event.target.querySelectorAll("button")) {
      setTimeout(() => { button.disabled = true; }, 0);
    }
  });
  if (location.search) history.replaceState(null, "", location.pathname + location.hash);
  setInterval(() => { if (!document.hidden) refresh(); }, EVERY_MS);
  listen();
  document.documentElement.dataset.live = "yes";
})();
