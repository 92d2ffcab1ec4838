/**
 * How a practice begins and how it comes to its end, beyond clicks and the style's own stop.
 *
 * @typedef {import("./arrangement.js").Arrangement} Arrangement
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 */
import {
  beatsOf,
  cut,
  endOf,
  scaled,
  shifted,
  stopOf,
  tempoAt,
} from "./arrangement.js";
import { fraction } from "./fraction.js";
import { melodyEnded } from "./round.js";
import { plainBar } from "./stretch.js";

/** How slow the tune gets when it slows down at its end (3/5), and over how many bars. */
const SLOWING_BARS = 2;
/** How many bars of the first strain lead in. */
const LEAD_IN_BARS = 2;

/**
 * The left hand over bars before the tune, on its first harmony.
 * @param {Arrangement} tune @param {readonly MappedBar[]} bars @param {boolean} held
 * @param {number} grid
 */
export function ledByChord(tune, bars, held, grid) {
  const [bass, chord] = [1, 2].map((track) => tune.tracks[track].slice(0, 1));
  if (held) {
    const onset = bars[0].onset;
    const length = stopOf(bars[bars.length - 1]) - onset;
    const [low, high] = [bass, chord].map((hand) =>
      hand.map((event) => ({ ...event, onset, length, origin: -1 })),
    );
    return leftHand(tune, bars, low, high);
  }
  const low = bass.flatMap((event) => beats(bars, true, grid).map((b) => placed(event, b.onset, b.half)));
  const high = chord.flatMap((event) =>
    beats(bars, false, grid).map((b) => placed(event, b.onset, b.half)),
  );
  return leftHand(tune, bars, low, high);
}

/**
 * Onset and half the length of each strong beat, or of the others.
 * @param {readonly MappedBar[]} bars @param {boolean} strong @param {number} grid
 */
function beats(bars, strong, grid) {
  return bars.flatMap((bar) => {
    const starts = bar.metre.beats.length ? bar.metre.strong : [0];
    return beatsOf(bar, grid)
      .filter(({ place }) => starts.includes(place) === strong)
      .map(({ at, length }) => ({ onset: bar.onset + at, half: length / 2 }));
  });
}

/** @param {Event} event @param {number} onset @param {number} length @returns {Event} */
function placed(event, onset, length) {
  return { ...event, onset, length, origin: -1 };
}

/**
 * A piece in which the left hand plays alone.
 * @param {Arrangement} tune @param {readonly MappedBar[]} bars @param {readonly Event[]} low
 * @param {readonly Event[]} high @returns {Arrangement}
 */
function leftHand(tune, bars, low, high) {
  const onset = bars[0].onset;
  return {
    title: tune.title,
    bars,
    tracks: [[], low, high],
    tempos: [{ onset, tempo: tempoAt(tune, onset), held: false }],
    chords: [],
    bellows: [],
  };
}

/**
 * The last bars of the first strain as they lead into the tune; from 0 on.
 * @param {Arrangement} tune @param {number} pickup @param {number} grid
 */
export function lastBars(tune, pickup, grid) {
  const first = tune.bars.filter((bar) => bar.part === tune.bars[0].part && !bar.begins);
  const lead = first.slice(-LEAD_IN_BARS);
  const last = lead[lead.length - 1];
  const piece = cut(tune, lead[0].onset, stopOf(last));
  const bars = piece.bars.map((bar) => ({ ...plainBar(bar, bar.onset, grid), length: bar.length }));
  const room = last.onset + (last.metre.length || last.length) - pickup;
  return shifted(melodyEnded({ ...piece, bars }, room), -lead[0].onset);
}

/**
 * A time through with its close; a tag comes after it and changes nothing here.
 * @param {Arrangement} piece @param {"stop" | "held" | "tag" | "slow"} close @param {number} grid
 */
export function withClose(piece, close, grid) {
  if (close === "held") return heldToTheEnd(piece);
  return close === "slow" ? slowed(piece, grid) : piece;
}

/** @param {Arrangement} piece @returns {Arrangement} */
function heldToTheEnd(piece) {
  const last = piece.bars[piece.bars.length - 1];
  const stop = Math.max(endOf(piece), last.onset - last.begins + last.metre.length);
  const [melody, ...hands] = piece.tracks;
  return { ...piece, tracks: [melody, ...hands.map((hand) => keptKeys(hand, last.onset, stop))] };
}

/**
 * A hand that keeps its last keys, from their first stroke after `start`.
 * @param {readonly Event[]} events @param {number} start @param {number} stop
 */
function keptKeys(events, start, stop) {
  let first = events.length - 1;
  if (first < 0) return events;
  const keys = String(events[first].keys);
  while (first > 0 && String(events[first - 1].keys) === keys && events[first - 1].onset >= start) {
    first -= 1;
  }
  return [...events.slice(0, first), { ...events[first], length: stop - events[first].onset }];
}

/** Slower from beat to beat. @param {Arrangement} piece @param {number} grid @returns {Arrangement} */
function slowed(piece, grid) {
  const bars = piece.bars.filter((bar) => !bar.begins).slice(-SLOWING_BARS);
  const onsets = bars.flatMap((bar) => beatsOf(bar, grid).map(({ at }) => bar.onset + at));
  if (onsets.length < 2) return piece;
  const slower = onsets.slice(1).map((onset, place) => ({
    onset,
    tempo: scaled(
      tempoAt(piece, onset),
      fraction(5 * (onsets.length - 1) - 2 * (place + 1), 5 * (onsets.length - 1)),
    ),
    held: true,
  }));
  const before = piece.tempos.filter((tempo) => tempo.onset < slower[0].onset);
  return { ...piece, tempos: [...before, ...slower] };
}

/** How many bars a tag lasts. @param {MappedBar} bar */
export const tagBars = (bar) => (bar.metre.beats.length > 1 ? 1 : 2);

/**
 * Two chords after the tune, bass and chord together.
 * @param {Arrangement} piece @param {readonly (readonly (Event | null)[])[]} strokes what each
 * hand strikes @param {readonly MappedBar[]} bars @param {number} grid
 */
export function tagOf(piece, strokes, bars, grid) {
  let places = beats(bars, true, grid);
  if (places.length < 2) {
    places = bars.flatMap((bar) =>
      beatsOf(bar, grid).map(({ at, length }) => ({ onset: bar.onset + at, half: length / 2 })),
    );
  }
  const length = (4 * places[0].half) / 3;
  const [low, high] = strokes.map((hand) =>
    hand
      .slice(0, 2)
      .flatMap((event, place) => (event ? [placed(event, places[place].onset, length)] : [])),
  );
  return leftHand(piece, bars, low, high);
}
