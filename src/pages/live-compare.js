// States that were kept, and two of them on one map.

export function createCompare(at, board, { ask, button }) {
  let other = null;
  let how = "";
  let overlay = null;
  let shown = "";
  let view = null;

  at("keep").addEventListener("submit", async (event) => {
    event.preventDefault();
    const input = at("keep-name");
    if (await ask("keep", { name: input.value }, input)) input.value = "";
  });
  at("compare-with").addEventListener("change", () => choose(Number(at("compare-with").value), how));
  at("compare-how").addEventListener("change", () => choose(other, at("compare-how").value));
  at("swipe").addEventListener("input", clip);
  board.map.on("move zoom viewreset", clip);

  function choose(id, way) {
    other = id;
    how = way;
    shown = "";
    at("swipe-label").hidden = how !== "swipe";
    at("swipe-words").hidden = how !== "swipe";
    at("difference-legend").hidden = how !== "difference";
    if (view) pictures(view);
  }

  /** Shows of the other picture what lies left of the border. */
  function clip() {
    const image = overlay?.getElement();
    if (!image) return;
    if (how !== "swipe") {
      image.style.clipPath = "";
      return;
    }
    // The border stands still on the screen while the map moves under it.
    const frame = at("map").getBoundingClientRect();
    const border = frame.left + (frame.width * Number(at("swipe").value)) / 100;
    const here = image.getBoundingClientRect();
    const right = Math.min(here.width, Math.max(0, here.right - border));
    const share = here.width > 0 ? right / here.width : 0;
    image.style.clipPath = `inset(0 ${(share * 100).toFixed(3)}% 0 0)`;
    at("map").style.setProperty("--border", `${at("swipe").value}%`);
  }

  async function pictures(next) {
    view = next;
    at("map").classList.toggle("swiping", how === "swipe" && other !== null);
    const variant = view.variants.find((one) => one.id === other && one.same_board);
    if (!variant || how === "") {
      overlay?.remove();
      overlay = null;
      shown = "";
      return;
    }
    at("swipe-words").textContent = `Left of the border: ${variant.name}. Right of it: this state.`;
    const complete = view.stage === "full" || view.stage === "scored";
    if (how === "difference" && !complete) return;
    const wanted = how === "swipe" ? `swipe ${other}` : `difference ${other} ${view.aim}`;
    if (wanted === shown) return;
    shown = wanted;
    const address =
      how === "swipe" ? `variant.png?id=${other}` : `difference.png?from=${other}&to=0&aim=${view.aim}`;
    overlay ??= board.overlay("other");
    if (await board.put(overlay, address)) {
      overlay.addTo(board.map);
      clip();
    }
  }

  function update(next) {
    view = next;
    const list = view.variants;
    at("variants").replaceChildren(
      ...list.map((variant) => {
        const item = document.createElement("li");
        const name = document.createElement("strong");
        name.textContent = variant.name;
        const told = document.createElement("p");
        const missed = variant.score.missed.length ? `; misses ${variant.score.missed.join(", ")}` : "";
        told.textContent = `${variant.site} on ${variant.channel}: ${variant.score.covered} of ${variant.score.of} posts, ${variant.score.map_percent.toFixed(0)} % of the map${missed}`;
        item.append(
          name,
          told,
          button("Continue from this", () => ask("take-up", { id: variant.id })),
          button("Drop", () => ask("drop", { id: variant.id })),
        );
        return item;
      }),
    );
    const comparable = list.filter((variant) => variant.same_board);
    at("compare").hidden = comparable.length === 0;
    const select = at("compare-with");
    const wanted = JSON.stringify(comparable.map((v) => [v.id, v.name]));
    if (select.dataset.list !== wanted) {
      select.dataset.list = wanted;
      select.replaceChildren(...comparable.map((v) => new Option(v.name, String(v.id))));
    }
    if (!comparable.some((v) => v.id === other)) other = comparable.at(-1)?.id ?? null;
    if (other !== null) select.value = String(other);
  }

  return { update, pictures };
}
