// Selects the token at a touch, and copies it where the browser lets a page do that (over TLS or on
// this machine). Without this script it is selected by hand.
"use strict";
(() => {
  const secret = document.getElementById("secret");
  const copy = document.getElementById("copy");
  if (!secret) return;
  const said = document.getElementById("copied");
  secret.addEventListener("focus", () => secret.select());
  if (!navigator.clipboard) return;
  copy.hidden = false;
  copy.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(secret.value);
      said.textContent = said.dataset.copied;
    } catch {
      secret.focus();
      said.textContent = said.dataset.selected;
    }
  });
})();
