/**
 * What is practised: steps in the way that is chosen, their player, and where it is sent.
 *
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./plan.js").Step} Step
 */
import { Course } from "./course.js";
import { act } from "./going.js";
import { WHOLE } from "./passages.js";
import { Player } from "./player.js";
import { PLAIN, practised } from "./practising.js";

export class Practice {
  /**
   * @param {any} data what the page holds
   * @param {import("./choices.js").Choices} choices
   * @param {import("./drawings.js").Drawings} drawings
   * @param {import("./late_sound.js").LateSound} sound
   */
  constructor(data, choices, drawings, sound) {
    this._data = data;
    this._choices = choices;
    this._drawings = drawings;
    this._sound = sound;
    /** The way to practise that is chosen. */
    this.way = PLAIN;
    this.player = this._playerOf(data.music.steps);
  }

  /** @param {readonly Step[]} steps */
  _playerOf(steps) {
    const { grid } = this._data.music.score;
    const course = new Course(this._choices.pieces, steps, { grid, endless: this._data.endless });
    return new Player(course, this._sound, grid);
  }

  /** Practise a span in a way; where it cannot be, all stays. @param {string} way @param {Passage} span */
  practise(way, span) {
    const { factor, notes, playing } = this.player;
    const step = practised(this._data.music.steps[0], way, span, factor);
    const player = this._playerOf([step]);
    if (!step.ladder.length) player.setTempo(factor);
    for (const [role, muted] of notes.turned) player.notes.turned.set(role, muted);
    this.player.stop();
    this.player = player;
    this.way = way;
    if (playing) player.begin();
  }

  /** Bars were tapped, or dragged over. @param {number} tune @param {readonly number[]} bars */
  goRound(tune, bars) {
    const written = this._drawings.written(tune);
    const full = written.bars.filter((bar) => !bar.begins).map((bar) => bar.number);
    const numbers = bars.map((bar) => written.bars[bar].number);
    const first = Math.max(Math.min(...numbers), full.length ? Math.min(...full) : 0);
    this.goRoundNumbers(tune, first, Math.max(first, ...numbers));
  }

  /** @param {number} tune @param {number} first @param {number} last */
  goRoundNumbers(tune, first, last) {
    this._go(this.player.ways.bars(this._placeIn(tune), first, last));
  }

  /** @param {number} tune @param {string} name */
  goToPart(tune, name) {
    this._go(this.player.ways.part(this._placeIn(tune), name));
  }

  /** The whole tune goes on from where it is; in a way that changes from round to round, anew. */
  goWhole() {
    if (this.way === PLAIN) act(this.player, "the whole tune");
    else this.practise(this.way, WHOLE);
  }

  /** Go round elsewhere, in the way that is chosen. @param {Target} target */
  _go(target) {
    if (this.way === PLAIN) this.player.go(target);
    else this.practise(this.way, target.span);
  }

  /** A place in a tune: in the step that is played, else in the first that is of it. @param {number} tune */
  _placeIn(tune) {
    const { here, course } = this.player;
    if (this._drawings.of(course.steps[here.step]) === tune) return here;
    const step = course.steps.findIndex((each) => this._drawings.of(each) === tune && !each.rest);
    return { ...here, step };
  }
}
