// The only code that makes sound: it puts a stretch of a plan on an audio context. Live playing calls
// it ahead of the clock, piece by piece; an offline render calls it for the whole.

/** @import {Song, Note, Bar, Level} from "./song.js" */
/** @import {Line, Music, Sounded} from "./bar_notes.js" */
/** @import {Settings} from "./settings.js" */
/** @import {Sounds} from "./sprite.js" */
/** @import {Desk} from "./mixer.js" */
/** @import {Leg} from "./plan.js" */
import { barAt } from "./song.js";
import { enteredAt, notesBetween } from "./bar_notes.js";
import { audioTime, songTime } from "./plan.js";

/** `bar` is the one that the note belongs to.
 * @typedef {{source: AudioBufferSourceNode, gain: GainNode, note: Note, bar: number, rate: number,
 *   start: number, end: number, cut: number, release: number, fall: number, held: boolean,
 *   round: number}} Voice */

/** After a release has begun, a voice lasts this many times the release's length. */
const DYING = 2;
/** So many frames short of the middle between two counts as the middle. */
const HALFWAY = 1e-5;
/** How far from its planned time a voice may be, in seconds, before it starts and while it sounds. */
const SAME_START = 1e-6;
const SOUNDING = 0.1;

/** Put everything that starts from `from` up to, not including, `to` on the desk's context. The first
 * notes of a round may start before the round does; where it is too late for that, they start now.
 * @param {Music} music @param {Sounds} sounds @param {Settings} settings @param {Leg[]} legs
 * @param {number} from @param {number} to @param {Desk} desk @param {Sounded} sounded
 * @returns {Voice[]} */
export function schedule(music, sounds, settings, legs, from, to, desk, sounded) {
  /** @type {Voice[]} */
  const voices = [];
  for (const leg of legs) {
    if (leg.end <= from || leg.kind === "ring") continue;
    // The same number ends one stretch and starts the next, so nothing is lost or doubled.
    const begin = leg.at >= from ? leg.from : songTime(leg, from);
    const end = leg.end <= to ? leg.to : songTime(leg, to);
    if (leg.at < to) clickLeg(music.song, sounds, settings, leg, begin, end, desk);
    if (leg.kind === "count") continue;
    if (leg.at < to) panLeg(music, leg, begin, end, desk);
    const first = isEntry(leg) && leg.at >= from ? songTime(leg, desk.context.currentTime) : begin;
    const counted = legs.some(({ kind, round }) => kind === "count" && round === leg.round);
    for (const line of music.lines) {
      const found = notesBetween(music, line, leg, counted, Math.min(begin, first), end, sounded);
      for (const { note, bar, start } of found) {
        sounded.set(note, leg.round);
        voices.push(sound(music, sounds, settings, leg, line, note, bar, start, desk));
      }
    }
  }
  return voices;
}

/** Whether a round's bars begin with a leg.
 * @param {Leg} leg */
function isEntry(leg) {
  return leg.kind === "bars" && leg.from <= leg.entry;
}

/** Take back what is on a context and isn't in the plan anymore: notes of bars that their round doesn't
 * reach now, and first notes of a round that now begins at another time or with another bar.
 * @param {Music} music @param {Voice[]} voices @param {Leg[]} legs
 * @param {number} entered the last round that has begun on the context
 * @param {number} now @param {Sounded} sounded @returns {Voice[]} what stays */
export function takenBack(music, voices, legs, entered, now, sounded) {
  return voices.filter((voice) => {
    if (stays(music, voice, legs, voice.round <= entered, now)) return true;
    sounded.delete(voice.note);
    voice.source.stop(0); // what hasn't started never does
    if (voice.start <= now) {
      voice.gain.gain.cancelScheduledValues(now);
      voice.gain.gain.setTargetAtTime(0, now, voice.fall);
      voice.source.stop(now + DYING * voice.release);
    }
    return false;
  });
}

/** Whether a voice is still where the plan has it; one that sounds already may be a little off.
 * @param {Music} music @param {Voice} voice @param {Leg[]} legs
 * @param {boolean} entered whether its round has begun @param {number} now */
function stays({ song, pushed }, { note, bar, round, start, gain }, legs, entered, now) {
  const leg = legs.findLast((other) => other.round === round && other.kind === "bars");
  if (entered) return start <= now || !leg || bar <= leg.last;
  if (!leg || bar !== leg.first) return false;
  const there = onFrame(gain.context, audioTime(leg, enteredAt(song, pushed, bar, note)));
  return Math.abs(there - start) < (start <= now ? SOUNDING : SAME_START);
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

/** @param {Music} music @param {Sounds} sounds @param {Settings} settings @param {Leg} leg
 * @param {Line} line @param {Note} note @param {number} bar @param {number} start @param {Desk} desk
 * @returns {Voice} */
function sound(music, sounds, settings, leg, line, note, bar, start, desk) {
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
    source, gain, note, bar, rate, start: at, end: at + sample.length, cut, release: sample.release,
    fall: sample.release / music.song.playback.releaseConstants, held, round: leg.round,
  };
  bend(voice, leg, at);
  if (held) release(voice, leg);
  return voice;
}

/** Bend a voice as its note is bent, from an audio time on.
 * @param {Voice} voice @param {Leg} leg @param {number} since */
function bend({ source, note, rate }, leg, since) {
  for (const [when, up] of note[5] || []) {
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

/** Pan each part, which a form may change from pass to pass, before its first note there.
 * @param {Music} music @param {Leg} leg @param {number} from @param {number} to @param {Desk} desk */
function panLeg({ song, lines }, leg, from, to, desk) {
  for (let index = barAt(song, from); index <= leg.last; index += 1) {
    const bar = song.bars[index];
    if (bar.start >= to) return;
    if (bar.start < from || (index > leg.first && bar.passIndex === song.bars[index - 1].passIndex)) continue;
    song.parts.forEach(({ name, pans }, part) => {
      const at = Math.max(0, audioTime(leg, bar.start - lines[part].early[index]));
      desk.panners[name].pan.setValueAtTime(pans[bar.passIndex], at);
    });
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

/** The nearest whole frame: a sound that starts between two frames would be blurred. Just between two
 * it is always the later one, whatever the last digit is.
 * @param {BaseAudioContext} context @param {number} time */
function onFrame(context, time) {
  return Math.max(0, Math.round(time * context.sampleRate + HALFWAY) / context.sampleRate);
}
