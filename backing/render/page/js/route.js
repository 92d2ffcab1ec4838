/**
 * A course walked to its end, and laid end to end: what a file is made from.
 *
 * @typedef {import("./arrangement.js").Event} Event
 * @typedef {import("./arrangement.js").Role} Role
 * @typedef {import("./course.js").Course} Course
 * @typedef {import("./stretch.js").Stretch} Stretch
 * @typedef {{role: Role, key: number, velocity: number, start: number, stop: number}} Sounded
 *   seconds from the start
 */
import { ROLES } from "./arrangement.js";
import { clicks } from "./clicks.js";
import { keyPresses, Seconds, ticks } from "./presses.js";
import { temposOf } from "./stretch.js";

/** @param {Course} course */
export function route(course) {
  /** @type {Stretch[]} */
  const found = [];
  for (let next = course.next(); next; next = course.next()) found.push(next);
  return found;
}

/**
 * Every key that sounds, in seconds from the start.
 * @param {readonly Stretch[]} stretches @param {number} grid @returns {Sounded[]}
 */
export function perform(stretches, grid) {
  const seconds = new Seconds();
  for (const placed of temposOf(stretches)) seconds.add(placed, grid);
  const zero = seconds.at(ticks(stretches[0].start, grid));
  /** @param {Role} role @param {readonly Event[]} events */
  const sounded = (role, events) =>
    keyPresses(events, grid).map(({ onset, stop, key, velocity }) => ({
      role,
      key,
      velocity,
      start: seconds.at(onset) - zero,
      stop: seconds.at(stop) - zero,
    }));
  const hands = ROLES.flatMap((role, track) => {
    const heard = stretches.filter((stretch) => stretch.sounding && !stretch.muted.includes(role));
    return sounded(role, heard.flatMap((stretch) => stretch.events(track)));
  });
  const clicked = stretches.filter(
    (stretch) => !stretch.muted.includes("click") || stretch.kind === "count-in",
  );
  return [...hands, ...sounded("click", clicked.flatMap((stretch) => clicks(stretch).flat()))];
}
