// The first day by keyboard alone: every form is reached, filled in and sent by keys, and so is a
// drive of two passes.
//
// BIN=FOLDER_OF_PROGRAMS node first_day_keyboard.mjs FOLDER OUT
import { fail, open } from "./page_tools.mjs";
import { walker } from "./first_day_tools.mjs";
import { driver } from "./first_day_live.mjs";
import { KEYS_PACE, program } from "./first_day_program.mjs";

const [folder, out] = process.argv.slice(2);
const run = await program(folder + "/keys");
const { link } = await run.start();
const { page, own, close } = await open(link, out);
const day = walker(page, out, true);
const { begin, passes, end } = driver(page, day);
const has = async (words) => {
  if (!(await day.says(words))) fail(page.url() + " lacks: " + words);
};
await page.goto(link, { waitUntil: "domcontentloaded" });
await day.go("/practice");
await day.send("/practice",
  { practice: "no-button", pace: KEYS_PACE, "receiver-class": "rtk", "no-button": true });
await has("Practice is on");
const things = {
  tractor: { name: "Green four", model: "A 90" },
  tyres: { name: "Field tyres", inflation: "1.2 bar" },
  person: { name: "Jo Field" },
  rig: { name: "Sprayer rig", tractor: "Green four", tyres: "Field tyres", operator: "Jo Field",
    source: "wheel", "antenna-right": "0 m", "antenna-ahead": "1.5 m", "antenna-height": "3 m" },
};
for (const [thing, values] of Object.entries(things)) {
  await day.go("/rig");
  await day.go("/rig/" + thing);
  await day.send("/rig/" + thing, values);
  await has("is saved");
}
await day.go("/course");
await day.send("/course", { nominal_m: "100 m" });
await has("The course is");
await day.go("/drive");
await begin("/drive", { surface: "dry stubble", inflation: "1.2 bar" });
await passes(1, 2, () => {});
await end("/drive");
await day.go("/value");
await has("mpulses");
await day.go("/sign");
await day.send("/sign", { location: "practice field", because: "practice by keyboard" });
if (run.json("record", "list").records.length !== 0) fail("signed off without being asked");
await day.send("/sign", {});
const records = run.json("record", "list").records;
if (records.length !== 1) fail("records: " + records.length);
await day.go("/records");
await day.go("/records/" + records[0].id);
await day.go("/paper/" + records[0].id + "?form=short&sheet=a4");
await close();
await run.kill("SIGTERM");
day.close();
console.log("by keyboard alone: from an empty folder to the paper of the record");
