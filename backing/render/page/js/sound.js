/**
 * The reeds and the click of the page, by Web Audio.  What is pressed may be let go, held on after
 * all, or taken back, as long as its moment is still to come.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./notes.js").Voice} Voice
 * @typedef {import("./waves.js").ReedTable} ReedTable
 * @typedef {{key: number, voice: Reed | null}} Pressed
 */
import {
  amplitude,
  buttonWave,
  curveOf,
  knockWave,
  levelsOf,
  loudnessOf,
  phaseOf,
  softened,
  tauOf,
} from "./waves.js";

/** The highest volume of MIDI, and seconds in which another level takes over. */
const [LOUDEST, SMOOTH] = [127, 0.03];
/** A moment that never comes, in seconds: Firefox takes none that is later than 2 ** 23. */
const NEVER = 2 ** 22;
/** Points of the curves of envelopes. */
const POINTS = 65;
/** Seconds in which a reed goes that is taken back as it begins to speak. */
const QUICK = 0.005;
/** Two moments that are nearer than this are one. */
const NEAR = 1e-4;

export class ReedSound {
  /**
   * @param {BaseAudioContext} context @param {ReedTable} table
   * @param {Record<string, number>} levels the volume of each track, 0 to 127
   */
  constructor(context, table, levels) {
    this.context = context;
    this.table = table;
    /** @type {Map<string, PeriodicWave>} */
    this._waves = new Map();
    /** @type {Map<string, AudioBuffer>} */
    this._buffers = new Map();
    /** The latest reed of each key of a track. @type {Map<string, Reed>} */
    this._latest = new Map();
    /** @type {Map<Role, number>} */
    this._knocked = new Map();
    this._rise = curveOf(POINTS, (share) => this._risen(share) / this._risen(1));
    this._fade = curveOf(POINTS, (share) => Math.sin((share * Math.PI) / 2) ** 2);
    this._fall = curveOf(POINTS, (share) => Math.cos((share * Math.PI) / 2) ** 2);
    this._dip = curveOf(POINTS, (share) =>
      amplitude((-table.dipDb / 2) * (1 - Math.cos(2 * Math.PI * share))),
    );
    const master = new GainNode(context, { gain: table.master });
    master.connect(context.destination);
    this._dips = new GainNode(context);
    this._dips.connect(master);
    const pressure = new GainNode(context);
    pressure.connect(this._dips);
    this._breath(pressure.gain);
    /** @type {Map<Role, StereoPannerNode>} */
    this._tracks = new Map();
    /** @type {Map<Role, GainNode>} */
    this._volumes = new Map();
    for (const role of /** @type {Role[]} */ (["melody", "bass", "chords", "click"])) {
      const volume = new GainNode(context, { gain: loudnessOf(levels[role]) });
      const pan = new StereoPannerNode(context, { pan: this._usualPan(role) });
      pan.connect(volume).connect(role === "click" ? master : pressure);
      this._tracks.set(role, pan);
      this._volumes.set(role, volume);
    }
    this._levels = levels;
  }

  /** How loud a track is from now on, as a share of usual. @param {Role} role @param {number} share */
  level(role, share) {
    const loud = loudnessOf(Math.min(this._levels[role] * share, LOUDEST));
    this._volumes.get(role)?.gain.setTargetAtTime(loud, this.now(), SMOOTH);
  }

  now() {
    return this.context.currentTime;
  }

  /** The slow curve of the pressure. @param {AudioParam} pressure */
  _breath(pressure) {
    const real = Float32Array.of(0, ...this.table.breathCurve);
    const wave = new PeriodicWave(this.context, { real, disableNormalization: true });
    const frequency = 1 / this.table.breathSeconds;
    const curve = new OscillatorNode(this.context, { periodicWave: wave, frequency });
    curve.connect(pressure);
    curve.start();
  }

  /** @param {number} share of the time of a rise */
  _risen(share) {
    return 1 - Math.exp(-((share * this.table.riseTaus) ** this.table.bend));
  }

  /** @param {Role} role */
  _usualPan(role) {
    return role === "click" ? this.table.clickPan : this.table.registers[role].pan;
  }

  /** @param {Role} role */
  _track(role) {
    return /** @type {StereoPannerNode} */ (this._tracks.get(role));
  }

  /** Where the tracks sound from a moment on. @param {"left" | "right" | "both"} ears @param {number} at */
  place(ears, at) {
    const tune = { left: -1, right: 1, both: 0 }[ears];
    for (const [role, { pan }] of this._tracks) {
      const side = role === "melody" ? tune : -tune;
      const usual = ears === "both" || role === "click";
      pan.setValueAtTime(usual ? this._usualPan(role) : side, at);
    }
  }

  /** The bellows take a new breath at a moment. @param {number} at */
  breathe(at) {
    const { gain } = this._dips;
    const seconds = this.table.dipSeconds;
    const start = Math.max(at - seconds, this.now());
    try {
      gain.setValueCurveAtTime(this._dip, start, seconds);
    } catch {
      return { cancel: () => {} }; // a dip is under way
    }
    return { cancel: () => void (start > this.now() && gain.cancelScheduledValues(start - NEAR)) };
  }

  /** @param {Role} role @param {number} key @param {number} velocity @param {number} at @returns {Voice} */
  press(role, key, velocity, at) {
    if (role === "click") return this._knock(key, velocity, at);
    const place = `${role} ${key}`;
    const before = this._latest.get(place);
    const reed = new Reed(this, this._parts(role, key, velocity), at, this._track(role));
    const moved = before?.lift(reed.start);
    this._latest.set(place, reed);
    const button = this._knocked.get(role) === at ? null : this._button(role, velocity, at);
    this._knocked.set(role, at);
    return {
      letGo: (moment) => reed.letGo(moment),
      hold: () => reed.hold(),
      cancel: () => {
        reed.cancel();
        button?.stop(0);
        moved?.();
        if (before) this._latest.set(place, before);
        if (button) this._knocked.delete(role);
      },
    };
  }

  /** What a reed needs. @param {Role} role @param {number} key @param {number} velocity */
  _parts(role, key, velocity) {
    const { table } = this;
    const register = table.registers[role];
    const tau = tauOf(table, key);
    const lead = table.leadTaus * tau;
    const step = table.strengthStep;
    const strength = Math.min(127, Math.round(velocity / step) * step);
    const hertz = table.a4 * 2 ** ((key - 69) / 12);
    const melody = role === "melody";
    const apart = melody ? table.tremolo : Math.min(table.tremolo / 2, table.leftHandCents);
    const second = key % 2 && !melody ? -1 : 1;
    const sides = apart ? [[-0.5, 0], [0.5, second]] : [[0, 0]]; // prettier-ignore
    const reeds = sides.map(([side, reed]) => {
      const frequency = hertz * 2 ** ((side * apart) / 1200);
      const name = [role, key, strength, reed].join(" ");
      return { frequency, ...this._pair(name, register, frequency, strength, reed, lead) };
    });
    const level = register.gain - (table.evenDb * (key - table.evenKey)) / 12;
    const gain = (table.full * loudnessOf(velocity) * amplitude(level)) / Math.sqrt(reeds.length);
    return { reeds, gain, tau, lead, release: register.release };
  }

  /**
   * The waves of a reed as it begins to speak, and of what comes then.
   * @param {string} name @param {import("./waves.js").Register} register @param {number} hertz
   * @param {number} strength @param {number} reed @param {number} lead
   */
  _pair(name, register, hertz, strength, reed, lead) {
    const known = this._waves.get(`${name} first`);
    const rest = this._waves.get(`${name} rest`);
    if (known && rest) return { first: known, rest };
    const full = levelsOf(this.table, register, hertz, strength, this.context.sampleRate);
    const soft = softened(full);
    const made = [soft, full.map((level, place) => level - soft[place])].map((levels) => {
      const [real, imag] = [new Float32Array(levels.length + 1), new Float32Array(levels.length + 1)];
      levels.forEach((level, place) => {
        const number = place + 1;
        const phase = phaseOf(number, reed) - 2 * Math.PI * number * hertz * lead;
        real[number] = level * Math.cos(phase);
        imag[number] = -level * Math.sin(phase);
      });
      return new PeriodicWave(this.context, { real, imag, disableNormalization: true });
    });
    this._waves.set(`${name} first`, made[0]).set(`${name} rest`, made[1]);
    return { first: made[0], rest: made[1] };
  }

  /** The shapes of envelopes. */
  get shapes() {
    return { rise: this._rise, fade: this._fade, fall: this._fall };
  }

  /** @param {number} key @param {number} velocity @param {number} at @returns {Voice} */
  _knock(key, velocity, at) {
    const { knocks, full, clickGain } = this.table;
    const name = String(key in knocks ? key : Math.min(...Object.keys(knocks).map(Number)));
    const wave = () => knockWave(this.table, knocks[name], this.context.sampleRate);
    const gain = full * loudnessOf(velocity) * amplitude(clickGain);
    const source = this._start(this._buffer(name, wave), gain, at, this._track("click"));
    return { letGo: () => {}, hold: () => {}, cancel: () => source.stop(0) };
  }

  /** @param {Role} role @param {number} velocity @param {number} at */
  _button(role, velocity, at) {
    const wave = () => buttonWave(this.table, this.context.sampleRate);
    const gain = this.table.full * loudnessOf(velocity) * amplitude(this.table.button.gain);
    return this._start(this._buffer("button", wave), gain, at, this._track(role));
  }

  /** @param {string} name @param {() => Float32Array} make */
  _buffer(name, make) {
    let buffer = this._buffers.get(name);
    if (!buffer) {
      const wave = make();
      const { sampleRate } = this.context;
      buffer = new AudioBuffer({ length: wave.length, sampleRate });
      buffer.getChannelData(0).set(wave);
      this._buffers.set(name, buffer);
    }
    return buffer;
  }

  /** @param {AudioBuffer} buffer @param {number} level @param {number} at @param {AudioNode} to */
  _start(buffer, level, at, to) {
    const source = new AudioBufferSourceNode(this.context, { buffer });
    const gain = new GainNode(this.context, { gain: level });
    source.connect(gain).connect(to);
    source.onended = () => gain.disconnect();
    source.start(at);
    return source;
  }
}

/** A reed that speaks: its onset is where its rise passes half of its height. */
class Reed {
  /**
   * @param {ReedSound} sound @param {ReturnType<ReedSound["_parts"]>} parts @param {number} onset
   * @param {AudioNode} track
   */
  constructor(sound, parts, onset, track) {
    const { context, table, shapes } = sound;
    this._sound = sound;
    this._release = parts.release;
    this.onset = onset;
    this.start = Math.max(onset - parts.lead, sound.now());
    this.stop = NEVER;
    this._out = new GainNode(context);
    const rise = new GainNode(context, { gain: 0 });
    const fade = new GainNode(context, { gain: 0 });
    fade.connect(rise).connect(this._out).connect(track);
    const loud = shapes.rise.map((height) => height * parts.gain);
    rise.gain.setValueCurveAtTime(loud, this.start, table.riseTaus * parts.tau);
    fade.gain.setValueCurveAtTime(shapes.fade, this.start, table.partialsTaus * parts.tau);
    /** @type {OscillatorNode[]} */
    this._oscillators = parts.reeds.flatMap(({ frequency, first, rest }) =>
      [first, rest].map((periodicWave, place) => {
        const oscillator = new OscillatorNode(context, { periodicWave, frequency });
        oscillator.connect(place ? fade : rise);
        oscillator.start(this.start);
        return oscillator;
      }),
    );
    this._oscillators[0].onended = () => this._out.disconnect();
  }

  /** The key goes up at a moment. @param {number} at */
  letGo(at) {
    const moment = Math.max(at, this.start, this._sound.now());
    this.hold();
    this._go(moment, this._release);
  }

  /** @param {number} at @param {number} seconds */
  _go(at, seconds) {
    this.stop = at;
    this._out.gain.setValueCurveAtTime(this._sound.shapes.fall, at, seconds);
    for (const oscillator of this._oscillators) oscillator.stop(at + seconds);
  }

  /** It stays down after all. */
  hold() {
    if (this.stop === NEVER) return;
    this._out.gain.cancelScheduledValues(this.stop - NEAR);
    for (const oscillator of this._oscillators) oscillator.stop(NEVER);
    this.stop = NEVER;
  }

  /** It never sounds; if it has begun to speak, no longer. */
  cancel() {
    this.hold();
    const now = this._sound.now();
    if (this.start > now) for (const oscillator of this._oscillators) oscillator.stop(0);
    else this._go(now, QUICK);
  }

  /**
   * The same key speaks again at a moment: it is up for a little before, for a quarter of its
   * length at most.  What undoes it; nothing where there is nothing to do.
   * @param {number} again
   */
  lift(again) {
    const { stop } = this;
    const early = Math.max(again - this._sound.table.lift, stop - (stop - this.onset) / 4);
    if (stop === NEVER || early >= stop || early <= this._sound.now()) return undefined;
    this.letGo(early);
    return () => {
      if (this.stop > this._sound.now()) this.letGo(stop);
    };
  }
}
