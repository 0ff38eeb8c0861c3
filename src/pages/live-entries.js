// Names changed and entries taken away, asked for where they stand: in the lists, and
// for the mark that has the keyboard. And the list of areas and routes.

export function createEntries(at, { ask, button, say, points }) {
  const rows = new Map();

  /** Buttons that change the name of an entry or take it away. */
  function tools(kind, name) {
    const box = document.createElement("div");
    box.className = "tools-of";
    rest(box, kind, name);
    return box;
  }

  function rest(box, kind, name, focused = null) {
    const rename = button("Rename", () => askName(box, kind, name, () => rest(box, kind, name, 0)));
    const remove = button("Remove", () => askRemove(box, kind, name, () => rest(box, kind, name, 1)));
    rename.setAttribute("aria-label", `Rename ${name}`);
    remove.setAttribute("aria-label", `Remove ${name}`);
    box.replaceChildren(rename, remove);
    if (focused !== null) [rename, remove][focused].focus();
  }

  /** Asks in `box` whether an entry goes; `kept` is called where it stays. */
  function askRemove(box, kind, name, kept) {
    const question = document.createElement("p");
    question.textContent = `Remove ${kind} ${name}?`;
    const yes = button("Remove", async () => {
      if (!(await ask("change", { change: "remove", kind, name }))) {
        kept();
        return;
      }
      box.replaceChildren();
      at("tools").focus();
      say(`${title(kind)} ${name} is removed. Undo brings it back.`);
    });
    const no = button("Keep", kept);
    group(box, `Remove ${name}?`, [question, yes, no], kept);
    yes.focus();
  }

  /** Asks in `box` for another name; `kept` is called where the old one stays. */
  function askName(box, kind, name, kept) {
    const form = document.createElement("form");
    const label = document.createElement("label");
    const input = Object.assign(document.createElement("input"), { value: name, maxLength: 80, autocomplete: "off" });
    label.append(`New name of ${name}`, input);
    const yes = Object.assign(document.createElement("button"), { type: "submit", textContent: "Rename" });
    form.append(label, yes, button("Cancel", kept));
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const to = input.value.trim();
      if (to === name) {
        kept();
        return;
      }
      if (!(await ask("change", { change: "rename", kind, name, to }, input))) {
        input.focus();
        return;
      }
      box.replaceChildren();
      at("tools").focus();
      say(`${title(kind)} ${name} is ${to} now, wherever the plan names it. Undo takes it back.`);
    });
    group(box, `Rename ${name}`, [form], kept);
    input.focus();
    input.select();
  }

  function group(box, label, parts, kept) {
    const inner = document.createElement("div");
    inner.className = "asked";
    inner.setAttribute("role", "group");
    inner.setAttribute("aria-label", label);
    inner.append(...parts);
    inner.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      kept();
    });
    box.replaceChildren(inner);
  }

  const title = (kind) => kind[0].toUpperCase() + kind.slice(1);

  // Delete and F2 on a mark that has the keyboard.
  at("map").addEventListener("keydown", (event) => {
    const { kind, name } = event.target.dataset ?? {};
    if (!kind || !name || !["Delete", "F2"].includes(event.key)) return;
    event.preventDefault();
    event.stopPropagation();
    const mark = event.target;
    const box = at("draw-ask");
    const kept = () => {
      box.replaceChildren();
      mark.focus();
    };
    (event.key === "Delete" ? askRemove : askName)(box, kind, name, kept);
  });

  /** The list of areas and routes. */
  function update(view) {
    const shapes = [
      ...view.areas.map((shape) => ["area", shape]),
      ...view.routes.map((shape) => ["route", shape]),
    ];
    at("shapes-title").hidden = shapes.length === 0;
    const seen = new Set();
    for (const [place, [kind, shape]] of shapes.entries()) {
      const key = `${kind} ${shape.name}`;
      seen.add(key);
      if (!rows.has(key)) {
        const item = document.createElement("li");
        const text = document.createElement("span");
        const more = document.createElement("details");
        more.append(Object.assign(document.createElement("summary"), { textContent: "Change" }), points(kind, shape.name), tools(kind, shape.name));
        item.append(text, more);
        rows.set(key, { item, text });
      }
      const { item } = rows.get(key);
      // In the plan's order; what stands right is not moved, and keeps the keyboard.
      const there = at("shapes").children[place] ?? null;
      if (there !== item) at("shapes").insertBefore(item, there);
      rows.get(key).text.textContent = `${shape.name}: ${shape.spots ? `works in ${shape.spots} spots` : "…"}`;
    }
    for (const [key, { item }] of rows) {
      if (!seen.has(key)) {
        item.remove();
        rows.delete(key);
      }
    }
  }

  return { tools, update };
}
