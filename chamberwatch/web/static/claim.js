// Says at once what the sensor would read when another line is chosen. Without this script the
// button beside it does the same.
"use strict";
(() => {
  const form = document.getElementById("claim");
  if (!form) return;
  const preview = document.getElementById("preview");
  let asked = 0;

  async function look() {
    const mine = ++asked;
    const said = new URLSearchParams(new FormData(form));
    said.set("doing", "try");
    try {
      const answer = await fetch(form.action, { method: "POST", body: said });
      const text = await answer.text();
      const fresh = new DOMParser().parseFromString(text, "text/html").getElementById("preview");
      if (mine === asked && fresh) preview.replaceChildren(...fresh.childNodes);
    } catch {
      // The preview stays as it was; the button asks again.
    }
  }

  form.addEventListener("change", (event) => {
    if (event.target.name === "what" || event.target.name === "time") look();
  });
  document.getElementById("try").classList.add("unseen");
  document.getElementById("try").tabIndex = -1;
  document.documentElement.dataset.live = "yes";
})();
