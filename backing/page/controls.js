// The controls: sentences with blanks to fill in. Each change calls an action; `refreshControls` shows
// the state as it is.

/** @import {Song} from "./song.js" */
/** @import {Actions} from "./actions.js" */
import { withinReach } from "./plan.js";
import { barsName, byId, movedName } from "./song.js";
import { element } from "./chart.js";
import { logWords } from "./log.js";
import { plural, printedChord, short } from "./words.js";

/** Bars that click, of how many. @type {[number, number][]} */
const SILENT = [[1, 2], [2, 4], [3, 4], [1, 4], [4, 8]];

/** How the click can divide the beats. @type {Record<string, string>} */
const DIVISION_WORDS = {
  "": "only", "1/8": "and the eighths", "1/8t": "and the triplets", "1/16": "and the sixteenths",
};

/** @param {Song} song @param {Actions} actions */
export function listenToControls(song, actions) {
  const { settings } = actions;
  byId("tempo-beat").textContent = `${song.tempo.beat}s`;
  setLimits(song);
  fillBars(song, "from");
  fillBars(song, "until");
  fillMoves(song);
  options("click-bars", [["", "the same bars as the song"], ["1/1", "every bar"],
    ...SILENT.map(([bars, cycle]) => [`${bars}/${cycle}`, `${bars} of every ${cycle} bars`])]);
  drawParts(song, actions);

  on("play", "click", (event) => actions.playOrStop(event.timeStamp));
  on("tempo", "input", () => actions.setPercent(Number(input("tempo").value)));
  on("percent", "change", () => number("percent", (typed) => actions.setPercent(typed)));
  on("bpm", "change", () => number("bpm", (typed) => actions.setBpm(typed)));
  on("tap", "click", (event) => actions.tapTempo(event.timeStamp));
  on("as-written", "click", () => actions.setPercent(100));
  on("transpose", "change", () => actions.setTranspose(Number(input("transpose").value)));
  on("repeat", "change", () => actions.setRepeat(input("repeat").checked));
  for (const id of ["from", "until"]) {
    on(id, "change", () => {
      const [from, until] = [Number(input("from").value), Number(input("until").value)];
      if (id === "from") actions.choose(from, Math.max(from, until), true);
      else actions.choose(Math.min(from, until), until, true);
    });
  }
  on("whole", "click", () => actions.chooseAll());
  on("choose", "click", () => {
    actions.choosing = !actions.choosing;
    actions.refresh();
  });
  on("count-in", "change", () => actions.set({ countIn: Number(input("count-in").value) }));
  on("between", "change", () => actions.set({ between: Number(input("between").value) }));
  on("faster", "change", () => actions.set({ faster: Number(input("faster").value) }));
  on("up-to", "change", () => number("up-to", (typed) => actions.set({ upTo: withinReach(song, typed) })));
  on("click", "change", () => actions.setClick({ on: input("click").checked }));
  on("subdivide", "change", () => {
    const chosen = input("subdivide").value;
    actions.setClick({ subdivide: chosen === "song" ? null : chosen });
  });
  on("click-bars", "change", () => {
    const [bars, cycle] = input("click-bars").value.split("/").map(Number);
    actions.setClick({ plays: cycle ? [bars, cycle] : null });
  });
  on("click-level", "input", () => actions.setClick({ level: Number(input("click-level").value) }));
  on("volume", "input", () => actions.set({ volume: Number(input("volume").value) }));
  on("start-here", "click", () => actions.startHereNextTime());
  on("clean", "click", () => actions.markClean());
  on("clear-log", "click", () => actions.clearLog());
  on("single-keys", "change", () => actions.set({ keys: input("single-keys").checked }));
  on("print", "click", () => print());
  byId("soundfont").textContent = song.soundfont.license
    ? `Sounds from the soundfont ${song.soundfont.name} (license: ${song.soundfont.license}).`
    : `Sounds from the soundfont ${song.soundfont.name}.`;
  input("single-keys").checked = settings.keys;
}

/** Show the state in every control.
 * @param {Song} song @param {Actions} actions */
export function refreshControls(song, actions) {
  const { settings, playing } = actions;
  const percent = actions.percent;
  byId("play").textContent = playing ? "Stop" : "Play";
  byId("play").classList.toggle("playing", playing);
  value("tempo", `${percent}`);
  input("tempo").setAttribute("aria-valuetext", `${short(percent)} percent`);
  value("percent", short(percent));
  value("bpm", short(actions.bpm()));
  value("transpose", `${settings.transpose}`);
  input("repeat").checked = settings.repeat;
  const [first, last] = settings.stretch || [0, song.bars.length - 1];
  value("from", `${first}`);
  value("until", `${last}`);
  byId("choose").setAttribute("aria-pressed", `${actions.choosing}`);
  byId("choose").textContent = actions.choosing ? "Choose the first bar, then the last" : "Choose on the chart";
  byId("whole").hidden = settings.stretch === null;
  value("count-in", `${settings.countIn}`);
  value("between", `${settings.between}`);
  value("faster", `${settings.faster}`);
  value("up-to", short(settings.upTo));
  input("click").checked = actions.clicks;
  value("subdivide", settings.click.subdivide ?? "song");
  value("click-bars", settings.click.plays ? settings.click.plays.join("/") : "");
  value("click-level", `${settings.click.level}`);
  value("volume", `${settings.volume}`);
  for (const part of song.parts) {
    const { level, muted, alone } = settings.parts[part.name];
    value(`level-${part.name}`, `${level}`);
    byId(`mute-${part.name}`).setAttribute("aria-pressed", `${muted}`);
    byId(`alone-${part.name}`).setAttribute("aria-pressed", `${alone}`);
  }
  byId("summary").textContent = summary(song, actions);
  const words = logWords(actions.log, song.tempo.beat, new Date());
  const start = song.bars[settings.start];
  if (settings.start) words.push(`Next time, playing starts at ${start.name}, ${song.passes[start.passIndex].text}.`);
  byId("log").replaceChildren(...words.map((sentence) => element("p", "", sentence)));
}

/** How it plays, in a sentence.
 * @param {Song} song @param {Actions} actions */
function summary(song, actions) {
  const { settings } = actions;
  const percent = actions.percent;
  const said = [`${short(percent)} percent, ${short(actions.bpm())} ${song.tempo.beat}s a minute`];
  if (settings.transpose) said.push(movedWords(song, settings.transpose));
  if (settings.stretch) said.push(barsName(song, ...settings.stretch));
  if (settings.repeat) said.push("repeated");
  if (settings.repeat && settings.faster) {
    said.push(`${plural(settings.faster, "percentage point")} faster each time, up to ${short(settings.upTo)} percent`);
  }
  return `${said.join(", ")}.`;
}

/** @param {Song} song @param {number} by */
function movedWords(song, by) {
  const words = `${plural(Math.abs(by), "semitone")} ${by > 0 ? "higher" : "lower"}`;
  const chord = song.chords[0];
  return chord ? `${words}: ${printedChord(chord.name)} becomes ${printedChord(movedName(song, chord, by))}` : words;
}

/** @param {Song} song @param {string} id */
function fillBars(song, id) {
  options(id, song.bars.map((bar, index) => [
    `${index}`, `${bar.name}, ${song.passes[bar.passIndex].text}`,
  ]));
}

/** What each control takes, and what it offers.
 * @param {Song} song */
function setLimits(song) {
  const { slowest, fastest, fasterSteps, mostLevel, mostCountIn, mostBetween } = song.limits;
  for (const id of ["percent", "tempo", "up-to"]) {
    Object.assign(input(id), { min: `${slowest}`, max: `${fastest}` });
  }
  const [lowest, highest] = [slowest, fastest].map((percent) => (song.tempo.bpm * percent) / 100);
  Object.assign(input("bpm"), { min: short(lowest), max: short(highest) });
  input("click-level").max = `${mostLevel}`;
  options("faster", fasterSteps.map((points) => [`${points}`, fasterWords(points)]));
  options("count-in", countIns(mostCountIn));
  options("between", countIns(mostBetween));
  options("subdivide", [["song", "as in the song"],
    ...song.limits.divisions.map((division) => [division, DIVISION_WORDS[division] ?? division])]);
}

/** @param {number} points percentage points of the tempo as written */
function fasterWords(points) {
  return points ? `${plural(points, "percentage point")} faster` : "at the same tempo";
}

/** @param {number} most @returns {string[][]} */
function countIns(most) {
  return Array.from({ length: most + 1 }, (_, bars) => [`${bars}`, bars ? plural(bars, "bar") : "nothing"]);
}

/** @param {Song} song */
function fillMoves(song) {
  const moves = [];
  for (let by = song.limits.farthestMove; by >= -song.limits.farthestMove; by -= 1) {
    moves.push([`${by}`, by ? movedWords(song, by) : "as written"]);
  }
  options("transpose", moves);
}

/** @param {Song} song @param {Actions} actions */
function drawParts(song, actions) {
  for (const { name, title } of song.parts) {
    const label = element("label", "", title);
    const level = element("input");
    Object.assign(level, { type: "range", min: "0", max: `${song.limits.mostLevel}`, step: "5", id: `level-${name}` });
    label.htmlFor = level.id;
    level.addEventListener("input", () => actions.setPart(name, { level: Number(level.value) }));
    const mute = toggle(`mute-${name}`, "Mute", `Mute ${title}`);
    mute.addEventListener("click", () => {
      actions.setPart(name, { muted: !actions.settings.parts[name].muted });
    });
    const alone = toggle(`alone-${name}`, "Alone", `${title} alone`);
    alone.addEventListener("click", () => {
      actions.setPart(name, { alone: !actions.settings.parts[name].alone });
    });
    byId("parts").append(element("div", "part", label, level, mute, alone));
  }
}

/** @param {string} id @param {string} text @param {string} label */
function toggle(id, text, label) {
  const button = element("button", "word", text);
  button.type = "button";
  button.id = id;
  button.setAttribute("aria-label", label);
  return button;
}

/** @param {string} id @param {string[][]} choices */
function options(id, choices) {
  byId(id).replaceChildren(...choices.map(([given, text]) => {
    const option = element("option", "", text);
    option.value = given;
    return option;
  }));
}

/** Any control that has a value. @param {string} id */
function input(id) {
  return /** @type {HTMLInputElement} */ (byId(id));
}

/** What the student is typing in is left alone. @param {string} id @param {string} text */
function value(id, text) {
  const control = input(id);
  if (control.value !== text && !(document.activeElement === control && control.type === "number")) {
    control.value = text;
  }
}

/** @param {string} id @param {(value: number) => void} use */
function number(id, use) {
  const typed = Number(input(id).value);
  if (Number.isFinite(typed) && typed > 0) use(typed);
  input(id).blur();
}

/** @param {string} id @param {string} type @param {(event: Event) => void} run */
function on(id, type, run) {
  byId(id).addEventListener(type, run);
}
