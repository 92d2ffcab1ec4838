// Reads music and what a player asks for and when, a JSON text a line, plays it to a sound that is
// a list, and writes what was pressed and let go, which beats were seen, and what went wrong.
import { createInterface } from "node:readline";

import { Course } from "../../backing/render/page/js/course.js";
import { act } from "../../backing/render/page/js/going.js";
import { Player } from "../../backing/render/page/js/player.js";
import { Faces, tuneOf } from "../../backing/render/page/js/score.js";
import { FakeSound } from "./fake_sound.mjs";

const [LOOK, HORIZON] = [0.05, 1];

const piecesOf = (music, choice) =>
  music.choices[choice].pieces.map((piece) => ({
    faces: new Faces(piece.faces, music.score),
    tune: tuneOf(piece.tune),
  }));

const WAYS = {
  tempo: (player, factor) => player.setTempo(factor),
  nudge: (player) => player.setTempo(player.factor),
  turn: (player, role) => player.turn(role),
  bars: (player, first, last) => player.go(player.ways.bars(player.here, first, last)),
};

for await (const line of createInterface({ input: process.stdin })) {
  const { music, asked = [], until = 1e5, endless = false } = JSON.parse(line);
  const { grid } = music.score;
  const sound = new FakeSound();
  const course = new Course(piecesOf(music, 0), music.steps, { grid, endless });
  const player = new Player(course, sound, grid);
  const waiting = [...asked];
  const beats = [];
  player.begin();
  for (let look = 0; sound.time < until && (player.playing || waiting.length); look += 1) {
    sound.time = look * LOOK;
    while (waiting.length && waiting[0][0] <= sound.time) {
      const [, way, ...more] = waiting.shift();
      if (way === "dress") player.dress(piecesOf(music, more[0]));
      else if (way in WAYS) WAYS[way](player, ...more);
      else act(player, way);
    }
    player.pump(HORIZON);
    const { beat } = player;
    const seen = beat && [beat.stretch.kind, beat.bar.number, beat.place, beat.bar.onset];
    if (seen && String(beats[beats.length - 1]) !== String(seen)) beats.push(seen);
  }
  player.stop();
  const pressed = sound.pressed.map((v) => [v.role, v.key, v.start, v.stop, v.velocity]);
  const { faults, breaths } = sound;
  const said = { pressed, beats, breaths, late: player.late, faults };
  process.stdout.write(`${JSON.stringify(said)}\n`);
}
