/**
 * A stretch of a practice: a count-in, a time through, an echo, a gap.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").BellowsSpan} BellowsSpan
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./arrangement.js").PlacedTempo} PlacedTempo
 * @typedef {import("./arrangement.js").PlacedText} PlacedText
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./arrangement.js").Tempo} Tempo
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {"count-in" | "play" | "echo" | "gap" | "lead-in" | "tag" | "rest"} Kind
 * @typedef {{kind: Kind, step: number, time: number, times: number,
 *   frame: readonly MappedBar[], sounding: Sounding | null, tempo: Tempo, factor: Fraction,
 *   muted: readonly Role[], span: import("./passages.js").Passage, pickup: number, first: number,
 *   chord: string, click: import("./plan.js").Click | null, name: string,
 *   ears: "left" | "right" | "both" | null, grid: number}} StretchFields
 */
import {
  bellowsBetween,
  bellowsLater,
  endOf,
  isLeftHand,
  later,
  onsetOf,
  scaled,
  stopOf,
  tempoAt,
  wholesOf,
} from "./arrangement.js";
import { ONE, product, same } from "./fraction.js";
import { withinLimits } from "./limits.js";
import { bisectLeft, bisectRight } from "./search.js";

/** @param {BellowsSpan} span */
const startOfSpan = (span) => span.start;

/**
 * What sounds in a stretch: a piece that still lies where the tune has it; everything sounds later
 * by `by`, from `begin` on, bass and chords from `left` on (null: all of it).
 */
export class Sounding {
  /**
   * @param {Arrangement} piece @param {number} by @param {number | null} begin
   * @param {number | null} left
   */
  constructor(piece, by = 0, begin = null, left = null) {
    this.piece = piece;
    this.by = by;
    this.begin = begin;
    this.left = left;
  }

  /**
   * What a track begins between two positions; null leaves a side open.
   * @param {number} track @param {number | null} start @param {number | null} stop
   */
  events(track, start, stop) {
    const events = this.piece.tracks[track];
    const again = isLeftHand(track);
    const begin = again ? this.left : this.begin;
    /** @type {Event[]} */
    let held = [];
    let first = 0;
    if (start !== null) first = bisectLeft(events, start - this.by, onsetOf);
    else if (begin !== null) {
      first = bisectLeft(events, begin, onsetOf);
      held = (again ? events.slice(0, first) : [])
        .filter((event) => stopOf(event) > begin)
        .map((event) => ({ ...event, onset: begin, length: stopOf(event) - begin }));
    }
    const last = stop === null ? events.length : bisectLeft(events, stop - this.by, onsetOf);
    return later([...held, ...events.slice(first, last)], this.by);
  }

  /** The tune's own tempi in it, the one in force at its start first. @returns {PlacedTempo[]} */
  get tempos() {
    const { begin, piece, by } = this;
    if (begin === null) return [...later(piece.tempos, by)];
    const first = { onset: begin + by, tempo: tempoAt(piece, begin), held: false };
    return [first, ...later(piece.tempos.filter((placed) => placed.onset >= begin), by)];
  }

  /** @param {number | null} start @param {number | null} stop @returns {readonly PlacedText[]} */
  chords(start, stop) {
    const begin = start === null ? this.begin : start - this.by;
    const inside = this.piece.chords.filter(
      ({ onset }) =>
        (begin === null || onset >= begin) && (stop === null || onset < stop - this.by),
    );
    return later(inside, this.by);
  }

  /** @param {number | null} start @param {number | null} stop */
  bellows(start, stop) {
    let spans = this.piece.bellows;
    if (start === null && this.begin !== null) {
      spans = bellowsBetween(spans, this.begin, endOf(this.piece));
    }
    const first = start === null ? 0 : bisectLeft(spans, start - this.by, startOfSpan);
    const last = stop === null ? spans.length : bisectLeft(spans, stop - this.by, startOfSpan);
    return bellowsLater(spans.slice(first, last), this.by);
  }
}

/** A piece of the way: what sounds, and the bars that measure it. */
export class Stretch {
  /** @param {StretchFields} fields */
  constructor(fields) {
    this.kind = fields.kind;
    this.step = fields.step;
    this.time = fields.time;
    this.times = fields.times;
    this.frame = fields.frame;
    this.sounding = fields.sounding;
    this.tempo = fields.tempo;
    this.factor = fields.factor;
    this.muted = fields.muted;
    this.span = fields.span;
    this.pickup = fields.pickup;
    this.first = fields.first;
    this.chord = fields.chord;
    this.click = fields.click;
    this.name = fields.name;
    this.ears = fields.ears;
    this.grid = fields.grid;
  }

  get start() {
    return this.frame[0].onset;
  }

  get stop() {
    return stopOf(this.frame[this.frame.length - 1]);
  }

  /** True for a time through or its echo. */
  get inTune() {
    return this.kind === "play" || this.kind === "echo";
  }

  /**
   * What a track begins between two positions, within its limits in seconds, `scale` times as fast
   * as asked; null leaves a side open.
   * @param {number} track @param {number | null} start @param {number | null} stop
   * @param {Fraction} scale
   */
  events(track, start = null, stop = null, scale = ONE) {
    const sounding = this.sounding;
    if (!sounding) return [];
    const tempos = sounding.piece.tempos;
    const factor = product(product(this.factor, scale), [1, 60]);
    /** @param {number} position */
    const speed = (position) => {
      const at = Math.max(position, this.start) - sounding.by;
      const place = Math.max(bisectRight(tempos, at, onsetOf) - 1, 0);
      return product(wholesOf(tempos[place].tempo), factor);
    };
    return withinLimits(sounding.events(track, start, stop), speed, this.stop, this.grid);
  }
}

/**
 * The tempi in force, each where it changes.
 * @param {readonly Stretch[]} stretches
 */
export function temposOf(stretches) {
  /** @type {{onset: number, tempo: Tempo}[]} */
  const found = [];
  for (const stretch of stretches) {
    let placed = [{ onset: stretch.start, tempo: stretch.tempo }];
    if (stretch.sounding) {
      placed = stretch.sounding.tempos
        .filter(({ onset }) => onset < stretch.stop)
        .map(({ onset, tempo }) => ({
          onset: Math.max(onset, stretch.start),
          tempo: scaled(tempo, stretch.factor),
        }));
    }
    placed.forEach((each, index) => {
      const covered = index + 1 < placed.length && placed[index + 1].onset <= each.onset;
      const current = found[found.length - 1];
      const alike =
        current &&
        same(current.tempo.beats, each.tempo.beats) &&
        same(current.tempo.unit, each.tempo.unit);
      if (!covered && !alike) found.push(each);
    });
  }
  return found;
}

/** Length of a full bar; four crotchets in free metre. @param {MappedBar} bar @param {number} grid */
export const fullLength = (bar, grid) => bar.metre.length || grid;

/**
 * A full bar in the metre of one of the tune's, that is none of the tune's.
 * @param {MappedBar} bar @param {number} onset @param {number} grid @returns {MappedBar}
 */
export function plainBar(bar, onset, grid) {
  return {
    ...bar,
    index: -1,
    number: 0,
    section: "",
    time: 0,
    ending: null,
    onset,
    length: fullLength(bar, grid),
    begins: 0,
  };
}
