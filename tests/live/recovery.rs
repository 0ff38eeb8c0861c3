//! The plan at hand never loses work: what is unsaved lies beside the plan, and
//! what is saved goes to the plan's file or nowhere.

use crate::support;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, SystemTime};

use crate::support::live::{Copy, Program, Served, serve_copy, small, wait_for};
use crate::support::wanted::Wanted;
use perchline::live::file::PlanFile;
use serde_json::{Value, json};

/// Within this the text of a change is in its file.
const SOON: Duration = Duration::from_secs(2);
/// What a busy machine may take for what is not promised within a time.
const PATIENCE: Duration = Duration::from_secs(20);

fn unsaved(copy: &Copy) -> PathBuf {
    copy.folder.path().join("plan.toml.unsaved")
}

/// The plan's text with another mast on the hotel.
fn with_mast(text: &str, height: &str) -> String {
    let (before, after) = text.split_at(text.find("\"Hotel\"").unwrap());
    format!("{before}{}", after.replacen("mast = \"3 m\"", &format!("mast = \"{height}\""), 1))
}

fn mast(served: &Served, height: &str) {
    let change = json!({ "change": "mast", "site": "Hotel", "height": height });
    assert_eq!(served.post("change", &change).status, 200);
}

fn holds(path: &Path, text: &str) -> bool {
    fs::read_to_string(path).is_ok_and(|found| found == text)
}

/// Everything in a folder but the terrain.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<_> =
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.retain(|name| name != "terrain.tif");
    names.sort();
    names
}

fn offers(live: &Program) -> Vec<Value> {
    live.get("state")["offers"].as_array().unwrap().clone()
}

fn text_of(offer: &Value) -> String {
    offer["text"].as_array().unwrap().iter().map(|t| t.as_str().unwrap()).collect()
}

#[test]
fn unsaved_text_is_in_its_file_soon_and_goes_when_nothing_is_unsaved() {
    let served = serve_copy(small());
    let plan = fs::read_to_string(&served.copy.plan).unwrap();
    let file = unsaved(&served.copy);
    mast(&served, "7 m");
    wait_for("the text", SOON, || holds(&file, &with_mast(&plan, "7 m")));
    assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), plan, "the plan is as it was");
    wait_for("it is told", SOON, || {
        served.get("state").json()["kept_in"].as_str().is_some_and(|f| f.ends_with(".unsaved"))
    });
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    }
    // The next text takes its place; a drag is followed while it lasts.
    mast(&served, "8 m");
    wait_for("the next", SOON, || holds(&file, &with_mast(&plan, "8 m")));
    for step in 0..60 {
        served.drag("Hotel", 5.0 + f64::from(step) / 10.0, 6.0, true);
    }
    let dragged = served.desk.lock().text().to_owned();
    wait_for("the drag", SOON, || holds(&file, &dragged));
    // Back to where it began, and on again.
    for _ in 0..3 {
        assert_eq!(served.post("undo", &json!({})).status, 200);
    }
    wait_for("undone", SOON, || !file.exists());
    assert_eq!(served.post("redo", &json!({})).status, 200);
    wait_for("done again", SOON, || holds(&file, &with_mast(&plan, "7 m")));
    // Once it is saved, before the page hears of it.
    assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
    assert_eq!(names(served.copy.folder.path()), ["plan.toml"]);
    assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), with_mast(&plan, "7 m"));
    // And when the file is read again in place of what is on the page.
    mast(&served, "9 m");
    wait_for("a text", SOON, || file.exists());
    assert_eq!(served.post("reload", &json!({})).status, 200);
    wait_for("reloaded", SOON, || !file.exists());
    assert_eq!(served.get("state").json()["warnings"], json!([]));
}

#[test]
fn a_plan_saved_under_another_name_is_worked_on_there() {
    let served = serve_copy(small());
    let folder = served.copy.folder.path().to_owned();
    let plan = fs::read_to_string(&served.copy.plan).unwrap();
    mast(&served, "7 m");
    wait_for("the text", SOON, || unsaved(&served.copy).exists());
    // What is no plain name, and what is taken: nothing is written.
    for (name, why) in [
        ("", "is no name of a file"),
        (".toml", "is no name of a file"),
        ("../up.toml", "has '/' in it"),
        ("a\\b", "in it"),
        ("a\u{7}b", "in it"),
        (".hidden", "begins with a full stop"),
        ("plan. ", "ends with a full stop"),
        (&"x".repeat(101), "more than 100 letters"),
        ("plan.toml", "is there already"),
        ("plan", "is there already"),
    ] {
        let answer = served.post("save-as", &json!({ "name": name }));
        let text = answer.json()["text"].as_str().unwrap().to_owned();
        assert_eq!(answer.status, 422, "{name:?}");
        assert!(text.contains(why) && text.contains("nothing was written"), "{name:?}: {text}");
    }
    assert_eq!(names(&folder), ["plan.toml", "plan.toml.unsaved"]);
    let answer = served.post("save-as", &json!({ "name": " evening " }));
    assert_eq!(answer.status, 200);
    let note = answer.json()["note"].as_str().unwrap().to_owned();
    assert!(note.contains("evening.toml. The page works on that file now"), "{note}");
    assert_eq!(names(&folder), ["evening.toml", "plan.toml"], "nothing is unsaved any more");
    assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), plan, "the plan is as it was");
    let evening = folder.join("evening.toml");
    assert!(holds(&evening, &with_mast(&plan, "7 m")));
    let state = served.get("state").json();
    assert!(state["file"].as_str().unwrap().ends_with("evening.toml"), "{state}");
    assert_eq!(state["changed"], json!(false));
    // Changes, what is kept of them, and the lock are of the new file; the old one is free.
    mast(&served, "8 m");
    let kept = folder.join("evening.toml.unsaved");
    wait_for("the next", SOON, || holds(&kept, &with_mast(&plan, "8 m")));
    assert!(PlanFile::open(&evening).unwrap_err().contains("has this plan open"));
    drop(PlanFile::open(&served.copy.plan).unwrap());
    assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
    assert!(holds(&evening, &with_mast(&plan, "8 m")));
    assert_eq!(names(&folder), ["evening.toml", "plan.toml"]);
    // A plan that was taken away is saved all the same, under another name.
    fs::remove_file(&evening).unwrap();
    assert_eq!(served.post("save", &json!({ "over": false })).status, 422);
    assert_eq!(served.post("save-as", &json!({ "name": "late.toml" })).status, 200);
    assert!(holds(&folder.join("late.toml"), &with_mast(&plan, "8 m")));
}

#[test]
fn an_ordinary_end_keeps_what_is_unsaved_and_the_next_start_offers_it() {
    let sample = small();
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let file = unsaved(&sample);
    let live = Program::start(sample.folder.path());
    assert_eq!(live.printed["offers"], json!([]));
    live.mast("7 m");
    // At once: the last change is kept by the end itself.
    let (status, said) = live.interrupt();
    assert!(status.success(), "{said}");
    assert!(said.contains("plan.toml.unsaved; `perchline live plan.toml` offers them"), "{said}");
    assert!(holds(&file, &with_mast(&plan, "7 m")));
    assert_eq!(names(sample.folder.path()), ["plan.toml", "plan.toml.unsaved"]);

    let live = Program::start(sample.folder.path());
    wait_for("it is said", PATIENCE, || live.said().contains("The page asks whether to continue"));
    let said = live.said();
    assert!(said.contains("written a moment ago, at 20"), "{said}");
    assert!(said.contains("They differ from the plan's file in one line."), "{said}");
    let offer = &live.printed["offers"][0];
    let changed = with_mast(&plan, "7 m");
    let line = 1 + changed.lines().zip(plan.lines()).position(|(a, b)| a != b).unwrap();
    assert_eq!(offer["lines"], json!([format!("line {line}: mast = \"7 m\"")]), "{offer}");
    assert_eq!(offers(&live), std::slice::from_ref(offer));
    assert!(!text_of(offer).contains("older"), "{offer}");
    // Nothing is applied, and what is changed before the decision is kept apart.
    assert_eq!(live.get("state")["sites"][0]["mast"], "3 m");
    live.mast("5 m");
    let second = sample.folder.path().join("plan.toml.unsaved-2");
    wait_for("the second", PATIENCE, || holds(&second, &with_mast(&plan, "5 m")));
    assert!(holds(&file, &with_mast(&plan, "7 m")));
    live.kill();

    // Both are offered, the later first.
    let live = Program::start(sample.folder.path());
    let both = offers(&live);
    let of = |offer: &Value| offer["file"].as_str().unwrap().rsplit('/').next().unwrap().to_owned();
    assert_eq!(
        both.iter().map(of).collect::<Vec<_>>(),
        ["plan.toml.unsaved-2", "plan.toml.unsaved"]
    );
    assert_eq!(live.post("recover", &json!({ "id": both[1]["id"] })).0, 200);
    assert_eq!(live.get("state")["sites"][0]["mast"], "7 m");
    assert_eq!(live.get("state")["changed"], true);
    assert!(holds(&file, &with_mast(&plan, "7 m")), "kept until it is saved");
    assert_eq!(live.post("recover", &json!({ "id": both[1]["id"] })).0, 422, "decided already");
    // What stood before can be come back to.
    assert_eq!(live.post("undo", &json!({})).0, 200);
    assert_eq!(live.get("state")["sites"][0]["mast"], "3 m");
    assert_eq!(live.post("redo", &json!({})).0, 200);
    assert_eq!(live.post("discard", &json!({ "id": both[0]["id"] })).0, 200);
    assert!(!second.exists());
    assert_eq!(offers(&live), [Value::Null; 0]);
    assert_eq!(live.post("save", &json!({ "over": false })).0, 200);
    let (_, said) = live.interrupt();
    assert!(said.contains("the plan's file holds all that was on the page"), "{said}");
    assert_eq!(names(sample.folder.path()), ["plan.toml"]);
    assert!(holds(&sample.plan, &with_mast(&plan, "7 m")));
}

/// A change made before the decision, then the offer taken up: one file holds it.
#[test]
fn an_offer_that_is_continued_from_replaces_what_was_kept_since() {
    let sample = small();
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let first = unsaved(&sample);
    fs::write(&first, with_mast(&plan, "7 m")).unwrap();
    let live = Program::start(sample.folder.path());
    let offer = offers(&live).remove(0);
    live.mast("5 m");
    let second = sample.folder.path().join("plan.toml.unsaved-2");
    wait_for("the second", PATIENCE, || holds(&second, &with_mast(&plan, "5 m")));
    assert_eq!(live.post("recover", &json!({ "id": offer["id"] })).0, 200);
    assert!(holds(&second, &with_mast(&plan, "7 m")));
    assert!(!first.exists());
    live.kill();
    assert!(holds(&second, &with_mast(&plan, "7 m")));
}

#[test]
fn an_offer_that_waits_stays_and_one_that_the_plan_holds_goes() {
    let sample = small();
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let file = unsaved(&sample);
    fs::write(&file, with_mast(&plan, "7 m")).unwrap();
    let (status, said) = Program::start(sample.folder.path()).interrupt();
    assert!(status.success());
    assert!(said.contains("plan.toml.unsaved still waits for your decision."), "{said}");
    assert!(holds(&file, &with_mast(&plan, "7 m")));
    fs::copy(&file, &sample.plan).unwrap();
    let live = Program::start(sample.folder.path());
    assert_eq!(offers(&live), [Value::Null; 0]);
    assert!(!file.exists());
}

#[test]
fn a_text_of_an_older_plan_is_told() {
    let sample = small();
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let file = unsaved(&sample);
    let live = Program::start(sample.folder.path());
    live.mast("7 m");
    wait_for("the text", PATIENCE, || file.exists());
    live.kill();
    let older = |newer: &str| {
        fs::write(&sample.plan, newer).unwrap();
        let live = Program::start(sample.folder.path());
        let offer = offers(&live).remove(0);
        (text_of(&offer).contains("an older text of the plan"), live.said())
    };
    // Written again with the same text it is the same plan, however young its file.
    assert!(!older(&plan).0);
    let newer = plan.replace("name = \"Test run\"", "name = \"Test run, moved\"");
    let (told, said) = older(&newer);
    assert!(told);
    assert!(said.contains("Continuing from them takes those later changes back"), "{said}");
    // Without the note in the file, as after a copy, the times say it.
    let text = fs::read_to_string(&file).unwrap();
    fs::remove_file(&file).unwrap();
    fs::write(&file, text).unwrap();
    let set = |seconds: u64| {
        let at = SystemTime::UNIX_EPOCH + Duration::from_secs(seconds);
        fs::File::options().write(true).open(&file).unwrap().set_modified(at).unwrap();
    };
    set(1_700_000_000);
    assert!(older(&newer).0);
    set(4_000_000_000);
    assert!(!older(&newer).0);
}

#[test]
fn what_cannot_be_continued_from_is_told_and_stays_until_it_is_discarded() {
    let sample = small();
    let folder = sample.folder.path();
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let path = |number: usize| folder.join(format!("plan.toml.unsaved-{number}"));
    // Half a text, bytes that are none, zeros as a failing power leaves them, a
    // plan that would be refused, one that is far too long, and no files at all.
    fs::write(unsaved(&sample), &plan[..plan.len() / 2 + 3]).unwrap();
    fs::write(path(2), b"[event]\nname = \"\xff\xfe\"\n").unwrap();
    fs::write(path(3), vec![0; plan.len()]).unwrap();
    fs::write(path(4), with_mast(&plan, "9 parsec")).unwrap();
    fs::write(path(5), format!("{plan}# {}\n", "x".repeat(5 << 20))).unwrap();
    fs::write(path(6), "").unwrap();
    fs::create_dir(path(7)).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("/etc/hostname", path(8)).unwrap();
    let pipe = Command::new("mkfifo").arg(path(9)).status().unwrap();
    assert!(pipe.success());
    let live = Program::start(folder);
    let all = offers(&live);
    assert_eq!(all.len(), 9, "{all:?}");
    let offer = |path: &Path| {
        let name = path.to_str().unwrap();
        all.iter().find(|offer| offer["file"].as_str().unwrap().ends_with(name)).unwrap().clone()
    };
    for (path, says, problem, can_go) in [
        (unsaved(&sample), "They ", true, true),
        (path(2), "holds bytes that are no text", false, true),
        (path(3), "They ", true, true),
        (path(4), "They ", true, true),
        (path(5), "longer than a plan may be (4 MiB)", false, true),
        (path(6), "They ", true, true),
        (path(7), "It is a folder, so it cannot be read", false, false),
        (path(8), "It is a link, so it cannot be read", false, false),
        (path(9), "It is a pipe, so it cannot be read", false, false),
    ] {
        let offer = offer(&path);
        assert!(text_of(&offer).contains(says), "{offer}");
        assert_eq!(offer["can_be_continued"], false, "{offer}");
        assert_eq!(offer["can_be_discarded"], can_go, "{offer}");
        assert_eq!(!offer["problems"].as_array().unwrap().is_empty(), problem, "{offer}");
        let refusal = offer["refusal"].as_str().unwrap_or_default();
        assert_eq!(refusal.contains("would be refused with them"), problem, "{offer}");
        let (status, said) = live.post("recover", &json!({ "id": offer["id"] }));
        assert_eq!(status, 422, "{said}");
        assert!(live.get("state")["changed"] == false);
        assert!(path.symlink_metadata().is_ok(), "told and left");
    }
    // With every name taken, what is unsaved has no place, and that is said.
    live.mast("7 m");
    wait_for("a warning", PATIENCE, || {
        let warnings = live.get("state")["warnings"].to_string();
        warnings.contains("cannot be kept") && warnings.contains("are taken: decide on what")
    });
    wait_for("said aside", PATIENCE, || live.said().contains("cannot be kept"));
    // Once one is decided on there is room again, without a further change.
    for (path, status) in [(path(4), 200), (path(4), 422), (path(7), 422), (path(8), 422)] {
        let said = live.post("discard", &json!({ "id": offer(&path)["id"] }));
        assert_eq!(said.0, status, "{said:?}");
    }
    wait_for("room", PATIENCE, || holds(&path(4), &with_mast(&plan, "7 m")));
    wait_for("no warning", PATIENCE, || live.get("state")["warnings"] == json!([]));
    assert!(path(7).is_dir() && path(8).is_symlink());
    let (_, said) = live.interrupt();
    assert!(said.contains("plan.toml.unsaved-4; `perchline live"), "{said}");
}

#[test]
fn a_second_page_on_one_plan_is_refused() {
    let sample = small();
    let folder = sample.folder.path();
    let first = Program::start(folder);
    first.mast("7 m");
    wait_for("the text", PATIENCE, || unsaved(&sample).exists());
    let text = fs::read_to_string(unsaved(&sample)).unwrap();
    #[cfg(unix)]
    std::os::unix::fs::symlink("plan.toml", folder.join("other.toml")).unwrap();
    let refused = |name: &str| {
        let output = support::perchline(folder, &["live", name, "--port", "0"]);
        let said = support::said(&output);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert_eq!(support::printed(&output), "");
        let words = format!("{name}: another `perchline live` has this plan open; use its page");
        assert!(said.contains(&words), "{said}");
    };
    refused("plan.toml");
    refused("other.toml");
    assert_eq!(fs::read_to_string(unsaved(&sample)).unwrap(), text);
    // After a save, and after another program has put a new file in its place.
    assert_eq!(first.post("save", &json!({ "over": false })).0, 200);
    refused("plan.toml");
    fs::write(folder.join("new"), fs::read(&sample.plan).unwrap()).unwrap();
    fs::rename(folder.join("new"), &sample.plan).unwrap();
    std::thread::sleep(Duration::from_secs(1));
    refused("plan.toml");
    // Other verbs only read it.
    assert!(support::perchline(folder, &["check", "plan.toml"]).status.success());
    first.kill();
    let second = Program::start(folder);
    assert_eq!(offers(&second), [Value::Null; 0]);
}

/// A page whose plan is taken by another all the same, in the moment in which a
/// program replaces the file, says so; neither touches the other's text.
#[test]
fn two_pages_that_came_to_one_plan_are_told_and_keep_apart() {
    let served = serve_copy(small());
    let (folder, plan) = (served.copy.folder.path(), served.copy.plan.clone());
    let text = fs::read_to_string(&plan).unwrap();
    fs::write(folder.join("new"), &text).unwrap();
    // Locked before it takes the place: nobody is quicker.
    let other = fs::File::open(folder.join("new")).unwrap();
    other.try_lock().unwrap();
    let theirs = fs::File::create(folder.join("plan.toml.unsaved")).unwrap();
    theirs.try_lock().unwrap();
    fs::write(folder.join("plan.toml.unsaved"), "theirs").unwrap();
    fs::rename(folder.join("new"), &plan).unwrap();
    let warnings = || served.get("state").json()["warnings"].to_string();
    wait_for("it is told", PATIENCE, || warnings().contains("has this plan open too"));
    mast(&served, "7 m");
    let second = folder.join("plan.toml.unsaved-2");
    wait_for("the text", PATIENCE, || holds(&second, &with_mast(&text, "7 m")));
    assert!(holds(&folder.join("plan.toml.unsaved"), "theirs"));
    drop(other);
    wait_for("it has ended", PATIENCE, || !warnings().contains("has this plan open too"));
}

#[test]
fn a_file_that_somebody_else_puts_in_place_of_ours_is_not_written_over() {
    let served = serve_copy(small());
    let file = unsaved(&served.copy);
    let text = fs::read_to_string(&served.copy.plan).unwrap();
    mast(&served, "7 m");
    wait_for("the text", PATIENCE, || file.exists());
    // Moved to safety by a careful hand, and something else there.
    let aside = served.copy.folder.path().join("aside");
    fs::rename(&file, &aside).unwrap();
    fs::write(&file, "somebody's").unwrap();
    mast(&served, "8 m");
    let second = served.copy.folder.path().join("plan.toml.unsaved-2");
    wait_for("the next", PATIENCE, || holds(&second, &with_mast(&text, "8 m")));
    assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
    assert!(!second.exists());
    assert!(holds(&file, "somebody's") && holds(&aside, &with_mast(&text, "7 m")));
}

/// Later runs of any verb clear hidden files, not these.
#[test]
fn no_verb_clears_what_is_unsaved() {
    let sample = small();
    let folder = sample.folder.path();
    let live = Program::start(folder);
    live.mast("7 m");
    wait_for("the text", PATIENCE, || unsaved(&sample).exists());
    live.kill();
    let old = SystemTime::now() - Duration::from_secs(86_400);
    fs::File::options().write(true).open(unsaved(&sample)).unwrap().set_modified(old).unwrap();
    for out in [".", "out"] {
        let output =
            support::perchline(folder, &["coverage", "plan.toml", "--site", "Hotel", "--out", out]);
        assert!(output.status.success(), "{}", support::said(&output));
    }
    assert!(unsaved(&sample).exists());
    // A plan of a name that is cleared is none to work on.
    fs::copy(&sample.plan, folder.join(".perchline-plan.toml")).unwrap();
    let output = support::perchline(folder, &["live", ".perchline-plan.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(support::said(&output).contains("give the plan another name"), "{output:?}");
}

#[test]
fn a_plan_that_cannot_be_opened_says_where_unsaved_text_is() {
    let sample = small();
    let folder = sample.folder.path();
    fs::write(unsaved(&sample), "text").unwrap();
    let refused = |says: &str| {
        let output = support::perchline(folder, &["live", "plan.toml", "--port", "0"]);
        let said = support::said(&output);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(says), "{said}");
        assert!(said.contains("Unsaved changes to this plan are in "), "{said}");
        assert!(said.contains("plan.toml.unsaved. They are offered once"), "{said}");
        assert!(holds(&unsaved(&sample), "text"));
    };
    fs::write(&sample.plan, "[event]\nname = 3\n").unwrap();
    refused("plan.toml:2: ");
    fs::remove_file(&sample.plan).unwrap();
    refused("there is no such file");
    assert_eq!(names(folder), ["plan.toml.unsaved"]);
}

#[cfg(unix)]
mod places {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};

    use super::*;

    /// Tries to save and expects words, no change of anything, and the text kept.
    fn refused(served: &Served, over: bool, says: &str) {
        let answer = served.post("save", &json!({ "over": over }));
        let told = answer.json()["text"].as_str().unwrap().to_owned();
        assert_eq!(answer.status, 422, "{told}");
        assert!(told.contains("cannot be written") && told.contains(says), "{told}");
        assert!(told.contains("nothing was written"), "{told}");
        assert!(told.contains("Until then what is unsaved is in "), "{told}");
        let text = served.desk.lock().text().to_owned();
        assert!(holds(&unsaved(&served.copy), &text));
        assert_eq!(served.get("state").json()["changed"], true);
    }

    #[test]
    fn a_link_stays_a_link_and_its_plan_is_replaced() {
        let sample = small();
        let folder = sample.folder.path();
        fs::create_dir(folder.join("plans")).unwrap();
        fs::rename(&sample.plan, folder.join("plans/real.toml")).unwrap();
        fs::rename(folder.join("terrain.tif"), folder.join("plans/terrain.tif")).unwrap();
        symlink("plans/terrain.tif", folder.join("terrain.tif")).unwrap();
        symlink("plans/real.toml", &sample.plan).unwrap();
        let real = folder.join("plans/real.toml");
        let text = fs::read_to_string(&real).unwrap();
        let served = serve_copy(sample);
        let folder = served.copy.folder.path();
        mast(&served, "7 m");
        // All of it lies where the plan does.
        let beside = folder.join("plans/real.toml.unsaved");
        wait_for("the text", PATIENCE, || holds(&beside, &with_mast(&text, "7 m")));
        assert_eq!(names(folder), ["plan.toml", "plans"]);
        assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
        assert!(served.copy.plan.is_symlink());
        assert!(holds(&real, &with_mast(&text, "7 m")));
        assert!(!beside.exists());
        // Led elsewhere meanwhile: that file is nobody's to write.
        mast(&served, "8 m");
        fs::write(folder.join("plans/other.toml"), &text).unwrap();
        fs::remove_file(&served.copy.plan).unwrap();
        symlink("plans/other.toml", &served.copy.plan).unwrap();
        for over in [false, true] {
            let answer = served.post("save", &json!({ "over": over })).json();
            let told = answer["text"].as_str().unwrap();
            assert!(told.contains("the name leads to ") && told.contains("other.toml"), "{told}");
        }
        assert!(holds(&folder.join("plans/other.toml"), &text));
        assert!(holds(&real, &with_mast(&text, "7 m")));
        wait_for("the text", PATIENCE, || holds(&beside, &with_mast(&text, "8 m")));
        wait_for("told", PATIENCE, || !served.get("state").json()["underneath"].is_null());
        // And back.
        fs::remove_file(&served.copy.plan).unwrap();
        symlink("plans/real.toml", &served.copy.plan).unwrap();
        assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
        assert!(holds(&real, &with_mast(&text, "8 m")));
    }

    #[test]
    fn another_name_of_the_file_keeps_the_old_text_and_that_is_said() {
        let served = serve_copy(small());
        let other = served.copy.folder.path().join("other.toml");
        let text = fs::read_to_string(&served.copy.plan).unwrap();
        fs::hard_link(&served.copy.plan, &other).unwrap();
        mast(&served, "7 m");
        let note = served.post("save", &json!({ "over": false })).json()["note"].clone();
        assert!(note.as_str().unwrap().contains("that name still leads to the plan as it was"));
        assert!(holds(&other, &text));
        assert!(holds(&served.copy.plan, &with_mast(&text, "7 m")));
        // Apart from now on: nothing more to say.
        mast(&served, "8 m");
        assert!(served.post("save", &json!({ "over": false })).json()["note"].is_null());
    }

    #[test]
    fn a_read_only_plan_is_not_replaced() {
        let served = serve_copy(small());
        let text = fs::read_to_string(&served.copy.plan).unwrap();
        fs::set_permissions(&served.copy.plan, fs::Permissions::from_mode(0o444)).unwrap();
        mast(&served, "7 m");
        for over in [false, true] {
            refused(&served, over, "it is read-only");
        }
        assert!(holds(&served.copy.plan, &text));
        fs::set_permissions(&served.copy.plan, fs::Permissions::from_mode(0o640)).unwrap();
        assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
        let found = fs::metadata(&served.copy.plan).unwrap();
        assert_eq!(found.permissions().mode() & 0o777, 0o640, "as it was");
    }

    #[test]
    fn what_stands_in_the_plans_place_is_left_alone() {
        let served = serve_copy(small());
        let (plan, text) = (&served.copy.plan, fs::read_to_string(&served.copy.plan).unwrap());
        mast(&served, "7 m");
        let aside = served.copy.folder.path().join("aside.toml");
        fs::rename(plan, &aside).unwrap();
        refused(&served, false, "there is no such file any more");
        fs::create_dir(plan).unwrap();
        fs::write(plan.join("inside"), "").unwrap();
        for over in [false, true] {
            refused(&served, over, "it is a folder now");
        }
        assert!(plan.join("inside").exists());
        fs::remove_dir_all(plan).unwrap();
        // A pipe: opening it to read would wait for ever.
        assert!(Command::new("mkfifo").arg(plan).status().unwrap().success());
        refused(&served, true, "it is a pipe now");
        std::thread::sleep(Duration::from_secs(1));
        let state = served.get("state").json();
        assert!(state["underneath"].to_string().contains("a pipe now"), "{}", state["underneath"]);
        fs::remove_file(plan).unwrap();
        symlink("/dev/null", plan).unwrap();
        refused(&served, true, "the name leads to /dev/null now");
        fs::remove_file(plan).unwrap();
        let socket = std::os::unix::net::UnixListener::bind(plan).unwrap();
        refused(&served, true, "it is a socket now");
        drop(socket);
        fs::remove_file(plan).unwrap();
        // Back again, with the same text: nothing was lost.
        fs::rename(&aside, plan).unwrap();
        assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
        assert!(holds(plan, &with_mast(&text, "7 m")));
        assert_eq!(names(served.copy.folder.path()), ["plan.toml"]);
    }

    #[test]
    fn what_is_no_file_is_no_plan_to_save_to() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plan.toml");
        assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
        let said = PlanFile::open(&path).unwrap_err();
        assert!(said.contains("this is a pipe") && said.contains("name a regular file"), "{said}");
        let said = PlanFile::open(Path::new("/dev/null")).unwrap_err();
        assert!(said.contains("this is a device"), "{said}");
        let said = PlanFile::open(folder.path()).unwrap_err();
        assert!(said.contains("this is a folder"), "{said}");
    }

    /// A saved plan keeps its owner where this process may say whose it is.
    #[test]
    fn a_saved_plan_keeps_its_owner() {
        let served = serve_copy(small());
        if std::os::unix::fs::chown(&served.copy.plan, Some(12_345), Some(12_345)).is_err() {
            return Wanted::Owner.is_missing("whose a plan is cannot be changed");
        }
        mast(&served, "7 m");
        assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
        let found = fs::metadata(&served.copy.plan).unwrap();
        assert_eq!((found.uid(), found.gid()), (12_345, 12_345));
    }
}
