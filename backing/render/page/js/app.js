/**
 * The page: the sheet, what is under it, and what sounds.
 *
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./panel.js").Choice} Choice
 */
import { Awake } from "./awake.js";
import { Breaks } from "./breaks.js";
import { Choices } from "./choices.js";
import { askedBy } from "./controls.js";
import { Drawings } from "./drawings.js";
import { byId, show, write } from "./elements.js";
import { fraction } from "./fraction.js";
import { glanceOf, nextButton } from "./glance.js";
import { act } from "./going.js";
import { isMutedByASwitch, LateSound } from "./late_sound.js";
import { Memory } from "./memory.js";
import { Panel, TRACKS } from "./panel.js";
import { PracticeError } from "./passages.js";
import { Practice } from "./practice.js";
import { PLAIN } from "./practising.js";
import { Sheet } from "./sheet.js";
import { ReedSound } from "./sound.js";
import { Stand } from "./stand.js";
import { Steps } from "./steps.js";
import { Strip } from "./strip.js";
import { Words } from "./words.js";

/** What is due is scheduled so many seconds ahead, and looked after so often (milliseconds). */
const [HORIZON, LOOK] = [1.5, 40];
/** The sound card is opened so many milliseconds after the sheet is shown. */
const SOUND_LATER = 300;
/** What the buttons ask for. */
const BUTTONS = {
  go: "stop and go",
  slower: "slower",
  faster: "faster",
  start: "again from the count-in",
  last: "this is the last time",
  "step-back": "a step back",
  "step-on": "a step on",
  stay: "stay on this step",
};

export class Page {
  /** @param {any} data what the page holds */
  constructor(data) {
    this._data = data;
    this._words = new Words(data.words);
    this._memory = new Memory(data.music.title, data.mark);
    this._sound = new LateSound(() => this._newSound());
    this._choices = new Choices(data.music);
    this._drawings = new Drawings(data, this._choices);
    this._practice = new Practice(data, this._choices, this._drawings, this._sound);
    const practice = this._practice;
    this._sheet = new Sheet(byId("sheet"), {
      bars: (tune, bars) => this._go(() => practice.goRound(tune, bars)),
      part: (tune, name) => this._go(() => practice.goToPart(tune, name)),
    });
    this._strip = new Strip(this._words);
    this._panel = new Panel(this._words, {
      whole: () => this._go(() => practice.goWhole()),
      part: (name) => this._go(() => practice.goToPart(this._tune, name)),
      bars: (first, last) => this._go(() => practice.goRoundNumbers(this._tune, first, last)),
      way: (way) => this._go(() => practice.practise(way, this.player.here.span)),
      choose: (choice) => this._choose(choice),
      turn: (role) => this.ask(`${role} on and off`),
      level: (role, share) => this._setLevel(role, share),
      kept: () => this._keepAndShow(),
    });
    this._list = new Steps(this._words, this._listed(), {
      go: (step) => this._goToStep(step),
      ticked: () => this._keepAndShow(),
    });
    this._stand = new Stand(this._words, () => this._sheet.stand(this._stand.on));
    this._awake = new Awake();
    this._breaks = new Breaks();
    /** Whether the player was sent to the step that is played. */
    this._sent = true;
  }

  /** Show all, and listen. */
  async open() {
    this._panel.offer(this._choices.all, this._several);
    for (const id of ["step-back", "row-stay", "step-on"]) show(id, this._several);
    [byId("foot").hidden, byId("how").hidden] = [false, true];
    show("switch", isMutedByASwitch());
    this._recall();
    this._listen();
    setInterval(() => this._look(), LOOK);
    const point = () => {
      this._point();
      requestAnimationFrame(point);
    };
    await this._draw();
    this._show();
    requestAnimationFrame(point);
    setTimeout(() => this._sound.made, SOUND_LATER);
  }

  get player() {
    return this._practice.player;
  }

  get _several() {
    return this._data.music.steps.length > 1;
  }

  /** The place on the sheet of the tune that is played. */
  get _tune() {
    return this._drawings.of(this.player.course.steps[this.player.here.step]);
  }

  _listen() {
    for (const [id, action] of Object.entries(BUTTONS)) byId(id).onclick = () => this.ask(action);
    byId("back").onclick = () => this._go(() => this._practice.goWhole());
    byId("rested").onclick = () => {
      this._breaks.seen();
      this._show();
    };
    addEventListener("click", (event) => {
      // a pedal's space bar must not press the button that was tapped last
      if (event.detail && event.target instanceof HTMLButtonElement) event.target.blur();
    });
    addEventListener("keydown", (event) => {
      const action = askedBy(event, this._panel.letters);
      if (!action) return;
      event.preventDefault();
      if (!event.repeat || action === "slower" || action === "faster") this.ask(action);
    });
    document.addEventListener("visibilitychange", () => this._look());
    addEventListener("pagehide", () => this.player.stop());
  }

  /** Do what is asked for. @param {string} action */
  ask(action) {
    this._trying(() => act(this.player, action));
    this._look();
    this._keep();
  }

  /** Try what a player asks for; what cannot be played changes nothing. @param {() => void} asked */
  _trying(asked) {
    this._sound.unlock();
    this._sent = true;
    try {
      asked();
    } catch (error) {
      if (!(error instanceof PracticeError)) throw error;
    }
  }

  /** Practise elsewhere, or in another way. @param {() => void} asked */
  _go(asked) {
    this._trying(asked);
    this._show();
  }

  _newSound() {
    const { reeds, levels } = this._data.music;
    const sound = new ReedSound(new AudioContext(), reeds, levels);
    for (const role of TRACKS) sound.level(role, this._panel.level(role));
    return sound;
  }

  /** @param {Role} role @param {number} share */
  _setLevel(role, share) {
    this._sound.level(role, share);
    this._keep();
  }

  // -- styles, boxes, steps -----------------------------------------------------------------------

  /** @param {Choice} choice */
  _choose(choice) {
    const { box } = this._choices.now;
    if (this._choices.choose(choice)) this.player.dress(this._choices.pieces);
    if (this._choices.now.box !== box) void this._draw();
    this._keepAndShow();
  }

  async _draw() {
    const { box } = this._choices.now;
    const tunes = await this._drawings.now();
    if (box !== this._choices.now.box) return;
    this._sheet.show(tunes, {
      bar: (tune, bar) => this._barInWords(tune, bar, tunes[tune].buttons[bar] ?? []),
      part: (name) => this._words.say("part", { name }),
      sections: tunes.map((_, tune) => this._drawings.written(tune).sections),
    });
    this._show();
  }

  /** A bar for those who do not see it, with its buttons. @param {number} tune @param {number} bar @param {import("./glance.js").BarButtons} buttons */
  _barInWords(tune, bar, buttons) {
    const name = this._words.say("bar", { first: this._drawings.written(tune).bars[bar].number });
    let before = "";
    const pressed = buttons.map(([, sign, way]) => {
      const text = way === before ? sign : `${this._words.say(way)} ${sign}`;
      before = way;
      return text;
    });
    return pressed.length ? `${name}: ${pressed.join(", ")}` : name;
  }

  /** @param {number} step */
  _goToStep(step) {
    this._trying(() => this.player.goToStep(step));
    this._keepAndShow();
  }

  /** The steps as they are listed, each with a name. */
  _listed() {
    const { listed, steps } = this._data.music;
    return listed.map((/** @type {import("./steps.js").ListedStep} */ each) => {
      const { name, span, rest } = steps[each.step];
      const plain = rest ? this._words.say("rest") : this._words.span(span);
      return { ...each, name: name || this._words.opened(plain) };
    });
  }

  // -- what there is to see -------------------------------------------------------------------------

  _look() {
    this.player.pump(document.hidden ? 2 * HORIZON : HORIZON);
    this._show();
  }

  /** Where the music is now: the note that sounds, the button that comes. */
  _point() {
    const { player } = this;
    const place = player.placeAt(this._sound.now() - this._sound.delay);
    this._sheet.point(this._tune, place);
  }

  _show() {
    const { player } = this;
    const { here, playing } = player;
    const [tune, glance] = [this._tune, glanceOf(player)];
    const frame = player.course.round(here).frame;
    const sounds = glance.kind === "tune" && player.beat;
    const bar = sounds ? sounds.bar : frame[here.bar] ?? frame[0];
    this._sheet.mark(tune, bar.index, Boolean(sounds));
    const whole = here.span.kind === "whole";
    this._sheet.round(tune, new Set(whole ? [] : frame.map((each) => each.index)));
    this._strip.show(glance, this._nextButton(tune));
    this._panel.show({
      tune: this._drawings.written(tune), span: here.span, numbers: frame.map(({ number }) => number),
      way: this._practice.way, choice: this._choices.now, muted: (role) => player.isMuted(role),
    });
    const asked = this._inWords(glance.name);
    write(byId("asked"), asked);
    write(byId("told"), `${asked}, ${glance.percent} %`);
    show("hint", whole && !playing && !this._several);
    show("back", !whole && !this._several);
    for (const id of ["start", "row-last"]) show(id, playing);
    write(byId("stay"), this._words.say(player.course.staying ? "go_on" : "stay"));
    if (this._list.mark(here.step, playing && !this._sent)) this._keep();
    if (playing && glance.kind === "tune") this._sent = false;
    this._awake.keep(playing);
    show("break", this._breaks.due(performance.now() / 1000, playing));
  }

  /** @param {number} tune */
  _nextButton(tune) {
    if (!this._panel.showsButton && !this._stand.on) return null;
    const place = this.player.placeAt(this._sound.now());
    return nextButton(this.player, place, this._drawings.buttons(tune));
  }

  /** What is set, in a line. @param {string} name what the step is for */
  _inWords(name) {
    const { here } = this.player;
    const span = this._words.span(here.span);
    const round = here.span.kind === "whole" ? span : this._words.say("round", { span });
    const told = [name || this._words.opened(round)];
    const { way } = this._practice;
    if (way !== PLAIN) told.push(this._words.say(way));
    else if (here.span.kind === "whole") told.push(this._choices.called, this._choices.now.box);
    return told.filter(Boolean).join(" · ");
  }

  // -- what is remembered -----------------------------------------------------------------------------

  _keepAndShow() {
    this._keep();
    this._show();
  }

  _keep() {
    const [over, below] = this.player.factor;
    this._memory.keep({
      over, below, ...this._choices.now, done: this._list.done,
      muted: TRACKS.filter((role) => this.player.isMuted(role)), levels: this._panel.levels,
      button: this._panel.showsButton, letters: this._panel.letters,
    });
  }

  _recall() {
    const kept = this._memory.recall();
    const { over, below, muted, done } = kept;
    if (this._choices.choose(kept)) this.player.dress(this._choices.pieces);
    this._panel.recall(kept);
    if (Number.isInteger(over) && Number.isInteger(below) && !this._several) {
      this.player.setTempo(fraction(Number(over), Number(below)));
    }
    if (Array.isArray(muted)) {
      for (const role of TRACKS) {
        if (muted.includes(role) !== this.player.isMuted(role)) this.player.turn(role);
      }
    }
    if (Array.isArray(done) && done.length && this._several) {
      this._list.tick(done);
      this.player.goToStep(this._list.first);
    }
  }
}

const data = document.getElementById("music");
if (data) {
  const page = new Page(JSON.parse(data.textContent ?? ""));
  Object.assign(globalThis, { backing: page });
  void page.open();
}
