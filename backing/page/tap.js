// Tap tempo: the speed of the last few taps.

/** After a pause this long, in milliseconds, tapping starts over. */
const ANEW_MS = 2500;
const MOST_TAPS = 8;

/** A function that takes each tap's time in milliseconds and gives beats a minute, or null at first. */
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
