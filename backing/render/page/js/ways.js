/**
 * Where a player may go from a place in a practice: bars and parts on and back, a bar or a part
 * alone, the whole tune.
 *
 * @typedef {import("./arrangement.js").MappedBar} MappedBar
 * @typedef {import("./course.js").Course} Course
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./stretch.js").Stretch} Stretch
 */
import { targetOf } from "./laying.js";
import { WHOLE } from "./passages.js";

/** The ways that lead on in a course. */
export class WaysOn {
  /** @param {Course} course */
  constructor(course) {
    this.course = course;
  }

  /** A place in the span of a stretch; what leads in goes with its bar. @param {Stretch} stretch @param {number} place */
  place(stretch, place) {
    const here = targetOf(stretch.span, { step: stretch.step, time: Math.max(stretch.time, 1) });
    const full = this._full(here);
    return { ...here, bar: full.find((other) => other >= place) ?? full[0] };
  }

  /** Round and round in this bar. @param {Target} here */
  barAlone(here) {
    const number = this.number(here);
    return this.bars(here, number, number);
  }

  /** The number of this bar; of a first pickup that of the bar that follows. @param {Target} here */
  number(here) {
    return Math.max(this.bar(here).number, Math.min(...this._numbers(here)));
  }

  /** The step of the practice before or after, from its beginning; null for none. @param {Target} here @param {number} by */
  step(here, by) {
    const { starts } = this.course;
    const step = starts[starts.filter((start) => start <= here.step).length - 1 + by];
    return step === undefined ? null : this.course.toStep(step);
  }

  /** Round and round in these bars. @param {Target} here @param {number} first @param {number} last */
  bars(here, first, last) {
    return targetOf({ kind: "bars", first, last, ending: null }, { step: here.step });
  }

  /** Round and round in this part, with the ending of this time through it. @param {Target} here */
  sectionAlone(here) {
    const bar = this.bar(here);
    const endings = this._once(here).bars.flatMap((other) =>
      other.section === bar.section ? other.ending ?? [] : [],
    );
    const ending = endings.includes(bar.time) ? bar.time : null;
    return targetOf({ kind: "section", name: bar.section, ending }, { step: here.step });
  }

  /** Round and round in a part, its endings by turns. @param {Target} here @param {string} name */
  part(here, name) {
    return targetOf({ kind: "section", name, ending: null }, { step: here.step });
  }

  /** What comes after a bar where nothing else is asked for. @param {Target} here */
  following(here) {
    return this._stepped(here, 1);
  }

  /** The whole tune, at the bar where it is now. @param {Target} here */
  whole(here) {
    if (here.span.kind === "whole") return here;
    const { index } = this.bar(here);
    const bar = this._whole(here).findIndex((other) => other.index === index);
    return targetOf(WHOLE, { bar: Math.max(bar, 0), step: here.step });
  }

  /** The bar before or after; a loop of bars moves along the tune. @param {Target} here @param {number} by */
  stepBars(here, by) {
    return here.span.kind === "bars" ? this._moved(here, here.span, by) : this._stepped(here, by);
  }

  /** The part before or after. @param {Target} here @param {number} by */
  stepSections(here, by) {
    if (here.span.kind === "whole") return { ...here, bar: this._partStart(here, by) };
    const whole = this._whole(here);
    const names = [...new Set(whole.map((bar) => bar.section))];
    const at = names.indexOf(this.bar(here).section) + by;
    const name = names[(at + names.length) % names.length];
    if (here.span.kind !== "bars") {
      return this.part(here, name);
    }
    const part = whole.filter((bar) => bar.section === name);
    const first = part.find((bar) => !bar.begins) ?? part[0];
    return this._moved(here, here.span, first.number - here.span.first);
  }

  /** Where the part before or after a bar of the whole tune begins. @param {Target} here @param {number} by */
  _partStart(here, by) {
    const [bars, full] = [this._whole(here), this._full(here)];
    /** @param {MappedBar} bar */
    const part = (bar) => `${bar.section} ${bar.time}`;
    const starts = full.filter((place, at) => !at || part(bars[place]) !== part(bars[full[at - 1]]));
    const before = starts.filter((place) => place < here.bar);
    if (by < 0) return before.length ? before[before.length - 1] : 0;
    return starts.find((place) => place > here.bar) ?? 0;
  }

  /** @param {Target} here @param {import("./passages.js").Bars} span @param {number} wanted */
  _moved(here, span, wanted) {
    const numbers = this._numbers(here);
    const room = [Math.min(...numbers) - span.first, Math.max(...numbers) - span.last];
    const by = Math.max(room[0], Math.min(wanted, room[1]));
    return this.bars(here, span.first + by, span.last + by);
  }

  /** So many full bars on, round and round. @param {Target} here @param {number} by */
  _stepped(here, by) {
    const full = this._full(here);
    const at = full.indexOf(here.bar) + by;
    return { ...here, bar: full[((at % full.length) + full.length) % full.length] };
  }

  /** The bar of the tune that a target begins with. @param {Target} here */
  bar(here) {
    return this.course.round(here).frame[here.bar];
  }

  /** @param {Target} here */
  _once(here) {
    return this.course.piece(here.step).faces.arrangement();
  }

  /** @param {Target} here the whole tune that is played here */
  _whole(here) {
    return this.course.round(targetOf(WHOLE, { step: here.step })).frame;
  }

  /** The places of a span's full bars, all where none is full. @param {Target} here */
  _full(here) {
    const places = this.course.round(here).frame.flatMap((bar, at) => (bar.begins ? [] : [at]));
    return places.length ? places : [0];
  }

  /** The numbers of the tune's full bars, of all where none is full. @param {Target} here */
  _numbers(here) {
    const { bars } = this._once(here);
    const full = bars.filter((bar) => !bar.begins);
    return (full.length ? full : bars).map((bar) => bar.number);
  }
}
