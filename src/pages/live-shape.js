// The points of an area or a route: moved, added and taken away, by hand or by
// keyboard.

import { arrow } from "./live-board.js";

/** Handles beyond this would lie on each other: such a shape is drawn anew. */
const MOST_HANDLES = 200;

export function createShape(L, at, board, { ask, button, say, redraw }) {
  const { map } = board;
  const bar = at("shape-bar");
  const handles = L.layerGroup();
  let edited = null;
  let drawn = "";
  let view = null;
  let focused = null;
  let pause = null;
  let back = null;
  let held = false;

  /** Columns and rows of its points; an area's last is not its first again. */
  function corners() {
    const list = edited.kind === "area" ? view.areas : view.routes;
    const found = list.find(({ name }) => name === edited.name);
    if (!found) return null;
    const { points } = found;
    const [first, last] = [points[0], points.at(-1)];
    const closed = edited.kind === "area" && first[0] === last[0] && first[1] === last[1];
    return (closed ? points.slice(0, -1) : points).map(([column, row]) => ({ column, row }));
  }

  /** Asks for points: numbers of those that stay, and places of others. */
  async function send(points, focus, done) {
    focused = focus;
    const { kind, name } = edited;
    if (await ask("reshape", { kind, name, points })) {
      say(`${done} Undo takes it back.`);
      return;
    }
    drawn = "";
    show();
  }

  const numbers = (count) => Array.from({ length: count }, (_, index) => index);
  const place = ({ column, row }) => [column, row];

  function move(index, cell, count) {
    const points = numbers(count);
    points[index] = place(board.inside(cell));
    return send(points, index, `Point ${index + 1} of ${edited.name} is moved.`);
  }

  function insert(index, cell, count) {
    const points = numbers(count);
    points.splice(index, 0, place(board.inside(cell)));
    return send(points, index, `${edited.name} has a point more.`);
  }

  function remove(index, count) {
    const points = numbers(count);
    points.splice(index, 1);
    return send(points, Math.min(index, count - 2), `${edited.name} has a point less.`);
  }

  /** The point that comes next; behind an area's last its first. */
  const after = (points, index) => points[index + 1] ?? (edited.kind === "area" ? points[0] : null);
  const between = (a, b) => ({ column: (a.column + b.column) / 2, row: (a.row + b.row) / 2 });

  /** While a handle is held none is drawn anew: the hand would lose it. */
  function hold(marker) {
    marker.on("dragstart", () => (held = true));
    marker.on("dragend", () => (held = false));
  }

  function handle(points, index) {
    const cell = points[index];
    const icon = L.divIcon({ className: "handle", iconSize: [28, 28] });
    const marker = L.marker(board.point(cell), { icon, draggable: true, keyboard: true, zIndexOffset: 3000 });
    hold(marker);
    marker.on("dragend", () => {
      board.dropped();
      move(index, board.cell(marker.getLatLng()), points.length);
    });
    marker.addTo(handles);
    const element = marker.getElement();
    element.setAttribute(
      "aria-label",
      `Point ${index + 1} of ${points.length} of ${edited.name}. Arrow keys move it, Enter sets one after it, Delete takes it away.`,
    );
    element.addEventListener("keydown", (event) => key(event, points, index, marker));
    return element;
  }

  function key(event, points, index, marker) {
    const way = arrow(event);
    if (event.key === "Escape") {
      close();
    } else if (event.key === "Delete" || event.key === "Backspace") {
      remove(index, points.length);
    } else if (event.key === "Enter") {
      const next = after(points, index);
      const { column, row } = points[index];
      insert(index + 1, next ? between(points[index], next) : { column: column + 5, row }, points.length);
    } else if (way) {
      marker.setLatLng(board.point(board.inside(board.cell(marker.getLatLng()), way)));
      clearTimeout(pause);
      pause = setTimeout(() => move(index, board.cell(marker.getLatLng()), points.length), 300);
    } else {
      return;
    }
    event.preventDefault();
    event.stopPropagation();
  }

  /** The handle halfway to the next point: dragged, it becomes one. */
  function halfway(points, index) {
    const next = after(points, index);
    if (!next) return;
    const icon = L.divIcon({ className: "handle half", iconSize: [24, 24] });
    const marker = L.marker(board.point(between(points[index], next)), {
      icon,
      draggable: true,
      keyboard: false,
      zIndexOffset: 2500,
    });
    hold(marker);
    marker.on("dragend", () => {
      board.dropped();
      insert(index + 1, board.cell(marker.getLatLng()), points.length);
    });
    marker.addTo(handles);
  }

  function show() {
    const points = corners();
    if (!points) {
      close();
      return;
    }
    const wanted = JSON.stringify([view.board.number, points]);
    if (held || wanted === drawn) return;
    drawn = wanted;
    clearTimeout(pause);
    handles.clearLayers();
    const elements = points.map((_, index) => {
      halfway(points, index);
      return handle(points, index);
    });
    if (focused !== null) elements[focused]?.focus();
    focused = null;
  }

  function open(kind, name, opener) {
    if (edited) close();
    edited = { kind, name };
    back = opener;
    const points = corners();
    if (!points || points.length > MOST_HANDLES) {
      say(`${name} has ${points?.length ?? 0} points, too many to move one by one: draw it anew, or change it in its file.`);
      edited = null;
      return;
    }
    const text = document.createElement("span");
    text.textContent = `Points of ${name}: drag one, or walk to it with Tab. Between two, drag the small one.`;
    bar.replaceChildren(text, button("Done", close));
    bar.hidden = false;
    handles.addTo(map);
    map.fitBounds(L.latLngBounds(points.map(board.point)).pad(0.2), { animate: false });
    focused = 0;
    show();
  }

  function close() {
    clearTimeout(pause);
    edited = null;
    drawn = "";
    held = false;
    handles.clearLayers();
    handles.remove();
    bar.hidden = true;
    bar.replaceChildren();
    (back?.isConnected ? back : at("tools")).focus();
  }

  return {
    /** Buttons that change the points of a shape. */
    tools(kind, name) {
      const box = document.createElement("div");
      box.className = "tools-of";
      const points = button("Move points", () => open(kind, name, points));
      const anew = button("Draw anew", () => {
        if (edited) close();
        redraw(kind, name);
      });
      points.setAttribute("aria-label", `Move points of ${name}`);
      anew.setAttribute("aria-label", `Draw anew: ${name}`);
      box.append(points, anew);
      return box;
    },
    update(next) {
      view = next;
      if (edited) show();
    },
  };
}
