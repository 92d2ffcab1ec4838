/**
 * Which of the boxes, styles, chords with or without thirds is chosen, and the tunes as they are
 * with it, unpacked when they are first asked for.
 *
 * @typedef {import("./panel.js").Choice} Choice
 * @typedef {import("./panel.js").Offered} Offered
 * @typedef {import("./score.js").Piece} Piece
 */
import { Faces, tuneOf } from "./score.js";

export class Choices {
  /** @param {any} music as the page holds it */
  constructor(music) {
    this._music = music;
    this._chosen = 0;
    /** Whether chords with their thirds are wanted, where a style has them. */
    this._thirds = music.choices[0].thirds;
    /** @type {Map<number, readonly Piece[]>} */
    this._pieces = new Map();
  }

  /** All that there are. @returns {readonly Offered[]} */
  get all() {
    return this._music.choices;
  }

  /** What is wanted: a style without thirds has them neither in nor out. @returns {Choice} */
  get now() {
    const { box, style } = this.all[this._chosen];
    return { box, style, thirds: this._thirds };
  }

  /** What the style is called that is chosen. */
  get called() {
    return this.all[this._chosen].called;
  }

  /** The tunes that are practised. @returns {readonly Piece[]} */
  get pieces() {
    let found = this._pieces.get(this._chosen);
    if (!found) {
      const { choices, score } = this._music;
      found = /** @type {Piece[]} */ (
        choices[this._chosen].pieces.map((/** @type {any} */ piece) => ({
          faces: new Faces(piece.faces, score),
          tune: tuneOf(piece.tune),
        }))
      );
      this._pieces.set(this._chosen, found);
    }
    return found;
  }

  /**
   * Choose another, as near to what is wanted as there is one; whether anything is another now.
   * @param {{[Name in keyof Choice]?: unknown}} wanted
   */
  choose({ box, style, thirds }) {
    const before = this._chosen;
    if (typeof thirds === "boolean") this._thirds = thirds;
    const same = this.all.filter((each) => each.box === box && each.style === style);
    const found = same.find((each) => each.thirds === this._thirds) ?? same[0];
    if (found) this._chosen = this.all.indexOf(found);
    return this._chosen !== before;
  }
}
