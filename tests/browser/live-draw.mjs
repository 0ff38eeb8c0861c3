// What is put on the map: by mouse, by keyboard and out of files, renamed and removed.
//
// node live-draw.mjs ADDRESS GPX: a server of the sample, and a file with one route and
// two places.

import { check, look, seriousFaults, start, visit } from "./chromium.mjs";
import { follow } from "./live-page.mjs";

const [address, gpx] = process.argv.slice(2);
const browser = await start();
const { page, faults: said } = await visit(browser, "laptop");

const { state, named, aim, complete, told } = follow(page);
const status = () => page.textContent("#said");
const focused = () =>
  page.evaluate(() => document.activeElement.dataset.add ?? document.activeElement.id);
const undo = async () => {
  const last = await aim();
  await page.click("#undo");
  await complete(last);
};

await page.goto(address);
await complete();
const before = await state();
const box = await page.locator("#map").boundingBox();
const at = (x, y) => [box.x + box.width * x, box.y + box.height * y];

// A route by clicks: a point too many is taken back, a double click ends it.
await page.click('[data-add="route"]');
await page.mouse.click(...at(0.4, 0.4));
await told("Point 1 is set");
await page.keyboard.press("Enter");
await told("2 points at least; 1 is set");
await page.mouse.click(...at(0.5, 0.45));
await page.mouse.click(...at(0.2, 0.8));
await page.keyboard.press("Backspace");
await told("taken back; 2 left");
await page.waitForTimeout(400);
await page.mouse.dblclick(...at(0.6, 0.6));
await page.waitForSelector("#draw-form:not([hidden])");
check((await page.inputValue("#draw-name")) === "Route 1", "a free name is proposed");
let faults = await seriousFaults(page);
await look(page, "draw-route");
await page.keyboard.type("Detour");
let last = await aim();
await page.keyboard.press("Enter");
await complete(last);
check((await named("routes", "Detour")).points.length === 3, "the route has three points");
check((await focused()) === "route", `the focus is on ${await focused()}`);

// An area by keyboard alone: the cross, three corners, the name that is proposed.
await page.focus('[data-add="area"]');
await page.keyboard.press("Enter");
await told("arrow keys move the cross");
const corner = async (key, times) => {
  await page.keyboard.press("Space");
  for (let step = 0; step < times; step += 1) await page.keyboard.press(`Shift+${key}`);
};
await corner("ArrowRight", 3);
await corner("ArrowDown", 2);
await corner("ArrowLeft", 1);
await told("Point 3 is set");
await page.keyboard.press("Enter");
last = await aim();
await page.keyboard.press("Enter");
await complete(last);
check((await named("areas", "Area 1")) !== undefined, "the area is not there");

// A post by keyboard; Esc leaves all as it was.
await page.focus('[data-add="post"]');
await page.keyboard.press("Enter");
await page.keyboard.press("Escape");
await told("Nothing was added");
check((await focused()) === "post", "Esc loses the focus");
await page.keyboard.press("Enter");
await page.keyboard.press("ArrowUp");
await page.keyboard.press("Enter");
await page.waitForSelector("#draw-form:not([hidden])");
// A name that is taken is refused beside the field, and stays to be fixed.
await page.keyboard.type("Aid 1");
await page.keyboard.press("Enter");
await page.waitForSelector(".notice.refused");
check((await page.getAttribute("#draw-name", "aria-invalid")) === "true", "the name is not marked");
await page.keyboard.type(" bis");
last = await aim();
await page.keyboard.press("Enter");
await complete(last);
await told("Post Aid 1 bis is added");

// A click on a mark while something is drawn sets a point there and opens no path.
check(await page.isHidden("#path"), "a path is open");

// Delete on the mark that has the focus asks in place; undo brings it back.
await page.locator('.leaflet-marker-icon[data-name="Aid 1 bis"]').focus();
await page.keyboard.press("Delete");
await page.waitForSelector("#draw-ask button");
faults = faults.concat(await seriousFaults(page));
await look(page, "draw-remove");
await page.keyboard.press("Escape");
check((await named("posts", "Aid 1 bis")) !== undefined, "Esc removes it");
await page.keyboard.press("Delete");
last = await aim();
await page.keyboard.press("Enter");
await complete(last);
await told("Post Aid 1 bis is removed");
check((await named("posts", "Aid 1 bis")) === undefined, "it is still there");
await undo();
check((await named("posts", "Aid 1 bis")) !== undefined, "undo does not bring it back");

// F2 on a mark, and the buttons of a list.
await page.locator('.leaflet-marker-icon[data-name="Aid 1 bis"]').focus();
await page.keyboard.press("F2");
await page.keyboard.type("Mill gate");
last = await aim();
await page.keyboard.press("Enter");
await complete(last);
check((await named("posts", "Mill gate")) !== undefined, "F2 does not rename");
await page.locator("#shapes summary").first().click();
await page.click('[aria-label="Rename Lantern field"]');
await page.keyboard.type("Lamp field");
last = await aim();
await page.keyboard.press("Enter");
await complete(last);
check((await named("areas", "Lamp field")) !== undefined, "the list does not rename");

// What others lean on is told, and stays.
await page.locator('.leaflet-marker-icon[data-name="Medical tent"]').focus();
await page.keyboard.press("Delete");
await page.keyboard.press("Enter");
await page.waitForFunction(() =>
  document.querySelector(".notice.refused")?.textContent.includes('group "Medical" in head'),
);
await page.keyboard.press("Escape");

// A file: what it holds is shown, and what is ticked is one change.
await page.setInputFiles("#draw-file-input", gpx);
await page.waitForSelector("#found:not([hidden])");
check((await page.textContent("#found h2")).includes("1 route, 2 posts"), await page.textContent("#found h2"));
faults = faults.concat(await seriousFaults(page));
await look(page, "draw-file");
await page.locator("#found .choices input").nth(1).uncheck();
last = await aim();
await page.click("#found .buttons button");
await complete(last);
await told("1 route, 1 post");
check((await named("routes", "Towpath")) !== undefined, "the file's route is not there");
check((await named("posts", "Lock")) === undefined, "what was not ticked is there");
await undo();
check((await named("routes", "Towpath")) === undefined, "a file is more than one change");

// Dropped onto the map; one of 9 MB is not even sent, and a damaged one is told.
const drop = (name, bytes) =>
  page.evaluate(
    ([file, length]) => {
      const data = new DataTransfer();
      data.items.add(new File([new Uint8Array(length).fill(32)], file));
      document.getElementById("map").dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true }));
    },
    [name, bytes],
  );
const refusal = () => page.textContent(".notice.refused").catch(() => "");
await drop("large.gpx", 9 * 1024 * 1024);
await page.waitForFunction(() => document.querySelector(".notice.refused")?.textContent.includes("8 MB"));
await drop("broken.gpx", 40);
await page.waitForFunction(() => document.querySelector(".notice.refused")?.textContent.includes("broken.gpx"));
check(!(await refusal()).includes(".perchline"), "a path of ours is shown");
check(await page.isHidden("#found"), "a broken file has something");

// All of it undone.
while (await page.isEnabled("#undo")) await undo();
const after = await state();
check(JSON.stringify(after.posts) === JSON.stringify(before.posts), "undo leaves something");
check(after.changed === false, "the plan is changed");

const others = said.filter((text) => !text.includes("status of 422"));
check(others.length === 0, `the console says: ${others.join("; ")}`);
check(faults.length === 0, faults.join("\n"));
await browser.close();
