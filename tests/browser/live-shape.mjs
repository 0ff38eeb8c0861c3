// Points of a route and an area moved, added and taken away, by mouse and by keyboard,
// a shape drawn anew, a plan saved under another name, and a file that is too large.
//
// node live-shape.mjs ADDRESS LARGE: a server of the sample, and a file of 200 MB.

import { check, look, seriousFaults, start, visit } from "./chromium.mjs";
import { drag, follow } from "./live-page.mjs";

const [address, large] = process.argv.slice(2);
const browser = await start();
const { page, faults: said } = await visit(browser, "laptop");
const { named, aim, complete, told } = follow(page);
const points = async (list, name) => (await named(list, name)).points;
const label = () => page.evaluate(() => document.activeElement.getAttribute("aria-label") ?? "");
const near = (a, b, off) => Math.hypot(a[0] - b[0], a[1] - b[1]) <= off;

await page.goto(address);
await complete();
const box = await page.locator("#map").boundingBox();
const at = (x, y) => [box.x + box.width * x, box.y + box.height * y];

// A route of three points, made here, so that the corners are known.
await page.click('[data-add="route"]');
for (const spot of [[0.3, 0.4], [0.5, 0.4]]) {
  await page.mouse.click(...at(...spot));
  await page.waitForTimeout(350);
}
await page.mouse.dblclick(...at(0.5, 0.7));
await page.waitForSelector("#draw-form:not([hidden])");
await page.keyboard.type("Detour");
let last = await aim();
await page.keyboard.press("Enter");
await complete(last);
const before = await points("routes", "Detour");
const post = page.locator('.leaflet-marker-icon[data-name="Brook crossing"]');
const pressed = await post.elementHandle();
check(before.length === 3, `the route has ${before.length} points`);

// By keyboard: the first handle has the focus; arrow keys move it, Enter adds, Delete takes away.
const row = page.locator("#shapes li", { hasText: "Detour" });
await row.locator("summary").click();
await row.locator("button", { hasText: "Move points" }).focus();
await page.keyboard.press("Enter");
await page.waitForSelector(".handle:focus");
check((await label()).startsWith("Point 1 of 3 of Detour"), `the focus is on ${await label()}`);
let faults = await seriousFaults(page);
await look(page, "shape-handles");
last = await aim();
await page.keyboard.press("Shift+ArrowRight");
await told("Point 1 of Detour is moved");
await complete(last);
const moved = await points("routes", "Detour");
check(near(moved[0], [before[0][0] + 10, before[0][1]], 0.05), `${moved[0]} is not ten cells right of ${before[0]}`);
check(near(moved[1], before[1], 0.001) && near(moved[2], before[2], 0.001), "another point moved too");
await page.waitForSelector(".handle:focus");
check((await label()).startsWith("Point 1 of 3"), "the focus left the handle");
last = await aim();
await page.keyboard.press("Enter");
await told("a point more");
await complete(last);
const more = await points("routes", "Detour");
const middle = [(moved[0][0] + moved[1][0]) / 2, (moved[0][1] + moved[1][1]) / 2];
check(more.length === 4 && near(more[1], middle, 0.05), "the new point is not halfway");
await page.waitForSelector(".handle:focus");
check((await label()).startsWith("Point 2 of 4"), `the focus is on ${await label()}`);
last = await aim();
await page.keyboard.press("Delete");
await told("a point less");
await complete(last);
check((await points("routes", "Detour")).length === 3, "the point is still there");

// By mouse: a handle follows the hand, and no path opens where it is dropped.
last = await aim();
await drag(page, page.locator(".handle:not(.half)").nth(2), 60, 0);
await told("Point 3 of Detour is moved");
await complete(last);
check((await points("routes", "Detour"))[2][0] > before[2][0] + 1, "the handle did not follow the mouse");
check(await page.locator("#path").isHidden(), "a path opened where a handle was dropped");
last = await aim();
await drag(page, page.locator(".handle.half").first(), 0, 40);
await told("a point more");
await complete(last);
check((await points("routes", "Detour")).length === 4, "the small handle did not become a point");

// A route keeps two points; undo goes a step back; Esc ends it.
last = await aim();
await page.click("#undo");
await page.waitForFunction(() => document.querySelectorAll(".handle:not(.half)").length === 3);
await complete(last);
await page.locator(".handle:not(.half)").first().focus();
last = await aim();
await page.keyboard.press("Delete");
await told("a point less");
await complete(last);
await page.waitForSelector(".handle:focus");
await page.keyboard.press("Delete");
await page.waitForFunction(() => document.getElementById("alerts").textContent.includes('route "Detour" has 2 points at least'));
check((await page.locator(".handle:not(.half)").count()) === 2, "a refused point is gone from the page");
await page.keyboard.press("Escape");
check((await page.locator(".handle").count()) === 0, "Esc leaves the handles");

// Drawn anew: the name stays, the points are others.
last = await aim();
await row.locator("button", { hasText: "Draw anew" }).click();
check(await pressed.evaluate((mark) => mark.isConnected), "a mark was drawn anew under the hand");
const brook = await post.boundingBox();
await page.mouse.click(brook.x + brook.width / 2, brook.y + brook.height / 2);
await told("Point 1 is set");
await page.waitForTimeout(350);
await page.mouse.dblclick(...at(0.45, 0.85));
await told("Detour is drawn anew");
await complete(last);
const anew = await points("routes", "Detour");
const crossing = (await named("posts", "Brook crossing")).at;
check(anew.length === 2, `it has ${anew.length} points`);
check(near(anew[0], [crossing.column, crossing.row], 1), "a click on a mark is no point where it stands");

// Saved under another name: the page works on that file from then on.
const file = await page.textContent("#file");
await page.click("#save-as");
check((await page.inputValue("#save-as-name")) === "plan-2.toml", "no free name is proposed");
await page.fill("#save-as-name", "../up.toml");
await page.keyboard.press("Enter");
await page.waitForSelector("#save-as-name[aria-invalid=true]");
faults = faults.concat(await seriousFaults(page));
await page.fill("#save-as-name", "evening");
await page.keyboard.press("Enter");
await page.waitForFunction(() => document.getElementById("file").textContent.endsWith("evening.toml"));
check(file.includes("not saved") && (await page.locator("#save-as-form").isHidden()), "the form stays");
check((await page.textContent("#alerts")).includes("Saved as"), "it is not told");

// A file of 200 MB is refused before it is sent.
const asked = [];
page.on("request", (request) => asked.push(request.url()));
await page.setInputFiles("#draw-file-input", large);
await page.waitForFunction(() => document.getElementById("alerts").textContent.includes("8 MB is the most"));
check(!asked.some((url) => url.includes("/read")), "the file was sent");

const others = said.filter((text) => !text.includes("status of 422"));
check(others.length === 0, `the console says: ${others.join("; ")}`);
check(faults.length === 0, faults.join("\n"));
await browser.close();
