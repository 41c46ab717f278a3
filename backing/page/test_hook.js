// `window.practicePage`: what tests ask of the page. The student's settings are not touched.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Sounds} from "./sprite.js" */
/** @import {Music} from "./schedule.js" */
/** @import {Practice} from "./actions.js" */
import { barAt, beatAt } from "./song.js";
import { extendLegs, firstLegs } from "./plan.js";
import { plainSettings } from "./settings.js";
import { schedule } from "./schedule.js";
import { makeDesk } from "./mixer.js";
import { Player } from "./player.js";

/** An offline render is filled in pieces of so many seconds, so much ahead; it can be halted only
 * between two blocks of so many frames (Web Audio API, "render quantum"). */
const PIECE = 1;
const AHEAD_OF_PIECE = 0.25;
const QUANTUM = 128;
/** A player on an offline context looks every so many seconds. */
const LOOK = 0.1;

/** `from` and `to` (after the last) are bars; `rounds` are joined without anything between them but
 * `between` bars of count-in; `only` parts are heard where it is given.
 * @typedef {{from?: number, to?: number, percent?: number, rounds?: number, countIn?: number,
 *   between?: number, mute?: string[], only?: string[], clickOn?: boolean, subdivide?: string,
 *   plays?: [number, number], transpose?: number, faster?: number, upTo?: number, rate?: number,
 *   clickLevel?: number, partLevels?: Record<string, number>, volume?: number,
 *   tail?: number}} Asked */
/** Settings changed at an audio time, and the speed where it is given; then it is planned anew.
 * @typedef {{at: number, set: Partial<Settings>, percent?: number}} Change */

/** @param {Song} song @param {Music} music @param {Promise<Sounds>} ready @param {Practice} practice */
export function offerHook(song, music, ready, practice) {
  const hook = {
    ready: ready.then(() => undefined),
    delay: NaN,
    /** @param {Asked} asked */
    renderOffline: async (asked = {}) => renderOffline(song, music, await ready, asked),
    /** @param {Asked} asked @param {Change[]} changes in order @param {number} seconds */
    playOffline: async (asked, changes, seconds) => (
      playOffline(song, music, await ready, asked, changes, seconds)
    ),
    /** @param {number} time */
    barAt: (time) => barAt(song, time),
    /** @param {number} time */
    beatAt: (time) => {
      const bar = barAt(song, time);
      return { bar, beat: beatAt(song.bars[bar], time) };
    },
    state: () => ({ ...stateOf(practice), audioTime: practice.player?.context?.currentTime }),
    get firstSound() {
      return practice.player?.firstSound;
    },
  };
  ready.then((sounds) => { hook.delay = sounds.delay; }, () => undefined);
  Object.assign(window, { practicePage: hook });
}

/** The page's own schedule on an offline context: exactly what the student would hear.
 * @param {Song} song @param {Music} music @param {Sounds} sounds @param {Asked} asked */
async function renderOffline(song, music, sounds, asked) {
  const settings = settingsFor(song, asked);
  const first = asked.from ?? 0;
  const rounds = asked.rounds ?? 1;
  let legs = firstLegs(song, settings, first, 0);
  while (legs[legs.length - 1].round < rounds) {
    extendLegs(song, settings, legs, legs[legs.length - 1].end + 1e-9);
  }
  legs = legs.filter((leg) => leg.round <= rounds);
  const last = legs[legs.length - 1];
  last.final = true;
  const rate = asked.rate ?? song.sprite.rate;
  const length = Math.ceil((last.end + Math.max(0.01, asked.tail ?? 1)) * rate);
  const context = new OfflineAudioContext(2, length, rate);
  const desk = makeDesk(song, settings, context);
  let until = 0;
  const look = (/** @type {number} */ to) => {
    schedule(music, sounds, settings, legs, until, to, desk);
    until = to;
  };
  // As in live playing each piece is put on the clock a little ahead: a context that holds all of
  // a song's notes at once is slow.
  const pieces = typeof context.suspend === "function" ? Math.floor(last.end / PIECE) : 0;
  look(pieces ? PIECE + AHEAD_OF_PIECE : last.end);
  for (let piece = 1; piece <= pieces; piece += 1) {
    haltAt(context, piece * PIECE, () => look(Math.min(last.end, (piece + 1) * PIECE + AHEAD_OF_PIECE)));
  }
  const rendered = await context.startRendering();
  const start = legs.find((leg) => leg.kind === "bars")?.at ?? 0;
  return { rate, start, legs, channels: [rendered.getChannelData(0), rendered.getChannelData(1)] };
}

/** Live playing on an offline context, with what is changed on the way; `planned` are the audio times
 * from which each change was heard.
 * @param {Song} song @param {Music} music @param {Sounds} sounds @param {Asked} asked
 * @param {Change[]} changes @param {number} seconds */
async function playOffline(song, music, sounds, asked, changes, seconds) {
  const settings = settingsFor(song, asked);
  const rate = asked.rate ?? song.sprite.rate;
  const context = new OfflineAudioContext(2, Math.ceil(seconds * rate), rate);
  const player = new Player(song, music, settings, () => undefined);
  player.sounds = sounds;
  player.begin(context, asked.from ?? 0);
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
      player.look();
    });
  }
  const rendered = await context.startRendering();
  return { rate, planned, channels: [rendered.getChannelData(0), rendered.getChannelData(1)] };
}

/** Do something when a render has come to a time, or just after it.
 * @param {OfflineAudioContext} context @param {number} time @param {() => void} run */
function haltAt(context, time, run) {
  const at = (Math.ceil((time * context.sampleRate) / QUANTUM) * QUANTUM) / context.sampleRate;
  context.suspend(at).then(() => {
    run();
    return context.resume();
  });
}

/** @param {Song} song @param {Asked} asked @returns {Settings} */
function settingsFor(song, asked) {
  const plain = plainSettings(song);
  const all = { from: 0, to: song.bars.length, mute: /** @type {string[]} */ ([]), partLevels: {}, ...asked };
  for (const [name, part] of Object.entries(plain.parts)) {
    part.muted = asked.only ? !asked.only.includes(name) : all.mute.includes(name);
    part.level = /** @type {Record<string, number>} */ (all.partLevels)[name] ?? 100;
  }
  return {
    ...plain,
    countIn: 0,
    upTo: song.limits.fastest,
    ...picked(asked, ["percent", "countIn", "between", "faster", "upTo", "transpose", "volume"]),
    repeat: true,
    stretch: [all.from, all.to - 1],
    click: {
      on: asked.clickOn ?? null,
      subdivide: asked.subdivide ?? null,
      plays: asked.plays ?? null,
      level: asked.clickLevel ?? 100,
    },
  };
}

/** @param {Record<string, any>} asked @param {string[]} names */
function picked(asked, names) {
  return Object.fromEntries(names.filter((name) => name in asked).map((name) => [name, asked[name]]));
}

/** @param {Practice} practice */
function stateOf(practice) {
  const { player, settings, follower } = practice;
  const place = player?.place();
  const underlined = /** @type {HTMLElement | null} */ (follower.underlined);
  const bar = underlined?.closest("[data-bar]");
  const index = bar instanceof HTMLElement ? Number(bar.dataset.bar) : -1;
  return {
    ready: Boolean(player?.sounds),
    playing: practice.playing,
    bar: place ? place.bar : null,
    beat: place ? place.beat : null,
    songTime: place ? place.time : null,
    countingIn: Boolean(place?.counting),
    round: place ? place.leg.round : 0,
    percent: place ? place.leg.percent : practice.percent,
    stretch: settings.stretch,
    repeat: settings.repeat,
    transpose: settings.transpose,
    startBar: practice.bar,
    latency: player?.latency ?? 0,
    shownTime: follower.place ? follower.place.time : null, // of the last frame, as the underline is
    underline: underlined && index >= 0
      ? { bar: index, beat: practice.chart.beats[index].indexOf(underlined) } : null,
  };
}
