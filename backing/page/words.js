// Names of chords as they are printed and as they are spoken, and numbers in words.

const ROOT = /^([A-G])([#b♯♭]?)(.*?)(?:\/([A-G])([#b♯♭]?))?$/;
/** Longest first; a quality that is missing here is read as it is written. @type {[string, string][]} */
const QUALITIES = [
  ["mMaj7", "minor, major seventh"], ["m7b5", "minor seventh, flat five"], ["maj13", "major thirteenth"],
  ["maj11", "major eleventh"], ["maj9", "major ninth"], ["maj7", "major seventh"], ["M7", "major seventh"],
  ["Δ", "major seventh"], ["min7", "minor seventh"], ["dim7", "diminished seventh"], ["°7", "diminished seventh"],
  ["m13", "minor thirteenth"], ["m11", "minor eleventh"], ["m9", "minor ninth"], ["m7", "minor seventh"],
  ["m6", "minor sixth"], ["min", "minor"], ["dim", "diminished"], ["°", "diminished"], ["ø", "half diminished"],
  ["aug", "augmented"], ["+", "augmented"], ["9sus4", "ninth, suspended fourth"],
  ["7sus4", "seventh, suspended fourth"], ["sus4", "suspended fourth"], ["sus2", "suspended second"],
  ["sus", "suspended fourth"], ["add9", "added ninth"], ["6/9", "six nine"], ["69", "six nine"],
  ["13", "thirteenth"], ["11", "eleventh"], ["9", "ninth"], ["7", "seventh"], ["6", "sixth"],
  ["5", "fifth, no third"], ["m", "minor"], ["-", "minor"],
];

/** With real accidentals: "F#m7" is "F♯m7".
 * @param {string} name */
export function printedChord(name) {
  const [root, quality, bass] = chordPieces(name);
  return root + quality + (bass && `/${bass}`);
}

/** Root, quality and bass ("" for none) of a chord's name, each as printed.
 * @param {string} name @returns {[string, string, string]} */
export function chordPieces(name) {
  const found = ROOT.exec(name);
  if (!found) return [name, "", ""];
  const [, letter, sign, quality, bass, bassSign] = found;
  const tones = quality.replace(/#(?=\d)/g, "♯").replace(/b(?=\d)/g, "♭");
  return [letter + glyph(sign), tones, bass ? bass + glyph(bassSign) : ""];
}

/** "F#m7" is "F sharp minor seventh", "C" is "C major".
 * @param {string} name */
export function spokenChord(name) {
  const found = ROOT.exec(name);
  if (!found) return name;
  const [, letter, sign, quality, bass, bassSign] = found;
  const words = [letter + spoken(sign)];
  let rest = quality;
  const known = QUALITIES.find(([text]) => rest.startsWith(text));
  if (known) {
    words.push(known[1]);
    rest = rest.slice(known[0].length);
  }
  if (!quality) words.push("major");
  const more = rest.replace(/[()]/g, " ").replace(/[#♯]/g, " sharp ").replace(/[b♭]/g, " flat ").trim();
  if (more) words.push(more.replace(/\s+/g, " "));
  if (bass) words.push(`over ${bass}${spoken(bassSign)}`);
  return words.join(" ");
}

const SMALL = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
  "eleven", "twelve"];

/** Numbers up to twelve in words.
 * @param {number} number */
export function numberWord(number) {
  return SMALL[number] ?? `${number}`;
}

/** @param {number} count @param {string} what */
export function plural(count, what) {
  return `${count} ${what}${count === 1 ? "" : "s"}`;
}

/** Up to one decimal.
 * @param {number} value */
export function short(value) {
  return `${Math.round(value * 10) / 10}`;
}

/** @param {string} sign */
function glyph(sign) {
  return sign === "#" ? "♯" : sign === "b" ? "♭" : sign;
}

/** @param {string} sign */
function spoken(sign) {
  return sign === "#" || sign === "♯" ? " sharp" : sign === "b" || sign === "♭" ? " flat" : "";
}
