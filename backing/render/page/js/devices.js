/**
 * The ways to practise that change from round to round.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./passages.js").Bars} Bars
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./plan.js").Speed} Speed
 * @typedef {import("./plan.js").Step} Step
 * @typedef {import("./score.js").Tune} Tune
 * @typedef {{span: Passage, tempo: Speed, muted: readonly Role[]}} Lap
 */
import { findBars, PracticeError } from "./passages.js";

/** Phrases are taken to be so many bars long. */
const PHRASE = 4;
/** @type {readonly Role[]} */
const LEAVING = ["melody", "chords", "click"];
const LESS_HELP = [0, 1, 2, 3].map((count) => LEAVING.slice(0, count));
/** @type {readonly (readonly Role[])[]} */
const BY_HANDS = [["chords"], ["bass"], []];

/** All times through a step: what each of its devices goes through. */
export class Laps {
  /** @param {Step} step @param {Tune} tune */
  constructor(step, tune) {
    /** @type {readonly Passage[]} */
    this.spans = step.grow ? grown(tune, step.span, step.grow) : [step.span];
    /** @type {readonly Speed[]} */
    this.tempos = step.ladder.length ? step.ladder.map((factor) => ({ factor })) : [step.tempo];
    /** @type {readonly (readonly Role[])[]} */
    this.helps = step.lessHelp ? LESS_HELP : [[]];
    /** @type {readonly (readonly Role[])[]} */
    this.hands = step.hands ? BY_HANDS : [[]];
    this.every = step.every;
  }

  /** How many rounds they take. */
  get rounds() {
    const stages = [this.spans, this.tempos, this.helps, this.hands];
    return this.every * Math.max(...stages.map((row) => row.length));
  }

  /** @param {number} time from 1 */
  stage(time) {
    return Math.floor((Math.max(time, 1) - 1) / this.every);
  }

  /** @param {number} time from 1 @returns {Lap} */
  at(time) {
    const stage = this.stage(time);
    const muted = [...stageAt(this.helps, stage), ...stageAt(this.hands, stage)];
    return { span: stageAt(this.spans, stage), tempo: stageAt(this.tempos, stage), muted };
  }
}

/**
 * @template Stage
 * @param {readonly Stage[]} stages @param {number} stage
 */
export function stageAt(stages, stage) {
  return stages[Math.min(stage, stages.length - 1)];
}

// -- growing loops ------------------------------------------------------------------------

/** @param {Tune} tune @param {Passage} span @param {"bar" | "phrase" | "backwards"} grow */
function grown(tune, span, grow) {
  if (span.kind === "join") throw new PracticeError("a join does not grow");
  const numbers = numbersOf(tune, span);
  let [first, last] = [Math.min(...numbers), Math.max(...numbers)];
  if (grow === "backwards") return [...backwards(first, last), span];
  if (span.kind !== "bars") throw new PracticeError("the loop grows from a few bars");
  /** @type {Passage[]} */
  const found = [span];
  const home = homeOf(tune, span);
  const [lowest, highest] = [Math.min(...home), Math.max(...home)];
  while (first > lowest || last < highest) {
    [first, last] = grow === "bar" ? [first - 1, last + 1] : toPhrases(first, last, lowest);
    [first, last] = [Math.max(first, lowest), Math.min(last, highest)];
    found.push({ kind: "bars", first, last });
  }
  return found;
}

/** @param {Tune} tune @param {Passage} span */
function numbersOf(tune, span) {
  const bars = findBars(tune, span).map((index) => tune.bars[index]);
  const full = bars.filter((bar) => !bar.begins);
  return (full.length ? full : bars).map((bar) => bar.number);
}

/** @param {Tune} tune @param {Bars} span */
function homeOf(tune, span) {
  const names = new Set(findBars(tune, span).map((index) => tune.bars[index].section));
  const bars = tune.bars.filter((bar) => names.has(bar.section) && !bar.begins);
  return [...bars.map((bar) => bar.number), span.first, span.last];
}

/** @param {number} first @param {number} last @param {number} start */
function toPhrases(first, last, start) {
  const low = start + Math.floor((first - start) / PHRASE) * PHRASE;
  const high = start + (Math.floor((last - start) / PHRASE) + 1) * PHRASE - 1;
  return low === first && high === last ? [low - PHRASE, high + PHRASE] : [low, high];
}

/** @param {number} first @param {number} last */
function backwards(first, last) {
  const by = last - first >= PHRASE ? PHRASE : 1;
  /** @type {Bars[]} */
  const found = [];
  for (let start = last + 1 - by; start > first; start -= by) {
    found.push({ kind: "bars", first: start, last });
  }
  return found;
}
