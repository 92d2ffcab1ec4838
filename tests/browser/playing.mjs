// Plays music to a sound that is a list, on a clock that is a number, while a player asks for this
// and that; what was pressed and let go, which bars were seen, and what went wrong.
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

export function play({ music, asked = [], until = 1e5, endless = false }) {
  const { grid } = music.score;
  const sound = new FakeSound();
  const course = new Course(piecesOf(music, 0), music.steps, { grid, endless });
  const player = new Player(course, sound, grid);
  const waiting = [...asked];
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
  }
  player.stop();
  const pressed = sound.pressed.map((v) => [v.role, v.key, v.start, v.stop, v.velocity]);
  const { faults, breaths } = sound;
  return { pressed, breaths: breaths.map(({ at }) => at), late: player.late, faults };
}
