/**
 * What a player chose, kept by the browser for the next time; where it keeps nothing, all else
 * works.
 */
export class Memory {
  /** @param {string} name @param {string} mark of the melody: another one is another tune */
  constructor(name, mark) {
    this._name = `backing: ${name} ${mark}`;
  }

  /** What was kept; nothing where it cannot be read. @returns {Record<string, unknown>} */
  recall() {
    try {
      const found = JSON.parse(localStorage.getItem(this._name) ?? "{}");
      return found && typeof found === "object" ? found : {};
    } catch {
      return {};
    }
  }

  /** @param {Record<string, unknown>} kept */
  keep(kept) {
    try {
      localStorage.setItem(this._name, JSON.stringify(kept));
    } catch {
      // a browser that keeps nothing
    }
  }
}
