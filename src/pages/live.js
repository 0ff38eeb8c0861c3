// The plan at hand: marks that are dragged, fields that are typed in, and the
// coverage that follows. The server holds the plan; this shows it and asks for
// changes. Text of the plan goes into the page as text, never as markup.

import L from "leaflet";
import "leaflet/dist/leaflet.css";
import "./live.css";
import { createBoard } from "./live-board.js";
import { createCheck } from "./live-check.js";
import { createCompare } from "./live-compare.js";
import { createForms } from "./live-forms.js";
import { createDraw } from "./live-draw.js";
import { createDrop } from "./live-drop.js";
import { createEntries } from "./live-entries.js";
import { createHere } from "./live-here.js";
import { createHours } from "./live-hours.js";
import { createNight } from "./live-night.js";
import { createPath } from "./live-path.js";
import { createOffers } from "./live-offers.js";
import { createShape } from "./live-shape.js";
import { createSaveAs } from "./live-save-as.js";
import { createStrips } from "./live-strips.js";
import { createTogether } from "./live-together.js";
import { createPlaces } from "./live-places.js";

const at = (id) => document.getElementById(id);
const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;

let view = null;

/** Asks the server for a change; what it refuses is shown, and beside what it is about.
 * What it answers, or whether it did it. */
async function ask(action, body = {}, field = null) {
  let answer;
  try {
    answer = await fetch(action, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    });
  } catch {
    refuse({ text: "Perchline does not answer: was it ended? Start it again and open its address." });
    return false;
  }
  field?.removeAttribute("aria-invalid");
  if (answer.ok) {
    refuse(null);
    const done = await answer.json().catch(() => null);
    if (done?.note) tell(done.note);
    return done ?? true;
  }
  const refusal = await words(answer);
  field?.setAttribute("aria-invalid", "true");
  refuse(refusal, action);
  return false;
}

/** What an answer that is none says: as the page's server does, or as text. */
async function words(answer) {
  const text = await answer.text().catch(() => "");
  try {
    return JSON.parse(text);
  } catch {
    return { text: text.trim() || `The server answered ${answer.status}.` };
  }
}

/** Shows something that there is to know of what was done. */
function tell(text) {
  at("alerts").querySelector(".told")?.remove();
  const box = notice("told", text);
  box.append(button("Close", () => box.remove()));
  at("alerts").append(box);
}

/** Shows why something was not done, or takes that away. */
function refuse(refusal, action) {
  at("alerts").querySelector(".refused")?.remove();
  if (!refusal) return;
  const box = notice("refused", refusal.text, refusal.problems);
  if (action === "save" && refusal.underneath) {
    box.append(button("Overwrite it", () => ask("save", { over: true })));
    box.append(button("Reload the file", () => ask("reload")));
  }
  box.append(button("Close", () => refuse(null)));
  at("alerts").append(box);
}

function notice(kind, text, problems = []) {
  const box = document.createElement("div");
  box.className = `notice ${kind}`;
  const first = document.createElement("p");
  // A plan's problems say it all, line by line.
  first.textContent = problems?.length ? "The plan would have problems:" : text;
  if (kind === "underneath") first.textContent = text;
  box.append(first);
  for (const problem of problems ?? []) {
    const line = document.createElement("p");
    const where = problem.line ? `line ${problem.line}: ` : "";
    line.textContent = `${where}${problem.field ? `${problem.field}: ` : ""}${problem.text}`;
    box.append(line);
  }
  return box;
}

function button(text, press) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = text;
  made.addEventListener("click", press);
  return made;
}

createNight(at("screen"));
const board = createBoard(L, at("map"), {
  ask,
  calm,
  pointed: (end) => draw.takes(end) || path.show(end),
  rested: () => view && show(view),
});
const path = createPath(at, { marked: (end) => board.mark(end) });
/** Says what happened, for eyes and for screen readers. */
const say = (text) => (at("said").textContent = text);
const draw = createDraw(L, at, board, { ask, say });
const shape = createShape(L, at, board, { ask, button, say, redraw: draw.redraw });
const entries = createEntries(at, { ask, button, say, points: shape.tools });
createDrop(at, { ask, button, refuse, say });
const places = createPlaces(at, {
  tools: entries.tools,
  ask,
  button,
  found: (kind, name) => board.find(kind, name),
  shown: (end) => path.show(end),
  looked: (site) => ask("look", { site, channel: view.look.channel }),
});
const strips = createStrips(at, board);
const hours = createHours(at, board);
const together = createTogether(at, board, { ask });
const compare = createCompare(at, board, { ask, button });
const offers = createOffers(at, { ask, button, notice });
const here = createHere(L, at, board, { busy: () => board.holds() || draw.isOn() });
const saveAs = createSaveAs(at, { ask });
const forms = createForms(at, { button, words, waits: () => check.draw() });
const check = createCheck(at, { button, open: (place) => forms.open(place), waiting: () => forms.waiting() });

// --- what is typed -----------------------------------------------------------

/** A field that asks for a change when it is left or Enter is pressed. */
function field(id, change) {
  const input = at(id);
  const commit = async () => {
    const value = input.value.trim();
    if (value === input.dataset.stands || !view) return;
    const wanted = change(value);
    if (wanted) await ask("change", wanted, input);
  };
  input.addEventListener("change", commit);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      input.value = input.dataset.stands ?? "";
      input.removeAttribute("aria-invalid");
      refuse(null);
    }
  });
}

field("mast", (height) => ({ change: "mast", site: view.look.site, height }));
field("station-power", (power) => view.station && { change: "power", radio: view.station.name, power });
field("carried-power", (power) => view.carried && { change: "power", radio: view.carried.name, power });
field("carry", (carry) => view.carried && { change: "carry", radio: view.carried.name, carry });
field("method", (method) => ({ change: "method", method }));
for (const id of ["site", "channel"]) {
  at(id).addEventListener("change", () => ask("look", { site: at("site").value, channel: at("channel").value }));
}
at("undo").addEventListener("click", () => ask("undo"));
at("redo").addEventListener("click", () => ask("redo"));
at("save").addEventListener("click", () => ask("save", { over: false }));
at("show-coverage").addEventListener("change", (event) => board.show("coverage", event.target.checked));
at("show-lines").addEventListener("change", (event) => board.show("lines", event.target.checked));
at("show-names").addEventListener("change", (event) => board.show("names", event.target.checked));
document.addEventListener("keydown", (event) => {
  const typing = event.target.matches("input, select, textarea");
  if (!typing && (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
    event.preventDefault();
    ask(event.shiftKey ? "redo" : "undo");
  }
});

/** Sets a field to what stands, unless somebody is typing in it. */
function stand(id, value, force = false) {
  const input = at(id);
  const edited = input === document.activeElement && input.dataset.stands === value && !force;
  input.dataset.stands = value;
  if (!edited) input.value = value;
}

function options(id, list, chosen) {
  const select = at(id);
  const wanted = JSON.stringify(list);
  if (select.dataset.list !== wanted) {
    select.dataset.list = wanted;
    select.replaceChildren(...list.map(({ value, text }) => new Option(text, value)));
  }
  select.dataset.stands = chosen;
  select.value = chosen;
}

// --- what stands -------------------------------------------------------------

/** Text of an element, set where it is another: setting it lays the page out anew. */
function write(id, text) {
  const element = at(id);
  if (element.textContent !== text) element.textContent = text;
}

function show(next) {
  view = next;
  // A hand that holds a mark looks at the map: the rest follows once it lets go.
  if (board.holds()) {
    headline();
    board.update(view);
    return;
  }
  document.title = `${view.changed ? "• " : ""}${view.look.site}: ${view.event}`;
  write("event", view.event);
  const kept = view.kept_in ? `; kept in ${view.kept_in.split(/[\\/]/).pop()}` : "";
  write("file", `${view.file}${view.changed ? `: changed here, not saved${kept}` : ""}`);
  at("undo").disabled = !view.can_undo;
  at("redo").disabled = !view.can_redo;
  at("save").disabled = !view.changed;
  const plain = (names) => names.map((name) => ({ value: name, text: name }));
  options("site", plain(view.sites.map((site) => site.name)), view.look.site);
  options("channel", plain(view.channels.map((channel) => channel.name)), view.look.channel);
  options("method", view.methods.map((m) => ({ value: m.name, text: m.name })), view.method);
  at("method").title = view.methods.find((m) => m.name === view.method)?.summary ?? "";
  const site = view.sites.find((one) => one.name === view.look.site);
  const word = view.channels.find((one) => one.name === view.look.channel)?.station ?? "station";
  write("station-word", word[0].toUpperCase() + word.slice(1));
  stand("mast", site?.mast ?? "");
  write("station-radio", view.station?.name ?? "Station");
  stand("station-power", view.station?.power ?? "");
  write("carried-radio", view.carried?.name ?? "Radio");
  stand("carried-power", view.carried?.power ?? "");
  at("carry").parentElement.hidden = !view.carried?.carry;
  stand("carry", view.carried?.carry ?? "hip");
  write("access", [site?.access, site?.notes].filter(Boolean).join(" · "));
  const contours = view.board.contours ? [`contours every ${view.board.contours}`] : [];
  const lines = [...contours, "roads", "houses", ...(view.board.named ? ["place names"] : [])].join(", ");
  write("lines-word", ` ${lines[0].toUpperCase()}${lines.slice(1)}`);
  write("opening", view.opening);
  headline();
  underneath();
  // Before the map, which takes the room that is left.
  strips.update(view);
  board.update(view);
  hours.update(view);
  draw.update(view);
  shape.update(view);
  places.update(view);
  entries.update(view);
  together.update(view);
  compare.update(view);
  offers.update(view);
  saveAs.update(view);
  forms.update(view);
  check.update(view);
}

function headline() {
  const { score, stage, trouble } = view;
  write("headline", score ? `${score.covered} of ${score.of} posts should work both ways` : "Working out the posts…");
  write("missed", score?.missed.length ? `Misses must-have ${score.missed.join(", ")}` : "");
  write("share", score ? `${score.map_percent.toFixed(0)} % of the map is clear both ways.` : "");
  const [first, full] = view.took_ms;
  const took = (ms) => (ms >= 1000 ? `${(ms / 1000).toFixed(1)} s` : `${ms.toFixed(0)} ms`);
  const progress = full !== null ? `Picture complete after ${took(full)}.`
    : first !== null ? "A coarse picture; the full one is being computed."
    : "Computing. The picture is of the state before.";
  write("progress", trouble ?? progress);
  at("progress").classList.toggle("trouble", Boolean(trouble));
  Object.assign(document.body.dataset, { stage: stage ?? "", aim: view.aim });
}

function underneath() {
  at("alerts").querySelector(".underneath")?.remove();
  if (!view.underneath) return;
  const box = notice("underneath", view.underneath.text, view.underneath.problems);
  if (view.underneath.problems.length === 0) box.append(button("Reload the file", () => ask("reload")));
  at("alerts").prepend(box);
}

// --- what comes --------------------------------------------------------------

let fetching = false;
let again = false;

/** Fetches what stands, once more if anything came in meanwhile. */
async function refresh() {
  if (fetching) {
    again = true;
    return;
  }
  fetching = true;
  try {
    do {
      again = false;
      const answer = await fetch("state").catch(() => null);
      // Without an answer the stream of events says so.
      if (answer?.ok) {
        show(await answer.json());
        await board.picture(view);
        together.pictures(view);
        here.refresh(view);
        compare.pictures(view);
        path.refresh(view);
      } else if (answer) {
        refuse(await words(answer));
      }
    } while (again);
  } finally {
    fetching = false;
  }
}

let events = null;

/** Listens for what is new: with a tab that is shown, as a browser has few connections. */
function listen() {
  if (document.visibilityState === "hidden" || events) return;
  events = new EventSource("events");
  events.addEventListener("message", refresh);
  events.addEventListener("open", () => at("progress").classList.remove("trouble"));
  events.addEventListener("error", () => {
    at("progress").textContent = "Perchline does not answer: was it ended? Start it again and open the address that it prints.";
    at("progress").classList.add("trouble");
    // Turned away, a browser does not try again by itself.
    if (events?.readyState === EventSource.CLOSED) {
      events = null;
      setTimeout(listen, 5000);
    }
  });
}

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden") {
    events?.close();
    events = null;
  } else {
    listen();
  }
});
listen();
