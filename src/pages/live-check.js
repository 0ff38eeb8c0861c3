// What there is to check of the plan: what is wrong with its file, what was typed
// and is not taken, and every remark, each with the way to its field.

export function createCheck(at, { button, open, waiting }) {
  let view = null;
  let shown = "";

  function item({ about, field, line, text, place }, kind) {
    const box = document.createElement("li");
    box.className = kind;
    const where = document.createElement("strong");
    where.textContent = `${about ?? field}${line ? `, line ${line}` : ""}`;
    const told = document.createElement("p");
    told.textContent = text;
    box.append(where, told);
    if (place) {
      const to = button("Open it", () => open(place));
      to.setAttribute("aria-label", `Open it: ${about ?? field}`);
      box.append(to);
    }
    return box;
  }

  function draw() {
    if (!view) return;
    const problems = view.underneath?.problems ?? [];
    const refused = waiting().map((one) => ({ ...one, text: `Not taken: ${one.text}` }));
    const wanted = JSON.stringify([problems, refused, view.check]);
    if (wanted === shown) return;
    shown = wanted;
    const count = problems.length + refused.length + view.check.length;
    at("check-title").textContent = `What to check (${count})`;
    at("check-section").hidden = count === 0;
    at("check").replaceChildren(
      ...problems.map((one) => item({ ...one, text: `In the file: ${one.text}` }, "problem")),
      ...refused.map((one) => item(one, "problem")),
      ...view.check.map((one) => item(one, "remark")),
    );
  }

  return {
    draw,
    update(next) {
      view = next;
      draw();
    },
  };
}
