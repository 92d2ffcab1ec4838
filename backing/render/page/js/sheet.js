/**
 * The sheet: lines of music over which each bar can be tapped, and is marked as it sounds.
 *
 * A line without its drawing, and signs without outlines, stand in the page already.
 *
 * @typedef {{svg?: string, part: boolean, bars: [number, number, number][]}} Line
 * @typedef {{lines: Line[], glyphs?: Record<string, string>}} Drawn
 * @typedef {{title: string, said: string[], wide: Drawn, narrow: Drawn}} DrawnTune
 * @typedef {{tune: number, bar: number}} Place
 */

/** Narrower than so many pixels of the page is a phone held upright. */
const PHONE = 560;
const SVG = "http://www.w3.org/2000/svg";

export class Sheet {
  /**
   * @param {HTMLElement} root
   * @param {(tune: number, bars: number[]) => void} asked bars that were tapped, or dragged over
   */
  constructor(root, asked) {
    this._root = root;
    this._written = [...root.children];
    this._asked = asked;
    /** @type {readonly DrawnTune[]} */
    this._tunes = [];
    this._narrow = false;
    /** @type {HTMLElement[]} */
    this._bars = [];
    /** @type {Place[]} */
    this._dragged = [];
    this._sounding = "";
    this._round = "";
    /** @type {(tune: number, bar: number) => string} */
    this._named = () => "";
    root.addEventListener("pointerdown", (event) => this._begin(event));
    root.addEventListener("pointermove", (event) => this._drag(event));
    root.addEventListener("pointerup", () => this._end());
    root.addEventListener("pointercancel", () => this._forget());
    root.addEventListener("click", (event) => this._byKey(event));
    addEventListener("resize", () => this._isNarrow() !== this._narrow && this.show(this._tunes));
  }

  _isNarrow() {
    return innerWidth < PHONE;
  }

  /** Show these tunes. @param {readonly DrawnTune[]} tunes */
  show(tunes) {
    this._tunes = tunes;
    this._narrow = this._isNarrow();
    this._bars = [];
    const shown = tunes[0].wide.glyphs
      ? tunes.flatMap((tune, number) => this._tune(tune, number, tunes.length > 1))
      : this._asWritten(tunes);
    if (shown[0] !== this._root.firstElementChild) this._root.replaceChildren(...shown);
    this._sounding = this._round = "";
    this.name(this._named);
  }

  /** What the page shows before any script runs, with its bars. @param {readonly DrawnTune[]} tunes */
  _asWritten(tunes) {
    const width = this._narrow ? "narrow" : "wide";
    const blocks = this._written.filter((each) => each.classList.contains(width));
    const boxes = blocks.flatMap((each) => [...each.querySelectorAll(".line")]);
    const lines = tunes.flatMap((tune, number) => tune[width].lines.map((line) => ({ line, number })));
    lines.forEach(({ line, number }, at) => this._places(boxes[at], line, number));
    return this._written;
  }

  /** @param {DrawnTune} tune @param {number} number @param {boolean} titled */
  _tune(tune, number, titled) {
    const drawn = this._narrow ? tune.narrow : tune.wide;
    const head = titled ? [textIn("h2", tune.title)] : [];
    const said = tune.said.map((text) => textIn("p", text));
    const lines = drawn.lines.map((line) => this._line(line, number));
    return [...head, ...said, glyphsOf(drawn.glyphs ?? {}), ...lines];
  }

  /** @param {Line} line @param {number} tune */
  _line(line, tune) {
    const box = document.createElement("div");
    box.className = line.part ? "line part" : "line";
    box.append(drawingOf(line.svg ?? ""));
    this._places(box, line, tune);
    return box;
  }

  /** Lay a line's bars over it. @param {Element} box @param {Line} line @param {number} tune */
  _places(box, line, tune) {
    for (const old of box.querySelectorAll(".bar")) old.remove();
    for (const [bar, left, right] of line.bars) {
      const place = document.createElement("button");
      place.className = "bar";
      place.style.left = `${left}%`;
      place.style.width = `${right - left}%`;
      place.dataset.tune = String(tune);
      place.dataset.bar = String(bar);
      this._bars.push(place);
      box.append(place);
    }
  }

  /** What a bar is called, for those who do not see it. @param {(tune: number, bar: number) => string} name */
  name(name) {
    this._named = name;
    for (const bar of this._bars) {
      bar.setAttribute("aria-label", name(Number(bar.dataset.tune), Number(bar.dataset.bar)));
    }
  }

  /** Mark the bar that sounds, or that comes first. @param {number} tune @param {number} bar @param {boolean} sounds */
  mark(tune, bar, sounds) {
    const now = `${tune} ${bar} ${sounds}`;
    if (now === this._sounding) return;
    this._sounding = now;
    let seen = false;
    for (const each of this._bars) {
      const here = each.dataset.tune === String(tune) && each.dataset.bar === String(bar);
      each.classList.toggle("sounds", here && sounds);
      each.classList.toggle("waits", here && !sounds);
      if (here && !seen) {
        seen = true;
        each.parentElement?.scrollIntoView({ block: "nearest", behavior: "smooth" });
      }
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
    if (this._dragged.length) this._asked(this._dragged[0].tune, this._between());
    this._forget();
  }

  _forget() {
    this._dragged = [];
    for (const each of this._bars) each.classList.remove("dragged");
  }

  /** A bar that is chosen with a key. @param {MouseEvent} event */
  _byKey(event) {
    const place = this._placeAt(/** @type {Element} */ (event.target));
    if (place && !event.detail) this._asked(place.tune, [place.bar]);
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

/** @param {string} tag @param {string} text */
function textIn(tag, text) {
  const element = document.createElement(tag);
  element.textContent = text;
  return element;
}
