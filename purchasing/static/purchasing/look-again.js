// What is being worked out beside the page is looked at again, so that nobody has to press.
// Without this script there is the link "look again".
"use strict";
(() => {
  const EVERY = 5000; // ms
  const here = () => document.querySelector("[data-look-again]");

  async function look() {
    if (!here() || document.hidden) return;
    const answer = await fetch(location.href, { credentials: "same-origin" }).catch(() => null);
    if (!answer || !answer.ok) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const then = fresh.querySelector("[data-look-again]");
    if (!then) { location.reload(); return; }
    // Only words and the bar change; what has the focus stays.
    const told = here().querySelector("[aria-live]");
    const now = then.querySelector("[aria-live]");
    if (told.innerHTML !== now.innerHTML) told.innerHTML = now.innerHTML;
  }
  setInterval(look, EVERY);
})();
