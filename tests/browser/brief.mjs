// Opens the briefing from disk, as a liaison does who gets a file:
//   node brief.mjs BRIEF.html HOSTILE.html
// The second is the briefing of a plan whose names try to run scripts.

import { pathToFileURL } from "node:url";

import { SCREENS, check, figure, look, seriousFaults, start, visit } from "./chromium.mjs";

const [brief, hostile] = process.argv.slice(2).map((path) => pathToFileURL(path).href);
const browser = await start();
const quiet = { offline: true, reducedMotion: "reduce" };

let foreign = 0;
let serious = 0;

/** Opens a page from disk and waits for its map. */
async function open(url, screen, settings = quiet) {
  const seen = await visit(browser, screen, settings);
  await seen.page.goto(url);
  if (settings.javaScriptEnabled !== false) await seen.page.waitForSelector(".moving #live .at.post");
  return seen;
}

/** Fails on what went wrong and counts what was asked for besides the file itself. */
async function close({ context, faults, requests }, url) {
  check(faults.length === 0, `the page complains: ${faults.join("\n")}`);
  const others = requests.filter((address) => address !== url && !address.startsWith("data:"));
  foreign += others.length;
  check(others.length === 0, `the page asks for ${others.join(", ")}`);
  await context.close();
}

/** Where the map's panes are drawn: changes when the map moves or zooms. */
const placed = (page) =>
  page.evaluate(() => {
    const box = document.querySelector(".leaflet-image-layer").getBoundingClientRect();
    const map = document.querySelector("#live").getBoundingClientRect();
    return [box.left - map.left, box.top - map.top, box.width].map(Math.round).join();
  });

for (const screen of Object.keys(SCREENS)) {
  const seen = await open(brief, screen);
  const { page } = seen;
  await look(page, `brief-${screen}`, { fullPage: true });
  await look(page, `brief-${screen}-first`);
  const wider = await page.evaluate(
    () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
  );
  check(wider <= 0, `on a ${screen} the page is ${wider} pixels too wide`);
  const faults = await seriousFaults(page);
  if (faults.length > 0) console.error(faults.join("\n"));
  serious += faults.length;

  // The map is there, and a pressed mark says what the list says.
  await page.locator("#live .at.post[aria-label^='13 ']").click();
  const told = await page.locator(".leaflet-popup .told").innerText();
  check(told.length > 10, `a mark tells only "${told}"`);
  await look(page, `brief-${screen}-told`);
  const again = await seriousFaults(page);
  if (again.length > 0) console.error(again.join("\n"));
  serious += again.length;
  await close(seen, brief);
}

// With the keyboard alone.
{
  const seen = await open(brief, "laptop");
  const { page } = seen;
  const focused = () =>
    page.evaluate(() => {
      const at = document.activeElement;
      return `${at.tagName} ${at.className} ${at.getAttribute("aria-label") ?? at.textContent ?? ""}`;
    });
  await page.keyboard.press("Tab");
  check((await focused()).includes("Skip to the posts"), `first is ${await focused()}`);
  await page.keyboard.press("Enter");
  check((await page.evaluate(() => document.activeElement.id)) === "posts", "the skip link skips nothing");
  await page.keyboard.press("Tab");
  check((await focused()).includes("show on the map"), `after the heading comes ${await focused()}`);
  const before = await placed(page);
  await page.keyboard.press("Enter");
  await page.waitForSelector(".leaflet-popup");
  check((await placed(page)) !== before, "a post's button does not move the map");
  await page.keyboard.press("Escape");
  await page.waitForSelector(".leaflet-popup", { state: "detached" });

  await page.locator("#live").focus();
  const still = await placed(page);
  await page.keyboard.press("ArrowLeft");
  check((await placed(page)) !== still, "an arrow key does not pan the map");
  const far = await placed(page);
  await page.keyboard.press("+");
  check((await placed(page)) !== far, "plus does not zoom");

  const mark = page.locator("#live .at.post").first();
  await mark.focus();
  await page.waitForSelector(".leaflet-tooltip");
  const ring = await mark.evaluate((at) => getComputedStyle(at).outlineStyle);
  check(ring !== "none", "a focused mark shows no ring");
  await page.keyboard.press("Enter");
  await page.waitForSelector(".leaflet-popup .told");

  // The switches.
  const pictures = () => page.locator("#live .leaflet-image-layer").count();
  const all = await pictures();
  await page.getByRole("checkbox", { name: "Where radio works" }).focus();
  await page.keyboard.press("Space");
  check((await pictures()) === all - 1, "a switch takes no layer off");
  await page.keyboard.press("Space");
  check((await pictures()) === all, "a switch puts no layer back");
  await close(seen, brief);
}

// Without scripts the sentences and the picture are there.
{
  const seen = await open(brief, "phone", { ...quiet, javaScriptEnabled: false });
  check(await seen.page.locator("#still").isVisible(), "without scripts there is no picture");
  check((await seen.page.locator(".lines li").count()) > 10, "without scripts there are no sentences");
  await look(seen.page, "brief-without-scripts", { fullPage: true });
  await close(seen, brief);
}

// On paper: two sheets, whichever.
for (const format of ["A4", "Letter"]) {
  const seen = await open(brief, "laptop");
  const paper = await seen.page.pdf({ format, preferCSSPageSize: false });
  const sheets = paper.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g).length;
  const { writeFileSync } = await import("node:fs");
  writeFileSync(new URL(`../../target/looks/brief-printed-${format}.pdf`, import.meta.url), paper);
  check(sheets === 2, `the page prints on ${sheets} sheets of ${format}`);
  await close(seen, brief);
}

// Names that try to run scripts are names.
{
  const seen = await open(hostile, "laptop");
  const { page } = seen;
  for (const mark of await page.locator("#live .at.post").all()) {
    await mark.focus();
    await page.keyboard.press("Enter");
    await page.waitForSelector(".leaflet-popup .told");
  }
  const ran = await page.evaluate(() => globalThis.ran === true);
  check(!ran, "a name of the plan ran as a script");
  const strange = await page.evaluate(
    () => document.querySelectorAll("img[src='x'], svg[onload], iframe, object, embed").length,
  );
  check(strange === 0, "a name of the plan became markup");
  check((await page.locator("body").innerText()).includes("<script>"), "the name is not shown as it is");
  await look(page, "brief-hostile", { fullPage: true });
  await close(seen, hostile);
}

await browser.close();
figure("brief_network_requests", foreign, "requests");
figure("axe_serious_faults", serious, "faults");
check(serious === 0, `${serious} serious faults of accessibility`);
