// The value under the pointer: a box with the class, both margins and the ground, and a
// line to the station; away where a mark is dragged or something is drawn.
//
// node live-here.mjs ADDRESS: a server of the sample.

import { check, look, seriousFaults, start, visit } from "./chromium.mjs";

const [address] = process.argv.slice(2);
const browser = await start();
const { page, faults: said } = await visit(browser, "laptop");
await page.goto(address);
await page.waitForFunction(() => document.body.dataset.stage === "scored");
const box = await page.locator("#map").boundingBox();
const at = (x, y) => [box.x + box.width * x, box.y + box.height * y];
const here = page.locator("#here");

check(await here.isHidden(), "a box stands there before anything is pointed at");
const asked = [];
let open = 0;
let most = 0;
const isOurs = (request) => request.url().includes("/here?");
page.on("request", (request) => {
  if (!isOurs(request)) return;
  asked.push(request.url());
  open += 1;
  most = Math.max(most, open);
});
for (const end of ["requestfinished", "requestfailed"]) {
  page.on(end, (request) => isOurs(request) && (open -= 1));
}
await page.mouse.move(...at(0.3, 0.5));
await here.waitFor();
const text = () => here.textContent();
await page.waitForFunction(() => document.getElementById("here").textContent.includes("dB"));
check(/Talk-in \d+\.\d dB (in hand|short), talk-out \d+\.\d dB/.test(await text()), `it says ${await text()}`);
check((await here.locator(".ground").getAttribute("d")).length > 100, "no ground is drawn");
const faults = await seriousFaults(page);
await look(page, "here");

// The word is that of the map's cell, as the server has it.
const [column, row] = await page.evaluate((url) => {
  const query = new URL(url).searchParams;
  return [query.get("column"), query.get("row")];
}, asked.at(-1));
const told = await page.evaluate(
  async ([c, r]) => (await fetch(`here?column=${c}&row=${r}`)).json(),
  [column, row],
);
check((await text()).includes(told.lines[0]), "the box is not what the server says");
check((await here.getAttribute("data-outcome")) === told.outcome, "another class");

// The pointer is followed, by one question at a time.
const before = await text();
for (let step = 0; step <= 60; step += 1) await page.mouse.move(...at(0.3 + step / 150, 0.5));
await page.waitForFunction((old) => document.getElementById("here").textContent !== old, before);
check(most === 1, `${most} questions at once`);

// Below on the right the box makes way; off the map it goes.
await page.mouse.move(...at(0.6, 0.7));
await page.waitForFunction(() => document.getElementById("here").classList.contains("left"));
await page.mouse.move(box.x + box.width / 2, box.y - 30);
await here.waitFor({ state: "hidden" });

// A mark that is walked to by keyboard says it too.
await page.focus("#map");
await page.keyboard.press("Tab");
for (let step = 0; step < 8 && (await here.isHidden()); step += 1) {
  await page.keyboard.press("Tab");
  await page.waitForTimeout(200);
}
check(await here.isVisible(), "no value where a mark has the keyboard");

// Not while something is drawn, nor where it is switched off.
await page.click('[data-add="post"]');
await page.mouse.move(...at(0.4, 0.5));
await page.mouse.move(...at(0.41, 0.5));
await page.waitForTimeout(300);
check(await here.isHidden(), "the box is in the way of drawing");
await page.keyboard.press("Escape");
await page.uncheck("#show-here");
await page.mouse.move(...at(0.5, 0.5));
await page.waitForTimeout(300);
check(await here.isHidden(), "it cannot be switched off");

check(said.length === 0, `the console says: ${said.join("; ")}`);
check(faults.length === 0, faults.join("\n"));
await browser.close();
