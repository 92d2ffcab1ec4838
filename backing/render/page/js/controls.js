/** Which key asks for what; a pedal for page turning sends Page Up and Page Down. */

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
  Tab: "a step on",
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

/**
 * What a key asks for; nothing where it is meant for what has the focus.
 * @param {KeyboardEvent} event @param {boolean} steps whether a practice has several
 */
export function askedBy(event, steps) {
  if (event.ctrlKey || event.altKey || event.metaKey) return undefined;
  const { target, key } = event;
  if (target instanceof HTMLSelectElement) return undefined;
  if (target instanceof HTMLButtonElement && (key === " " || key === "Enter")) return undefined;
  if (target instanceof HTMLAnchorElement && key === "Enter") return undefined;
  // without steps to go to, Tab goes through the page
  if (key === "Tab" && (event.shiftKey || !steps)) return undefined;
  return KEYS[key.length === 1 ? key.toLowerCase() : key];
}
