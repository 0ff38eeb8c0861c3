// The plan at hand in a real browser: dragged, typed, compared, by two at once.
//
// node live.mjs ADDRESS HOSTILE_ADDRESS: of two servers, one of which serves a
// plan whose names are markup.

import { SCREENS, check, figure, look, seriousFaults, start, visit } from "./chromium.mjs";
import { aim, complete, shake } from "./live-page.mjs";

const [address, hostile] = process.argv.slice(2);
const browser = await start();

const headline = (page) => page.textContent("#headline");
/** The coverage as the browser shows it, as a sum of its bytes. */
const shown = (page) =>
  page.evaluate(async () => {
    const image = document.querySelector("img.coverage");
    const canvas = Object.assign(document.createElement("canvas"), {
      width: image.naturalWidth,
      height: image.naturalHeight,
    });
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    const { data } = pen.getImageData(0, 0, canvas.width, canvas.height);
    const digest = await crypto.subtle.digest("SHA-256", data);
    return Array.from(new Uint8Array(digest)).join();
  });

const first = await visit(browser, "laptop");
const { page } = first;
await page.goto(address);
await complete(page);
check((await page.textContent("#event")).includes("Ferry Lights"), "the event's name");
const onTheLand = await page.textContent("#lines-word");
check(/^ Contours every \d+ m, roads, houses, place names$/u.test(onTheLand), `the switch of the land says ${onTheLand}`);
await look(page, "live-laptop");
let faults = await seriousFaults(page);

// A hand that does not rest still sees the coverage follow: four seconds at 60 Hz.
{
  const start = await aim(page);
  const before = await shown(page);
  const asked = first.requests.length;
  const { moves, rate } = await shake(page);
  const forms = first.requests.slice(asked).filter((url) => new URL(url).pathname.endsWith("/form"));
  // At most what was on its way, and what follows once the hand lets go.
  check(forms.length <= 2, `${forms.length} forms were asked for in the middle of a drag`);
  check(moves >= 20, `the hand moved ${moves} times only`);
  // One or two in all were shown once; how many there can be is the machine's.
  check(rate >= 1, `${rate.toFixed(1)} pictures a second follow a drag`);
  await complete(page, start);
  // What beside the map was left as it stood follows too.
  await page.waitForFunction(() => document.getElementById("file").textContent.includes("changed here"));
  await page.click("#undo");
  await page.waitForFunction(() => document.getElementById("undo").disabled);
  await complete(page, start + 1);
  check((await shown(page)) === before, "a long drag is more than one step");
}

// A mark that is dropped on another opens nothing.
{
  const start = await aim(page);
  const on = await page.locator(".mark.post").first().boundingBox();
  const box = await page.locator(".mark.site.chosen").boundingBox();
  await page.mouse.move(box.x + 14, box.y + 14);
  await page.mouse.down();
  await page.mouse.move(on.x + 10, on.y + 10, { steps: 5 });
  await page.mouse.move(on.x + 14, on.y + 14);
  await page.mouse.up();
  await complete(page, start);
  check(await page.isHidden("#path"), "a dropped mark opens the path of another");
  await page.click("#undo");
  await page.waitForFunction(() => document.getElementById("undo").disabled);
}

// By night: dark, and red for the eyes; the choice is kept, and the system's followed.
{
  const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
  const day = await paper();
  await page.selectOption("#screen", "night");
  check((await paper()) !== day, "the page stays light at night");
  faults = faults.concat(await seriousFaults(page));
  await look(page, "live-night");
  await page.selectOption("#screen", "red");
  await look(page, "live-red");
  // Of red light alone: nothing on the screen is green or blue.
  const colours = await page.evaluate(async (shot) => {
    const image = new Image();
    image.src = `data:image/png;base64,${shot}`;
    await image.decode();
    const canvas = Object.assign(document.createElement("canvas"), { width: image.width, height: image.height });
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    const { data } = pen.getImageData(0, 0, image.width, image.height);
    let [red, other] = [0, 0];
    for (let at = 0; at < data.length; at += 4) {
      red = Math.max(red, data[at]);
      other = Math.max(other, data[at + 1], data[at + 2]);
    }
    return { red, other };
  }, (await page.screenshot()).toString("base64"));
  check(colours.red > 150 && colours.other < 8, `red light has other colours: ${JSON.stringify(colours)}`);
  await page.reload();
  await complete(page);
  check((await page.inputValue("#screen")) === "red", "the choice of the screen is forgotten");
  await page.selectOption("#screen", "system");
  check((await paper()) === day, "the page does not follow the system by day");
  await page.emulateMedia({ colorScheme: "dark" });
  await page.waitForFunction(() => document.documentElement.dataset.screen === "night");
  check((await paper()) !== day, "the page does not follow the system by night");
  await page.emulateMedia({ colorScheme: "light" });
  await page.waitForFunction(() => !document.documentElement.dataset.screen);
}

// Two at one table.
const second = await visit(browser, "laptop");
await second.page.goto(address);
await complete(second.page);
check((await shown(page)) === (await shown(second.page)), "two browsers see different pictures");

// A drag with the mouse, the coverage following.
const before = await shown(page);
const began = await aim(page);
const mark = page.locator(".mark.site.chosen");
const box = await mark.boundingBox();
await page.mouse.move(box.x + 14, box.y + 14);
await page.mouse.down();
for (let step = 1; step <= 12; step += 1) {
  await page.mouse.move(box.x + 14 - step * 20, box.y + 14 - step * 12);
  await page.waitForTimeout(30);
}
const during = await page.waitForFunction(
  (last) => Number(document.getElementById("map").dataset.aim) > last,
  began,
);
check(during, "the coverage does not follow while the hand holds the mark");
await page.mouse.up();
await complete(page, began);
await page.waitForFunction(() => document.getElementById("file").textContent.includes("not saved"));
const dragged = await shown(page);
check(dragged !== before, "the drag changes nothing");
await look(page, "live-dragged");
await page.waitForTimeout(500);
await complete(second.page, began);
check((await shown(second.page)) === (await shown(page)), "the other browser does not follow");

// One step back takes all of the drag back.
let last = await aim(page);
await page.click("#undo");
await complete(page, last);
check((await shown(page)) === before, "undo does not bring the picture back");
check(await page.isDisabled("#undo"), "one drag is more than one step");
check(await page.isDisabled("#save"), "nothing is changed any more");

// By keyboard: a mark is moved by its arrow keys.
last = await aim(page);
await mark.locator("..").focus();
for (let step = 0; step < 5; step += 1) await page.keyboard.press("Shift+ArrowUp");
await complete(page, last);
check((await shown(page)) !== before, "arrow keys do not move a mark");
last = await aim(page);
await page.keyboard.press("Control+z");
await complete(page, last);
check((await shown(page)) === before, "Ctrl+Z does not undo");

// What is typed wrong is told beside the field, and stays to be fixed.
await page.fill("#mast", "6 parsec");
await page.keyboard.press("Enter");
await page.waitForSelector(".notice.refused");
check((await page.textContent(".notice.refused")).includes("mast"), "the field is not named");
check((await page.getAttribute("#mast", "aria-invalid")) === "true", "the field is not marked");
check((await page.inputValue("#mast")) === "6 parsec", "what was typed is gone");
faults = faults.concat(await seriousFaults(page));
await look(page, "live-refused");
last = await aim(page);
await page.fill("#mast", "12 m");
await page.keyboard.press("Enter");
await complete(page, last);
check((await page.locator(".notice.refused").count()) === 0, "the old refusal stays");

// Kept and compared.
await page.fill("#keep-name", "Taller mast");
await page.click("#keep button");
await page.waitForSelector("#variants li");
last = await aim(page);
await page.selectOption("#site", "Hotel");
await complete(page, last);
await page.selectOption("#compare-how", "swipe");
await page.waitForSelector("img.other");
await page.fill("#swipe", "35");
const clip = await page.evaluate(() => document.querySelector("img.other").style.clipPath);
check(/inset\(0(px)? [1-9]/.test(clip), `the border does not cut: ${clip}`);
await look(page, "live-swipe");
await page.selectOption("#compare-how", "difference");
await page.waitForFunction(() => document.querySelector("img.other")?.style.clipPath === "");
await page.waitForTimeout(400);
await look(page, "live-difference");
faults = faults.concat(await seriousFaults(page));
await page.selectOption("#compare-how", "");

// Anywhere: the path to it.
await page.mouse.click(300, 250);
await page.waitForSelector("#path:not([hidden])");
await page.waitForFunction(() => document.getElementById("path-picture").naturalWidth > 1000);
check((await page.textContent("#path-title")).startsWith("Hotel to This spot"), "the path's title");
await look(page, "live-path");
faults = faults.concat(await seriousFaults(page));
await page.keyboard.press("Escape");
check(await page.isHidden("#path"), "Escape does not close the path");
const opener = page.locator("#posts button").first();
await opener.focus();
await page.keyboard.press("Enter");
await page.waitForSelector("#path:not([hidden])");
await page.keyboard.press("Escape");
check(await opener.evaluate((element) => element === document.activeElement), "Escape loses the place on the page");

// Closed and opened again: the desk is as it was.
const words = await headline(page);
await first.context.close();
const third = await visit(browser, "phone");
await third.page.goto(address);
await complete(third.page);
check((await headline(third.page)) === words, "another browser finds another desk");
check((await third.page.inputValue("#site")) === "Hotel", "what was looked at is forgotten");
check((await third.page.locator("#variants li").count()) === 1, "variants are forgotten");
faults = faults.concat(await seriousFaults(third.page));
const wide = await third.page.evaluate(() => document.documentElement.scrollWidth);
check(wide <= SCREENS.phone.width, `the page is ${wide} wide on a phone`);
await look(third.page, "live-phone");
// A path shows where the eye is, not far below.
await third.page.locator("#posts button").first().click();
await third.page.waitForSelector("#path:not([hidden])");
const place = await third.page.locator("#path").boundingBox();
check(place.y >= 0 && place.y + 80 <= SCREENS.phone.height, `the path opens at ${place.y}`);
await third.page.keyboard.press("Escape");

// Names that are markup are text.
const fourth = await visit(browser, "laptop");
await fourth.page.goto(hostile);
await complete(fourth.page);
await fourth.page.locator("#posts button").first().click();
await fourth.page.waitForSelector("#path:not([hidden])");
await fourth.page.fill("#keep-name", "<img src=x onerror=document.title='run'>");
await fourth.page.click("#keep button");
await fourth.page.waitForSelector("#variants li");
await fourth.page.waitForTimeout(300);
check((await fourth.page.evaluate(() => globalThis.hostile)) === undefined, "a name has run");
check(!(await fourth.page.title()).startsWith("run"), "a variant's name has run");
check((await fourth.page.locator("#posts img, #variants img, .mark img, #posts script").count()) === 0, "a name is markup");
check((await fourth.page.textContent("#posts")).includes("<img src=x"), "the name is not shown as it is");

const own = new URL(address).origin;
// The browser notes the one change that was refused.
const refused = first.faults.filter((text) => text.includes("status of 422"));
check(refused.length === 1, `${refused.length} changes were refused`);
first.faults.splice(first.faults.indexOf(refused[0]), 1);
for (const { faults: said, requests } of [first, second, third, fourth]) {
  check(said.length === 0, `the console says: ${said.join("; ")}`);
  const others = requests.filter(
    (url) => !url.startsWith(own) && !url.startsWith(new URL(hostile).origin) && !/^(data|blob):/.test(url),
  );
  check(others.length === 0, `asked for ${others}`);
}
check(faults.length === 0, faults.join("\n"));
figure("live_axe_serious_faults", faults.length, "faults");
await browser.close();
