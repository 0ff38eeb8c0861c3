// The machine's own browser for the tests of the pages: started with nothing to
// reach, looked over for faults, screen by screen.

import { existsSync, mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { fileURLToPath } from "node:url";

const target = new URL("../../target/", import.meta.url);
const fetched = createRequire(new URL("test-browser/package.json", target));

/** Where the machine has its browser. */
const BROWSERS = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

const ARGUMENTS = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
];

/** Screens that a page is looked at on. */
export const SCREENS = {
  phone: { width: 390, height: 844 },
  small: { width: 320, height: 640 },
  laptop: { width: 1366, height: 768 },
};

/** Starts the browser. */
export async function start() {
  const executablePath = BROWSERS.find((path) => existsSync(path));
  if (!executablePath) throw new Error(`no browser in ${BROWSERS.join(", ")}`);
  return fetched("playwright-core").chromium.launch({ executablePath, args: ARGUMENTS });
}

/**
 * Opens an empty page on a screen of SCREENS.
 *
 * `faults` gathers what the page says on the console as an error and what it
 * throws; `requests` the address of everything that it asks for. `settings` are
 * those of a browser context, `{ offline: true }` for a page without a server.
 */
export async function visit(browser, screen, settings = {}) {
  const context = await browser.newContext({ viewport: SCREENS[screen], ...settings });
  const page = await context.newPage();
  // Whatever else the machine does: a page that never comes to it fails all the same.
  page.setDefaultTimeout(120_000);
  const faults = [];
  const requests = [];
  page.on("console", (message) => {
    if (message.type() === "error") faults.push(message.text());
  });
  page.on("pageerror", (error) => faults.push(String(error)));
  page.on("request", (request) => requests.push(request.url()));
  return { context, page, faults, requests };
}

/** What axe-core finds serious or critical on the page as it stands, in words. */
export async function seriousFaults(page) {
  const source = readFileSync(fetched.resolve("axe-core/axe.min.js"), "utf8");
  // Through the debugger: a strict policy of the page lets no script be added.
  await page.evaluate(source);
  const { violations } = await page.evaluate(() => globalThis.axe.run());
  return violations
    .filter(({ impact }) => impact === "serious" || impact === "critical")
    .flatMap(({ id, help, nodes }) => nodes.map((node) => `${id}: ${help}: ${node.target}`));
}

/** Leaves a picture of the page in target/looks. */
export async function look(page, name, options = {}) {
  mkdirSync(new URL("looks/", target), { recursive: true });
  await page.screenshot({ path: fileURLToPath(new URL(`looks/${name}.png`, target)), ...options });
}

/** Tells a measured number as the tests do. */
export function figure(name, value, unit) {
  console.log(`figure ${name} ${value} ${unit}`);
}

/** Ends the run with what is wrong, if anything is. */
export function check(holds, what) {
  if (!holds) throw new Error(what);
}
