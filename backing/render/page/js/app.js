/**
 * The page: the sheet, the words under it, and what sounds.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./passages.js").Passage} Passage
 * @typedef {import("./sheet.js").DrawnTune} DrawnTune
 */
import { Course } from "./course.js";
import { askedBy } from "./controls.js";
import { fraction, value } from "./fraction.js";
import { act } from "./going.js";
import { LateSound } from "./late_sound.js";
import { Memory } from "./memory.js";
import { PracticeError } from "./passages.js";
import { Player } from "./player.js";
import { practised, PRACTISING } from "./practising.js";
import { Faces, tuneOf } from "./score.js";
import { Sheet } from "./sheet.js";
import { ReedSound } from "./sound.js";
import { unpacked } from "./unpack.js";

/** What is due is scheduled so many seconds ahead, and looked after so often (milliseconds). */
const [HORIZON, LOOK] = [1.5, 40];
/** The sound card is opened so many milliseconds after the sheet is shown. */
const SOUND_LATER = 300;
/** @type {readonly Role[]} */
const TRACKS = ["melody", "bass", "chords", "click"];

const HINT = "Tap a bar to go round in it; draw over several for more.";

/** @param {string} id */
const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
/** @param {string} id */
const choiceOf = (id) => /** @type {HTMLSelectElement} */ (byId(id));

export class Page {
  /** @param {any} data what the page holds */
  constructor(data) {
    this._data = data;
    this._grid = data.music.score.grid;
    this._memory = new Memory(data.music.title);
    const { reeds, levels } = data.music;
    this._sound = new LateSound(() => new ReedSound(new AudioContext(), reeds, levels));
    this._choice = 0;
    this._steps = data.music.steps;
    this._endless = data.endless;
    /** @type {Map<number, import("./score.js").Piece[]>} */
    this._pieces = new Map();
    this.player = this._newPlayer();
    this._sheet = new Sheet(byId("sheet"), (tune, bars) => this._goRound(tune, bars));
    /** @type {Map<string, DrawnTune[]>} */
    this._drawn = new Map();
    this._way = Object.keys(PRACTISING)[0];
  }

  /** Show all, and listen. */
  async open() {
    this._offer();
    this._recall();
    this._listen();
    setInterval(() => this._look(), LOOK);
    await this._draw();
    this._show();
    setTimeout(() => this._sound.made, SOUND_LATER);
  }

  get _now() {
    return this._data.music.choices[this._choice];
  }

  // -- what there is to choose ------------------------------------------------------------------

  _offer() {
    const { choices } = this._data.music;
    for (const name of /** @type {const} */ (["box", "style"])) {
      const names = [...new Set(choices.map((/** @type {any} */ each) => each[name]))];
      choiceOf(name).replaceChildren(...names.map((each) => new Option(String(each))));
      /** @type {HTMLElement} */ (choiceOf(name).parentElement).hidden = names.length < 2;
    }
    choiceOf("way").replaceChildren(...Object.keys(PRACTISING).map((way) => new Option(way)));
    const several = this._steps.length > 1;
    /** @type {HTMLElement} */ (choiceOf("way").parentElement).hidden = several;
    byId("foot").hidden = false;
    byId("how").hidden = true;
  }

  _listen() {
    const asks = { go: "stop and go", slower: "slower", faster: "faster" };
    const more = { again: "again from the count-in", whole: "the whole tune" };
    for (const [id, action] of Object.entries({ ...asks, ...more, last: "this is the last time" })) {
      byId(id).onclick = () => this.ask(action);
    }
    for (const track of TRACKS) byId(track).onclick = () => this.ask(`${track} on and off`);
    for (const id of ["box", "style"]) choiceOf(id).onchange = () => this._choose();
    choiceOf("way").onchange = () => this._practise(choiceOf("way").value);
    addEventListener("click", (event) => {
      // a pedal's space bar must not press the button that was tapped last
      if (event.detail && event.target instanceof HTMLButtonElement) event.target.blur();
    });
    addEventListener("keydown", (event) => {
      const action = askedBy(event, this._steps.length > 1);
      if (!action) return;
      event.preventDefault();
      if (!event.repeat || action === "slower" || action === "faster") this.ask(action);
    });
    document.addEventListener("visibilitychange", () => this._look());
    addEventListener("pagehide", () => this.player.stop());
  }

  /** Do what is asked for. @param {string} action */
  ask(action) {
    this._unlock();
    try {
      act(this.player, action);
    } catch (error) {
      if (!(error instanceof PracticeError)) throw error;
    }
    this._look();
    this._keep();
  }

  /** A browser sounds only after a tap or a key. */
  _unlock() {
    const { navigator } = /** @type {any} */ (globalThis);
    if (navigator.audioSession) navigator.audioSession.type = "playback";
    const context = /** @type {AudioContext} */ (this._sound.made.context);
    if (context.state !== "running") void context.resume();
  }

  // -- tunes, styles, boxes -----------------------------------------------------------------------

  /** The tunes of a choice. @param {number} choice */
  _piecesOf(choice) {
    let found = this._pieces.get(choice);
    if (!found) {
      const { choices, score } = this._data.music;
      found = choices[choice].pieces.map((/** @type {any} */ piece) => ({
        faces: new Faces(piece.faces, score),
        tune: tuneOf(piece.tune),
      }));
      this._pieces.set(choice, /** @type {import("./score.js").Piece[]} */ (found));
    }
    return /** @type {import("./score.js").Piece[]} */ (found);
  }

  _newPlayer() {
    const how = { grid: this._grid, endless: this._endless };
    const course = new Course(this._piecesOf(this._choice), this._steps, how);
    return new Player(course, this._sound, this._grid);
  }

  _choose() {
    const [box, style] = [choiceOf("box").value, choiceOf("style").value];
    const found = this._data.music.choices.findIndex(
      (/** @type {any} */ each) => each.box === box && each.style === style,
    );
    const other = this._now.box !== box;
    this._choice = Math.max(found, 0);
    this.player.dress(this._piecesOf(this._choice));
    if (other) void this._draw();
    this._keep();
  }

  /** Practise what goes round in another way. @param {string} way */
  _practise(way) {
    const { here, factor, notes, playing } = this.player;
    const asked = this._data.music.steps[0];
    const steps = [practised(asked, way, here.span, factor)];
    try {
      const before = this._steps;
      this._steps = steps;
      const player = this._fresh(before);
      if (!steps[0].ladder.length) player.setTempo(factor);
      for (const [role, muted] of notes.turned) player.notes.turned.set(role, muted);
      this.player.stop();
      this.player = player;
      this._way = way;
      if (playing) player.begin();
    } catch (error) {
      if (!(error instanceof PracticeError)) throw error;
      choiceOf("way").value = this._way;
    }
    this._show();
  }

  /** A player of the steps that there are now; those before where they cannot be played. @param {any} before */
  _fresh(before) {
    try {
      return this._newPlayer();
    } catch (error) {
      this._steps = before;
      throw error;
    }
  }

  async _draw() {
    const { box } = this._now;
    const { written, sheets } = this._data;
    if (!this._drawn.has(box)) {
      this._drawn.set(box, box === written.box ? written.tunes : await unpacked(sheets[box]));
    }
    if (box !== this._now.box) return;
    this._sheet.show(/** @type {DrawnTune[]} */ (this._drawn.get(box)));
    this._sheet.name((tune, bar) => `bar ${this._written(tune).bars[bar].number}`);
    this._show();
  }

  /** Which of the tunes on the sheet a step is of. @param {import("./plan.js").Step} step @returns {number} */
  _shownAs(step) {
    return this._data.shown[step.piece];
  }

  /** The written bars of a tune on the sheet. @param {number} tune */
  _written(tune) {
    return this._piecesOf(this._choice)[this._data.shown.indexOf(tune)].tune;
  }

  /** Bars were tapped, or dragged over. @param {number} tune @param {number[]} bars */
  _goRound(tune, bars) {
    this._unlock();
    const { player } = this;
    const { steps } = player.course;
    const there = steps.findIndex((step) => this._shownAs(step) === tune && !step.rest);
    const step = this._shownAs(steps[player.here.step]) === tune ? player.here.step : there;
    const written = this._written(tune);
    const full = written.bars.filter((bar) => !bar.begins).map((bar) => bar.number);
    const numbers = bars.map((bar) => written.bars[bar].number);
    const first = Math.max(Math.min(...numbers), full.length ? Math.min(...full) : 0);
    const last = Math.max(first, ...numbers);
    try {
      player.go(player.ways.bars({ ...player.here, step }, first, last));
    } catch (error) {
      if (!(error instanceof PracticeError)) throw error; // bars that are never played
    }
    this._show();
  }

  // -- what there is to see -------------------------------------------------------------------------

  _look() {
    this.player.pump(document.hidden ? 2 * HORIZON : HORIZON);
    this._show();
  }

  _show() {
    const { player } = this;
    const tune = this._shownAs(player.course.steps[player.here.step]);
    byId("go").textContent = player.playing ? "Stop" : "Play";
    byId("tempo").textContent = `${Math.round(value(player.factor) * 100)} %`;
    for (const track of TRACKS) {
      byId(track).setAttribute("aria-pressed", String(!player.isMuted(track)));
    }
    const frame = player.course.round(player.here).frame;
    const beat = player.playing ? player.beat : null;
    const sounds = Boolean(beat?.stretch.inTune && !player.clicksOnly);
    const bar = sounds && beat ? beat.bar : frame[player.here.bar] ?? frame[0];
    this._sheet.mark(tune, bar.index, sounds);
    const whole = player.here.span.kind === "whole";
    byId("whole").hidden = whole;
    const where = this._where(bar.number);
    byId("where").textContent = where;
    byId("round").textContent = whole
      ? ""
      : `${where ? "– " : ""}round and round in ${this._spanInWords(player.here.span)}`;
    byId("last").hidden = byId("again").hidden = !player.playing;
    this._sheet.round(tune, new Set(whole ? [] : frame.map((each) => each.index)));
  }

  /** @param {number} bar */
  _where(bar) {
    const { beat, playing, chord, clicksOnly } = this.player;
    if (!playing) return this.player.here.span.kind === "whole" ? HINT : "";
    const name = beat?.stretch.name ? `${beat.stretch.name}: ` : "";
    if (beat && clicksOnly) {
      const counting = beat.stretch.kind === "rest" ? "rest" : `count-in, ${beat.place + 1}`;
      return name + counting;
    }
    const coming = this.player.coming;
    return `${name}bar ${bar}${chord ? `, ${chord}` : ""}${coming ? ` then ${coming}` : ""}`;
  }

  /** @param {Passage} span */
  _spanInWords(span) {
    if (span.kind === "section") return `part ${span.name}`;
    if (span.kind !== "bars") return "what joins two parts";
    return span.first === span.last ? `bar ${span.first}` : `bars ${span.first}–${span.last}`;
  }

  // -- what is remembered -----------------------------------------------------------------------------

  _keep() {
    const [over, below] = this.player.factor;
    const { box, style } = this._now;
    this._memory.keep({ over, below, box, style, muted: TRACKS.filter((t) => this.player.isMuted(t)) });
  }

  _recall() {
    const { over, below, box, style, muted } = this._memory.recall();
    const found = this._data.music.choices.findIndex(
      (/** @type {any} */ each) => each.box === box && each.style === style,
    );
    if (found > 0) {
      this._choice = found;
      this.player.dress(this._piecesOf(found));
    }
    [choiceOf("box").value, choiceOf("style").value] = [this._now.box, this._now.style];
    if (Number.isInteger(over) && Number.isInteger(below) && this._steps.length === 1) {
      this.player.setTempo(fraction(Number(over), Number(below)));
    }
    if (Array.isArray(muted)) {
      for (const track of TRACKS) {
        if (muted.includes(track) !== this.player.isMuted(track)) this.player.turn(track);
      }
    }
  }
}

const data = document.getElementById("music");
if (data) {
  const page = new Page(JSON.parse(data.textContent ?? ""));
  Object.assign(globalThis, { backing: page });
  void page.open();
}
