// Shows what is being heard: the beat underlined, the tab's note, the names of section and pass, and
// the next chord as a line of words with its shape.

/** @import {Song, Slot} from "./song.js" */
/** @import {Chart} from "./chart.js" */
/** @import {Place} from "./player.js" */
import { beatAt, byId, movedShape } from "./song.js";
import { roundBars } from "./plan.js";
import { nameOf, element } from "./chart.js";
import { shapeBox, shapeWords } from "./shape_box.js";
import { chordPieces, numberWord, printedChord, spokenChord } from "./words.js";

/** A chord that comes next; no `slot` means that the song ends. @typedef {{slot: Slot | null, when: string, name: string}} Coming */

export class Follower {
  /** @param {Song} song @param {Chart} chart @param {import("./settings.js").Settings} settings
   * @param {(pass: number) => void} onPass is called when a new pass starts to sound */
  constructor(song, chart, settings, onPass) {
    this.song = song;
    this.chart = chart;
    this.settings = settings;
    this.onPass = onPass;
    this.slots = song.bars.flatMap((bar, index) => bar.chords.map((slot) => ({ slot, bar: index })));
    /** @type {HTMLElement | null} */
    this.underlined = null;
    /** @type {Set<SVGElement>} */
    this.marked = new Set();
    this.bar = -1;
    this.passIndex = -1;
    this.shown = "";
    /** @type {Place | null} */
    this.place = null;
  }

  /** Show a place; call it once for each frame. Only what has changed is touched.
   * @param {Place} place */
  show(place) {
    this.place = place;
    const beat = place.counting ? null : this.chart.beats[place.bar][place.beat];
    if (beat !== this.underlined) {
      this.underlined?.classList.remove("sounding");
      beat?.classList.add("sounding");
      this.underlined = beat;
    }
    this.markTab(place);
    if (place.bar !== this.bar) this.moveTo(place.bar);
    const { passIndex } = this.song.bars[place.bar];
    if (!place.counting && passIndex !== this.passIndex) {
      this.passIndex = passIndex;
      this.onPass(passIndex);
    }
    this.showWords(place);
  }

  /** Nothing is playing: show where Play would start.
   * @param {number} bar */
  showStart(bar) {
    this.place = null;
    this.underlined?.classList.remove("sounding");
    this.underlined = null;
    for (const mark of this.marked) mark.classList.remove("sounding");
    this.marked.clear();
    if (this.bar >= 0) this.chart.bars[this.bar].removeAttribute("aria-current");
    this.bar = -1;
    this.passIndex = -1;
    const { passIndex } = this.song.bars[bar];
    const slot = this.slotAt(this.song.bars[bar].start + 1e-6, bar);
    const name = slot ? nameOf(this.song, slot, this.settings.transpose) : "";
    this.write(`${this.song.passes[passIndex].text}, ${this.song.bars[bar].name}`, "Starts with", {
      slot, name, when: "",
    });
  }

  /** Write everything again the next time, for example after a change of key. */
  redraw() {
    this.shown = "";
  }

  /** @param {Place} place */
  markTab(place) {
    const marks = this.chart.tabs[place.bar];
    if (!marks.length && !this.marked.size) return;
    const now = new Set(place.counting ? [] : marks
      .filter(({ note }) => note.at <= place.time && place.time < note.end)
      .map(({ mark }) => mark));
    for (const mark of this.marked) if (!now.has(mark)) mark.classList.remove("sounding");
    for (const mark of now) if (!this.marked.has(mark)) mark.classList.add("sounding");
    this.marked = now;
  }

  /** @param {number} bar */
  moveTo(bar) {
    if (this.bar >= 0) this.chart.bars[this.bar].removeAttribute("aria-current");
    this.bar = bar;
    const made = this.chart.bars[bar];
    made.setAttribute("aria-current", "true");
    const band = byId("band").getBoundingClientRect();
    const { top, bottom } = made.getBoundingClientRect();
    if (top >= band.bottom + 4 && bottom + (bottom - top) / 2 <= innerHeight) return;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const to = scrollY + top - band.height - 28;
    scrollTo({ top: to, behavior: calm ? "instant" : "smooth" });
  }

  /** @param {Place} place */
  showWords(place) {
    const bar = this.song.bars[place.bar];
    const pass = this.song.passes[bar.passIndex];
    if (place.counting) {
      const slot = this.slotAt(bar.start + 1e-6, place.bar);
      const name = slot ? nameOf(this.song, slot, this.settings.transpose) : "";
      const beat = numberWord(place.beat + 1);
      this.write(`Count-in to ${pass.text}: ${beat}`, "Starts with", { slot, name, when: "" });
      return;
    }
    const now = this.slotAt(place.time, Math.min(place.bar + 1, place.leg.last));
    const words = now ? printedChord(nameOf(this.song, now, this.settings.transpose)) : "";
    const coming = this.coming(place, now);
    const link = coming.slot ? "next" : "then";
    this.write(`${pass.text}, ${bar.name}`, words && `Now ${words}, ${link}`, coming);
  }

  /** @param {string} where @param {string} lead @param {Coming} coming */
  write(where, lead, { slot, name, when }) {
    const key = [where, lead, name, when].join("|");
    if (key === this.shown) return;
    this.shown = key;
    byId("where").textContent = where;
    const [root, quality, bass] = chordPieces(name);
    const chord = element("b", "chord", element("span", "root", root));
    if (quality) chord.append(element("span", "quality", quality));
    if (bass) chord.append(element("span", "bass", `/${bass}`));
    byId("next").replaceChildren(element("span", "lead", lead), " ", chord, " ", element("span", "when", when));
    const spoken = slot && slot.chord >= 0 ? spokenChord(name) : slot ? "no chord" : "";
    byId("spoken").textContent = spoken;
    byId("box").replaceChildren();
    if (!slot || slot.chord < 0) return;
    const shape = movedShape(this.song, this.song.chords[slot.chord], this.settings.transpose);
    if (shape) byId("box").append(shapeBox(shape, `Shape of ${spoken}, low string first: ${shapeWords(shape)}`));
  }

  /** The last chord that has started by a time (in a round's first bar an early chord is on the line).
   * @param {number} time @param {number} last the last bar that it may belong to
   * @returns {Slot | null} */
  slotAt(time, last) {
    let found = null;
    for (const one of this.slots) {
      if (one.bar > last || one.slot.at > time) break;
      found = one.slot;
    }
    return found;
  }

  /** The next different chord, and when it comes.
   * @param {Place} place @param {Slot | null} now @returns {Coming} */
  coming(place, now) {
    const { leg, bar, time } = place;
    const by = this.settings.transpose;
    const next = this.slots.find(({ slot }) => slot.at > time && slot.chord !== now?.chord);
    if (next && next.bar <= leg.last) {
      return { slot: next.slot, name: nameOf(this.song, next.slot, by), when: this.when(next.slot, next.bar, bar) };
    }
    if (leg.final) return { slot: null, name: "", when: "the end" };
    const [first] = roundBars(this.song, this.settings);
    const slot = this.slotAt(this.song.bars[first].start + 1e-6, first);
    return { slot, name: slot ? nameOf(this.song, slot, by) : "", when: `on the repeat from ${this.song.bars[first].name}` };
  }

  /** @param {Slot} slot @param {number} there its bar @param {number} here the bar that sounds */
  when(slot, there, here) {
    const bar = this.song.bars[there];
    const beat = beatAt(bar, slot.slot + 1e-6);
    const onBeat = Math.abs(bar.beats[beat] - slot.slot) < 1e-6;
    const early = slot.marks.includes("push") ? "just before " : onBeat ? "on " : "after ";
    const which = `${early}beat ${numberWord(beat + 1)}`;
    if (there === here) return which;
    const line = there === here + 1 ? "the next bar" : bar.name;
    if (slot.share) return `${which} of ${line}`;
    return slot.marks.includes("push") ? `just before ${line}` : `in ${line}`;
  }
}
