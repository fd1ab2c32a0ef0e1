// What a walk through the stations in a real browser needs: forms filled in by pointer or by
// keyboard alone, and each station looked at in sizes and looks.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { fail, pause } from "./page_tools.mjs";

const require = createRequire(process.cwd() + "/");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const WIDTHS = [[360, 740], [768, 1024], [1280, 800]];
const LOOKS = [
  ["light", { colorScheme: "light", contrast: "no-preference" }],
  ["dark", { colorScheme: "dark", contrast: "no-preference" }],
  ["contrast", { colorScheme: "light", contrast: "more" }],
];

// Whatever can be touched is 44 px high and wide, but for links inside a sentence; nothing is wider
// than the window.
const sizes = (page) => page.evaluate(() => {
  const bad = [];
  const shown = (node) => node.getClientRects().length > 0 && !node.closest(".unseen");
  const inText = (node) => node.tagName === "A" && getComputedStyle(node).display === "inline";
  for (const node of document.querySelectorAll("button, a, input, select, textarea, summary")) {
    if (!shown(node) || node.type === "hidden" || inText(node)) continue;
    const box = node.getBoundingClientRect();
    const least = node.classList.contains("mark") ? 88 : 44;
    if (box.height < least - 0.1 || box.width < least - 0.1) {
      bad.push((node.name || node.textContent).trim() + ": " + box.width + " x " + box.height);
    }
  }
  if (document.documentElement.scrollWidth > innerWidth) {
    bad.push("wider than the window: " + document.documentElement.scrollWidth);
  }
  return bad;
});

export const walker = (page, out, keyboard) => {
  let looked = 0;
  // What is wrong with how stations look; a walk goes on, so that one run names all of it.
  const found = [];
  const wrong = { push: (words) => { found.push(words); console.log(words); } };
  // Tab until this is where one types, as somebody without a pointer does.
  const reach = async (target) => {
    for (let n = 0; n < 600; n++) {
      if (await target.evaluate((node) => node === document.activeElement)) return;
      await page.keyboard.press("Tab");
    }
    fail("cannot be reached by keyboard: " + target);
  };
  const press = async (target) => {
    if (!keyboard) {
      // Nothing was pressed yet when a click comes to its time.
      for (let n = 1; ; n++) {
        try {
          return await target.click({ timeout: 15000 });
        } catch (error) {
          if (n === 3 || error.name !== "TimeoutError") throw error;
          console.log("not yet to be clicked: " + target);
          await page.bringToFront();
        }
      }
    }
    await reach(target);
    const link = await target.evaluate((node) => node.tagName === "A");
    await page.keyboard.press(link ? "Enter" : "Space");
  };
  const type = async (field, value) => {
    const kind = await field.evaluate((node) =>
      node.tagName === "SELECT" ? "select" : node.type === "checkbox" ? "tick" : "text");
    if (kind === "tick") {
      if ((await field.isChecked()) !== Boolean(value)) await press(field);
    } else if (kind === "select" && !keyboard) {
      await field.selectOption(value);
    } else if (kind === "select") {
      await reach(field);
      for (let n = 0; n < 200 && (await field.inputValue()) !== value; n++) {
        await page.keyboard.press(n < 100 ? "ArrowDown" : "ArrowUp");
      }
      if ((await field.inputValue()) !== value) fail("no choice " + value);
    } else if (!keyboard) {
      await field.fill(value);
    } else {
      await reach(field);
      await page.keyboard.press("Control+A");
      await page.keyboard.type(value);
    }
  };
  const form = (action) => page.locator('form[action="' + action + '"]').first();
  const fill = async (action, values) => {
    for (const [name, value] of Object.entries(values)) {
      await type(form(action).locator('[name="' + name + '"]').first(), value);
    }
  };
  // Send a form, and be where it leads.
  const send = async (action, values) => {
    await fill(action, values || {});
    const led = page.waitForNavigation({ waitUntil: "domcontentloaded" });
    await press(form(action).locator("button.wide[type=submit]").first());
    await led;
  };
  const judge = async (name) => {
    await page.evaluate(axe + "\n;0");
    const rules = { "color-contrast-enhanced": { enabled: true } };
    const found = await page.evaluate((rules) => window.axe.run(document, { rules }), rules);
    const bad = found.violations.map((one) =>
      one.id + " " + one.nodes.map((n) => n.html).join(" "));
    if (bad.length > 0) wrong.push("accessibility, " + name + ": " + bad.join("; "));
  };
  // The page as it is now: judged and pictured in every width and look, and as it is printed.
  const look = async (name) => {
    if (process.env.LOOKS === "none") return;
    looked += 1;
    for (const [look, media] of LOOKS) {
      await page.emulateMedia(media);
      for (const [width, height] of WIDTHS) {
        await page.setViewportSize({ width, height });
        const bad = await sizes(page);
        if (bad.length > 0) wrong.push(name + " " + look + " " + width + ": " + bad.join("; "));
        const path = out + "/" + [name, look, width].join("-") + ".png";
        await page.screenshot({ path, fullPage: true });
      }
      await judge(name + " " + look);
    }
    await page.emulateMedia({ colorScheme: null, contrast: null, media: "print" });
    await page.screenshot({ path: out + "/" + name + "-print.png", fullPage: true });
    await page.emulateMedia({ media: null });
    await page.setViewportSize({ width: 768, height: 1024 });
  };
  // A page that is reached by a link of the one that is shown.
  const go = async (path) => {
    const led = page.waitForNavigation({ waitUntil: "domcontentloaded" });
    await press(page.locator('a[href="' + path + '"]').first());
    await led;
  };
  const says = async (words) => new RegExp(words).test(await page.textContent("main"));
  return { go, send, fill, type, look, press, says, judge, reach, pause,
    count: () => looked,
    // Ends the walk: how many stations were looked at; what is wrong with any fails it.
    close: () => (found.length > 0 ? fail(found.length + " faults of looks, see above") : looked),
  };
};
