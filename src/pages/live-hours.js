// Through the day: a slider from set-up to tear-down under the map, what holds at that
// time beside it, and the marks as they are then. The server has the moments and what
// holds; here is which of them is looked at.

/** Parts of a moment that are lists of lines. */
const PARTS = ["stations", "people", "routes", "sites"];

/** What a line begins with, by whether its subject is there: shape before colour. A
 * shift that is over and a route that nobody is on are no fault. */
const SIGNS = { true: "●", false: "✕", null: "?" };
const FAULTS = ["stations", "sites"];

export function createHours(at, board) {
  const [button, slide, slider] = ["hours-on", "hours-slide", "hours-at"].map(at);
  const panel = at("moment");
  let view = null;
  let hours = null;
  /** The moment that is looked at, in seconds; stays over changes of the plan. */
  let chosen = null;
  let busy = false;
  let again = false;

  const isOn = () => button.getAttribute("aria-pressed") === "true";
  const stop = () => hours?.stops[Number(slider.value)] ?? null;

  async function asked(address) {
    const answer = await fetch(address).catch(() => null);
    return answer?.ok ? answer.json() : null;
  }

  function lines(list, told, isFault) {
    list.replaceChildren(
      ...told.map(({ name, holds, words }) => {
        const line = document.createElement("li");
        line.classList.toggle("fault", holds === false && isFault);
        const sign = document.createElement("span");
        sign.className = "sign";
        sign.setAttribute("aria-hidden", "true");
        sign.textContent = holds === false && !isFault ? "○" : SIGNS[holds];
        const subject = document.createElement("strong");
        subject.textContent = name;
        line.append(sign, " ", subject, `: ${words}`);
        return line;
      }),
    );
  }

  function show(moment) {
    at("moment-time").textContent = moment.time;
    at("moment-happens").textContent = moment.happens;
    at("moment-headline").textContent = moment.headline;
    at("moment-air").textContent = moment.air ?? "";
    for (const part of PARTS) {
      const box = at(`moment-${part}`);
      box.hidden = moment[part].length === 0;
      lines(box.querySelector("ul"), moment[part], FAULTS.includes(part));
    }
    slider.setAttribute("aria-valuetext", `${stop().words}: ${moment.headline}`);
    board.moment(moment);
    panel.dataset.second = moment.second;
    panel.dataset.aim = moment.aim;
  }

  /** The time at once, the rest as it comes. */
  function turn() {
    const now = stop();
    if (!now) return;
    chosen = now.second;
    at("hours-time").textContent = now.words;
    slider.setAttribute("aria-valuetext", now.words);
    fill();
  }

  /** Takes the moments of the plan as it stands, and stays at the one that was looked at. */
  async function list() {
    const found = await asked("hours");
    if (!found) return;
    hours = found;
    slider.max = hours.stops.length - 1;
    const place = hours.stops.findIndex(({ second }) => second >= chosen);
    slider.value = place < 0 ? hours.stops.length - 1 : place;
    at("moment-not-known").replaceChildren(
      ...hours.not_known.map((text) => Object.assign(document.createElement("li"), { textContent: text })),
    );
    panel.querySelector("details").hidden = hours.not_known.length === 0;
    at("moment-how").textContent = hours.how;
    const now = stop();
    chosen = now.second;
    at("hours-time").textContent = now.words;
  }

  /** Fetches what holds, once more if another time was chosen or the plan changed meanwhile. */
  async function fill() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      do {
        again = false;
        if (hours?.aim !== view.aim) await list();
        if (!isOn() || !stop()) break;
        const moment = await asked(`moment?second=${stop().second}`);
        if (moment && isOn()) show(moment);
      } while (again);
    } finally {
      busy = false;
    }
  }

  button.addEventListener("click", () => {
    const on = !isOn();
    button.setAttribute("aria-pressed", String(on));
    slide.hidden = !on;
    panel.hidden = !on;
    if (!on) return board.moment(null);
    // What holds stands first beside the map.
    at("tools").scrollTop = 0;
    fill();
  });
  slider.addEventListener("input", turn);

  return {
    update(next) {
      const fresh = next.aim !== view?.aim || next.stage !== view?.stage;
      view = next;
      if (isOn() && fresh) fill();
    },
  };
}
