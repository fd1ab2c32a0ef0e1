// A whole job through the live page in a real browser, beside a simulated tractor: both passes
// are marked by clicking, the page is looked at in several sizes and looks, a checker of
// accessibility goes over it, and the time from a press to its confirmation is measured.
//
// node live_page.mjs MARK_LINK TRACTOR_LOG OUT PID_OF_TRACTOR
import { readFileSync } from "node:fs";
import { fail, notePainted, open, pause, until } from "./page_tools.mjs";

const [link, log, out, tractor] = process.argv.slice(2);
const PRESS_LIMIT_MS = 100;
const stands = (pass, end) => readFileSync(log, "utf8")
  .match(new RegExp("pass " + pass + " of 2, .*: standing beside the " + end + " peg, mark now"));

const { page, own, text, close, judge, pictures } = await open(link, out);
await notePainted(page);
await page.setViewportSize({ width: 375, height: 720 });
await page.goto(link);
if (page.url() !== own + "/") fail("the token stays in the address: " + page.url());
await until("the page", async () => /Drive to the first peg/.test(await text("next")), 60);

let rules = await pictures("before");

// Presses: the button gives way at once, and is confirmed with its time.
const times = [];
const place = (id) => page.locator("#" + id).evaluate((node) => {
  const box = node.getBoundingClientRect();
  return [box.left, box.width].map(Math.round).join();
});
const press = async (id, confirmed) => {
  await until(id + " is due", async () =>
    (await page.getAttribute("#" + id, "aria-disabled")) === "false");
  const took = await page.evaluate(([id, confirmed]) => new Promise((done) => {
    const began = performance.now();
    const look = () => {
      const words = document.getElementById("confirm").textContent;
      if (!new RegExp(confirmed).test(words)) return requestAnimationFrame(look);
      requestAnimationFrame(() => done(performance.now() - began));
    };
    document.getElementById(id).click();
    look();
  }), [id, confirmed]);
  times.push(took);
};
const left = await place("start");
const right = await place("finish");
for (const pass of [1, 2]) {
  await until("the start of pass " + pass, () => stands(pass, "start"));
  await press("start", "^Confirmed at .*: start of pass " + pass);
  if ((await place("start")) !== left || (await place("finish")) !== right) fail("they moved");
  await until("the count", async () => parseInt(await text("main"), 10) > 100);
  rules += await judge("under way");
  if (pass === 1) await pictures("under-way");
  await until("the finish of pass " + pass, () => stands(pass, "finish"));
  await press("finish", "^Confirmed at .*: end of pass " + pass);
}
await page.fill("#note", "dry stubble <b>&amp;");
await page.keyboard.press("Enter");
await until("the note", async () => /Note saved/.test(await text("said")), 20);
await until("both passes", async () =>
  (await page.locator("#passes li").allTextContents()).filter((t) => /valid|flagged/.test(t)).length
    === 2);
// More presses for the figure below: a start and its undoing, again and again.
const silent = () => page.evaluate(() => { document.getElementById("confirm").textContent = ""; });
await page.evaluate(() => { window.painted = []; });
for (let n = 0; n < 20; n++) {
  await silent();
  await press("start", "^Confirmed at .*: start of pass 3");
  await pause(450);
  await silent();
  await press("undo", "^Confirmed at ");
  await pause(450);
}
const painted = (await page.evaluate(() => window.painted.map((one) => one.took_ms)))
  .sort((a, b) => a - b);
if (painted.length < 100) fail("only " + painted.length + " pictures were painted");
const share = (part) => painted[Math.floor((painted.length - 1) * part)].toFixed(0);
console.log("data to painted, " + painted.length + " pictures: median " + share(0.5) + " ms, p99 " +
  share(0.99) + " ms");
// The answer to a press is lost after the program has had it; then a press itself is lost. The page
// says so, sends the same press again, and it is one mark.
const lose = async (path, id, confirmed, sent) => {
  const keys = [];
  // The page stands with "Not confirmed" for half a second only, unless the press waits.
  let seen;
  const noticed = new Promise((done) => { seen = done; });
  await page.route("**" + path, async (route) => {
    keys.push(JSON.parse(route.request().postData()).key);
    if (keys.length > 1) {
      await noticed;
      return route.continue();
    }
    if (sent) await route.fetch();
    return route.abort("connectionreset");
  });
  await silent();
  await page.click("#" + id);
  await until("not confirmed", async () => /^Not confirmed/.test(await text("confirm")), 10);
  seen();
  await until("confirmed", async () =>
    new RegExp(confirmed).test(await text("confirm")), 20);
  await page.unroute("**" + path);
  if (keys.length < 2 || new Set(keys).size !== 1) fail("another press was sent: " + keys);
  await pause(450);
};
const count = async (words) => (await text("said")).split(words).length - 1;
await silent();
const starts = await count("start of pass 3 marked");
await lose("/mark", "start", "^(Confirmed|Already).*pass 3", true);
if ((await page.getAttribute("#finish", "aria-disabled")) !== "false") fail("no pass is open");
if ((await count("start of pass 3 marked")) > starts + 1) fail("marked twice");
await lose("/undo", "undo", "^(Confirmed|Already)", false);
if ((await page.getAttribute("#start", "aria-disabled")) !== "false") fail("the pass stayed open");
console.log("a lost answer and a lost press: one mark each, by the same press sent again");

rules += await pictures("done");
await page.emulateMedia({ media: "print" });
await page.screenshot({ path: out + "/done-print.png", fullPage: true });
await page.pdf({ path: out + "/done.pdf", format: "A4" });
await page.emulateMedia({ media: null, forcedColors: "active" });
await page.screenshot({ path: out + "/done-forced.png" });
await page.emulateMedia({ forcedColors: null, colorScheme: "dark" });
await page.screenshot({ path: out + "/done-dark.png" });

// Silence: values are struck within three seconds, and the whole page says so after ten.
// What counts is when the look began that saw it: the look itself may take its time.
const since = async (what, done, limit, began = Date.now()) => {
  let looked;
  await until(what, async () => {
    looked = Date.now();
    return done();
  }, 20);
  const took = (looked - began) / 1000;
  console.log(what + ": " + took.toFixed(2) + " s");
  if (took > limit) fail(what + " took " + took + " s");
};
process.kill(Number(tractor), "SIGSTOP");
await since("old values struck", async () =>
  /no data since \d\d:\d\d:\d\d/.test(await text("speeds")), 3);
process.kill(Number(tractor), "SIGCONT");
await until("live again", async () => !/no data since/.test(await text("speeds")), 30);
const program = Number(process.env.PROGRAM);
process.kill(program, "SIGSTOP");
const silent_from = Date.now();
await since("silent server: struck", async () =>
  /no data since \d\d:\d\d:\d\d/.test(await text("main-since")), 3);
await since("silent server: banner", async () => page.isVisible("#quiet"), 11, silent_from);
await page.screenshot({ path: out + "/silent.png" });
process.kill(program, "SIGCONT");
await until("back again", async () => !(await page.isVisible("#quiet")), 30);

await page.click("#work");
await until("the result", () => page.url() === own + "/result", 60);
await page.screenshot({ path: out + "/result.png" });
rules += await judge("result");

// Finished from the page: not by one touch, and the result stays when the program has ended.
await page.goto(own + "/");
await until("live", async () => /pass 3/.test(await text("start")), 20);
await page.click("#end");
if (!(await page.isVisible("#end-now"))) fail("finishing is not offered");
rules += await judge("finishing");
await page.locator("#end").scrollIntoViewIfNeeded();
await page.screenshot({ path: out + "/finishing.png" });
await page.click("#end-not");
if (await page.isVisible("#end-now")) fail("the offer stayed");
await page.click("#end");
await page.click("#end-now");
await until("the last result", () => page.url() === own + "/result", 30);
await until("its words", async () =>
  /The recording has ended/.test(await page.textContent("body")), 10);
await until("the program's end", () => {
  try { process.kill(program, 0); return false; } catch { return true; }
}, 30);
if (!/impulses per 100/i.test(await page.textContent("body"))) fail("the result is gone");
rules += await judge("the last result");
await page.screenshot({ path: out + "/ended.png" });
await close();
times.sort((a, b) => a - b);
const p99 = times[Math.min(times.length - 1, Math.floor(times.length * 0.99))];
const mid = times[Math.floor(times.length / 2)];
console.log("accessibility: no violation, " + rules + " checks passed");
console.log("press to screen, " + times.length + " presses: median " + mid.toFixed(0) + " ms, p99 " +
  p99.toFixed(0) + " ms (slowest: " + times.slice(-4).map((t) => t.toFixed(0)).join(", ") +
  "), ratio to " + PRESS_LIMIT_MS + " ms: " + (p99 / PRESS_LIMIT_MS).toFixed(2));
