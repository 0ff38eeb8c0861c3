// A file of places: what it holds is shown, and what is ticked goes into the plan.

import { sendFile, takeDrops } from "./live-send.js";

const make = (name, text) => Object.assign(document.createElement(name), { textContent: text });

export function createDrop(at, { ask, button, refuse, say }) {
  const box = at("found");

  async function took(file, count = 1) {
    refuse(null);
    box.hidden = true;
    say(`Reading ${file.name}…`);
    const found = await sendFile(file);
    if (found.wrong) {
      say("Nothing is changed.");
      refuse({ text: found.wrong });
      return;
    }
    show(found);
    const more = count > 1 ? " Only the first of the files was read; drop the others one by one." : "";
    say(`${found.file} is read. Choose what the plan should have.${more}`);
  }

  /** What a file has, in words: "1 route, 3 posts". */
  function counted(items) {
    const counts = new Map();
    for (const { kind } of items) counts.set(kind, (counts.get(kind) ?? 0) + 1);
    return Array.from(counts, ([kind, count]) => `${count} ${kind}${count > 1 ? "s" : ""}`).join(", ");
  }

  function show(found) {
    const heading = make("h2", `${found.file}: ${counted(found.items) || "nothing that a plan can have"}`);
    heading.tabIndex = -1;
    const list = make("ul", "");
    list.className = "choices";
    const boxes = found.items.map((item) => {
      const tick = Object.assign(document.createElement("input"), { type: "checkbox", checked: true });
      const points = item.points > 1 ? ` (${item.points} points)` : "";
      const label = document.createElement("label");
      label.append(tick, make("span", `${item.kind} ${item.name}${points}`));
      const line = document.createElement("li");
      line.append(label);
      list.append(line);
      return tick;
    });
    const notes = make("ul", "");
    notes.append(...found.notes.map((note) => make("li", `${note}.`)));
    const asSites = Object.assign(document.createElement("input"), { type: "checkbox" });
    const sites = document.createElement("label");
    sites.append(asSites, make("span", "The posts are sites: places where the relay could stand"));
    sites.hidden = !found.items.some((item) => item.kind === "post");
    const buttons = make("div", "");
    buttons.className = "buttons";
    const add = button("Add to the plan", async () => {
      const chosen = boxes.flatMap((tick, index) => (tick.checked ? [index] : []));
      const done = await ask("take", { id: found.id, chosen, as_sites: asSites.checked });
      if (!done) return;
      const told = (done.told ?? []).map((text) => ` ${text}.`).join("");
      close(`Added from ${found.file}: ${counted(chosen.map((index) => found.items[index]))}. Undo takes all of it back.${told}`);
    });
    buttons.append(add, button("Cancel", () => close("Nothing was added.")));
    box.replaceChildren(heading, ...(found.notes.length ? [notes] : []), list, sites, buttons);
    box.hidden = false;
    if (found.items.length) add.focus();
    else heading.focus();
  }

  function close(text) {
    box.hidden = true;
    box.replaceChildren();
    say(text);
    at("draw-file").focus();
  }

  box.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    close("Nothing was added.");
  });
  at("draw-file").addEventListener("click", () => at("draw-file-input").click());
  at("draw-file-input").addEventListener("change", (event) => {
    const [file] = event.target.files;
    // The same file may be chosen again.
    if (file) took(file).then(() => (event.target.value = ""));
  });
  takeDrops(took);
}
