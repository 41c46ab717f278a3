// Live playing: a plan of legs, a timer that keeps the schedule ahead of the audio clock, and what the
// student is hearing at the moment.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Sounds} from "./sprite.js" */
/** @import {Desk} from "./mixer.js" */
/** @import {Leg} from "./plan.js" */
/** @import {Music, Sounded} from "./bar_notes.js" */
/** @import {Voice} from "./schedule.js" */
import { barAt, beatAt } from "./song.js";
import { extendLegs, firstLegs, followingLegs, replannedLegs, roundBars, songTime } from "./plan.js";
import { earliest } from "./bar_notes.js";
import { retime, schedule, takenBack } from "./schedule.js";
import { closeDesk, makeDesk, setLevels } from "./mixer.js";

/** What is being heard: the leg, the song time, the bar and the beat; during a count-in, `beat` is the
 * beat of the count.
 * @typedef {{leg: Leg, time: number, bar: number, beat: number, counting: boolean}} Place */

/** Seconds from the tap to the first sound: enough to schedule it, too little to notice. */
const LEAD = 0.03;
/** How far ahead of the clock notes are scheduled. A hidden page's timers run once a second. */
export const AHEAD = 0.2;
export const AHEAD_HIDDEN = 2.5;
const EVERY_MS = 25;
/** Legs are kept for this many seconds after their end: what is heard lags behind the clock. */
const KEPT = 10;

export class Player {
  /** @param {Song} song @param {Music} music @param {Settings} settings
   * @param {() => void} onEnd called when the plan has been played to its end */
  constructor(song, music, settings, onEnd) {
    this.song = song;
    this.music = music;
    this.settings = settings;
    this.onEnd = onEnd;
    /** @type {Sounds | null} */
    this.sounds = null;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {Desk | null} */
    this.desk = null;
    /** @type {Leg[]} */
    this.legs = [];
    /** @type {Voice[]} */
    this.voices = [];
    /** @type {Sounded} */
    this.sounded = new Map();
    /** The last round of which something is on the clock. */
    this.entered = 0;
    this.until = 0;
    this.timer = 0;
    this.tapped = NaN;
    /** Milliseconds from the last tap until the first sound is heard, once it has been. */
    this.firstSound = NaN;
  }

  get playing() {
    return this.desk !== null;
  }

  /** Open the audio device, which takes a moment; it stays silent and its clock doesn't run yet. */
  open() {
    const session = /** @type {any} */ (navigator).audioSession;
    if (session) session.type = "playback";
    const context = new AudioContext({ sampleRate: this.song.sprite.rate });
    // A phone call or an alarm interrupts the sound.
    context.onstatechange = () => {
      if (`${context.state}` !== "interrupted" || !this.playing) return;
      this.stop();
      this.onEnd();
    };
    this.context = context;
    return context;
  }

  /** Make the audio clock run; call it from a gesture, as early as possible. */
  wake() {
    const context = this.context || this.open();
    if (context.state !== "running") context.resume().catch(() => undefined);
    return context;
  }

  /** Start with a bar, after the count-in that is set.
   * @param {number} bar @param {number} tapped when the student asked, by performance.now() */
  start(bar, tapped) {
    if (!this.sounds) return;
    const context = this.wake();
    this.stop();
    this.tapped = tapped;
    this.begin(context, bar);
    this.timer = setInterval(() => this.scheduleAhead(), EVERY_MS);
  }

  /** Start with a bar on a context; `scheduleAhead` must be called again and again.
   * @param {BaseAudioContext} context @param {number} bar */
  begin(context, bar) {
    this.desk = makeDesk(this.song, this.settings, context);
    this.until = context.currentTime;
    this.sounded = new Map();
    this.entered = 0;
    this.legs = promptLegs(this.music, this.settings, bar, this.until + LEAD);
    this.scheduleAhead();
  }

  stop() {
    clearInterval(this.timer);
    if (!this.desk) return;
    closeDesk(this.desk);
    const now = this.desk.context.currentTime;
    for (const voice of this.voices) voice.source.stop(now + 0.3);
    this.desk = null;
    this.legs = [];
    this.voices = [];
  }

  /** Schedule what comes next. */
  scheduleAhead() {
    if (!this.desk || !this.sounds) return;
    const now = this.desk.context.currentTime;
    if (this.tapped && now > this.legs[0].at) {
      const ago = now - this.legs[0].at - this.latency;
      this.firstSound = performance.now() - this.tapped - 1000 * ago;
      this.tapped = NaN;
    }
    const ahead = now + (document.hidden ? AHEAD_HIDDEN : AHEAD);
    extendLegs(this.song, this.settings, this.legs, ahead);
    const last = this.legs[this.legs.length - 1];
    // A ring schedules nothing: it is left open, so that a round can still follow it.
    const to = last.kind === "ring" ? Math.min(ahead, last.at) : ahead;
    // The next round's first notes may start before it does.
    const plan = [...this.legs, ...followingLegs(this.song, this.settings, this.legs)];
    this.voices = takenBack(this.music, this.voices, plan, this.entered, now, this.sounded)
      .filter((voice) => voice.end > now || voice.round > this.entered);
    if (to > this.until) {
      this.voices.push(...schedule(
        this.music, this.sounds, this.settings, plan, this.until, to, this.desk, this.sounded,
      ));
      this.until = to;
      this.entered = this.legs.findLast((leg) => leg.at < to)?.round ?? 0;
    }
    this.legs = this.legs.filter((leg) => leg.end > now - KEPT || leg === last);
    if (last.kind === "ring" && now > last.end) {
      this.stop();
      this.onEnd();
    }
  }

  /** After a change of speed or of what repeats; what is scheduled already stays.
   * @param {number} [percent] the new speed */
  replan(percent) {
    if (!this.desk) return;
    const last = this.legs[this.legs.length - 1];
    if (last.kind === "ring" && this.until >= last.at) {
      const [first] = roundBars(this.song, this.settings);
      const lead = this.settings.repeat ? leadOf(this.music, first, percent ?? last.percent) : LEAD;
      this.until = Math.max(this.until, this.desk.context.currentTime + lead);
    }
    this.legs = replannedLegs(this.song, this.settings, this.legs, this.until, percent);
    const following = followingLegs(this.song, this.settings, this.legs);
    retime(this.voices, [...this.legs, ...following], this.until);
  }

  /** After a change of levels. */
  relevel() {
    if (this.desk) setLevels(this.desk, this.settings);
  }

  /** The speed of what is scheduled next, which may have risen above the one that was set. */
  get percent() {
    const last = this.legs[this.legs.length - 1];
    return last ? last.percent : this.settings.percent;
  }

  /** How many seconds after its time on the clock a sound is heard. */
  get latency() {
    const context = this.context;
    return context ? context.outputLatency || context.baseLatency || 0 : 0;
  }

  /** What is being heard, or null if nothing plays.
   * @returns {Place | null} */
  place() {
    if (!this.context || !this.desk) return null;
    const heard = this.context.currentTime - this.latency;
    const leg = this.legs.find((other) => heard < other.end) || this.legs[this.legs.length - 1];
    if (!leg) return null;
    const time = Math.max(leg.from, Math.min(leg.to, songTime(leg, heard)));
    return placeOn(this.song, leg, time);
  }
}

/** The first legs of a plan, with time for first notes that start before their round.
 * @param {Music} music @param {Settings} settings @param {number} bar
 * @param {number} at the audio time of the first sound @returns {Leg[]} */
export function promptLegs(music, settings, bar, at) {
  const legs = firstLegs(music.song, settings, bar, at);
  if (legs[0].kind === "count") return legs;
  const lead = (earliest(music, bar) * 100) / settings.percent;
  return firstLegs(music.song, settings, bar, at + lead);
}

/** Seconds until a round can begin with a bar, with time for first notes that start before it.
 * @param {Music} music @param {number} bar @param {number} percent */
function leadOf(music, bar, percent) {
  return Math.min(AHEAD, LEAD + (earliest(music, bar) * 100) / percent);
}

/** @param {Song} song @param {Leg} leg @param {number} time @returns {Place} */
export function placeOn(song, leg, time) {
  if (leg.kind !== "count") {
    const bar = Math.min(barAt(song, time), leg.last);
    return { leg, time, bar, beat: beatAt(song.bars[bar], time), counting: false };
  }
  const bar = song.bars[leg.first];
  const length = bar.end - bar.start;
  const into = length - ((((leg.entry - time) % length) + length) % length || length);
  return { leg, time, bar: leg.first, beat: beatAt(bar, bar.start + into), counting: true };
}
