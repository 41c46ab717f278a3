// The keyboard: one table for what the keys do and what the help says about them.

/** @import {Actions} from "./actions.js" */
import { byId } from "./song.js";
import { element } from "./chart.js";

/** `keys` as the browser names them, `shown` as they are printed.
 * @typedef {{keys: string[], shown: string, does: string, run: (actions: Actions, event: KeyboardEvent) => void}} Key */

/** @type {Key[]} */
const KEYS = [
  { keys: [" "], shown: "Space", does: "play or stop", run: (p, e) => p.playOrStop(e.timeStamp) },
  { keys: ["ArrowLeft"], shown: "←", does: "previous bar", run: (p) => p.moveBar(-1) },
  { keys: ["ArrowRight"], shown: "→", does: "next bar", run: (p) => p.moveBar(1) },
  { keys: ["b"], shown: "B", does: "start of this section, or the previous section", run: (p) => p.movePass(-1) },
  { keys: ["n"], shown: "N", does: "next section", run: (p) => p.movePass(1) },
  { keys: ["+", "="], shown: "+", does: "1 percentage point faster", run: (p) => p.addPercent(1) },
  { keys: ["-"], shown: "−", does: "1 percentage point slower", run: (p) => p.addPercent(-1) },
  { keys: ["PageUp"], shown: "Page up", does: "5 percentage points faster", run: (p) => p.addPercent(5) },
  { keys: ["PageDown"], shown: "Page down", does: "5 percentage points slower", run: (p) => p.addPercent(-5) },
  { keys: ["t"], shown: "T", does: "tap the tempo", run: (p, e) => p.tapTempo(e.timeStamp) },
  { keys: ["["], shown: "[", does: "repeat from this bar", run: (p) => p.chooseHere("first") },
  { keys: ["]"], shown: "]", does: "repeat up to this bar", run: (p) => p.chooseHere("last") },
  { keys: ["r"], shown: "R", does: "repeat on or off", run: (p) => p.setRepeat(!p.settings.repeat) },
  { keys: ["w"], shown: "W", does: "choose the whole song", run: (p) => p.chooseAll() },
  { keys: ["c"], shown: "C", does: "click on or off", run: (p) => p.setClick({ on: !p.clicks }) },
  { keys: ["i"], shown: "I", does: "count-in: none, 1 or 2 bars", run: (p) => p.set({ countIn: (p.settings.countIn + 1) % 3 }) },
  { keys: [","], shown: ",", does: "one semitone lower", run: (p) => p.setTranspose(p.settings.transpose - 1) },
  { keys: ["."], shown: ".", does: "one semitone higher", run: (p) => p.setTranspose(p.settings.transpose + 1) },
  { keys: ["1", "2", "3", "4", "5", "6"], shown: "1 to 6", does: "mute or unmute a part", run: mute },
  { keys: ["!", "@", "#", "$", "%", "^"], shown: "Shift and 1 to 6", does: "hear a part alone", run: alone },
  { keys: ["g"], shown: "G", does: "mark this tempo as clean", run: (p) => p.markClean() },
  { keys: ["h"], shown: "H", does: "start here next time", run: (p) => p.startHereNextTime() },
  { keys: ["?"], shown: "?", does: "show this help", run: () => openHelp() },
];

/** @param {Actions} actions */
export function listenToKeys(actions) {
  byId("keys").replaceChildren(
    ...KEYS.map(({ shown, does }) => explained(shown, does)),
    explained("Enter on a bar", "start there"),
    explained("Shift, ← or →", "repeat more or fewer bars"),
  );
  byId("help-open").addEventListener("click", openHelp);
  byId("help-close").addEventListener("click", () => help().close());
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || help().open) return;
    if (event.key !== "?" && isOwnKey(event)) return;
    const run = meant(actions, event);
    if (!run) return;
    event.preventDefault();
    run(actions, event);
  });
  // A button reacts when the space bar comes up; on a bar it has played or stopped already.
  document.addEventListener("keyup", (event) => {
    const on = document.activeElement;
    if (event.key === " " && on instanceof HTMLElement && on.dataset.bar) event.preventDefault();
  });
}

/** What a key does now, or null.
 * @param {Actions} actions @param {KeyboardEvent} event @returns {Key["run"] | null} */
function meant(actions, event) {
  if (event.shiftKey && (event.key === "ArrowLeft" || event.key === "ArrowRight")) {
    return () => stretchBy(actions, event.key === "ArrowLeft" ? -1 : 1);
  }
  if (event.key === " ") return event.repeat ? null : KEYS[0].run;
  if (event.key.length === 1 && !actions.settings.keys) return null;
  const digit = event.shiftKey && event.code.startsWith("Digit") ? Number(event.code.slice(5)) : 0;
  const name = digit ? "!@#$%^"[digit - 1] : event.key;
  return KEYS.find(({ keys }) => keys.includes(name) || keys.includes(`${name}`.toLowerCase()))?.run || null;
}

/** Whether the focused control uses a key itself.
 * @param {KeyboardEvent} event */
function isOwnKey(event) {
  const on = document.activeElement;
  if (!(on instanceof HTMLElement)) return false;
  if (on instanceof HTMLInputElement) {
    if (on.type === "checkbox") return event.key === " ";
    if (on.type === "range") return event.key.startsWith("Arrow") || event.key.startsWith("Page");
    return true;
  }
  if (on instanceof HTMLSelectElement) return true;
  const pressed = event.key === " " || event.key === "Enter";
  if (on.dataset.bar) return event.key === "Enter";
  return pressed && (on instanceof HTMLButtonElement || on.tagName === "SUMMARY" || on.tagName === "A");
}

/** Move the end of the stretch, which is the present bar at first.
 * @param {Actions} actions @param {number} by */
function stretchBy(actions, by) {
  const here = actions.hereBar;
  const [first, last] = actions.settings.stretch || [here, here - Math.min(0, by)];
  actions.choose(first, Math.min(actions.song.bars.length - 1, Math.max(first, last + by)), true);
}

/** @param {Actions} actions @param {KeyboardEvent} event */
function mute(actions, event) {
  const part = actions.song.parts[Number(event.key) - 1];
  if (part) actions.setPart(part.name, { muted: !actions.settings.parts[part.name].muted });
}

/** @param {Actions} actions @param {KeyboardEvent} event */
function alone(actions, event) {
  const part = actions.song.parts[Number(event.code.slice(5)) - 1];
  if (part) actions.setPart(part.name, { alone: !actions.settings.parts[part.name].alone });
}

/** @param {string} shown @param {string} does */
function explained(shown, does) {
  return element("div", "", element("dt", "", element("kbd", "", shown)), element("dd", "", does));
}

function openHelp() {
  help().showModal();
}

function help() {
  return /** @type {HTMLDialogElement} */ (byId("help"));
}
