// The plan saved under another name, beside the file that it came from.

export function createSaveAs(at, { ask }) {
  const form = at("save-as-form");
  const input = at("save-as-name");
  const opener = at("save-as");
  let file = "";

  function open(wanted) {
    form.hidden = !wanted;
    opener.setAttribute("aria-expanded", String(wanted));
    input.removeAttribute("aria-invalid");
    if (!wanted) {
      opener.focus();
      return;
    }
    input.value = another(file);
    input.focus();
    input.setSelectionRange(0, input.value.length - ".toml".length);
  }

  /** The next name of its kind: "event-2.toml" after "event.toml". */
  function another(path) {
    const stem = (path.split(/[\\/]/).pop() ?? "").replace(/\.toml$/u, "");
    const [, base, number] = /^(.*?)(?:-(\d+))?$/u.exec(stem) ?? [];
    return `${base || "plan"}-${number ? Number(number) + 1 : 2}.toml`;
  }

  opener.addEventListener("click", () => open(form.hidden));
  at("save-as-cancel").addEventListener("click", () => open(false));
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    event.stopPropagation();
    open(false);
  });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (await ask("save-as", { name: input.value }, input)) open(false);
    else input.focus();
  });

  return { update: (view) => (file = view.file) };
}
