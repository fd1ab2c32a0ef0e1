// A whole job through the live page in a real browser, beside a simulated tractor: both passes
// are marked by clicking, the page is looked at in several sizes and looks, a checker of
// accessibility goes over it, and the time from a press to its confirmation is measured.
//
// node live_page.mjs MARK_LINK TRACTOR_LOG OUT PID_OF_TRACTOR
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";

const require = createRequire(process.cwd() + "/");
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

const [link, log, out, tractor] = process.argv.slice(2);
const PRESS_LIMIT_MS = 100;
mkdirSync(out, { recursive: true });
const fail = (words) => { throw new Error(words); };
const until = async (what, done, seconds = 120) => {
  const last = Date.now() + seconds * 1000;
  while (!(await done())) {
    if (Date.now() > last) fail("waited " + seconds + " s for: " + what);
    await new Promise((next) => setTimeout(next, 50));
  }
};
const stands = (pass, end) => readFileSync(log, "utf8")
  .match(new RegExp("pass " + pass + " of 2, .*: standing beside the " + end + " peg, mark now"));

const browser = await chromium.launch({
  executablePath: "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync"],
});
const context = await browser.newContext({ bypassCSP: false });
const page = await context.newPage();
const own = new URL(link).origin;
const strangers = [];
const faults = [];
page.on("request", (request) => {
  const url = request.url();
  if (!url.startsWith(own + "/") && !url.startsWith("data:")) strangers.push(url);
});
page.on("pageerror", (error) => faults.push(String(error)));
page.on("console", (said) => { if (said.type() === "error") faults.push(said.text()); });

await page.setViewportSize({ width: 375, height: 720 });
await page.goto(link);
if (page.url() !== own + "/") fail("the token stays in the address: " + page.url());
const text = (id) => page.textContent("#" + id);
await until("the page", async () => /Drive to the first peg/.test(await text("next")), 60);

// Sizes of everything that is touched or read, in CSS pixels.
const sizes = async (name) => {
  const found = await page.evaluate(() => {
    const bad = [];
    const shown = (node) => node.getClientRects().length > 0;
    const touched = [...document.querySelectorAll("button, a, input")].filter(shown);
    const boxes = touched.map((node) => [node, node.getBoundingClientRect()]);
    for (const [node, box] of boxes) {
      const least = node.classList.contains("mark") ? 88 : 60;
      if (box.height < least || box.width < least) {
        bad.push(node.id + " " + node.textContent + ": " + box.width + " x " + box.height);
      }
    }
    for (const [a, one] of boxes) {
      for (const [b, two] of boxes) {
        const across = Math.max(one.left - two.right, two.left - one.right);
        const down = Math.max(one.top - two.bottom, two.top - one.bottom);
        // Marks that float over the page stand over whatever is scrolled there.
        const over = a.classList.contains("mark") !== b.classList.contains("mark") &&
          getComputedStyle(document.querySelector(".bar")).position === "fixed";
        if (a !== b && !over && Math.max(across, down) < 15.9) {
          bad.push("too near: " + a.textContent + " and " + b.textContent + " " +
            Math.max(across, down));
        }
      }
    }
    const size = (node) => parseFloat(getComputedStyle(node).fontSize);
    for (const node of document.querySelectorAll("body *")) {
      const words = [...node.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
      if (words && shown(node) && size(node) < 20) bad.push("small: " + node.textContent);
    }
    const main = document.getElementById("main");
    if (size(main) < 64) bad.push("main value: " + size(main));
    if (!getComputedStyle(main).fontVariantNumeric.includes("tabular-nums")) bad.push("digits");
    if (document.documentElement.scrollWidth > innerWidth) {
      bad.push("wider than the window: " + document.documentElement.scrollWidth);
    }
    return bad;
  });
  if (found.length > 0) fail(name + ": " + found.join("; "));
};
const judge = async (name) => {
  await page.evaluate(axe + "\n;0");
  const found = await page.evaluate(() => window.axe.run(document));
  const bad = found.violations.map((one) => one.id + " " + one.nodes.map((n) => n.html).join(" "));
  if (bad.length > 0) fail("accessibility, " + name + ": " + bad.join("; "));
  return found.passes.length;
};
const views = [["320", 320, 640], ["768", 768, 1024], ["1280", 1280, 800], ["low", 640, 320]];
const pictures = async (name) => {
  let rules = 0;
  for (const look of ["day", "night", "strong"]) {
    await page.click('button[data-look="' + look + '"]');
    for (const [size, width, height] of views) {
      await page.setViewportSize({ width, height });
      await sizes(name + " " + look + " " + size);
      await page.evaluate(() => scrollTo(0, 0));
      if (look !== "strong" || size === "320") {
        await page.screenshot({ path: out + "/" + [name, look, size].join("-") + ".png" });
      }
    }
    await page.setViewportSize({ width: 375, height: 720 });
    rules += await judge(name + " " + look);
  }
  await page.screenshot({ path: out + "/" + name + "-whole.png", fullPage: true });
  await page.click('button[data-look="auto"]');
  return rules;
};
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
  await press("finish", "^Confirmed at .*: finish of pass " + pass);
}
await page.fill("#note", "dry stubble <b>&amp;");
await page.keyboard.press("Enter");
await until("the note", async () => /Note saved/.test(await text("said")), 20);
await until("both passes", async () =>
  (await page.locator("#passes li").allTextContents()).filter((t) => /valid|flagged/.test(t)).length
    === 2);
// More presses for the figure below: a start and its undoing, again and again.
const silent = () => page.evaluate(() => { document.getElementById("confirm").textContent = ""; });
for (let n = 0; n < 20; n++) {
  await silent();
  await press("start", "^Confirmed at .*: start of pass 3");
  await new Promise((next) => setTimeout(next, 450));
  await silent();
  await press("undo", "^Confirmed at ");
  await new Promise((next) => setTimeout(next, 450));
}
rules += await pictures("done");
await page.emulateMedia({ media: "print" });
await page.screenshot({ path: out + "/done-print.png", fullPage: true });
await page.pdf({ path: out + "/done.pdf", format: "A4" });
await page.emulateMedia({ media: null, forcedColors: "active" });
await page.screenshot({ path: out + "/done-forced.png" });
await page.emulateMedia({ forcedColors: null, colorScheme: "dark" });
await page.screenshot({ path: out + "/done-dark.png" });

// Silence: values are struck within three seconds, and the whole page says so after ten.
const since = async (what, done, limit) => {
  const began = Date.now();
  await until(what, done, 20);
  const took = (Date.now() - began) / 1000;
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
await until("the banner", async () => page.isVisible("#quiet"), 20);
const banner_s = (Date.now() - silent_from) / 1000;
console.log("silent server: banner after " + banner_s.toFixed(2) + " s");
if (banner_s > 11) fail("the banner took " + banner_s + " s");
await page.screenshot({ path: out + "/silent.png" });
process.kill(program, "SIGCONT");
await until("back again", async () => !(await page.isVisible("#quiet")), 30);

await page.click("#work");
await until("the result", () => page.url() === own + "/result", 60);
await page.screenshot({ path: out + "/result.png" });
rules += await judge("result");
await browser.close();
if (strangers.length > 0) fail("asked elsewhere: " + strangers);
if (faults.length > 0) fail("faults: " + faults.join("; "));
times.sort((a, b) => a - b);
const p99 = times[Math.min(times.length - 1, Math.floor(times.length * 0.99))];
const mid = times[Math.floor(times.length / 2)];
console.log("accessibility: no violation, " + rules + " checks passed");
console.log("press to screen, " + times.length + " presses: median " + mid.toFixed(0) + " ms, p99 " +
  p99.toFixed(0) + " ms (slowest: " + times.slice(-4).map((t) => t.toFixed(0)).join(", ") +
  "), ratio to " + PRESS_LIMIT_MS + " ms: " + (p99 / PRESS_LIMIT_MS).toFixed(2));
