/**
 * The click: on the felt beats, subdivided where they are slow, or as the player chooses.
 *
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./plan.js").Click} Click
 * @typedef {import("./stretch.js").Stretch} Stretch
 */
import { beatsOf, tempoAt, wholesOf } from "./arrangement.js";
import { gcd, ONE, product, value } from "./fraction.js";

const [ACCENT_KEY, BEAT_KEY] = [76, 77];
const [ACCENT, BEAT, SOFT, BETWEEN] = [110, 88, 52, 44];
/** Below so many felt beats a minute the click subdivides. */
const SLOW = 45;

/**
 * The clicks of each bar of a stretch, softer under a pickup.
 * @param {Stretch} stretch @param {Fraction} scale how much faster than asked it is played
 * @returns {Event[][]}
 */
export function clicks(stretch, scale = ONE) {
  const numbers = counted(stretch);
  const softFrom = stretch.stop - stretch.pickup;
  return stretch.frame.map((bar, place) => {
    const way = wayOf(stretch, bar, scale, numbers[place]);
    if (!way) return [];
    return barClicks(bar, way, stretch.grid).map((event) => {
      const soft = stretch.pickup && event.onset >= softFrom;
      return soft ? { ...event, velocity: Math.min(event.velocity, SOFT) } : event;
    });
  });
}

/**
 * How a bar is clicked; null for one that is silent.
 * @param {Stretch} stretch @param {MappedBar} bar @param {Fraction} scale @param {number} number
 * @returns {Click | null}
 */
function wayOf(stretch, bar, scale, number) {
  const asked = stretch.click;
  if (stretch.kind === "rest") return null;
  if (asked === "subdivided" || (asked === "off-beats" && stretch.inTune)) return asked;
  const byTurns = { "every-other-bar": 1, "by-turns": 2 };
  const turn =
    stretch.inTune && (asked === "every-other-bar" || asked === "by-turns") ? byTurns[asked] : 0;
  if (turn && Math.floor(number / turn) % 2) return null;
  const { metre } = bar;
  const felt = metre.beats.length ? metre.length / metre.beats.length : stretch.grid / 4;
  const wholes = value(product(ownTempo(stretch, bar.onset), scale));
  const slow = wholes < (SLOW * felt) / stretch.grid;
  return slow && asked !== "beats" ? "subdivided" : "beats";
}

/** Whole notes a minute, fermatas left aside. @param {Stretch} stretch @param {number} position */
function ownTempo(stretch, position) {
  const sounding = stretch.sounding;
  if (!sounding) return wholesOf(stretch.tempo);
  return product(wholesOf(tempoAt(sounding.piece, position - sounding.by)), stretch.factor);
}

/**
 * The number of each bar from the first time through on; a short bar and the pickup that completes
 * it are one.
 * @param {Stretch} stretch
 */
function counted(stretch) {
  const first = Math.max(stretch.first, 0);
  const full = stretch.frame.filter((bar) => !bar.begins).length + first;
  let number = Math.max(stretch.time - 1, 0) * full + first - 1;
  return stretch.frame.map((bar) => {
    if (!bar.begins) number += 1;
    return Math.max(number, 0);
  });
}

/** @param {MappedBar} bar @param {Click} way @param {number} grid */
function barClicks(bar, way, grid) {
  return beatsOf(bar, grid).flatMap(({ at, length, place }) => {
    const parts = length / gcd(length, grid) === 3 ? 3 : 2;
    const between = Array.from({ length: parts - 1 }, (_, part) => at + (length * (part + 1)) / parts);
    const found = [];
    if (way !== "off-beats") {
      found.push(click(at, ...(place ? [BEAT_KEY, BEAT] : [ACCENT_KEY, ACCENT])));
    }
    if (way === "subdivided") {
      found.push(...between.filter((on) => on < bar.length).map((on) => click(on, BEAT_KEY, BETWEEN)));
    }
    const last = between[between.length - 1];
    if (way === "off-beats" && last < bar.length) found.push(click(last, BEAT_KEY, BEAT));
    return found;
  });

  /** @param {number} at @param {number[]} how @returns {Event} */
  function click(at, ...[key, velocity]) {
    const [onset, length] = [bar.onset + at, grid / 32];
    return { onset, length, keys: [key], velocity, origin: -1, limit: null };
  }
}
