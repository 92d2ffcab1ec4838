/**
 * What comes next in a course, made ready as cues some bars ahead of what sounds.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./course.js").Course} Course
 * @typedef {import("./cues.js").Cue} Cue
 * @typedef {import("./cues.js").FeltBeat} FeltBeat
 * @typedef {import("./stretch.js").Stretch} Stretch
 * @typedef {import("./timeline.js").Timeline} Timeline
 * @typedef {{number: number, stretch: Stretch, place: number, tick: number}} MadeBar
 */
import { stopOf } from "./arrangement.js";
import { byTime, cuesOf, OFF } from "./cues.js";
import { ticks } from "./presses.js";
import { fullLength, temposOf } from "./stretch.js";

/** What leads in begins in one of so many bars before. */
const BARS_LED = 2;

/** The cues that wait, in order; those of a bar are made in one go. */
export class Lookahead {
  /** @param {Course} course @param {Timeline} timeline */
  constructor(course, timeline) {
    /** The number of the stretch that is being made ready. */
    this.number = 0;
    /** All is ready up to this tick. */
    this.ready = 0;
    /** @type {Cue[]} */
    this.cues = [];
    this._course = course;
    this._timeline = timeline;
    /** @type {Stretch | null} */
    this._stretch = null;
    this._at = 0;
    /** @type {MadeBar[]} */
    this._made = [];
    /** @type {[number, Stretch][]} */
    this._again = [];
  }

  /** Nothing that is not ready yet begins before this tick: a pickup, or what leads into a few
   * bars, sounds in the bars before. */
  get readyFor() {
    const stretch = this._stretch;
    if (!stretch) return this.ready;
    const bar = stretch.frame[Math.max(this._at - 1, 0)];
    return this.ready - BARS_LED * ticks(fullLength(bar, stretch.grid), stretch.grid);
  }

  /** The step of the plan that is being made ready. */
  get step() {
    return this._stretch?.step ?? 0;
  }

  /** Make the next bar ready; false where there is none. */
  load() {
    if (!this._stretch || this._at === this._stretch.frame.length) {
      if (!this._enter()) return false;
    }
    const stretch = /** @type {Stretch} */ (this._stretch);
    const found = cuesOf(stretch, this._at, this.number, this._timeline.scale);
    const tick = Math.min(...found.map((cue) => cue.tick));
    this._made.push({ number: this.number, stretch, place: this._at, tick });
    this.insert(...found);
    this.ready = ticks(stopOf(stretch.frame[this._at]), stretch.grid);
    this._at += 1;
    return true;
  }

  _enter() {
    const again = this._again.shift();
    if (again) {
      [this.number, this._stretch, this._at] = [...again, 0];
      return true;
    }
    const stretch = this._course.next(this._timeline.scale);
    if (!stretch) return false;
    this._timeline.add(temposOf([stretch]));
    [this.number, this._stretch, this._at] = [this.number + 1, stretch, 0];
    return true;
  }

  /** Let more cues wait. @param {Cue[]} found */
  insert(...found) {
    this.cues = [...this.cues, ...found].sort(byTime);
  }

  /**
   * The speed is another one: make anew what has not begun by a moment, for limits in seconds and
   * clicks depend on it.
   * @param {number} moment
   */
  makeAnew(moment) {
    while (this._made.length && this._timeline.due(this._made[0].tick) < moment) this._made.shift();
    if (!this._made.length) return;
    const { number, stretch, place } = this._made[0];
    const start = place ? ticks(stretch.frame[place].onset, stretch.grid) : -Infinity;
    const entered = new Map(
      this._made.filter((bar) => bar.number > number).map((bar) => [bar.number, bar.stretch]),
    );
    this._again = [...entered, ...this._again];
    this._made = [];
    this.cues = this.cues.filter(
      ({ said, stretch: own, tick }) =>
        said.kind === "off" ||
        said.kind === "release" ||
        own < number ||
        (own === number && tick < start),
    );
    [this.number, this._stretch, this._at] = [number, stretch, place];
    this.load();
  }

  /** A beat sounds now: what lies before it is over. @param {FeltBeat} beat */
  sounds(beat) {
    const start = ticks(beat.bar.onset, beat.stretch.grid);
    this._timeline.forget(start);
    this._made = this._made.filter((bar) => bar.tick >= start);
  }

  // -- elsewhere --------------------------------------------------------------------------

  /** Nothing waits any more. */
  clear() {
    [this.cues, this._made, this._again, this._stretch, this._at] = [[], [], [], null, 0];
  }

  /** Make the first bar ready of what comes now; the tick of its first cue. */
  begin() {
    this.clear();
    this.load();
    return this.cues[0].tick;
  }

  /**
   * Go on elsewhere at the next bar line; of stretch number `current` the rest of the bar stays,
   * and what the old place still sounds ends there.
   * @param {import("./laying.js").Target} target @param {FeltBeat} beat @param {number} room
   * @param {number} current
   */
  turn(target, beat, room, current) {
    const { grid } = beat.stretch;
    this._course.turn(target, beat.line, room);
    const line = ticks(beat.line, grid);
    const kept = this.cues.filter(
      ({ tick, said, stretch }) =>
        tick < line && (said.kind === "off" || (stretch === current && said.kind !== "release")),
    );
    this.begin();
    const lead = Math.min(line, this.cues[0].tick);
    const pickup = Math.min(lead, ticks(stopOf(beat.bar), grid));
    const stay = kept.filter((cue) => !isTuneFrom(cue, pickup));
    this.insert(...stay, this._release(lead, "melody"), this._release(line, null));
  }

  /** @param {number} tick @param {Role | null} role @returns {Cue} */
  _release(tick, role) {
    const said = /** @type {const} */ ({ kind: "release", keep: this.number, role });
    return { tick, order: OFF, stretch: this.number, said };
  }
}

/** The melody, and the bellows that it moves, from a tick on. @param {Cue} cue @param {number} from */
function isTuneFrom({ said, tick }, from) {
  const tune = said.kind === "strike" && said.role === "melody";
  return (tune || said.kind === "bellows") && tick >= from;
}
