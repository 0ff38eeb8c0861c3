// The form that gives a folder its first plan.

import "./live-start.css";
import { sendFile, takeDrops } from "./live-send.js";

const at = (id) => document.getElementById(id);
const FIELDS = ["name", "elevation", "places", "centre", "radius"];

let places = null;

const say = (text) => (at("said").textContent = text);

/** Shows what is wrong beside the field that it is about, or at the end. */
function wrong(field, text) {
  const beside = at(FIELDS.includes(field) ? `${field}-wrong` : "wrong");
  beside.textContent = text;
  beside.hidden = false;
  if (!FIELDS.includes(field)) return;
  at(field).setAttribute("aria-invalid", "true");
  (field === "elevation" ? at("again") : at(field)).focus();
}

function right(...fields) {
  for (const field of fields) {
    at(`${field}-wrong`).hidden = true;
    at(field).removeAttribute("aria-invalid");
  }
  at("wrong").hidden = true;
}

/** Lists the elevation that lies in the folder. */
async function look() {
  const box = at("elevation");
  const legend = box.querySelector("legend");
  const answer = await fetch("elevation").catch(() => null);
  const files = answer?.ok ? (await answer.json()).files : [];
  const chosen = box.querySelector("input:checked")?.value;
  const choices = files.map((file, index) => {
    const input = Object.assign(document.createElement("input"), { type: "radio", name: "elevation", value: file });
    input.checked = chosen ? file === chosen : index === 0;
    const label = document.createElement("label");
    label.append(input, file);
    return label;
  });
  if (!choices.length) {
    const text = answer?.ok
      ? "None. Put a file of it into the folder, a GeoTIFF say, or a folder of tiles, then look again."
      : "Perchline does not answer: was it ended? Start it again and open its address.";
    choices.push(Object.assign(document.createElement("p"), { textContent: text }));
  }
  box.replaceChildren(legend, ...choices);
}

async function took(file) {
  right("places");
  at("places-found").textContent = `Reading ${file.name}…`;
  const found = await sendFile(file);
  if (found.wrong) {
    places = null;
    at("places-found").textContent = "";
    wrong("places", found.wrong);
    return;
  }
  places = found.id;
  const counted = ["route", "area", "post", "site"]
    .map((kind) => [found[`${kind}s`], kind])
    .filter(([count]) => count > 0)
    .map(([count, kind]) => `${count} ${kind}${count > 1 ? "s" : ""}`);
  const notes = found.notes.map((note) => ` ${note}.`).join("");
  at("places-found").textContent = `${found.file}: ${counted.join(", ")}.${notes}`;
}

/** Waits for the page of the plan, and goes there. */
async function follow() {
  for (let tries = 0; tries < 600; tries += 1) {
    const answer = await fetch("state").catch(() => null);
    // Without content as long as there is no plan.
    if (answer?.status === 200) {
      location.reload();
      return;
    }
    await new Promise((done) => setTimeout(done, 200));
  }
  wrong("", "The plan is made, but its page does not open: look at the terminal for the reason.");
  at("make").disabled = false;
}

at("start").addEventListener("submit", async (event) => {
  event.preventDefault();
  right(...FIELDS);
  at("make").disabled = true;
  say("Making the plan: the place and its hills are looked at.");
  const form = {
    name: at("name").value.trim(),
    elevation: at("elevation").querySelector("input:checked")?.value ?? null,
    centre: at("centre").value.trim(),
    radius: at("radius").value.trim(),
    places,
  };
  const answer = await fetch("begin", {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(form),
  }).catch(() => null);
  if (answer?.ok) {
    say("The plan is made. Its map opens.");
    await follow();
    return;
  }
  // Another page has made the plan meanwhile: its page stands here now.
  if (answer?.status === 404) {
    await follow();
    return;
  }
  say("No plan was made.");
  at("make").disabled = false;
  const said = await answer?.json().catch(() => null);
  wrong(said?.field ?? "", said?.text ?? "Perchline does not answer: was it ended? Start it again and open its address.");
});
at("again").addEventListener("click", look);
at("places").addEventListener("change", (event) => {
  const [file] = event.target.files;
  if (file) took(file).then(() => (event.target.value = ""));
});
takeDrops(took);
look();
