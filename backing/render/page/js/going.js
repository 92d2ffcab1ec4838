/**
 * What a player can ask for while it sounds, whatever it is asked with: key, pedal, button.
 *
 * @typedef {import("./laying.js").Target} Target
 * @typedef {import("./player.js").Player} Player
 * @typedef {import("./ways.js").WaysOn} WaysOn
 */

/** Where the music goes, from where it is. @type {Record<string, (ways: WaysOn, here: Target) => Target>} */
const GOES = {
  "what was asked for at first": (ways, here) => ways.course.asked(here.step),
  "round and round in this bar": (ways, here) => ways.barAlone(here),
  "round and round in this part": (ways, here) => ways.sectionAlone(here),
  "the whole tune": (ways, here) => ways.whole(here),
  "a bar back": (ways, here) => ways.stepBars(here, -1),
  "a bar on": (ways, here) => ways.stepBars(here, 1),
  "a part back": (ways, here) => ways.stepSections(here, -1),
  "a part on": (ways, here) => ways.stepSections(here, 1),
  "this is the last time": (_, here) => ({ ...here, last: true }),
};

/** What happens at once. @type {Record<string, (player: Player) => void>} */
const DOES = {
  "stop and go": (player) => player.stopOrGo(),
  "again from the count-in": (player) => player.begin({ ...player.here, bar: 0 }),
  slower: (player) => player.changeTempo(-1),
  faster: (player) => player.changeTempo(1),
  "melody on and off": (player) => player.turn("melody"),
  "bass on and off": (player) => player.turn("bass"),
  "chords on and off": (player) => player.turn("chords"),
  "click on and off": (player) => player.turn("click"),
  "from here": (player) => player.markBar("first"),
  "to here, round and round": (player) => player.markBar("last"),
  "stay on this step": (player) => player.stay(),
};

/** The steps of a practice. @type {Record<string, number>} */
const STEPS = { "a step back": -1, "a step on": 1 };

/**
 * Where an action leads.  `waits` is true where `here` is still to come; else the next bar comes
 * by itself, and "on" is counted from that one.
 * @param {WaysOn} ways @param {string} action @param {Target} here @param {boolean} waits
 */
function goal(ways, action, here, waits) {
  const onward = (action === "a bar on" || action === "this is the last time") && !waits;
  const target = GOES[action](ways, onward ? ways.following(here) : here);
  return action === "the whole tune" && !waits ? ways.following(target) : target;
}

/**
 * Do what is asked for, at once or at the next bar line.
 * @param {Player} player @param {string} action
 */
export function act(player, action) {
  if (action in DOES) DOES[action](player);
  else if (action in STEPS) player.changeStep(STEPS[action]);
  else player.go(goal(player.ways, action, player.here, player.waits));
}
