/**
 * Playing along: a course walked in time, as the player steers it.
 *
 * What is due within the horizon is scheduled on the clock of the sound.  What a player asks for
 * takes back what has not begun, changes it, and schedules anew: so nothing waits for the horizon,
 * no event is lost, and no note is left.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./course.js").Course} Course
 * @typedef {import("./cues.js").Cue} Cue
 * @typedef {import("./cues.js").FeltBeat} FeltBeat
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./notes.js").Reeds & {now: () => number,
 *   breathe: (at: number) => {cancel: () => void},
 *   place: (ears: "left" | "right" | "both", at: number) => void}} Sound
 * @typedef {{cue: Cue, due: number, undo: () => void}} Sent
 */
import { floor, fraction, product, quotient, value } from "./fraction.js";
import { WHOLE_TICKS } from "./limits.js";
import { Lookahead } from "./lookahead.js";
import { Notes } from "./notes.js";
import { ticks } from "./presses.js";
import { bisectRight } from "./search.js";
import { Timeline } from "./timeline.js";
import { WaysOn } from "./ways.js";

/** Seconds from asking to the first click. */
const BREATH = 0.1;
/** What is due within so many seconds is never taken back: a slow reed speaks ahead of its onset. */
const SOON = 0.06;
/** Less than this before a bar line, a pickup into another place comes too late. */
const TOO_LATE = 0.03;
/** Per cent of the tune's own tempo that one step is. */
export const TEMPO_STEP = 5;
const [SLOWEST, FASTEST] = [10, 400];
/** A new breath is held for so many felt beats at least. */
const HELD_BEATS = 2;

export class Player {
  /** @param {Course} course @param {Sound} sound @param {number} grid */
  constructor(course, sound, grid) {
    this.course = course;
    this.playing = false;
    /** The felt beat that sounds. @type {FeltBeat | null} */
    this.beat = null;
    this.chord = "";
    /** What it goes round in, and where it goes on. @type {Target} */
    this.here = course.asked(0);
    /** While a jump waits for the bar line. */
    this.moving = false;
    /** How often what was due came too late to be scheduled in time. */
    this.late = 0;
    this._sound = sound;
    this._grid = grid;
    this.ways = new WaysOn(course);
    this.notes = new Notes(sound);
    this.timeline = new Timeline(grid);
    this._ahead = new Lookahead(course, this.timeline);
    /** @type {Sent[]} */
    this._sent = [];
    this._number = 0;
    this._landing = 0;
    this._began = 0;
    this._way = "";
    this._fresh = true;
    /** The numbers of bars that were marked. @type {{first?: number, last?: number}} */
    this._marks = {};
  }

  /** How fast it goes, of the tune's own tempo. @returns {Fraction} */
  get factor() {
    const own = this.beat?.stretch.factor ?? this.course.factor(this.here.step, this.here.time);
    return product(own, this.timeline.scale);
  }

  /** The tempo in force, as it is played. @returns {{beats: number, unit: Fraction}} */
  get tempo() {
    const own = this.beat?.stretch.tempo ?? this.course.tempo(this.here, this.here.time);
    return { beats: value(own.beats) * value(this.timeline.scale), unit: own.unit };
  }

  /** The next chord that is another one, and in how many felt beats it comes; null for none that
   * is known yet. @returns {{text: string, beats: number} | null} */
  get coming() {
    let beats = 1;
    for (const { said } of this._waiting()) {
      if (said.kind === "beat") beats += 1;
      const other = said.kind === "chord" && said.text && said.text !== this.chord;
      if (other) return { text: said.text, beats };
    }
    return null;
  }

  /** What is to come, in its order. */
  *_waiting() {
    for (const { cue } of this._sent) yield cue;
    yield* this._ahead.cues;
  }

  /**
   * The bar that sounds at a moment, and how much of it is over, in whole notes; null where none
   * of the tune sounds.
   * @param {number} moment @returns {{bar: MappedBar, over: number} | null}
   */
  placeAt(moment) {
    if (!this.playing || !this.beat || this.clicksOnly) return null;
    const { grid, frame } = this.beat.stretch;
    const over = this.timeline.tick(moment) / WHOLE_TICKS;
    const at = Math.max(bisectRight(frame, over * grid, (bar) => bar.onset) - 1, 0);
    return { bar: frame[at], over: over - frame[at].onset / grid };
  }

  // -- scheduling -----------------------------------------------------------------------------

  /**
   * Schedule all that is due within so many seconds; to be called again well before they are over.
   * @param {number} horizon
   */
  pump(horizon) {
    if (!this.playing) return;
    const now = this._sound.now();
    this.look(now);
    for (;;) {
      while (this.timeline.due(this._ahead.readyFor) < now + horizon) {
        if (!this._ahead.load()) break;
      }
      const cue = this._ahead.cues[0];
      if (!cue) {
        if (this.timeline.due(this._ahead.ready) < now) this._finish();
        return;
      }
      const due = this.timeline.due(cue.tick);
      if (due > now + horizon) return;
      if (due < now && cue.said.kind === "strike") this.late += 1;
      this._ahead.cues.shift();
      this._sent.push({ cue, due, undo: this._do(cue, due) });
    }
  }

  /** What sounds by now is over; what there is to see of it. @param {number} now */
  look(now) {
    let past = 0;
    while (past < this._sent.length && this._sent[past].due <= now) {
      const { cue } = this._sent[past];
      if (cue.said.kind === "beat") this._show(cue.said, cue.stretch);
      if (cue.said.kind === "chord") this.chord = cue.said.text;
      past += 1;
    }
    this._sent.splice(0, past);
  }

  /** @param {FeltBeat} beat @param {number} number */
  _show(beat, number) {
    [this.beat, this._number] = [beat, number];
    this._ahead.sounds(beat);
    if (beat.stretch.inTune && number >= this._landing) {
      [this.here, this.moving] = [this.ways.place(beat.stretch, beat.number), false];
    } else if (number > this._landing) this.here = this.ways.place(beat.stretch, 0);
  }

  /** Do what a cue says; what undoes it. @param {Cue} cue @param {number} due @returns {() => void} */
  _do({ said, stretch }, due) {
    switch (said.kind) {
      case "strike": {
        const { note, undo } = this.notes.strike(said, stretch, due);
        this._ahead.insert({ tick: said.stop, order: 0, stretch, said: { kind: "off", note } });
        return undo;
      }
      case "off":
        return this.notes.letGo(said.note, due);
      case "release":
        return this.notes.release(said, due);
      case "bellows":
        return this._breathe(said.span, due);
      case "ears":
        this._sound.place(said.ears, due);
        return () => {};
      default:
        return () => {};
    }
  }

  /** @param {import("./arrangement.js").BellowsSpan} span @param {number} due */
  _breathe(span, due) {
    const before = this._way;
    this._way = span.way;
    const held = span.stop - span.start >= HELD_BEATS * span.beat;
    const dip = before && before !== span.way && held ? this._sound.breathe(due) : null;
    return () => {
      this._way = before;
      dip?.cancel();
    };
  }

  /** Take back what has not begun by a moment, the latest first. @param {number} moment */
  _rewind(moment) {
    while (this._sent.length && this._sent[this._sent.length - 1].due > moment) {
      const { cue, undo } = /** @type {Sent} */ (this._sent.pop());
      undo();
      this._ahead.insert(cue);
    }
    // the end of a note that was taken back
    this._ahead.cues = this._ahead.cues.filter(
      ({ said }) => said.kind !== "off" || this.notes.down.has(said.note),
    );
  }

  /** All has been played. */
  _finish() {
    this.stop();
    this.here = this.course.toStep(0);
    this._fresh = false;
  }

  // -- what the player asks for -----------------------------------------------------------------

  /** Count in at once, and play from there. @param {Target} target */
  begin(target = this.here) {
    const now = this._sound.now();
    this._end(now);
    this.here = target;
    if (!this._fresh) this.course.begin(target, this.beat?.line ?? 0);
    this._fresh = false;
    this.chord = "";
    const tick = this._ahead.begin();
    this.timeline.anchor(tick, now + BREATH);
    this._landing = this._began = this._ahead.number;
    [this.moving, this.playing] = [false, true];
  }

  /** End all that sounds; nothing more comes. */
  stop() {
    this._end(this._sound.now());
    this._ahead.clear();
    this.chord = "";
    this.playing = false;
  }

  /** @param {number} now */
  _end(now) {
    this._rewind(now);
    this.look(now);
    this.notes.end(now);
    this._way = "";
  }

  /** Stop, or go on in the bar where it stopped. */
  stopOrGo() {
    if (this.playing) this.stop();
    else this.begin();
  }

  /** A track on and off. @param {Role} role */
  turn(role) {
    const now = this._sound.now();
    this._rewind(now + SOON);
    this.notes.turn(role, this.isOwn(role), now);
  }

  /** Whether the stretch that sounds mutes a track. @param {Role} role */
  isOwn(role) {
    const muted = this.beat?.stretch.muted ?? this.course.steps[this.here.step].muted;
    return muted.includes(role);
  }

  /** @param {Role} role */
  isMuted(role) {
    return this.notes.isMuted(role, this.isOwn(role));
  }

  /** Five per cent of the tune's own tempo slower or faster, at once. @param {number} steps 1 or -1 */
  changeTempo(steps) {
    const fives = quotient(product(this.factor, fraction(100, 1)), fraction(TEMPO_STEP, 1));
    const whole = floor(fives);
    const wanted = steps > 0 ? whole + 1 : whole - (value(fives) === whole ? 1 : 0);
    this.setTempo(fraction(wanted * TEMPO_STEP, 100));
  }

  /** So much of the tune's own tempo, at once, where it is not too slow or too fast. @param {Fraction} factor */
  setTempo(factor) {
    if (factor[0] <= 0) return;
    const scale = quotient(factor, quotient(this.factor, this.timeline.scale));
    const faster = value(scale) > value(this.timeline.scale);
    const [slowest, fastest] = this.course.beats.map((beats) => beats * value(scale));
    if (faster ? fastest > FASTEST : slowest < SLOWEST) return;
    const moment = this._sound.now() + SOON;
    if (this.playing) this._rewind(moment);
    this.timeline.rescale(scale, moment);
    if (this.playing) this._ahead.makeAnew(moment);
  }

  /** Go on elsewhere at the next bar line; while it is silent, begin there later. @param {Target} target */
  go(target) {
    this.course.round(target);
    const now = this._sound.now();
    if (!this.playing) {
      [this.here, this.moving, this._fresh] = [target, true, false];
      return;
    }
    this.look(now);
    const beat = this.beat;
    if (!beat || (this.clicksOnly && beat.stretch.kind !== "gap")) {
      this.begin(target);
      return;
    }
    this._rewind(now + SOON);
    this._ahead.turn(target, beat, this._room(target, beat, now), this._number);
    this._landing = this._ahead.number;
    [this.here, this.moving] = [target, true];
  }

  /** Mark the bar that sounds, else the one that comes; between two marks it goes round. @param {"first" | "last"} end */
  markBar(end) {
    const sounds = this.playing && !this.clicksOnly && this.beat;
    const here = sounds ? this.ways.place(sounds.stretch, sounds.number) : this.here;
    this._marks = { ...this._marks, [end]: this.ways.number(here) };
    const { first, last } = this._marks;
    if (first === undefined || last === undefined) return;
    this._marks = {};
    this.go(this.ways.bars(this.here, Math.min(first, last), Math.max(first, last)));
  }

  /** Count in to another step; while it is silent, begin there later. @param {number} by 1 or -1 */
  changeStep(by) {
    const target = this.ways.step(this.here, by);
    if (target) this.goToStep(target.step);
  }

  /** Count in to a step; while it is silent, begin there later. @param {number} step */
  goToStep(step) {
    const target = this.course.toStep(step);
    if (this.playing) this.begin(target);
    else this.go(target);
  }

  /** Stay on the step, or go on after this time through. */
  stay() {
    this.course.staying = !this.course.staying;
    const ready = this.playing && this._ahead.step !== this.here.step;
    if (this.course.staying && ready) this.go(this.ways.following(this.here));
  }

  /** True where it is still to come to where it goes: silent, counting in, on its way. */
  get waits() {
    return this.moving || this.clicksOnly || !this.playing;
  }

  /** True while nothing but clicks sounds. */
  get clicksOnly() {
    return !this.beat || this._number < this._began || !this.beat.stretch.inTune;
  }

  /** Room for the target's pickup before the bar line, none where it comes too late. @param {Target} target @param {FeltBeat} beat @param {number} now */
  _room(target, beat, now) {
    const pickup = this.course.pickup(target);
    const due = this.timeline.due(ticks(beat.line - pickup, this._grid));
    return due - now > SOON + TOO_LATE ? pickup : 0;
  }

  /** The same practice with other arrangements, from the next bar line on. @param {readonly import("./score.js").Piece[]} pieces */
  dress(pieces) {
    this.course.dress(pieces);
    if (!this.playing) return;
    if (this.clicksOnly) this.begin(this.here);
    else this.go(this.moving ? this.here : this.ways.following(this.here));
  }
}
