// Posts, sites, areas and routes put on the map: by clicks, or by keyboard with a
// cross that the arrow keys move.

import { arrow } from "./live-board.js";

const KINDS = {
  post: { word: "post", title: "Post", least: 1 },
  site: { word: "site", title: "Site", least: 1 },
  area: { word: "area", title: "Area", least: 3 },
  route: { word: "route", title: "Route", least: 2 },
};

/** Screen points within which two clicks are one point: a double click. */
const SAME = 4;

export function createDraw(L, at, board, { ask, say }) {
  const { map } = board;
  const place = map.getContainer();
  const form = at("draw-form");
  const input = at("draw-name");
  const preview = L.layerGroup();
  let kind = null;
  let points = [];
  let cross = null;
  let mark = null;
  let naming = false;
  let view = null;
  /** The shape that gets what is drawn, where it is there already. */
  let again = null;

  const isLine = () => KINDS[kind].least > 1;
  const latlng = (cell) => board.point(cell);

  function begin(wanted, name = null) {
    if (kind) end();
    kind = wanted;
    again = name;
    points = [];
    place.classList.add("drawing");
    map.doubleClickZoom.disable();
    map.keyboard.disable();
    preview.addTo(map);
    cross = board.inside(board.cell(map.getCenter()));
    mark = L.marker(latlng(cross), {
      icon: L.divIcon({ className: "cross", iconSize: [25, 25] }),
      interactive: false,
      keyboard: false,
      zIndexOffset: 5000,
    }).addTo(map);
    for (const one of document.querySelectorAll("[data-add]")) {
      one.setAttribute("aria-pressed", String(!again && one.dataset.add === kind));
    }
    place.focus({ preventScroll: true });
    say(
      isLine()
        ? `${again ?? KINDS[kind].title}: click point after point; Enter or a double click ends it, Backspace takes the last back. By keyboard: arrow keys move the cross, Space sets a point. Esc cancels.`
        : `${KINDS[kind].title}: click where it is. By keyboard: arrow keys move the cross, Enter puts it there. Esc cancels.`,
    );
  }

  function end() {
    const was = kind;
    kind = null;
    again = null;
    naming = false;
    points = [];
    form.hidden = true;
    input.removeAttribute("aria-invalid");
    place.classList.remove("drawing");
    map.doubleClickZoom.enable();
    map.keyboard.enable();
    preview.clearLayers();
    preview.remove();
    mark?.remove();
    mark = null;
    const button = document.querySelector(`[data-add="${was}"]`);
    button?.setAttribute("aria-pressed", "false");
    button?.focus();
  }

  function cancel() {
    const did = again ? "changed" : "added";
    end();
    say(`Nothing was ${did}.`);
  }

  /** Sets a point where a click or the cross is. */
  function set(cell) {
    if (naming) return;
    if (!isLine()) {
      points = [cell];
      draw();
      askName();
      return;
    }
    const last = points.at(-1);
    const apart = last && map.latLngToContainerPoint(latlng(last)).distanceTo(map.latLngToContainerPoint(latlng(cell)));
    if (last && apart < SAME) return;
    points.push(cell);
    draw();
    const { least, word } = KINDS[kind];
    const more = least - points.length;
    say(
      more > 0
        ? `Point ${points.length} is set; ${more} more at least.`
        : `Point ${points.length} is set. Enter or a double click ends the ${word}.`,
    );
  }

  function back() {
    if (naming || points.length === 0) return;
    points.pop();
    draw();
    say(points.length ? `The last point is taken back; ${points.length} left.` : "The last point is taken back; none is left.");
  }

  function draw() {
    preview.clearLayers();
    const line = points.map(latlng);
    const style = { color: "#8a2846", weight: 4, fill: false, interactive: false, dashArray: "4 6" };
    if (line.length > 1) (kind === "area" ? L.polygon : L.polyline)(line, style).addTo(preview);
    for (const one of line) {
      L.circleMarker(one, { radius: 5, color: "#8a2846", fillColor: "#ffffff", fillOpacity: 1, interactive: false }).addTo(preview);
    }
  }

  function finish() {
    if (naming) return;
    const { least, word } = KINDS[kind];
    if (points.length < least) {
      say(`A ${word} has ${least} points at least; ${points.length} ${points.length === 1 ? "is" : "are"} set.`);
      return;
    }
    if (again) replace();
    else askName();
  }

  /** Gives the shape that was there the points that were drawn. */
  async function replace() {
    const name = again;
    const body = { kind, name, points: points.map(({ column, row }) => [column, row]) };
    if (!(await ask("reshape", body))) return;
    end();
    say(`${name} is drawn anew. Undo takes it back.`);
  }

  /** A name that nothing has yet: "Post 4". */
  function freeName() {
    const taken = new Set(
      [view.posts, view.sites, view.areas, view.routes].flat().map(({ name }) => name.toLowerCase()),
    );
    const { title } = KINDS[kind];
    let number = 1;
    while (taken.has(`${title} ${number}`.toLowerCase())) number += 1;
    return `${title} ${number}`;
  }

  function askName() {
    naming = true;
    at("draw-label").textContent = `Name of the ${KINDS[kind].word}`;
    form.hidden = false;
    input.value = freeName();
    input.focus();
    input.select();
    say("Write its name and press Enter. Esc cancels.");
  }

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (!kind) return;
    const name = input.value.trim();
    const entry = { kind, name, points: points.map(({ column, row }) => [column, row]) };
    const done = await ask("add", { entries: [entry] }, input);
    if (!done) {
      input.focus();
      return;
    }
    const { title } = KINDS[kind];
    end();
    const told = (done.told ?? []).map((text) => ` ${text}.`).join("");
    say(`${title} ${name} is added. Undo takes it back.${told}`);
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    cancel();
  });
  at("draw-cancel").addEventListener("click", cancel);

  place.addEventListener("keydown", (event) => {
    if (!kind || naming) return;
    const way = arrow(event);
    const does = {
      " ": () => set({ ...cross }),
      Enter: () => (isLine() ? finish() : set({ ...cross })),
      Backspace: back,
      Escape: cancel,
      "+": () => map.zoomIn(),
      "-": () => map.zoomOut(),
    };
    if (way) {
      cross = board.inside(cross, way);
      mark.setLatLng(latlng(cross));
      map.panInside(latlng(cross), { padding: [40, 40], animate: false });
    } else if (does[event.key]) {
      does[event.key]();
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  });
  map.on("dblclick", () => kind && isLine() && finish());
  for (const one of document.querySelectorAll("[data-add]")) {
    one.addEventListener("click", () => (kind === one.dataset.add ? cancel() : begin(one.dataset.add)));
  }

  return {
    /** Whether something is drawn. */
    isOn: () => kind !== null,
    /** Draws a shape anew that is there. */
    redraw: (wanted, name) => begin(wanted, name),
    /** Takes a click on the map while something is drawn; tells whether it did. */
    takes(end) {
      if (!kind) return false;
      set(board.inside(end));
      return true;
    },
    update(next) {
      const moved = view && view.board.number !== next.board.number;
      view = next;
      if (!kind || !moved) return;
      // The cells are others now: what was drawn in the old ones would lie elsewhere.
      cancel();
      say("The map has changed its size: begin again.");
    },
  };
}
