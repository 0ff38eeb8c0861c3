// The page by day and by night: as the system is set, or as somebody chose here.

import "./live-night.css";

const KEPT = "perchline-screen";

/** Follows the choice in `select`, and the system where that is the choice. */
export function createNight(select) {
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function show() {
    const wanted = select.value === "system" ? (dark.matches ? "night" : "day") : select.value;
    const root = document.documentElement;
    if (wanted === "day") delete root.dataset.screen;
    else root.dataset.screen = wanted;
  }

  // A browser may keep nothing for a page; the choice then lasts as long as it is open.
  try {
    const kept = localStorage.getItem(KEPT);
    if ([...select.options].some((option) => option.value === kept)) select.value = kept;
  } catch {}
  select.addEventListener("change", () => {
    try {
      localStorage.setItem(KEPT, select.value);
    } catch {}
    show();
  });
  dark.addEventListener("change", show);
  show();
}
