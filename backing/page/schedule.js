// The only code that makes sound: it puts a stretch of a plan on an audio context. Live playing calls
// it ahead of the clock, piece by piece; an offline render calls it for the whole.

/** @import {Song, Note, Bar, Level} from "./song.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Sounds} from "./sprite.js" */
/** @import {Desk} from "./mixer.js" */
/** @import {Leg} from "./plan.js" */
import { barAt } from "./song.js";
import { audioTime, songTime } from "./plan.js";

/** A part's `notes` by the bar that they belong to, and the passes in which it plays a riff.
 * @typedef {{name: string, tabbed: Set<number>, notes: Note[][]}} Line */
/** `pushed` says for each bar when its first chord sounds if it comes early; `samples` finds a sample
 * by its instrument, layer and pitch.
 * @typedef {{song: Song, lines: Line[], pushed: (number | null)[],
 *   samples: Map<string, number>}} Music */
/** @typedef {{source: AudioBufferSourceNode, gain: GainNode, note: Note, rate: number, start: number,
 *   end: number, cut: number, release: number, fall: number, held: boolean, round: number}} Voice */

/** A note held over from before a round is struck again at the round's start if at least this share
 * of it is left; if its chord continues over the bar line, the second share. A riff's notes never are. */
const STILL = 0.4;
const STILL_GOING_ON = 0.1;
/** How many bars before a round are searched for such notes. */
const BACK = 8;
/** After a release has begun, a voice lasts this many times the release's length. */
const DYING = 2;

/** Sort a song's notes into the bars that they belong to.
 * @param {Song} song @returns {Music} */
export function readMusic(song) {
  const pushed = song.bars.map(pushedFrom);
  const samples = new Map(song.samples.map((sample, index) => [
    `${sample.instrument} ${sample.layer} ${sample.pitch}`, index,
  ]));
  const lines = song.parts.map((part) => {
    const drums = part.notes.every((note) => song.samples[note[2]].pitch === null);
    const riffs = song.riffs.filter((riff) => riff.part === part.name && riff.kind !== "line");
    const tabbed = new Set(riffs.map((riff) => riff.passIndex));
    const notes = song.bars.map(() => /** @type {Note[]} */ ([]));
    for (const note of part.notes) {
      const bar = barAt(song, note[0]);
      const next = song.bars[bar + 1];
      const exact = drums || (next && tabbed.has(next.passIndex));
      const early = next && (exact ? null : pushed[bar + 1]);
      const meant = next && note[0] >= (early ?? next.start) - song.playback.early;
      notes[meant ? bar + 1 : bar].push(note);
    }
    return { name: part.name, tabbed, notes };
  });
  return { song, lines, pushed, samples };
}

/** Put everything that starts from `from` up to, not including, `to` on the desk's context.
 * @param {Music} music @param {Sounds} sounds @param {Settings} settings @param {Leg[]} legs
 * @param {number} from @param {number} to @param {Desk} desk @returns {Voice[]} */
export function schedule(music, sounds, settings, legs, from, to, desk) {
  /** @type {Voice[]} */
  const voices = [];
  for (const leg of legs) {
    if (leg.end <= from || leg.at >= to || leg.kind === "ring") continue;
    // The same number ends one stretch and starts the next, so nothing is lost or doubled.
    const begin = leg.at >= from ? leg.from : songTime(leg, from);
    const end = leg.end <= to ? leg.to : songTime(leg, to);
    clickLeg(music.song, sounds, settings, leg, begin, end, desk);
    if (leg.kind === "count") continue;
    panLeg(music.song, leg, begin, end, desk);
    for (const line of music.lines) {
      for (const [note, start] of notesBetween(music, line, legs, leg, begin, end)) {
        voices.push(sound(music, sounds, settings, leg, line, note, start, desk));
      }
    }
  }
  return voices;
}

/** After the legs have been planned again from a time on, move the ends and bends of the notes that
 * sound then; notes that end earlier stay as they are.
 * @param {Voice[]} voices @param {Leg[]} legs @param {number} at */
export function retime(voices, legs, at) {
  for (const voice of voices) {
    const leg = legs.findLast((other) => other.round === voice.round);
    if (!voice.held || voice.end < at || !leg) continue;
    voice.source.playbackRate.cancelScheduledValues(at);
    bend(voice, leg, at);
    voice.gain.gain.cancelScheduledValues(at);
    release(voice, leg);
  }
}

/** When a bar's first chord sounds if it comes early, or null.
 * @param {Bar} bar */
function pushedFrom(bar) {
  const slot = bar.chords[0];
  return slot && slot.share === 0 && slot.at < bar.start ? slot.at : null;
}

/** A line's notes on a leg from one song time up to another, with the times at which they start.
 * @param {Music} music @param {Line} line @param {Leg[]} legs @param {Leg} leg @param {number} from
 * @param {number} to @returns {[Note, number][]} */
function notesBetween(music, line, legs, leg, from, to) {
  /** @type {[Note, number][]} */
  const found = [];
  const { early } = music.song.playback;
  const entry = music.song.bars[leg.first];
  if (from <= leg.entry && leg.entry < to && !line.tabbed.has(entry.passIndex)) {
    const least = entry.chords[0]?.share === 0 ? STILL : STILL_GOING_ON;
    for (let bar = Math.max(0, leg.first - BACK); bar < leg.first; bar += 1) {
      for (const note of line.notes[bar]) {
        const left = note[1] - leg.entry;
        if (left > early && left >= least * (note[1] - note[0])) found.push([note, leg.entry]);
      }
    }
  }
  const last = Math.min(leg.last, barAt(music.song, to) + 1);
  for (let bar = Math.max(leg.first, barAt(music.song, from)); bar <= last; bar += 1) {
    for (const note of line.notes[bar]) {
      const late = bar === leg.first || missed(legs, leg, bar, note);
      const start = late ? entered(music, bar, note) : note[0];
      if (from <= start && start < to) found.push([note, start]);
    }
  }
  return found;
}

/** Whether a note that comes before its bar line was left out because its round was to end there.
 * @param {Leg[]} legs @param {Leg} leg @param {number} bar @param {Note} note */
function missed(legs, leg, bar, note) {
  return note[0] < leg.from && legs.some(({ kind, round, last, from, to }) => (
    kind === "bars" && round === leg.round && last < bar && from <= note[0] && note[0] < to
  ));
}

/** When a note of a bar starts if it may not come before the bar line.
 * @param {Music} music @param {number} bar @param {Note} note */
function entered(music, bar, note) {
  const line = music.song.bars[bar].start;
  const pushed = music.pushed[bar];
  const late = pushed !== null && note[0] < line - music.song.playback.early ? line - pushed : 0;
  return Math.max(line, note[0] + late);
}

/** @param {Music} music @param {Sounds} sounds @param {Settings} settings @param {Leg} leg
 * @param {Line} line @param {Note} note @param {number} start @param {Desk} desk @returns {Voice} */
function sound(music, sounds, settings, leg, line, note, start, desk) {
  const { context } = desk;
  const [sample, semitones] = moved(music, note[2], settings.transpose);
  const at = onFrame(context, audioTime(leg, start));
  const source = new AudioBufferSourceNode(context, { buffer: sounds.sprite });
  const gain = new GainNode(context, { gain: note[3] });
  const rate = 2 ** (semitones / 12);
  source.playbackRate.value = rate;
  source.connect(gain).connect(desk.parts[line.name]);
  const offset = sample.at + sounds.delay;
  if (sample.loop) {
    source.loop = true;
    source.loopStart = sample.loop[0] + sounds.delay;
    source.loopEnd = sample.loop[1] + sounds.delay;
    source.start(at, offset);
  } else {
    source.start(at, offset, sample.length);
  }
  source.onended = () => gain.disconnect();
  const held = note[1] > 0;
  const cut = held ? Math.max(note[1], start + 0.03) : 0;
  /** @type {Voice} */
  const voice = {
    source, gain, note, rate, start: at, end: at + sample.length, cut, release: sample.release,
    fall: sample.release / music.song.playback.releaseConstants, held, round: leg.round,
  };
  bend(voice, leg, at);
  if (held) release(voice, leg);
  return voice;
}

/** Bend a voice as its note is bent, from an audio time on.
 * @param {Voice} voice @param {Leg} leg @param {number} since */
function bend({ source, note, rate }, leg, since) {
  for (const [when, up] of note[4] || []) {
    source.playbackRate.setValueAtTime(rate * 2 ** (up / 12), Math.max(since, audioTime(leg, when)));
  }
}

/** End a voice where its note ends or, if another round follows, where the round ends.
 * @param {Voice} voice @param {Leg} leg */
function release(voice, leg) {
  voice.end = audioTime(leg, leg.final ? voice.cut : Math.min(voice.cut, leg.to));
  voice.gain.gain.setTargetAtTime(0, voice.end, voice.fall);
  voice.source.stop(voice.end + DYING * voice.release);
}

/** The sample for a note moved by semitones, and how far that sample must be moved.
 * @param {Music} music @param {number} index @param {number} by
 * @returns {[import("./song.js").Sample, number]} */
function moved(music, index, by) {
  const sample = music.song.samples[index];
  if (sample.pitch === null || !by) return [sample, 0];
  const there = music.samples.get(`${sample.instrument} ${sample.layer} ${sample.pitch + by}`);
  return there === undefined ? [sample, by] : [music.song.samples[there], 0];
}

/** Pan each part, which a form may change from pass to pass.
 * @param {Song} song @param {Leg} leg @param {number} from @param {number} to @param {Desk} desk */
function panLeg(song, leg, from, to, desk) {
  for (let index = barAt(song, from); index <= leg.last; index += 1) {
    const bar = song.bars[index];
    if (bar.start >= to) return;
    if (bar.start < from || (index > leg.first && bar.passIndex === song.bars[index - 1].passIndex)) continue;
    const at = audioTime(leg, bar.start);
    for (const { name, pans } of song.parts) desk.panners[name].pan.setValueAtTime(pans[bar.passIndex], at);
  }
}

/** @param {Song} song @param {Sounds} sounds @param {Settings} settings @param {Leg} leg
 * @param {number} from @param {number} to @param {Desk} desk */
function clickLeg(song, sounds, settings, leg, from, to, desk) {
  for (const { at, level, name, gain: written } of clicks(song, settings, leg)) {
    if (at < from || at >= to) continue;
    const kind = sounds.clicks[name];
    const source = new AudioBufferSourceNode(desk.context, {
      buffer: level === "accent" ? kind.accent : kind.plain,
    });
    const gain = new GainNode(desk.context, { gain: written * song.click.sounds[name].gains[level] });
    source.connect(gain).connect(desk.click);
    source.onended = () => gain.disconnect();
    source.start(onFrame(desk.context, audioTime(leg, at)));
  }
}

/** A leg's clicks in song time.
 * @param {Song} song @param {Settings} settings @param {Leg} leg
 * @returns {{at: number, level: Level, name: string, gain: number}[]} */
export function clicks(song, settings, leg) {
  /** @type {{at: number, level: Level, name: string, gain: number}[]} */
  const found = [];
  const counting = leg.kind === "count";
  const [first, last] = counting ? [leg.first, leg.first] : [leg.first, leg.last];
  for (let index = first; index <= last; index += 1) {
    const bar = song.bars[index];
    const grid = song.grids[bar.grid];
    const { on, sound: name, subdivide, accent, plays: cycle, gain } = clickSettings(song, settings, bar);
    const place = settings.click.plays ? leg.played + index - leg.first : bar.number - 1;
    if (!counting && !(on && (!cycle || place < 0 || place % cycle[1] < cycle[0]))) continue;
    const divisions = grid.divisions[counting ? "" : subdivide];
    const length = bar.end - bar.start;
    const before = counting ? Math.ceil((leg.entry - leg.from) / length - 1e-9) : 0;
    for (let back = before; back >= (counting ? 1 : 0); back -= 1) {
      bar.beats.forEach((beat, number) => {
        const lasting = (bar.beats[number + 1] ?? bar.end) - beat;
        const struck = accent || counting ? grid.levels[number] : "beat";
        for (const share of divisions[number]) {
          const at = beat + share * lasting - back * length;
          found.push({ at, level: share ? "between" : struck, name, gain });
        }
      });
    }
  }
  return found;
}

/** How the click plays: as the student set it or, where nothing is set, as in the form.
 * @param {Song} song @param {Settings} settings @param {Bar} bar */
function clickSettings(song, settings, bar) {
  const written = song.passes[bar.passIndex].click;
  const { on, subdivide, plays: cycle } = settings.click;
  return {
    ...written,
    on: on ?? written.on,
    subdivide: subdivide ?? written.subdivide,
    plays: cycle ? (cycle[0] >= cycle[1] ? null : cycle) : written.plays,
  };
}

/** The nearest whole frame: a sound that starts between two frames would be blurred.
 * @param {BaseAudioContext} context @param {number} time */
function onFrame(context, time) {
  return Math.max(0, Math.round(time * context.sampleRate) / context.sampleRate);
}
