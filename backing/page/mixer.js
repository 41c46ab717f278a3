// The mixing desk: a fader for each part and for the click, the master, and a limiter.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */

/** @typedef {{context: BaseAudioContext, parts: Record<string, GainNode>,
 *   panners: Record<string, StereoPannerNode>, click: GainNode, master: GainNode,
 *   fade: GainNode}} Desk */

/** Exactly linear up to here; louder sound is bent so that nothing ever passes `MOST`. */
const LINEAR = 0.5;
const MOST = 0.98;
/** How much louder than full scale its input can be; a power of two costs no precision. */
const REACH = 4;
const POINTS = 8193;
/** How quickly a fader moves, in seconds: immediate to the ear, without a crackle. */
const FOLLOW = 0.015;
/** How quickly all sound fades when the student stops, in seconds. */
const FADE = 0.03;

/** @param {Song} song @param {Settings} settings @param {BaseAudioContext} context
 * @returns {Desk} */
export function makeDesk(song, settings, context) {
  const fade = new GainNode(context);
  const shaper = new WaveShaperNode(context, { curve: limit() });
  const into = new GainNode(context, { gain: 1 / REACH });
  const master = new GainNode(context);
  master.connect(into).connect(shaper).connect(fade).connect(context.destination);
  const all = new GainNode(context, { gain: song.gain });
  all.connect(master);
  /** @type {Record<string, GainNode>} */
  const parts = {};
  /** @type {Record<string, StereoPannerNode>} */
  const panners = {};
  for (const part of song.parts) {
    parts[part.name] = new GainNode(context);
    panners[part.name] = new StereoPannerNode(context, { pan: part.pans[0] });
    parts[part.name].connect(panners[part.name]).connect(all);
  }
  const click = new GainNode(context);
  click.connect(master);
  const desk = { context, parts, panners, click, master, fade };
  for (const [fader, level] of levels(desk, settings)) fader.gain.value = level;
  return desk;
}

/** Move every fader to its setting.
 * @param {Desk} desk @param {Settings} settings */
export function setLevels(desk, settings) {
  for (const [fader, level] of levels(desk, settings)) {
    fader.gain.setTargetAtTime(level, desk.context.currentTime, FOLLOW);
  }
}

/** Fade everything out, then disconnect it.
 * @param {Desk} desk */
export function closeDesk(desk) {
  desk.fade.gain.setTargetAtTime(0, desk.context.currentTime, FADE);
  setTimeout(() => desk.fade.disconnect(), 1000 * 8 * FADE);
}

/** Whether a part can be heard: not muted and, if some parts play alone, one of those.
 * @param {Settings} settings @param {string} part */
export function isAudible(settings, part) {
  const { muted, alone } = settings.parts[part];
  const some = Object.values(settings.parts).some((other) => other.alone);
  return some ? alone : !muted;
}

/** @param {Desk} desk @param {Settings} settings @returns {[GainNode, number][]} */
function levels(desk, settings) {
  return [
    [desk.master, settings.volume / 100],
    [desk.click, settings.click.level / 100],
    ...Object.entries(desk.parts).map(([name, fader]) => /** @type {[GainNode, number]} */ ([
      fader, isAudible(settings, name) ? settings.parts[name].level / 100 : 0,
    ])),
  ];
}

function limit() {
  const room = MOST - LINEAR;
  return Float32Array.from({ length: POINTS }, (_, index) => {
    const level = REACH * ((2 * index) / (POINTS - 1) - 1);
    const size = Math.abs(level);
    if (size <= LINEAR) return level;
    return Math.sign(level) * (LINEAR + room * Math.tanh((size - LINEAR) / room));
  });
}
