/**
 * What a player chose, kept by the browser for the next time; where it keeps nothing, all else
 * works.
 */
export class Memory {
  /** @param {string} name */
  constructor(name) {
    this._name = `backing: ${name}`;
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
