// Keeps the list of what is heard fresh, every two seconds while somebody looks. Only what differs
// is put in, so that nothing moves under a finger. Without this script the page reloads itself.
"use strict";
(() => {
  const heard = document.getElementById("heard");
  if (!heard) return;
  const lost = document.getElementById("lost");
  const EVERY_MS = 2000;
  const MISSES = 3;
  let misses = 0;
  let running = false;

  function putPieces(old, fresh) {
    const before = [...old.querySelectorAll("[data-piece]")];
    const after = [...fresh.querySelectorAll("[data-piece]")];
    before.forEach((node, at) => {
      if (after[at] && node.innerHTML !== after[at].innerHTML) {
        node.replaceChildren(...after[at].childNodes);
      }
    });
  }

  function putList(old, fresh) {
    const wanted = [...fresh.children];
    const ids = new Set(wanted.map((node) => node.id));
    for (const node of [...old.children]) if (!ids.has(node.id)) node.remove();
    wanted.forEach((node, at) => {
      const known = [...old.children].find((each) => each.id === node.id);
      if (known) putPieces(known, node);
      const placed = known || node;
      if (old.children[at] !== placed) old.insertBefore(placed, old.children[at] || null);
    });
  }

  function put(fresh) {
    for (const list of fresh.querySelectorAll("[data-list]")) {
      putList(document.getElementById(list.id), list);
    }
    for (const piece of fresh.querySelectorAll("[data-piece][id]")) {
      const old = document.getElementById(piece.id);
      if (old.innerHTML !== piece.innerHTML) old.replaceChildren(...piece.childNodes);
    }
  }

  async function refresh() {
    if (running || document.hidden) return;
    running = true;
    try {
      const answer = await fetch(heard.dataset.part, { cache: "no-store" });
      if (answer.redirected) {
        // The session has ended: the page itself leads to where one logs in.
        location.reload();
        return;
      }
      if (!answer.ok) throw new Error(`answered ${answer.status}`);
      put(new DOMParser().parseFromString(await answer.text(), "text/html").body);
      misses = 0;
    } catch {
      misses += 1;
    } finally {
      running = false;
      lost.hidden = misses < MISSES;
    }
  }

  document.addEventListener("visibilitychange", refresh);
  if (location.search) history.replaceState(null, "", location.pathname);
  setInterval(refresh, EVERY_MS);
  document.documentElement.dataset.live = "yes";
})();
