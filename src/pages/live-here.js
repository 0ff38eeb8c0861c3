// What radio comes to under the pointer: a line to the station, and a docked box with
// the class, both margins and the ground between.

const WIDE = 260;
const HIGH = 84;
const SVG = "http://www.w3.org/2000/svg";

export function createHere(L, at, board, { busy }) {
  const { map } = board;
  const place = map.getContainer();
  const box = at("here");
  const words = document.createElement("p");
  const figures = document.createElement("p");
  const sites = document.createElement("p");
  const drawing = document.createElementNS(SVG, "svg");
  drawing.setAttribute("viewBox", `0 0 ${WIDE} ${HIGH}`);
  drawing.setAttribute("aria-hidden", "true");
  const ground = part("path", "ground");
  const sight = part("line", "sight");
  box.append(words, figures, sites, drawing);
  const line = L.polyline([], { color: "#1d2433", weight: 2, dashArray: "2 5", interactive: false });

  let wanted = null;
  let asking = false;
  let picture = null;

  function part(kind, name) {
    const made = document.createElementNS(SVG, kind);
    made.setAttribute("class", name);
    drawing.append(made);
    return made;
  }

  const isOn = () => at("show-here").checked && place.dataset.picture !== undefined;

  function hide() {
    wanted = null;
    box.hidden = true;
    line.remove();
  }

  /** Asks for a point, the latest only, one question at a time. */
  async function ask(cell) {
    if (!isOn() || !board.isOn(cell) || busy()) {
      hide();
      return;
    }
    wanted = cell;
    if (asking) return;
    asking = true;
    while (wanted) {
      const mine = wanted;
      const answer = await fetch(`here?column=${mine.column}&row=${mine.row}`).catch(() => null);
      const told = answer?.ok ? await answer.json().catch(() => null) : null;
      // The pointer may have left meanwhile.
      if (wanted && told) show(told);
      else if (wanted === mine) hide();
      if (wanted === mine) break;
    }
    asking = false;
  }

  function show(told) {
    const [first, second] = told.lines;
    words.textContent = first;
    figures.textContent = told.coarse ? `${second} (first, coarse picture)` : second;
    // Where several sites are on the map, which of them serve here.
    sites.textContent = at("together").hidden ? "" : (told.together ?? "");
    box.dataset.outcome = told.outcome;
    profile(told.profile);
    const [from, to] = [told.from, told.at].map(([column, row]) => board.point({ column, row }));
    line.setLatLngs([from, to]).addTo(map);
    // On the side where the pointer is not.
    const spot = map.latLngToContainerPoint(to);
    const { x, y } = map.getSize();
    box.classList.toggle("left", spot.x > x / 2 && spot.y > y / 2);
    box.hidden = false;
  }

  /** The ground from the station, left, and the straight line over it. */
  function profile({ points, antennas, line_of_sight: clear }) {
    const length = points.at(-1)?.[0] || 1;
    const heights = [...points.map(([, height]) => height), ...antennas];
    const [low, high] = [Math.min(...heights), Math.max(...heights)];
    const across = (along) => ((along / length) * WIDE).toFixed(1);
    const up = (height) => (HIGH - 4 - ((height - low) / Math.max(high - low, 10)) * (HIGH - 10)).toFixed(1);
    const top = points.map(([along, height]) => `L${across(along)} ${up(height)}`).join("");
    ground.setAttribute("d", `M0 ${HIGH}${top}L${WIDE} ${HIGH}Z`);
    const ends = { x1: 0, y1: up(antennas[0]), x2: WIDE, y2: up(antennas[1]) };
    for (const [name, value] of Object.entries(ends)) sight.setAttribute(name, value);
    sight.classList.toggle("blocked", !clear);
  }

  map.on("mousemove", (event) => ask(board.cell(event.latlng)));
  place.addEventListener("mouseleave", hide);
  map.on("dragstart zoomstart", hide);
  // The mark that has the keyboard is where the hand is.
  place.addEventListener("focusin", (event) => {
    const mark = board.at(event.target);
    if (mark && event.target.matches(":focus-visible")) ask(mark);
  });
  place.addEventListener("focusout", hide);
  at("show-here").addEventListener("change", hide);

  return {
    /** Asks again where the picture is another by now. */
    refresh(view) {
      if (view.picture === picture) return;
      picture = view.picture;
      if (wanted) ask(wanted);
    },
  };
}
