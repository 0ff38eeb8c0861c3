// What several tests ask of the page of a plan at hand.

/** The page's state, and what is waited for on it. */
export function follow(page) {
  const state = () => page.evaluate(async () => (await fetch("state")).json());
  return {
    /** What the server has, through the page. */
    state,
    /** An entry of one of the state's lists. */
    named: async (list, name) => (await state())[list].find((entry) => entry.name === name),
    /** Which state the picture that is shown is of. */
    aim: () => page.evaluate(() => Number(document.getElementById("map").dataset.aim)),
    /** Waits until all is worked out of a state after that one. */
    complete: (after = -1) =>
      page.waitForFunction(
        (last) => document.body.dataset.stage === "scored" && Number(document.getElementById("map").dataset.aim) > last,
        after,
      ),
    /** Waits until the page has said this. */
    told: (part) =>
      page.waitForFunction((text) => document.getElementById("said").textContent.includes(text), part),
  };
}
