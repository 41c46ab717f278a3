// What the page is told of a song: the shapes of its data, and small questions asked of them.
// All times are seconds at the tempo as written, from bar 1's bar line (a pickup's are negative).

/** @typedef {{at: number, slot: number, share: number, chord: number, marks: string[]}} Slot */
/** @typedef {{n: number, start: number, end: number, pass: number, grid: number, beats: number[],
 *   row: number, ending: number | null, simile: boolean, bpm: number, chords: Slot[]}} Bar */
/** @typedef {{meter: string, levels: string[], beatUnits: number[],
 *   divisions: Record<string, number[][]>}} Grid */
/** @typedef {{on: boolean, sound: string, subdivide: string, accent: boolean,
 *   heard: [number, number] | null}} PassClick */
/** @typedef {{name: string, number: number, of: number, text: string, section: string,
 *   first: number, last: number, note: string, words: string[], alike: number | null,
 *   click: PassClick}} Pass */
/** @typedef {{name: string, sounding: string, moved: string[], shapes: number[]}} Chord */
/** @typedef {{frets: (number | null)[], fingers: number[], base: number, text: string,
 *   barres: {fret: number, from: number, to: number}[]}} Shape */
/** @typedef {{bar: number, at: number, end: number, share: number, string: number, fret: string,
 *   how: string}} TabNote */
/** @typedef {{part: string, pass: number, notes: TabNote[]}} Riff */
/** A note: start, end (0: rings out), sample, gain and, where it is bent, [at, semitones] steps.
 * @typedef {[number, number, number, number, [number, number][]?]} Note */
/** `pans` are from -1 (left) to 1, one a pass.
 * @typedef {{name: string, title: string, pans: number[], notes: Note[]}} Part */
/** @typedef {{at: number, length: number, loop: [number, number] | null, pitch: number | null,
 *   set: number, layer: number, release: number}} Sample */
/** @typedef {{title: string, by: string, id: string, key: string, soundingKey: string,
 *   capo: number, tuning: string, meter: string, feel: string, note: string,
 *   tempo: {bpm: number, beat: string, text: string}, countIn: number, end: number, ring: number,
 *   grids: Grid[], bars: Bar[], chords: Chord[], shapes: Shape[], passes: Pass[], riffs: Riff[],
 *   parts: Part[], gain: number, samples: Sample[],
 *   click: {gains: Record<string, number>, rate: number,
 *     sounds: Record<string, {accent: [number, number], plain: [number, number]}>},
 *   sprite: {mime: string, rate: number, marker: number},
 *   bank: {name: string, license: string}}} Song */

/** Index in a chord's `moved` and `shapes` of the chord as written. */
export const AS_WRITTEN = 6;

/** @returns {Song} */
export function readSong() {
  return JSON.parse(textOf("song"));
}

/** An element of the page that must be there.
 * @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found;
}

/** @param {string} id */
export function textOf(id) {
  return byId(id).textContent || "";
}

/** The index of the bar that sounds at a time; before the first bar the first, after the end the last.
 * @param {Song} song @param {number} time */
export function barAt(song, time) {
  let low = 0;
  let high = song.bars.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (song.bars[middle].start <= time) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** The beat of a bar, from 0, that sounds at a time.
 * @param {Bar} bar @param {number} time */
export function beatAt(bar, time) {
  let beat = 0;
  while (beat + 1 < bar.beats.length && bar.beats[beat + 1] <= time) beat += 1;
  return beat;
}

/** "bar 9", or "the pickup".
 * @param {Bar} bar */
export function barName(bar) {
  return bar.n ? `bar ${bar.n}` : "the pickup";
}

/** "bars 9 to 12", or of a single one its name.
 * @param {Song} song @param {number} first @param {number} last */
export function barsName(song, first, last) {
  const [from, to] = [song.bars[first], song.bars[last]];
  if (first === last) return barName(from);
  return from.n ? `bars ${from.n} to ${to.n}` : `the pickup to ${barName(to)}`;
}
