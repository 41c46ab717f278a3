// The practice log of this song: time for each day, and the tempos that the student marked as clean.

/** @import {Song} from "./song.js" */
import { load, save } from "./settings.js";
import { short } from "./words.js";

/** @typedef {{percent: number, bpm: number, what: string, day: string}} Clean */
/** @typedef {{days: Record<string, number>, clean: Clean[]}} Log */

const MOST_CLEAN = 100;

/** @param {Song} song @returns {Log} */
export function loadLog(song) {
  /** @type {Log} */
  const log = { days: {}, clean: [] };
  const found = load(song, "log");
  for (const [day, seconds] of Object.entries(found?.days || {})) {
    if (typeof seconds === "number" && seconds > 0) log.days[day] = seconds;
  }
  for (const clean of Array.isArray(found?.clean) ? found.clean : []) {
    if (clean && typeof clean.percent === "number" && typeof clean.bpm === "number") {
      log.clean.push({ ...clean, what: `${clean.what}`, day: `${clean.day}` });
    }
  }
  return log;
}

/** @param {Song} song @param {Log} log */
export function saveLog(song, log) {
  return save(song, "log", log);
}

/** @param {Log} log @param {number} seconds @param {Date} now */
export function addTime(log, seconds, now) {
  const day = dayOf(now);
  log.days[day] = (log.days[day] || 0) + seconds;
}

/** @param {Log} log @param {number} percent @param {number} bpm @param {string} what
 * @param {Date} now */
export function addClean(log, percent, bpm, what, now) {
  log.clean.push({ percent, bpm, what, day: dayOf(now) });
  log.clean.splice(0, log.clean.length - MOST_CLEAN);
}

/** The log in sentences.
 * @param {Log} log @param {string} beat @param {Date} now @returns {string[]} */
export function logWords(log, beat, now) {
  const today = log.days[dayOf(now)] || 0;
  const days = Object.keys(log.days).length;
  const all = Object.values(log.days).reduce((sum, seconds) => sum + seconds, 0);
  const words = [
    `Practiced today: ${minutes(today)}. In total: ${minutes(all)}${days > 1 ? ` on ${days} days` : ""}.`,
  ];
  const fastest = log.clean.reduce(
    (best, clean) => (!best || clean.bpm > best.bpm ? clean : best), /** @type {Clean | null} */ (null),
  );
  words.push(fastest
    ? `Fastest clean: ${beat} = ${short(fastest.bpm)} (${short(fastest.percent)} percent), ${fastest.what}, ${fastest.day}.`
    : "No tempo is marked as clean yet.");
  const last = log.clean[log.clean.length - 1];
  if (last && last !== fastest) {
    words.push(`Latest clean: ${beat} = ${short(last.bpm)}, ${last.what}, ${last.day}.`);
  }
  return words;
}

/** @param {number} seconds */
function minutes(seconds) {
  if (seconds < 60) return seconds < 1 ? "nothing yet" : "under a minute";
  const whole = Math.floor(seconds / 60);
  return whole === 1 ? "1 minute" : `${whole} minutes`;
}

/** The day where the student is, as 2026-03-09.
 * @param {Date} date */
function dayOf(date) {
  const two = (/** @type {number} */ number) => `${number}`.padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}
