// What somebody does on the page of a live job: begin it, mark, type readings, finish it.
import { fail, until } from "./page_tools.mjs";

// From a press to the first frame in which its confirmation stands, milliseconds.
export const presses = [];
const watch = () => {
  const confirm = document.getElementById("confirm");
  window.presses = [];
  let pressed = 0;
  document.addEventListener("click", (event) => {
    if (event.target.closest(".mark")) pressed = performance.now();
  }, true);
  new MutationObserver(() => {
    if (!pressed || !/^Confirmed/.test(confirm.textContent)) return;
    const from = pressed;
    pressed = 0;
    requestAnimationFrame(() => window.presses.push(performance.now() - from));
  }).observe(confirm, { childList: true, characterData: true, subtree: true });
};

export const driver = (page, day) => {
  const text = (id) => page.textContent("#" + id);
  const said = (words, seconds) => page.waitForFunction((words) => {
    // The page may be coming anew just now.
    const of = (id) => (document.getElementById(id) || { textContent: "" }).textContent;
    const found = new RegExp(words).exec(of("said") + "\n" + of("lines"));
    return found && found[0];
  }, words, { polling: "raf", timeout: seconds * 1000 }).then((handle) => handle.jsonValue());
  // Begin at a station; be on the live page, which data have reached.
  const begin = async (path, values) => {
    await day.send(path, values);
    if (new URL(page.url()).pathname !== "/live") {
      fail(path + " did not begin: " + (await page.innerText("main")).slice(0, 2000));
    }
    // What it shows is known once the job has begun; the page is then read anew by itself.
    await page.waitForFunction(() => document.readyState !== "loading" && (
      !document.getElementById("next") || document.body.dataset.kind !== "said" &&
      document.getElementById("next").textContent !== ""), null, { timeout: 60000 });
    if (!(await page.locator("#next").count())) {
      fail(path + " ended at once: " + (await page.innerText("main")).slice(0, 2000));
    }
  };
  // Mark passes as the simulated driver stands beside the pegs.
  const passes = async (from, to, under, read) => {
    await page.evaluate(watch);
    for (let n = from; n <= to; n++) {
      for (const [id, end, mark] of [["start", "start", "start"], ["finish", "finish", "end"]]) {
        await said("pass " + n + " of \\d+, \\w+: standing beside the " + end + " peg, mark now",
          240);
        await day.press(page.locator("#" + id));
        await until(mark + " of pass " + n, async () =>
          new RegExp("^Confirmed at .*: " + mark + " of pass " + n)
            .test(await text("confirm")), 20);
        if (read) await read(n, end);
        if (id === "start" && n === from) await under();
      }
    }
    presses.push(...await page.evaluate(() => window.presses));
  };
  // Type a line as the button of the page does.
  const typed = async (line, value) => {
    const form = page.locator('form.line[data-typed="' + line + '"]');
    if (value !== undefined) await day.type(form.locator("input"), value);
    await day.press(form.locator("button"));
    await until("what was typed is taken", async () =>
      (await text("line-confirm")) !== "", 20);
  };
  // Finish the job; be where its result is.
  const end = async (path) => {
    await day.press(page.locator("#end"));
    const led = page.waitForURL((url) => url.pathname === path,
      { timeout: 60000, waitUntil: "domcontentloaded" });
    await day.press(page.locator("#end-now"));
    await led;
  };
  const doneDriving = (seconds) =>
    said("Simulated tractor: the (job is|circles are) done", seconds);
  // The distance that the simulated terminal shows now, at rest beside a peg of this pass.
  const shownBy = async () => {
    const words = await text("said");
    const found = /the terminal shows ([0-9.]+) m/.exec(words);
    return found ? found[1] : fail("nothing is shown: " + words);
  };
  return { begin, passes, typed, end, doneDriving, said, shownBy, text };
};
