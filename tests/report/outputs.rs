//! What a result comes as is told in the help of its verb and in docs/.

use std::fs;
use std::path::Path;

use crate::support::{perchline, printed, said};
use perchline::report::outputs::{BRIEFING, Format, SITE_MAP, SPOTS};

fn names<W>(stem: &str, formats: &[Format<W>]) -> Vec<(String, &'static str)> {
    formats.iter().map(|f| (format!("{stem}{}", f.ending), f.purpose)).collect()
}

#[test]
fn the_help_of_a_verb_lists_its_files() {
    for (verb, files) in [
        ("rank", names("CHANNEL-SITE", SITE_MAP)),
        ("coverage", names("CHANNEL-SITE", SITE_MAP)),
        ("brief", names("brief", BRIEFING)),
        ("search", names("spots", SPOTS)),
    ] {
        let output = perchline(Path::new("."), &[verb, "--help"]);
        assert!(output.status.success(), "{}", said(&output));
        let help = printed(&output);
        for (name, purpose) in files {
            let told = help.lines().any(|line| {
                let (file, what) = line.trim().split_once("  ").unwrap_or_default();
                file == name && what.trim() == purpose
            });
            assert!(told, "{verb} --help does not say what {name} is for:\n{help}");
        }
    }
}

#[test]
fn docs_name_every_file() {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let read = |name: &str| fs::read_to_string(docs.join(name)).unwrap();
    let (results, brief) = (read("results.md"), read("brief.md"));
    for (page, files) in
        [(&results, names("CHANNEL-SITE", SITE_MAP)), (&brief, names("brief", BRIEFING))]
    {
        for (name, _) in files {
            assert!(page.contains(&format!("`{name}`")), "{name} is not in docs/");
        }
    }
    // One row for those that are told together.
    let rows: Vec<&str> = results.lines().filter(|row| row.starts_with("| `spots.")).collect();
    for format in SPOTS {
        let named = rows.iter().any(|row| row.contains(&format!("{}`", format.ending)));
        assert!(named, "spots{} is not in docs/results.md", format.ending);
    }
}
