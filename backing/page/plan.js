// The plan of what plays when: a row of legs, each of which maps song time to audio time evenly.
//
// A leg counts in before bars, plays them, or lets the last of them ring, at one percentage of the
// tempo as written. A count-in is song time that runs up to its bar's start, and a ring is song time
// that continues after the last bar, so that all kinds are mapped the same way. Each leg starts at
// exactly the number at which the one before it ends, so there is no gap between two rounds. A plan
// ends with a ring or repeats.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
import { barAt } from "./song.js";

/** `first` and `last` are bars; `from` and `to` song time; `at` and `end` audio time. `entry` is the
 * song time at which the round was entered, `played` the number of bars played before `first`;
 * `final` is true if no round follows.
 * @typedef {{kind: "count" | "bars" | "ring", first: number, last: number, from: number,
 *   to: number, at: number, end: number, percent: number, entry: number, played: number,
 *   round: number, final: boolean}} Leg */

/** Seconds of ring after a stretch that ends within the song; the song's end has its own ring. */
const SHORT_RING = 0.4;
/** Song times closer together than this are the same: sums of doubles differ by less. */
const SAME = 1e-9;

/** The nearest speed that the page can play.
 * @param {Song} song @param {number} percent */
export function withinReach(song, percent) {
  return Math.min(song.limits.fastest, Math.max(song.limits.slowest, percent));
}

/** Song time to audio time on a leg.
 * @param {Leg} leg @param {number} time */
export function audioTime(leg, time) {
  return leg.at + ((time - leg.from) * 100) / leg.percent;
}

/** Audio time to song time on a leg.
 * @param {Leg} leg @param {number} time */
export function songTime(leg, time) {
  return leg.from + ((time - leg.at) * leg.percent) / 100;
}

/** The bars that a round plays: the chosen stretch, or all.
 * @param {Song} song @param {Settings} settings @returns {[number, number]} */
export function roundBars(song, settings) {
  return settings.stretch || [0, song.bars.length - 1];
}

/** The first legs of a plan that starts with a bar at an audio time.
 * @param {Song} song @param {Settings} settings @param {number} bar @param {number} at
 * @returns {Leg[]} */
export function firstLegs(song, settings, bar, at) {
  return round(song, settings, bar, at, settings.percent, settings.countIn, 0, 1);
}

/** Add legs until the plan reaches beyond an audio time, or until there is nothing more to play.
 * @param {Song} song @param {Settings} settings @param {Leg[]} legs @param {number} until */
export function extendLegs(song, settings, legs, until) {
  let last = legs[legs.length - 1];
  while (last && last.end <= until && last.kind !== "ring") {
    legs.push(...followingLegs(song, settings, legs));
    last = legs[legs.length - 1];
  }
}

/** The legs of the round that follows a plan if nothing changes, or none.
 * @param {Song} song @param {Settings} settings @param {Leg[]} legs @returns {Leg[]} */
export function followingLegs(song, settings, legs) {
  const last = legs[legs.length - 1];
  if (last.kind === "ring") return [];
  return nextRound(song, settings, last, last.end, nextPercent(song, settings, last.percent));
}

/** Plan again from an audio time within the plan: earlier legs stay, the one that sounds then is cut
 * there, and its round continues with the present settings. The same moment can be planned again any
 * number of times: a leg that starts just then is replaced, with all that follow.
 * @param {Song} song @param {Settings} settings @param {Leg[]} legs @param {number} at
 * @param {number} [percent] the new percentage; without it the speed stays
 * @returns {Leg[]} */
export function replannedLegs(song, settings, legs, at, percent) {
  const leg = legs.findLast((other) => other.at <= at) || legs[0];
  const time = songTime(leg, at);
  const final = !settings.repeat;
  const kept = legs.filter((other) => other.at < at)
    .map((other) => (other.round === leg.round ? { ...other, final } : other));
  if (leg.at < at) Object.assign(kept[kept.length - 1], { to: time, end: at });
  return [...kept, ...legsFrom(song, settings, leg, time, at, percent)];
}

/** The legs that follow from a moment on a leg.
 * @param {Song} song @param {Settings} settings @param {Leg} leg @param {number} time
 * @param {number} at @param {number} [percent] @returns {Leg[]} */
function legsFrom(song, settings, leg, time, at, percent) {
  const next = percent ?? nextPercent(song, settings, leg.percent);
  const rest = { ...leg, from: time, at, percent: percent ?? leg.percent };
  if (leg.kind === "ring" && time - song.bars[leg.last].end > SAME) {
    if (settings.repeat) return nextRound(song, settings, leg, at, next);
    return [ended({ ...rest, to: Math.max(time, leg.to) })];
  }
  // A bar that has begun is played to its end, even if the stretch now ends earlier.
  rest.last = Math.max(roundBars(song, settings)[1], leg.first, barAt(song, time - SAME));
  if (leg.kind === "count") {
    const count = ended(rest);
    return [count, ...barsAndRing(song, settings, { ...count, from: leg.entry, at: count.end })];
  }
  if (song.bars[rest.last].end - time > SAME) return barsAndRing(song, settings, rest);
  if (settings.repeat) return nextRound(song, settings, rest, at, next);
  return [ringFrom(song, rest)];
}

/** @param {Song} song @param {Settings} settings @param {number} percent */
function nextPercent(song, settings, percent) {
  if (!settings.faster || percent >= settings.upTo) return percent;
  return withinReach(song, Math.min(settings.upTo, percent + settings.faster));
}

/** The round after a leg's round.
 * @param {Song} song @param {Settings} settings @param {Leg} leg @param {number} at
 * @param {number} percent @returns {Leg[]} */
function nextRound(song, settings, leg, at, percent) {
  const [first] = roundBars(song, settings);
  const played = leg.played + leg.last - leg.first + 1;
  return round(song, settings, first, at, percent, settings.between, played, leg.round + 1);
}

/** @param {Song} song @param {Settings} settings @param {number} first @param {number} at
 * @param {number} percent @param {number} counted @param {number} played @param {number} number
 * @returns {Leg[]} */
function round(song, settings, first, at, percent, counted, played, number) {
  const entry = song.bars[first].start;
  const bars = song.bars[first].number ? counted : counted - 1; // a pickup takes a count-in bar's place
  /** @type {Leg} */
  const leg = {
    kind: "count", first, last: Math.max(first, roundBars(song, settings)[1]),
    from: entry - Math.max(0, bars) * (song.bars[first].end - entry), to: entry, at, end: at,
    percent, entry, played, round: number, final: !settings.repeat,
  };
  if (bars <= 0) return barsAndRing(song, settings, leg);
  const count = ended(leg);
  return [count, ...barsAndRing(song, settings, { ...count, from: entry, at: count.end })];
}

/** The bars of a leg up to its last and, if no round follows, their ring.
 * @param {Song} song @param {Settings} settings @param {Leg} leg @returns {Leg[]} */
function barsAndRing(song, settings, leg) {
  const final = !settings.repeat;
  const bars = ended({ ...leg, kind: "bars", to: song.bars[leg.last].end, final });
  return final ? [bars, ringFrom(song, { ...bars, from: bars.to, at: bars.end })] : [bars];
}

/** The ring that starts at a leg's beginning.
 * @param {Song} song @param {Leg} leg @returns {Leg} */
function ringFrom(song, leg) {
  const ring = leg.last === song.bars.length - 1 ? song.ring : SHORT_RING;
  return ended({ ...leg, kind: "ring", to: leg.from + ring, final: true });
}

/** @param {Leg} leg @returns {Leg} */
function ended(leg) {
  return { ...leg, end: audioTime(leg, leg.to) };
}
