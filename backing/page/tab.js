// A riff's tab, bar by bar: a line for each string, with numbers at their places in the bar. The note
// that is heard has the accent color and is underlined.

/** @import {Riff, Song, TabNote} from "./song.js" */
import { svg } from "./shape_box.js";

/** A number of tab and its drawing. @typedef {{note: TabNote, mark: SVGElement}} Marked */

/** Lengths in sixteenths of the page's type size: between strings, above and below them, and the
 * least room for one number. */
const SPACE = 11;
const ABOVE = 8;
const NUMBER = 12;
/** Room for the letters of the right hand below the strings, and for the palm's words above. */
const HAND = 14;
const PALM = 12;

/** A rest on a string: a quarter rest. */
const REST = "M 1.4 -6.6 L 5.2 -2.2 C 3.2 -0.2 3.4 0.6 5.6 3.4 C 2.6 2.6 1.8 4.2 3.8 6.6"
  + " C -0.6 5 -0.4 1.6 3 2.4 L 0.5 -0.9 C 2.9 -2.6 2.6 -4.4 1.4 -6.6 Z";

/** One bar's tab, as wide as its bar: places are percentages, so it never has to be drawn again.
 * @param {Riff} riff @param {TabNote[]} notes those of the bar @param {number} by
 * @returns {{drawing: SVGElement, marks: Marked[]}} */
export function barTab(riff, notes, by) {
  const unit = typeUnit();
  const above = ABOVE + (riff.notes.some((note) => note.muted) ? PALM : 0);
  const below = ABOVE + (riff.notes.some((note) => note.hand) ? HAND : 0);
  const height = unit * (above + (riff.strings - 1) * SPACE + below);
  const drawing = svg("svg", {
    class: "tab", width: "100%", height, focusable: "false",
  });
  for (let string = 0; string < riff.strings; string += 1) {
    const y = unit * (above + string * SPACE);
    drawing.append(svg("line", { x1: "0", x2: "100%", y1: y, y2: y, class: "string" }));
  }
  drawing.append(svg("title", {}, `Tab for the ${riff.title.toLowerCase()}`));
  const marks = notes.map((note) => {
    const y = unit * (above + (note.string - 1) * SPACE);
    const x = `${(100 * note.share).toFixed(3)}%`;
    const text = written(note, by);
    const mark = svg("g", { class: "fret" });
    const wide = 7 * unit * Math.max(1, text.length);
    mark.append(
      svg("svg", { x, y: y - 6 * unit, overflow: "visible", width: 1, height: 1 },
        svg("rect", { x: -1, y: 0, width: wide + 2, height: 12 * unit, class: "under" }),
        note.fret === "r"
          ? svg("path", { d: REST, class: "rest", transform: `translate(${unit} ${6 * unit}) scale(${0.7 * unit})` })
          : svg("text", { x: wide / 2, y: 10 * unit }, text),
        svg("rect", { x: -1, y: 11.5 * unit, width: wide + 2, height: 2 * unit, class: "underline" })),
    );
    drawing.append(mark);
    return { note, mark };
  });
  const bottom = unit * (above + (riff.strings - 1) * SPACE);
  for (const note of notes) {
    if (note.hand) drawing.append(sign(note.hand, note.share, bottom + unit * HAND, "hand"));
  }
  drawing.append(...palms(notes, unit * (PALM - 3)), ...rolls(notes, unit, above));
  return { drawing, marks };
}

/** Words at a place of a bar. @param {string} text @param {number} share @param {number} y
 * @param {string} kind */
function sign(text, share, y, kind) {
  return svg("text", { x: `${(100 * share).toFixed(3)}%`, y, class: kind }, text);
}

/** Where the palm lies on the strings: its sign at the first number of each run, then dashes.
 * @param {TabNote[]} notes @param {number} y */
function palms(notes, y) {
  const struck = notes.filter((note) => note.fret !== "r");
  const shares = [...new Set(struck.map((note) => note.share))].sort((a, b) => a - b);
  let before = false;
  return shares.flatMap((share) => {
    const muted = struck.some((note) => note.share === share && note.muted);
    const text = before ? "–" : "P.M.";
    before = muted;
    return muted ? [sign(text, share, y, "palm")] : [];
  });
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
    return svg("svg", { x: `${(100 * share).toFixed(3)}%`, y: unit * (above + (top - 1) * SPACE - 4), overflow: "visible", width: 1, height: 1 },
      svg("path", { d: path, class: "roll", transform: `translate(${-4 * unit} 0) scale(${unit})` }));
  });
}

/** The least width in pixels at which no two numbers of a bar's tab touch.
 * @param {TabNote[]} notes */
export function tabWidth(notes) {
  const shares = [...new Set(notes.map((note) => note.share)), 1].sort((a, b) => a - b);
  let width = 0;
  for (let index = 1; index < shares.length; index += 1) {
    const between = shares[index] - shares[index - 1];
    const longest = notes.some((note) => note.share === shares[index - 1] && note.fret.length + note.how.length > 1);
    if (between > 1e-6) width = Math.max(width, ((longest ? 1.5 : 1) * NUMBER) / between);
  }
  return typeUnit() * width;
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

/** How far a pass's tab is moved: an octave higher if it would go below the nut.
 * @param {Song} song @param {number} passIndex @param {number} by */
export function tabMove(song, passIndex, by) {
  const frets = song.riffs
    .filter((riff) => riff.passIndex === passIndex)
    .flatMap((riff) => riff.notes.map((note) => Number(note.fret)))
    .filter((fret) => !Number.isNaN(fret));
  return frets.length && Math.min(...frets) + by < 0 ? by + 12 : by;
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
