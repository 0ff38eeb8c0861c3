// From an empty folder to a saved plan, as somebody does it who has read nothing.
//
// node newcomer.mjs ADDRESS GPX RESULT: what the page shows in the end goes to RESULT.

import { writeFileSync } from "node:fs";
import { check, figure, look, seriousFaults, start, visit } from "./chromium.mjs";
import { follow } from "./live-page.mjs";

const [address, gpx, result] = process.argv.slice(2);
const browser = await start();
const { page, faults: said, requests } = await visit(browser, "laptop");

let clicks = 0;
let letters = 0;
const click = async (selector) => {
  clicks += 1;
  await page.click(selector);
};
const type = async (text) => {
  letters += text.length;
  await page.keyboard.type(text);
};
const { aim, complete } = follow(page);
const status = () => page.textContent("#said");

const began = Date.now();
await page.goto(address);
await page.waitForSelector("#elevation input:checked");
let faults = await seriousFaults(page);
await look(page, "start-form");

// The button, and the file in the system's own dialog.
clicks += 2;
await page.setInputFiles("#places", gpx);
await page.waitForFunction(() => document.getElementById("places-found").textContent.includes("1 route"));
await click("#name");
await type("Lantern run");
await click("#make");
await page.waitForFunction(
  () => ["full", "scored"].includes(document.getElementById("map")?.dataset.stage),
);
const seconds = (Date.now() - began) / 1000;
await complete();
check((await page.textContent("#event")) === "Lantern run", "the event's name");
faults = faults.concat(await seriousFaults(page));
await look(page, "newcomer-first");

// A post: the button, a place, a name.
let last = await aim();
await click('[data-add="post"]');
check((await status()).includes("click where it is"), "nothing says what to do");
const box = await page.locator("#map").boundingBox();
clicks += 1;
await page.mouse.click(box.x + box.width * 0.55, box.y + box.height * 0.45);
await page.waitForSelector("#draw-form:not([hidden])");
check(await page.evaluate(() => document.activeElement.id === "draw-name"), "the name has no focus");
faults = faults.concat(await seriousFaults(page));
await look(page, "newcomer-name");
await type("Aid 1");
await page.keyboard.press("Enter");
await complete(last);
check((await status()).startsWith("Post Aid 1 is added."), `the status says: ${await status()}`);
await click("#save");
await page.waitForFunction(() => document.getElementById("save").disabled);

const state = await page.evaluate(async () => (await fetch("state")).json());
writeFileSync(
  result,
  JSON.stringify({
    headline: await page.textContent("#headline"),
    share: await page.textContent("#share"),
    site: state.look.site,
    channel: state.look.channel,
    posts: state.posts,
  }),
);

const own = new URL(address).origin;
const others = requests.filter((url) => !url.startsWith(own) && !/^(data|blob):/.test(url));
check(others.length === 0, `asked for ${others}`);
check(said.length === 0, `the console says: ${said.join("; ")}`);
check(faults.length === 0, faults.join("\n"));
check(clicks <= 10, `${clicks} clicks`);
check(seconds <= 20, `${seconds} s to the first map`);
figure("first_map_clicks", clicks, "clicks");
figure("first_map_typed_letters", letters, "letters");
figure("first_map_seconds", seconds.toFixed(1), "s");
await browser.close();
