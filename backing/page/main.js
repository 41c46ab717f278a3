// The page: read the song, draw it, make it ready to sound, and follow it frame by frame.

/** @import {Song} from "./song.js" */
/** @import {Chart} from "./chart.js" */
/** @import {Settings} from "./settings.js" */
import { byId, readSong } from "./song.js";
import { decodeSounds } from "./sprite.js";
import { readMusic } from "./schedule.js";
import { keptSettings } from "./settings.js";
import { Player } from "./player.js";
import { drawChart, layOut, nameChords } from "./chart.js";
import { focusBar, listenToBars } from "./pointing.js";
import { Follower } from "./follow.js";
import { announce } from "./announce.js";
import { readLog } from "./log.js";
import { Practice } from "./actions.js";
import { listenToControls, refreshControls } from "./controls.js";
import { listenToKeys } from "./keys.js";
import { offerHook } from "./test_hook.js";
import { drawHead, tellFacts } from "./head.js";

/** On narrow screens the controls are folded away at first. */
const NARROW = "(max-width: 63.99rem)";

function main() {
  const song = readSong();
  const settings = keptSettings(song);
  const music = readMusic(song);
  drawHead(song);
  tellFacts(song, settings.transpose);
  const chart = drawChart(song, byId("chart"));
  nameChords(song, chart, settings.transpose);
  const follower = new Follower(song, chart, settings, (pass) => announce(`${song.passes[pass].text}.`));
  const practice = new Practice(song, settings, readLog(song), chart, follower, () => {
    refreshControls(song, practice);
  });
  const player = new Player(song, music, settings, () => {
    practice.ended();
    announce("The end.");
  });
  practice.player = player;
  listenToControls(song, practice);
  listenToKeys(practice);
  listenToBars(chart, {
    start: (bar, when) => {
      focusBar(chart, bar);
      practice.startAt(bar, when);
    },
    choose: (first, last, done) => practice.choose(first, last, done),
    cancel: () => practice.changed(),
    anchor: () => practice.hereBar,
    choosing: () => practice.choosing,
  });
  /** @type {HTMLDetailsElement} */ (byId("how")).open = !matchMedia(NARROW).matches;
  layOut(song, chart);
  practice.changed();
  follow(practice, player, follower);
  keepLaidOut(song, chart, settings);
  for (const gesture of ["pointerdown", "keydown"]) {
    document.addEventListener(gesture, () => player.wake(), { once: true, capture: true });
  }
  document.addEventListener("visibilitychange", () => {
    player.look();
    practice.count();
  });
  addEventListener("pagehide", () => practice.count());
  const ready = decodeSounds(song);
  ready.then((sounds) => {
    player.sounds = sounds;
    /** @type {HTMLButtonElement} */ (byId("play")).disabled = false;
  }, () => {
    byId("summary").textContent = "This browser could not read the page's sounds.";
  });
  player.open();
  offerHook(song, music, ready, practice);
}

/** @param {Practice} practice @param {Player} player @param {Follower} follower */
function follow(practice, player, follower) {
  let round = 0;
  const frame = () => {
    const place = player.place();
    if (place) {
      follower.show(place);
      if (place.leg.round !== round) {
        round = place.leg.round;
        practice.refresh();
      }
      practice.countNowAndThen();
    }
    requestAnimationFrame(frame);
  };
  requestAnimationFrame(frame);
}

/** Lines are broken anew where the width changes, and for paper.
 * @param {Song} song @param {Chart} chart @param {Settings} settings */
function keepLaidOut(song, chart, settings) {
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    nameChords(song, chart, settings.transpose); // the tab is drawn in the type's size
    layOut(song, chart);
  });
  addEventListener("beforeprint", () => layOut(song, chart, true));
  addEventListener("afterprint", () => layOut(song, chart));
}

main();
