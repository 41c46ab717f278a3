// Pointing at bars: a click or tap starts there, a drag or a shift-click chooses a stretch.

/** @import {Chart} from "./chart.js" */

/** What pointing at bars asks for.
 * @typedef {{start: (bar: number, when: number) => void,
 *   choose: (first: number, last: number, done: boolean) => void, cancel: () => void,
 *   anchor: () => number, choosing: () => boolean}} Asked */

/** So far a pointer may tremble in a click, in pixels. */
const TREMBLE = 8;

/** @param {Chart} chart @param {Asked} asked */
export function listenToBars(chart, asked) {
  /** @type {{bar: number, x: number, y: number, dragged: boolean, id: number} | null} */
  let press = null;
  let firstOfTwo = -1;

  chart.root.addEventListener("pointerdown", (event) => {
    const bar = barOf(event.target);
    if (bar === null || event.button !== 0) return;
    press = { bar, x: event.clientX, y: event.clientY, dragged: false, id: event.pointerId };
  });

  chart.root.addEventListener("pointermove", (event) => {
    if (!press || event.pointerId !== press.id) return;
    const far = Math.hypot(event.clientX - press.x, event.clientY - press.y);
    if (!press.dragged && far < TREMBLE) return;
    const bar = barOf(document.elementFromPoint(event.clientX, event.clientY));
    if (bar === null || (!press.dragged && bar === press.bar)) return;
    if (!press.dragged) chart.root.setPointerCapture(event.pointerId);
    press.dragged = true;
    asked.choose(Math.min(press.bar, bar), Math.max(press.bar, bar), false);
  });

  chart.root.addEventListener("pointerup", (event) => {
    if (!press || !press.dragged) return;
    const bar = barOf(document.elementFromPoint(event.clientX, event.clientY)) ?? press.bar;
    asked.choose(Math.min(press.bar, bar), Math.max(press.bar, bar), true);
  });

  // A touch that turns out to scroll the page chooses nothing.
  chart.root.addEventListener("pointercancel", () => {
    if (press && press.dragged) asked.cancel();
    press = null;
  });

  chart.root.addEventListener("click", (event) => {
    const dragged = press && press.dragged;
    press = null;
    const bar = barOf(event.target);
    if (bar === null || dragged) return;
    if (event.shiftKey) {
      const anchor = asked.anchor();
      asked.choose(Math.min(anchor, bar), Math.max(anchor, bar), true);
    } else if (asked.choosing()) {
      if (firstOfTwo < 0) {
        firstOfTwo = bar;
        asked.choose(bar, bar, false);
      } else {
        asked.choose(Math.min(firstOfTwo, bar), Math.max(firstOfTwo, bar), true);
        firstOfTwo = -1;
      }
    } else {
      firstOfTwo = -1;
      asked.start(bar, event.timeStamp);
    }
  });
}

/** Show which bars go round and which one Play begins with.
 * @param {Chart} chart @param {[number, number] | null} stretch @param {number} start */
export function showStretch(chart, stretch, start) {
  const [first, last] = stretch || [-1, -1];
  chart.bars.forEach((bar, index) => {
    bar.classList.toggle("stretch", index >= first && index <= last);
    bar.classList.toggle("stretch-first", index === first);
    bar.classList.toggle("stretch-last", index === last);
    bar.classList.toggle("start", index === start);
  });
}

/** Move the keyboard's place among the bars, of which one only is a stop of the Tab key.
 * @param {Chart} chart @param {number} index */
export function focusBar(chart, index) {
  for (const bar of chart.bars) bar.tabIndex = -1;
  chart.bars[index].tabIndex = 0;
}

/** @param {EventTarget | null} target */
function barOf(target) {
  const bar = target instanceof Element ? target.closest("[data-bar]") : null;
  return bar instanceof HTMLElement ? Number(bar.dataset.bar) : null;
}
