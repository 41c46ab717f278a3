// Tap tempo: the speed of the last few taps.

/** After so many milliseconds a tap begins anew. */
const ANEW_MS = 2500;
const MOST_TAPS = 8;

/** A function of a tap's time in milliseconds: beats a minute, or null for a first tap. */
export function tapping() {
  /** @type {number[]} */
  let taps = [];
  /** @param {number} now @returns {number | null} */
  return (now) => {
    if (taps.length && now - taps[taps.length - 1] > ANEW_MS) taps = [];
    taps = [...taps, now].slice(-MOST_TAPS);
    if (taps.length < 2) return null;
    return (60000 * (taps.length - 1)) / (now - taps[0]);
  };
}
