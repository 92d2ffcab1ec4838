/** What is found in the page, and written into it only where it is another. */

/** @param {string} id */
export const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
/** @param {string} id */
export const choiceOf = (id) => /** @type {HTMLSelectElement} */ (byId(id));
/** @param {string} id */
export const fieldOf = (id) => /** @type {HTMLInputElement} */ (byId(id));

/** @param {HTMLElement} element @param {string} text */
export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** @param {string} id @param {boolean} shown */
export function show(id, shown) {
  byId(id).hidden = !shown;
}

/** @template {keyof HTMLElementTagNameMap} Tag @param {Tag} tag @param {string} text @param {string} kind */
export function made(tag, text = "", kind = "") {
  const element = document.createElement(tag);
  element.textContent = text;
  element.className = kind;
  return element;
}
