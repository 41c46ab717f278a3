// The student's settings for this song, stored in the browser if it allows that.

/** @import {Song} from "./song.js" */
import { withinReach } from "./plan.js";

/** Levels are percent of the form's; null for the click means "as in the form". `start` is the bar
 * where Play starts, `keys` whether single keys work.
 * @typedef {{percent: number, transpose: number, volume: number, repeat: boolean,
 *   stretch: [number, number] | null, countIn: number, between: number, faster: number,
 *   upTo: number, start: number, keys: boolean,
 *   click: {on: boolean | null, subdivide: string | null, plays: [number, number] | null,
 *     level: number},
 *   parts: Record<string, {level: number, muted: boolean, alone: boolean}>}} Settings */

/** @param {Song} song @returns {Settings} */
export function defaultSettings(song) {
  const parts = song.parts.map((part) => [part.name, { level: 100, muted: false, alone: false }]);
  return {
    percent: 100, transpose: 0, volume: 80, repeat: false, stretch: null,
    countIn: song.countIn || 1, between: 0, faster: 0, upTo: 100, start: 0, keys: true,
    click: { on: null, subdivide: null, plays: null, level: 100 },
    parts: Object.fromEntries(parts),
  };
}

/** The default settings, changed by what was stored for this song as far as it still makes sense.
 * @param {Song} song @returns {Settings} */
export function loadSettings(song) {
  const plain = defaultSettings(song);
  const found = read(key(song, "settings"));
  if (!found || typeof found !== "object") return plain;
  const merged = merge(plain, found);
  const { farthestMove, fasterSteps, divisions, mostLevel, mostCountIn, mostBetween } = song.limits;
  const last = song.bars.length - 1;
  /** @param {unknown} bar */
  const isBar = (bar) => Number.isInteger(bar) && Number(bar) >= 0 && Number(bar) <= last;
  merged.percent = withinReach(song, merged.percent);
  merged.upTo = withinReach(song, merged.upTo);
  merged.transpose = Math.round(clamp(merged.transpose, -farthestMove, farthestMove));
  merged.volume = clamp(merged.volume, 0, 100);
  merged.countIn = Math.round(clamp(merged.countIn, 0, mostCountIn));
  merged.between = Math.round(clamp(merged.between, 0, mostBetween));
  merged.faster = clamp(merged.faster, 0, Math.max(...fasterSteps));
  if (!isBar(merged.start)) merged.start = 0;
  const stretch = /** @type {unknown} */ (found.stretch);
  merged.stretch = null;
  if (Array.isArray(stretch) && stretch.every(isBar) && stretch[0] <= stretch[1]) {
    merged.stretch = [stretch[0], stretch[1]];
  }
  const { on, subdivide, plays } = found.click || {};
  merged.click.on = typeof on === "boolean" ? on : null;
  merged.click.subdivide = divisions.includes(subdivide) ? subdivide : null;
  const pair = Array.isArray(plays) && plays.every((many) => Number.isInteger(many) && many > 0);
  merged.click.plays = pair ? [plays[0], plays[1]] : null;
  for (const level of [merged.click, ...Object.values(merged.parts)]) {
    level.level = clamp(level.level, 0, mostLevel);
  }
  return merged;
}

/** @param {Song} song @param {Settings} settings */
export function saveSettings(song, settings) {
  write(key(song, "settings"), settings);
}

/** What is stored for a song under a name, or null if there is nothing or the browser stores nothing.
 * @param {Song} song @param {string} what */
export function load(song, what) {
  return read(key(song, what));
}

/** @param {Song} song @param {string} what @param {unknown} value @returns {boolean} whether it was stored */
export function save(song, what, value) {
  return write(key(song, what), value);
}

/** @param {number} value @param {number} least @param {number} most */
export function clamp(value, least, most) {
  return Math.min(most, Math.max(least, value));
}

/** @param {Song} song @param {string} what */
function key(song, what) {
  return `practice/${song.id}/${what}`;
}

/** Where storage is not allowed, using it throws an error.
 * @param {string} name @returns {any} */
function read(name) {
  try {
    return JSON.parse(localStorage.getItem(name) || "null");
  } catch {
    return null;
  }
}

/** @param {string} name @param {unknown} value */
function write(name, value) {
  try {
    localStorage.setItem(name, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

/** The values of `plain`, each replaced by the one in `over` if that has the same type.
 * @template {Record<string, any>} T @param {T} plain @param {Record<string, any>} over
 * @returns {T} */
function merge(plain, over) {
  const merged = Object.entries(plain).map(([name, value]) => {
    const other = Object.hasOwn(over, name) ? over[name] : undefined;
    if (value === null || typeof other !== typeof value || other === null) return [name, value];
    if (typeof value === "object") return [name, merge(value, other)];
    return [name, Number.isNaN(other) ? value : other];
  });
  return Object.fromEntries(merged);
}
