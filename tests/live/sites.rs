//! The site that the page opens on, several sites at once, and routes from end to end:
//! each held against what the engine and the other verbs come to.

use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use serde_json::{Value, json};

use crate::support::live::{Program, Served, copy, serve, small, wait_for};
use crate::support::{perchline, said};
use perchline::link::Outcome;
use perchline::report::layers::{Packing, png};
use perchline::siting::map_site;

/// What `rank --json` puts first for the plan's relay.
fn ranked_first(folder: &std::path::Path) -> String {
    let output = perchline(folder, &["rank", "plan.toml", "--json", "--maps", "none"]);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"]["rankings"][0]["sites"][0]["site"].as_str().unwrap().to_owned()
}

#[test]
fn the_page_opens_on_the_site_that_rank_puts_first_and_says_so() {
    let sample = copy("ferry-lights.toml", |text| text);
    let folder = sample.folder.path();
    let best = ranked_first(folder);
    let plan = std::fs::read_to_string(&sample.plan).unwrap();
    assert!(plan.find("[[site]]").unwrap() < plan.find(&format!("\"{best}\"")).unwrap());
    let program = Program::start(folder);
    let state = program.get("state");
    assert_eq!(state["look"]["site"], best.as_str());
    assert_eq!(
        state["opening"],
        format!("Opened on {best}: rank put it first of 6 sites on Relay.")
    );
    assert_eq!(program.printed["opening"]["words"], state["opening"]);
    program.kill();
    // Whoever asks for another site gets that.
    let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
    command.args(["live", "plan.toml", "--port", "0", "--json", "--site", "hotel"]);
    command.current_dir(folder);
    let asked = Program::run(command);
    assert_eq!(asked.get("state")["opening"], "Opened on Hotel, as asked for.");
    asked.kill();
}

#[test]
fn where_a_ranking_takes_long_the_first_site_is_shown_and_told() {
    let more = |text: String| {
        let one = |n: usize| {
            format!(
                "\n[[site]]\nname = \"Spare {n}\"\nat = \"46.98{n:02}, -34.90\"\nroof = \"0 m above ground\"\nmast = \"3 m\"\n"
            )
        };
        text + &(10..40).map(one).collect::<String>()
    };
    let many = copy("ferry-lights.toml", more);
    let program = Program::start(many.folder.path());
    let state = program.get("state");
    let first = state["sites"][0]["name"].as_str().unwrap();
    assert_eq!(state["look"]["site"], first);
    let told = state["opening"].as_str().unwrap();
    assert_eq!(
        told,
        format!(
            "Opened on {first}, the plan's first site: to rank its 36 sites takes too long here; perchline rank does it."
        )
    );
    program.kill();
    let one = small();
    let text = std::fs::read_to_string(&one.plan).unwrap();
    std::fs::write(&one.plan, &text[..text.rfind("[[site]]").unwrap()]).unwrap();
    let only = Program::start(one.folder.path());
    assert_eq!(only.get("state")["opening"], "Opened on Hotel, the plan's only site.");
    only.kill();
}

/// The state once all sites that were asked for are laid together.
fn laid(served: &Served) -> Value {
    served.settled();
    let mut state = Value::Null;
    wait_for("several sites", Duration::from_secs(120), || {
        state = served.get("state").json();
        state["together"]["complete"] == true && state["stage"] == "scored"
    });
    state
}

fn ask(served: &Served, sites: &[&str]) -> Value {
    let answer = served.post("together", &json!({ "sites": sites }));
    assert_eq!(answer.status, 200, "{:?}", String::from_utf8_lossy(&answer.body));
    laid(served)
}

fn pixels(png: &[u8]) -> image::RgbImage {
    image::load_from_memory(png).unwrap().to_rgb8()
}

#[test]
fn several_sites_are_the_coverages_of_each_laid_together() {
    let served = serve();
    assert_eq!(served.settled()["together"]["sites"], json!([]));
    assert_eq!(served.get("together.png?how=best").status, 422);
    // One site is its own picture, to the pixel.
    let looked_at = served.settled()["look"]["site"].as_str().unwrap().to_owned();
    ask(&served, &[&looked_at]);
    let alone = served.get("coverage.png").body;
    assert!(pixels(&served.get("together.png?how=best").body) == pixels(&alone));

    let sites = ["Hotel", "Hospital", "Ridge overlook"];
    let state = ask(&served, &sites);
    // In the plan's order, whatever was asked.
    assert_eq!(state["together"]["laid"], json!(["Hospital", "Hotel", "Ridge overlook"]));
    let (opened, board, laid_now) = {
        let state = served.desk.lock();
        (state.opened.clone(), state.board.clone(), state.together.laid().unwrap().clone())
    };
    // Each site by the engine of `rank`, cell for cell.
    let never = AtomicBool::new(false);
    let inputs = opened.rank_inputs(&board.grid, &|| (), &never);
    let channel = opened.plan.channels.iter().find(|c| c.has_station()).unwrap();
    let site = |name: &str| opened.plan.sites.iter().find(|s| s.name == name).unwrap();
    let covered: Vec<_> =
        laid_now.sites.iter().map(|s| map_site(&inputs, channel, site(s)).unwrap()).collect();
    let mut counted = [0usize; 4];
    for (cell, best) in laid_now.best.indexed_iter() {
        let classes: Vec<Outcome> = covered.iter().map(|c| c.outcome[cell]).collect();
        assert_eq!(*best, *classes.iter().max().unwrap(), "{cell:?}: {classes:?}");
        let serving = classes.iter().filter(|class| class.works()).count();
        assert_eq!(laid_now.count[cell].map(usize::from), Some(serving), "{cell:?}: {classes:?}");
        counted[serving] += 1;
        let (row, column) = cell;
        let by = laid_now.serving(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        let works = |(site, class): (&String, &Outcome)| class.works().then(|| site.clone());
        let expected: Vec<_> = laid_now.sites.iter().zip(&classes).filter_map(works).collect();
        assert_eq!(by, expected, "{cell:?}");
    }
    assert!(counted.iter().all(|cells| *cells > 0), "{counted:?}");
    // The legend has the same shares, from the most sites to none.
    let cells = laid_now.best.len() as f64;
    let rows = state["together"]["count"].as_array().unwrap();
    for (row, number) in rows.iter().zip([3, 2, 1, 0]) {
        assert_eq!(row["patch"], format!("served-{number}"));
        assert!((row["share"].as_f64().unwrap() - counted[number] as f64 / cells).abs() < 1e-12);
    }
    let layers = board.layers(&opened);
    for (how, image) in [
        ("best", layers.laid(&laid_now.best, board.size).unwrap()),
        ("count", layers.counts(&laid_now.count, board.size).unwrap()),
    ] {
        let made = png(&image, Packing::Fast).unwrap();
        assert!(served.get(&format!("together.png?how={how}")).body == made, "{how}");
    }
    // The pointer tells the same.
    let here = served.get("here?column=100.5&row=100.5").json();
    let by = laid_now.serving(100.5, 100.5).unwrap();
    let told = here["together"].as_str().unwrap();
    assert!(by.iter().all(|site| told.contains(site)), "{told}: {by:?}");
}

#[test]
fn several_sites_follow_changes_names_and_removals() {
    let served = serve();
    served.settled();
    let before = ask(&served, &["Hotel", "Hospital"]);
    let picture = served.get("together.png?how=count").body;
    // What they are made of changes, and comes back.
    let radio = &before["carried"]["name"];
    let power = json!({ "change": "power", "radio": radio, "power": "0.2 W" });
    assert_eq!(served.post("change", &power).status, 200);
    let weak = laid(&served);
    assert!(weak["together"]["number"].as_u64() > before["together"]["number"].as_u64());
    assert!(served.get("together.png?how=count").body != picture);
    assert_eq!(served.post("undo", &json!({})).status, 200);
    laid(&served);
    assert!(served.get("together.png?how=count").body == picture);
    // A new name stays ticked; a site that is gone is not.
    let rename =
        json!({ "change": "rename", "kind": "site", "name": "Hotel", "to": "Grand hotel" });
    let answer = served.post("change", &rename);
    assert_eq!(answer.status, 200, "{}", answer.json());
    let renamed = laid(&served);
    assert_eq!(renamed["together"]["sites"], json!(["Hospital", "Grand hotel"]));
    assert!(served.get("together.png?how=count").body == picture);
    let remove = json!({ "change": "remove", "kind": "site", "name": "Grand hotel" });
    let answer = served.post("change", &remove);
    assert_eq!(answer.status, 200, "{}", answer.json());
    assert_eq!(laid(&served)["together"]["laid"], json!(["Hospital"]));
    // What makes no sense is refused and changes nothing.
    for sites in [json!(["Nowhere"]), json!("Hospital"), json!([1])] {
        let answer = served.post("together", &json!({ "sites": sites }));
        assert!((400..500).contains(&answer.status), "{sites}: {}", answer.status);
    }
    assert_eq!(laid(&served)["together"]["sites"], json!(["Hospital"]));
    let none = ask(&served, &[]);
    assert_eq!(none["together"]["laid"], json!([]));
    assert_eq!(served.get("together.png?how=best").status, 422);
}

/// The page's strips are those of the score that it shows, and their words those of the
/// briefing.
#[test]
fn routes_from_end_to_end_are_those_of_the_score() {
    let served = serve();
    let state = served.settled();
    let told = served.get("strips").json();
    assert_eq!(told["aim"], state["aim"]);
    let score = served.desk.lock().latest.score.clone().unwrap();
    let strips = told["strips"].as_array().unwrap();
    assert_eq!(strips.len(), score.routes.len());
    for (strip, route) in strips.iter().zip(&score.routes) {
        assert_eq!(strip["name"], route.share.name.as_str());
        let classes = strip["classes"].as_array().unwrap();
        assert_eq!(classes.len(), route.classes.len());
        for (told, class) in classes.iter().zip(&route.classes) {
            let outcome = serde_json::to_value(class.outcome).unwrap();
            assert_eq!(told["ways"][0]["outcome"], outcome);
        }
        assert!(strip["picture"].is_null(), "nobody asked for a drawing");
    }
    // Drawn as wide as was asked for, within what a screen has.
    for (asked, drawn) in [(640, 640), (1, 480), (99_999, 2000)] {
        let wide = served.get(&format!("strips?across={asked}")).json();
        let picture = &wide["strips"][0]["picture"];
        assert_eq!(picture["width"], drawn);
        let address = picture["address"].as_str().unwrap();
        assert!(address.starts_with("data:image/png;base64,"));
    }
    // The briefing of the same site says the same stretches.
    let site = state["look"]["site"].as_str().unwrap();
    let folder = served.copy.folder.path();
    let output = perchline(folder, &["brief", "plan.toml", "--site", site, "--out", "brief"]);
    assert!(output.status.success(), "{}", said(&output));
    let html = std::fs::read_to_string(folder.join("brief/brief.html")).unwrap();
    for gap in strips[0]["gaps"].as_array().unwrap() {
        let gap = gap.as_str().unwrap();
        assert!(html.contains(&format!("<li>{gap}</li>")), "the briefing lacks {gap:?}");
    }
}

/// `ready` draws the routes of the site that it judges as `coverage` draws them.
#[test]
fn ready_draws_the_routes_as_coverage_does() {
    let sample = copy("ferry-lights.toml", |text| text);
    let folder = sample.folder.path();
    let best = ranked_first(folder);
    for arguments in [
        vec!["ready", "plan.toml", "--out", "ready"],
        vec!["coverage", "plan.toml", "--site", &best, "--out", "coverage"],
    ] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
        command.args(&arguments).current_dir(folder).env("SOURCE_DATE_EPOCH", "1790000000");
        let output = command.output().unwrap();
        assert!(output.status.success() || arguments[0] == "ready", "{}", said(&output));
    }
    let ready = std::fs::read(folder.join("ready/ready-routes.png")).unwrap();
    let files = std::fs::read_dir(folder.join("coverage")).unwrap();
    let other = files
        .map(|file| file.unwrap().path())
        .find(|path| path.to_str().unwrap().ends_with("-routes.png"))
        .unwrap();
    assert!(pixels(&ready) == pixels(&std::fs::read(other).unwrap()));
}
