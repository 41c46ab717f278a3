// The chart: passes with their names in the margin, and rows of bars as wide as their beats are long.

/** @import {Song, Bar, Slot} from "./song.js" */
/** @import {Marked} from "./tab.js" */
import { beatAt, movedName } from "./song.js";
import { barTab, tabMoves, tabsOf } from "./tab.js";
import { chordPieces, numberWord, spokenChord } from "./words.js";

/** `rows` are the written rows, each the elements of its bars in order.
 * @typedef {{root: HTMLElement, bars: HTMLElement[], beats: HTMLElement[][], tabs: Marked[][],
 *   tabWidths: number[], passes: HTMLElement[], rows: {element: HTMLElement, bars: number[]}[]}} Chart */

/** Chords are squeezed to this share of their size before a row is broken into lines. */
const SQUEEZE = 0.72;
/** What stands in place of a riff that has nowhere to go on the neck. */
const NO_TAB = "no tab in this key";
/** The widest that a beat can be, in units of the text's size. */
const WIDEST_BEAT = 7;
/** What stands beside the chords in a bar, and after each of them, in pixels. */
const BESIDE = 14;
const AFTER = 7;
/** How wide a letter of words is, in units of the text's size; longer words are broken. */
const LETTER = 0.5;
const MOST_LETTERS = 16;

/** @template {keyof HTMLElementTagNameMap} K @param {K} name @param {string} [className]
 * @param {...(Node | string)} children @returns {HTMLElementTagNameMap[K]} */
export function element(name, className, ...children) {
  const made = document.createElement(name);
  if (className) made.className = className;
  made.append(...children);
  return made;
}

/** @param {Song} song @param {HTMLElement} root @returns {Chart} */
export function drawChart(song, root) {
  /** @type {Chart} */
  const chart = { root, bars: [], beats: [], tabs: [], tabWidths: [], passes: [], rows: [] };
  song.passes.forEach((pass, index) => {
    const [name, count] = pass.passes > 1 ? [pass.name, `${pass.number} of ${pass.passes}`] : [pass.text, ""];
    const heading = element("h2", "", name);
    if (count) heading.append(" ", element("span", "count", count));
    heading.id = `pass-${index}`;
    const margin = element("div", "margin", heading);
    if (pass.note) margin.append(element("p", "note", pass.note));
    if (pass.alike !== null) {
      margin.append(element("p", "as-before", `same as ${song.passes[pass.alike].text}`));
    }
    const body = element("div", "rows");
    const section = element("section", pass.alike === null ? "pass" : "pass alike", margin, body);
    section.setAttribute("aria-labelledby", heading.id);
    root.append(section);
    chart.passes.push(section);
    const first = index === 0 ? 0 : pass.first; // a pickup stands before the first pass
    for (let bar = first; bar <= pass.last; bar += 1) {
      const row = song.bars[bar].row;
      if (bar === first || (row !== song.bars[bar - 1].row && song.bars[bar - 1].number)) {
        const lines = element("div", "row");
        body.append(lines);
        chart.rows.push({ element: lines, bars: [] });
      }
      const written = chart.rows[chart.rows.length - 1];
      written.bars.push(bar);
      written.element.append(drawBar(song, chart, bar)); // shown now, so that it can be measured
    }
  });
  chart.bars[0].tabIndex = 0;
  return chart;
}

/** @param {Song} song @param {Chart} chart @param {number} index */
function drawBar(song, chart, index) {
  const bar = song.bars[index];
  const grid = song.grids[bar.grid];
  const over = element("span", "over");
  const before = song.bars[index - 1];
  if (!before || grid.meter !== song.grids[before.grid].meter) {
    over.append(element("span", "meter", grid.meter));
  }
  const endingBegins = bar.ending !== null && !(before && before.ending === bar.ending && before.passIndex === bar.passIndex);
  if (endingBegins) over.append(element("span", "ending-number", `${bar.ending}.`));
  over.append(element("span", "number", bar.number ? `${bar.number}` : "pickup"));
  const beats = grid.beatUnits.map((units) => {
    const beat = element("span", "beat");
    beat.style.setProperty("flex-grow", `${units}`);
    return beat;
  });
  const inner = element("span", "inner", element("span", "chords"), element("span", "beats", ...beats));
  const made = element("button", "bar", element("span", "unseen"), over, inner);
  for (const drawn of [over, inner]) drawn.setAttribute("aria-hidden", "true");
  made.type = "button";
  made.tabIndex = -1;
  made.dataset.bar = `${index}`;
  made.style.setProperty("--beats", `${weight(song, bar)}`);
  if (bar.ending !== null) made.classList.add("ending");
  if (endingBegins) made.classList.add("ending-begins");
  chart.bars.push(made);
  chart.beats.push(beats);
  chart.tabs.push([]);
  chart.tabWidths.push(0);
  return made;
}

/** Write the chords and the tab, moved by semitones.
 * @param {Song} song @param {Chart} chart @param {number} by */
export function nameChords(song, chart, by) {
  const moves = tabMoves(song, by);
  song.bars.forEach((bar, index) => {
    const made = chart.bars[index];
    const inner = /** @type {HTMLElement} */ (made.querySelector(".inner"));
    const chords = /** @type {HTMLElement} */ (made.querySelector(".chords"));
    chords.replaceChildren(...bar.chords.map((slot) => setChord(song, slot, by)));
    const words = /** @type {HTMLElement} */ (made.querySelector(".unseen"));
    words.textContent = barWords(song, index, by);
    for (const old of inner.querySelectorAll(".tab")) old.remove();
    chart.tabs[index] = [];
    chart.tabWidths[index] = 0;
    for (const [riff, notes] of tabsOf(song, index)) {
      const move = moves.get(riff);
      if (move === undefined) {
        const begins = notes.length && notes[0] === riff.notes[0];
        if (begins) inner.append(element("span", "tab no-tab", `${riff.title}: ${NO_TAB}`));
        continue;
      }
      const { drawing, marks, width } = barTab(song, riff, notes, move);
      inner.append(drawing);
      chart.tabs[index].push(...marks);
      chart.tabWidths[index] = Math.max(chart.tabWidths[index], width);
    }
  });
}

/** @param {Song} song @param {Slot} slot @param {number} by */
function setChord(song, slot, by) {
  const name = nameOf(song, slot, by);
  const [root, quality, bass] = chordPieces(name);
  const chord = element("span", "chord", element("span", "root", root));
  if (slot.chord < 0) chord.classList.add("none");
  if (quality) chord.append(element("span", "quality", quality));
  if (bass) chord.append(element("span", "bass", `/${bass}`));
  if (slot.marks.length) chord.append(element("span", "mark", slot.marks.join(", ")));
  chord.style.setProperty("left", `${100 * slot.share}%`);
  return chord;
}

/** A slot's chord as its player reads it, "N.C." for none.
 * @param {Song} song @param {Slot} slot @param {number} by */
export function nameOf(song, slot, by) {
  return slot.chord < 0 ? "N.C." : movedName(song, song.chords[slot.chord], by);
}

/** Break rows into lines that fit, with the same width for every beat.
 * @param {Song} song @param {Chart} chart @param {boolean} [whole] for paper, where rows fit */
export function layOut(song, chart, whole) {
  const body = /** @type {HTMLElement} */ (chart.root.querySelector(".rows"));
  const width = body.clientWidth;
  const size = parseFloat(getComputedStyle(chart.root).fontSize);
  const needs = chart.bars.map((made, index) => needOf(song, made, index, size, chart.tabWidths[index]));
  const weights = song.bars.map((bar) => weight(song, bar));
  const perBeat = needs.map(({ chords, least }, index) => Math.max(SQUEEZE * chords, least) / weights[index]);
  const room = whole ? Infinity : width / Math.max(...perBeat, 1);
  let full = 0;
  for (const row of chart.rows) {
    const lines = broken(row.bars, weights, room);
    for (const line of lines) full = Math.max(full, line.reduce((sum, bar) => sum + weights[bar], 0));
    const made = lines.flatMap((line) => {
      const bars = element("div", "line", ...line.map((bar) => chart.bars[bar]));
      return line.some((bar) => song.bars[bar].words) ? [bars, wordsBelow(song, line, weights)] : [bars];
    });
    row.element.replaceChildren(...made);
  }
  const beat = Math.min(width / full, whole ? Infinity : WIDEST_BEAT * size);
  chart.root.style.setProperty("--full", `${full}`);
  chart.root.style.setProperty("--measure", whole ? "100%" : `${Math.floor(beat * full)}px`);
  chart.bars.forEach((made, index) => {
    const squeeze = Math.min(1, (beat * weights[index]) / Math.max(1, needs[index].chords));
    made.style.setProperty("--squeeze", `${Math.max(0.5, squeeze).toFixed(3)}`);
  });
}

/** What is sung, below the bars where it begins: each has room up to the next, the last beyond
 * a short line.
 * @param {Song} song @param {number[]} line bars @param {number[]} weights */
function wordsBelow(song, line, weights) {
  const below = element("p", "sung");
  below.setAttribute("aria-hidden", "true"); // each bar says its own
  let part = element("span");
  let beats = 0;
  line.forEach((bar, index) => {
    if (song.bars[bar].words && index) {
      part.style.setProperty("--beats", `${beats}`);
      below.append(part);
      [part, beats] = [element("span"), 0];
    }
    if (song.bars[bar].words) part.textContent = song.bars[bar].words;
    beats += weights[bar];
  });
  part.className = "last";
  part.style.setProperty("--beats", `${beats}`);
  below.append(part);
  return below;
}

/** Pixels for the longest word of a bar that has words of the next bar beside it.
 * @param {Song} song @param {number} index @param {number} size of the text */
function wordRoom(song, index, size) {
  const [bar, next] = [song.bars[index], song.bars[index + 1]];
  if (!bar.words || !next?.words || next.passIndex !== bar.passIndex) return 0;
  const longest = Math.max(...bar.words.split(" ").map((word) => word.length));
  return Math.min(longest, MOST_LETTERS) * LETTER * size + AFTER;
}

/** A bar's width in pixels: for its chords at full size, and the least that it can have.
 * @param {Song} song @param {HTMLElement} made @param {number} index @param {number} size
 * @param {number} tab the width of its tab */
function needOf(song, made, index, size, tab) {
  const slots = song.bars[index].chords;
  made.style.setProperty("--squeeze", "1");
  const chords = [...made.querySelectorAll(".chord")];
  let widest = 0;
  chords.forEach((chord, number) => {
    const until = slots[number + 1]?.share ?? 1;
    const wide = /** @type {HTMLElement} */ (chord).offsetWidth + AFTER;
    widest = Math.max(widest, wide / Math.max(0.01, until - slots[number].share));
  });
  return { chords: widest + BESIDE, least: Math.max(44, tab && tab + BESIDE, wordRoom(song, index, size)) };
}

/** A row in as few lines as possible, of even lengths.
 * @param {number[]} bars @param {number[]} weights @param {number} room in beats
 * @returns {number[][]} */
function broken(bars, weights, room) {
  for (let count = 1; count < bars.length; count += 1) {
    const each = Math.ceil(bars.length / count);
    const lines = [];
    for (let at = 0; at < bars.length; at += each) lines.push(bars.slice(at, at + each));
    if (lines.every((line) => line.reduce((sum, bar) => sum + weights[bar], 0) <= room + 1e-6)) return lines;
  }
  return bars.map((bar) => [bar]);
}

/** A bar's length in the shortest beats of the song's first meter.
 * @param {Song} song @param {Bar} bar */
function weight(song, bar) {
  const [first, own] = [song.grids[song.bars[0].grid], song.grids[bar.grid]];
  const length = own.beatUnits.reduce((sum, units) => sum + units, 0) / unitsOf(own.meter);
  return (length * unitsOf(first.meter)) / Math.min(...first.beatUnits);
}

/** How many units make a whole note: 8 in "6/8".
 * @param {string} meter */
function unitsOf(meter) {
  return parseInt(meter.split("/")[1], 10);
}

/** A bar as a screen reader reads it: "bar 9, Verse 2 of 3: A, then E seventh on beat three".
 * @param {Song} song @param {number} index @param {number} by */
export function barWords(song, index, by) {
  const bar = song.bars[index];
  const chords = bar.chords.map((slot, number) => {
    const name = slot.chord < 0 ? "no chord" : spokenChord(nameOf(song, slot, by));
    const beat = beatAt(bar, slot.slot + 1e-6) + 1;
    const when = slot.share ? ` on beat ${numberWord(beat)}` : "";
    return `${number ? "then " : ""}${name}${when}`;
  });
  const words = bar.words && `; words: ${bar.words}`;
  return `${bar.name}, ${song.passes[bar.passIndex].text}: ${chords.join(", ") || "continues"}${words}`;
}
