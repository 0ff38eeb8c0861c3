// Several sites on one map: the best that any of them gives, or how many serve a spot.

export function createTogether(at, board, { ask }) {
  const radios = [...document.querySelectorAll("input[name=together]")];
  const list = at("together-sites");
  let how = "";
  let overlay = null;
  let shown = "";
  let view = null;

  const ticked = () => [...list.querySelectorAll("input:checked")].map((box) => box.value);

  function choose(wanted) {
    how = wanted;
    at("together").hidden = how === "";
    // Those that may be used, at first.
    if (how && view && view.together.sites.length === 0) {
      const usable = view.sites.filter((site) => site.available).map((site) => site.name);
      const first = [view.look.site, ...usable.filter((name) => name !== view.look.site)];
      ask("together", { sites: first.slice(0, view.together.most) });
    }
    if (view) {
      update(view);
      pictures(view);
    }
  }

  for (const radio of radios) radio.addEventListener("change", () => radio.checked && choose(radio.value));
  list.addEventListener("change", async () => {
    // What is refused is shown as it stands.
    if (!(await ask("together", { sites: ticked() }))) sites();
  });

  /** The sites with a tick each; the keyboard stays where it is. */
  function sites() {
    const names = view.sites.map(({ name, available }) => [name, available]);
    if (list.dataset.names !== JSON.stringify(names)) {
      list.dataset.names = JSON.stringify(names);
      const focus = document.activeElement?.closest?.("#together-sites") ? document.activeElement.value : null;
      list.replaceChildren(
        ...names.map(([name, available]) => {
          const label = document.createElement("label");
          const box = document.createElement("input");
          box.type = "checkbox";
          box.value = name;
          label.append(box, ` ${name}${available ? "" : " (not available)"}`);
          return label;
        }),
      );
      [...list.querySelectorAll("input")].find((box) => box.value === focus)?.focus();
    }
    for (const box of list.querySelectorAll("input")) box.checked = view.together.sites.includes(box.value);
    const { most } = view.together;
    at("together-legend").textContent = names.length > most ? `Which sites, ${most} at the most` : "Which sites";
  }

  function said() {
    const { sites: asked, laid, complete, trouble } = view.together;
    if (asked.length === 0) return "Tick the sites to see.";
    const what = how === "count" ? "Counted" : "The best of";
    const number = `${what} ${laid.length} ${laid.length === 1 ? "site" : "sites"}.`;
    const more = complete ? "" : ` Computing; ${asked.length} are ticked.`;
    return [laid.length ? number + more : "Computing.", ...trouble].join(" ");
  }

  function rows() {
    const percent = (share) => (share > 0 && share < 0.01 ? "under 1" : (share * 100).toFixed(0));
    // What the map has none of is left out, but for the ends of the count.
    const wanted = view.together[how].filter((row) => row.share > 0 || row.patch === "served-0");
    at("together-rows").replaceChildren(
      ...wanted.map((row) => {
        const item = document.createElement("li");
        const patch = document.createElement("span");
        patch.className = `patch ${row.patch}`;
        patch.setAttribute("aria-hidden", "true");
        item.append(patch, `${row.words}: ${percent(row.share)} % of the map`);
        return item;
      }),
    );
  }

  function update(next) {
    view = next;
    if (!how) return;
    sites();
    const text = said();
    if (at("together-said").textContent !== text) at("together-said").textContent = text;
    rows();
  }

  async function pictures(next) {
    view = next;
    const there = how && view.together.laid.length > 0;
    if (!there) {
      overlay?.remove();
      overlay = null;
      shown = "";
      delete board.map.getContainer().dataset.together;
      return;
    }
    const wanted = `${how} ${view.together.number}`;
    if (wanted === shown) return;
    shown = wanted;
    overlay ??= board.overlay("together");
    if (await board.put(overlay, `together.png?how=${how}&number=${view.together.number}`)) {
      if (!how || !overlay) return;
      overlay.addTo(board.map);
      board.map.getContainer().dataset.together = wanted;
    }
  }

  return { update, pictures };
}
