// How many pictures a second follow a hand that drags a site and does not rest.
//
// node live-drag.mjs ADDRESS FIGURE: prints the figure of this name.

import { figure, start, visit } from "./chromium.mjs";
import { complete, shake } from "./live-page.mjs";

const [address, name] = process.argv.slice(2);
const browser = await start();
const { page } = await visit(browser, "laptop");
await page.goto(address);
await complete(page);
const { rate } = await shake(page);
figure(name, rate.toFixed(1), "pictures/s");
await browser.close();
