// A chord's shape as a box: strings as upright lines, the low one on the left, frets across.

/** @import {Shape} from "./song.js" */

const NAMESPACE = "http://www.w3.org/2000/svg";
const APART = 14;
const DEEP = 17;
const LEFT = 18;
const TOP = 18;

/** @param {string} name @param {Record<string, string | number>} attributes
 * @param {...(Node | string)} children @returns {SVGElement} */
export function svg(name, attributes, ...children) {
  const element = document.createElementNS(NAMESPACE, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  element.append(...children);
  return element;
}

/** @param {Shape} shape @param {string} label what a screen reader reads
 * @returns {SVGElement} */
export function shapeBox(shape, label) {
  const strings = shape.frets.length;
  const { rows } = shape;
  const right = LEFT + (strings - 1) * APART;
  const bottom = TOP + rows * DEEP;
  const box = svg("svg", {
    viewBox: `0 0 ${right + 12} ${bottom + 14}`, role: "img", "aria-label": label, class: "shape",
  });
  /** @param {number} string */
  const across = (string) => LEFT + string * APART;
  /** @param {number} fret */
  const down = (fret) => TOP + (fret - shape.base + 0.5) * DEEP;
  for (let string = 0; string < strings; string += 1) {
    box.append(svg("path", { d: `M${across(string)} ${TOP}V${bottom}`, class: "string" }));
  }
  for (let row = 0; row <= rows; row += 1) {
    const nut = row === 0 && shape.base === 1;
    const d = `M${LEFT - 0.6} ${TOP + row * DEEP}H${right + 0.6}`;
    box.append(svg("path", { d, class: nut ? "nut" : "fret" }));
  }
  if (shape.base > 1) {
    box.append(svg("text", { x: LEFT - 8, y: down(shape.base) + 4, class: "base" }, `${shape.base}`));
  }
  for (const { fret, low, high } of shape.barres) {
    const d = `M${across(low)} ${down(fret)}H${across(high)}`;
    box.append(svg("path", { d, class: "barre" }));
  }
  shape.frets.forEach((fret, string) => {
    if (!fret) {
      const mark = fret === null ? "×" : "○";
      box.append(svg("text", { x: across(string), y: TOP - 5, class: "open" }, mark));
      return;
    }
    box.append(svg("circle", { cx: across(string), cy: down(fret), r: 5.2, class: "finger" }));
    const finger = shape.fingers[string];
    if (finger) {
      box.append(svg("text", { x: across(string), y: bottom + 11, class: "hand" }, `${finger}`));
    }
  });
  return box;
}

/** The shape in words, low string first: "not played, open, 2, 2, 2, open".
 * @param {Shape} shape */
export function shapeWords(shape) {
  return shape.frets
    .map((fret) => (fret === null ? "not played" : fret === 0 ? "open" : `${fret}`))
    .join(", ");
}
