// Song time and audio time: a playing is a row of legs, each a straight line from one to the other.
//
// A leg plays a stretch of bars, or counts in before one, at one percentage of the tempo as written.
// A count-in is song time that runs up to its bar's start, so that both kinds map alike. Each leg
// starts at the very number at which the one before it ends: there is nothing between two rounds.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
import { barAt } from "./song.js";

/** `first` and `last` are bars; `from` and `to` song time; `at` and `end` audio time. `entry` is the
 * song time where the round was entered, `played` the bars played before `first`; `final` is true
 * where nothing follows, `fresh` where the leg isn't the rest of one whose speed was changed.
 * @typedef {{kind: "count" | "bars", first: number, last: number, from: number, to: number,
 *   at: number, end: number, percent: number, entry: number, played: number, round: number,
 *   final: boolean, fresh: boolean}} Leg */

export const SLOWEST = 30;
export const FASTEST = 130;

/** @param {number} percent */
export function withinReach(percent) {
  return Math.min(FASTEST, Math.max(SLOWEST, percent));
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

/** The first legs of a playing that starts with a bar at an audio time.
 * @param {Song} song @param {Settings} settings @param {number} bar @param {number} at
 * @returns {Leg[]} */
export function firstLegs(song, settings, bar, at) {
  return round(song, settings, bar, at, settings.percent, settings.countIn, 0, 1);
}

/** Legs enough to reach an audio time, where the settings have any more to play.
 * @param {Song} song @param {Settings} settings @param {Leg[]} legs @param {number} until */
export function extendLegs(song, settings, legs, until) {
  let last = legs[legs.length - 1];
  while (last && last.end < until && !last.final) {
    const [first] = roundBars(song, settings);
    const percent = nextPercent(settings, last.percent);
    const played = last.played + last.last - last.first + 1;
    legs.push(
      ...round(song, settings, first, last.end, percent, settings.between, played, last.round + 1),
    );
    last = legs[legs.length - 1];
  }
}

/** Plan anew from an audio time on, which must lie on the legs: what sounds goes on from there.
 * @param {Song} song @param {Settings} settings @param {Leg[]} legs @param {number} at
 * @param {number} [faster] the new percentage; else the speed stays
 * @returns {Leg[]} */
export function replannedLegs(song, settings, legs, at, faster) {
  const [, last] = roundBars(song, settings);
  const kept = legs.filter((leg) => leg.at < at).map((leg) => ({ ...leg }));
  const leg = kept[kept.length - 1];
  if (!leg || leg.end <= at) return kept;
  const time = songTime(leg, at);
  const percent = faster ?? leg.percent;
  const rest = { ...leg, from: time, at, percent, fresh: false };
  leg.to = time;
  leg.end = at;
  const end = legs.find((other) => other.kind === "bars" && other.round === leg.round);
  const bars = leg.kind === "bars" ? rest : { ...(end || rest), fresh: true };
  bars.percent = percent;
  bars.last = Math.max(last, barAt(song, leg.kind === "bars" ? time : bars.from));
  bars.to = song.bars[bars.last].end;
  bars.final = !settings.again;
  if (bars !== rest) {
    rest.end = audioTime(rest, rest.to);
    bars.at = rest.end;
    kept.push(rest);
  }
  bars.end = audioTime(bars, bars.to);
  kept.push(bars);
  return kept;
}

/** @param {Settings} settings @param {number} percent */
function nextPercent(settings, percent) {
  if (!settings.faster || percent >= settings.upTo) return percent;
  return withinReach(Math.min(settings.upTo, percent + settings.faster));
}

/** @param {Song} song @param {Settings} settings @param {number} first @param {number} at
 * @param {number} percent @param {number} counted @param {number} played @param {number} number
 * @returns {Leg[]} */
function round(song, settings, first, at, percent, counted, played, number) {
  const last = Math.max(first, roundBars(song, settings)[1]);
  const entry = song.bars[first].start;
  /** @type {Leg[]} */
  const legs = [];
  const bars = song.bars[first].n ? counted : counted - 1; // a pickup takes a count-in bar's place
  const shared = { first, last, percent, entry, played, round: number, fresh: true };
  if (bars > 0) {
    const from = entry - bars * (song.bars[first].end - entry);
    legs.push(ended({ ...shared, kind: "count", from, to: entry, at, end: 0, final: false }));
  }
  const begin = bars > 0 ? legs[0].end : at;
  const to = song.bars[last].end;
  const final = !settings.again;
  legs.push(ended({ ...shared, kind: "bars", from: entry, to, at: begin, end: 0, final }));
  return legs;
}

/** @param {Leg} leg */
function ended(leg) {
  leg.end = audioTime(leg, leg.to);
  return leg;
}
