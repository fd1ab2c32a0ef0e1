// When pictures of a live page are painted, for `painted` to hold against the board's own stamps:
// a pass is begun, and for half a minute of driving each picture's count, look and time on the
// screen are noted.
//
// node painted.mjs MARK_LINK OUT.json
import { writeFileSync } from "node:fs";
import { fail, notePainted, open, pause, until } from "./page_tools.mjs";

const [link, out] = process.argv.slice(2);
const WATCH_S = 30;
const { page, own, text, close } = await open(link, ".");
await notePainted(page);
await page.goto(link);
await until("a start", async () => (await page.getAttribute("#start", "aria-disabled")) === "false");
await page.click("#start");
await until("the tractor's driving", async () => parseInt(await text("main"), 10) > 50);
await pause(WATCH_S * 1000);
const pictures = (await page.evaluate(() => window.painted))
  .filter((one) => Number.isInteger(one.count));
if (pictures.length < 100) fail("only " + pictures.length + " pictures");
writeFileSync(out, JSON.stringify(pictures));
await page.click("#end");
await page.click("#end-now");
await until("the result", () => page.url() === own + "/result", 30);
await close();
