// What several tests ask of the page of a plan at hand.

import { look } from "./chromium.mjs";

/** What the page shows, for whoever reads why a test failed. */
async function shown(page) {
  const text = (id) => page.locator(`#${id}`).textContent({ timeout: 1000 }).catch(() => "?");
  const [said, alerts, progress] = await Promise.all(["said", "alerts", "progress"].map(text));
  return `it says "${said}", alerts "${alerts}", progress "${progress}"`;
}

/** Waits for something on the page; where it does not come, says what is there instead. */
async function awaited(page, what, condition, argument) {
  try {
    await page.waitForFunction(condition, argument);
  } catch (error) {
    await look(page, "not-come").catch(() => {});
    throw new Error(`${what} did not come: ${await shown(page)}`, { cause: error });
  }
}

/**
 * Takes hold of a mark by the mouse, once it rests and nothing lies over it, and drops
 * it so many pixels across and down.
 */
export async function drag(page, mark, across, down) {
  await mark.hover();
  const { x, y, width, height } = await mark.boundingBox();
  const [column, row] = [x + width / 2, y + height / 2];
  await page.mouse.down();
  await page.mouse.move(column + across / 2, row + down / 2, { steps: 4 });
  await page.mouse.move(column + across, row + down, { steps: 4 });
  await page.mouse.up();
}

/**
 * Drags the chosen site in circles at 60 Hz for four seconds: how often the hand moved,
 * and how many pictures a second followed it.
 */
export async function shake(page) {
  const box = await page.locator(".mark.site.chosen").boundingBox();
  const [x, y] = [box.x + 14, box.y + 14];
  const pictures = await page.evaluateHandle(() => {
    const seen = new Set();
    const map = document.getElementById("map");
    new MutationObserver(() => seen.add(map.dataset.picture)).observe(map, { attributeFilter: ["data-picture"] });
    return seen;
  });
  await page.mouse.move(x, y);
  await page.mouse.down();
  const begun = Date.now();
  let moves = 0;
  while (Date.now() - begun < 4000) {
    const turn = (moves += 1) / 20;
    await page.mouse.move(x + 60 * Math.sin(turn), y - 40 + 40 * Math.cos(turn));
    await page.waitForTimeout(Math.max(0, begun + moves * (1000 / 60) - Date.now()));
  }
  const seconds = (Date.now() - begun) / 1000;
  const rate = (await pictures.evaluate((seen) => seen.size)) / seconds;
  await page.mouse.up();
  return { moves, rate };
}

/** Which state the picture that is shown is of. */
export function aim(page) {
  return page.evaluate(() => Number(document.getElementById("map").dataset.aim));
}

/**
 * Waits until the page has a state after that one, all of it worked out, and shows the
 * picture of that very state: a picture may come before its state does.
 */
export function complete(page, after = -1) {
  return awaited(
    page,
    `a complete picture of a state after ${after}`,
    (last) => {
      const [body, map] = [document.body.dataset, document.getElementById("map")?.dataset];
      const whole = body.stage === "scored" && ["full", "scored"].includes(map?.stage);
      return whole && body.aim === map.aim && Number(body.aim) > last;
    },
    after,
  );
}

/** The page's state, and what is waited for on it. */
export function follow(page) {
  const state = () => page.evaluate(async () => (await fetch("state")).json());
  return {
    /** What the server has, through the page. */
    state,
    /** An entry of one of the state's lists. */
    named: async (list, name) => (await state())[list].find((entry) => entry.name === name),
    aim: () => aim(page),
    complete: (after) => complete(page, after),
    /** Waits until the page has said this. */
    told: (part) =>
      awaited(page, `"${part}"`, (text) => document.getElementById("said").textContent.includes(text), part),
  };
}
