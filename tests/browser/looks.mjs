// Puts every picture below a folder on one page beside its name, with a phone's and a
// laptop's view of each page, and takes a picture of that page.
//
// node looks.mjs FOLDER

import { readdirSync, writeFileSync } from "node:fs";
import { basename, dirname, join, relative } from "node:path";
import { pathToFileURL } from "node:url";

import { start, visit } from "./chromium.mjs";

const [folder] = process.argv.slice(2);
const browser = await start();
const below = (place, end) =>
  readdirSync(place, { recursive: true })
    .filter((name) => name.endsWith(end))
    .sort()
    .map((name) => join(place, name));

for (const html of below(folder, ".html")) {
  for (const screen of ["phone", "laptop"]) {
    const { page, context } = await visit(browser, screen, { offline: true });
    await page.goto(pathToFileURL(html).href);
    await page.screenshot({ path: html.replace(/\.html$/u, `-${screen}.png`) });
    await context.close();
  }
}

const home = dirname(folder);
const escaped = (text) => text.replace(/[&<"]/gu, (c) => ({ "&": "&amp;", "<": "&lt;", '"': "&quot;" })[c]);
const figures = below(folder, ".png").map((picture) => {
  const address = escaped(encodeURI(relative(home, picture)));
  const name = escaped(`${basename(dirname(picture))}: ${basename(picture)}`);
  return `<figure><a href="${address}"><img src="${address}" alt=""></a><figcaption>${name}</figcaption></figure>`;
});
const style = "body{margin:12px;font:13px system-ui;display:grid;grid-template-columns:repeat(auto-fill,minmax(300px,1fr));gap:14px;background:#e8e8e8}figure{margin:0}img{max-width:100%;max-height:360px;background:#fff;border:1px solid #888}";
const index = join(home, "index.html");
writeFileSync(index, `<!doctype html><meta charset="utf-8"><title>All outputs</title><style>${style}</style>${figures.join("\n")}\n`);

const { page } = await visit(browser, "laptop", { offline: true });
await page.setViewportSize({ width: 2000, height: 1200 });
await page.goto(pathToFileURL(index).href);
await page.screenshot({ path: join(home, "sheet.png"), fullPage: true });
console.log(`${figures.length} pictures`);
await browser.close();
