// Keeps the screen on while the song plays, if the browser can do that.

/** @type {{release: () => Promise<void>} | null} */
let lock = null;
let wanted = false;

/** @param {boolean} on */
export async function keepAwake(on) {
  wanted = on;
  if (!on) {
    const held = lock;
    lock = null;
    await held?.release().catch(() => undefined);
    return;
  }
  if (lock || !navigator.wakeLock) return;
  const got = await navigator.wakeLock.request("screen").catch(() => null);
  if (wanted && !lock) lock = got;
  else await got?.release().catch(() => undefined);
}
