// Drives the page's own Player by a clock of its own on a desk that records: no sound, no waiting.
// Served beside the page's sources as a module; `maths.py` says what should come out.

import { AHEAD, AHEAD_HIDDEN, Player } from "/page/player.js";
import { readMusic } from "/page/bar_notes.js";
import { defaultSettings } from "/page/settings.js";

const RATE = 44100;
const TICK = 0.1;
const TICK_SLOW = 1;

let hidden = false;
Object.defineProperty(document, "hidden", { get: () => hidden });
// Only `drive` looks.
globalThis.setInterval = () => 0;
globalThis.setTimeout = () => 0;

/** An automated value: what is set on it and not canceled. */
class Value {
  constructor(value = 1) {
    this.value = value;
    this.events = [];
  }

  setValueAtTime(value, time) {
    this.events.push({ value, time });
  }

  setTargetAtTime(value, time) {
    this.events.push({ value, time });
  }

  cancelScheduledValues(time) {
    this.events = this.events.filter((event) => event.time < time);
  }
}

class Node {
  constructor(context, { gain, pan, buffer } = {}) {
    this.context = context;
    this.gain = new Value(gain);
    this.pan = new Value(pan);
    this.playbackRate = new Value();
    this.buffer = buffer;
    this.stops = Infinity;
    this.starts = NaN;
  }

  connect(other) {
    return other;
  }

  disconnect() {}

  start(time) {
    if (!Number.isNaN(this.starts)) throw new Error("started twice");
    this.starts = time;
    if (this.buffer !== "sprite") this.context.clicks.push([time, this.buffer]);
  }

  stop(time) {
    this.stops = time;
  }
}

for (const name of ["GainNode", "WaveShaperNode", "StereoPannerNode", "AudioBufferSourceNode"]) {
  globalThis[name] = Node;
}

/** A run: where and when Play is pressed, what is set before, and steps. Each step waits until a time
 * (`wait` seconds on, or `near`: so far from where the end of the bars would just be put on the
 * clock, or where a `song` time is put on it), then makes its changes. Steps at one moment have no look between them.
 * What comes back: after each step the plan, how far it is on the clock and what each change found;
 * at the end all that was put on the clock.
 * @param {any} song @param {any} run */
export function drive(song, run) {
  const music = readMusic(song);
  const settings = { ...defaultSettings(song), ...run.settings };
  settings.click.on = true;
  settings.click.subdivide = "";
  settings.click.plays = run.plays;
  let over = null;
  hidden = false;
  const context = { currentTime: run.at, sampleRate: RATE, state: "running", clicks: [] };
  const player = new Player(song, music, settings, () => { over = context.currentTime; });
  const kinds = Object.keys(song.click.sounds);
  const clicks = kinds.map((kind) => [kind, { accent: "accent", plain: "plain" }]);
  Object.assign(player, {
    context, sounds: { sprite: "sprite", delay: 0, clicks: Object.fromEntries(clicks) },
  });
  const numbers = new Map();
  const voices = new Set();
  for (const part of song.parts) part.notes.forEach((note, index) => numbers.set(note, [part.name, index]));
  // What the page took back. If it sounded then, a look came so late that the plan was out of date.
  const taken = new Set();
  const keep = () => { for (const voice of player.voices) voices.add(voice); };
  const look = () => {
    player.scheduleAhead();
    keep();
  };
  player.start(run.bar, 0);
  keep();
  const { sounded } = player;
  sounded.delete = (note) => {
    for (const voice of player.voices) {
      if (voice.note === note && voice.round === sounded.get(note)) taken.add(voice);
    }
    return Map.prototype.delete.call(sounded, note);
  };
  const seen = [];
  for (const step of run.steps) {
    hidden = Boolean(step.hidden);
    let to = context.currentTime + (step.wait ?? 0);
    if (step.near !== undefined) {
      const bars = player.legs.findLast((leg) => leg.kind === "bars");
      to = Math.max(context.currentTime, (bars?.end ?? 0) - (hidden ? AHEAD_HIDDEN : AHEAD) + step.near);
    }
    if (step.song !== undefined) {
      const leg = player.legs.findLast(({ kind, from, to: until }) => kind === "bars" && from < step.song && step.song < until);
      const then = leg ? leg.at + ((step.song - leg.from) * 100) / leg.percent : 0;
      to = Math.max(context.currentTime, then - (hidden ? AHEAD_HIDDEN : AHEAD));
    }
    const tick = hidden || step.stall ? TICK_SLOW : TICK;
    while (to > context.currentTime && player.playing) {
      context.currentTime = Math.min(to, context.currentTime + tick);
      look();
    }
    if (!player.playing) break;
    const made = step.changes.map(({ percent, set, replan }) => {
      const leg = player.legs.findLast((other) => other.at <= player.until);
      Object.assign(settings, set);
      if (replan) player.replan(percent);
      return { at: player.until, round: leg?.round, kind: leg?.kind, planned: replan, now: context.currentTime };
    });
    if (step.look) look();
    keep();
    seen.push({ made, hidden, until: player.until, now: context.currentTime, legs: player.legs.map((leg) => ({ ...leg })) });
  }
  return {
    seen, over, until: player.until, playing: player.playing, plays: run.plays, clicks: context.clicks,
    taken: [...taken].filter(({ source }) => source.stops > source.starts).length,
    voices: [...voices].filter((voice) => !taken.has(voice)).map((voice) => ({
      note: numbers.get(voice.note), round: voice.round, start: voice.source.starts, held: voice.held,
      end: voice.end, stops: voice.source.stops, releases: voice.gain.gain.events.map(({ time }) => time),
      rate: voice.rate, bends: voice.source.playbackRate.events.map(({ time, value }) => [time, value]),
    })),
  };
}
