// The routes from end to end under the map: opened by keyboard, after each change, at
// night, in a system's own colours and on the smallest phone.
//
// node live-strips.mjs ADDRESS: of a server of the sample.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";
import { follow } from "./live-page.mjs";

const [address] = process.argv.slice(2);
const browser = await start();
const faults = [];
const first = await visit(browser, "laptop");
const { page } = first;

const { aim, complete } = follow(page);
/** Waits until the strips are of a state after that one, and of the one that is shown. */
const fresh = (after = -1) =>
  page.waitForFunction((last) => {
    const panel = document.getElementById("strips");
    const shown = document.getElementById("map").dataset.aim;
    return panel.dataset.aim === shown && Number(shown) > last && !panel.classList.contains("old");
  }, after);
const headline = () => page.textContent("#strips-headline");

await page.goto(address);
await complete();
await fresh();
// The answer is there without opening it: how many stretches, how long, how many minutes.
const before = await headline();
check(/^\d+ stretch(es)? without radio both ways, .*\d k?m \(\d+ min\)/.test(before), `the line says: ${before}`);
check((await page.locator("#strips img").count()) === 0, "a drawing is made that nobody sees");

// By keyboard.
await page.focus("#strips > summary");
await page.keyboard.press("Enter");
await page.waitForSelector("#strips img");
const image = page.locator("#strips img");
check((await image.getAttribute("alt")).includes(before.slice(0, 20)), "the drawing says nothing to who cannot see it");
check(await image.evaluate((one) => one.decode().then(() => one.naturalWidth >= 480)), "no drawing");
// The map keeps the room that is left, all of it.
await page.waitForTimeout(200);
const boxes = await page.evaluate(() =>
  ["map", "strips", "progress"].map((id) => document.getElementById(id).getBoundingClientRect()).map(({ top, bottom }) => [top, bottom]),
);
check(boxes[0][1] <= boxes[1][0] + 1 && boxes[1][1] <= boxes[2][0] + 1, `panel and map overlap: ${boxes}`);
check(boxes[0][1] - boxes[0][0] > 200, `the map is ${boxes[0]} high`);

// The same in words: each told stretch, and from start to end without a hole.
await page.locator("#strips details summary", { hasText: "table" }).focus();
await page.keyboard.press("Enter");
const rows = await page.locator("#strips tbody tr, #strips table tr").evaluateAll((all) =>
  all.slice(1).map((row) => [...row.children].map((cell) => cell.textContent.trim())),
);
check(rows.length > 3 && rows.every((row) => row.length === 4), `a table of ${rows.length} rows`);
const ends = rows.map(([where]) => where.split(" to "));
check(ends[0][0].startsWith("0 "), `the table begins at ${ends[0][0]}`);
check(ends.slice(1).every(([from], at) => from === ends[at][1]), "the table has a hole");
check(rows.some(([, both]) => /^(Clear|Well clear)$/.test(both)) && rows.some(([, both]) => both === "Patchy"), "classes in words");
faults.push(...(await seriousFaults(page)));
await look(page, "live-strips-laptop");

// It follows: another site, a change of it, and back again; what is open stays open.
const was = await image.getAttribute("src");
let last = await aim();
await page.selectOption("#site", "Hospital");
await fresh(last);
check((await image.getAttribute("src")) !== was, "another site, the same drawing");
check((await page.textContent("#strips-state")).startsWith("Hospital on"), "it does not say whose routes these are");
check((await headline()) !== before, "another site, the same line");
check(await page.locator("#strips details", { hasText: "table" }).evaluate((one) => one.open), "the table has closed itself");
const hospital = await headline();
last = await aim();
await page.fill("#station-power", "0.1 W");
await page.keyboard.press("Enter");
await fresh(last);
check((await headline()) !== hospital, "a hundredth of the power, the same line");
last = await aim();
await page.click("#undo");
await fresh(last);
check((await headline()) === hospital, "undo does not bring the line back");
// While a state is worked out, what is there is told as that of the state before.
await page.evaluate(() => {
  globalThis.states = [];
  new MutationObserver(() => globalThis.states.push(document.getElementById("strips-state").textContent)).observe(
    document.getElementById("strips-state"),
    { childList: true },
  );
});
last = await aim();
await page.selectOption("#site", "Ridge overlook");
await fresh(last);
const states = await page.evaluate(() => globalThis.states);
check(states.some((text) => text.includes("state before")), `while it is worked out it says: ${states}`);

// Night: the drawing gives less light, and the words are light on dark.
await page.selectOption("#screen", "night");
check((await image.evaluate((one) => getComputedStyle(one).filter)).includes("brightness"), "the drawing glares at night");
faults.push(...(await seriousFaults(page)));
await page.selectOption("#screen", "system");

// The smallest phone, and a system's own colours: nothing runs off, the patches stay.
for (const [screen, settings, name] of [
  ["small", {}, "small"],
  ["phone", { forcedColors: "active" }, "forced"],
]) {
  const other = await visit(browser, screen, { deviceScaleFactor: 2, ...settings });
  await other.page.goto(address);
  await follow(other.page).complete();
  await other.page.click("#strips > summary");
  await other.page.waitForSelector("#strips img");
  await other.page.locator("#strips summary", { hasText: "table" }).click();
  const wide = await other.page.evaluate(() => document.documentElement.scrollWidth);
  check(wide <= SCREENS[screen].width, `the page is ${wide} wide on a screen of ${SCREENS[screen].width}`);
  const box = await other.page.locator("#strips img").boundingBox();
  check(box.x >= 0 && box.x + box.width <= SCREENS[screen].width, `the drawing is ${box.width} wide`);
  const letters = await other.page.locator("#strips img").evaluate((one) => (26 * one.clientWidth) / one.naturalWidth);
  check(letters >= 11, `letters of ${letters} points`);
  const tint = await other.page.locator("#strips td .patch.patchy").first().evaluate((one) => getComputedStyle(one).backgroundColor);
  check(tint === "rgb(136, 170, 157)", `a patch of ${tint}`);
  faults.push(...other.faults, ...(await seriousFaults(other.page)));
  await other.page.locator("#strips").scrollIntoViewIfNeeded();
  await look(other.page, `live-strips-${name}`);
  await other.context.close();
}

faults.push(...first.faults);
check(faults.length === 0, faults.join("\n"));
await browser.close();
