/** The texts of the page, in the language that it was made for. */
export class Words {
  /** @param {Record<string, string>} table */
  constructor(table) {
    this._table = table;
  }

  /** A text with its values. @param {string} key @param {Record<string, string | number>} values */
  say(key, values = {}) {
    return this._table[key].replace(/\{(\w+)\}/g, (_, name) => String(values[name]));
  }

  /** Which bars are practised. @param {import("./passages.js").Passage} span */
  span(span) {
    if (span.kind === "whole") return this.say("whole");
    if (span.kind === "section") return this.say("part", { name: span.name });
    if (span.kind === "join") return this.say("join");
    const { first, last } = span;
    return this.say(first === last ? "bar" : "bars", { first, last });
  }

  /** Upper case at the start of a line. @param {string} text */
  opened(text) {
    return text.charAt(0).toLocaleUpperCase() + text.slice(1);
  }
}

/** A chord symbol as it is printed. @param {string} chord */
export function printedChord(chord) {
  return chord.replace(/(^|\/)([A-G])#/g, "$1$2♯").replace(/(^|\/)([A-G])b/g, "$1$2♭");
}
