// The record and its papers, printed; and whether it is true and says that it is practice.
import { readFileSync } from "node:fs";
import { fail } from "./page_tools.mjs";

// Pages of a PDF, counted by its page objects.
const sheets = (path) => {
  const text = readFileSync(path, "latin1");
  if (!text.startsWith("%PDF-") || text.length < 5000) fail(path + " is empty");
  return (text.match(/\/Type\s*\/Page\b(?!s)/g) || []).length;
};

export const papers = async (page, day, id, own, out) => {
  const paper = "/paper/" + id + "?sheet=a4&form=";
  // Name, path, and how many sheets of paper it may take.
  const all = [["record-long", paper + "long", 14], ["record-short", paper + "short", 1],
    ["settings-sheet", "/sheet?paper=a4", 1]];
  for (const [name, path, most] of all) {
    await page.goto(own + path, { waitUntil: "domcontentloaded" });
    const words = await page.textContent("body");
    if (!/practice/i.test(words)) fail(name + " does not say that it is practice");
    if (!/[0-9]{5}/.test(words.replace(/[\s\u2009\u202f]/g, ""))) fail(name + " has no value");
    await day.judge(name);
    await page.screenshot({ path: out + "/" + name + ".png", fullPage: true });
    await page.emulateMedia({ media: "print" });
    const file = out + "/" + name + ".pdf";
    await page.pdf({ path: file, format: "A4", preferCSSPageSize: true });
    await page.emulateMedia({ media: null });
    const pages = sheets(file);
    if (pages < 1 || pages > most) fail(name + ": " + pages + " sheets of paper, at most " + most);
    console.log(name + ": " + pages + " sheet(s) of paper");
  }
};

// The value that was signed off, beside what the simulated wheel truly gives.
export const judge = (record, truth) => {
  const value = record.to_enter;
  const off = 100 * (value / truth - 1);
  console.log("signed off " + value + ", in truth " + truth + ": off by " + off.toFixed(3) + " %");
  if (!(Math.abs(off) <= 0.5)) fail("the record is off by " + off + " %");
  const marked = record.work.passes.length;
  if (marked !== 6) fail("the record has " + marked + " passes, not the six that were marked");
  if (record.practice !== true) fail("the record does not say that it is practice");
};
