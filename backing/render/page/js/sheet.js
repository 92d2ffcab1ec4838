/**
 * The sheet: lines of music over which each bar can be tapped, and is marked as it sounds.
 *
 * A line without its drawing, and signs without outlines, stand in the page already.
 *
 * @typedef {{svg: string | null, part: boolean, bars: [number, number, number][],
 *   notes: [number, number, number][][]}} Line of each bar where it stands, and its notes: where in
 *   the bar (whole notes), where on the line (per cent across, and down)
 * @typedef {{lines: Line[], glyphs?: Record<string, string>}} Drawn
 * @typedef {{title: string, said: string[], wide: Drawn, narrow: Drawn,
 *   buttons: import("./glance.js").BarButtons[]}} DrawnTune
 * @typedef {{tune: number, bar: number}} Place
 * @typedef {{line: HTMLElement, over: number, x: number, y: number}} Head
 * @typedef {{bar: (tune: number, bar: number) => string, part: (name: string) => string,
 *   sections: readonly (readonly import("./score.js").Section[])[]}} Naming
 */
import { made } from "./elements.js";
import { NEAR } from "./glance.js";

/** Narrower than so many pixels of the page is a phone held upright. */
const PHONE = 560;
const SVG = "http://www.w3.org/2000/svg";

export class Sheet {
  /**
   * @param {HTMLElement} root
   * @param {{bars: (tune: number, bars: number[]) => void,
   *   part: (tune: number, name: string) => void}} asks bars that were tapped, or dragged over; a
   *   part whose letter was
   */
  constructor(root, asks) {
    this._root = root;
    this._written = [...root.children];
    this._asks = asks;
    /** @type {Naming | null} */
    this._naming = null;
    this._stands = false;
    /** The heads of the notes of each bar. @type {Map<string, Head[]>} */
    this._heads = new Map();
    this._note = made("div", "", "note");
    this._pointed = "";
    /** @type {readonly DrawnTune[]} */
    this._tunes = [];
    this._narrow = false;
    /** @type {HTMLElement[]} */
    this._bars = [];
    /** @type {Place[]} */
    this._dragged = [];
    this._sounding = "";
    this._round = "";
    root.addEventListener("pointerdown", (event) => this._begin(event));
    root.addEventListener("pointermove", (event) => this._drag(event));
    root.addEventListener("pointerup", () => this._end());
    root.addEventListener("pointercancel", () => this._forget());
    root.addEventListener("click", (event) => this._byKey(event));
    root.addEventListener("keydown", (event) => this._walk(event));
    addEventListener("resize", () => this._again());
    addEventListener("beforeprint", () => this._print(true));
    addEventListener("afterprint", () => this._print(false));
    this._prints = false;
  }

  get _isNarrow() {
    return !this._prints && (this._stands || innerWidth < PHONE);
  }

  /** Whether it is read from afar: in large lines. @param {boolean} stands */
  stand(stands) {
    this._stands = stands;
    this._again();
  }

  /** @param {boolean} prints */
  _print(prints) {
    this._prints = prints;
    this._again();
  }

  _again() {
    if (this._naming && this._isNarrow !== this._narrow) this.show(this._tunes, this._naming);
  }

  /** Show these tunes. @param {readonly DrawnTune[]} tunes @param {Naming} naming what bars and parts are called */
  show(tunes, naming) {
    this._tunes = tunes;
    this._naming = naming;
    this._narrow = this._isNarrow;
    this._bars = [];
    this._heads.clear();
    this._root.dataset.width = this._width;
    const shown = tunes[0].wide.glyphs
      ? tunes.flatMap((tune, number) => this._tune(tune, number, tunes.length > 1))
      : this._asWritten(tunes);
    if (shown[0] !== this._root.firstElementChild) this._root.replaceChildren(...shown);
    this._sounding = this._round = this._pointed = "";
    if (this._bars.length) this._bars[0].tabIndex = 0;
  }

  get _width() {
    return this._narrow ? "narrow" : "wide";
  }

  /** What the page shows before any script runs, with its bars. @param {readonly DrawnTune[]} tunes */
  _asWritten(tunes) {
    const blocks = this._written.filter((each) => each.classList.contains(this._width));
    const boxes = blocks.flatMap((each) => [
      .../** @type {NodeListOf<HTMLElement>} */ (each.querySelectorAll(".line")),
    ]);
    const lines = tunes.flatMap((tune, number) =>
      tune[this._width].lines.map((line) => ({ line, number })),
    );
    lines.forEach(({ line, number }, at) => this._places(boxes[at], line, number));
    return this._written;
  }

  /** @param {DrawnTune} tune @param {number} number @param {boolean} titled */
  _tune(tune, number, titled) {
    const drawn = tune[this._width];
    const head = titled ? [made("h2", tune.title)] : [];
    const said = tune.said.map((text) => made("p", text));
    const block = made("div", "", this._width);
    block.append(...drawn.lines.map((line) => this._line(line, number)));
    return [...head, ...said, glyphsOf(drawn.glyphs ?? {}), block];
  }

  /** @param {Line} line @param {number} tune */
  _line(line, tune) {
    const box = made("div", "", line.part ? "line part" : "line");
    box.append(drawingOf(line.svg ?? ""));
    this._places(box, line, tune);
    return box;
  }

  /** Lay a line's bars over it. @param {HTMLElement} box @param {Line} line @param {number} tune */
  _places(box, line, tune) {
    const naming = /** @type {Naming} */ (this._naming);
    const svg = /** @type {SVGElement} */ (box.querySelector("svg"));
    for (const old of [...box.children]) if (old !== svg) old.remove();
    const [, , width, height] = (svg.getAttribute("viewBox") ?? "0 0 1 1").split(" ").map(Number);
    box.style.setProperty("--ratio", String(width / height));
    svg.setAttribute("aria-hidden", "true"); // its bars have names
    for (const name of ["role", "aria-label"]) box.removeAttribute(name);
    for (const [at, [bar, left, right]] of line.bars.entries()) {
      const place = made("button", "", "bar");
      place.style.left = `${left}%`;
      place.style.width = `${right - left}%`;
      place.dataset.tune = String(tune);
      place.dataset.bar = String(bar);
      place.tabIndex = -1;
      place.setAttribute("aria-label", naming.bar(tune, bar));
      this._bars.push(place);
      box.append(place);
      const part = naming.sections[tune].find(({ start }) => start === bar);
      const first = !this._heads.has(`${tune} ${bar}`);
      if (part && first && naming.sections[tune].length > 1) {
        box.append(this._letter(tune, part.name, left));
      }
      const heads = (line.notes[at] ?? []).map(([over, x, y]) => ({ line: box, over, x, y }));
      this._heads.set(`${tune} ${bar}`, [...(this._heads.get(`${tune} ${bar}`) ?? []), ...heads]);
    }
  }

  /** The letter of a part, to be tapped. @param {number} tune @param {string} name @param {number} left */
  _letter(tune, name, left) {
    const letter = made("button", "", "letter");
    letter.style.left = `${left}%`;
    letter.setAttribute("aria-label", /** @type {Naming} */ (this._naming).part(name));
    letter.onclick = () => this._asks.part(tune, name);
    return letter;
  }

  /** Mark the bar that sounds, or that comes first. @param {number} tune @param {number} bar @param {boolean} sounds */
  mark(tune, bar, sounds) {
    const now = `${tune} ${bar} ${sounds}`;
    if (now === this._sounding) return;
    const moved = sounds || this._sounding !== "";
    this._sounding = now;
    /** @type {HTMLElement | null} */
    let first = null;
    for (const each of this._bars) {
      const here = each.dataset.tune === String(tune) && each.dataset.bar === String(bar);
      each.classList.toggle("sounds", here && sounds);
      each.classList.toggle("waits", here && !sounds);
      if (here) first = first ?? each;
    }
    this._follow(first?.parentElement ?? null, moved && !this._stands);
  }

  /** Know the line that sounds, and the one after it, and how high both are beside their width;
   * have it in sight. @param {HTMLElement | null} line @param {boolean} inSight */
  _follow(line, inSight) {
    const lines = [...new Set(this._bars.map((bar) => /** @type {HTMLElement} */ (bar.parentElement)))];
    const at = line ? lines.indexOf(line) : 0;
    for (const [place, each] of lines.entries()) {
      each.classList.toggle("here", place === at);
      each.classList.toggle("next", place === at + 1);
    }
    const both = lines.slice(at, at + 2);
    const heights = both.map((each) => 1 / Number(each.style.getPropertyValue("--ratio")));
    const tall = heights.reduce((sum, height) => sum + height, 0);
    for (const each of both) each.style.setProperty("--tall", String(tall));
    if (inSight) line?.scrollIntoView({ block: "nearest", behavior: "smooth" });
  }

  /** Mark the note that sounds. @param {number} tune @param {{bar: {index: number}, over: number} | null} place */
  point(tune, place) {
    const heads = place ? this._heads.get(`${tune} ${place.bar.index}`) ?? [] : [];
    const head = heads.filter(({ over }) => place && over <= place.over + NEAR).pop();
    const now = head ? `${tune} ${place?.bar.index} ${head.over}` : "";
    if (now === this._pointed) return;
    this._pointed = now;
    if (!head) this._note.remove();
    else {
      [this._note.style.left, this._note.style.top] = [`${head.x}%`, `${head.y}%`];
      if (this._note.parentElement !== head.line) head.line.append(this._note);
    }
  }

  /** Mark the bars that go round. @param {number} tune @param {ReadonlySet<number>} bars */
  round(tune, bars) {
    const now = `${tune} ${[...bars]}`;
    if (now === this._round) return;
    this._round = now;
    for (const each of this._bars) {
      const here = each.dataset.tune === String(tune) && bars.has(Number(each.dataset.bar));
      each.classList.toggle("round", here);
    }
  }

  // -- tapped, dragged over -----------------------------------------------------------------

  /** @param {Element | null} element @returns {Place | null} */
  _placeAt(element) {
    if (!(element instanceof HTMLElement) || !element.dataset.bar) return null;
    return { tune: Number(element.dataset.tune), bar: Number(element.dataset.bar) };
  }

  /** @param {PointerEvent} event */
  _begin(event) {
    const place = this._placeAt(/** @type {Element} */ (event.target));
    if (place && event.isPrimary && event.button === 0) this._dragged = [place];
  }

  /** @param {PointerEvent} event */
  _drag(event) {
    if (!this._dragged.length) return;
    const place = this._placeAt(document.elementFromPoint(event.clientX, event.clientY));
    const [first] = this._dragged;
    if (!place || place.tune !== first.tune) return;
    this._dragged = [first, place];
    const bars = this._between();
    for (const each of this._bars) {
      const here = each.dataset.tune === String(place.tune);
      each.classList.toggle("dragged", here && bars.includes(Number(each.dataset.bar)));
    }
  }

  /** @returns {number[]} */
  _between() {
    const bars = this._dragged.map(({ bar }) => bar);
    const [low, high] = [Math.min(...bars), Math.max(...bars)];
    return Array.from({ length: high - low + 1 }, (_, place) => low + place);
  }

  _end() {
    if (this._dragged.length) this._asks.bars(this._dragged[0].tune, this._between());
    this._forget();
  }

  _forget() {
    this._dragged = [];
    for (const each of this._bars) each.classList.remove("dragged");
  }

  /** A bar that is chosen with a key. @param {MouseEvent} event */
  _byKey(event) {
    const place = this._placeAt(/** @type {Element} */ (event.target));
    if (place && !event.detail) this._asks.bars(place.tune, [place.bar]);
  }

  /** Left and right go from bar to bar where one has the focus; it is one stop for the Tab key. @param {KeyboardEvent} event */
  _walk(event) {
    const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const at = this._bars.indexOf(/** @type {HTMLElement} */ (event.target));
    if (!by || at < 0) return;
    const next = this._bars[at + by];
    if (next) {
      [this._bars[at].tabIndex, next.tabIndex] = [-1, 0];
      next.focus();
    }
    event.preventDefault();
    event.stopPropagation();
  }
}

/** A drawing from its text: it is no part of the page's own language. @param {string} svg */
function drawingOf(svg) {
  const text = svg.replace("<svg", `<svg xmlns="${SVG}"`);
  const { documentElement } = new DOMParser().parseFromString(text, "image/svg+xml");
  return document.importNode(documentElement, true);
}

/** The outlines of signs, which all lines share. @param {Record<string, string>} glyphs */
function glyphsOf(glyphs) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", "glyphs");
  for (const [name, outline] of Object.entries(glyphs)) {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("id", name);
    path.setAttribute("d", outline);
    path.setAttribute("transform", "scale(1,-1)");
    svg.append(path);
  }
  return svg;
}
