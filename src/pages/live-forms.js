// Forms of the plan, made from what the server says of its tables and fields. What
// is typed goes to the server as it is; what is refused stays in its field, with
// the reason beside it, until it is put right or Escape is pressed.

/** Tables whose entries the map makes. */
const MAPPED = ["post", "site", "area", "route"];

export function createForms(at, { button, words, waits }) {
  let declared = [];
  let table = null;
  /** The entry that is shown: its table's name, its own, and whether the plan has it yet. */
  let here = { table: "event", name: "", draft: false };
  let form = { names: [], values: {}, counts: {}, choices: {} };
  const controls = new Map();
  const drafts = new Map();
  const typed = new Map();
  let queue = Promise.resolve();
  let aim = null;
  let made = 0;

  const key = () => `${here.table} ${here.draft ? "+" : here.name}`;
  /** What was typed into the entry and is not taken yet. */
  const pending = () => {
    if (!typed.has(key())) typed.set(key(), new Map());
    return typed.get(key());
  };
  const capital = (text) => (text ? text[0].toUpperCase() + text.slice(1) : "");
  const last = (field) => field.slice(field.lastIndexOf(".") + 1);
  const label = (field) => capital(last(field).replaceAll("_", " "));
  const element = (name, properties = {}, ...children) => {
    const box = Object.assign(document.createElement(name), properties);
    box.append(...children);
    return box;
  };
  /** One after the other: an answer may change what the next is asked of. */
  const then = (step) => {
    queue = queue.then(step, step);
    return queue;
  };

  async function ask(address) {
    const answer = await fetch(address).catch(() => null);
    return answer?.ok ? answer.json() : null;
  }

  /** Asks for a change; what the server says where it refuses. */
  async function change(body) {
    const answer = await fetch("change", {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    }).catch(() => null);
    if (answer?.ok) return null;
    if (answer) return { problems: [], crossed: [], ...(await words(answer)) };
    const text = "Perchline does not answer: was it ended? Start it again and open its address.";
    return { text, problems: [], crossed: [] };
  }

  // --- one field -------------------------------------------------------------

  /** What a field holds as it is sent: lines without those that are empty. */
  const tidy = (row, text) =>
    row.kind === "lines"
      ? text.split("\n").map((line) => line.trim()).filter(Boolean).join("\n")
      : text.trim();

  function options(select, row, names, stands) {
    const list = names ?? (row.kind === "flag" ? ["true", "false"] : row.words);
    const empty = row.default ? `not set: ${row.default}` : "not set";
    const all = [["", row.required ? "choose one" : empty], ...list.map((word) => [word, word])];
    if (stands && !list.includes(stands)) all.push([stands, stands]);
    const wanted = JSON.stringify(all);
    if (select.dataset.list === wanted) return;
    const value = select.value;
    select.dataset.list = wanted;
    select.replaceChildren(...all.map(([word, text]) => new Option(text, word)));
    select.value = value;
  }

  const choices = (row) => row.names.flatMap((name) => form.choices[name] ?? []);

  /** Several names of those that there are, each to be ticked. */
  function ticks(row, id) {
    const box = element("fieldset", { className: "ticks" }, element("legend", { textContent: label(row.field) }));
    let stands = [];
    const list = () => [...box.querySelectorAll("input")];
    return {
      box,
      inputs: list,
      // Those that stood keep their order; what is new comes after them.
      read: () => {
        const chosen = list().filter((input) => input.checked).map((input) => input.value);
        return [...stands.filter((name) => chosen.includes(name)), ...chosen.filter((name) => !stands.includes(name))].join("\n");
      },
      write(text, commit) {
        stands = text.split("\n").filter(Boolean);
        const names = [...new Set([...choices(row), ...stands])];
        const wanted = JSON.stringify(names);
        if (box.dataset.list !== wanted) {
          box.dataset.list = wanted;
          list().forEach((input) => input.parentElement.remove());
          for (const name of names) {
            const input = element("input", { type: "checkbox", value: name });
            input.setAttribute("aria-describedby", `${id}-about ${id}-error`);
            input.addEventListener("change", commit);
            box.append(element("label", {}, input, ` ${name}`));
          }
        }
        for (const input of list()) input.checked = stands.includes(input.value);
      },
    };
  }

  /** An element to type one value into. */
  function single(row, id) {
    const listed = row.names.length > 0 && !row.names_others;
    const chosen = row.kind === "flag" || row.words.length > 0 || listed;
    const input = document.createElement(chosen ? "select" : row.kind === "lines" ? "textarea" : "input");
    input.id = id;
    input.setAttribute("aria-describedby", `${id}-about ${id}-error`);
    if (row.required) input.setAttribute("aria-required", "true");
    if (!chosen) {
      input.autocomplete = "off";
      input.spellcheck = false;
      if (!row.required) input.placeholder = row.default;
      if (row.kind === "number") input.inputMode = "decimal";
      if (row.kind === "lines") input.rows = 3;
    }
    const box = element("div", {}, element("label", { htmlFor: id, textContent: label(row.field) }), input);
    let suggested = null;
    if (row.names_others && !chosen) {
      suggested = element("datalist", { id: `${id}-names` });
      input.setAttribute("list", suggested.id);
      box.append(suggested);
    }
    return {
      box,
      inputs: () => [input],
      read: () => tidy(row, input.value),
      write(text) {
        if (chosen) options(input, row, listed ? choices(row) : null, text);
        suggested?.replaceChildren(...choices(row).map((name) => new Option(name)));
        input.value = text;
      },
      listen: (commit) => input.addEventListener("change", commit),
    };
  }

  function control(row, path) {
    made += 1;
    const id = `field-${made}`;
    const many = row.kind === "lines" && row.names.length > 0;
    const parts = many ? ticks(row, id) : single(row, id);
    const allowed = row.allowed ? `. ${capital(row.allowed)}` : "";
    const lines = row.kind === "lines" && !many ? " One a line." : "";
    const about = element("p", { id: `${id}-about`, className: "hint", textContent: `${capital(row.what)}${allowed}.${lines}` });
    const error = element("div", { id: `${id}-error`, className: "error", hidden: true });
    error.setAttribute("aria-live", "polite");
    parts.box.classList.add("field");
    parts.box.dataset.field = path;
    parts.box.append(error, about);
    const it = { ...parts, row, path, error, stands: "" };
    const commit = () => then(() => take(it));
    it.put = (text) => parts.write(text, commit);
    parts.listen?.(commit);
    parts.box.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      event.stopPropagation();
      pending().delete(path);
      it.stands = form.values[path] ?? "";
      it.put(it.stands);
      say(it, null);
      waits();
    });
    controls.set(path, it);
    return it;
  }

  /** Shows what is wrong with a field, or that nothing is. */
  function say(it, text, buttons = []) {
    it.error.hidden = !text;
    it.error.replaceChildren(...(text ? [element("p", { textContent: text }), ...buttons] : []));
    for (const input of it.inputs()) {
      if (text) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
    if (text) unfold(it.box);
    const waiting = pending().get(it.path);
    if (waiting) waiting.text = text;
  }

  function unfold(box) {
    for (let fold = box.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  }

  // --- what is typed ---------------------------------------------------------

  /** Asks for what was typed into a field together with what else waits in the form,
      as one may only be right with the other; where that is refused, for it alone. */
  async function take(it) {
    if (!controls.has(it.path) || controls.get(it.path) !== it) return;
    const text = it.read();
    const waiting = pending();
    if (text === it.stands && !here.draft) {
      waiting.delete(it.path);
      say(it, null);
      waits();
      return;
    }
    waiting.set(it.path, { typed: text, seen: it.stands });
    const name = waiting.get("name")?.typed;
    if (here.draft && !name) {
      say(controls.get("name"), `Give the ${table.one} a name.`);
      return;
    }
    const all = [...waiting.keys()];
    const refused = await set(all);
    if (!refused) taken(all);
    else if (all.length === 1 || here.draft || refused.crossed.length) tell(refused, it);
    else if (await set([it.path])) tell(refused, it);
    else taken([it.path]);
    waits();
  }

  function set(paths) {
    const waiting = pending();
    const fields = paths
      .filter((path) => !(here.draft && path === "name"))
      .map((path) => ({ field: path, value: waiting.get(path).typed, seen: waiting.get(path).seen }));
    const name = here.draft ? waiting.get("name").typed : here.name;
    return change({ change: "set", table: here.table, name, new: here.draft, fields });
  }

  function taken(paths) {
    const waiting = pending();
    const name = waiting.get("name")?.typed;
    for (const path of paths) {
      const it = controls.get(path);
      form.values[path] = waiting.get(path).typed;
      waiting.delete(path);
      if (!it) continue;
      it.stands = form.values[path];
      say(it, null);
    }
    if (paths.includes("name") && table.many) {
      typed.delete(key());
      const still = waiting;
      here = { ...here, name, draft: false };
      typed.set(key(), still);
      actions();
    }
    at("form-error").hidden = true;
  }

  /** Shows a refusal, each problem beside its field. */
  function tell(refused, asked) {
    const waiting = pending();
    if (refused.crossed.length) {
      for (const crossed of refused.crossed) cross(controls.get(crossed.field) ?? asked, crossed);
      return;
    }
    const names = [here.name, waiting.get("name")?.typed];
    const of = new Map();
    const note = (it, text) => of.set(it, [...(of.get(it) ?? []), text]);
    for (const { place, field, text } of refused.problems) {
      const ours = place && place.table === here.table && (!table.many || names.includes(place.name));
      const it = ours ? nearest(place.field) : null;
      if (it) note(it, capital(text));
      else note(asked, field ? `${field}: ${text}` : capital(text));
    }
    if (refused.problems.length === 0) note(asked, refused.text);
    for (const it of controls.values()) {
      const texts = of.get(it);
      const waitsFor = waiting.has(it.path) ? "Not taken yet: put the other marked fields right first." : null;
      say(it, texts ? texts.join(" ") : waitsFor);
    }
  }

  /** The control of a field, or of the first field in the table that it is. */
  function nearest(field) {
    if (controls.has(field)) return controls.get(field);
    const inside = [...controls.keys()].find((path) => field && (path.startsWith(`${field}.`) || path.startsWith(`${field}[`)));
    return inside ? controls.get(inside) : null;
  }

  /** Asks whose value stays, where another page has changed the field meanwhile. */
  function cross(it, { theirs, mine }) {
    const shown = (text) => (text === "" ? "nothing" : `"${text}"`);
    const keep = button("Keep mine", () => {
      const waiting = pending();
      waiting.set(it.path, { typed: mine, seen: theirs });
      it.stands = theirs;
      it.put(mine);
      then(() => take(it));
      it.inputs()[0].focus();
    });
    const theirsStay = button("Take theirs", () => {
      pending().delete(it.path);
      form.values[it.path] = theirs;
      it.stands = theirs;
      it.put(theirs);
      say(it, null);
      waits();
      it.inputs()[0].focus();
    });
    say(it, `Another page has set this to ${shown(theirs)} since. Here ${shown(mine)} was typed.`, [keep, theirsStay]);
  }

  // --- a form ----------------------------------------------------------------

  const children = (holder) =>
    table.fields.filter(({ field }) =>
      holder ? field.startsWith(`${holder.field}.`) && !field.slice(holder.field.length + 1).includes(".") : !field.includes("."),
    );
  const count = (path) => Math.max(form.counts[path] ?? 0, drafts.get(`${key()} ${path}`) ?? 0);
  const isSet = (row, path) =>
    row.kind === "table" ? [...Object.keys(form.values), ...pending().keys()].some((other) => other.startsWith(`${path}.`))
      : row.kind === "tables" ? count(path) > 0
      : form.values[path] !== undefined || pending().has(path);

  /** The fields of a table, those that are not set folded behind "More". */
  function fill(box, holder, within) {
    const more = element("details", { className: "more" }, element("summary"));
    const folded = [];
    for (const row of children(holder)) {
      const path = `${within}${last(row.field)}`;
      const built = group(row, path);
      if (row.required || isSet(row, path)) box.append(built);
      else folded.push([row, built]);
    }
    if (folded.length === 0) return;
    more.firstChild.textContent = `More: ${folded.map(([row]) => last(row.field).replaceAll("_", " ")).join(", ")}`;
    more.append(...folded.map(([, built]) => built));
    box.append(more);
  }

  function group(row, path) {
    if (row.kind === "table") {
      const box = element("fieldset", { className: "group" }, element("legend", { textContent: label(row.field) }));
      fill(box, row, `${path}.`);
      return box;
    }
    if (row.kind === "tables") return list(row, path);
    return control(row, path).box;
  }

  /** Tables of one kind inside of an entry. */
  function list(row, path) {
    const box = element("div", { className: "tables" });
    const one = last(row.field).replaceAll("_", " ");
    const build = () => {
      for (const known of [...controls.keys()]) if (known.startsWith(`${path}[`)) controls.delete(known);
      box.replaceChildren();
      for (let index = 0; index < count(path); index += 1) {
        const inner = element("fieldset", { className: "group" }, element("legend", { textContent: `${capital(one)} ${index + 1}` }));
        fill(inner, row, `${path}[${index}].`);
        inner.append(button(`Remove ${one} ${index + 1}`, () => then(() => drop(row, path, index))));
        box.append(inner);
      }
      box.append(
        button(`Add ${/^[aeiou]/.test(one) ? "an" : "a"} ${one}`, () => {
          drafts.set(`${key()} ${path}`, count(path) + 1);
          build();
          sync();
          nearest(`${path}[${count(path) - 1}]`)?.inputs()[0]?.focus();
        }),
      );
      box.dataset.count = count(path);
    };
    lists.set(path, { box, build });
    build();
    return box;
  }
  const lists = new Map();

  async function drop(row, path, index) {
    const prefix = `${path}[${index}]`;
    for (const known of [...pending().keys()]) if (known.startsWith(`${path}[`)) pending().delete(known);
    drafts.delete(`${key()} ${path}`);
    if (index >= (form.counts[path] ?? 0)) {
      lists.get(path).build();
      sync();
    } else {
      const fields = [{ field: prefix, value: "" }];
      const refused = await change({ change: "set", table: here.table, name: here.name, fields });
      if (refused) whole(refused.problems.length ? refused.problems.map(({ field, text }) => `${field}: ${text}`).join(" ") : refused.text);
    }
    at("form").querySelector(".tables button")?.focus();
    waits();
  }

  /** Says what is wrong with the entry as a whole. */
  function whole(text) {
    at("form-error").hidden = !text;
    at("form-error").textContent = text ?? "";
  }

  function build() {
    controls.clear();
    lists.clear();
    const problem = element("p", { id: "form-error", className: "error", hidden: true });
    problem.setAttribute("role", "alert");
    const box = element("div", { className: "form" }, problem);
    at("form").replaceChildren(box);
    fill(box, null, "");
    actions();
    sync();
  }

  /** Brings every field to what stands, but for those that somebody types in. */
  function sync() {
    for (const [path, { box, build: again }] of lists) {
      if (Number(box.dataset.count) === count(path)) continue;
      again();
    }
    for (const [path, it] of controls) {
      const value = form.values[path] ?? "";
      const waiting = pending().get(path);
      const typing = it.box.contains(document.activeElement) && it.read() !== it.stands;
      if (waiting && waiting.typed !== value) {
        if (typing) continue;
        it.stands = waiting.seen;
        it.put(waiting.typed);
        say(it, waiting.text);
        continue;
      }
      if (waiting) {
        pending().delete(path);
        say(it, null);
      }
      if (typing) continue;
      it.stands = value;
      it.put(value);
    }
    entries();
    waits();
  }

  function entries() {
    // Somebody goes through the list: the last choice is the one that counts.
    if (picking > 0) return;
    at("form-table").value = here.table;
    at("form-entry-label").hidden = !table.many;
    at("form-entry-word").textContent = capital(table.one);
    const select = at("form-entry");
    const names = here.draft ? [...form.names, ""] : form.names;
    const wanted = JSON.stringify(names);
    if (select.dataset.list !== wanted) {
      select.dataset.list = wanted;
      select.replaceChildren(...names.map((name) => new Option(name || `New ${table.one}`, name)));
    }
    select.value = here.draft ? "" : here.name;
  }

  // --- entries ---------------------------------------------------------------

  /** The buttons that add, copy and remove an entry. */
  function actions() {
    const box = at("form-actions");
    box.replaceChildren();
    if (!table.many || MAPPED.includes(table.table)) return;
    const one = table.one;
    const an = /^[aeiou]/.test(one) ? "an" : "a";
    if (!here.draft && here.name) {
      box.append(button(`Copy this ${one} under a new name`, () => copy(box)), button(`Remove this ${one}`, () => sure(box)));
    }
    if (!here.draft) {
      box.append(button(`Add ${an} ${one}`, () => then(() => open({ table: here.table, name: "", draft: true }, "name"))));
    }
  }

  function copy(box) {
    const input = element("input", { id: "copy-name", autocomplete: "off", spellcheck: false });
    input.setAttribute("aria-describedby", "copy-error");
    const error = element("p", { id: "copy-error", className: "error", hidden: true });
    error.setAttribute("role", "alert");
    const go = () =>
      then(async () => {
        const name = input.value.trim();
        const body = { change: "copy-entry", table: here.table, name: here.name, new_name: name };
        const refused = await change(body);
        if (!refused) return open({ table: here.table, name, draft: false }, "name");
        error.hidden = false;
        error.textContent = refused.problems.map(({ text }) => capital(text)).join(" ") || refused.text;
        input.setAttribute("aria-invalid", "true");
        input.focus();
      });
    const back = () => {
      actions();
      box.querySelector("button")?.focus();
    };
    input.addEventListener("keydown", (event) => {
      if (event.key === "Enter") go();
      if (event.key === "Escape") back();
    });
    const row = element("div", { className: "row" }, element("label", { textContent: "Name of the copy" }, input), button("Copy it", go), button("Cancel", back));
    box.replaceChildren(row, error);
    input.focus();
  }

  /** Removing asks once more. */
  function sure(box) {
    const error = element("p", { className: "error", hidden: true });
    error.setAttribute("role", "alert");
    const keep = button("Keep it", () => {
      actions();
      box.querySelector("button")?.focus();
    });
    const remove = button(`Remove ${here.name}`, () =>
      then(async () => {
        const refused = await change({ change: "remove-entry", table: here.table, name: here.name });
        if (!refused) {
          typed.delete(key());
          await open({ table: here.table, name: null, draft: false });
          at("form-entry").focus();
          return;
        }
        error.hidden = false;
        error.textContent = refused.problems.map(({ field, text }) => `${field}: ${text}`).join(" ") || refused.text;
      }),
    );
    box.replaceChildren(keep, remove, error);
    keep.focus();
  }

  /** Fetches what an entry holds: of a table without one, what a new one would. */
  async function fetched(entry) {
    const query = new URLSearchParams({ table: entry.table });
    if (entry.name && !entry.draft) query.set("name", entry.name);
    return ask(`form?${query}`);
  }

  async function open(entry, field) {
    const found = (await fetched(entry)) ?? (await fetched({ ...entry, name: null }));
    if (!found) return;
    form = entry.draft ? { ...found, values: {}, counts: {} } : found;
    table = declared.find((one) => one.table === entry.table);
    // Of a table without entries the form is that of the first.
    const draft = entry.draft || (table.many && found.names.length === 0);
    here = { table: entry.table, name: draft ? "" : found.name, draft };
    build();
    if (field === undefined) return;
    const it = nearest(field) ?? [...controls.values()][0];
    if (!it) return;
    unfold(it.box);
    it.box.scrollIntoView({ block: "center" });
    it.inputs()[0]?.focus();
  }

  /** What stands now, in the form that is shown. */
  async function refresh() {
    if (here.draft) {
      const found = await fetched(here);
      if (found) form = { ...form, names: found.names, choices: found.choices };
      sync();
      return;
    }
    const found = await fetched(here);
    if (!found) {
      await open({ table: here.table, name: null, draft: false });
      return;
    }
    form = found;
    if (here.name !== found.name) here = { ...here, name: found.name };
    sync();
  }

  let picking = 0;
  function pick(entry) {
    picking += 1;
    then(async () => {
      picking -= 1;
      if (picking === 0) await open({ ...entry, draft: false });
    });
  }
  at("form-table").addEventListener("change", () => pick({ table: at("form-table").value, name: null }));
  at("form-entry").addEventListener("change", () => pick({ table: here.table, name: at("form-entry").value }));

  then(async () => {
    declared = (await ask("forms")) ?? [];
    if (declared.length === 0) return;
    at("form-table").replaceChildren(...declared.map((one) => new Option(one.heading, one.table)));
    await open(here);
  });

  return {
    /** Follows the plan. */
    update(view) {
      if (view.aim === aim) return;
      aim = view.aim;
      then(() => (table ? refresh() : undefined));
    },
    /** Opens the form of a place of the plan with the keyboard on its field. */
    open: ({ table: name, name: entry, field }) => then(() => open({ table: name, name: entry, draft: false }, field)),
    /** What was typed and is not taken, with the reasons. */
    waiting() {
      const list = [];
      for (const [entry, fields] of typed) {
        const at = entry.indexOf(" ");
        const [name, of] = [entry.slice(0, at), entry.slice(at + 1)];
        if (of === "+") continue;
        for (const [field, { text }] of fields) {
          if (text) list.push({ about: `${of ? `${name} "${of}"` : name}: ${field}`, text, place: { table: name, name: of, field } });
        }
      }
      return list;
    },
  };
}
