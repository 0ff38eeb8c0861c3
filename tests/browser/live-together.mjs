// Several sites on one map: switched by keyboard, with a legend, after each change.
//
// node live-together.mjs ADDRESS: of a server of the sample.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";
import { follow } from "./live-page.mjs";

const [address] = process.argv.slice(2);
const browser = await start();
const first = await visit(browser, "laptop");
const { page } = first;
const faults = [];
const { state, complete } = follow(page);

/** Waits until the picture that is shown is the latest, of all that was asked for. */
const laid = async (how, number = null) => {
  for (const begun = Date.now(); Date.now() - begun < 30_000; await page.waitForTimeout(50)) {
    const { together, stage } = await state();
    const shown = await page.evaluate(() => document.getElementById("map").dataset.together);
    const isAll = together.complete && stage === "scored" && together.laid.length > 0;
    if (isAll && shown === `${how} ${together.number}` && (number === null || together.sites.length === number)) return;
  }
  throw new Error(`no picture of ${how}: ${JSON.stringify((await state()).together)}`);
};
/** The colours of the picture, each with its share of it. */
const colours = () =>
  page.evaluate(async () => {
    const image = document.querySelector("img.together");
    const canvas = Object.assign(document.createElement("canvas"), { width: image.naturalWidth, height: image.naturalHeight });
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    const digest = await crypto.subtle.digest("SHA-256", pen.getImageData(0, 0, canvas.width, canvas.height).data);
    return Array.from(new Uint8Array(digest)).join();
  });
const rows = () => page.locator("#together-rows li").allTextContents();
const percents = async () => (await rows()).map((row) => Number(/: (?:under )?(\d+) %/.exec(row)[1]));

await page.goto(address);
await complete();
check(await page.isHidden("#together"), "the choice of sites is there before anybody asks");
check((await state()).together.sites.length === 0, "sites are computed that nobody sees");

// By keyboard: from one site to the best of several, and to how many serve.
await page.focus("input[name=together][value='']");
await page.keyboard.press("ArrowDown");
await laid("best");
const best = await colours();
check((await page.locator("#together-sites input:checked").count()) === 6, "sites that may be used are not ticked");
check((await rows()).some((row) => row.startsWith("Clear both ways")), `the legend says ${await rows()}`);
const sum = (await percents()).reduce((all, one) => all + one, 0);
check(Math.abs(sum - 100) <= 3, `the legend adds up to ${sum} %`);
faults.push(...(await seriousFaults(page)));
await look(page, "live-best");
await page.keyboard.press("ArrowDown");
await laid("count");
check((await colours()) !== best, "both ways to lay sites together look alike");
check((await rows()).at(-1).startsWith("No site serves"), `the legend says ${await rows()}`);
check((await rows()).some((row) => row.startsWith("4 or more sites serve")), `the legend says ${await rows()}`);
faults.push(...(await seriousFaults(page)));
await look(page, "live-count");

// The patches are the colours of the map.
const patch = await page.locator("#together-rows .served-1").evaluate((one) => getComputedStyle(one).backgroundColor);
check(patch === "rgb(176, 96, 60)", `a patch of ${patch}`);

// The pointer says which of them serve.
const box = await page.locator("#map").boundingBox();
await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
await page.waitForFunction(() => /of 6 sites serve here: .*Hotel/.test(document.getElementById("here").textContent));
await page.mouse.move(5, 5);

// Unticked by keyboard, the picture follows and the keyboard stays.
const six = await colours();
await page.locator("#together-sites input[value='Ridge overlook']").focus();
await page.keyboard.press("Space");
await laid("count", 5);
check((await colours()) !== six, "a site less, the same picture");
check((await page.evaluate(() => document.activeElement.value)) === "Ridge overlook", "the keyboard has lost its place");
check((await page.textContent("#together-said")).startsWith("Counted 5 sites."), await page.textContent("#together-said"));

// A change of the plan is followed, and undone.
const five = await colours();
await page.fill("#station-power", "0.1 W");
await page.keyboard.press("Enter");
await page.waitForFunction(() => !document.getElementById("undo").disabled);
await laid("count", 5);
check((await colours()) !== five, "a change leaves the picture as it was");
await page.click("#undo");
await page.waitForFunction(() => document.getElementById("undo").disabled);
await laid("count");
check((await colours()) === five, "undo does not bring the picture back");

// Another browser sees the same sites; each looks at them as it likes.
const second = await visit(browser, "small");
await second.page.goto(address);
await follow(second.page).complete();
check((await second.page.locator("img.together").count()) === 0, "another browser is shown what it did not ask for");
await second.page.check("input[name=together][value=best]");
await second.page.waitForSelector("img.together");
check((await second.page.locator("#together-sites input:checked").count()) === 5, "the choice is not shared");
const wide = await second.page.evaluate(() => document.documentElement.scrollWidth);
check(wide <= SCREENS.small.width, `the page is ${wide} wide`);
faults.push(...(await seriousFaults(second.page)));

// Back to the one site, by keyboard.
await page.focus("input[name=together][value=count]");
await page.keyboard.press("ArrowUp");
await page.keyboard.press("ArrowUp");
await page.waitForFunction(() => !document.querySelector("img.together"));
check(await page.isHidden("#together"), "the choice of sites stays");

for (const { faults: said } of [first, second]) faults.push(...said);
check(faults.length === 0, faults.join("\n"));
await browser.close();
