// Drives Firefox over WebDriver BiDi. Reads what to do on standard input, a JSON text a line, and
// answers each with a line: {value}, or {fault}.
import { createInterface } from "node:readline";

import puppeteer from "puppeteer-core";

const [executablePath] = process.argv.slice(2);
const browser = await puppeteer.launch({ browser: "firefox", executablePath });
const tabs = [];
/** Milliseconds in which whatever is asked for has come. */
const LONGEST = 120_000;

const WAYS = {
  async open({ url, width, height }) {
    const context = await browser.createBrowserContext();
    const page = await context.newPage();
    await page.bringToFront(); // behind another page it would not sound
    const faults = [];
    page.on("pageerror", (error) => faults.push(String(error)));
    page.on("console", (said) => said.type() === "error" && faults.push(said.text()));
    await page.setViewport({ width, height });
    await page.goto(url);
    return tabs.push({ context, page, faults }) - 1;
  },
  run: ({ tab, code }) => tabs[tab].page.evaluate(code),
  tap: ({ tab, x, y }) => tabs[tab].page.mouse.click(x, y),
  press: ({ tab, key }) => tabs[tab].page.keyboard.press(key),
  faults: ({ tab }) => tabs[tab].faults,
  close: ({ tab }) => tabs[tab].context.close(),
};

/** @param {string} way */
async function tooLate(way) {
  await new Promise((done) => setTimeout(done, LONGEST).unref());
  throw new Error(`${way}: nothing came within ${LONGEST / 1000} s`);
}

for await (const line of createInterface({ input: process.stdin })) {
  const { way, ...more } = JSON.parse(line);
  let said;
  try {
    said = { value: (await Promise.race([WAYS[way](more), tooLate(way)])) ?? null };
  } catch (error) {
    said = { fault: String(error) };
  }
  process.stdout.write(`${JSON.stringify(said)}\n`);
}
await Promise.race([browser.close(), new Promise((done) => setTimeout(done, 10_000))]);
browser.process()?.kill("SIGKILL");
process.exit();
