// A whole first day in a real browser, by pointer: from an empty folder to the printed record.
//
// BIN=FOLDER_OF_PROGRAMS node first_day.mjs FOLDER OUT
import { fail, open, pause, until } from "./page_tools.mjs";
import { walker } from "./first_day_tools.mjs";
import { driver, presses } from "./first_day_live.mjs";
import { killed, second } from "./first_day_after.mjs";
import { judge, papers } from "./first_day_papers.mjs";
import { PACE, program, truth } from "./first_day_program.mjs";

const [folder, out] = process.argv.slice(2);
const began = Date.now();
const say = (words) => console.log(((Date.now() - began) / 1000).toFixed(0) + " s: " + words);
const run = await program(folder + "/day");
const first = await run.start();
const { page, own, close } = await open(first.link, out);
const day = walker(page, out, false);
const { begin, passes, end, typed, doneDriving, said, shownBy } = driver(page, day);
const counts = () => {
  const of = (thing) => run.json(thing, "list").entries.length;
  const all = ["tractor", "tyres", "tape", "person", "rig"].map(of);
  return [...all, run.json("record", "list").records.length].join();
};
const want = (what, is, wanted) => {
  if (is !== wanted) fail(what + ": " + is + ", not " + wanted);
};
const has = async (words) => {
  if (!(await day.says(words))) fail(page.url() + " lacks: " + words);
};
// Nothing happens twice by going back, forth, or reading the page anew.
const shake = async () => {
  const before = counts();
  await page.reload({ waitUntil: "domcontentloaded" });
  // Back at a form that was refused the browser asks before it sends anything again; back at a
  // job that is over, its page leads on by itself.
  const at = page.url();
  const asks = (error) => /ERR_CACHE_MISS/.test(String(error)) || fail(String(error));
  if (await page.goBack({ waitUntil: "domcontentloaded" }).then(() => false, asks)) {
    await page.waitForURL(/^chrome-error/, { timeout: 10000 });
  }
  const live = () => new URL(page.url()).pathname === "/live";
  if (live()) await until("the page of a job that is over leads on", () => !live(), 20);
  await page.waitForLoadState("load");
  for (let left = 5; page.url() !== at; left--) {
    await page.goto(at, { waitUntil: "domcontentloaded" }).catch((error) => {
      if (left === 0) throw error;
    });
  }
  want("saved after going back and forth, " + page.url(), counts(), before);
};
// Once more where the page of a job that is over leads on at just that moment.
const visit = async (path) => {
  const go = () => page.goto(own + path, { waitUntil: "domcontentloaded" });
  await go().catch((error) => {
    if (!/interrupted by another navigation/.test(String(error))) throw error;
    return page.waitForLoadState("load").then(go);
  });
};

// The value that the simulated terminal has: in practice it is said what is keyed in.
const entered = async () => {
  const worked = run.json("work", run.job().captures.drive.at(-1));
  return String(worked.channels.wheel.value_to_enter);
};

// The first page: the token is gone from the address, and it is said how to begin.
await page.goto(first.link, { waitUntil: "domcontentloaded" });
if (/[0-9a-f]{16}/.test(page.url())) fail("the token stays in the address: " + page.url());
await has("Your first job");
await day.look("start-first");
await day.go("/practice");
await day.look("practice");
await day.send("/practice",
  { practice: "no-button", pace: PACE, "receiver-class": "rtk", "no-button": true });
await has("Practice is on");
if (!(await page.isVisible("header .practice"))) fail("practice is not said");
await shake();

// The rig and what it is made of. The same form sent twice saves one tractor.
await visit("/rig");
await day.look("rig-none");
await visit("/rig/tractor");
await day.fill("/rig/tractor", { name: "Green four", make: "Acker", model: "A 90" });
const twice = await page.evaluate(async () => {
  const body = new URLSearchParams(new FormData(document.querySelector("form.sheet"))).toString();
  const headers = { "content-type": "application/x-www-form-urlencoded" };
  const ask = async () => (await fetch("/rig/tractor", { method: "POST", headers, body })).url;
  return [await ask(), await ask()];
});
if (!/name=Green/.test(twice[0])) fail("not saved: " + twice[0]);
want("where the same form sent twice leads", twice[1], twice[0]);
await visit("/rig/tractor?name=Green+four");
await has("Acker");
await day.look("rig-tractor");
const things = {
  tyres: { name: "Field tyres", size: "480/70 R34", inflation: "1.2 bar" },
  tape: { name: "Long tape", length: "50 m", material: "steel", class: "ii" },
  person: { name: "Jo Field", company: "Field & Daughters" },
};
for (const [thing, values] of Object.entries(things)) {
  await visit("/rig/" + thing);
  await day.send("/rig/" + thing, values);
  await has("is saved");
  await shake();
}
await visit("/rig/rig");
await day.send("/rig/rig", {
  name: "Sprayer rig", tractor: "Green four", tyres: "Field tyres", tape: "Long tape",
  operator: "Jo Field", source: "wheel", "antenna-right": "twelve", "antenna-ahead": "1.5 m",
  "antenna-height": "3 m",
});
if (!(await page.locator('[name="antenna-right"][aria-invalid=true]').count())) {
  fail("what is wrong does not stand beside its field: " + (await page.innerText("main")));
}
want("what was typed", await page.inputValue('[name="antenna-ahead"]'), "1.5 m");
await day.look("rig-refused");
await day.send("/rig/rig", { "antenna-right": "0 m" });
await has("It is the active rig");
await shake();
await day.look("rig-saved");
await visit("/rig/rig");
await day.look("rig-form");
want("saved so far", counts(), "1,1,1,1,1,0");
say("rig");

// Check, live to its own end.
await visit("/check");
await day.look("check");
await begin("/check", {});
await day.look("check-live");
await until("the end of the check", () => page.url().startsWith(own + "/check"), 180);
await page.waitForLoadState("domcontentloaded");
await day.look("check-done");
await shake();
say("check");

// Course and plan.
await visit("/course");
await day.send("/course", { nominal_m: "100 m", sections_m: "50 m; 50 m", class: "ii",
  material: "steel", tape_length_m: "50 m", temperature_c: "18 C" });
await has("The course is 99.99");
await shake();
await day.look("course");
await visit("/course/plan");
await day.send("/course/plan", { receiver: "rtk", target: "0.5" });
if (await page.locator("[aria-invalid=true]").count()) fail("no plan of the saved course");
await day.look("plan");

// Drive: conditions, begin, six passes.
await visit("/drive");
await day.look("drive");
await begin("/drive", { target: "0.5", "as-found": "12600", surface: "dry stubble",
  inflation: "1.2 bar", load: "tank half full", gear: "8", "four-wheel-drive": "off",
  "differential-lock": "off" });
// Nothing is looked at before the last peg: the simulated driver waits for nobody.
await passes(1, 6, () => {});
await day.look("drive-live");
await end("/drive");
await has("Value|value");
await day.look("drive-done");
await shake();
say("six passes");
await visit("/value");
await has("IMPULSES|mpulses");
await day.look("value");
await shake();

// Proof drive: what the simulated terminal shows is typed.
await visit("/proof");
await day.look("proof");
await begin("/proof", { length: "100 m", entered: await entered() });
await passes(1, 2, () => {}, async (n) => typed("d ", await shownBy(n)));
await day.look("proof-live");
await end("/proof");
await day.look("proof-done");
await shake();
say("proof");

// The PTO shaft from the seat: what its display shows is typed.
await visit("/pto");
await day.look("pto");
await begin("/pto", {});
for (const rpm of [540, 750, 1000]) {
  await said("PTO shaft to " + rpm + " rpm", 240);
  await pause(11000 / Number(PACE) + 300);
  await typed("", String(rpm));
}
await day.look("pto-live");
await end("/pto");
await day.look("pto-done");
await shake();
say("PTO");

// Antenna, speeds, slip: as far as the simulated driver drives.
for (const [path, values] of [["/antenna", {}], ["/speeds", {}],
  ["/slip", { "zero-slip-value": await entered() }]]) {
  const name = path.slice(1);
  await visit(path);
  await day.look(name);
  await begin(path, values);
  await doneDriving(400);
  await day.look(name + "-live");
  await end(path);
  await day.look(name + "-done");
  await shake();
  say(name);
}

// Sign off: shown first, then for good; the same press sent twice signs once.
await visit("/sign");
await day.look("sign");
await day.send("/sign", { "as-left": await entered(), location: "practice field",
  because: "practice", remark: "first day" });
await day.look("sign-dry");
want("records after a dry run", counts(), "1,1,1,1,1,0");
await page.reload({ waitUntil: "domcontentloaded" });
await day.send("/sign", {});
await until("the record", () => /\/records\/./.test(page.url()), 30);
const id = decodeURIComponent(new URL(page.url()).pathname.split("/")[2]);
await day.look("record");
await shake();
want("records", counts(), "1,1,1,1,1,1");
say("signed off as " + id);
await papers(page, day, id, own, out);
judge(run.json("record", "show", id), truth(folder));
for (const path of ["/records", "/compare", "/history?show=yes&practice=yes", "/sheet?show=yes",
  "/exports", "/verify", "/backup", "/restore", "/import", "/bin", "/settings", "/close",
  "/rig", "/rig/undo", "/rig/import", "/course/file", "/"]) {
  await visit(path);
  await day.look((path.split("?")[0].slice(1) || "start").replace("/", "-"));
}
say("papers and records");
const again = await killed(run, page, day, own, { target: "0.5" });
say("killed and gone on");
await second(run, page, day, own, again.link);
say("second device");
presses.sort((a, b) => a - b);
const slowest = presses.at(-1);
console.log("press to screen, " + presses.length + " presses: median " +
  presses[Math.floor(presses.length / 2)].toFixed(0) + " ms, slowest " + slowest.toFixed(0) +
  " ms");
if (slowest > 3 * 100) fail("a press took " + slowest + " ms");
await close();
await run.kill("SIGTERM");
say("looked at " + day.close() + " pages, each in three widths, three looks, and printed");
