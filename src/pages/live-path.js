// The path from the station to a point: its profile and both budgets.

export function createPath(at, { marked }) {
  let asked = 0;
  let open = null;

  function close() {
    at("path").hidden = true;
    open = null;
    marked(null);
  }

  at("path-close").addEventListener("click", close);
  at("path").addEventListener("keydown", (event) => {
    if (event.key === "Escape") close();
  });

  return {
    /** Shows the path to a post, or to a point in columns and rows. */
    async show(end) {
      asked += 1;
      const mine = asked;
      const query = new URLSearchParams(end).toString();
      const answer = await fetch(`path?${query}`);
      const told = await answer.json();
      if (mine !== asked) return;
      open = end;
      marked(end);
      const picture = at("path-picture");
      at("path-title").textContent = answer.ok ? told.title : told.text;
      at("path-text").textContent = answer.ok ? told.text : "";
      at("path-text").parentElement.hidden = !answer.ok;
      picture.hidden = !answer.ok;
      if (answer.ok) {
        picture.src = `path.png?${query}&asked=${mine}`;
        picture.alt = `Profile and budgets: ${told.text.split("\n")[0]}`;
      }
      at("path").hidden = false;
      at("path-close").focus({ preventScroll: true });
      at("path").scrollIntoView({ block: "nearest" });
    },
    /** What it shows, to be shown anew. */
    get end() {
      return open;
    },
  };
}
