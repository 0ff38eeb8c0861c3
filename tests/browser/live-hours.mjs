// Through the day: the slider by keyboard from set-up to tear-down, what holds beside the
// map and on its marks, after a change, at night and on the smallest phone.
//
// node live-hours.mjs ADDRESS: of a server of the sample.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";
import { follow } from "./live-page.mjs";

const [address] = process.argv.slice(2);
const browser = await start();
const faults = [];

/** What drives the slider of a page. */
function driver(page) {
  const text = (id) => page.textContent(`#${id}`);
  /** Waits until what is beside the map is of the time of the slider. */
  const shown = () =>
    page.waitForFunction(async () => {
      const slider = document.getElementById("hours-at");
      const panel = document.getElementById("moment");
      const { stops } = await (await fetch("hours")).json();
      return panel.dataset.second === String(stops[Number(slider.value)]?.second);
    });
  /** Goes with the arrow key, step by step, until the time begins so. */
  const to = async (time, key = "ArrowRight") => {
    await page.focus("#hours-at");
    for (let step = 0; step < 200; step += 1) {
      if ((await text("hours-time")).startsWith(time)) return shown();
      await page.keyboard.press(key);
    }
    throw new Error(`${time} did not come: ${await text("hours-time")}`);
  };
  const lines = (part) => page.locator(`#moment-${part} li`).allTextContents();
  const mark = (kind, name) => page.locator(`.at[data-kind=${kind}][data-name="${name}"]`);
  return { text, shown, to, lines, mark };
}

const first = await visit(browser, "laptop");
const { page } = first;
const { complete, aim } = follow(page);
const { text, shown, to, lines, mark } = driver(page);
await page.goto(address);
await complete();
const site = await page.inputValue("#site");

// Off until somebody asks for it: marks are as they were.
check(await page.locator("#moment").isHidden(), "a time is shown that nobody chose");
check((await page.locator(".mark.off-air, .mark.shut, .mark.unmanned").count()) === 0, "marks of a time that nobody chose");
await page.focus("#hours-on");
await page.keyboard.press("Enter");
await shown();
check((await page.getAttribute("#hours-on", "aria-pressed")) === "true", "the button is not pressed");
check((await page.getAttribute("#hours-at", "type")) === "range", "no native slider");
check((await text("hours-time")).startsWith("13:00"), `it begins at ${await text("hours-time")}`);
const value = () => page.getAttribute("#hours-at", "aria-valuetext");
check(/^13:00, Digipeater switched on: 1 of 2 stations on the air/.test(await value()), `the slider says ${await value()}`);

// Before the relay is on: crossed out where it is shown, in words too.
const relay = () => mark("site", site).locator(".mark");
check(/off-air/.test(await relay().getAttribute("class")), "the relay is not crossed out before it is on");
check((await mark("site", site).getAttribute("aria-label")).includes("Relay off"), "the mark's label does not say it");
check((await relay().locator(".name").textContent()).includes("Relay off"), "the mark's name does not say it");
check((await mark("site", "Hotel").locator(".mark.shut").count()) === 1, "a closed site is not barred");
check((await lines("stations")).some((line) => line.includes("Relay: off: switched on at 15:00")), "the list does not say it");
await look(page, "live-hours-set-up");

// A step by arrow key is one stop on, and the value is in words.
await page.focus("#hours-at");
await page.keyboard.press("ArrowRight");
await shown();
check((await text("hours-time")) === "13:15", `a step leads to ${await text("hours-time")}`);

// In the event: nothing crossed out, front and tail under way.
await to("17:30");
check(!/off-air/.test(await relay().getAttribute("class")), "the relay is crossed out while it is on");
const stations = await lines("stations");
check(stations.some((line) => /Relay: on the air from 1 x LiFePO4 20: \d+ % left in the poor case/.test(line)), `${stations}`);
const routes = await lines("routes");
check(routes.length === 1 && /front, Lead car: 18\.00 km along \(.+ there\).*tail, Last runners: 6\.67 km/.test(routes[0]), `${routes}`);
const underway = await page.locator(".mark.underway .name").allTextContents();
check(underway.join() === "front: Lead car,tail: Last runners", `on the map: ${underway}`);
check((await page.locator(".mark.unmanned").count()) === 0, "posts are without people in the event");
await look(page, "live-hours-event");
faults.push(...(await seriousFaults(page)));

// Late: the digipeater has died, and the line says since when.
await to("21:45");
const late = await lines("stations");
check(late.some((line) => /Digipeater: OFF THE AIR since \d\d:\d\d in the poor case/.test(line)), `${late}`);
check((await lines("sites")).some((line) => line.includes("College library: CLOSED since 21:00")), "a closed site");
const closed = await page.locator("#moment-sites .fault .sign").allTextContents();
check(closed.length > 0 && closed.every((sign) => sign === "✕"), `signs by colour alone: ${closed}`);
// Another channel: its station is the one that is crossed out.
let last = await aim();
await page.selectOption("#channel", "Packet");
await complete(last);
await page.waitForFunction(() => [...document.querySelectorAll(".mark.off-air .name")].some((name) => name.textContent.includes("Digipeater dead")));
await to("22:00");
// People go home with tear-down.
check((await page.locator(".mark.post.unmanned").count()) > 0, "posts whose shift is over are as before");
check((await text("moment-happens")).startsWith("last radio down"), `what happens: ${await text("moment-happens")}`);
// The map keeps its room, however much happens at a time.
const high = (await page.locator("#map").boundingBox()).height;
await look(page, "live-hours-tear-down");
await page.focus("#hours-at");
await page.keyboard.press("ArrowLeft");
await shown();
check((await page.locator("#map").boundingBox()).height === high, "the map changes its height with the time");
last = await aim();
await page.selectOption("#channel", "Relay");
await complete(last);
// Back by the other arrow, and to both ends.
await to("21:45", "ArrowLeft");
await page.keyboard.press("Home");
await shown();
check((await text("hours-time")).startsWith("13:00"), "Home does not lead to the beginning");
await page.keyboard.press("End");
await shown();
check((await text("hours-time")).startsWith("22:00, last radio down"), "End does not lead to the end");

// A mark that is made anew keeps what it shows; so does the time over a change.
await to("16:15", "ArrowLeft");
last = await aim();
await page.fill("#mast", "8 m");
await page.keyboard.press("Enter");
await complete(last);
await shown();
check((await text("hours-time")) === "16:15", "a change of the plan changes the time");
check((await mark("post", "Medical tent").locator(".mark.unmanned").count()) === 1, "a mark has lost what it shows");
check((await page.locator("#moment-not-known").textContent()).includes("plan does not say"), "what is not known is not told");

// Off again: all as before.
await page.click("#hours-on");
check((await page.locator(".mark.off-air, .mark.shut, .mark.unmanned, .mark.underway").count()) === 0, "marks stay");
check((await mark("post", "Medical tent").locator(".name").textContent()) === "Medical tent", "a name stays");
check(await page.locator("#moment").isHidden(), "what holds stays");

// At night and in red, and in a system's own colours on a phone; 320 points wide.
await page.click("#hours-on");
await to("16:15");
for (const screen of ["night", "red"]) {
  await page.selectOption("#screen", screen);
  faults.push(...(await seriousFaults(page)));
  await look(page, `live-hours-${screen}`);
}
await page.selectOption("#screen", "system");
for (const [screen, settings, name] of [
  ["small", {}, "small"],
  ["phone", { forcedColors: "active" }, "forced"],
]) {
  const other = await visit(browser, screen, { deviceScaleFactor: 2, ...settings });
  const own = driver(other.page);
  await other.page.goto(address);
  await follow(other.page).complete();
  await other.page.click("#hours-on");
  await own.to("17:30");
  const wide = await other.page.evaluate(() => document.documentElement.scrollWidth);
  check(wide <= SCREENS[screen].width, `the page is ${wide} wide on a screen of ${SCREENS[screen].width}`);
  const box = await other.page.locator("#hours-at").boundingBox();
  check(box.x >= 0 && box.width >= 150 && box.x + box.width <= SCREENS[screen].width, `a slider of ${box.width}`);
  faults.push(...other.faults, ...(await seriousFaults(other.page)));
  await other.page.locator(".hours").scrollIntoViewIfNeeded();
  await look(other.page, `live-hours-${name}`);
  await other.page.locator("#moment").scrollIntoViewIfNeeded();
  await look(other.page, `live-hours-${name}-list`);
  await other.context.close();
}

faults.push(...first.faults);
check(faults.length === 0, faults.join("\n"));
await browser.close();
