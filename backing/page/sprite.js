// The song's sounds: one encoded sprite of samples, and the clicks as plain numbers.

/** @import {Song} from "./song.js" */
import { textOf } from "./song.js";

/** @typedef {{accent: AudioBuffer, plain: AudioBuffer}} ClickBuffers */
/** `delay` is how many seconds the decoder put in front of the sprite.
 * @typedef {{sprite: AudioBuffer, delay: number, clicks: Record<string, ClickBuffers>}} Sounds */

/** Decode everything; needs neither a gesture nor the network.
 * @param {Song} song @returns {Promise<Sounds>} */
export async function decodeSounds(song) {
  const context = new OfflineAudioContext(1, 1, song.sprite.rate);
  const sprite = await context.decodeAudioData(bytesOf("sprite"));
  return { sprite, delay: decoderDelay(sprite, song.sprite), clicks: clickSounds(song) };
}

/** How much later than it was put the marker is found; it is an impulse, by far the loudest sound there.
 * @param {AudioBuffer} sprite @param {Song["sprite"]} told */
export function decoderDelay(sprite, told) {
  const samples = sprite.getChannelData(0);
  const last = Math.min(samples.length, Math.round(told.markerWithin * sprite.sampleRate));
  let loudest = 0;
  for (let index = 1; index < last; index += 1) {
    if (Math.abs(samples[index]) > Math.abs(samples[loudest])) loudest = index;
  }
  return loudest / sprite.sampleRate - told.marker;
}

/** @param {Song} song @returns {Record<string, ClickBuffers>} */
function clickSounds(song) {
  const numbers = new DataView(bytesOf("clicks"));
  /** @param {[number, number]} span */
  const cut = ([first, count]) => {
    const buffer = new AudioBuffer({
      length: Math.max(1, count), numberOfChannels: 1, sampleRate: song.click.rate,
    });
    const samples = buffer.getChannelData(0);
    for (let index = 0; index < count; index += 1) {
      samples[index] = numbers.getInt16(2 * (first + index), true) / 32768;
    }
    return buffer;
  };
  return Object.fromEntries(
    Object.entries(song.click.sounds).map(([name, { accent, plain }]) => [
      name, { accent: cut(accent), plain: cut(plain) },
    ]),
  );
}

/** @param {string} id @returns {ArrayBuffer} */
function bytesOf(id) {
  const text = atob(textOf(id).trim());
  const bytes = new Uint8Array(text.length);
  for (let index = 0; index < text.length; index += 1) bytes[index] = text.charCodeAt(index);
  return bytes.buffer;
}
