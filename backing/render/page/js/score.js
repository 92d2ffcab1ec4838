/**
 * What the page's data holds, unpacked: the tunes, each with its written bars and its arrangements
 * for each time through.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./arrangement.js").Metre} Metre
 * @typedef {import("./arrangement.js").TimeLimit} TimeLimit
 * @typedef {{time: number, last: boolean, alone: boolean}} Face
 * @typedef {{number: number, section: string, pickup: boolean, begins: boolean,
 *   ending: readonly number[] | null, length: number, room: number}} WrittenBar `room` is what it
 *   lacks to a full bar
 * @typedef {{name: string, start: number, stop: number, endings: readonly number[]}} Section
 * @typedef {{bars: readonly WrittenBar[], sections: readonly Section[]}} Tune
 * @typedef {{faces: Faces, tune: Tune}} Piece
 * @typedef {{grid: number, cells: number[][][], lines: number[][], metres: any[][],
 *   limits: any[][]}} ScoreData
 */

const NOTES = 2 ** 20;
/** The tune played once. @type {Face} */
export const ONCE = { time: 1, last: true, alone: false };

/** @param {Face} face */
export function faceName(face) {
  return `${face.time} ${face.last ? "last" : "on"}${face.alone ? " alone" : ""}`;
}

/** The arrangements of a tune for each time through, unpacked when they are asked for. */
export class Faces {
  /** @param {any} data @param {ScoreData} score */
  constructor(data, score) {
    this._data = data;
    this._score = score;
    /** @type {Map<string, Arrangement>} */
    this._made = new Map();
    /** @type {Metre[]} */
    const metres = score.metres.map(([length, beats, strong]) => ({ length, beats, strong }));
    /** @type {MappedBar[]} */
    const bars = data.bars.map((/** @type {any[]} */ row) => ({
      index: row[0],
      number: row[1],
      section: row[2],
      time: row[3],
      ending: row[4],
      onset: row[5],
      length: row[6],
      metre: metres[row[7]],
      begins: row[8],
      part: row[9],
    }));
    this._bars = bars;
    /** @type {Omit<Arrangement, "tracks">} */
    this._frame = {
      title: data.title,
      bars,
      tempos: data.tempos.map((/** @type {any[]} */ [onset, beats, unit, held]) => ({
        onset,
        tempo: { beats, unit },
        held: Boolean(held),
      })),
      chords: data.chords.map((/** @type {any[]} */ [onset, text]) => ({ onset, text })),
      bellows: data.bellows.map((/** @type {any[]} */ [start, stop, way, beat]) => ({
        start,
        stop,
        way,
        beat,
      })),
    };
    this._melody = this._line(data.melody);
    /** What a tag strikes, of bass and of chords. @type {(Event | null)[][]} */
    this.tag = data.tag.map((/** @type {any[]} */ hand) =>
      hand.map((row) => row && this._event(row, 0, 0)),
    );
  }

  /** @param {Face} face */
  arrangement(face = ONCE) {
    const name = faceName({ ...face, time: Math.min(face.time, this._data.different) });
    let made = this._made.get(name);
    if (!made) {
      const hands = this._data.hands[name].map((/** @type {number} */ line) => this._line(line));
      made = { ...this._frame, tracks: [this._melody, ...hands] };
      this._made.set(name, made);
    }
    return made;
  }

  /** @param {number} number */
  _line(number) {
    const cells = this._score.lines[number];
    return this._bars.flatMap((bar, place) =>
      this._score.cells[cells[place]].map((row) => this._event(row, bar.onset, bar.index)),
    );
  }

  /** @param {number[]} row @param {number} onset @param {number} bar @returns {Event} */
  _event([offset, length, velocity, limit, origin, ...keys], onset, bar) {
    return {
      onset: onset + offset,
      length,
      keys,
      velocity,
      origin: origin === -1 ? -1 : bar * NOTES + origin,
      limit: limit < 0 ? null : limitsOf(this._score)[limit],
    };
  }
}

/** @type {WeakMap<ScoreData, TimeLimit[]>} */
const known = new WeakMap();

/**
 * The limits in seconds: one object each, as the others compare them.
 * @param {ScoreData} score
 */
function limitsOf(score) {
  let found = known.get(score);
  if (!found) {
    found = score.limits.map(([least, most, trill]) => ({ least, most, trill }));
    known.set(score, found);
  }
  return found;
}

/** @param {any} data @returns {Tune} */
export function tuneOf(data) {
  return {
    bars: data.bars.map((/** @type {any[]} */ row) => ({
      number: row[0],
      section: row[1],
      pickup: row[2],
      begins: row[3],
      ending: row[4],
      length: row[5],
      room: row[6],
    })),
    sections: data.sections.map((/** @type {any[]} */ [name, start, stop, endings]) => ({
      name,
      start,
      stop,
      endings,
    })),
  };
}

