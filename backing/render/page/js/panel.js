/**
 * What is chosen seldom: what is practised and how, the left hand, the box, how loud it all is.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./score.js").Tune} Tune
 * @typedef {{box: string, style: string, thirds: boolean}} Choice
 * @typedef {Choice & {called: string}} Offered with what its style is called
 * @typedef {{whole: () => void, part: (name: string) => void,
 *   bars: (first: number, last: number) => void, way: (way: string) => void,
 *   choose: (choice: Choice) => void, turn: (role: Role) => void, kept: () => void,
 *   level: (role: Role, share: number) => void}} Asks
 */
import { byId, choiceOf, fieldOf, show, write } from "./elements.js";
import { PRACTISING } from "./practising.js";

/** @type {readonly Role[]} */
export const TRACKS = ["melody", "bass", "chords", "click"];
const [WHOLE, PART, BARS] = ["whole", "part ", "bars"];

export class Panel {
  /** @param {import("./words.js").Words} words @param {Asks} asks */
  constructor(words, asks) {
    this._words = words;
    this._asks = asks;
    this._offered = "";
    choiceOf("span").onchange = () => this._askSpan();
    for (const id of ["first", "to"]) fieldOf(id).onchange = () => this._askBars();
    choiceOf("ways").onchange = () => asks.way(choiceOf("ways").value);
    for (const id of ["style", "box"]) choiceOf(id).onchange = () => asks.choose(this.choice);
    fieldOf("thirds").onchange = () => asks.choose(this.choice);
    for (const role of TRACKS) {
      byId(role).onclick = () => asks.turn(role);
      fieldOf(`loud-${role}`).oninput = () => asks.level(role, this.level(role));
    }
    for (const id of ["button", "letters"]) fieldOf(id).onchange = asks.kept;
  }

  /** What is chosen. @returns {Choice} */
  get choice() {
    const thirds = fieldOf("thirds").checked;
    return { box: choiceOf("box").value, style: choiceOf("style").value, thirds };
  }

  get showsButton() {
    return fieldOf("button").checked;
  }

  get letters() {
    return fieldOf("letters").checked;
  }

  /** How loud a track is, as a share of usual. @param {Role} role */
  level(role) {
    return Number(fieldOf(`loud-${role}`).value) / 100;
  }

  /** @param {readonly Offered[]} choices @param {boolean} several whether a practice has steps */
  offer(choices, several) {
    for (const name of /** @type {const} */ (["box", "style"])) {
      const names = [...new Set(choices.map((each) => each[name]))];
      choiceOf(name).replaceChildren(
        ...names.map((each) => new Option(name === "style" ? called(choices, each) : each, each)),
      );
      show(`row-${name}`, names.length > 1 || (name === "style" && Boolean(names[0])));
    }
    show("row-thirds", new Set(choices.map(({ thirds }) => thirds)).size > 1);
    show("row-button", choices.some(({ box }) => box) || several);
    const ways = Object.keys(PRACTISING);
    choiceOf("ways").replaceChildren(
      ...ways.map((way) => new Option(this._words.say(way), way)),
    );
    show("row-ways", !several);
  }

  /** The parts and bars of the tune that is played. @param {Tune} tune */
  _offerSpans(tune) {
    const names = tune.sections.map(({ name }) => name);
    const numbers = tune.bars.map(({ number }) => number);
    const offered = `${names} ${numbers}`;
    if (offered === this._offered) return;
    this._offered = offered;
    const parts = names.length > 1 ? [...new Set(names)] : [];
    choiceOf("span").replaceChildren(
      new Option(this._words.say("whole"), WHOLE),
      ...parts.map((name) => new Option(this._words.say("part", { name }), PART + name)),
    );
    for (const id of ["first", "to"]) {
      fieldOf(id).min = String(Math.max(Math.min(...numbers), 1));
      fieldOf(id).max = String(Math.max(...numbers));
    }
  }

  /**
   * @param {{tune: Tune, span: Passage, numbers: readonly number[], way: string, choice: Choice,
   *   muted: (role: Role) => boolean}} now
   */
  show({ tune, span, numbers, way, choice, muted }) {
    this._offerSpans(tune);
    this._showSpan(span);
    if (document.activeElement !== fieldOf("first") && document.activeElement !== fieldOf("to")) {
      fieldOf("first").value = String(numbers[0]);
      fieldOf("to").value = String(numbers[numbers.length - 1]);
    }
    choose("ways", way);
    choose("box", choice.box);
    choose("style", choice.style);
    fieldOf("thirds").checked = choice.thirds;
    for (const role of TRACKS) byId(role).setAttribute("aria-pressed", String(!muted(role)));
  }

  /** @param {Passage} span */
  _showSpan(span) {
    const select = choiceOf("span");
    const plain = span.kind === "whole" ? WHOLE : span.kind === "section" ? PART + span.name : BARS;
    const own = select.querySelector(`option[value="${BARS}"]`);
    if (plain !== BARS) own?.remove();
    else if (own instanceof HTMLOptionElement) write(own, this._words.span(span));
    else select.append(new Option(this._words.span(span), BARS));
    choose("span", plain);
  }

  _askSpan() {
    const { value } = choiceOf("span");
    if (value === WHOLE) this._asks.whole();
    else if (value.startsWith(PART)) this._asks.part(value.slice(PART.length));
  }

  _askBars() {
    const [first, last] = [fieldOf("first").valueAsNumber, fieldOf("to").valueAsNumber];
    if (first > 0 && last > 0) this._asks.bars(Math.min(first, last), Math.max(first, last));
  }

  /** The levels, as they are kept. @returns {Record<string, number>} */
  get levels() {
    return Object.fromEntries(TRACKS.map((role) => [role, this.level(role)]));
  }

  /** @param {Record<string, unknown>} kept as it was kept */
  recall(kept) {
    const levels = /** @type {Record<string, unknown>} */ (kept.levels ?? {});
    for (const role of TRACKS) {
      const share = levels[role];
      if (typeof share === "number") fieldOf(`loud-${role}`).value = String(100 * share);
    }
    if (typeof kept.button === "boolean") fieldOf("button").checked = kept.button;
    if (typeof kept.letters === "boolean") fieldOf("letters").checked = kept.letters;
  }
}

/** What a style is called. @param {readonly Offered[]} choices @param {string} style */
function called(choices, style) {
  return choices.find((each) => each.style === style)?.called ?? style;
}

/** A list that is open stays as it is. @param {string} id @param {string} wanted */
function choose(id, wanted) {
  if (choiceOf(id).value !== wanted) choiceOf(id).value = wanted;
}
