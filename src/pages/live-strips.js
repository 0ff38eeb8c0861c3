// The routes from end to end, under the map: the answer in a line, and, opened, each
// route as a drawing, in sentences and as a table. They follow every change.

/** Points of the screen that a drawing has room for, at two pixels each. */
const room = (place) => Math.round(2 * place.clientWidth);

export function createStrips(at, board) {
  const panel = at("strips");
  const told = at("strips-told");
  /** What is shown: of which state, and how wide its drawings are. */
  let shown = { aim: -1, across: 0 };
  let view = null;
  let busy = false;

  function element(kind, text) {
    const made = document.createElement(kind);
    if (text !== undefined) made.textContent = text;
    return made;
  }

  /** The classes of a route as a table, for whoever sees no drawing. */
  function table(strip, ways) {
    const box = element("details");
    const holder = element("div");
    holder.className = "wide";
    holder.tabIndex = 0;
    holder.setAttribute("role", "region");
    holder.setAttribute("aria-label", `${strip.name} by distance`);
    const made = element("table");
    const head = element("tr");
    for (const word of ["From the start", ...ways]) {
      const cell = element("th", word);
      cell.scope = "col";
      head.append(cell);
    }
    made.append(head);
    for (const { from, to, ways: classes } of strip.classes) {
      const row = element("tr");
      const where = element("th", `${from} to ${to}`);
      where.scope = "row";
      row.append(where);
      for (const { outcome, words } of classes) {
        const cell = element("td");
        const patch = element("span");
        patch.className = `patch ${outcome}`;
        patch.setAttribute("aria-hidden", "true");
        cell.append(patch, ` ${words}`);
        row.append(cell);
      }
      made.append(row);
    }
    holder.append(made);
    box.append(element("summary", "By distance, as a table"), holder);
    return box;
  }

  function list(lines) {
    const made = element("ul");
    made.append(...lines.map((line) => element("li", line)));
    return made;
  }

  function route(strip, ways, { isOnly, isOpen }) {
    const box = element("section");
    box.dataset.name = strip.name;
    // Of a single route the line above says it already.
    if (!isOnly) box.append(element("h3", `${strip.name}, ${strip.length}: ${strip.headline}.`));
    if (strip.picture) {
      const image = element("img");
      image.alt = `${strip.name}, ${strip.length}: ${strip.headline}. The list and the table below say the same.`;
      image.width = strip.picture.width;
      image.height = strip.picture.height;
      image.src = strip.picture.address;
      box.append(image);
    }
    box.append(list(strip.gaps));
    if (strip.pace) box.append(Object.assign(element("p", strip.pace), { className: "hint" }));
    const posts = element("details");
    posts.append(element("summary", "Posts on the way"), list(strip.posts));
    const all = table(strip, ways);
    [posts.open, all.open] = isOpen;
    if (strip.posts.length) box.append(posts);
    box.append(all);
    return box;
  }

  function show(answer) {
    at("strips-headline").textContent = `${answer.headline}.`;
    // What is open stays open where the hand is, and the keyboard stays there.
    const parts = (name) => {
      const was = [...told.children].find((box) => box.dataset.name === name);
      return [...(was?.querySelectorAll("details") ?? [])].map((part) => part.open);
    };
    const boxes = () => [...told.querySelectorAll("summary, .wide")];
    const focus = boxes().indexOf(document.activeElement);
    const isOnly = answer.strips.length === 1;
    told.replaceChildren(
      ...answer.strips.map((strip) => {
        const open = parts(strip.name);
        const isOpen = strip.posts.length ? [Boolean(open[0]), Boolean(open[1])] : [false, Boolean(open[0])];
        return route(strip, answer.ways, { isOnly, isOpen });
      }),
    );
    if (answer.strips.length) told.append(Object.assign(element("p", answer.how), { className: "hint" }));
    boxes()[focus]?.focus({ preventScroll: true });
    at("strips-state").dataset.on = answer.on;
    panel.dataset.aim = answer.aim;
  }

  async function fill() {
    if (busy) return;
    busy = true;
    try {
      for (;;) {
        const wanted = { aim: view.aim, across: panel.open ? room(told) : 0 };
        if (view.stage !== "scored" || (wanted.aim === shown.aim && wanted.across <= shown.across)) break;
        const answer = await fetch(wanted.across ? `strips?across=${wanted.across}` : "strips").catch(() => null);
        // Not there yet, or gone: the next state asks again.
        if (!answer?.ok) break;
        const strips = await answer.json();
        show(strips);
        shown = { ...wanted, aim: strips.aim };
        if (strips.aim !== view.aim) break;
      }
    } finally {
      busy = false;
      state();
    }
  }

  /** Says of which state it is. */
  function state() {
    const line = at("strips-state");
    const on = line.dataset.on ?? "";
    line.textContent = shown.aim === view?.aim ? `${on}.` : `Working it out. This is of the state before${on ? `: ${on}` : ""}.`;
    panel.classList.toggle("old", shown.aim !== view?.aim);
  }

  panel.addEventListener("toggle", () => view && fill());
  window.addEventListener("resize", () => view && panel.open && fill());
  // The map has the room that the panel leaves.
  new ResizeObserver(() => board.map.invalidateSize({ pan: false })).observe(board.map.getContainer());

  return {
    update(next) {
      view = next;
      panel.hidden = view.routes.length === 0;
      if (panel.hidden) return;
      state();
      fill();
    },
  };
}
