// What the page knows of a song: the types of its data, and small questions about them.
// All times are seconds at the tempo as written, from bar 1's bar line (a pickup's are negative).
// `page_json.py` declares the same types and says what each key means; a test compares the two.

/** @typedef {{at: number, slot: number, share: number, chord: number, marks: string[]}} Slot */
/** @typedef {{number: number, name: string, start: number, end: number, passIndex: number,
 *   grid: number, beats: number[], row: number, ending: number | null, simile: boolean, bpm: number,
 *   chords: Slot[], words: string}} Bar */
/** @typedef {"accent" | "group" | "beat" | "between"} Level */
/** @typedef {{meter: string, levels: Level[], beatUnits: number[],
 *   divisions: Record<string, number[][]>}} Grid */
/** @typedef {{on: boolean, sound: string, subdivide: string, accent: boolean,
 *   plays: [number, number] | null, gain: number}} PassClick */
/** @typedef {{name: string, number: number, passes: number, text: string, section: string,
 *   first: number, last: number, note: string, alike: number | null,
 *   click: PassClick}} Pass */
/** @typedef {{name: string, sounding: string, moved: string[], shapes: number[]}} Chord */
/** @typedef {{fret: number, low: number, high: number}} Barre */
/** @typedef {{frets: (number | null)[], fingers: number[], barres: Barre[], base: number,
 *   rows: number, text: string}} Shape */
/** @typedef {{bar: number, at: number, end: number, share: number, string: number, fret: string,
 *   how: string, hand: string, muted: boolean, rolled: boolean}} TabNote */
/** @typedef {{part: string, title: string, named: boolean, kind: "riff" | "unseen" | "line", strings: number,
 *   frets: number, movable: boolean, passIndex: number, pickup: boolean, notes: TabNote[]}} Riff */
/** A note: start, end (0: rings out), sample, gain, how long before its stroke's place it starts and,
 * where it is bent, [at, semitones] steps.
 * @typedef {[number, number, number, number, number, [number, number][]?]} Note */
/** @typedef {{name: string, title: string, pans: number[], notes: Note[]}} Part */
/** @typedef {{at: number, length: number, loop: [number, number] | null, pitch: number | null,
 *   instrument: number, layer: number, release: number}} Sample */
/** @typedef {{accent: [number, number], plain: [number, number]}} ClickPlaces */
/** @typedef {{accent: [number, number], plain: [number, number],
 *   gains: Record<Level, number>}} ClickSound */
/** @typedef {{rate: number, sounds: Record<string, ClickSound>}} Click */
/** @typedef {{mime: string, rate: number, marker: number, markerWithin: number}} Sprite */
/** @typedef {{name: string, license: string}} Soundfont */
/** @typedef {{slowest: number, fastest: number, fasterSteps: number[], farthestMove: number,
 *   divisions: string[], mostLevel: number, mostCountIn: number, mostBetween: number}} Limits */
/** @typedef {{early: number, releaseConstants: number}} Playback */
/** @typedef {{bpm: number, beat: string, text: string}} Tempo */
/** @typedef {{title: string, by: string, id: string, lang: string, key: string,
 *   soundingKey: string, capo: number, instrument: string, tuning: string, voicing: string, meter: string, feel: string,
 *   notes: string[], tempo: Tempo, countIn: number, end: number, ring: number, grids: Grid[],
 *   bars: Bar[], chords: Chord[], shapes: Shape[], passes: Pass[], riffs: Riff[], limits: Limits,
 *   playback: Playback, gain: number, parts: Part[], click: Click, sprite: Sprite,
 *   samples: Sample[], soundfont: Soundfont}} Song */

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

/** A chord's name, moved by semitones.
 * @param {Song} song @param {Chord} chord @param {number} by */
export function movedName(song, chord, by) {
  return chord.moved[song.limits.farthestMove + by];
}

/** A chord's shape, moved by semitones.
 * @param {Song} song @param {Chord} chord @param {number} by @returns {Shape | undefined} */
export function movedShape(song, chord, by) {
  return song.shapes[chord.shapes[song.limits.farthestMove + by]];
}

/** "bars 9 to 12", or just the name of a single one.
 * @param {Song} song @param {number} first @param {number} last */
export function barsName(song, first, last) {
  const [from, to] = [song.bars[first], song.bars[last]];
  if (first === last) return from.name;
  return from.number ? `bars ${from.number} to ${to.number}` : `${from.name} to ${to.name}`;
}
