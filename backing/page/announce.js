// What a screen reader reads out by itself.

import { byId } from "./song.js";

/** @param {string} text */
export function announce(text) {
  const region = byId("announcements");
  region.textContent = "";
  // The same words twice are a change only if the region was empty in between.
  requestAnimationFrame(() => { region.textContent = text; });
}
