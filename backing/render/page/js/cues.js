/**
 * A stretch of a practice as cues: what is to sound, and what there is to show, tick by tick.
 * Muted tracks are among them: whether they sound is decided when their time comes.
 *
 * @typedef {import("./arrangement.js").BellowsSpan} BellowsSpan
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./fraction.js").Fraction} Fraction
 * @typedef {import("./stretch.js").Stretch} Stretch
 * @typedef {{kind: "strike", role: Role, key: number, velocity: number, stop: number,
 *   muted: boolean, always: boolean}} KeyStrike `muted`: its stretch has it so; `always`: it
 *   sounds whatever the player mutes
 * @typedef {{kind: "beat", stretch: Stretch, bar: MappedBar, place: number, beats: number,
 *   line: number, number: number}} FeltBeat `line` is where the next bar line comes
 * @typedef {{kind: "chord", text: string}} ChordNow
 * @typedef {{kind: "bellows", span: BellowsSpan}} Bellows
 * @typedef {{kind: "ears", ears: "left" | "right" | "both"}} EarsNow
 * @typedef {{kind: "release", keep: number, role: Role | null}} Release notes of other stretches
 *   end
 * @typedef {{kind: "off", note: import("./notes.js").Note}} Off
 * @typedef {KeyStrike | FeltBeat | ChordNow | Bellows | EarsNow | Release | Off} Content
 * @typedef {{tick: number, order: number, stretch: number, said: Content}} Cue
 */
import { beatsOf, ROLES, stopOf } from "./arrangement.js";
import { clicks } from "./clicks.js";
import { keyPresses, ticks } from "./presses.js";

/** What comes first at one tick; at one tick click and melody sound before the left hand. */
export const OFF = 0;
const ON = { click: 3, melody: 4, bass: 6, chords: 7 };
const SHOW = 9;

/** @param {Cue} one @param {Cue} other */
export const byTime = (one, other) => one.tick - other.tick || one.order - other.order;

/**
 * The cues of a bar of a stretch; the first bar's hold those of a pickup before it, the last bar's
 * all that is left.
 * @param {Stretch} stretch @param {number} at the bar's place @param {number} number the stretch's
 * @param {Fraction} scale how much faster than asked it is played @returns {Cue[]}
 */
export function cuesOf(stretch, at, number, scale) {
  const { frame, grid } = stretch;
  const bar = frame[at];
  const start = at ? bar.onset : null;
  const stop = at + 1 < frame.length ? stopOf(bar) : null;
  /** @param {number} position @param {number} order @param {Content} said @returns {Cue} */
  const cue = (position, order, said) => ({
    tick: ticks(position, grid),
    order,
    stretch: number,
    said,
  });
  const found = [
    ...strikes(stretch, "click", clicks(stretch, scale)[at], number),
    ...(stretch.sounding ? ROLES : []).flatMap((role, track) =>
      strikes(stretch, role, stretch.events(track, start, stop, scale), number),
    ),
    ...beats(stretch, at).map((beat) => cue(beat.onset, SHOW, beat.said)),
  ];
  if (!at) {
    found.push(cue(stretch.start, SHOW, { kind: "chord", text: stretch.chord }));
    if (stretch.ears) found.push(cue(stretch.start, OFF, { kind: "ears", ears: stretch.ears }));
  }
  const { sounding } = stretch;
  for (const { onset, text } of sounding?.chords(start, stop) ?? []) {
    found.push(cue(onset, SHOW, { kind: "chord", text }));
  }
  for (const span of sounding?.bellows(start, stop) ?? []) {
    found.push(cue(span.start, OFF, { kind: "bellows", span }));
  }
  return found;
}

/**
 * The keys that go down.
 * @param {Stretch} stretch @param {Role} role @param {readonly Event[]} events
 * @param {number} number @returns {Cue[]}
 */
function strikes(stretch, role, events, number) {
  const muted = stretch.muted.includes(role);
  const always = role === "click" && stretch.kind === "count-in";
  return keyPresses(events, stretch.grid).map(({ onset, stop, key, velocity }) => ({
    tick: onset,
    order: ON[role],
    stretch: number,
    said: { kind: "strike", role, key, velocity, stop, muted, always },
  }));
}

/**
 * The beats of a bar; one that begins off the beat has its start as one.
 * @param {Stretch} stretch @param {number} at @returns {{onset: number, said: FeltBeat}[]}
 */
function beats(stretch, at) {
  const { frame, grid } = stretch;
  const bar = frame[at];
  const found = beatsOf(bar, grid);
  const most = Math.max(bar.metre.beats.length, found.length);
  const places = found.map((beat) => ({ on: beat.at, place: beat.place }));
  if (!places.length || places[0].on > 0) {
    places.unshift({ on: 0, place: Math.max(most - found.length - 1, 0) });
  }
  let line = stopOf(bar);
  for (let next = at + 1; next < frame.length && frame[next].begins; next += 1) {
    line = stopOf(frame[next]);
  }
  return places.map(({ on, place }) => ({
    onset: bar.onset + on,
    said: { kind: "beat", stretch, bar, place, beats: most, line, number: stretch.first + at },
  }));
}
