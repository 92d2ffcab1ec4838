/**
 * A sound that is made when it is first needed, or when there is time: to open the sound card
 * takes longer than all else that a page does before it can be used.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./sound.js").ReedSound} ReedSound
 */

/** The engine of Firefox, as it calls itself: others say that they are like it. */
const GECKO = /\bGecko\//;

export class LateSound {
  /** @param {() => ReedSound} make */
  constructor(make) {
    this._make = make;
    /** @type {ReedSound | null} */
    this._made = null;
  }

  /** The sound itself. */
  get made() {
    this._made = this._made ?? this._make();
    return this._made;
  }

  /**
   * What the player hears now left so many seconds ago; 0 in Firefox, which can stand still for
   * good when it is asked (its page holds what the sound card's thread waits for: seen with
   * PulseAudio, once in some thousand times).
   */
  get delay() {
    if (!this._made || GECKO.test(navigator.userAgent)) return 0;
    return /** @type {AudioContext} */ (this._made.context).outputLatency || 0;
  }

  /** Let it sound: a browser asks for a tap or a key before. */
  unlock() {
    const { navigator } = /** @type {any} */ (globalThis);
    if (navigator.audioSession) navigator.audioSession.type = "playback";
    const context = /** @type {AudioContext} */ (this.made.context);
    if (context.state !== "running") void context.resume();
  }

  /** @param {Role} role @param {number} share of the usual loudness */
  level(role, share) {
    this.made.level(role, share);
  }

  now() {
    return this._made ? this._made.now() : 0;
  }

  /** @param {Role} role @param {number} key @param {number} velocity @param {number} at */
  press(role, key, velocity, at) {
    return this.made.press(role, key, velocity, at);
  }

  /** @param {number} at */
  breathe(at) {
    return this.made.breathe(at);
  }

  /** @param {"left" | "right" | "both"} ears @param {number} at */
  place(ears, at) {
    this.made.place(ears, at);
  }
}

/** An iPhone that cannot be told that this is more than a page's own noises: its switch mutes it. */
export function isMutedByASwitch() {
  return /iPhone|iPad/.test(navigator.userAgent) && !("audioSession" in navigator);
}
