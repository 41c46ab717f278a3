// What a screen reader is told without being asked.

import { byId } from "./song.js";

/** @param {string} text */
export function announce(text) {
  const region = byId("said");
  region.textContent = "";
  // The same words twice are a change only where there was nothing between them.
  requestAnimationFrame(() => { region.textContent = text; });
}
