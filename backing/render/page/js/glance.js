/**
 * What a player sees in half a second: where the music is, what comes next, how fast, how often.
 *
 * @typedef {import("./player.js").Player} Player
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {[number, string, string][]} BarButtons where in a bar (whole notes), the buttons as
 *   they are written, push or pull
 * @typedef {{sign: string, way: string}} Button
 * @typedef {{kind: "silent" | "count-in" | "rest" | "tune", bar: number, beat: number,
 *   beats: number, chord: string, coming: {text: string, beats: number} | null,
 *   time: number, times: number, percent: number, tempo: {beats: number, unit: readonly number[]},
 *   name: string}} Glance
 */
import { value } from "./fraction.js";
import { ledPlace } from "./rounds.js";

/** Onsets that are nearer than this, in whole notes, are one. */
export const NEAR = 1 / 256;

/** @param {Player} player @returns {Glance} */
export function glanceOf(player) {
  const { beat, playing, here, chord } = player;
  const shown = playing ? beat : null;
  const stretch = shown?.stretch;
  const sounds = shown && !player.clicksOnly;
  return {
    kind: kindOf(player),
    bar: sounds ? shown.bar.number : player.ways.number(here),
    beat: shown ? shown.place + 1 : 0,
    beats: shown ? shown.beats : 0,
    chord: playing ? chord : "",
    coming: playing ? player.coming : null,
    time: stretch ? Math.max(stretch.time, 1) : here.time,
    times: stretch ? stretch.times : player.course.times(here.step),
    percent: Math.round(value(player.factor) * 100),
    tempo: player.tempo,
    name: player.course.steps[here.step].name,
  };
}

/** @param {Player} player */
function kindOf({ playing, beat, clicksOnly }) {
  if (!playing) return "silent";
  if (beat && !clicksOnly) return "tune";
  return beat?.stretch.kind === "rest" ? "rest" : "count-in";
}

/**
 * The button that is pressed next; null where none is known.
 * @param {Player} player @param {{bar: MappedBar, over: number} | null} place where it sounds
 * @param {readonly BarButtons[]} buttons of each written bar @returns {Button | null}
 */
export function nextButton(player, place, buttons) {
  const [bars, over] = barsAhead(player, place);
  for (const [at, bar] of bars.entries()) {
    const since = at ? -1 : over + NEAR;
    const found = (buttons[bar.index] ?? []).find(([onset]) => onset > since);
    if (found) return { sign: found[1], way: found[2] };
  }
  return null;
}

/** The bars from where it sounds on, and how much of the first is over. @param {Player} player @param {{bar: MappedBar, over: number} | null} place @returns {[MappedBar[], number]} */
function barsAhead(player, place) {
  const { ways, here, course, beat } = player;
  const round = course.round(here).frame;
  if (!place || !beat) return [round.slice(ledPlace(round, here.bar)), -1];
  const { frame } = beat.stretch;
  const rest = frame.slice(frame.indexOf(place.bar));
  const next = player.moving ? here : ways.following(here);
  const goal = course.round(next).frame;
  return [[...rest, ...goal.slice(ledPlace(goal, player.moving ? next.bar : 0))], place.over];
}
