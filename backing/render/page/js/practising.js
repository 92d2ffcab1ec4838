/**
 * The ways to practise that the page offers, as steps of a plan.
 *
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./plan.js").Step} Step
 */
import { fraction, value } from "./fraction.js";

/** The way to practise that changes nothing from round to round. */
export const PLAIN = "plain";
/** A ladder goes up by so many per cent a round. */
const RUNG = 5;

/**
 * Each way, and what it changes of a step that goes round in `span` at a tempo, as a
 * factor of the tune's own.
 * @type {Record<string, (span: Passage, factor: Fraction) => Partial<Step>>}
 */
export const PRACTISING = {
  plain: () => ({}),
  echo: () => ({ echo: true }),
  gap: () => ({ gap: 1 }),
  ladder: (_, factor) => ({ ladder: rungs(factor), times: null }),
  grow: (span) => ({ grow: span.kind === "bars" ? "bar" : "backwards", times: null }),
  less_help: () => ({ lessHelp: true, times: null }),
  hands: () => ({ hands: true, times: null }),
};

/** From a tempo up to the tune's own. @param {Fraction} factor @returns {Fraction[]} */
function rungs(factor) {
  const first = Math.min(Math.round(value(factor) * 100), 100 - RUNG);
  const found = [];
  for (let cent = first; cent < 100; cent += RUNG) found.push(fraction(cent, 100));
  return [...found, fraction(1, 1)];
}

/**
 * A step to practise in a way.
 * @param {Step} asked @param {string} way @param {Passage} span @param {Fraction} factor
 * @returns {Step}
 */
export function practised(asked, way, span, factor) {
  const plain = { echo: false, gap: 0, ladder: [], grow: null, lessHelp: false, hands: false };
  return { ...asked, ...plain, span, times: 1, ...PRACTISING[way](span, factor) };
}
