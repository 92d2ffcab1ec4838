/**
 * Which bars of a tune are practised.
 *
 * @typedef {{kind: "whole"}} Whole
 * @typedef {{kind: "bars", first: number, last: number, ending: number | null}} Bars as numbered
 *   in print, both played; with an ending the bars of others are left out
 * @typedef {{kind: "section", name: string, ending: number | null}} OneSection
 * @typedef {{kind: "join", name: string, following: string, bars: number}} Join
 * @typedef {Whole | Bars | OneSection | Join} Passage
 * @typedef {import("./score.js").Tune} Tune
 */

/** @type {Whole} */
export const WHOLE = { kind: "whole" };

/** Something that cannot be practised; what it says is for the player. */
export class PracticeError extends Error {}

/** @param {Passage} span a tune never varies in it, and never comes to its end */
export const isFragment = (span) => span.kind === "bars" || span.kind === "join";

/** @param {Passage} one @param {Passage} other */
export const samePassage = (one, other) => nameOf(one) === nameOf(other);

/** @param {Passage} span a name for it, for looking it up */
export function nameOf(span) {
  if (span.kind === "bars") return `${span.first}-${span.last} ${span.ending ?? ""}`;
  if (span.kind === "section") return `part ${span.name} ${span.ending ?? ""}`;
  return span.kind === "join" ? `join ${span.name}-${span.following} ${span.bars}` : "whole";
}

/**
 * The indices of the written bars that a span plays straight, pickups left out.
 * @param {Tune} tune @param {Passage} span @returns {number[]}
 */
export function findBars(tune, span) {
  if (span.kind === "bars") return numbered(tune, span);
  if (span.kind === "join") return joined(tune, span);
  if (span.kind === "section") return inSection(tune, span);
  return tune.bars.map((_, index) => index);
}

/** @param {Tune} tune @param {Bars} span */
function numbered(tune, span) {
  const numbers = tune.bars.map((bar) => bar.number);
  const outside = span.last > Math.max(...numbers) || span.first < Math.min(...numbers);
  if (span.first > span.last || outside) {
    throw new PracticeError(`there are no bars ${span.first}-${span.last} here`);
  }
  const indices = tune.bars.flatMap((bar, index) =>
    span.first <= bar.number && bar.number <= span.last && withEnding(tune, bar, span.ending)
      ? [index]
      : [],
  );
  while (indices.length > 1 && tune.bars[indices[indices.length - 1]].pickup) indices.pop();
  return indices;
}

/**
 * True for a bar of no ending, or of this one; of the last where its section has fewer.
 * @param {Tune} tune @param {import("./score.js").WrittenBar} bar @param {number | null} ending
 */
function withEnding(tune, bar, ending) {
  if (ending === null || bar.ending === null) return true;
  return bar.ending.includes(Math.min(ending, Math.max(...endingsOf(tune, bar.section))));
}

/** @param {Tune} tune @param {string} name */
export const endingsOf = (tune, name) => findSection(tune, name).endings;

/** @param {Tune} tune @param {OneSection} span */
function inSection(tune, span) {
  const section = findSection(tune, span.name);
  if (span.ending !== null && !section.endings.includes(span.ending)) {
    throw new PracticeError(`part ${section.name} has no ending ${span.ending}`);
  }
  const ending = span.ending || Math.max(...section.endings, section.endings.length ? 0 : 1);
  const found = [];
  for (let index = section.start; index < section.stop; index += 1) {
    const marked = tune.bars[index].ending;
    if (marked === null || marked.includes(ending)) found.push(index);
  }
  return found;
}

/** @param {Tune} tune @param {Join} span */
function joined(tune, span) {
  const same = findSection(tune, span.name) === findSection(tune, span.following);
  const endings = endingsOf(tune, span.name);
  const ending = same && endings.length ? endings[0] : null;
  const before = inSection(tune, { kind: "section", name: span.name, ending });
  const after = inSection(tune, { kind: "section", name: span.following, ending: null });
  /** @param {number} index */
  const isFull = (index) => !tune.bars[index].begins;
  const full = before.filter(isFull).slice(-span.bars);
  const first = after.filter(isFull).slice(0, span.bars);
  if (!full.length || !first.length) throw new PracticeError("there is no full bar to join");
  const ends = before.filter((index) => index >= full[0]);
  const lead = after.filter((index) => index < first[0]);
  return [
    ...ends,
    ...(hasRoom(tune, ends[ends.length - 1], lead) ? lead : []),
    ...after.filter((index) => first[0] <= index && index <= first[first.length - 1]),
  ];
}

/** True where a pickup stands right behind a bar, or completes it. @param {Tune} tune @param {number} last @param {number[]} lead */
function hasRoom(tune, last, lead) {
  if (!lead.length || lead[0] === last + 1) return true;
  const pickup = lead.reduce((sum, index) => sum + tune.bars[index].length, 0);
  return pickup <= tune.bars[last].room;
}

/** @param {Tune} tune @param {string} name */
function findSection(tune, name) {
  const wanted = name.trim().toLowerCase();
  const found = tune.sections.find((section) => section.name.toLowerCase() === wanted);
  if (!found) throw new PracticeError(`there is no part ${name}`);
  return found;
}
