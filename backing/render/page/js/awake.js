/** Keeps the screen awake while it is wanted, where the device can (Screen Wake Lock). */
export class Awake {
  constructor() {
    this._wanted = false;
    /** @type {WakeLockSentinel | null} */
    this._lock = null;
    document.addEventListener("visibilitychange", () => void this._ask());
  }

  /** @param {boolean} wanted */
  keep(wanted) {
    if (wanted === this._wanted) return;
    this._wanted = wanted;
    if (wanted) void this._ask();
    else void this._lock?.release();
  }

  async _ask() {
    const lock = navigator.wakeLock;
    if (!lock || !this._wanted || document.hidden || (this._lock && !this._lock.released)) return;
    try {
      this._lock = await lock.request("screen");
      if (!this._wanted) void this._lock.release();
    } catch {
      // refused: the battery is low
    }
  }
}
