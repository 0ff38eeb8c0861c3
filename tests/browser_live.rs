//! The plan at hand in the machine's own browser; see `tests/browser/live.mjs`.

mod support;

use support::browser::in_browser;
use support::live::{copy, serve, serve_copy};

/// Names that would run if they came into a page as markup (common practice, no
/// source).
fn hostile(text: String) -> String {
    let run = "<img src=x onerror='globalThis.hostile=1'>";
    text.replace("\"Net Control\"", &format!("\"{run}\""))
        .replace(
            "\"Ferry Lights half marathon\"",
            "\"</title><script>globalThis.hostile=2</script>\"",
        )
        .replace("name = \"Hotel\"", "name = '\"><svg onload=globalThis.hostile=3>'")
        .replace(
            "name = \"Lantern field\"\noutline",
            "name = \"{{constructor.hostile=4}}\"\noutline",
        )
}

#[test]
fn the_plan_at_hand_works_in_a_browser() {
    let served = serve();
    let other = serve_copy(copy("ferry-lights.toml", hostile));
    assert!(other.get("state").json()["event"].as_str().unwrap().contains("<script>"));
    in_browser("live.mjs", &[&format!("{}/", served.url), &format!("{}/", other.url)]);
}
