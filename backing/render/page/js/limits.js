/**
 * Limits in seconds, kept at the tempo that is played: cuts, trills, the shortest bass.
 *
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {(position: number) => Fraction} Speed whole notes a second at a position
 */
import { stopOf } from "./arrangement.js";
import { ceil, floor, product } from "./fraction.js";

/** Limits are kept in whole ticks of a file. */
export const WHOLE_TICKS = 3840;

/**
 * The same notes, none longer or shorter than its limit.
 * @param {readonly Event[]} events @param {Speed} speed @param {number} end
 * @param {number} grid @returns {readonly Event[]}
 */
export function withinLimits(events, speed, end, grid) {
  if (!events.some((event) => event.limit)) return events;
  const tick = grid / WHOLE_TICKS;
  /** @type {Event[]} */
  const found = [];
  let [was, now] = [0, 0]; // where the note before stopped, and where it stops now
  for (let at = 0; at < events.length; ) {
    const written = events[at];
    let event = written;
    if (found.length && was !== now && event.onset === was) {
      event = { ...event, onset: now, length: stopOf(event) - now };
    }
    if (event.limit?.trill) {
      const count = trillLength(events, at);
      found.push(...slowedTrill([event, ...events.slice(at + 1, at + count)], speed, tick));
      at += count;
      continue;
    }
    if (event.limit) {
      const length = kept(event, written.length, speed(event.onset), end, tick);
      if (length < written.length || event.onset !== written.onset) {
        [was, now] = [stopOf(written), event.onset + length];
      }
      event = { ...event, length };
    }
    found.push(event);
    at += 1;
  }
  return found;
}

/**
 * The length of a note within its limit; it was written so long.
 * @param {Event} event @param {number} written @param {Fraction} wholes @param {number} end
 * @param {number} tick
 */
function kept(event, written, wholes, end, tick) {
  if (!event.limit) return written;
  const { least, most } = event.limit;
  if (most) return Math.min(written, floor(product(product(most, wholes), [WHOLE_TICKS, 1])) * tick);
  return Math.max(written, Math.min(atLeast(least, wholes, tick), end - event.onset));
}

/** @param {Fraction} seconds @param {Fraction} wholes @param {number} tick */
function atLeast(seconds, wholes, tick) {
  return ceil(product(product(seconds, wholes), [WHOLE_TICKS, 1])) * tick;
}

/** @param {readonly Event[]} events @param {number} at how many events are one trill */
function trillLength(events, at) {
  let stop = at + 1;
  for (; stop < events.length; stop += 1) {
    const [one, other] = [events[stop - 1], events[stop]];
    if (!other.limit?.trill || other.origin !== one.origin) break;
    if (String(other.keys) === String(one.keys)) break;
  }
  return stop - at;
}

/** @param {readonly Event[]} notes @param {Speed} speed @param {number} tick */
function slowedTrill(notes, speed, tick) {
  const limit = notes[0].limit;
  const each = limit ? atLeast(limit.least, speed(notes[0].onset), tick) : 0;
  const [first, last] = [notes[0], notes[notes.length - 1]];
  if (notes.length < 2 || Math.min(...notes.slice(0, -1).map((n) => n.length)) >= each) return notes;
  const room = stopOf(last) - first.onset;
  let count = notes.length;
  while (count > 1 && (count - 0.5) * each > room) count -= 2;
  let before = count > 1 ? notes.slice(0, count - 1) : [];
  if (count === 1 && 1.5 * each <= room) before = notes.slice(1, 2);
  const placed = before.map((note, place) => ({
    ...note,
    onset: first.onset + place * each,
    length: each,
  }));
  const onset = first.onset + placed.length * each;
  return [...placed, { ...last, onset, length: stopOf(last) - onset }];
}
