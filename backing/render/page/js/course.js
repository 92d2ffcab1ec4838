/**
 * The way through a practice: count-ins, times through, echoes, gaps, one after the other.  The
 * one walk of a plan; a player takes it stretch by stretch, and may send it elsewhere in between.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./arrangement.js").Tempo} Tempo
 * @typedef {import("./devices.js").Lap} Lap
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./laying.js").Free} Free
 * @typedef {import("./laying.js").Laid} Laid
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./laying.js").Turn} Turn
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./plan.js").Step} Step
 * @typedef {import("./round.js").Round} Round
 * @typedef {import("./score.js").Face} Face
 * @typedef {import("./score.js").Piece} Piece
 */
import { scaled, tempoAt } from "./arrangement.js";
import { lastBars, ledByChord, tagBars, tagOf, withClose } from "./ends.js";
import { ONE } from "./fraction.js";
import { countInBars, layClicks, layPiece, layRound, turnOf, wholesASecond } from "./laying.js";
import { endingsOf, isFragment, samePassage } from "./passages.js";
import { Rounds } from "./rounds.js";
import { ONCE } from "./score.js";
import { fullLength, Sounding, Stretch } from "./stretch.js";

export class Course extends Rounds {
  /**
   * @param {readonly Piece[]} pieces @param {readonly Step[]} steps
   * @param {{grid: number, endless?: boolean}} how with `endless` the last step goes round until
   * it is stopped
   */
  constructor(pieces, steps, { grid, endless = false }) {
    super(pieces, steps, grid);
    this._endless = endless;
    this._sent = false;
    /** Whether its step goes round until the player goes on. */
    this.staying = false;
    this._parted = steps.some((step) => step.ears);
    /** @type {Fraction} */
    this._scale = ONE;
    /** @type {Free | null} */
    this._free = null;
    this._time = 1;
    /** @type {Lap | null} */
    this._lap = null;
    const first = this.asked(0);
    this._turns = this._way(first, this._countedIn(first));
  }

  /**
   * The next stretch; null when all has been played.
   * @param {Fraction} scale how much faster than asked it is played now
   */
  next(scale = ONE) {
    this._scale = scale;
    const turn = this._turns.next().value;
    if (!turn) return null;
    const laid = this._lay(turn);
    [this._free, this._time] = [laid.free, turn.time];
    return this._stretch(turn, laid);
  }

  /** Count in at a position, then play from the target on. @param {Target} target @param {number} at */
  begin(target, at) {
    this._send(target, { at, room: 0, led: false });
    this._turns = this._way(target, this._countedIn(target));
  }

  /**
   * Go on with the target at a bar line; `room` is what is left of the bar before, for a pickup to
   * sound in.
   * @param {Target} target @param {number} at @param {number} room
   */
  turn(target, at, room) {
    this._send(target, { at, room, led: false });
    const lead = this.pickup(target) <= room;
    const time = target.last ? Math.max(this._time, 1) : target.time;
    const first = turnOf("play", target, { time, lead, jumped: true });
    this._turns = this._way(target, this._times(first));
  }

  /** @param {Target} target @param {Free} free */
  _send(target, free) {
    this.round(target);
    const laps = this.laps[target.step];
    const asked = laps.spans.some((span) => samePassage(span, target.span));
    if (asked) this._lap = null;
    else this._lap = this._lap ?? laps.at(this._time);
    this._sent = this._sent || !asked;
    this._free = free;
  }

  /** Where a step begins, for a player who leaves the one that sounds. @param {number} step */
  toStep(step) {
    this._sent = this.staying = false;
    return this.asked(step);
  }

  /** @param {number} step @param {number} time */
  lap(step, time) {
    return this._lap ?? this.laps[step].at(time);
  }

  // -- what comes next ----------------------------------------------------------------------

  /** @param {Target} target @param {Iterable<Turn>} first @returns {Generator<Turn, null>} */
  *_way(target, first) {
    yield* first;
    for (let step = target.step + 1; step < this.steps.length; step += 1) {
      [this._lap, this._sent, this.staying] = [null, false, false];
      yield* this._countedIn(this.asked(step));
    }
    return null;
  }

  /** A count-in, then all times. @param {Target} target @returns {Generator<Turn>} */
  *_countedIn(target) {
    const bar = this.round(target).frame[target.bar];
    const lead = target.bar === 0 || this.pickup(target) <= fullLength(bar, this.grid);
    const [step, times] = [this.steps[target.step], this._howOften(target.step)];
    if (step.rest) {
      yield turnOf("rest", target, { clicks: this._barsOfRest(bar, step.rest, target) });
      return;
    }
    const asked = this.asked(target.step);
    const atStart = samePassage(asked.span, target.span) && !target.bar && !target.last;
    const fromTune = step.leadIn === "tune" && atStart && target.time === 1;
    const usual = () => {
      const tempo = scaled(this.tempo(target, target.time), this._scale);
      return fromTune ? 0 : countInBars(bar, tempo, this.pickup(target) > 0);
    };
    const clicks = step.countIn ?? usual();
    const { time } = target;
    if (clicks) {
      const kind = step.leadIn === "chords" ? "lead-in" : "count-in";
      yield turnOf(kind, target, { time, times, clicks });
    }
    if (fromTune) yield turnOf("lead-in", target, { time, times, clicks: 2 });
    const first = clicks || fromTune ? target : { ...target, bar: this._led(target) };
    yield* this._times(turnOf("play", first, { time, lead }));
  }

  /** All times of a step, each with its echo, and the gaps. @param {Turn} first @returns {Generator<Turn>} */
  *_times(first) {
    const step = this.steps[first.target.step];
    /** @type {("play" | "echo")[]} */
    const kinds = step.echo ? ["play", "echo"] : ["play"];
    let turn = first;
    for (let time = first.time, goingOn = true; goingOn; time += 1) {
      const times = first.target.last ? first.time : this._howOften(first.target.step);
      const over = 0 < times && times <= time;
      for (const kind of kinds) {
        const isLast = kind === kinds[kinds.length - 1];
        const ends = over && isLast;
        const last = ends && !step.goesOn;
        turn = { ...turn, kind, time, times, last };
        yield this._leadingOn(turn, isLast ? this._after(turn, over) : turn);
        const aside = { ...turn.target, bar: 0 };
        if (step.gap && !ends) yield turnOf("gap", aside, { time, times, clicks: step.gap });
        if (last && step.close === "tag" && !isFragment(turn.target.span)) {
          yield turnOf("tag", aside, { time, times, clicks: 1 });
        }
        turn = turnOf(kind, aside);
      }
      goingOn = !over || this.staying;
      if (goingOn) turn = turnOf("play", this._nextTarget(turn.target, time + 1), { time: time + 1 });
    }
  }

  /** The same step at a later time through. @param {Target} target @param {number} time */
  _nextTarget(target, time) {
    const span = this._lap ? target.span : this.laps[target.step].at(time).span;
    return { ...target, span, bar: 0, time };
  }

  /** What follows a time through at once. @param {Turn} turn @param {boolean} over */
  _after(turn, over) {
    const { target } = turn;
    if (!over) return { ...turn, target: this._nextTarget(target, turn.time + 1) };
    const goesOn = this.steps[target.step].goesOn && target.step + 1 < this.steps.length;
    return goesOn ? turnOf("play", this.asked(target.step + 1)) : null;
  }

  /** A turn that knows what follows it. @param {Turn} turn @param {Turn | null} following */
  _leadingOn(turn, following) {
    const { target } = turn;
    const same = following?.target.step === target.step;
    if (!following || (this.steps[target.step].gap && same)) return turn;
    const [here, there] = [this.steps[target.step], this.steps[following.target.step]];
    const [one, other] = [target, following.target].map((each) => this.round(each).frame[0].index);
    const again = samePassage(following.target.span, target.span) || one === other;
    if (here.piece === there.piece && again) return { ...turn, follows: true };
    return { ...turn, room: this.pickup(following.target) };
  }

  /** How many times a step goes round; 0 for without an end. @param {number} step */
  _howOften(step) {
    const final = step + 1 === this.steps.length;
    const endless = this._sent || this.staying || (this._endless && final);
    return endless ? 0 : this.times(step);
  }

  /** @param {MappedBar} bar @param {number} seconds @param {Target} target */
  _barsOfRest(bar, seconds, target) {
    const wholes = wholesASecond(scaled(this.tempo(target, 1), this._scale));
    const bars = (seconds * wholes * this.grid) / fullLength(bar, this.grid);
    const below = Math.floor(bars);
    const up = bars - below > 0.5 || (bars - below === 0.5 && below % 2); // half a bar: to the even
    return Math.max(1, below + (up ? 1 : 0));
  }

  // -- where it lies ------------------------------------------------------------------------

  /** @param {Turn} turn @param {Laid} laid */
  _stretch(turn, laid) {
    const { target, kind, time } = turn;
    const step = this.steps[target.step];
    const muted = [...step.muted, ...this.lap(target.step, time).muted];
    const found = turn.clicks ? null : this._round(turn);
    return new Stretch({
      kind,
      step: target.step,
      time,
      times: turn.times,
      frame: laid.frame,
      sounding: laid.sounding,
      tempo: this.tempo(target, time),
      factor: this.factor(target.step, time),
      muted: kind === "echo" ? [...muted, "melody"] : muted,
      span: target.span,
      click: step.click,
      name: step.name,
      ears: step.ears ?? (this._parted ? "both" : null),
      pickup: found ? 0 : this.pickup(target),
      first: found ? found.frame.length - laid.frame.length : 0,
      chord: found ? this._chord(target.step, this._song(target, laid)) : "",
      grid: this.grid,
    });
  }

  /** @param {Turn} turn */
  _lay(turn) {
    if (turn.clicks) return this._layAside(turn);
    return layRound(turn, this._round(turn), this.pickup(turn.target), this._free);
  }

  /** Bars that are none of a time through. @param {Turn} turn @returns {Laid} */
  _layAside(turn) {
    const { target, kind } = turn;
    const { leadIn } = this.steps[target.step];
    const { faces } = this.piece(target.step);
    const bar = this.round(target).frame[target.bar];
    if (kind === "tag") {
      const laid = layClicks(tagBars(bar), bar, this._free, this.grid);
      const piece = tagOf(faces.arrangement(), faces.tag, laid.frame, this.grid);
      return { ...laid, sounding: new Sounding(piece) };
    }
    if (kind === "lead-in" && leadIn === "tune") {
      const goingOn = faces.arrangement({ ...ONCE, last: false });
      return layPiece(lastBars(goingOn, this.pickup(target), this.grid), this._free, this.grid);
    }
    const laid = layClicks(turn.clicks, bar, this._free, this.grid);
    if (kind === "gap" || kind === "rest" || leadIn === "clicks" || leadIn === "tune") return laid;
    const piece = this.round(target).piece;
    const chord = ledByChord(piece, laid.frame, leadIn === "held", this.grid);
    return { ...laid, sounding: new Sounding(chord) };
  }

  /** @param {Turn} turn @returns {Round} */
  _round(turn) {
    const span = this._ending(turn);
    const found = this.round({ ...turn.target, span }, faceOf(turn));
    if (!turn.last || isFragment(span)) return found;
    const { close } = this.steps[turn.target.step];
    return { ...found, piece: withClose(found.piece, close, this.grid) };
  }

  /** The span of a turn; a section with several endings takes them by turns. @param {Turn} turn @returns {Passage} */
  _ending(turn) {
    const { span, step } = turn.target;
    if (span.kind !== "section" || span.ending !== null) return span;
    const endings = endingsOf(this.piece(step).tune, span.name);
    if (endings.length < 2) return span;
    const left = turn.times ? turn.times - turn.time : -turn.time;
    const { length } = endings;
    return { ...span, ending: endings[(((-1 - left) % length) + length) % length] };
  }

  /** The tempo at a target, as its step scales it. @param {Target} target @param {number} time @returns {Tempo} */
  tempo(target, time) {
    const found = this.round(target);
    const own = tempoAt(found.piece, found.frame[target.bar].onset);
    return scaled(own, this.factor(target.step, time));
  }

  /** How a step scales the tune's own tempo. @param {number} step @param {number} time */
  factor(step, time) {
    return this._factorOf(step, this.lap(step, time).tempo);
  }
}

/** What is played of a tune at a turn: a few bars never vary, and never stop. @param {Turn} turn @returns {Face} */
function faceOf(turn) {
  const { span } = turn.target;
  if (isFragment(span)) return { time: 1, last: false, alone: true };
  return { time: Math.max(turn.time, 1), last: turn.last, alone: span.kind === "section" };
}
