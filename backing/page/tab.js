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

/** One bar's tab, as wide as its bar: places are percentages, so it never has to be drawn again.
 * @param {Riff} riff @param {TabNote[]} notes those of the bar @param {number} by
 * @returns {{drawing: SVGElement, marks: Marked[]}} */
export function barTab(riff, notes, by) {
  const unit = typeUnit();
  const height = unit * (2 * ABOVE + (riff.strings - 1) * SPACE);
  const drawing = svg("svg", {
    class: "tab", width: "100%", height, focusable: "false",
  });
  for (let string = 0; string < riff.strings; string += 1) {
    const y = unit * (ABOVE + string * SPACE);
    drawing.append(svg("line", { x1: "0", x2: "100%", y1: y, y2: y, class: "string" }));
  }
  drawing.append(svg("title", {}, `Tab for the ${riff.title.toLowerCase()}`));
  const marks = notes.map((note) => {
    const y = unit * (ABOVE + (note.string - 1) * SPACE);
    const x = `${(100 * note.share).toFixed(3)}%`;
    const text = written(note, by);
    const mark = svg("g", { class: "fret" });
    const wide = 7 * unit * text.length;
    mark.append(
      svg("svg", { x, y: y - 6 * unit, overflow: "visible", width: 1, height: 1 },
        svg("rect", { x: -1, y: 0, width: wide + 2, height: 12 * unit, class: "under" }),
        svg("text", { x: wide / 2, y: 10 * unit }, text),
        svg("rect", { x: -1, y: 11.5 * unit, width: wide + 2, height: 2 * unit, class: "underline" })),
    );
    drawing.append(mark);
    return { note, mark };
  });
  return { drawing, marks };
}

/** The least width in pixels at which no two numbers of a bar's tab touch.
 * @param {TabNote[]} notes */
export function tabWidth(notes) {
  const shares = [...new Set(notes.map((note) => note.share)), 1].sort((a, b) => a - b);
  let width = 0;
  for (let index = 1; index < shares.length; index += 1) {
    const between = shares[index] - shares[index - 1];
    const longest = notes.some((note) => note.share === shares[index - 1] && note.fret.length > 1);
    if (between > 1e-6) width = Math.max(width, ((longest ? 1.5 : 1) * NUMBER) / between);
  }
  return typeUnit() * width;
}

/** Every riff played in a bar, with its notes there.
 * @param {Song} song @param {number} bar @returns {[Riff, TabNote[]][]} */
export function tabsOf(song, bar) {
  const { passIndex } = song.bars[bar];
  return song.riffs
    .filter((riff) => riff.passIndex === passIndex)
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
  const fret = note.fret === "x" ? "x" : `${Number(note.fret) + by}`;
  const before = note.how.replace(/[b~]/g, "");
  return before + fret + note.how.replace(/[^b~]/g, "");
}

/** A sixteenth of the page's type size, in pixels. */
function typeUnit() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) / 16;
}
