// The path from the station to a point: its profile and both budgets.

export function createPath(at, { marked }) {
  let asked = 0;
  let open = null;
  let aim = null;
  let came = null;

  function close() {
    at("path").hidden = true;
    open = null;
    marked(null);
    // Back to where the hand was, or to the map where that is gone.
    const back = came?.isConnected && came !== document.body ? came : at("map");
    came = null;
    back.focus({ preventScroll: true });
    back.scrollIntoView({ block: "nearest" });
  }

  at("path-close").addEventListener("click", close);
  at("path").addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });

  /** Fetches the path to a post, or to a point in columns and rows. */
  async function fill(end) {
    asked += 1;
    const mine = asked;
    const query = new URLSearchParams(end).toString();
    const answer = await fetch(`path?${query}`).catch(() => null);
    if (!answer) return false;
    const told = await answer.json();
    if (mine !== asked) return false;
    const picture = at("path-picture");
    at("path-title").textContent = answer.ok ? told.title : told.text;
    at("path-text").textContent = answer.ok ? told.text : "";
    at("path-text").parentElement.hidden = !answer.ok;
    picture.hidden = !answer.ok;
    if (answer.ok) {
      picture.src = `path.png?${query}&asked=${mine}`;
      picture.alt = `Profile and budgets: ${told.text.split("\n")[0]}`;
    }
    return true;
  }

  return {
    /** Shows a path and puts the keyboard on it. */
    async show(end) {
      open = end;
      if (at("path").hidden) came = document.activeElement;
      marked(end);
      if (!(await fill(end))) return;
      at("path").hidden = false;
      at("path-close").focus({ preventScroll: true });
      at("path").scrollIntoView({ block: "nearest" });
    },
    /** Follows the plan: a path that is shown is that of the present state. */
    refresh(view) {
      const complete = view.stage === "full" || view.stage === "scored";
      if (!complete || view.aim === aim) return;
      aim = view.aim;
      if (open) fill(open);
    },
  };
}
