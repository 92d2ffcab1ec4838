/**
 * The tunes as they are drawn for each box, unpacked when they are first asked for, and which of
 * them a step is of.
 *
 * @typedef {import("./sheet.js").DrawnTune} DrawnTune
 */
import { unpacked } from "./unpack.js";

export class Drawings {
  /** @param {any} data what the page holds @param {import("./choices.js").Choices} choices */
  constructor(data, choices) {
    this._data = data;
    this._choices = choices;
    /** @type {Map<string, readonly DrawnTune[]>} */
    this._drawn = new Map();
  }

  /** All tunes for the box that is chosen. @returns {Promise<readonly DrawnTune[]>} */
  async now() {
    const { box } = this._choices.now;
    const { written, sheets } = this._data;
    const found = this._drawn.get(box)
      ?? (box === written.box ? written.tunes : await unpacked(sheets[box]));
    this._drawn.set(box, found);
    return found;
  }

  /** The buttons in each bar of a tune; none before it was drawn for this box. @param {number} tune */
  buttons(tune) {
    return this._drawn.get(this._choices.now.box)?.[tune].buttons ?? [];
  }

  /** Which of the tunes a step is of. @param {import("./plan.js").Step} step @returns {number} */
  of(step) {
    return this._data.shown[step.piece];
  }

  /** The written bars of a tune. @param {number} tune */
  written(tune) {
    return this._choices.pieces[this._data.shown.indexOf(tune)].tune;
  }
}
