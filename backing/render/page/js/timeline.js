/**
 * When each tick is due: one anchor, from which every moment is worked out.  A change of tempo, a
 * start or a jump sets a new one, so nothing drifts.
 *
 * @typedef {import("./fraction.js").Fraction} Fraction
 */
import { ONE, value } from "./fraction.js";
import { Seconds } from "./presses.js";

export class Timeline {
  /** @param {number} grid */
  constructor(grid) {
    this._grid = grid;
    /** How much faster than asked it goes. @type {Fraction} */
    this.scale = ONE;
    this._seconds = new Seconds();
    this._moment = 0;
    this._second = 0;
  }

  /** The moment of a tick. @param {number} tick */
  due(tick) {
    return this._moment + (this._seconds.at(tick) - this._second) / value(this.scale);
  }

  /** The tick that is due at a moment. @param {number} moment */
  tick(moment) {
    return this._seconds.tick(this._second + (moment - this._moment) * value(this.scale));
  }

  /** From now on this tick is due at this moment. @param {number} tick @param {number} moment */
  anchor(tick, moment) {
    this._moment = moment;
    this._second = this._seconds.at(tick);
  }

  /** Go on at another speed from a moment on. @param {Fraction} scale @param {number} moment */
  rescale(scale, moment) {
    this._second += (moment - this._moment) * value(this.scale);
    this._moment = moment;
    this.scale = scale;
  }

  /** Tempi that take over at their onsets. @param {readonly {onset: number, tempo: import("./arrangement.js").Tempo}[]} tempos */
  add(tempos) {
    for (const placed of tempos) this._seconds.add(placed, this._grid);
  }

  /** Keep only what is needed from a tick on. @param {number} tick */
  forget(tick) {
    this._seconds.forget(tick);
  }
}
