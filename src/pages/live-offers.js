// Unsaved changes that an earlier page left, and what may be lost: what to know,
// and what to decide. Nothing is decided here by itself.

export function createOffers(at, { ask, button, notice }) {
  let shown = "";

  function line(text) {
    return Object.assign(document.createElement("p"), { textContent: text });
  }

  /** The box of an offer, with its buttons. */
  function offered(offer) {
    const when = offer.written_at ? new Date(offer.written_at).toLocaleString() : "at some time";
    const box = notice("offer", offer.heading.replace("{when}", () => when));
    for (const text of offer.text) box.append(line(text));
    if (offer.lines.length) {
      const list = document.createElement("ul");
      for (const text of offer.lines) list.append(Object.assign(document.createElement("li"), { textContent: text }));
      box.append(list);
    }
    if (offer.refusal) box.append(line(offer.refusal));
    for (const problem of offer.problems) {
      const where = problem.line ? `line ${problem.line}: ` : "";
      box.append(line(`${where}${problem.field ? `${problem.field}: ` : ""}${problem.text}`));
    }
    const buttons = document.createElement("div");
    box.append(buttons);
    choose(offer, buttons);
    return box;
  }

  /** The two choices; discarding asks once more, as nothing brings the text back. */
  function choose(offer, buttons) {
    buttons.replaceChildren();
    if (offer.can_be_continued) buttons.append(button("Continue from this", () => decide("recover", offer)));
    if (!offer.can_be_discarded) return;
    const discard = button("Discard", () => {
      const keep = button("Keep it", () => {
        choose(offer, buttons);
        buttons.lastElementChild.focus();
      });
      buttons.replaceChildren(keep, button("Discard for good", () => decide("discard", offer)));
      keep.focus();
    });
    buttons.append(discard);
  }

  const decide = (what, offer) => ask(what, { id: offer.id });

  return {
    update(view) {
      const wanted = JSON.stringify([view.warnings, view.offers]);
      if (wanted === shown) return;
      shown = wanted;
      const boxes = view.warnings.map((text) => notice("warning", `${text}.`));
      const here = at("offers").contains(document.activeElement);
      at("offers").replaceChildren(...boxes, ...view.offers.map(offered));
      // Where the box goes with a decision, the keyboard goes on to the next or the plan.
      if (here) (at("offers").querySelector("button") ?? at("tools")).focus();
    },
  };
}
