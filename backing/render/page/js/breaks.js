/** When it is time to rest: after so many minutes of playing, in one go or with short stops. */
const [LONG, SHORT] = [25 * 60, 5 * 60];

export class Breaks {
  constructor() {
    this._played = 0;
    this._silent = 0;
    this._last = 0;
  }

  /**
   * Whether it is time now.
   * @param {number} second of a clock that goes on @param {boolean} playing
   */
  due(second, playing) {
    const since = this._last ? second - this._last : 0;
    this._last = second;
    if (playing) [this._played, this._silent] = [this._played + since, 0];
    else this._silent += since;
    if (this._silent >= SHORT) this._played = 0;
    return this._played >= LONG;
  }

  /** It was seen: the next is due after as long again. */
  seen() {
    this._played = 0;
  }
}
