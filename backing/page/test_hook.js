// `window.practicePage`: what tests use. It doesn't touch the student's settings.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Sounds} from "./sprite.js" */
/** @import {Music} from "./bar_notes.js" */
/** @import {Actions} from "./actions.js" */
import { barAt, beatAt } from "./song.js";
import { extendLegs } from "./plan.js";
import { defaultSettings } from "./settings.js";
import { schedule } from "./schedule.js";
import { makeDesk } from "./mixer.js";
import { Player, promptLegs } from "./player.js";

/** An offline render is filled in pieces of `PIECE` seconds, `AHEAD_OF_PIECE` seconds ahead; it can be
 * halted only between two blocks of `QUANTUM` frames (Web Audio API, "render quantum"). */
const PIECE = 1;
const AHEAD_OF_PIECE = 0.25;
const QUANTUM = 128;
/** How often a player on an offline context schedules, in seconds. */
const LOOK = 0.1;

/** `from` and `to` (after the last) are bars; between `rounds` there are `between` bars of count-in;
 * if `only` is given, only these parts play.
 * @typedef {{from?: number, to?: number, percent?: number, rounds?: number, countIn?: number,
 *   between?: number, mute?: string[], only?: string[], clickOn?: boolean, subdivide?: string,
 *   plays?: [number, number], transpose?: number, faster?: number, upTo?: number, rate?: number,
 *   clickLevel?: number, partLevels?: Record<string, number>, volume?: number,
 *   tail?: number}} RenderOptions */
/** Settings that change at an audio time, and perhaps the speed; then the rest is planned again.
 * @typedef {{at: number, set: Partial<Settings>, percent?: number}} Change */

/** @param {Song} song @param {Music} music @param {Promise<Sounds>} ready @param {Actions} actions */
export function offerHook(song, music, ready, actions) {
  const hook = {
    ready: ready.then(() => undefined),
    delay: NaN,
    /** @param {RenderOptions} options */
    renderOffline: async (options = {}) => renderOffline(song, music, await ready, options),
    /** @param {RenderOptions} options @param {Change[]} changes in order @param {number} seconds */
    playOffline: async (options, changes, seconds) => (
      playOffline(song, music, await ready, options, changes, seconds)
    ),
    /** @param {number} time */
    barAt: (time) => barAt(song, time),
    /** @param {number} time */
    beatAt: (time) => {
      const bar = barAt(song, time);
      return { bar, beat: beatAt(song.bars[bar], time) };
    },
    state: () => ({ ...stateOf(actions), audioTime: actions.player?.context?.currentTime }),
    get firstSound() {
      return actions.player?.firstSound;
    },
  };
  ready.then((sounds) => { hook.delay = sounds.delay; }, () => undefined);
  Object.assign(window, { practicePage: hook });
}

/** The page's own schedule on an offline context: exactly what a student would hear.
 * @param {Song} song @param {Music} music @param {Sounds} sounds @param {RenderOptions} options */
async function renderOffline(song, music, sounds, options) {
  const settings = settingsFor(song, options);
  const first = options.from ?? 0;
  const rounds = options.rounds ?? 1;
  let legs = promptLegs(music, settings, first, 0);
  while (legs[legs.length - 1].round < rounds) {
    extendLegs(song, settings, legs, legs[legs.length - 1].end + 1e-9);
  }
  legs = legs.filter((leg) => leg.round <= rounds);
  const last = legs[legs.length - 1];
  last.final = true;
  const rate = options.rate ?? song.sprite.rate;
  const length = Math.ceil((last.end + Math.max(0.01, options.tail ?? 1)) * rate);
  const context = new OfflineAudioContext(2, length, rate);
  const desk = makeDesk(song, settings, context);
  let until = 0;
  const sounded = new Map();
  const look = (/** @type {number} */ to) => {
    schedule(music, sounds, settings, legs, until, to, desk, sounded);
    until = to;
  };
  // As in live playing, each piece is scheduled a little ahead: a context that holds all of a song's
  // notes at once is slow.
  const pieces = typeof context.suspend === "function" ? Math.floor(last.end / PIECE) : 0;
  look(pieces ? PIECE + AHEAD_OF_PIECE : last.end);
  for (let piece = 1; piece <= pieces; piece += 1) {
    haltAt(context, piece * PIECE, () => look(Math.min(last.end, (piece + 1) * PIECE + AHEAD_OF_PIECE)));
  }
  const rendered = await context.startRendering();
  const start = legs.find((leg) => leg.kind === "bars")?.at ?? 0;
  return { rate, start, legs, channels: [rendered.getChannelData(0), rendered.getChannelData(1)] };
}

/** Live playing on an offline context, with changes on the way; `planned` are the audio times from
 * which each change was heard.
 * @param {Song} song @param {Music} music @param {Sounds} sounds @param {RenderOptions} options
 * @param {Change[]} changes @param {number} seconds */
async function playOffline(song, music, sounds, options, changes, seconds) {
  const settings = settingsFor(song, options);
  const rate = options.rate ?? song.sprite.rate;
  const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
  const player = new Player(song, music, settings, () => undefined);
  player.sounds = sounds;
  player.begin(context, options.from ?? 0);
  /** @type {number[]} */
  const planned = [];
  for (let time = LOOK; time + LOOK < seconds; time += LOOK) {
    haltAt(context, time, () => {
      for (const { at, set, percent } of changes.slice(planned.length)) {
        if (at > time) break;
        Object.assign(settings, set);
        player.replan(percent);
        planned.push(player.until);
      }
      player.scheduleAhead();
    });
  }
  const rendered = await context.startRendering();
  return { rate, planned, channels: [rendered.getChannelData(0), rendered.getChannelData(1)] };
}

/** Do something when a render has reached a time, or just after it.
 * @param {OfflineAudioContext} context @param {number} time @param {() => void} run */
function haltAt(context, time, run) {
  const at = (Math.ceil((time * context.sampleRate) / QUANTUM) * QUANTUM) / context.sampleRate;
  context.suspend(at).then(() => {
    run();
    return context.resume();
  });
}

/** @param {Song} song @param {RenderOptions} options @returns {Settings} */
function settingsFor(song, options) {
  const plain = defaultSettings(song);
  const all = { from: 0, to: song.bars.length, mute: /** @type {string[]} */ ([]), partLevels: {}, ...options };
  for (const [name, part] of Object.entries(plain.parts)) {
    part.muted = options.only ? !options.only.includes(name) : all.mute.includes(name);
    part.level = /** @type {Record<string, number>} */ (all.partLevels)[name] ?? 100;
  }
  return {
    ...plain,
    countIn: 0,
    upTo: song.limits.fastest,
    ...picked(options, ["percent", "countIn", "between", "faster", "upTo", "transpose", "volume"]),
    repeat: true,
    stretch: [all.from, all.to - 1],
    click: {
      on: options.clickOn ?? null,
      subdivide: options.subdivide ?? null,
      plays: options.plays ?? null,
      level: options.clickLevel ?? 100,
    },
  };
}

/** @param {Record<string, any>} options @param {string[]} names */
function picked(options, names) {
  return Object.fromEntries(names.filter((name) => name in options).map((name) => [name, options[name]]));
}

/** @param {Actions} actions */
function stateOf(actions) {
  const { player, settings, follower } = actions;
  const place = player?.place();
  const underlined = /** @type {HTMLElement | null} */ (follower.underlined);
  const bar = underlined?.closest("[data-bar]");
  const index = bar instanceof HTMLElement ? Number(bar.dataset.bar) : -1;
  return {
    ready: Boolean(player?.sounds),
    playing: actions.playing,
    bar: place ? place.bar : null,
    beat: place ? place.beat : null,
    songTime: place ? place.time : null,
    countingIn: Boolean(place?.counting),
    round: place ? place.leg.round : 0,
    percent: place ? place.leg.percent : actions.percent,
    stretch: settings.stretch,
    repeat: settings.repeat,
    transpose: settings.transpose,
    startBar: actions.bar,
    latency: player?.latency ?? 0,
    shownTime: follower.place ? follower.place.time : null, // of the last frame, as the underline is
    underline: underlined && index >= 0
      ? { bar: index, beat: actions.chart.beats[index].indexOf(underlined) } : null,
  };
}
