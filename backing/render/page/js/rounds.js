/**
 * What the steps of a plan are made of: their tunes, rounds, laps and tempi.
 *
 * @typedef {import("./laying.js").Laid} Laid
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./plan.js").Step} Step
 * @typedef {import("./round.js").Round} Round
 * @typedef {import("./score.js").Face} Face
 * @typedef {import("./score.js").Piece} Piece
 */
import { onsetOf } from "./arrangement.js";
import { Laps } from "./devices.js";
import { value } from "./fraction.js";
import { targetOf } from "./laying.js";
import { nameOf, samePassage } from "./passages.js";
import { scaleOf } from "./plan.js";
import { findRound, pickupOf } from "./round.js";
import { faceName, ONCE } from "./score.js";
import { bisectRight } from "./search.js";

/** The rounds of a plan's steps, each made when it is first asked for. */
export class Rounds {
  /** @param {readonly Piece[]} pieces @param {readonly Step[]} steps @param {number} grid */
  constructor(pieces, steps, grid) {
    this.pieces = pieces;
    this.steps = steps;
    this.grid = grid;
    /** @type {Map<string, Round>} */
    this._rounds = new Map();
    this.laps = steps.map((step) => new Laps(step, pieces[step.piece].tune));
  }

  /** The same walk over other arrangements: another style, another box. @param {readonly Piece[]} pieces */
  dress(pieces) {
    this.pieces = pieces;
    this._rounds.clear();
  }

  /** @param {number} step the tune that it is of */
  piece(step) {
    return this.pieces[this.steps[step].piece];
  }

  /** The steps that a player knows as such. */
  get starts() {
    return this.steps.flatMap((step, at) => (step.more ? [] : [at]));
  }

  /** @param {number} step how often it sounds by itself */
  times(step) {
    return this.steps[step].times || this.laps[step].rounds;
  }

  /** @param {number} step what it asks for: its span, from the beginning */
  asked(step) {
    return targetOf(this.laps[step].at(1).span, { step });
  }

  /** The slowest and the fastest tempo in it, in felt beats a minute. */
  get beats() {
    const found = this.steps.flatMap((_, step) => {
      const { faces } = this.piece(step);
      const tempos = faces.arrangement().tempos.map(({ tempo }) => value(tempo.beats));
      return this.laps[step].tempos.flatMap((speed) => {
        const factor = value(this._factorOf(step, speed));
        return tempos.map((beats) => beats * factor);
      });
    });
    return [Math.min(...found), Math.max(...found)];
  }

  /**
   * One time through the span of a target.
   * @param {Target} target @param {Face} face
   */
  round(target, face = ONCE) {
    const [asked, laps] = [this.steps[target.step], this.laps[target.step]];
    const edges = asked.edges && laps.spans.some((span) => samePassage(span, target.span));
    const { wholePickup } = asked;
    const name = [asked.piece, nameOf(target.span), wholePickup, edges, faceName(face)].join("/");
    let found = this._rounds.get(name);
    if (!found) {
      const { faces, tune } = this.piece(target.step);
      const how = { wholePickup, edges, grid: this.grid };
      found = findRound(faces.arrangement(face), tune, target.span, how);
      this._rounds.set(name, found);
    }
    return found;
  }

  /** @param {number} step @param {import("./plan.js").Speed} speed */
  _factorOf(step, speed) {
    return scaleOf(this.round(this.asked(step)).piece, speed);
  }

  /** Where a time through begins in the tune as it is played. @param {Target} target @param {Laid} laid */
  _song(target, laid) {
    const bar = laid.frame[0];
    if (target.span.kind === "whole" && laid.sounding) return bar.onset - laid.sounding.by;
    const bars = this.piece(target.step).faces.arrangement().bars;
    return bars.find((other) => other.index === bar.index)?.onset ?? 0;
  }

  /** The chord symbol in force. @param {number} step @param {number} song */
  _chord(step, song) {
    const { chords } = this.piece(step).faces.arrangement();
    const place = bisectRight(chords, song, onsetOf);
    return place ? chords[place - 1].text : "";
  }

  /** Length of the pickup that leads into a target. @param {Target} target */
  pickup(target) {
    const found = this.round(target);
    if (!target.bar) return pickupOf(found);
    return found.frame[target.bar].onset - found.frame[this._led(target)].onset;
  }

  /** @param {Target} target the place where the pickup into its bar begins */
  _led(target) {
    return ledPlace(this.round(target).frame, target.bar);
  }
}

/** The place where the pickup into a bar begins. @param {readonly import("./arrangement.js").MappedBar[]} frame @param {number} bar */
export function ledPlace(frame, bar) {
  let place = bar;
  while (place && frame[place - 1].begins) place -= 1;
  return place;
}
