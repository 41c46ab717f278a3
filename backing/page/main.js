// The page: read the song, draw it, get its sounds ready, and follow the playing frame by frame.

/** @import {Song} from "./song.js" */
/** @import {Chart} from "./chart.js" */
/** @import {Settings} from "./settings.js" */
import { byId, readSong } from "./song.js";
import { decodeSounds } from "./sprite.js";
import { readMusic } from "./bar_notes.js";
import { loadSettings } from "./settings.js";
import { Player } from "./player.js";
import { drawChart, layOut, nameChords } from "./chart.js";
import { focusBar, listenToBars } from "./pointing.js";
import { Follower } from "./follow.js";
import { announce } from "./announce.js";
import { loadLog } from "./log.js";
import { Actions } from "./actions.js";
import { listenToControls, refreshControls } from "./controls.js";
import { listenToKeys } from "./keys.js";
import { offerHook } from "./test_hook.js";
import { drawHead, showFacts } from "./head.js";

/** On narrow screens the controls are folded at first. */
const NARROW = "(max-width: 63.99rem)";

function main() {
  const song = readSong();
  const settings = loadSettings(song);
  const music = readMusic(song);
  drawHead(song);
  showFacts(song, settings.transpose);
  const chart = drawChart(song, byId("chart"));
  nameChords(song, chart, settings.transpose);
  const follower = new Follower(song, chart, settings, (pass) => announce(`${song.passes[pass].text}.`));
  const actions = new Actions(song, settings, loadLog(song), chart, follower, () => {
    refreshControls(song, actions);
  });
  const player = new Player(song, music, settings, () => {
    actions.ended();
    announce("The end.");
  });
  actions.player = player;
  listenToControls(song, actions);
  listenToKeys(actions);
  listenToBars(chart, {
    start: (bar, when) => {
      focusBar(chart, bar);
      actions.startAt(bar, when);
    },
    choose: (first, last, done) => actions.choose(first, last, done),
    cancel: () => actions.changed(),
    anchor: () => actions.hereBar,
    choosing: () => actions.choosing,
  });
  /** @type {HTMLDetailsElement} */ (byId("how")).open = !matchMedia(NARROW).matches;
  layOut(song, chart);
  actions.changed();
  follow(actions, player, follower);
  keepLaidOut(song, chart, settings);
  for (const gesture of ["pointerdown", "keydown"]) {
    document.addEventListener(gesture, () => player.wake(), { once: true, capture: true });
  }
  document.addEventListener("visibilitychange", () => {
    player.scheduleAhead();
    actions.logTime();
  });
  addEventListener("pagehide", () => actions.logTime());
  const ready = decodeSounds(song);
  ready.then((sounds) => {
    player.sounds = sounds;
    /** @type {HTMLButtonElement} */ (byId("play")).disabled = false;
  }, () => {
    byId("summary").textContent = "This browser could not read the page's sounds.";
  });
  player.open();
  offerHook(song, music, ready, actions);
}

/** @param {Actions} actions @param {Player} player @param {Follower} follower */
function follow(actions, player, follower) {
  let round = 0;
  const frame = () => {
    const place = player.place();
    if (place) {
      follower.show(place);
      if (place.leg.round !== round) {
        round = place.leg.round;
        actions.refresh();
      }
      actions.logTimeRegularly();
    }
    requestAnimationFrame(frame);
  };
  requestAnimationFrame(frame);
}

/** Lay the chart out again when the width changes, and for paper.
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
