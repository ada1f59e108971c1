// Work that goes on: the part of the page that tells of it is asked for again every second,
// and the whole page once it is over. Without script the browser asks for the page again.
"use strict";

const shown = document.querySelector("[data-watch]");
let missed = 0;

async function look() {
  try {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return location.reload();
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const now = page.querySelector("[data-watch]");
    if (!now || now.dataset.watch !== shown.dataset.watch) return location.reload();
    const fresh = now.querySelector("[data-progress]");
    const before = shown.querySelector("[data-progress]");
    if (fresh && before) before.replaceWith(document.importNode(fresh, true));
    missed = 0;
  } catch {
    missed += 1; // the server may be starting again
  }
  setTimeout(look, Math.min(1000 * (1 + missed), 15000));
}

if (shown) setTimeout(look, 1000);
