/** The page as it is read from afar: the line that sounds, and what comes next, as large as it
 * goes; on the whole screen, where the browser gives it. */
import { byId, write } from "./elements.js";

export class Stand {
  /** @param {import("./words.js").Words} words @param {() => void} changed */
  constructor(words, changed) {
    this._words = words;
    this._changed = changed;
    this.on = false;
    byId("afar").onclick = () => this.turn(!this.on);
    document.addEventListener("fullscreenchange", () => {
      if (!document.fullscreenElement && this.on) this.turn(false);
    });
    addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.on) this.turn(false);
    });
  }

  /** @param {boolean} on */
  turn(on) {
    this.on = on;
    document.body.classList.toggle("stand", on);
    write(byId("afar"), this._words.say(on ? "near" : "afar"));
    this._changed();
    void this._fill(on);
  }

  /** @param {boolean} on */
  async _fill(on) {
    const page = document.documentElement;
    try {
      if (on) await page.requestFullscreen?.();
      else if (document.fullscreenElement) await document.exitFullscreen();
    } catch {
      // an iPhone gives the whole screen to films alone
    }
  }
}
