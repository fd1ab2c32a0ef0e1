// What every check of a live page in a real browser shares: the browser, waiting, sizes, pictures,
// a checker of accessibility.
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";

const require = createRequire(process.cwd() + "/");
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");

export const fail = (words) => { throw new Error(words); };
export const pause = (ms) => new Promise((next) => setTimeout(next, ms));
export const until = async (what, done, seconds = 120) => {
  const last = Date.now() + seconds * 1000;
  while (!(await done())) {
    if (Date.now() > last) fail("waited " + seconds + " s for: " + what);
    await pause(50);
  }
};

// A browser with one page. What it asks of others, and what its script complains of, is kept; a
// connection that a check cut, and a form that is refused with its reason, are no complaint.
export const open = async (link, out) => {
  mkdirSync(out, { recursive: true });
  const launch = () => chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync"],
  });
  // One that dies as it starts says nothing about a page: once in hundreds of starts.
  const browser = await launch().catch((died) => {
    console.log("the browser did not start (" + died + "); once more");
    return launch();
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
  page.on("console", (said) => {
    const cut = /ERR_CONNECTION_(RESET|REFUSED)|ERR_FAILED|ERR_INCOMPLETE|status of 4(09|22) /
      .test(said.text());
    if (said.type() === "error" && !cut) faults.push(said.text());
  });
  const text = (id) => page.textContent("#" + id);
  const close = async () => {
    await browser.close();
    if (strangers.length > 0) fail("asked elsewhere: " + strangers);
    if (faults.length > 0) fail("faults: " + faults.join("; "));
  };
  return { page, own, text, close, ...looks(page, out) };
};

// Notes in `window.painted` when each picture of a live page is on the screen: the second frame after
// it has come. With the time that took, the wall clock, and the count of a pass that is open.
export const notePainted = (page) => page.addInitScript(() => {
  const parse = JSON.parse;
  window.painted = [];
  JSON.parse = (text) => {
    const value = parse(text);
    if (value && value.host_ns) {
      const came = performance.now();
      const count = value.finish && value.finish.on ? Number(value.main.value) : null;
      const done = () => window.painted.push({
        took_ms: performance.now() - came, painted_utc_ms: Date.now(), host_ns: value.host_ns, count,
      });
      requestAnimationFrame(() => requestAnimationFrame(done));
    }
    return value;
  };
});

const looks = (page, out) => {
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
            document.querySelector(".bar") !== null &&
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
  return { judge, pictures, sizes };
};
