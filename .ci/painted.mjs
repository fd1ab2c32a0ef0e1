// When pictures of a live page are painted, for `painted` to hold against the board's own stamps:
// a pass is begun, and for half a minute of driving each picture's count, look and time on the
// screen are noted.
//
// node painted.mjs MARK_LINK OUT.json
import { writeFileSync } from "node:fs";
import { fail, open, pause, until } from "./page_tools.mjs";

const [link, out] = process.argv.slice(2);
const WATCH_S = 30;
const { page, own, text, close } = await open(link, ".");
// Two frames after a picture has come it is on the screen.
await page.addInitScript(() => {
  const parse = JSON.parse;
  window.pictures = [];
  JSON.parse = (text) => {
    const value = parse(text);
    const count = value && value.finish && value.finish.on ? Number(value.main.value) : NaN;
    if (Number.isInteger(count)) {
      const done = () => window.pictures.push({ painted_utc_ms: Date.now(), host_ns: value.host_ns, count });
      requestAnimationFrame(() => requestAnimationFrame(done));
    }
    return value;
  };
});
await page.goto(link);
await until("a start", async () => (await page.getAttribute("#start", "aria-disabled")) === "false");
await page.click("#start");
await until("the tractor's driving", async () => parseInt(await text("main"), 10) > 50);
await pause(WATCH_S * 1000);
const pictures = await page.evaluate(() => window.pictures);
if (pictures.length < 100) fail("only " + pictures.length + " pictures");
writeFileSync(out, JSON.stringify(pictures));
await page.click("#end");
await page.click("#end-now");
await until("the result", () => page.url() === own + "/result", 30);
await close();
