"use strict";
/**
 * The index of a site: rows are found as one types, chosen by dance, key and grade, and put in
 * order by any column; what was asked for stands in the address, so that it is there again on
 * the way back.
 */
(() => {
  /** Milliseconds after the last change before the address is written. */
  const KEPT_AFTER = 300;
  const COLUMNS = /** @type {const} */ (["title", "dance", "key", "grade"]);
  const FILTERS = /** @type {const} */ (["dance", "key", "grade"]);

  /**
   * @typedef {{ key: string, grade: string, level: number, found: string }} OnBox
   * @typedef {{ element: HTMLTableRowElement, place: number, dance: string, on: OnBox[],
   *   spans: HTMLElement[][] }} Row
   */

  /** @param {string} id */
  const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
  /** @param {string} id @returns {HTMLSelectElement | null} */
  const choiceOf = (id) => /** @type {HTMLSelectElement | null} */ (document.getElementById(id));

  /** Letters and digits alone, without case and accents. @param {string} text */
  const folded = (text) =>
    text
      .toLowerCase()
      .normalize("NFKD")
      .replace(/[\p{M}'’‘ʼ]/gu, "")
      .replace(/[#♯]/g, "sharp")
      .replace(/♭/g, "flat")
      .replace(/[ßæœøłđðþı]/g, (sign) => PLAIN[sign] ?? sign)
      .replace(/[^\p{L}\p{N}]+/gu, " ")
      .trim();
  /** @type {Record<string, string>} */
  const PLAIN = { ß: "ss", æ: "ae", œ: "oe", ø: "o", ł: "l", đ: "d", ð: "d", þ: "th", ı: "i" };

  const table = /** @type {HTMLTableElement} */ (byId("tunes"));
  const body = table.tBodies[0];
  const words = /** @type {HTMLInputElement} */ (byId("words"));
  const said = JSON.parse(byId("said").textContent ?? "{}");
  const rows = [...body.rows].map(rowOf);
  const asked = { box: 0, column: "title", down: false };
  let keeping = 0;

  /** @param {HTMLTableRowElement} element @param {number} place @returns {Row} */
  function rowOf(element, place) {
    const cells = [...element.children];
    /** @param {string} name */
    const cell = (name) => cells.find((each) => each.className === name);
    /** @param {string} name */
    const spans = (name) => /** @type {HTMLElement[]} */ ([...(cell(name)?.children ?? [])]);
    const [title, dance] = [cell("title")?.textContent ?? "", cell("dance")?.textContent ?? ""];
    const [keys, grades] = [spans("key"), spans("grade")];
    const on = keys.map((key, at) => {
      const [text, grade] = [key.textContent ?? "", grades[at]?.textContent ?? ""];
      const found = folded(`${title} ${dance} ${text} ${grade}`);
      return { key: text, grade, level: Number(grades[at]?.dataset.n ?? 0), found };
    });
    const none = { key: "", grade: "", level: 0, found: folded(`${title} ${dance}`) };
    return { element, place, dance, on: on.length ? on : [none], spans: [keys, grades] };
  }

  /** A row on the box that is chosen. @param {Row} row */
  const here = (row) => row.on[asked.box] ?? row.on[0];

  /** @param {Row} row @param {string} column */
  const valueOf = (row, column) => {
    if (column === "dance") return row.dance;
    return column === "key" ? here(row).key : here(row).grade;
  };

  /** @param {Row} one @param {Row} other */
  function inOrder(one, other) {
    let found = 0;
    if (asked.column === "grade") found = (here(one).level || 99) - (here(other).level || 99);
    else if (asked.column !== "title") {
      const [a, b] = [valueOf(one, asked.column), valueOf(other, asked.column)];
      found = Number(!a) - Number(!b) || a.localeCompare(b, document.documentElement.lang);
    }
    found ||= one.place - other.place;
    return asked.down ? -found : found;
  }

  /** The rows that were asked for. */
  function fitting() {
    const wanted = folded(words.value).split(" ");
    const chosen = FILTERS.map((name) => [name, choiceOf(name)?.value ?? ""]).filter(([, v]) => v);
    return rows.filter(
      (row) =>
        wanted.every((word) => here(row).found.includes(word)) &&
        chosen.every(([name, value]) => valueOf(row, name) === value),
    );
  }

  function draw() {
    const found = fitting().sort(inOrder);
    const elements = found.map((row) => row.element);
    const before = [...body.rows];
    if (before.length !== elements.length || before.some((row, place) => row !== elements[place])) {
      body.replaceChildren(...elements);
    }
    byId("found").textContent = inWords(found.length);
    byId("clear").hidden = found.length === rows.length;
    clearTimeout(keeping);
    keeping = setTimeout(keep, KEPT_AFTER);
  }

  /** For what is chosen at once; letters come one after the other. */
  function drawAndKeep() {
    draw();
    keep();
  }

  /** @param {number} shown */
  function inWords(shown) {
    if (!shown) return said.none;
    const text = shown < rows.length ? said.some : shown === 1 ? said.one : said.found;
    return text.replace("{shown}", String(shown)).replace("{all}", String(rows.length));
  }

  // -- what there is to choose ----------------------------------------------------------------

  function offer() {
    for (const name of FILTERS) {
      const choice = choiceOf(name);
      if (!choice) continue;
      const before = choice.value;
      const values = new Map(rows.map((row) => [valueOf(row, name), here(row).level]));
      values.delete("");
      const names = [...values.keys()].sort((a, b) =>
        name === "grade"
          ? (values.get(a) || 99) - (values.get(b) || 99)
          : a.localeCompare(b, document.documentElement.lang),
      );
      choice.replaceChildren(choice.options[0], ...names.map((each) => new Option(each)));
      choice.value = values.has(before) ? before : "";
      /** @type {HTMLElement} */ (choice.parentElement).hidden = names.length < 2;
    }
  }

  function showBox() {
    for (const span of rows.flatMap((row) => row.spans)) {
      span.forEach((each, at) => {
        each.hidden = at !== asked.box;
      });
    }
  }

  /** @param {string} column @param {boolean} down */
  function sortBy(column, down) {
    asked.column = column;
    asked.down = down;
    for (const name of COLUMNS) {
      const head = table.tHead?.querySelector(`.${name}`);
      if (name !== column) head?.removeAttribute("aria-sort");
      else head?.setAttribute("aria-sort", down ? "descending" : "ascending");
    }
  }

  // -- what stands in the address -----------------------------------------------------------------

  function keep() {
    clearTimeout(keeping);
    const told = new URLSearchParams();
    if (words.value) told.set("words", words.value);
    for (const name of FILTERS) {
      const value = choiceOf(name)?.value;
      if (value) told.set(name, value);
    }
    if (asked.box) told.set("box", String(asked.box));
    if (asked.column !== "title" || asked.down) told.set(asked.down ? "down" : "by", asked.column);
    try {
      history.replaceState(null, "", `#${told}`);
    } catch {
      // a browser that lets no page of the disk do so
    }
  }

  function recall() {
    const told = new URLSearchParams(location.hash.slice(1));
    words.value = told.get("words") ?? "";
    const box = choiceOf("box");
    const at = Number(told.get("box") ?? 0);
    asked.box = box && at > 0 && at < box.options.length ? at : 0;
    if (box) box.value = String(asked.box);
    offer();
    for (const name of FILTERS) {
      const choice = choiceOf(name);
      if (choice) choice.value = told.get(name) ?? "";
      if (choice && choice.selectedIndex < 0) choice.value = "";
    }
    const column = told.get("by") ?? told.get("down") ?? "title";
    const known = COLUMNS.find((name) => name === column && table.tHead?.querySelector(`.${name}`));
    sortBy(known ?? "title", told.has("down"));
    showBox();
    draw();
  }

  // -- all of it --------------------------------------------------------------------------------------

  for (const name of COLUMNS) {
    const head = table.tHead?.querySelector(`.${name}`);
    if (!head) continue;
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.onclick = () => {
      sortBy(name, asked.column === name && !asked.down);
      drawAndKeep();
    };
  }
  words.oninput = draw;
  words.onkeydown = (event) => {
    if (event.key === "Enter") words.blur(); // the keys of a phone go away
  };
  for (const name of FILTERS) {
    const choice = choiceOf(name);
    if (choice) choice.onchange = drawAndKeep;
  }
  const box = choiceOf("box");
  if (box) {
    box.onchange = () => {
      asked.box = Number(box.value);
      offer();
      showBox();
      drawAndKeep();
    };
  }
  byId("clear").onclick = () => {
    words.value = "";
    for (const name of FILTERS) {
      const choice = choiceOf(name);
      if (choice) choice.value = "";
    }
    drawAndKeep();
    words.focus();
  };
  table.addEventListener("click", keep);
  addEventListener("hashchange", recall);
  byId("search").hidden = false;
  recall();
})();
