// What comes after the record: the program is killed in the middle of a job, and a second device
// looks on and changes something.
import { fail, until } from "./page_tools.mjs";
import { walker } from "./first_day_tools.mjs";
import { driver } from "./first_day_live.mjs";

// Killed under way, started again: the page says so, and what was recorded until then is used.
export const killed = async (run, page, day, own, begun) => {
  const { begin, passes } = driver(page, day);
  await page.goto(own + "/drive", { waitUntil: "domcontentloaded" });
  await begin("/drive", begun);
  await passes(1, 2, () => {});
  await run.kill("SIGKILL");
  const again = await run.start();
  if (new URL(again.link).origin !== own) fail("another address after the restart: " + again.link);
  await page.goto(again.link, { waitUntil: "domcontentloaded" });
  if (!(await day.says("cut off|killed|did not end|was not closed|still"))) {
    fail("nothing is said of the recording that was cut off: " + (await page.innerText("main")));
  }
  await day.look("start-killed");
  const use = page.locator('form:has(input[name="do"][value="use-capture"]) button.wide');
  const led = page.waitForURL((url) => url.pathname === "/value", { timeout: 30000 });
  await day.press(use);
  await led;
  await page.waitForLoadState("domcontentloaded");
  const worked = run.json("work", run.job().captures.drive.at(-1));
  const numbers = worked.passes.map((one) => one.number).join();
  if (numbers !== "1,2") fail("the capture of the killed program holds the passes " + numbers);
  await day.look("value-killed");
  return again;
};

// A second device sees what the first did. Both change the same thing: the one that comes later is
// told so, and nothing that was typed is lost. A form from before a restart is told so too.
export const second = async (run, page, day, own, link) => {
  const context = await page.context().browser().newContext();
  const other = await context.newPage();
  const faults = [];
  other.on("pageerror", (error) => faults.push(String(error)));
  await other.goto(link, { waitUntil: "domcontentloaded" });
  const its = walker(other, null, false);
  const edit = own + "/rig/tyres?name=Field+tyres&do=edit";
  await other.goto(edit, { waitUntil: "domcontentloaded" });
  await its.fill("/rig/tyres", { wear: "30 %", note: "typed on the second device" });
  await page.goto(edit, { waitUntil: "domcontentloaded" });
  await day.send("/rig/tyres", { wear: "20 %" });
  await its.send("/rig/tyres", {});
  const kept = async (what) => {
    if ((await other.inputValue('[name="note"]')) !== "typed on the second device") {
      fail(what + ": what was typed is lost");
    }
    if (!(await other.locator(".fault").count())) fail(what + ": nothing is said");
  };
  await kept("a change that came too late");
  const wear = () => run.json("tyres", "list").entries[0].wear;
  const first = wear();
  await run.kill("SIGTERM");
  const again = await run.start();
  // The link is new; it is opened beside the old form.
  const beside = await context.newPage();
  await beside.goto(again.link, { waitUntil: "domcontentloaded" });
  await its.send("/rig/tyres", {});
  await kept("a form from before the restart");
  if (wear() !== first) fail("a stale form was taken");
  await its.send("/rig/tyres", {});
  if (wear() === first) fail("the form sent again was not taken");
  await page.goto(again.link, { waitUntil: "domcontentloaded" });
  await page.goto(own + "/rig/tyres?name=Field+tyres", { waitUntil: "domcontentloaded" });
  if (!(await day.says("typed on the second device"))) fail("the first device does not see it");
  // What is live is seen on both.
  const { begin, end, text } = driver(page, day);
  await page.goto(own + "/speeds", { waitUntil: "domcontentloaded" });
  await begin("/speeds", {});
  await other.goto(own + "/", { waitUntil: "domcontentloaded" });
  if (!(await other.isVisible(".live-now"))) fail("the second device does not see what is live");
  await other.goto(own + "/live", { waitUntil: "domcontentloaded" });
  await until("the same on the second device", async () =>
    (await other.textContent("#next")) === (await text("next")), 30);
  await end("/speeds");
  await until("its end on the second device", () => other.url().includes("/speeds"), 30);
  if (faults.length > 0) fail("faults on the second device: " + faults);
  await context.close();
  return again;
};
