/**
 * What to practise, as a value.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {{factor: Fraction} | {beats: Fraction, unit: Fraction | null}} Speed a factor of the
 *   tune's own tempo, or beats a minute of a note (null: the felt one)
 * @typedef {"beats" | "subdivided" | "off-beats" | "every-other-bar" | "by-turns"} Click
 * @typedef {{span: Passage, tempo: Speed, times: number | null, muted: readonly Role[],
 *   countIn: number | null, echo: boolean, gap: number, wholePickup: boolean,
 *   leadIn: "clicks" | "held" | "chords" | "tune", close: "stop" | "held" | "tag" | "slow",
 *   goesOn: boolean, click: Click | null, ladder: readonly Fraction[], every: number,
 *   grow: "bar" | "phrase" | "backwards" | null, lessHelp: boolean, hands: boolean,
 *   edges: boolean, ears: "left" | "right" | "both" | null, piece: number, name: string,
 *   rest: number, more: boolean}} Step
 */
import { tempoAt, wholesOf } from "./arrangement.js";
import { product, quotient } from "./fraction.js";

/**
 * How a tempo scales every tempo of a piece, whose own is that of its start.
 * @param {Arrangement} piece @param {Speed} tempo @returns {Fraction}
 */
export function scaleOf(piece, tempo) {
  if ("factor" in tempo) return tempo.factor;
  const own = tempoAt(piece, 0);
  return quotient(product(tempo.beats, tempo.unit ?? own.unit), wholesOf(own));
}
