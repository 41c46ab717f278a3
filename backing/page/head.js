// The head of the chart: title, writer, instrument, key, capo, tuning, tempo and feel, as on paper.

/** @import {Song} from "./song.js" */
import { byId } from "./song.js";
import { element } from "./chart.js";
import { plural, printedChord } from "./words.js";

/** @param {Song} song */
export function drawHead(song) {
  byId("by").textContent = song.by;
  byId("facts").after(...song.notes.map((note) => element("p", "note", note)));
}

/** @param {Song} song @param {number} by how far the student has moved it, in semitones */
export function showFacts(song, by) {
  const facts = [song.tempo.text, song.meter];
  if (song.feel) facts.push(song.feel);
  if (song.instrument) facts.push(`for ${song.instrument}`);
  if (song.key && !by) facts.push(`chords in ${keyWords(song.key)}`);
  if (by) facts.push(`chords moved ${plural(Math.abs(by), "semitone")} ${by > 0 ? "up" : "down"}`);
  if (song.capo) facts.push(`capo at fret ${song.capo}`);
  const other = song.soundingKey && song.soundingKey !== song.key;
  if (other && !by) facts.push(`sounds in ${keyWords(song.soundingKey)}`);
  if (song.tuning) facts.push(`tuning ${song.tuning}`);
  if (song.voicing) facts.push(song.voicing);
  byId("facts").textContent = facts.join(", ");
}

/** "Am" is "A minor", "Bb" is "B♭ major".
 * @param {string} key */
function keyWords(key) {
  const minor = /m(in)?$/.test(key);
  return `${printedChord(key.replace(/m(in)?$/, ""))} ${minor ? "minor" : "major"}`;
}
