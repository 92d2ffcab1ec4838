/**
 * A round: one time through a span, with its pickup and its seam.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./score.js").Tune} Tune
 * @typedef {{piece: Arrangement, again: Arrangement, lead: readonly MappedBar[],
 *   frame: readonly MappedBar[], fits: boolean, once: boolean}} Round
 */
import {
  beatsOf,
  bellowsBetween,
  cut,
  endOf,
  join,
  roomOf,
  shifted,
  startOf,
  stopOf,
} from "./arrangement.js";
import { findBars, PracticeError } from "./passages.js";

/** @param {Round} found length of what leads into the first full bar */
export const pickupOf = (found) => -startOf(found.piece);
/** @param {Round} found how much the last bar was filled up by */
export const roomAfter = (found) => stopOf(found.frame[found.frame.length - 1]) - endOf(found.piece);

/**
 * The bars of a span in one piece, with the pickup that leads into them.
 * @param {Arrangement} arrangement @param {Tune} tune @param {Passage} span
 * @param {{wholePickup: boolean, edges: boolean, grid: number}} how @returns {Round}
 */
export function findRound(arrangement, tune, span, { wholePickup, edges, grid }) {
  let piece = arrangement;
  if (span.kind !== "whole") {
    piece = gather(arrangement, tune, findBars(tune, span));
    if (edges) {
      piece = join([...before(arrangement, piece, grid), piece, ...after(arrangement, piece, grid)]);
    }
  }
  let pickups = 0;
  while (pickups + 1 < piece.bars.length && piece.bars[pickups].begins) pickups += 1;
  return seam(shifted(piece, -piece.bars[pickups].onset), pickups, wholePickup);
}

/** @param {Arrangement} arrangement @param {Tune} tune @param {number[]} indices */
function gather(arrangement, tune, indices) {
  const first = indices[0];
  const led = first && tune.bars[first - 1].pickup && !tune.bars[first].pickup;
  const wanted = led ? [first - 1, ...indices] : indices;
  const pieces = [];
  for (let at = 0; at < wanted.length; ) {
    const [start, count] = longestRun(arrangement.bars, wanted.slice(at));
    const bars = arrangement.bars.slice(start, start + count);
    pieces.push(cut(arrangement, bars[0].onset, stopOf(bars[count - 1])));
    at += count;
  }
  const joined = join(pieces);
  return { ...joined, bars: joined.bars.map((bar) => ({ ...bar, time: 1 })) };
}

/** @param {Arrangement} arrangement @param {Arrangement} piece @param {number} grid */
function before(arrangement, piece, grid) {
  const first = piece.bars[0];
  const place = placeOf(arrangement, first);
  if (first.begins || !place) return [];
  const bar = arrangement.bars[place - 1];
  const beats = beatsOf(bar, grid);
  const { at, length: beat } = beats[beats.length - 1];
  const length = Math.min(beat, bar.length - at);
  const onset = bar.onset + at;
  const full = bar.metre.length || grid;
  const short = { ...bar, onset, length, begins: full - length, time: 1 };
  return [{ ...cut(arrangement, onset, onset + length), bars: [short] }];
}

/** @param {Arrangement} arrangement @param {Arrangement} piece @param {number} grid */
function after(arrangement, piece, grid) {
  let place = placeOf(arrangement, piece.bars[piece.bars.length - 1]) + 1;
  if (place === arrangement.bars.length) return [];
  while (arrangement.bars[place].begins && place + 1 < arrangement.bars.length) place += 1;
  const bar = arrangement.bars[place];
  const beat = beatsOf(bar, grid)[0].length;
  const landing = cut(arrangement, bar.onset, stopOf(bar));
  const melody = landing.tracks[0];
  const notes = melody.filter((event) => event.origin === melody[0].origin);
  const length = Math.max(beat, ...notes.map((event) => stopOf(event) - bar.onset));
  const hands = cut(landing, bar.onset, bar.onset + beat).tracks.slice(1);
  return [{ ...landing, bars: [{ ...bar, length, time: 1 }], tracks: [notes, ...hands] }];
}

/** @param {Arrangement} arrangement @param {MappedBar} bar where it is first played */
function placeOf(arrangement, bar) {
  return arrangement.bars.findIndex((other) => other.index === bar.index);
}

/** @param {readonly MappedBar[]} bars @param {number[]} indices */
function longestRun(bars, indices) {
  let best = [0, 0];
  bars.forEach((_, start) => {
    let count = 0;
    while (count < indices.length && bars[start + count]?.index === indices[count]) count += 1;
    if (count > best[1]) best = [start, count];
  });
  if (!best[1]) throw new PracticeError("these bars are never played");
  return best;
}

/**
 * See that the last bar and the pickup make one bar.
 * @param {Arrangement} piece @param {number} pickups @param {boolean} wholePickup
 * @returns {Round}
 */
function seam(piece, pickups, wholePickup) {
  const lead = piece.bars.slice(0, pickups);
  const frame = piece.bars.slice(pickups);
  const last = frame[frame.length - 1];
  frame[frame.length - 1] = { ...last, length: last.length + roomOf(last) };
  const plain = { piece, again: piece, lead, frame, fits: true, once: false };
  const [pickup, stop] = [-startOf(piece), stopOf(frame[frame.length - 1])];
  if (pickup <= roomOf(last)) return plain;
  if (endsWithPickup(piece, pickup)) return { ...plain, once: true };
  if (struckFrom(piece, last.onset).some((onset) => onset >= stop - pickup)) {
    return wholePickup ? { ...plain, fits: false } : { ...plain, once: true };
  }
  return { ...plain, again: melodyEnded(piece, stop - pickup) };
}

/** @param {Arrangement} piece @param {number} pickup */
function endsWithPickup(piece, pickup) {
  const start = endOf(piece) - pickup;
  /** @param {import("./arrangement.js").Event} event @param {number} from */
  const told = (event, from) => `${event.onset - from} ${event.length} ${event.keys}`;
  const events = piece.tracks[0];
  const lead = events.filter((event) => event.onset < 0).map((event) => told(event, -pickup));
  const tail = events.filter((event) => event.onset >= start).map((event) => told(event, start));
  return lead.length > 0 && lead.join("\n") === tail.join("\n");
}

/** Where the melody's notes from `start` on begin. @param {Arrangement} piece @param {number} start */
function struckFrom(piece, start) {
  /** @type {Map<number, number>} */
  const found = new Map();
  for (const event of piece.tracks[0]) {
    if (event.onset >= start && !found.has(event.origin)) found.set(event.origin, event.onset);
  }
  return [...found.values()];
}

/**
 * The piece with its melody, and the bellows that it moves, ended at a position.
 * @param {Arrangement} piece @param {number} stop @returns {Arrangement}
 */
export function melodyEnded(piece, stop) {
  const melody = piece.tracks[0]
    .filter((event) => event.onset < stop)
    .map((event) => ({ ...event, length: Math.min(event.length, stop - event.onset) }));
  return {
    ...piece,
    tracks: [melody, ...piece.tracks.slice(1)],
    bellows: bellowsBetween(piece.bellows, startOf(piece), stop),
  };
}
