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
import { endingsOf, findBars, PracticeError } from "./passages.js";

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

/**
 * The spans of a growing loop, the last one the whole.
 * @param {Tune} tune @param {Passage} span @param {"bar" | "phrase" | "backwards"} grow
 */
function grown(tune, span, grow) {
  if (span.kind === "join") throw new PracticeError("a join does not grow");
  const asked = findBars(tune, span);
  const numbers = numbersOf(tune, asked);
  const [low, high] = [numbers[0], numbers[numbers.length - 1]];
  const ending = endingFor(tune, span, asked);
  /** @param {number} first @param {number} last @returns {Bars} */
  const bars = (first, last) => ({ kind: "bars", first, last, ending });
  if (grow === "backwards") {
    const way = numbersOf(tune, findBars(tune, bars(low, high)));
    const by = way.length > PHRASE ? PHRASE : 1;
    /** @type {Passage[]} */
    const found = [];
    for (let start = way.length - by; start > 0; start -= by) {
      found.push(bars(way[start], way[way.length - 1]));
    }
    return [...found, span];
  }
  if (span.kind !== "bars") throw new PracticeError("the loop grows from a few bars");
  /** @type {Passage[]} */
  const found = [span];
  const home = homeOf(tune, asked, ending);
  let [first, last] = [home.indexOf(low), home.indexOf(high)];
  while (first > 0 || last < home.length - 1) {
    [first, last] = grow === "bar" ? [first - 1, last + 1] : toPhrases(first, last);
    [first, last] = [Math.max(first, 0), Math.min(last, home.length - 1)];
    found.push(bars(home[first], home[last]));
  }
  return found;
}

/** The numbers of the full bars among some, of all where none is full. @param {Tune} tune @param {readonly number[]} indices */
function numbersOf(tune, indices) {
  const bars = indices.map((index) => tune.bars[index]);
  const full = bars.filter((bar) => !bar.begins);
  return [...new Set((full.length ? full : bars).map((bar) => bar.number))];
}

/** Which ending a loop grows with. @param {Tune} tune @param {Passage} span @param {number[]} asked */
function endingFor(tune, span, asked) {
  const found = new Set(asked.flatMap((index) => tune.bars[index].ending?.slice(0, 1) ?? []));
  if (span.kind === "bars" && found.size) return found.size === 1 ? [...found][0] : null;
  if (span.kind === "section" && span.ending) return span.ending;
  const names = [...new Set(asked.map((index) => tune.bars[index].section))];
  const endings = names.flatMap((name) => [...endingsOf(tune, name)]);
  return endings.length ? Math.max(...endings) : null;
}

/** The numbers of the bars of the sections that some bars lie in. @param {Tune} tune @param {number[]} asked @param {number | null} ending */
function homeOf(tune, asked, ending) {
  const names = new Set(asked.map((index) => tune.bars[index].section));
  const all = tune.bars.flatMap((bar, index) => (names.has(bar.section) ? [index] : []));
  const found = numbersOf(tune, all);
  const [first, last] = [found[0], found[found.length - 1]];
  const kept = numbersOf(tune, findBars(tune, { kind: "bars", first, last, ending }));
  const home = [...found.filter((number) => kept.includes(number)), ...numbersOf(tune, asked)];
  return [...new Set(home)].sort((one, other) => one - other);
}

/** The phrases that places lie in; those round about them where they are whole. @param {number} first @param {number} last */
function toPhrases(first, last) {
  const low = Math.floor(first / PHRASE) * PHRASE;
  const high = (Math.floor(last / PHRASE) + 1) * PHRASE - 1;
  return low === first && high === last ? [low - PHRASE, high + PHRASE] : [low, high];
}
