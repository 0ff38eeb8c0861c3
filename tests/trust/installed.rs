//! What `make install` and the packages lay out: it runs from there, and its pages
//! lead to each other.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::support::{perchline, printed, said};

/// Lays everything out below a folder.
fn staged(place: &Path) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join(".package/stage.sh");
    let output = Command::new("bash")
        .arg(script)
        .args([Path::new(env!("CARGO_BIN_EXE_perchline")), place])
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", said(&output));
}

fn files(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect()
}

/// Where the links of a page lead, addresses and places on the page itself aside.
fn links(page: &str) -> impl Iterator<Item = &str> {
    let targets = page.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let targets = targets.map(|target| target.split('#').next().unwrap_or_default());
    targets.filter(|target| !target.is_empty() && !target.contains("://"))
}

#[test]
fn what_is_installed_works_from_where_it_lies() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("usr");
    staged(&place);
    for file in [
        "share/bash-completion/completions/perchline",
        "share/zsh/site-functions/_perchline",
        "share/fish/vendor_completions.d/perchline.fish",
        "share/doc/perchline/LICENSE",
        "share/doc/perchline/linked.cdx.json",
        "share/perchline/sample/ferry-lights-town.toml",
    ] {
        assert!(place.join(file).metadata().is_ok_and(|found| found.len() > 0), "{file}");
    }
    let schema = |file: &Path| -> serde_json::Value {
        serde_json::from_slice(&fs::read(file).unwrap()).unwrap()
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let installed = schema(&place.join("share/perchline/plan.schema.json"));
    assert_eq!(installed, schema(&root.join("docs/plan.schema.json")));
    // A manual page a verb, as `--help` lists them.
    let help = printed(&perchline(folder.path(), &["--help"]));
    let pages: BTreeSet<_> = files(&place.join("share/man/man1"))
        .iter()
        .map(|file| file.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let verbs: Vec<_> = pages.iter().filter_map(|page| page.strip_prefix("perchline-")).collect();
    assert!(verbs.len() > 10, "{verbs:?}");
    assert!(verbs.iter().all(|verb| help.contains(&format!("\n  {verb} "))), "{verbs:?}");
    let output = Command::new(place.join("bin/perchline"))
        .args(["check", "share/perchline/sample/ferry-lights-town.toml"])
        .current_dir(&place)
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", said(&output));
}

#[test]
fn links_of_the_installed_pages_lead_to_files() {
    let folder = tempfile::tempdir().unwrap();
    staged(folder.path());
    let docs = folder.path().join("share/doc/perchline");
    let mut tried = 0;
    for page in files(&docs).iter().filter(|file| file.extension().is_some_and(|x| x == "md")) {
        for target in links(&fs::read_to_string(page).unwrap()) {
            tried += 1;
            assert!(docs.join(target).is_file(), "{} leads to {target}", page.display());
        }
    }
    assert!(tried > 50, "only {tried} links");
}
