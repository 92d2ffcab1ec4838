/**
 * What is under the music while it sounds: one place to start and to stop, which shows what a
 * glance asks for; at its sides slower and faster, with the tempo that they lead to.
 *
 * @typedef {import("./glance.js").Button} Button
 * @typedef {import("./glance.js").Glance} Glance
 */
import { byId, made, show, write } from "./elements.js";
import { TEMPO_STEP } from "./player.js";
import { lookOf, noteSign } from "./tempo_sign.js";
import { printedChord } from "./words.js";

export class Strip {
  /** @param {import("./words.js").Words} words */
  constructor(words) {
    this._words = words;
    this._beats = "";
    this._unit = "";
  }

  /** @param {Glance} glance @param {Button | null} button the next one, where it is wanted */
  show(glance, button) {
    const playing = glance.kind !== "silent";
    const say = this._words.say.bind(this._words);
    byId("go").classList.toggle("sounding", playing);
    write(byId("verb"), say(playing ? "stop" : "play"));
    write(byId("where"), this._where(glance));
    byId("place").classList.toggle("words", glance.kind !== "tune");
    this._dots(glance);
    write(byId("chord"), printedChord(glance.chord));
    const { coming } = glance;
    show("harmony", Boolean(glance.chord || coming));
    show("then", Boolean(coming));
    write(byId("coming"), coming ? printedChord(coming.text) : "");
    write(byId("wait"), coming ? say("in_beats", { beats: coming.beats }) : "");
    show("finger", Boolean(button));
    byId("foot").classList.toggle("fingers", Boolean(button));
    write(byId("sign"), button?.sign ?? "");
    write(byId("way"), button ? say(button.way) : "");
    this._tempo(glance);
    const often = glance.times > 1 ? "times" : "time";
    const counted = playing && (glance.times > 1 || (glance.times === 0 && glance.time > 1));
    write(byId("turns"), counted ? say(often, { time: glance.time, times: glance.times }) : "");
  }

  /** @param {Glance} glance */
  _where({ kind, bar }) {
    if (kind === "silent") return "";
    if (kind === "tune") return String(bar);
    return this._words.say(kind === "rest" ? "rest" : "count_in");
  }

  /** @param {Glance} glance */
  _dots({ beat, beats }) {
    const now = `${beat}/${beats}`;
    if (now === this._beats) return;
    this._beats = now;
    const dots = Array.from({ length: beats }, (_, at) => made("i", "", at < beat ? "over" : ""));
    byId("dots").replaceChildren(...dots);
  }

  /** @param {Glance} glance */
  _tempo({ percent, tempo }) {
    write(byId("percent"), `${percent} %`);
    write(byId("below"), `${Math.max((Math.ceil(percent / TEMPO_STEP) - 1) * TEMPO_STEP, TEMPO_STEP)} %`);
    write(byId("above"), `${(Math.floor(percent / TEMPO_STEP) + 1) * TEMPO_STEP} %`);
    const beats = Math.round(tempo.beats);
    const unit = tempo.unit.join("/");
    if (unit !== this._unit) {
      this._unit = unit;
      byId("unit").replaceChildren(noteSign(tempo.unit));
    }
    write(byId("beats"), ` = ${beats}`);
    const { name, dotted } = lookOf(tempo.unit);
    const plain = this._words.say(`note_${name}`);
    const note = dotted ? this._words.say("dotted", { note: plain }) : plain;
    const spoken = `${note}, ${this._words.say("beats", { beats })}`;
    if (byId("tempo").getAttribute("aria-label") !== spoken) {
      byId("tempo").setAttribute("aria-label", spoken);
    }
  }
}
