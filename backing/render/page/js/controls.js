/** Which key asks for what; a pedal for page turning sends Page Up and Page Down, and Tab goes through
 * the page. */

/** By the names that a browser has for keys. @type {Record<string, string>} */
export const KEYS = {
  " ": "stop and go",
  PageDown: "stop and go",
  PageUp: "again from the count-in",
  Enter: "again from the count-in",
  Home: "again from the count-in",
  ArrowUp: "faster",
  "+": "faster",
  ArrowDown: "slower",
  "-": "slower",
  ArrowLeft: "a bar back",
  ArrowRight: "a bar on",
  "<": "a part back",
  ",": "a part back",
  ">": "a part on",
  ".": "a part on",
  f: "from here",
  t: "to here, round and round",
  Backspace: "a step back",
  n: "a step on",
  s: "stay on this step",
  b: "round and round in this bar",
  p: "round and round in this part",
  w: "the whole tune",
  o: "what was asked for at first",
  l: "this is the last time",
  1: "melody on and off",
  2: "bass on and off",
  3: "chords on and off",
  4: "click on and off",
};

/** A character that is typed, not a key with a name. @param {string} key */
const isTyped = (key) => key.length === 1 && key !== " ";

/**
 * What a key asks for; nothing where it is meant for what has the focus.
 * @param {KeyboardEvent} event
 * @param {boolean} typed whether keys of one character ask for something (WCAG 2.2, 2.1.4: one can
 *   turn that off)
 */
export function askedBy(event, typed) {
  if (event.ctrlKey || event.altKey || event.metaKey) return undefined;
  const { target, key } = event;
  if (isTyped(key) && !typed) return undefined;
  if (target instanceof HTMLSelectElement || target instanceof HTMLInputElement) return undefined;
  const pressed = target instanceof HTMLElement && target.matches("button, summary");
  if (target instanceof HTMLAnchorElement && key === "Enter") return undefined;
  if (pressed && (key === " " || key === "Enter")) return undefined;
  return KEYS[key.length === 1 ? key.toLowerCase() : key];
}
