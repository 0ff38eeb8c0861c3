//! What a result comes as is told in the help of its verb and in docs/.

use std::fs;
use std::path::Path;

use crate::support::{perchline, printed, said};
use perchline::report::outputs::{
    BRIEFING, CARD, CHANNELS, CHOICE, DEBRIEF, MASTS, NamedFile, PATH_PLOT, POWER, REHEARSAL,
    REPORT_MAP, ROOF, SITE_MAP, SPOTS, TRACKERS,
};

#[test]
fn the_help_of_a_verb_lists_its_files() {
    for (verb, files) in [
        ("rank", SITE_MAP.named()),
        ("coverage", SITE_MAP.named()),
        ("path", PATH_PLOT.named()),
        ("direct", CARD.named()),
        ("brief", BRIEFING.named()),
        ("masts", MASTS.named()),
        ("search", SPOTS.named()),
        ("choose", CHOICE.named()),
        ("trackers", TRACKERS.named()),
        ("power", POWER.named()),
        ("cosite", [CHANNELS.named(), ROOF.named()].concat()),
        ("rehearse", REHEARSAL.named()),
        ("debrief", [DEBRIEF.named(), REPORT_MAP.named()].concat()),
    ] {
        let output = perchline(Path::new("."), &[verb, "--help"]);
        assert!(output.status.success(), "{}", said(&output));
        let help = printed(&output);
        for NamedFile { name, purpose } in files {
            let told = help.lines().any(|line| {
                let (file, what) = line.trim().split_once("  ").unwrap_or_default();
                file == name && what.trim() == purpose
            });
            assert!(told, "{verb} --help does not say what {name} is for:\n{help}");
        }
    }
}

/// Names in backquotes, a row's later ones perhaps without what its first begins with.
fn row_names(row: &str) -> Vec<String> {
    let cell = row.split('|').nth(1).unwrap_or_default();
    let named: Vec<&str> = cell.split('`').skip(1).step_by(2).collect();
    let stem = named.first().and_then(|first| first.split_once('.')).unwrap_or_default().0;
    let whole = |name: &&str| {
        if name.starts_with('.') { format!("{stem}{name}") } else { (*name).to_owned() }
    };
    named.iter().map(whole).collect()
}

#[test]
fn docs_name_every_file() {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let read = |name: &str| fs::read_to_string(docs.join(name)).unwrap();
    let (results, brief) = (read("results.md"), read("brief.md"));
    for file in BRIEFING.named() {
        assert!(brief.contains(&format!("`{}`", file.name)), "{} is not in docs/", file.name);
    }
    let rows: Vec<String> =
        results.lines().filter(|line| line.starts_with("| `")).flat_map(row_names).collect();
    for file in [
        SITE_MAP.named(),
        PATH_PLOT.named(),
        CARD.named(),
        MASTS.named(),
        CHOICE.named(),
        TRACKERS.named(),
        POWER.named(),
        SPOTS.named(),
        CHANNELS.named(),
        ROOF.named(),
        REHEARSAL.named(),
        DEBRIEF.named(),
        REPORT_MAP.named(),
    ]
    .concat()
    {
        assert!(rows.contains(&file.name), "{} is not in docs/results.md: {rows:?}", file.name);
    }
}
