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
