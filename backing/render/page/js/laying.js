/**
 * Where what comes next lies: the bars of a count-in, of a gap, of a time through.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./round.js").Round} Round
 * @typedef {import("./stretch.js").Kind} Kind
 * @typedef {{span: Passage, bar: number, step: number, last: boolean, time: number}} Target
 * @typedef {{kind: Kind, target: Target, time: number, times: number, clicks: number,
 *   last: boolean, follows: boolean, lead: boolean, jumped: boolean, room: number}} Turn
 * @typedef {{at: number, room: number, led: boolean}} Free
 * @typedef {{frame: readonly MappedBar[], sounding: Sounding | null, free: Free}} Laid
 */
import { later, stopOf, wholesOf } from "./arrangement.js";
import { value } from "./fraction.js";
import { melodyEnded, pickupOf, roomAfter } from "./round.js";
import { fullLength, plainBar, Sounding } from "./stretch.js";

const FOUR_BEATS = 4;
/** Three-time slower than this is counted in with one bar. */
const QUICK = 100;

/** @param {Passage} span @param {Partial<Target>} more @returns {Target} */
export function targetOf(span, more = {}) {
  return { span, bar: 0, step: 0, last: false, time: 1, ...more };
}

/** @param {Kind} kind @param {Target} target @param {Partial<Turn>} more @returns {Turn} */
export function turnOf(kind, target, more = {}) {
  const plain = { time: 1, times: 1, clicks: 0, last: false, follows: false };
  return { kind, target, ...plain, lead: true, jumped: false, room: 0, ...more };
}

/**
 * So many full bars like this one, with room for a pickup at their end.
 * @param {number} count @param {MappedBar} bar @param {Free | null} free @param {number} grid
 * @returns {Laid}
 */
export function layClicks(count, bar, free, grid) {
  const full = fullLength(bar, grid);
  const at = free ? free.at : -count * full;
  const frame = Array.from({ length: count }, (_, place) => plainBar(bar, at + full * place, grid));
  return { frame, sounding: null, free: { at: at + full * count, room: full, led: false } };
}

/**
 * A piece of its own, from 0 on, in its place; a pickup may sound in its last bar.
 * @param {Arrangement} piece @param {Free | null} free @param {number} grid @returns {Laid}
 */
export function layPiece(piece, free, grid) {
  const last = piece.bars[piece.bars.length - 1];
  const full = fullLength(last, grid);
  const bars = [...piece.bars.slice(0, -1), { ...last, length: Math.max(last.length, full) }];
  const stop = stopOf(bars[bars.length - 1]);
  const by = free ? free.at : -stop;
  const frame = later(bars, by);
  return {
    frame,
    sounding: new Sounding(piece, by),
    free: { at: stop + by, room: full, led: false },
  };
}

/**
 * A time through, or what is left of it from a later bar on; the `pickup` into it goes into the
 * bar before where that has room.
 * @param {Turn} turn @param {Round} found @param {number} pickup @param {Free | null} known
 * @returns {Laid}
 */
export function layRound(turn, found, pickup, known) {
  const free = known ?? { at: -pickup, room: 0, led: false };
  const first = turn.target.bar;
  const led = free.led || !turn.lead || first > 0;
  const inside = led || pickupOf(found) <= free.room;
  const onset = found.frame[first].onset;
  const by = (inside ? free.at : free.at + pickupOf(found)) - onset;
  const bars = inside ? found.frame.slice(first) : [...found.lead, ...found.frame];
  let begin = null;
  if (led) begin = first && turn.lead ? onset - pickup : onset;
  const left = turn.jumped || first ? bars[0].onset : begin;
  const again = found.fits && turn.follows;
  const frame = later(bars, by);
  let piece = again ? found.again : found.piece;
  let room = again ? pickupOf(found) : roomAfter(found);
  if (turn.room > room) {
    room = turn.room;
    piece = melodyEnded(piece, stopOf(found.frame[found.frame.length - 1]) - room);
  }
  const sounding = new Sounding(piece, by, begin, left);
  const stop = stopOf(frame[frame.length - 1]);
  return { frame, sounding, free: { at: stop, room, led: found.once && turn.follows } };
}

/**
 * How many bars to count in.
 * @param {MappedBar} bar @param {import("./arrangement.js").Tempo} tempo @param {boolean} led
 */
export function countInBars(bar, tempo, led) {
  const beats = bar.metre.beats.length || 4;
  if (beats === 3 && value(tempo.beats) < QUICK && !led) return 1;
  return Math.ceil(FOUR_BEATS / beats);
}

/** @param {import("./arrangement.js").Tempo} tempo whole notes a second */
export const wholesASecond = (tempo) => value(wholesOf(tempo)) / 60;
