// Unsaved changes that an earlier page left, decided on by keyboard; and more tabs
// than a browser has connections for.
//
// node live-unsaved.mjs ADDRESS: of a plan with two files of unsaved text beside it,
// the latter of which would be refused, and something that is no file.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";

const [address] = process.argv.slice(2);
const browser = await start();
const first = await visit(browser, "laptop");
const { page, context } = first;
await page.goto(address);
const offers = page.locator(".notice.offer");
await offers.nth(2).waitFor();
check((await offers.count()) === 3, "not all is offered");
const good = page.locator(".notice.offer", { hasText: "in one line" }).filter({ hasText: "12 m" });
check((await good.textContent()).includes('mast = "12 m"'), "the line is not shown");
check((await good.textContent()).includes("plan.toml.unsaved."), "the file is not named");
check((await page.inputValue("#mast")) === "3 m", "something was applied without a choice");
check((await page.textContent("#offers")).includes("It is a folder"), "what is no file is not told");
let faults = await seriousFaults(page);
await look(page, "live-offers");

// By keyboard alone: Tab comes to both choices, and discarding asks once more.
const reached = [];
for (let step = 0; step < 12; step += 1) {
  await page.keyboard.press("Tab");
  reached.push(await page.evaluate(() => document.activeElement.textContent));
}
check(reached.includes("Continue from this") && reached.includes("Discard"), `Tab reaches ${reached}`);
const bad = page.locator(".notice.offer", { hasText: "would be refused" });
check((await bad.locator("button", { hasText: "Continue" }).count()) === 0, "it could be continued from");
await bad.locator("button", { hasText: "Discard" }).focus();
await page.keyboard.press("Enter");
const focused = () => page.evaluate(() => document.activeElement.textContent);
check((await focused()) === "Keep it", "discarding does not ask");
await page.keyboard.press("Enter");
check((await focused()) === "Discard", "the text is not kept");
await page.keyboard.press("Enter");
await page.keyboard.press("Tab");
check((await focused()) === "Discard for good", "the second question has no answer");
faults = faults.concat(await seriousFaults(page));
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.querySelectorAll(".notice.offer").length === 2);
check((await focused()) === "Continue from this", `the keyboard goes to ${await focused()}`);
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.getElementById("mast").value === "12 m");
await page.waitForFunction(() => document.querySelectorAll(".notice.offer").length === 1);
await page.waitForFunction(() => document.getElementById("file").textContent.includes("not saved; kept in plan.toml.unsaved"));
// Undone as any other step, and done again.
await page.click("#undo");
await page.waitForFunction(() => document.getElementById("mast").value === "3 m");
await page.click("#redo");
await page.waitForFunction(() => document.getElementById("mast").value === "12 m");
await page.click("#save");
await page.waitForFunction(() => !document.getElementById("file").textContent.includes("not saved"));

const phone = await visit(browser, "phone");
await phone.page.goto(address);
await phone.page.waitForSelector(".notice.offer");
faults = faults.concat(await seriousFaults(phone.page));
const wide = await phone.page.evaluate(() => document.documentElement.scrollWidth);
check(wide <= SCREENS.phone.width, `the page is ${wide} wide on a phone`);
await look(phone.page, "live-offers-phone");

// A browser has six connections to a server: a tab that is not shown holds none.
const show = (tab, state) =>
  tab.evaluate((visible) => {
    Object.defineProperty(document, "visibilityState", { value: visible, configurable: true });
    document.dispatchEvent(new Event("visibilitychange"));
  }, state);
await show(page, "hidden");
const tabs = [];
for (let number = 0; number < 9; number += 1) {
  const tab = await context.newPage();
  await tab.goto(address);
  await tab.waitForFunction(() => document.body.dataset.stage === "scored");
  await show(tab, "hidden");
  tabs.push(tab);
}
await show(tabs[8], "visible");
await tabs[8].fill("#mast", "9 m");
await tabs[8].keyboard.press("Enter");
await tabs[8].waitForFunction(() => document.getElementById("file").textContent.includes("not saved"));
check((await page.inputValue("#mast")) === "12 m", "a tab that is not shown listens");
await show(page, "visible");
await page.waitForFunction(() => document.getElementById("mast").value === "9 m");

for (const { faults: said } of [first, phone]) check(said.length === 0, `the console says: ${said.join("; ")}`);
check(faults.length === 0, faults.join("\n"));
await browser.close();
