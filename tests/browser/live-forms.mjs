// Forms of the plan in a real browser, by keyboard alone: typed, refused, undone,
// saved; two pages that change the same; names in every script and as markup.
//
// node live-forms.mjs ADDRESS HOSTILE_ADDRESS: of two servers, the second with a
// plan whose names are markup and in other scripts.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";

const [address, hostile] = process.argv.slice(2);
const browser = await start();
let faults = [];

/** Goes on with Tab until the keyboard is on such an element. */
async function tabTo(page, selector, key = "Tab") {
  for (let step = 0; step < 600; step += 1) {
    await page.keyboard.press(key);
    if (await page.evaluate((wanted) => document.activeElement?.matches(wanted), selector)) return;
  }
  throw new Error(`Tab does not lead to ${selector}`);
}

const input = (field) => `[data-field="${field}"] :is(input, select, textarea)`;
const ready = (page, field) => page.waitForSelector(`#form ${input(field)}`);
const held = (page, field) => page.inputValue(`#form ${input(field)}`);
const holds = (page, field, value) =>
  page.waitForFunction(([at, wanted]) => document.querySelector(at)?.value === wanted, [`#form ${input(field)}`, value]);
/** What the server has, through the page. */
const stands = (page, query, field) =>
  page.evaluate(async ([asked, of]) => (await (await fetch(`form?${asked}`)).json()).values[of], [query, field]);
async function until(what, asks, wanted) {
  for (let step = 0; step < 200; step += 1) {
    if ((await asks()) === wanted) return;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error(`${what}: ${await asks()}, not ${wanted}`);
}
/** Types over what a field holds and leaves it with Enter. */
async function type(page, field, text) {
  await page.keyboard.press("Control+A");
  await page.keyboard.type(text);
  await page.keyboard.press("Enter");
}
/** Opens the form of a table from wherever the keyboard is. */
async function table(page, heading, field) {
  await page.evaluate(() => document.getElementById("tools").focus());
  await tabTo(page, "#form-table");
  await page.keyboard.type(heading);
  await ready(page, field);
}

const first = await visit(browser, "laptop");
const { page } = first;
await page.goto(address);
await ready(page, "starts");

// A radio's power.
await table(page, "Radios", "power");
check((await page.inputValue("#form-entry")) === "hand-held", "the first radio");
await tabTo(page, input("power"));
check((await held(page, "power")) === "5 W", "what was typed in the plan");
await type(page, "power", "6 W");
await until("the power", () => stands(page, "table=radio&name=hand-held", "power"), "6 W");
await page.waitForFunction(() => document.getElementById("file").textContent.includes("not saved"));
faults = faults.concat(await seriousFaults(page));
await look(page, "live-forms");

// A value that makes no sense stays, with the reason beside it.
await type(page, "power", "5 parsec");
await page.waitForSelector(`${input("power")}[aria-invalid=true]`);
const told = await page.evaluate((at) => {
  const field = document.querySelector(at);
  const ids = field.getAttribute("aria-describedby").split(" ");
  return ids.map((id) => document.getElementById(id).textContent).join(" | ");
}, input("power"));
check(told.includes("parsec") && told.includes("dBm"), `what was found and is allowed: ${told}`);
check((await held(page, "power")) === "5 parsec", "what was typed is gone");
check((await stands(page, "table=radio&name=hand-held", "power")) === "6 W", "a refused value stands");
check((await page.textContent("#check")).includes("Not taken"), "the refusal is not on the list");
check((await page.locator(".notice.refused").count()) === 0, "it is told far from its field");
faults = faults.concat(await seriousFaults(page));
await look(page, "live-forms-refused");
// Another entry and back: what was typed waits there.
await table(page, "Event", "starts");
await table(page, "Radios", "power");
await holds(page, "power", "5 parsec");
await tabTo(page, input("power"));
await page.keyboard.press("Escape");
check((await held(page, "power")) === "6 W", "Escape does not bring back what stands");
check((await page.getAttribute(input("power"), "aria-invalid")) === null, "the mark stays");
check(!(await page.textContent("#check")).includes("Not taken"), "the refusal stays on the list");

// A time of the event.
await table(page, "Event", "ends");
await tabTo(page, input("ends"));
await type(page, "ends", "2026-12-05T20:45:00");
await until("the end", () => stands(page, "table=event", "ends"), "2026-12-05T20:45:00");

// A pack's capacity.
await table(page, "Packs", "capacity");
await tabTo(page, input("capacity"));
await type(page, "capacity", "2 Ah");
await until("the capacity", () => stands(page, "table=pack", "capacity"), "2 Ah");

// All of it undone; the form follows.
await tabTo(page, "#undo", "Shift+Tab");
for (let step = 0; step < 3; step += 1) {
  const before = await page.evaluate(() => document.getElementById("undo").disabled);
  check(!before, `undo ${step + 1} is not to be had`);
  await page.evaluate(() => document.getElementById("tools").focus());
  const revision = await page.evaluate(async () => (await (await fetch("state")).json()).aim);
  await page.keyboard.press("Control+z");
  await page.waitForFunction(async (last) => (await (await fetch("state")).json()).aim > last, revision);
}
await holds(page, "capacity", "1500 mAh");
await page.waitForFunction(() => document.getElementById("undo").disabled);
check(await page.isDisabled("#save"), "nothing is changed any more");
check((await stands(page, "table=radio&name=hand-held", "power")) === "5 W", "the power is not undone");

// Only one value is saved.
await tabTo(page, input("capacity"));
await type(page, "capacity", "2.5 Ah");
await until("the capacity", () => stands(page, "table=pack", "capacity"), "2.5 Ah");
await page.waitForFunction(() => !document.getElementById("save").disabled);
await tabTo(page, "#save", "Shift+Tab");
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.getElementById("save").disabled);

// Folded fields, fields that are only right together, and a reference.
await table(page, "Channels", "carried");
check((await page.locator(`#form ${input("carried")} option`).allTextContents()).includes("tracker"), "names to choose from");
await tabTo(page, "#form-entry");
await page.keyboard.press("End");
await tabTo(page, ".form > .more > summary");
await page.keyboard.press("Enter");
await tabTo(page, input("function"));
await type(page, "function", "Приём");
await page.waitForFunction(() => !document.getElementById("save").disabled);

// Two pages change the same.
const second = await visit(browser, "laptop");
await second.page.goto(address);
await ready(second.page, "starts");
await table(second.page, "Radios", "power");
await table(page, "Radios", "power");
await tabTo(page, input("power"));
await page.keyboard.press("Control+A");
await page.keyboard.type("4 W");
await tabTo(second.page, input("power"));
await type(second.page, "power", "3 W");
await until("the other's power", () => stands(page, "table=radio&name=hand-held", "power"), "3 W");
await page.waitForTimeout(300);
check((await held(page, "power")) === "4 W", "what is being typed is taken away");
await page.keyboard.press("Enter");
await page.waitForSelector(`${input("power")}[aria-invalid=true]`);
const crossed = await page.textContent('[data-field="power"] .error');
check(crossed.includes('"3 W"') && crossed.includes('"4 W"'), `both values: ${crossed}`);
faults = faults.concat(await seriousFaults(page));
await look(page, "live-forms-crossed");
await tabTo(page, '[data-field="power"] .error button');
check((await page.evaluate(() => document.activeElement.textContent)) === "Keep mine", "the first choice");
await page.keyboard.press("Enter");
await until("mine", () => stands(page, "table=radio&name=hand-held", "power"), "4 W");
await holds(second.page, "power", "4 W");

// A radio of its own, and gone again.
await tabTo(page, "#form-entry", "Shift+Tab");
await tabTo(page, "#form-actions button");
check((await page.evaluate(() => document.activeElement.textContent)) === "Copy this radio under a new name", "the first button");
await page.keyboard.press("Enter");
await page.keyboard.type("hand-held");
await page.keyboard.press("Enter");
await page.waitForSelector("#copy-name[aria-invalid=true]");
check((await page.textContent("#copy-error")).includes("already the name"), "why not is not told");
await page.keyboard.press("Control+A");
await page.keyboard.type("رادیو 無線");
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.getElementById("form-entry").value === "رادیو 無線");
faults = faults.concat(await seriousFaults(page));
await tabTo(page, "#form-entry", "Shift+Tab");
await tabTo(page, "#form-actions button");
await page.keyboard.press("Tab");
await page.keyboard.press("Enter");
await page.keyboard.press("Tab");
check((await page.evaluate(() => document.activeElement.textContent)) === "Remove رادیو 無線", "it asks once more");
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.getElementById("form-entry").value === "hand-held");

// What there is to check leads to its field.
check(/^What to check \(\d+\)$/.test(await page.textContent("#check-title")), "a count in the heading");
await tabTo(page, '#check button[aria-label^="Open it: "]');
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.activeElement?.closest("#form"));

// A new pack is asked for until it has all that it needs.
await table(page, "Packs", "capacity");
await tabTo(page, "#form-actions button");
await page.keyboard.press("Tab");
await page.keyboard.press("Tab");
check((await page.evaluate(() => document.activeElement.textContent)) === "Add a pack", "the last button");
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.activeElement?.closest('[data-field="name"]'));
await page.keyboard.type("Κουτί");
await page.keyboard.press("Enter");
await page.waitForSelector(`${input("cells")}[aria-invalid=true]`);
await tabTo(page, input("chemistry"));
await page.keyboard.type("agm");
await tabTo(page, input("cells"));
await type(page, "cells", "6");
await tabTo(page, input("capacity"));
await type(page, "capacity", "7 Ah");
await page.waitForFunction(() => [...document.getElementById("form-entry").options].some((one) => one.value === "Κουτί"));
await until("the pack", () => stands(page, `table=pack&name=${encodeURIComponent("Κουτί")}`, "capacity"), "7 Ah");

// Names that are markup, and in other scripts, are text.
const third = await visit(browser, "phone");
await third.page.goto(hostile);
await ready(third.page, "starts");
check((await held(third.page, "name")) === "مهرجان 灯火", "the event's name");
await third.page.selectOption("#form-table", "radio");
await ready(third.page, "power");
check((await held(third.page, "name")).includes("<img src=x"), "the name is not shown as it is");
await third.page.selectOption("#form-table", "post");
await ready(third.page, "at");
await third.page.selectOption("#form-entry", "Штаб Ελλάδα");
await holds(third.page, "name", "Штаб Ελλάδα");
await third.page.waitForTimeout(300);
check((await third.page.evaluate(() => globalThis.hostile)) === undefined, "a name has run");
check((await third.page.locator("#forms img, #check img").count()) === 0, "a name is markup");
faults = faults.concat(await seriousFaults(third.page));
const wide = await third.page.evaluate(() => document.documentElement.scrollWidth);
check(wide <= SCREENS.phone.width, `the page is ${wide} wide on a phone`);
await third.page.locator("#forms").scrollIntoViewIfNeeded();
await look(third.page, "live-forms-phone");

for (const { faults: said, requests } of [first, second, third]) {
  // The browser notes what was refused.
  const others = said.filter((text) => !/status of (409|422)/.test(text));
  check(others.length === 0, `the console says: ${others.join("; ")}`);
  const own = [address, hostile].map((url) => new URL(url).origin);
  const away = requests.filter((url) => !own.some((at) => url.startsWith(at)) && !/^(data|blob):/.test(url));
  check(away.length === 0, `asked for ${away}`);
}
check(faults.length === 0, faults.join("\n"));
await browser.close();
