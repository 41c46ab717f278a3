// Pointing at bars: a click or tap starts there, a drag or a Shift-click chooses a stretch.

/** @import {Chart} from "./chart.js" */

/** What pointing at bars does.
 * @typedef {{start: (bar: number, when: number) => void,
 *   choose: (first: number, last: number, done: boolean) => void, cancel: () => void,
 *   anchor: () => number, choosing: () => boolean}} BarActions */

/** How far a pointer may move during a click, in pixels. */
const TREMBLE = 8;

/** @param {Chart} chart @param {BarActions} actions */
export function listenToBars(chart, actions) {
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
    actions.choose(Math.min(press.bar, bar), Math.max(press.bar, bar), false);
  });

  chart.root.addEventListener("pointerup", (event) => {
    if (!press || !press.dragged) return;
    const bar = barOf(document.elementFromPoint(event.clientX, event.clientY)) ?? press.bar;
    actions.choose(Math.min(press.bar, bar), Math.max(press.bar, bar), true);
  });

  // A touch that scrolls the page chooses nothing.
  chart.root.addEventListener("pointercancel", () => {
    if (press && press.dragged) actions.cancel();
    press = null;
  });

  chart.root.addEventListener("click", (event) => {
    const dragged = press && press.dragged;
    press = null;
    const bar = barOf(event.target);
    if (bar === null || dragged) return;
    if (event.shiftKey) {
      const anchor = actions.anchor();
      actions.choose(Math.min(anchor, bar), Math.max(anchor, bar), true);
    } else if (actions.choosing()) {
      if (firstOfTwo < 0) {
        firstOfTwo = bar;
        actions.choose(bar, bar, false);
      } else {
        actions.choose(Math.min(firstOfTwo, bar), Math.max(firstOfTwo, bar), true);
        firstOfTwo = -1;
      }
    } else {
      firstOfTwo = -1;
      actions.start(bar, event.timeStamp);
    }
  });
}

/** Show which bars repeat and which one Play starts with.
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

/** Move the keyboard's focus among the bars, only one of which can be reached with the Tab key.
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
