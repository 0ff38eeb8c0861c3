// The briefing's map: the pictures that are on the page already become layers
// that pan and zoom, and the list of posts gets buttons that move it. Text of
// the plan goes into the page as text, never as markup.

import L from "leaflet";
import "leaflet/dist/leaflet.css";
import "./brief.css";
import { answers, placed, roughly } from "./brief-spots.js";

const data = JSON.parse(document.getElementById("data").textContent);
const still = document.getElementById("still");
const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;

/** An element with a class and text. */
function element(kind, name, text) {
  const made = document.createElement(kind);
  if (name) made.className = name;
  if (text !== undefined) made.textContent = text;
  return made;
}

/** What is told of a place: its name, its sentence, what to do. */
function told(name, place) {
  const box = element("div", "told");
  box.append(element("strong", "", name), element("p", "", place.sentence));
  for (const line of place.advice) box.append(element("p", "advice", line));
  return box;
}

function start() {
  const place = document.getElementById("live");
  place.setAttribute("role", "region");
  place.setAttribute(
    "aria-label",
    "Map. Arrow keys move it under a crosshair and say whether radio should work there; plus and minus zoom.",
  );
  place.style.aspectRatio = `${data.width} / ${data.height}`;
  const bounds = L.latLngBounds([0, 0], [data.height, data.width]);
  const map = L.map(place, {
    crs: L.CRS.Simple,
    attributionControl: false,
    zoomControl: false,
    // Room for what a mark at the edge has to say.
    maxBounds: bounds.pad(2),
    minZoom: -6,
    maxZoom: 1,
    zoomSnap: 0.25,
    zoomDelta: 0.5,
    // A step of the keyboard: a few times a finger's width.
    keyboardPanDelta: 40,
    fadeAnimation: !calm,
    zoomAnimation: !calm,
    markerZoomAnimation: !calm,
    inertia: !calm,
  });
  if (calm) {
    // The keyboard's steps and those for a popup would glide.
    const step = map.panBy;
    map.panBy = (by, options) => step.call(map, by, { ...options, animate: false });
  }
  const picture = (id) => L.imageOverlay(document.getElementById(id).src, bounds);

  const land = picture("land").addTo(map);
  land.setZIndex(1);
  const layers = [
    ["Where radio should work", picture("classes").setZIndex(2), true],
    ["Roads, houses, heights, names", picture("lines").setZIndex(3), true],
  ];
  if (data.routes.length > 0) layers.push(["Routes", shapes(data.routes, false, (at) => ask.tell(at)), true]);
  if (data.areas.length > 0) layers.push(["Areas", shapes(data.areas, true, (at) => ask.tell(at)), true]);
  const posts = L.layerGroup();
  layers.push(["Posts", posts, true]);
  const ask = spots(map, place);
  const boxes = switches(map, layers);

  pin(data.site.at, data.site.mark, "site", "", `Relay: ${data.site.name}`, null).addTo(map);
  const numbers = [];
  for (const post of data.posts) {
    const name = `${post.number} ${post.name}`;
    const marker = pin(post.at, post.mark, "post", post.number, name, told(name, post));
    marker.on("popupopen", () => {
      ask.clear();
      // Where it is longer than there is room for the keyboard moves through it.
      const words = marker.getPopup().getElement().querySelector(".leaflet-popup-content");
      const longer = words.scrollHeight > words.clientHeight;
      if (longer) words.setAttribute("tabindex", "0");
      else words.removeAttribute("tabindex");
    });
    // What needs doing lies over what works.
    if (!post.works) marker.setZIndexOffset(1000);
    marker.addTo(posts);
    numbers.push({ post, marker });
    button(post, () => {
      if (!map.hasLayer(posts)) boxes.get("Posts").click();
      map.setView(post.at, Math.max(map.getZoom(), closer), { animate: !calm });
      marker.openPopup();
      place.scrollIntoView({ block: "nearest", behavior: calm ? "auto" : "smooth" });
    });
  }
  // What a mark has to say stays inside the map, and is moved through where it is longer.
  const room = () => {
    const most = Math.max(120, map.getSize().y - 110);
    for (const { marker } of numbers) {
      const says = marker.getPopup();
      says.options.maxHeight = most;
      if (says.isOpen()) says.update();
    }
  };
  map.on("resize", room);
  // No number lies on the relay's mark.
  const apart = () => {
    const relay = map.latLngToContainerPoint(data.site.at);
    for (const { post, marker } of numbers) {
      const off = relay.subtract(map.latLngToContainerPoint(post.at));
      const near = Math.hypot(off.x, off.y) < 60;
      const look = marker.getElement()?.classList;
      look?.toggle("away", near && Math.hypot(off.x, off.y) < 16);
      look?.toggle("left", near && off.x >= 0);
    }
  };
  map.on("zoomend viewreset", apart);
  map.on("layeradd", (event) => event.layer === posts && apart());
  // Away from what a mark has to say.
  L.control.zoom({ position: "bottomright" }).addTo(map);
  if (data.units === "us") L.control.scale({ metric: false }).addTo(map);
  else L.control.scale({ imperial: false }).addTo(map);

  // Whoever opened it from the list has the focus there.
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") map.closePopup();
  });
  document.body.classList.add("moving");
  map.fitBounds(bounds);
  room();
  mine((post) => map.setView(post.at, Math.max(map.getZoom(), closer), { animate: !calm }));
  const closer = map.getZoom() + 1.5;
  // A map that was made while it had no size, or in another one.
  new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(place);
}

/**
 * A press on the map, or the spot under the crosshair that the arrow keys move, is
 * answered in words; so is where the device says it is.
 */
function spots(map, place) {
  const answer = answers(data);
  const box = document.getElementById("answer");
  const cross = L.marker([0, 0], {
    icon: L.divIcon({ className: "cross", iconSize: [44, 44] }),
    interactive: false,
    keyboard: false,
    zIndexOffset: 5000,
  });
  let keys = false;

  const say = (title, line, kind) => {
    box.className = `answer ${kind}`;
    box.replaceChildren(element("strong", "", title));
    if (line) box.append(element("span", "", ` ${line}`));
  };
  const clear = () => {
    cross.remove();
    say("Tap anywhere on the map: it says whether radio should work there.", "", "");
  };
  const tell = (at, before = "") => {
    cross.setLatLng(at).addTo(map);
    const { title, line, works } = answer([at.lat, at.lng]);
    say(before + title, line, works ? "works" : "fails");
  };

  map.on("click", (event) => {
    keys = false;
    tell(event.latlng);
  });
  place.addEventListener("pointerdown", () => (keys = false));
  place.addEventListener("keydown", (event) => {
    if (event.target !== place) return;
    if (/^(Arrow|[+=-]$)/.test(event.key)) keys = true;
    if (event.key === "Enter") tell(map.getCenter());
  });
  map.on("move", () => keys && cross.setLatLng(map.getCenter()).addTo(map));
  map.on("moveend", () => keys && tell(map.getCenter()));
  box.hidden = false;
  clear();
  whereAmI(document.getElementById("here"), say, (at, before) => {
    map.setView(at, Math.max(map.getZoom(), -1), { animate: !calm });
    tell(L.latLng(at), before);
  });
  return { tell, clear };
}

/** A position known no better than this may be another spot of the map, metres. */
const VAGUE = 50;

/** A button that asks the device where it is, or why there is none. */
function whereAmI(room, say, found) {
  room.hidden = false;
  if (!(window.isSecureContext && navigator.geolocation)) {
    room.append(element("p", "note", "This browser gives its position to no page that was opened from a file: tap the map."));
    return;
  }
  const button = element("button", "", "Where am I?");
  button.type = "button";
  button.addEventListener("click", () => {
    say("Asking the device where it is.", "", "");
    navigator.geolocation.getCurrentPosition(
      ({ coords }) => {
        const at = placed(data.earth, coords.latitude, coords.longitude);
        if (!at) return say("You are off the map: nothing was computed there.", "Count on no radio.", "fails");
        const vague = coords.accuracy > VAGUE;
        found(at, vague ? `Known to ${roughly(data.units, coords.accuracy)} only: ` : "");
      },
      () => say("The device gave no position.", "Tap the map instead.", ""),
      { enableHighAccuracy: true, timeout: 20000, maximumAge: 10000 },
    );
  });
  room.append(button);
}

/** The list of posts from which somebody picks their own and reads what it has. */
function mine(show) {
  const list = document.getElementById("post");
  const room = document.getElementById("mine-told");
  document.getElementById("mine").hidden = false;
  const tell = () => {
    room.replaceChildren();
    const post = data.posts.find(({ number }) => String(number) === list.value);
    if (!post) return;
    const box = element("div", post.works ? "own works" : "own fails");
    const mark = element("img", "mark");
    mark.src = post.mark;
    mark.alt = "";
    const words = element("div");
    words.append(element("p", "verdict", post.sentence));
    words.append(element("p", "", `Channel: ${post.channel}.`));
    for (const line of post.advice) words.append(element("p", "advice", line));
    words.append(element("p", "", "If you hear nothing:"));
    const steps = element("ol");
    steps.append(...post.silent.map((step) => element("li", "", step)));
    words.append(steps);
    box.append(mark, words);
    room.append(box);
    show(post);
  };
  list.addEventListener("change", tell);
  // A browser may bring back what was picked before.
  tell();
}

/** What should work is one line until somebody opens it; paper has all of it. */
function folded() {
  const parts = document.querySelectorAll(".posts details");
  const open = (is) => parts.forEach((part) => (part.open = is));
  open(false);
  window.addEventListener("beforeprint", () => open(true));
  window.addEventListener("afterprint", () => open(false));
}

/** A mark with its number, that tells on hover and focus and says more when pressed. */
function pin(at, mark, kind, number, name, more) {
  const look = element("span", "pin");
  const image = element("img");
  image.src = mark;
  image.alt = "";
  look.append(image);
  if (number !== "") look.append(element("b", "", number));
  const size = kind === "site" ? 36 : 26;
  const icon = L.divIcon({ className: `at ${kind}`, html: look, iconSize: [size, size] });
  const marker = L.marker(at, { icon, keyboard: more !== null, interactive: true });
  marker.bindTooltip(element("span", "", name), { direction: "top", offset: [0, -12] });
  if (more) marker.bindPopup(more, { maxWidth: 260, autoPanPadding: [30, 30] });
  marker.on("add", () => marker.getElement().setAttribute("aria-label", name));
  if (!more) marker.on("add", () => marker.getElement().setAttribute("role", "img"));
  return marker;
}

/** Areas or routes, with a light edge so that they show on every tint. */
function shapes(places, closed, pressed) {
  const group = L.layerGroup();
  for (const place of places) {
    const draw = closed ? L.polygon : L.polyline;
    const ink = closed ? "#1d2433" : "#8a2846";
    const edge = { color: "#ffffff", weight: closed ? 7 : 9, interactive: false, fill: false };
    draw(place.rings, edge).addTo(group);
    const line = draw(place.rings, { color: ink, weight: closed ? 3 : 4, opacity: 1, fillOpacity: 0.05 });
    line.bindTooltip(element("span", "", place.name), { sticky: true });
    line.bindPopup(told(place.name, place), { maxWidth: 260 });
    line.on("click", (event) => pressed(event.latlng));
    line.addTo(group);
  }
  return group;
}

/** Our own switches for the layers, by their names. */
function switches(map, layers) {
  const boxes = new Map();
  const set = element("fieldset");
  set.append(element("legend", "", "Show"));
  for (const [name, layer, shown] of layers) {
    const label = element("label");
    const box = element("input");
    box.type = "checkbox";
    box.checked = shown;
    if (shown) layer.addTo(map);
    box.addEventListener("change", () => {
      if (box.checked) layer.addTo(map);
      else layer.remove();
    });
    label.append(box, ` ${name}`);
    set.append(label);
    boxes.set(name, box);
  }
  document.getElementById("switches").append(set);
  return boxes;
}

/** Makes a post's name in the lists a button that shows it on the map. */
function button(post, show) {
  for (const name of document.querySelectorAll(`.name[data-post="${post.number}"]`)) {
    const made = element("button", "name");
    made.type = "button";
    made.append(...name.childNodes);
    made.setAttribute("aria-label", `${post.number} ${post.name}: show on the map`);
    made.addEventListener("click", show);
    name.replaceWith(made);
  }
}

folded();
try {
  start();
} catch (problem) {
  // The picture and the sentences are still there.
  document.body.classList.remove("moving");
  still.hidden = false;
  throw problem;
}
