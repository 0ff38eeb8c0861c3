// Opens the briefing from disk, as a liaison does who gets a file:
//   node brief.mjs BRIEF.html HOSTILE.html
// The second is the briefing of a plan whose names try to run scripts.

import { execFileSync } from "node:child_process";
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
  // From its first line on it lies inside the map, as soon as that has moved.
  const inside = () => {
    const [said, ground] = [".leaflet-popup", "#live"].map((of) => document.querySelector(of).getBoundingClientRect());
    return said.top >= ground.top && said.bottom <= ground.bottom + 1;
  };
  await page.waitForFunction(inside, null, { timeout: 10_000 });
  await look(page, `brief-${screen}-told`);
  const again = await seriousFaults(page);
  if (again.length > 0) console.error(again.join("\n"));
  serious += again.length;
  await close(seen, brief);
}

/** What the page answers about a spot. */
const answered = (page) => page.locator("#answer").innerText();
/** The middle of a post's mark on the screen. */
const middle = async (page, number) => {
  const box = await page.locator(`#live .at.post[aria-label^='${number} ']`).boundingBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
};

// A tap anywhere on the map is answered in words.
{
  const seen = await open(brief, "phone");
  const { page } = seen;
  check((await answered(page)).startsWith("Tap anywhere"), "nobody is told that the map answers");
  await page.locator("#live").scrollIntoViewIfNeeded();
  const data = await page.evaluate(() => JSON.parse(document.getElementById("data").textContent));
  const words = Object.values(data.spots.classes).map(({ says }) => says);
  const box = await page.locator("#live").boundingBox();
  const told = new Set();
  for (let step = 0; step < 40; step += 1) {
    const [across, down] = [0.06 + 0.88 * ((step * 0.618) % 1), 0.06 + 0.8 * ((step * 0.381) % 1)];
    const at = [box.x + box.width * across, box.y + box.height * down];
    const free = await page.evaluate(([x, y]) => {
      const hit = document.elementFromPoint(x, y);
      return Boolean(hit?.closest("#live")) && !hit.closest(".at, .leaflet-control, .leaflet-interactive");
    }, at);
    if (!free) continue;
    await page.mouse.click(...at);
    const said = await answered(page);
    const word = words.find((text) => said.startsWith(text)) ?? (said.startsWith("Off the map") ? "off" : null);
    check(word !== null, `no class answers: ${said}`);
    told.add(word);
    if (word !== "off") check(/(Nearest post: \d+ .+, [\d.]+ (m|km|ft|miles) (north|south|east|west)|At post \d+ )/.test(said), `no post is told: ${said}`);
    check((await page.locator(".cross").count()) === 1, "nothing shows where was pressed");
  }
  check(told.size > 2, `the map says only ${[...told].join(", ")}`);
  await look(page, "brief-phone-spot");
  // Off the map: pushed aside, then pressed where it was.
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 320, box.y + box.height / 2, { steps: 8 });
  await page.mouse.up();
  await page.mouse.click(box.x + 20, box.y + box.height / 2);
  check((await answered(page)).startsWith("Off the map"), `off the map it says ${await answered(page)}`);
  await close(seen, brief);
}

// By keyboard: arrow keys move the map under a crosshair, and what is under it is told.
{
  const seen = await open(brief, "laptop");
  const { page } = seen;
  await page.locator("#live").focus();
  await page.keyboard.press("ArrowRight");
  const first = await answered(page);
  check(!first.startsWith("Tap"), "an arrow key answers nothing");
  const [cross, map] = [await page.locator(".cross").boundingBox(), await page.locator("#live").boundingBox()];
  const off = Math.hypot(
    cross.x + cross.width / 2 - map.x - map.width / 2,
    cross.y + cross.height / 2 - map.y - map.height / 2,
  );
  check(off < 6, `the crosshair is ${off} pixels off the middle`);
  const said = new Set([first]);
  for (let step = 0; step < 12; step += 1) {
    await page.keyboard.press("ArrowUp");
    said.add(await answered(page));
  }
  check(said.size > 2, "the answer does not follow the crosshair");
  for (let step = 0; step < 40; step += 1) await page.keyboard.press("Shift+ArrowUp");
  check((await answered(page)).startsWith("Off the map"), "beyond the rim it does not say so");
  await close(seen, brief);
}

// Where the device is: the landing's own position stands at the landing, another town is
// off the map, and one that gives none is told of.
{
  const seen = await visit(browser, "phone", quiet);
  const { page } = seen;
  await page.addInitScript(() => {
    globalThis.device = null;
    Object.defineProperty(navigator, "geolocation", {
      value: {
        getCurrentPosition: (found, failed) =>
          globalThis.device ? found({ coords: globalThis.device }) : failed({ code: 1 }),
      },
    });
  });
  await page.goto(brief);
  await page.waitForSelector(".moving #live .at.post");
  const button = page.getByRole("button", { name: "Where am I?" });
  await button.click();
  check((await answered(page)).includes("gave no position"), await answered(page));
  const stand = (latitude, longitude, accuracy) =>
    page.evaluate((coords) => (globalThis.device = coords), { latitude, longitude, accuracy });
  await stand(47.01971, -34.89666, 5);
  await button.click();
  check(/13 Safety boat landing/.test(await answered(page)), await answered(page));
  await stand(47.01971, -34.89666, 240);
  await button.click();
  check((await answered(page)).startsWith("Known to 240 m only"), await answered(page));
  await stand(48.2, -34.9, 5);
  await button.click();
  check((await answered(page)).startsWith("You are off the map"), await answered(page));
  await close(seen, brief);
}

// My post: the answer at once, and in the order in which it is wanted on a phone.
{
  const seen = await open(brief, "phone");
  const { page } = seen;
  const tops = [];
  for (const part of ["#mine", "#live", "#posts", ".call"]) {
    tops.push(await page.locator(part).evaluate((at) => at.getBoundingClientRect().top));
  }
  check(tops.every((top, n) => n === 0 || top > tops[n - 1]), `the order is ${tops.join(", ")}`);
  const lists = await page.locator(".posts h3").allInnerTexts();
  check(lists[0].includes("Do not count on radio"), `first comes ${lists[0]}`);
  const folded = await page.locator(".posts details:not([open]) summary").allInnerTexts();
  check(/^\d+ posts where radio should work/.test(folded[0]), `what works is told as ${folded[0]}`);
  const hidden = await page.locator(".posts details li").first().isVisible();
  check(!hidden, "what works is not folded");
  await page.selectOption("#post", "13");
  const told = await page.locator("#mine-told").innerText();
  for (const part of ["Radio should work", "Channel: Relay.", "If you hear nothing:"]) {
    check(told.includes(part), `my post does not say ${part}: ${told}`);
  }
  await look(page, "brief-phone-mine");
  await close(seen, brief);
}

// No post's number lies on the relay's mark, however far the map is zoomed.
{
  const seen = await open(brief, "laptop");
  const { page } = seen;
  for (let step = 0; step < 5; step += 1) {
    const covered = await page.evaluate(() => {
      const relay = document.querySelector(".at.site img").getBoundingClientRect();
      return [...document.querySelectorAll(".at.post b")]
        .filter((number) => {
          const box = number.getBoundingClientRect();
          return (
            box.left < relay.right && box.right > relay.left && box.top < relay.bottom && box.bottom > relay.top
          );
        })
        .map((number) => number.textContent);
    });
    check(covered.length === 0, `the numbers ${covered} lie on the relay's mark`);
    await page.locator(".leaflet-control-zoom-in").click();
  }
  await close(seen, brief);
}

// Long names without a blank wrap on the smallest screen.
{
  const seen = await open(hostile, "small");
  const { page } = seen;
  await page.evaluate(() => {
    for (const name of document.querySelectorAll(".lines p, .mine option, .crew dd, h1"))
      name.textContent = "Marshalsattheoldferrylandingbelowthebridge".repeat(3);
    for (const part of document.querySelectorAll("details")) part.open = true;
  });
  const wider = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  check(wider <= 0, `long names make the page ${wider} pixels too wide`);
  await close(seen, hostile);
}

// In forced colours, and printed on larger paper, nothing is lost.
{
  const seen = await open(brief, "phone", { ...quiet, forcedColors: "active" });
  await look(seen.page, "brief-forced-colours", { fullPage: true });
  const serious = await seriousFaults(seen.page);
  check(serious.length === 0, serious.join("\n"));
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
  await page.getByRole("checkbox", { name: "Where radio should work" }).focus();
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
  // The picture's own marks are explained where it is shown, and nowhere else.
  check(await seen.page.getByText("Distance from the start").isVisible(), "nothing says what the numbers along the route are");
  await look(seen.page, "brief-without-scripts", { fullPage: true });
  await close(seen, brief);
}

// On paper: two sheets, whichever.
for (const format of ["A4", "Letter", "A3"]) {
  const seen = await open(brief, "laptop");
  check(!(await seen.page.locator(".of-picture").first().isVisible()), "the legend explains marks that the map does not show");
  const paper = await seen.page.pdf({ format, preferCSSPageSize: false });
  const sheets = paper.toString("latin1").match(/\/Type\s*\/Page\b(?!s)/g).length;
  const { writeFileSync } = await import("node:fs");
  writeFileSync(new URL(`../../target/looks/brief-printed-${format}.pdf`, import.meta.url), paper);
  check((await seen.page.locator(".of-picture").count()) >= 4, "marks of the picture are not explained");
  check(sheets === 2, `the page prints on ${sheets} sheets of ${format}`);
  // All of it is on the paper, what works too, and no column is cut.
  const printed = execFileSync("pdftotext", ["-layout", "-", "-"], { input: paper }).toString().replace(/\s+/g, " ");
  const squeezed = printed.replace(/\s/g, "");
  const names = await seen.page.locator(".lines .name, .lines strong").allTextContents();
  check(squeezed.includes("Distancefromthestart"), `${format}: the numbers along the route are not explained`);
  for (const name of names) check(squeezed.includes(name.replace(/\s/g, "")), `${format}: ${name} is not printed`);
  await seen.page.emulateMedia({ media: "print" });
  const millimetres = { A4: [210, 297], Letter: [215.9, 279.4], A3: [297, 420] }[format];
  await seen.page.setViewportSize({ width: Math.round(((millimetres[0] - 20) / 25.4) * 96), height: 1000 });
  const cut = await seen.page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  check(cut <= 0, `${format}: ${cut} pixels are cut`);
  await close(seen, brief);
}

// The crew's part: nothing lies over it, and each person has a block of their own.
for (const screen of ["small", "laptop"]) {
  const seen = await open(brief, screen);
  const { page } = seen;
  await page.evaluate(() => document.querySelector(".crew").scrollIntoView());
  const covered = await page.locator(".crew :is(h2, h3, h4, li)").evaluateAll((all) =>
    all
      .filter((one) => {
        const { left, top, width, height } = one.getBoundingClientRect();
        if (top < 0 || top + height > innerHeight) return false;
        return !one.closest(".crew").contains(document.elementFromPoint(left + Math.min(width / 2, 60), top + height / 2));
      })
      .map((one) => one.textContent),
  );
  check(covered.length === 0, `${screen}: something lies over ${covered}`);
  const people = await page.locator(".people > div").evaluateAll((all) => all.map((one) => one.getBoundingClientRect().right));
  const wide = await page.evaluate(() => document.documentElement.clientWidth);
  check(people.length >= 2 && people.every((right) => right <= wide), `${screen}: blocks end at ${people}`);
  await look(page, `brief-crew-${screen}`);
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
