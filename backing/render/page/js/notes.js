/**
 * Which keys are down, and which are withheld because their track is muted.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./cues.js").Cue} Cue
 * @typedef {import("./cues.js").KeyStrike} KeyStrike
 * @typedef {{letGo: (at: number) => void, hold: () => void, cancel: () => void}} Voice a reed that
 *   speaks: it is let go at a moment, held on after all, or taken back before it began
 * @typedef {{press: (role: Role, key: number, velocity: number, at: number) => Voice}} Reeds
 * @typedef {{strike: KeyStrike, stretch: number, voice: Voice | null, stopped: boolean}} Note
 */

/** A track is withheld where its stretch is muted, until the player turns it. */
export class Notes {
  /** @param {Reeds} reeds */
  constructor(reeds) {
    this._reeds = reeds;
    /** @type {Map<Role, boolean>} */
    this.turned = new Map();
    /** The notes that are not over, withheld ones among them. @type {Set<Note>} */
    this.down = new Set();
  }

  /** @param {Role} role @param {boolean} own whether its stretch is muted */
  isMuted(role, own) {
    return this.turned.get(role) ?? own;
  }

  /**
   * A key goes down at a moment; what undoes it.
   * @param {KeyStrike} strike @param {number} stretch @param {number} at
   * @returns {{note: Note, undo: () => void}}
   */
  strike(strike, stretch, at) {
    const same = [...this.down].find(
      (note) => note.strike.role === strike.role && note.strike.key === strike.key,
    );
    const untouch = same ? this.letGo(same, at) : () => {};
    const silent = this.isMuted(strike.role, strike.muted) && !strike.always;
    const { role, key, velocity } = strike;
    const voice = silent ? null : this._reeds.press(role, key, velocity, at);
    const note = { strike, stretch, voice, stopped: false };
    this.down.add(note);
    const undo = () => {
      note.voice?.cancel();
      note.stopped = true;
      this.down.delete(note);
      untouch();
    };
    return { note, undo };
  }

  /** A key goes up at a moment, if it is down; what undoes it. @param {Note} note @param {number} at */
  letGo(note, at) {
    if (!this.down.delete(note)) return () => {};
    note.voice?.letGo(at);
    note.stopped = true;
    return () => {
      note.voice?.hold();
      note.stopped = false;
      this.down.add(note);
    };
  }

  /** Notes of other stretches end; what undoes it. @param {import("./cues.js").Release} said @param {number} at */
  release(said, at) {
    const undone = [...this.down]
      .filter((note) => note.stretch !== said.keep && (!said.role || note.strike.role === said.role))
      .map((note) => this.letGo(note, at));
    return () => undone.reverse().forEach((undo) => undo());
  }

  /** All keys go up. @param {number} at */
  end(at) {
    for (const note of [...this.down]) this.letGo(note, at);
  }

  /**
   * Withhold a track, or let it sound again: of basses and chords what is held, at once.
   * @param {Role} role @param {boolean} own @param {number} at
   */
  turn(role, own, at) {
    const muted = !this.isMuted(role, own);
    if (muted === own) this.turned.delete(role);
    else this.turned.set(role, muted);
    for (const note of this.down) {
      const { strike } = note;
      if (strike.role !== role || strike.always) continue;
      if (this.isMuted(role, strike.muted)) {
        note.voice?.letGo(at);
        note.voice = null;
      } else if (!note.voice && (role === "bass" || role === "chords")) {
        note.voice = this._reeds.press(role, strike.key, strike.velocity, at);
      }
    }
  }
}
