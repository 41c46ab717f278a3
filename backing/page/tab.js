// A riff's tab, bar by bar: a line for each string, with numbers at their places in the bar. The note
// that is heard has the accent color and is underlined.

/** @import {Riff, Song, TabNote} from "./song.js" */
import { svg } from "./shape_box.js";

/** A number of tab and its drawing. @typedef {{note: TabNote, mark: SVGElement}} Marked */

/** Lengths in sixteenths of the page's type size: between strings, above and below them, and from
 * one number to the next. */
const SPACE = 11;
const ABOVE = 8;
const BETWEEN = 5;
/** Room above the strings for the part's name and for the palm's sign, and below for the hand. */
const NAME = 13;
const PALM = 12;
const HAND = 17;
/** How wide a sign is, and the narrow ones. */
const SIGN = 7;
const NARROW_SIGN = 4;
const NARROW_SIGNS = "()./\\";
/** The palm's sign ends at a number that comes later in the bar than this. */
const LATE = 0.75;

/** A rest on a string: a quarter rest. */
const REST = "M 1.4 -6.6 L 5.2 -2.2 C 3.2 -0.2 3.4 0.6 5.6 3.4 C 2.6 2.6 1.8 4.2 3.8 6.6"
  + " C -0.6 5 -0.4 1.6 3 2.4 L 0.5 -0.9 C 2.9 -2.6 2.6 -4.4 1.4 -6.6 Z";

/** One bar's tab, as wide as its bar: places are percentages, so it never has to be drawn again.
 * @param {Song} song @param {Riff} riff @param {TabNote[]} notes those of the bar
 * @param {number} by frets
 * @returns {{drawing: SVGElement, marks: Marked[], width: number}} and its least width in pixels */
export function barTab(song, riff, notes, by) {
  const unit = typeUnit();
  const { above, below } = roomAround(song, riff);
  const bottom = above + (riff.strings - 1) * SPACE;
  const drawing = svg("svg", {
    class: "tab", width: "100%", height: unit * (bottom + below), focusable: "false",
  });
  for (let string = 0; string < riff.strings; string += 1) {
    const y = unit * (above + string * SPACE);
    drawing.append(svg("line", { x1: "0", x2: "100%", y1: y, y2: y, class: "string" }));
  }
  drawing.append(svg("title", {}, `Tab for the ${riff.title.toLowerCase()}`));
  const marks = notes.map((note) => {
    const mark = numberMark(note, written(note, by), unit, above);
    drawing.append(mark);
    return { note, mark };
  });
  for (const note of notes) {
    if (note.hand) drawing.append(sign(note.hand, note.share, unit * (bottom + HAND), "hand"));
  }
  drawing.append(...palms(notes, unit * (above - ABOVE - 3)), ...rolls(notes, unit, above));
  if (riff.named && notes.length && notes[0] === riff.notes[0]) {
    drawing.append(sign(riff.title, 0, unit * (NAME - 3), "whose"));
  }
  return { drawing, marks, width: unit * leastWidth(notes, by) };
}

/** Room above and below the strings, the same for all bars of a part's pass and its pickup.
 * @param {Song} song @param {Riff} riff */
function roomAround(song, riff) {
  const notes = song.riffs
    .filter(({ part, passIndex }) => part === riff.part && passIndex === riff.passIndex)
    .flatMap((each) => each.notes);
  const palm = notes.some((note) => note.muted) ? PALM : 0;
  const hand = notes.some((note) => note.hand) ? HAND : 0;
  return { above: ABOVE + (riff.named ? NAME : 0) + palm, below: ABOVE + hand };
}

/** A number at its place, with its underline for when it sounds.
 * @param {TabNote} note @param {string} text @param {number} unit @param {number} above */
function numberMark(note, text, unit, above) {
  const y = unit * (above + (note.string - 1) * SPACE - 6);
  const wide = unit * textWidth(text);
  const under = { x: -1, width: wide + 2 };
  return svg("g", { class: "fret" },
    svg("svg", { x: across(note.share), y, overflow: "visible", width: 1, height: 1 },
      svg("rect", { ...under, y: 0, height: 12 * unit, class: "under" }),
      note.fret === "r"
        ? svg("path", { d: REST, class: "rest", transform: `translate(${unit} ${6 * unit}) scale(${0.7 * unit})` })
        : svg("text", { x: wide / 2, y: 10 * unit }, text),
      svg("rect", { ...under, y: 11.5 * unit, height: 2 * unit, class: "underline" })));
}

/** Words at a place of a bar. @param {string} text @param {number} share @param {number} y
 * @param {string} kind */
function sign(text, share, y, kind) {
  return svg("text", { x: across(share), y, class: kind }, text);
}

/** @param {number} share */
function across(share) {
  return `${(100 * share).toFixed(3)}%`;
}

/** Where the palm lies on the strings: its sign at the first number of each run, over dashes at the
 * others.
 * @param {TabNote[]} notes @param {number} y */
function palms(notes, y) {
  const struck = notes.filter((note) => note.fret !== "r");
  const shares = [...new Set(struck.map((note) => note.share))].sort((a, b) => a - b);
  const muted = shares.map((share) => struck.some((note) => note.share === share && note.muted));
  const first = shares.filter((_, index) => muted[index] && !muted[index - 1]);
  const others = shares.filter((_, index) => muted[index] && muted[index - 1]);
  return [
    ...others.map((share) => sign("–", share, y, "palm")),
    ...first.map((share) => sign("P.M.", share, y, share > LATE ? "palm late" : "palm")),
  ];
}

/** A wave beside each chord that is rolled.
 * @param {TabNote[]} notes @param {number} unit @param {number} above */
function rolls(notes, unit, above) {
  const shares = new Set(notes.filter((note) => note.rolled).map((note) => note.share));
  return [...shares].map((share) => {
    const strings = notes.filter((note) => note.rolled && note.share === share).map((note) => note.string);
    const [top, bottom] = [Math.min(...strings), Math.max(...strings)];
    const turns = (bottom - top) * 3 + 2;
    const path = `M 0 0${" q 2 1.8 0 3.67 q -2 1.8 0 3.67".repeat(Math.ceil(turns / 2))}`;
    return svg("svg", { x: across(share), y: unit * (above + (top - 1) * SPACE - 4), overflow: "visible", width: 1, height: 1 },
      svg("path", { d: path, class: "roll", transform: `translate(${-3 * unit} 0) scale(${0.8 * unit} ${unit})` }));
  });
}

/** The least width at which no two numbers on a string touch, nor letters of the hand, and a wave
 * has its place.
 * @param {TabNote[]} notes @param {number} by frets */
function leastWidth(notes, by) {
  /** @param {(note: TabNote) => string} text @param {TabNote[]} row */
  const need = (text, row) => Math.max(0, ...row.map((note) => {
    const next = Math.min(1, ...row.map(({ share }) => share).filter((share) => share > note.share + 1e-6));
    const wave = notes.some(({ share, rolled }) => rolled && share === next) ? NARROW_SIGN : 0;
    return (textWidth(text(note)) + BETWEEN + wave) / Math.max(1e-3, next - note.share);
  }));
  const strings = new Set(notes.map((note) => note.string));
  return Math.max(
    need(() => "", notes),
    need((note) => note.hand, notes.filter((note) => note.hand)),
    ...[...strings].map((string) => (
      need((note) => written(note, by), notes.filter((note) => note.string === string))
    )),
  );
}

/** @param {string} text */
function textWidth(text) {
  return [...text].reduce((sum, one) => sum + (NARROW_SIGNS.includes(one) ? NARROW_SIGN : SIGN), 0) || SIGN;
}

/** Every riff shown in a bar, with its notes there.
 * @param {Song} song @param {number} bar @returns {[Riff, TabNote[]][]} */
export function tabsOf(song, bar) {
  const { passIndex, number } = song.bars[bar];
  return song.riffs
    .filter((riff) => riff.passIndex === passIndex && riff.pickup === (number === 0))
    .filter((riff) => riff.kind !== "unseen")
    .map((riff) => [riff, riff.notes.filter((note) => note.bar === bar)]);
}

/** How many frets each riff is moved, none where the neck has no place for it. What the guitars play
 * in a pass moves together, and so does what the bass plays: by octaves if the neck ends.
 * @param {Song} song @param {number} by semitones @returns {Map<Riff, number>} */
export function tabMoves(song, by) {
  const moves = new Map();
  for (const riff of song.riffs) {
    const together = song.riffs.filter((each) => each.movable && each.passIndex === riff.passIndex
      && (each.part === "bass") === (riff.part === "bass"));
    const move = riff.movable ? fitting(together, by) ?? fitting([riff], by) : undefined;
    if (!by || move !== undefined) moves.set(riff, by && move);
  }
  return moves;
}

/** How many frets riffs can move: by semitones, or an octave from there.
 * @param {Riff[]} riffs @param {number} by */
function fitting(riffs, by) {
  const frets = riffs.flatMap((riff) => riff.notes.map((note) => Number(note.fret)))
    .filter((fret) => !Number.isNaN(fret));
  const last = Math.min(...riffs.map((riff) => riff.frets));
  return [by, by + 12, by - 12].find((move) => (
    Math.min(...frets) + move >= 0 && Math.max(...frets) + move <= last
  ));
}

/** @param {TabNote} note @param {number} by */
function written(note, by) {
  if (note.fret === "r") return "";
  const number = note.fret === "x" ? "x" : `${Number(note.fret) + by}`;
  const fret = note.how.includes("(") ? `(${number})` : note.how.includes("<") ? `<${number}>` : number;
  return note.how.replace(/[^hp/\\]/g, "") + fret + note.how.replace(/[^b~.]/g, "");
}

/** A sixteenth of the page's type size, in pixels. */
function typeUnit() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
}
