/**
 * Keys pressed and let go, in ticks, and the seconds that ticks stand for.
 *
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").Tempo} Tempo
 * @typedef {{onset: number, stop: number, key: number, velocity: number}} KeyPress
 */
import { stopOf, wholesOf } from "./arrangement.js";
import { value } from "./fraction.js";
import { WHOLE_TICKS } from "./limits.js";
import { bisectRight } from "./search.js";

/** The tick of a position, rounded once. @param {number} position @param {number} grid */
export function ticks(position, grid) {
  return Math.floor((2 * WHOLE_TICKS * position + grid) / (2 * grid));
}

/**
 * Every key press of a track's events, in their order; a key that is struck again while it sounds
 * is ended there first.
 * @param {readonly Event[]} events @param {number} grid @returns {KeyPress[]}
 */
export function keyPresses(events, grid) {
  /** @type {Map<number, KeyPress>} */
  const last = new Map();
  /** @type {KeyPress[]} */
  const found = [];
  for (const event of events) {
    const onset = ticks(event.onset, grid);
    const stop = Math.max(ticks(stopOf(event), grid), onset + 1);
    for (const key of event.keys) {
      const before = last.get(key);
      if (before && before.stop > onset) {
        if (before.onset === onset) {
          before.stop = Math.max(before.stop, stop);
          continue;
        }
        before.stop = onset;
      }
      const press = { onset, stop, key, velocity: event.velocity };
      last.set(key, press);
      found.push(press);
    }
  }
  return found;
}

/** When each tick sounds, in seconds from the first one. */
export class Seconds {
  constructor() {
    /** @type {{tick: number, second: number, each: number}[]} */
    this._known = [];
  }

  /** A tempo that takes over at its onset. @param {{onset: number, tempo: Tempo}} placed @param {number} grid */
  add(placed, grid) {
    const tick = ticks(placed.onset, grid);
    const second = this._known.length ? this.at(tick) : 0;
    while (this._known.length && this._known[this._known.length - 1].tick >= tick) this._known.pop();
    const each = 60 / (value(wholesOf(placed.tempo)) * WHOLE_TICKS);
    const last = this._known[this._known.length - 1];
    if (!last || last.each !== each) this._known.push({ tick, second, each });
  }

  /** Keep only what is needed from a tick on. @param {number} tick */
  forget(tick) {
    this._known.splice(0, this._place(tick));
  }

  /** The tick that sounds at a second. @param {number} second */
  tick(second) {
    const place = Math.max(bisectRight(this._known, second, (known) => known.second) - 1, 0);
    const { tick: from, second: since, each } = this._known[place];
    return from + (second - since) / each;
  }

  /** @param {number} tick */
  at(tick) {
    const { tick: from, second, each } = this._known[this._place(tick)];
    return second + (tick - from) * each;
  }

  /** @param {number} tick */
  _place(tick) {
    return Math.max(bisectRight(this._known, tick, (known) => known.tick) - 1, 0);
  }
}
