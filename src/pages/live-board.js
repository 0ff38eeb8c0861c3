// The map: land, coverage and lines in cells of the plan's own grid, with marks
// that can be dragged, by mouse, finger or arrow keys.

/** Where an arrow key leads in columns and rows, with Shift ten cells; null for others. */
export function arrow(event) {
  const ways = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };
  const by = event.shiftKey ? 10 : 1;
  return ways[event.key]?.map((cells) => cells * by) ?? null;
}

/** The classes of a mark: what it is of and how that stands. */
const classes = (kind, state) => `mark ${kind} ${state}`;

/** A mark's element; its name is text. */
function face(kind, name, state) {
  const box = document.createElement("span");
  box.className = classes(kind, state);
  const label = document.createElement("span");
  label.className = "name";
  label.textContent = name;
  box.append(label);
  return box;
}

export function createBoard(L, place, { ask, calm, pointed, rested }) {
  const map = L.map(place, {
    crs: L.CRS.Simple,
    attributionControl: false,
    minZoom: -5,
    maxZoom: 5,
    zoomSnap: 0.25,
    zoomDelta: 0.5,
    fadeAnimation: false,
    zoomAnimation: !calm,
    inertia: !calm,
  });
  const layers = {
    land: L.imageOverlay("", [[0, 0], [1, 1]], { zIndex: 1, className: "land" }),
    coverage: L.imageOverlay("", [[0, 0], [1, 1]], { zIndex: 2, className: "coverage" }),
    lines: L.imageOverlay("", [[0, 0], [1, 1]], { zIndex: 9, className: "lines" }),
  };
  const shapes = L.layerGroup().addTo(map);
  const marks = new Map();
  let spot = null;
  let scale = null;
  let number = null;
  let rows = 0;
  let columns = 0;
  let last = null;
  let held = null;
  /** What marks show of the time that is looked at, by kind and name. */
  let then = new Map();
  const underway = L.layerGroup().addTo(map);

  const point = ({ column, row }) => L.latLng(rows - row, column);
  const cell = (latlng) => ({ column: latlng.lng, row: rows - latlng.lat });
  const isOn = ({ column, row }) => column >= 0 && row >= 0 && column <= columns && row <= rows;
  /** The nearest place on the board, by so much beside another. */
  const inside = ({ column, row }, [across, down] = [0, 0]) => ({
    column: Math.min(columns, Math.max(0, column + across)),
    row: Math.min(rows, Math.max(0, row + down)),
  });
  const bounds = (wide, high) => L.latLngBounds([rows - high, 0], [rows, wide]);

  // A browser may take the end of a drag for a click on what lies below.
  let dropped = -Infinity;
  const isDrop = () => performance.now() - dropped < 100;
  map.on("click", (event) => {
    const end = cell(event.latlng);
    if (isOn(end) && !isDrop()) pointed(end);
  });

  /** Sends where a mark is dragged to, one request at a time. */
  function sender(kind, name) {
    let busy = false;
    let next = null;
    const send = async (where, passing) => {
      if (busy) {
        next = [where, passing];
        return;
      }
      busy = true;
      await ask("drag", { kind, name, ...where, passing });
      busy = false;
      if (next) {
        const [later, passes] = next;
        next = null;
        await send(later, passes);
      } else if (!passing && held === `${kind} ${name}`) {
        held = null;
        rested();
      }
    };
    return send;
  }

  function mark(kind, place, state) {
    const key = `${kind} ${place.name}`;
    const old = marks.get(key);
    if (old) {
      // The same element throughout: a hand that presses it would lose another.
      if (old.state !== state) {
        old.state = state;
        const element = old.marker.getElement();
        element.querySelector(".mark").className = classes(kind, state);
        dress(element, key);
      }
      const where = point(place.at);
      if (held !== key && !old.marker.getLatLng().equals(where)) old.marker.setLatLng(where);
      return;
    }
    const icon = L.divIcon({ className: "at", html: face(kind, place.name, state), iconSize: [28, 28] });
    const marker = L.marker(point(place.at), {
      icon,
      draggable: true,
      autoPan: true,
      keyboard: true,
      riseOnHover: true,
      zIndexOffset: kind === "site" ? 1000 : 0,
    });
    const send = sender(kind, place.name);
    marker.on("dragstart", () => (held = key));
    marker.on("drag", () => send(cell(marker.getLatLng()), true));
    marker.on("dragend", () => {
      dropped = performance.now();
      send(cell(marker.getLatLng()), false);
    });
    marker.on("click", () => {
      if (isDrop()) return;
      if (kind === "post") pointed({ post: place.name });
      else ask("look", { site: place.name, channel: last.look.channel });
    });
    marker.addTo(map);
    const element = marker.getElement();
    Object.assign(element.dataset, { kind, name: place.name });
    dress(element, key);
    element.addEventListener("keydown", (event) => step(event, key, marker, send));
    marks.set(key, { marker, state });
  }

  /** What a mark shows of the time that is looked at, by shape and in words. */
  function dress(element, key) {
    const { kind, name } = element.dataset;
    const now = then.get(key);
    const words = now ? `, ${now.words}` : "";
    element.setAttribute("aria-label", `${kind === "site" ? "Site" : "Post"} ${name}${words}. Arrow keys move it, F2 renames it, Delete removes it.`);
    const box = element.querySelector(".mark");
    for (const state of ["off-air", "shut", "unmanned"]) box.classList.toggle(state, Boolean(now?.states.includes(state)));
    box.querySelector(".name").textContent = now ? `${name} (${now.words})` : name;
  }

  const pauses = new Map();

  /** Moves a mark by a cell, or by ten, and asks once the keys rest. */
  function step(event, key, marker, send) {
    const way = arrow(event);
    if (!way) return;
    event.preventDefault();
    event.stopPropagation();
    const to = inside(cell(marker.getLatLng()), way);
    held = key;
    marker.setLatLng(point(to));
    clearTimeout(pauses.get(key));
    pauses.set(key, setTimeout(() => send(to, false), 300));
  }

  /** Hides names that would lie over others: those of the least weight first. */
  function thin() {
    const rank = ([key, { state }]) => (state.includes("chosen") ? 0 : then.has(key) ? 1 : key.startsWith("site") ? 2 : 3);
    const boxes = [...marks.values()].map(({ marker }) => marker.getElement().getBoundingClientRect());
    const bodies = boxes.map(({ left, top }) => ({ left: left + 5, top: top + 5, right: left + 23, bottom: top + 23 }));
    // Who is on the routes is named in any case.
    const taken = underway.getLayers().map((one) => one.getElement().querySelector(".name").getBoundingClientRect());
    const meet = (a, b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
    const ordered = [...marks].map((entry, index) => ({ entry, index })).sort((a, b) => rank(a.entry) - rank(b.entry));
    const edge = place.getBoundingClientRect().right;
    for (const { entry: [, { marker, state }], index } of ordered) {
      const element = marker.getElement();
      // A name that would leave the map stands on the mark's other side.
      element.classList.remove("flip");
      element.classList.toggle("flip", element.querySelector(".name").getBoundingClientRect().right > edge);
      const box = element.querySelector(".name").getBoundingClientRect();
      // The name of what is looked at is always there.
      const crowded = !state.includes("chosen")
        && (taken.some((other) => meet(box, other)) || bodies.some((body, i) => i !== index && meet(box, body)));
      element.classList.toggle("crowded", crowded);
      if (!crowded) taken.push(box);
    }
  }
  map.on("zoomend moveend resize", thin);

  /** Puts every mark where the plan has it. */
  function settle() {
    if (last) update(last);
  }

  function update(view) {
    last = view;
    if (view.board.number !== number) {
      number = view.board.number;
      ({ columns, rows } = view.board);
      const whole = bounds(columns, rows);
      for (const [name, layer] of [["land", layers.land], ["lines", layers.lines]]) {
        layer.setUrl(`${name}.png?board=${number}`);
        layer.setBounds(whole);
        layer.addTo(map);
      }
      // Over somebody's own map the coverage is drawn semi-transparently.
      place.classList.toggle("stained", view.board.tiles);
      map.setMaxBounds(whole.pad(0.5));
      map.fitBounds(whole);
      // Metres a cell for the scale bar: the plane has no other measure.
      scale?.remove();
      const Bar = L.Control.Scale.extend({
        _update() {
          const y = map.getSize().y / 2;
          const wide = map.containerPointToLatLng([100, y]).lng - map.containerPointToLatLng([0, y]).lng;
          this._updateScales(wide * view.board.metres_per_cell);
        },
      });
      scale = new Bar({ imperial: view.units === "us", metric: view.units !== "us", position: "bottomleft" }).addTo(map);
    }
    const seen = new Set();
    for (const site of view.sites) {
      const chosen = site.name === view.look.site ? "chosen" : "";
      mark("site", site, `${chosen} ${site.available ? "" : "closed"}`.trim());
      seen.add(`site ${site.name}`);
    }
    for (const post of view.posts) {
      mark("post", post, post.outcome ?? "waiting");
      seen.add(`post ${post.name}`);
    }
    for (const [key, { marker }] of marks) {
      if (!seen.has(key)) {
        marker.remove();
        marks.delete(key);
        if (held === key) held = null;
      }
    }
    outline(view);
    if (held === null) thin();
  }

  let drawn = "";

  function outline(view) {
    const wanted = JSON.stringify([number, view.areas, view.routes]);
    if (wanted === drawn) return;
    drawn = wanted;
    shapes.clearLayers();
    const along = (points) => points.map(([column, row]) => point({ column, row }));
    for (const [list, draw, colour, weight] of [
      [view.areas, L.polygon, "#1d2433", 2],
      [view.routes, L.polyline, "#8a2846", 3],
    ]) {
      for (const shape of list) {
        const line = along(shape.points);
        draw(line, { color: "#ffffff", weight: weight + 4, fill: false, interactive: false }).addTo(shapes);
        draw(line, { color: colour, weight, fill: false, interactive: false, dashArray: draw === L.polyline ? "10 5" : null }).addTo(shapes);
      }
    }
  }

  const urls = new Map();

  /** Puts a picture into a layer once it is all there. */
  async function put(layer, address) {
    const answer = await fetch(address).catch(() => null);
    if (!answer?.ok) return false;
    const [wide, high] = (answer.headers.get("x-span") ?? `${columns} ${rows}`).split(" ").map(Number);
    const url = URL.createObjectURL(await answer.blob());
    const waiting = new Image();
    waiting.src = url;
    try {
      await waiting.decode();
    } catch {
      // Replaced by a newer one on its way, or cut off: the next will come.
      URL.revokeObjectURL(url);
      return false;
    }
    layer.setUrl(url);
    layer.setBounds(bounds(wide, high));
    if (urls.has(layer)) URL.revokeObjectURL(urls.get(layer));
    urls.set(layer, url);
    return answer.headers;
  }

  let shown = 0;

  return {
    update,
    map,
    point,
    cell,
    /** Where the mark of an element stands, in columns and rows. */
    at(element) {
      const found = [...marks.values()].find(({ marker }) => marker.getElement() === element);
      return found ? cell(found.marker.getLatLng()) : null;
    },
    /** Whether a mark is held. */
    holds: () => held !== null,
    /** Something was dropped: the click that may follow is none. */
    dropped: () => (dropped = performance.now()),
    isOn,
    inside,
    put,
    /** The coverage as far as it has come. */
    async picture(view) {
      if (view.span === null || view.picture === shown) return;
      const headers = await put(layers.coverage, `coverage.png?revision=${view.revision}`);
      if (!headers) return;
      shown = Number(headers.get("x-picture"));
      place.dataset.picture = shown;
      place.dataset.aim = headers.get("x-aim");
      place.dataset.stage = headers.get("x-stage");
      if (document.getElementById("show-coverage").checked) layers.coverage.addTo(map);
    },
    /** A further picture over the coverage. */
    overlay(name) {
      return L.imageOverlay("", bounds(columns, rows), { zIndex: name === "together" ? 4 : 5, className: name });
    },
    show(what, wanted) {
      if (what === "names") place.classList.toggle("nameless", !wanted);
      else if (wanted) layers[what].addTo(map);
      else layers[what].remove();
    },
    /** Shows a place and puts the keyboard on its mark. */
    find(kind, name) {
      const found = marks.get(`${kind} ${name}`);
      if (!found) return;
      map.setView(found.marker.getLatLng(), Math.max(map.getZoom(), 1), { animate: !calm });
      found.marker.getElement().focus();
    },
    /** Shows marks as they are at a moment, and who is where on the routes; nothing for no moment. */
    moment(moment) {
      then = new Map((moment?.marks ?? []).map((mark) => [`${mark.kind} ${mark.name}`, mark]));
      for (const [key, { marker }] of marks) dress(marker.getElement(), key);
      underway.clearLayers();
      for (const { who, words, ...where } of moment?.underway ?? []) {
        const icon = L.divIcon({ className: "at", html: face("underway", words, who === "tail" ? "tail" : "front"), iconSize: [28, 28] });
        L.marker(point(where), { icon, interactive: false, keyboard: false, zIndexOffset: 2000 }).addTo(underway);
      }
      thin();
    },
    /** Marks the point that a path leads to; nothing takes the mark away. */
    mark(end) {
      spot?.remove();
      spot = null;
      if (end && end.column !== undefined) {
        const icon = L.divIcon({ className: "at", html: face("spot", "", ""), iconSize: [20, 20] });
        spot = L.marker(point(end), { icon, interactive: false, keyboard: false }).addTo(map);
      }
    },
  };
}
