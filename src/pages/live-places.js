// The lists of posts and sites, with a field for the place of each.

function words(post) {
  if (!post.words) return "…";
  return post.spots ? `${post.words} (${post.spots} spots)` : post.words;
}

export function createPlaces(at, { ask, button, found, shown, looked, tools }) {
  const rows = new Map();

  function row(kind, list, name) {
    const item = document.createElement("li");
    const patch = document.createElement("span");
    patch.className = "patch";
    patch.setAttribute("aria-hidden", "true");
    const press = button(name, () => (kind === "post" ? shown({ post: name }) : looked(name)));
    const told = document.createElement("p");
    const move = document.createElement("details");
    const summary = document.createElement("summary");
    summary.textContent = "Place";
    const label = document.createElement("label");
    const input = document.createElement("input");
    input.autocomplete = "off";
    input.spellcheck = false;
    label.append(`Place of ${name}`, input);
    input.addEventListener("change", async () => {
      const value = input.value.trim();
      if (value !== input.dataset.stands) await ask("change", { change: "place", kind, name, at: value }, input);
    });
    move.append(summary, label, button("Show it on the map", () => found(kind, name)), tools(kind, name));
    item.append(patch, press, told, move);
    list.append(item);
    return { item, patch, press, told, input, move };
  }

  function update(view) {
    const seen = new Set();
    const one = (kind, list, place, state, text) => {
      const key = `${kind} ${place.name}`;
      seen.add(key);
      if (!rows.has(key)) rows.set(key, row(kind, list, place.name));
      const parts = rows.get(key);
      parts.patch.className = `patch ${state}`;
      parts.told.textContent = text;
      if (parts.input.dataset.stands !== place.typed_at) {
        parts.input.dataset.stands = place.typed_at;
        parts.input.value = place.typed_at;
        parts.input.removeAttribute("aria-invalid");
      }
      return parts;
    };
    for (const post of view.posts) {
      const must = post.must ? "Must have. " : "";
      const parts = one("post", at("posts"), post, post.outcome ?? "waiting", must + words(post));
      parts.told.title = post.reason ?? "";
    }
    for (const site of view.sites) {
      const chosen = site.name === view.look.site;
      const text = `Mast ${site.mast}${site.available ? "" : "; not available"}${chosen ? "; shown on the map" : ""}`;
      const parts = one("site", at("sites"), site, chosen ? "here" : "none", text);
      parts.press.setAttribute("aria-pressed", String(chosen));
    }
    for (const [key, { item }] of rows) {
      if (!seen.has(key)) {
        item.remove();
        rows.delete(key);
      }
    }
  }

  return { update };
}
