// Which notes belong to which bar, and when they start in a round.
//
// A stroke is centered on its place, so its first notes start a little before it, and people are early
// or late. Such notes still belong to the bar that the place is in, and where a round starts with that
// bar they start as much before the round. What a form pushes before the bar line comes on it then.

/** @import {Song, Note, Bar} from "./song.js" */
/** @import {Leg} from "./plan.js" */
import { barAt } from "./song.js";

/** A part's `notes` by the bar that they belong to, and the passes in which it plays a riff. `early`
 * is how long before each bar's line its first note starts in a round that starts there.
 * @typedef {{name: string, tabbed: Set<number>, notes: Note[][], early: number[]}} Line */
/** `pushed` says for each bar when its first chord sounds if it comes early; `samples` finds a sample
 * by its instrument, layer and pitch.
 * @typedef {{song: Song, lines: Line[], pushed: (number | null)[],
 *   samples: Map<string, number>}} Music */
/** What has been put on a context: each note with the last round in which it was. In a round, a note
 * sounds once.
 * @typedef {Map<Note, number>} Sounded */

/** A note held over from before a round is struck again at the round's start if at least this share
 * of it is left; if its chord continues over the bar line, the second share. A riff's notes never are. */
const STILL = 0.4;
const STILL_GOING_ON = 0.1;
/** What sums of doubles may be off by, in seconds. */
const DIGITS = 1e-9;
/** How many bars before a round are searched for such notes. */
const BACK = 8;

/** Sort a song's notes into the bars that they belong to.
 * @param {Song} song @returns {Music} */
export function readMusic(song) {
  const pushed = song.bars.map(pushedFrom);
  const samples = new Map(song.samples.map((sample, index) => [
    `${sample.instrument} ${sample.layer} ${sample.pitch}`, index,
  ]));
  const lines = song.parts.map((part) => {
    const drums = part.notes.every((note) => song.samples[note[2]].pitch === null);
    const riffs = song.riffs.filter((riff) => riff.part === part.name && riff.kind !== "line");
    const tabbed = new Set(riffs.map((riff) => riff.passIndex));
    const notes = song.bars.map(() => /** @type {Note[]} */ ([]));
    for (const note of part.notes) {
      const place = note[0] + note[4];
      const bar = barAt(song, place);
      const next = song.bars[bar + 1];
      const exact = drums || (next && tabbed.has(next.passIndex));
      const early = next && (exact ? null : pushed[bar + 1]);
      const meant = next && place >= (early ?? next.start) - song.playback.early;
      notes[meant ? bar + 1 : bar].push(note);
    }
    const early = notes.map((own, bar) => Math.max(0, ...own.map((note) => {
      const at = enteredAt(song, pushed, bar, note);
      return isCountIn(song, pushed, bar, note) ? 0 : song.bars[bar].start - at;
    })));
    return { name: part.name, tabbed, notes, early };
  });
  return { song, lines, pushed, samples };
}

/** How long before a bar's line the first of its notes starts, in song time.
 * @param {Music} music @param {number} bar */
export function earliest(music, bar) {
  return Math.max(0, ...music.lines.map((line) => line.early[bar]));
}

/** When a bar's first chord sounds if it comes early, or null.
 * @param {Bar} bar */
function pushedFrom(bar) {
  const slot = bar.chords[0];
  return slot && slot.share === 0 && slot.at < bar.start ? slot.at : null;
}

/** A line's notes on a leg from one song time up to another that haven't sounded in the leg's round,
 * with the bars that they belong to and the times at which they start.
 * @param {Music} music @param {Line} line @param {Leg} leg
 * @param {boolean} counted whether the round was counted in
 * @param {number} from @param {number} to @param {Sounded} sounded
 * @returns {{note: Note, bar: number, start: number}[]} */
export function notesBetween(music, line, leg, counted, from, to, sounded) {
  const found = heldOver(music, line, leg, from, to);
  const last = Math.min(leg.last, Math.max(leg.first, barAt(music.song, to) + 1));
  // A stroke may go on after the next bar's line.
  for (let bar = Math.max(leg.first, barAt(music.song, from) - 1); bar <= last; bar += 1) {
    for (const note of line.notes[bar]) {
      if (!counted && isCountIn(music.song, music.pushed, bar, note)) continue;
      const start = startOn(music, leg, bar, note, from);
      if (from <= start && start < to) found.push({ note, bar, start });
    }
  }
  return found.filter(({ note }) => sounded.get(note) !== leg.round);
}

/** Notes from before a round that sound on in it and are struck again as it starts.
 * @param {Music} music @param {Line} line @param {Leg} leg @param {number} from @param {number} to
 * @returns {{note: Note, bar: number, start: number}[]} */
function heldOver({ song }, line, leg, from, to) {
  const found = [];
  const entry = song.bars[leg.first];
  if (from > leg.entry || leg.entry >= to || line.tabbed.has(entry.passIndex)) return [];
  const least = entry.chords[0]?.share === 0 ? STILL : STILL_GOING_ON;
  for (let bar = Math.max(0, leg.first - BACK); bar < leg.first; bar += 1) {
    for (const note of line.notes[bar]) {
      const left = note[1] - leg.entry;
      if (left > song.playback.early && left >= least * (note[1] - note[0])) {
        found.push({ note, bar: leg.first, start: leg.entry });
      }
    }
  }
  return found;
}

/** When a note of a bar starts on a leg that is scheduled from a time on. A bar that comes into the
 * round late, when notes of it should have sounded already, starts as a round does.
 * @param {Music} music @param {Leg} leg @param {number} bar @param {Note} note @param {number} from */
function startOn({ song, pushed }, leg, bar, note, from) {
  const ahead = from <= song.bars[bar].start + DIGITS;
  const late = bar === leg.first || note[0] < from;
  const start = late ? enteredAt(song, pushed, bar, note) : note[0];
  return late && ahead ? Math.max(start, from) : start;
}

/** Whether a note leads into the first bar from a count-in.
 * @param {Song} song @param {(number | null)[]} pushed @param {number} bar @param {Note} note */
function isCountIn(song, pushed, bar, note) {
  const first = song.bars[0].start - song.playback.early;
  return bar === 0 && pushed[0] === null && note[0] + note[4] < first;
}

/** When a note of a bar starts if a round starts there: on the bar line instead of before it, but for
 * what a stroke or a person is early by.
 * @param {Song} song @param {(number | null)[]} pushed @param {number} bar @param {Note} note */
export function enteredAt(song, pushed, bar, note) {
  const line = song.bars[bar].start;
  const early = pushed[bar];
  return early !== null && note[0] + note[4] < line - song.playback.early ? note[0] + line - early : note[0];
}
