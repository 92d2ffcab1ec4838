// Reads what is to be played on standard input, a JSON text a line, and writes what came of it.
import { createInterface } from "node:readline";

import { play } from "./playing.mjs";

for await (const line of createInterface({ input: process.stdin })) {
  process.stdout.write(`${JSON.stringify(play(JSON.parse(line)))}\n`);
}
