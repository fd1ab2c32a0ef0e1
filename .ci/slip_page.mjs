// A slip log in a real browser: the slip of the last window, the map that grows, sizes and looks,
// and the result at the end.
//
// node slip_page.mjs MARK_LINK OUT
import { fail, open, until } from "./page_tools.mjs";

const [link, out] = process.argv.slice(2);
const { page, own, text, close, judge, pictures } = await open(link, out);
await page.setViewportSize({ width: 375, height: 720 });
await page.goto(link);
await until("the page", async () => /drive off/.test(await text("next")), 60);
let rules = await pictures("slip-before");
const drawn = () => page.evaluate(() => {
  const map = document.getElementById("map");
  return map.complete && map.naturalWidth > 0 ? map.getAttribute("src") : "";
});
await until("a map", async () => (await drawn()) !== "", 120);
const first = await drawn();
await until("a newer map", async () => (await drawn()) !== first, 60);
if (!/^-?\d+\.\d$/.test(await text("main"))) fail("no slip: " + await text("main"));
if (!/sections/.test(await page.getAttribute("#map", "alt"))) fail("the map has no words");
await until("many sections", async () => Number(/of (\d+) sections/.exec(await text("map-words"))?.[1]) > 10, 180);
rules += await pictures("slip");
await page.emulateMedia({ colorScheme: "dark" });
await page.screenshot({ path: out + "/slip-dark.png", fullPage: true });
await page.emulateMedia({ colorScheme: null });
await page.click("#end");
await page.click("#end-now");
await until("the last result", () => page.url() === own + "/result", 30);
await until("its words", async () =>
  /The recording has ended/.test(await page.textContent("body")), 10);
rules += await judge("the last result");
await page.screenshot({ path: out + "/slip-ended.png" });
await close();
console.log("slip page: no violation of accessibility, " + rules + " checks passed");
