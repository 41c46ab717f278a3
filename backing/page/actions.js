// Everything a student can do: controls, keys and the chart call these actions and nothing else.

/** @import {Song} from "./song.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Chart} from "./chart.js" */
/** @import {Log} from "./log.js" */
/** @import {Player} from "./player.js" */
/** @import {Follower} from "./follow.js" */
import { barsName } from "./song.js";
import { withinReach } from "./plan.js";
import { clamp, saveSettings } from "./settings.js";
import { addClean, addTime, saveLog } from "./log.js";
import { layOut, nameChords } from "./chart.js";
import { focusBar, showStretch } from "./pointing.js";
import { isAudible } from "./mixer.js";
import { announce } from "./announce.js";
import { short } from "./words.js";
import { tapping } from "./tap.js";
import { showFacts } from "./head.js";
import { keepAwake } from "./awake.js";

/** How often the practice log is saved while playing, in seconds. */
const LOG_EVERY = 10;

export class Actions {
  /** @param {Song} song @param {Settings} settings @param {Log} log @param {Chart} chart
   * @param {Follower} follower @param {() => void} refresh is called after every change */
  constructor(song, settings, log, chart, follower, refresh) {
    this.song = song;
    this.settings = settings;
    this.log = log;
    this.chart = chart;
    this.follower = follower;
    this.refresh = refresh;
    /** @type {Player | null} */
    this.player = null;
    /** Where Play starts now; `settings.start` is where it starts next time. */
    this.bar = settings.stretch ? settings.stretch[0] : settings.start;
    this.tap = tapping();
    this.since = 0;
    this.choosing = false;
  }

  get playing() {
    return this.player !== null && this.player.playing;
  }

  // Playing

  /** @param {number} tapped performance.now() of the gesture */
  playOrStop(tapped) {
    if (this.playing) this.stop();
    else this.startAt(this.bar, tapped);
  }

  /** Start with a bar; a bar outside the chosen stretch clears the choice.
   * @param {number} bar @param {number} tapped */
  startAt(bar, tapped) {
    const { stretch } = this.settings;
    if (stretch && (bar < stretch[0] || bar > stretch[1])) this.chooseAll();
    this.logTime();
    this.bar = bar;
    this.player?.start(bar, tapped);
    if (this.playing) {
      this.since = performance.now();
      keepAwake(true);
    } else {
      announce("The sounds are not ready yet.");
    }
    this.changed();
  }

  stop() {
    this.logTime();
    this.player?.stop();
    this.since = 0;
    this.ended();
    announce("Stopped.");
  }

  /** The plan has been played to its end or was stopped. */
  ended() {
    this.logTime();
    this.since = 0;
    keepAwake(false);
    if (this.settings.stretch) [this.bar] = this.settings.stretch;
    this.changed();
  }

  /** Add the time played since the last call to the log. */
  logTime() {
    if (!this.since) return;
    const now = performance.now();
    addTime(this.log, (now - this.since) / 1000, new Date());
    this.since = now;
    saveLog(this.song, this.log);
  }

  /** To be called often while playing. */
  logTimeRegularly() {
    if (this.since && performance.now() - this.since > 1000 * LOG_EVERY) {
      this.logTime();
      this.refresh();
    }
  }

  /** @param {number} by bars */
  moveBar(by) {
    const bar = clamp(this.hereBar + by, 0, this.song.bars.length - 1);
    this.goTo(bar);
  }

  /** Go to the next section, or back to the start of this one or of the one before.
   * @param {number} by -1 or 1 */
  movePass(by) {
    const here = this.hereBar;
    const starts = this.song.passes.map((pass, index) => (index ? pass.first : 0));
    const found = by > 0 ? starts.find((bar) => bar > here) : starts.findLast((bar) => bar < here);
    if (found !== undefined) this.goTo(found);
  }

  /** @param {number} bar */
  goTo(bar) {
    if (this.playing) {
      this.startAt(bar, performance.now());
    } else {
      this.bar = bar;
      this.changed();
    }
    const made = this.chart.bars[bar];
    focusBar(this.chart, bar);
    made.focus();
  }

  /** The bar that is heard, or the one where Play starts. */
  get hereBar() {
    const place = this.player?.place();
    return place ? place.bar : this.bar;
  }

  // What is played

  /** @param {number} first @param {number} last @param {boolean} done is false during a drag */
  choose(first, last, done) {
    if (!done) {
      showStretch(this.chart, [first, last], this.bar);
      return;
    }
    this.settings.stretch = [first, last];
    this.choosing = false;
    this.bar = first;
    this.settings.repeat = true;
    const place = this.player?.place();
    if (place && (place.bar < first || place.bar > last)) this.startAt(first, performance.now());
    else this.replan();
    announce(`Repeating ${barsName(this.song, first, last)}.`);
  }

  chooseAll() {
    this.settings.stretch = null;
    this.settings.repeat = false;
    this.choosing = false;
    this.replan();
  }

  /** @param {boolean} repeat */
  setRepeat(repeat) {
    this.settings.repeat = repeat;
    this.replan();
    announce(repeat ? "Repeat on." : "Repeat off.");
  }

  replan() {
    this.player?.replan();
    this.changed();
  }

  /** Make the stretch start or end with the bar that is heard.
   * @param {"first" | "last"} which */
  chooseHere(which) {
    const here = this.hereBar;
    const [first, last] = this.settings.stretch || [0, this.song.bars.length - 1];
    if (which === "first") this.choose(here, Math.max(here, last), true);
    else this.choose(Math.min(here, first), here, true);
  }

  // How it is played

  /** @param {number} percent */
  setPercent(percent) {
    this.settings.percent = withinReach(this.song, percent);
    this.player?.replan(this.settings.percent);
    this.changed();
  }

  /** @param {number} by percentage points; the new speed is a whole percentage */
  addPercent(by) {
    this.setPercent(Math.round(this.percent) + by);
    announce(`${short(this.percent)} percent.`);
  }

  /** The speed that is being played or will be. */
  get percent() {
    return this.player ? this.player.percent : this.settings.percent;
  }

  /** Beats a minute at a percentage. @param {number} [percent] */
  bpm(percent = this.percent) {
    return (this.song.tempo.bpm * percent) / 100;
  }

  /** @param {number} bpm */
  setBpm(bpm) {
    this.setPercent((100 * bpm) / this.song.tempo.bpm);
  }

  /** @param {number} now */
  tapTempo(now) {
    const bpm = this.tap(now);
    if (bpm) this.setBpm(Math.round(bpm));
  }

  /** @param {number} by */
  setTranspose(by) {
    const { farthestMove } = this.song.limits;
    this.settings.transpose = clamp(by, -farthestMove, farthestMove);
    nameChords(this.song, this.chart, this.settings.transpose);
    showFacts(this.song, this.settings.transpose);
    layOut(this.song, this.chart);
    this.follower.redraw();
    this.changed();
  }

  /** @param {Partial<Settings["click"]>} change */
  setClick(change) {
    Object.assign(this.settings.click, change);
    this.player?.relevel();
    this.changed();
  }

  /** Whether the click sounds where Play starts. */
  get clicks() {
    return this.settings.click.on ?? this.song.passes[this.song.bars[this.bar].passIndex].click.on;
  }

  /** @param {string} name @param {Partial<Settings["parts"][string]>} change */
  setPart(name, change) {
    Object.assign(this.settings.parts[name], change);
    this.player?.relevel();
    this.changed();
    if (!("level" in change)) {
      const title = this.song.parts.find((part) => part.name === name)?.title;
      announce(`${title} ${isAudible(this.settings, name) ? "is playing" : "is silent"}.`);
    }
  }

  /** Any other setting. @param {Partial<Settings>} change */
  set(change) {
    Object.assign(this.settings, change);
    this.player?.relevel();
    this.changed();
  }

  // What is remembered

  startHereNextTime() {
    this.settings.start = this.hereBar;
    this.changed();
    announce(`Next time, playing starts at ${this.song.bars[this.settings.start].name}.`);
  }

  markClean() {
    const { stretch } = this.settings;
    const what = stretch ? barsName(this.song, ...stretch) : "the whole song";
    addClean(this.log, this.percent, this.bpm(), what, new Date());
    saveLog(this.song, this.log);
    this.changed();
    announce(`${short(this.bpm())} is marked as clean, ${what}.`);
  }

  clearLog() {
    this.log.days = {};
    this.log.clean = [];
    saveLog(this.song, this.log);
    this.changed();
  }

  /** Show and save a change. */
  changed() {
    showStretch(this.chart, this.settings.stretch, this.bar);
    saveSettings(this.song, this.settings);
    if (!this.playing) this.follower.showStart(this.bar);
    this.refresh();
  }
}
