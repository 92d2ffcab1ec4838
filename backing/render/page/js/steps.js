/**
 * The steps of a practice as a list: what each is for, how long it takes, ticked when it is done.
 *
 * @typedef {{step: number, name: string, seconds: number}} ListedStep the number of its first step
 *   in the plan
 */
import { byId, made, show, write } from "./elements.js";

export class Steps {
  /**
   * @param {import("./words.js").Words} words @param {readonly ListedStep[]} listed
   * @param {{go: (step: number) => void, ticked: () => void}} asks
   */
  constructor(words, listed, asks) {
    this._words = words;
    this._listed = listed;
    this._now = -1;
    /** @type {HTMLElement[]} */
    this._rows = [];
    /** @type {HTMLInputElement[]} */
    this._ticks = [];
    show("steps", listed.length > 1);
    for (const each of listed.length > 1 ? listed : []) byId("list").append(this._row(each, asks));
    this._count();
  }

  _count() {
    const [done, all] = [this.done.length, this._ticks.length];
    write(byId("ticked"), done ? this._words.say("ticked", { done, all }) : "");
  }

  /** @param {ListedStep} listed @param {{go: (step: number) => void, ticked: () => void}} asks */
  _row({ step, name, seconds }, asks) {
    const tick = made("input");
    tick.type = "checkbox";
    tick.setAttribute("aria-label", this._words.say("done", { step: name }));
    tick.onchange = () => {
      this._count();
      asks.ticked();
    };
    const go = made("button", name, "plain");
    go.onclick = () => asks.go(step);
    const minutes = Math.round(seconds / 60);
    const long = minutes ? this._words.say("minutes", { minutes }) : this._words.say("below_a_minute");
    const label = made("label", "", "tick");
    label.append(tick);
    const row = made("li");
    row.append(label, go, made("span", seconds ? long : "", "long"));
    this._ticks.push(tick);
    this._rows.push(row);
    return row;
  }

  /** Which of them a step of the plan belongs to. @param {number} step */
  _of(step) {
    return this._listed.filter((each) => each.step <= step).length - 1;
  }

  /** The steps that are done, by their places. */
  get done() {
    return this._ticks.flatMap((tick, place) => (tick.checked ? [place] : []));
  }

  /** @param {readonly unknown[]} done */
  tick(done) {
    this._ticks.forEach((tick, place) => (tick.checked = done.includes(place)));
    this._count();
  }

  /** Where to begin: the first that is not done. */
  get first() {
    const place = this._ticks.findIndex((tick) => !tick.checked);
    return this._listed[Math.max(place, 0)].step;
  }

  /** Mark the one that is played; the one before is done where it went on by itself. @param {number} step @param {boolean} byItself @returns {boolean} whether one was ticked */
  mark(step, byItself) {
    const [now, before] = [this._of(step), this._now];
    if (now === before || !this._rows.length) return false;
    this._now = now;
    for (const [place, row] of this._rows.entries()) {
      if (place === now) row.setAttribute("aria-current", "step");
      else row.removeAttribute("aria-current");
    }
    if (!byItself || before < 0) return false;
    return this.finish(before);
  }

  /** One is done. @param {number} place */
  finish(place) {
    const fresh = !this._ticks[place].checked;
    this._ticks[place].checked = true;
    this._count();
    return fresh;
  }
}
