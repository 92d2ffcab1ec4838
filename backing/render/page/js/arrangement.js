/**
 * A tune as it is played once: values that never change.  Positions are steps of the page's grid;
 * the first full bar starts at 0.
 *
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {{length: number, beats: readonly number[], strong: readonly number[]}} Metre
 * @typedef {{index: number, number: number, section: string, time: number,
 *   ending: readonly number[] | null, onset: number, length: number, metre: Metre,
 *   begins: number, part: number}} MappedBar
 * @typedef {{least: Fraction, most: Fraction | null, trill: boolean}} TimeLimit
 * @typedef {{onset: number, length: number, keys: readonly number[], velocity: number,
 *   origin: number, limit: TimeLimit | null}} Event
 * @typedef {{beats: Fraction, unit: Fraction}} Tempo
 * @typedef {{onset: number, tempo: Tempo, held: boolean}} PlacedTempo
 * @typedef {{onset: number, text: string}} PlacedText
 * @typedef {{start: number, stop: number, way: string, beat: number}} BellowsSpan
 * @typedef {"melody" | "bass" | "chords" | "click"} Role
 * @typedef {{title: string, bars: readonly MappedBar[], tracks: readonly (readonly Event[])[],
 *   tempos: readonly PlacedTempo[], chords: readonly PlacedText[],
 *   bellows: readonly BellowsSpan[]}} Arrangement
 */
import { product } from "./fraction.js";
import { bisectRight } from "./search.js";

/** The tracks of an arrangement, in their order. @type {readonly Role[]} */
export const ROLES = ["melody", "bass", "chords"];
/** @param {number} track */
export const isLeftHand = (track) => track > 0;
/** @param {{onset: number}} placed */
export const onsetOf = (placed) => placed.onset;
/** @param {{onset: number, length: number}} placed */
export const stopOf = (placed) => placed.onset + placed.length;
/** @param {Tempo} tempo whole notes a minute */
export const wholesOf = (tempo) => product(tempo.beats, tempo.unit);
/** @param {Tempo} tempo @param {Fraction} factor @returns {Tempo} */
export const scaled = (tempo, factor) => ({ ...tempo, beats: product(tempo.beats, factor) });
/** @param {Arrangement} piece */
export const startOf = (piece) => piece.bars[0].onset;
/** @param {Arrangement} piece */
export const endOf = (piece) => stopOf(piece.bars[piece.bars.length - 1]);
/** @param {MappedBar} bar what a short bar lacks to a full one */
export const roomOf = (bar) => Math.max(bar.metre.length - bar.begins - bar.length, 0);

/**
 * The tempo in force at a position, fermatas left aside.
 * @param {Arrangement} piece @param {number} position
 */
export function tempoAt(piece, position) {
  const steady = piece.tempos.filter((placed) => !placed.held);
  const place = bisectRight(steady, position, onsetOf);
  return steady[Math.max(place - 1, 0)].tempo;
}

/**
 * The felt beats of a bar: position from its start, length, place in the metre from 0.
 * @param {MappedBar} bar @param {number} grid
 * @returns {{at: number, length: number, place: number}[]}
 */
export function beatsOf(bar, grid) {
  const free = !bar.metre.length;
  const lengths = bar.metre.beats.length ? bar.metre.beats : [grid / 4];
  const found = [];
  let place = 0;
  for (let at = -bar.begins; at < bar.length; ) {
    const length = lengths[place % lengths.length];
    if (at >= 0) found.push({ at, length, place });
    at += length;
    place = free ? place + 1 : (place + 1) % lengths.length;
  }
  return found;
}

/**
 * What sounds in the span [start, stop), with the bars that lie in it.
 * @param {Arrangement} piece @param {number} start @param {number} stop @returns {Arrangement}
 */
export function cut(piece, start, stop) {
  if (start <= startOf(piece) && stop >= endOf(piece)) return piece;
  /** @param {{onset: number}} placed */
  const inside = (placed) => start <= placed.onset && placed.onset < stop;
  const first = { onset: start, tempo: tempoAt(piece, start), held: false };
  return {
    ...piece,
    bars: piece.bars.filter(inside),
    tracks: piece.tracks.map((events, track) => cutEvents(events, isLeftHand(track), start, stop)),
    tempos: [first, ...piece.tempos.filter(inside)],
    chords: piece.chords.filter(inside),
    bellows: bellowsBetween(piece.bellows, start, stop),
  };
}

/**
 * Held bass and chords are struck `again` where a cut begins, the melody is not.
 * @param {readonly Event[]} events @param {boolean} again @param {number} start
 * @param {number} stop
 */
function cutEvents(events, again, start, stop) {
  const found = [];
  for (const event of events) {
    if (event.onset >= stop) break;
    const onset = Math.max(event.onset, start);
    if (onset > event.onset && (!again || stopOf(event) <= start)) continue;
    found.push({ ...event, onset, length: Math.min(stopOf(event), stop) - onset });
  }
  return found;
}

/**
 * How the bellows go in the span [start, stop).
 * @param {readonly BellowsSpan[]} spans @param {number} start @param {number} stop
 */
export function bellowsBetween(spans, start, stop) {
  return spans
    .filter((span) => span.stop > start && span.start < stop)
    .map((span) => ({
      ...span,
      start: Math.max(span.start, start),
      stop: Math.min(span.stop, stop),
    }));
}

/**
 * The same at positions later by `by`.
 * @template {{onset: number}} Placed
 * @param {readonly Placed[]} row @param {number} by @returns {readonly Placed[]}
 */
export function later(row, by) {
  return by ? row.map((placed) => ({ ...placed, onset: placed.onset + by })) : row;
}

/** @param {readonly BellowsSpan[]} spans @param {number} by */
export function bellowsLater(spans, by) {
  return spans.map((span) => ({ ...span, start: span.start + by, stop: span.stop + by }));
}

/** @param {Arrangement} piece @param {number} by @returns {Arrangement} */
export function shifted(piece, by) {
  if (!by) return piece;
  return {
    ...piece,
    bars: later(piece.bars, by),
    tracks: piece.tracks.map((events) => later(events, by)),
    tempos: later(piece.tempos, by),
    chords: later(piece.chords, by),
    bellows: bellowsLater(piece.bellows, by),
  };
}

/**
 * Pieces one after the other, each at the end of the one before.
 * @param {readonly Arrangement[]} pieces @returns {Arrangement}
 */
export function join(pieces) {
  return pieces.reduce((joined, following) => {
    const piece = shifted(following, endOf(joined) - startOf(following));
    return {
      ...joined,
      bars: [...joined.bars, ...piece.bars],
      tracks: joined.tracks.map((events, track) => [...events, ...piece.tracks[track]]),
      tempos: [...joined.tempos, ...piece.tempos],
      chords: [...joined.chords, ...piece.chords],
      bellows: oneWayEach([...joined.bellows, ...piece.bellows]),
    };
  });
}

/**
 * Neighbours that go the same way are one span.
 * @param {readonly BellowsSpan[]} spans
 */
function oneWayEach(spans) {
  /** @type {BellowsSpan[]} */
  const found = [];
  for (const span of spans) {
    const last = found[found.length - 1];
    if (last && last.way === span.way && last.stop === span.start) {
      found[found.length - 1] = { ...last, stop: span.stop };
    } else found.push(span);
  }
  return found;
}
