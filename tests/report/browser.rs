//! The briefing's page in a browser: offline, from disk, on a phone and a laptop,
//! by keyboard, and with names that try to run scripts. Figures
//! `axe_serious_faults` (axe-core 4.14.1) and `brief_network_requests`.

use crate::support::browser::in_browser;
use crate::support::{hostile, perchline, said};

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

#[test]
fn the_page_works_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    hostile::write(folder.path());
    for (plan, out) in [(SAMPLE, "sample"), ("plan.toml", "hostile")] {
        let output = perchline(folder.path(), &["brief", plan, "--out", out]);
        assert!(output.status.success(), "{}", said(&output));
    }
    let page = |out: &str| folder.path().join(out).join("brief.html").display().to_string();
    in_browser("brief.mjs", &[&page("sample"), &page("hostile")]);
}

#[test]
fn the_channel_sheet_reads_on_a_phone() {
    let folder = tempfile::tempdir().unwrap();
    hostile::write(folder.path());
    for (plan, out) in [(SAMPLE, "sample"), ("plan.toml", "hostile")] {
        let output = perchline(folder.path(), &["cosite", plan, "--out", out]);
        assert!(output.status.success(), "{}", said(&output));
    }
    let sheet = |out: &str| folder.path().join(out).join("channels.html").display().to_string();
    in_browser("channels.mjs", &[&sheet("sample"), &sheet("hostile")]);
}
