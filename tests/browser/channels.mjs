// The channel sheet on a phone, in daylight and at night, and on a laptop.
//
// node channels.mjs SAMPLE HOSTILE: of two sheets, one of a plan whose names are markup.

import { SCREENS, check, look, seriousFaults, start, visit } from "./chromium.mjs";

const [sample, hostile] = process.argv.slice(2);
const browser = await start();
const faults = [];

/** What of the page reaches over the right edge of the screen. */
const over = (page) =>
  page.evaluate(() =>
    [...document.body.querySelectorAll("*")]
      .filter((one) => one.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
      .map((one) => one.outerHTML.slice(0, 80)),
  );

for (const screen of ["small", "phone"]) {
  for (const [file, name] of [[sample, "sample"], [hostile, "hostile"]]) {
    for (const colorScheme of ["light", "dark"]) {
      const { page, context, faults: said } = await visit(browser, screen, { offline: true, colorScheme });
      await page.goto(`file://${file}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      check(wide <= SCREENS[screen].width, `${name} is ${wide} wide on a screen of ${SCREENS[screen].width}`);
      const beyond = await over(page);
      check(beyond.length === 0, `${name} runs off to the right: ${beyond}`);
      // A block for each channel: its name first and largest, each value below the last.
      const blocks = await page.locator("tbody tr").evaluateAll((rows) =>
        rows.map((row) =>
          [...row.querySelectorAll("td")]
            .filter((cell) => cell.getBoundingClientRect().height > 0)
            .map((cell) => ({
              head: cell.dataset.head,
              top: cell.getBoundingClientRect().top,
              size: parseFloat(getComputedStyle(cell).fontSize),
              label: getComputedStyle(cell, "::before").content,
            }))
            .sort((a, b) => a.top - b.top),
        ),
      );
      check(blocks.length > 1, `${name} has ${blocks.length} channels`);
      for (const block of blocks) {
        const [first, ...rest] = block;
        check(first.head === "Channel", `a block begins with ${first.head}`);
        check(rest.every(({ size }) => size < first.size), "the channel's name is not the largest");
        check(rest.every(({ head, label }) => label === `"${head}"`), `values without their heads: ${JSON.stringify(rest)}`);
        check(new Set(block.map(({ top }) => top)).size === block.length, "values lie beside each other");
      }
      // Still a table to whoever hears it.
      const tree = await page.locator("table").ariaSnapshot();
      check(tree.includes("columnheader") && tree.includes("cell"), `no table: ${tree}`);
      const paper = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
      const isDark = paper.match(/\d+/g).map(Number)[0] < 60;
      check(isDark === (colorScheme === "dark"), `${colorScheme}: the paper is ${paper}`);
      faults.push(...said, ...(await seriousFaults(page)));
      check((await page.evaluate(() => globalThis.ran)) === undefined, "a name has run");
      if (name === "sample") await look(page, `channels-${screen}-${colorScheme}`, { fullPage: true });
      await context.close();
    }
  }
}

// Seven columns where there is room, and on paper in whatever light.
const { page } = await visit(browser, "laptop", { offline: true, colorScheme: "dark" });
await page.goto(`file://${sample}`);
const tops = await page.locator("tbody tr:first-child td").evaluateAll((cells) => cells.map((cell) => cell.getBoundingClientRect().top));
check(tops.length === 7 && new Set(tops).size === 1, `columns at ${tops}`);
await page.emulateMedia({ media: "print", colorScheme: "dark" });
const ink = await page.evaluate(() => getComputedStyle(document.body).color);
check(ink === "rgb(29, 36, 51)", `printed in ${ink}`);
check(faults.length === 0, faults.join("\n"));
await browser.close();
