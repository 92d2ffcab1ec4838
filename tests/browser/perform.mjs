// Reads cases of music on standard input, a JSON text a line, and writes what the page's modules
// make of each: every key that sounds, in seconds from the start.
import { createInterface } from "node:readline";

import { Course } from "../../backing/render/page/js/course.js";
import { perform, route } from "../../backing/render/page/js/route.js";
import { Faces, tuneOf } from "../../backing/render/page/js/score.js";

for await (const line of createInterface({ input: process.stdin })) {
  const music = JSON.parse(line);
  const { grid } = music.score;
  const pieces = music.choices[0].pieces.map((piece) => ({
    faces: new Faces(piece.faces, music.score),
    tune: tuneOf(piece.tune),
  }));
  const course = new Course(pieces, music.steps, { grid });
  const sounded = perform(route(course), grid);
  process.stdout.write(`${JSON.stringify(sounded.map(({ role, key, start, stop, velocity }) => [role, key, start, stop, velocity]))}\n`);
}
