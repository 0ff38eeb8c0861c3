//! Coverage against the height of masts, as text.

use perchline_plan::{Plan, UnitSystem};
use perchline_power::mast::clear_of_lines;
use perchline_siting::masts::{MastStudy, STEP, WORTH};
use perchline_units::Metres;

use super::screen::{Rows, Screen};
use super::tables::{printed, table};
use super::words::{contact, percent};

/// What the knee is, in words.
#[must_use]
pub fn knee_rule(units: UnitSystem) -> String {
    format!(
        "The knee is the least height beyond which no further step of {} adds {:.0} in 100 of weighted coverage or more.",
        units.height(STEP),
        WORTH * 100.0
    )
}

/// What the feed line does when the mast grows.
#[must_use]
pub fn feed_line_rule(plan: &Plan) -> &'static str {
    if plan.masts.feed_line_grows {
        "A longer mast has a longer cable: its loss is counted (feed_line_grows)."
    } else {
        "The feed line is taken as the plan states it at every height; [masts] feed_line_grows = true makes the cable longer with the mast."
    }
}

/// One table a site and a summary of all.
#[must_use]
pub fn mast_screen(plan: &Plan, channel: &str, studies: &[&MastStudy]) -> Screen {
    let units = plan.units;
    let title = format!("{}: how much mast, channel {channel}\n", plan.event.name);
    let mut summary = table(
        ["Site", "Planned mast", "Coverage", "Knee", "Coverage there", "All must-have posts from"],
        &[1, 2, 3, 4],
    );
    for study in studies {
        let is_refused = |mast: Metres| study.refused_from_m.is_some_and(|from| mast >= from);
        let planned = if is_refused(study.planned_mast_m) {
            "REFUSED".to_owned()
        } else {
            at(study, study.planned_mast_m)
        };
        let knee =
            if study.heights.is_empty() { "none".to_owned() } else { units.height(study.knee_m) };
        summary.add_row([
            if study.available {
                study.site.clone()
            } else {
                format!("{} (not available)", study.site)
            },
            units.height(study.planned_mast_m),
            planned,
            knee,
            at(study, study.knee_m),
            least(study, units),
        ]);
    }
    let told = |study: &&MastStudy| Some((refused(study, units)? + "\n", study.refused_from_m));
    let (told, from): (Vec<String>, Vec<Option<Metres>>) = studies.iter().filter_map(told).unzip();
    let is_refused = from.iter().map(Option::is_some);
    let mut screen = Screen::default()
        .rows(Rows::of(title, summary, "sites"))
        .rows(
            Rows::lines("", told, "sites whose power lines are not stated")
                .failing(is_refused, "sites with a power line")
                .called("power lines"),
        )
        .both(format!("{}\n", knee_rule(units)))
        .long_only("what the feed line does", format!("{}\n", feed_line_rule(plan)));
    for study in studies.iter().filter(|study| !study.heights.is_empty()) {
        let mut out = table(
            [
                "Antenna over roof",
                "Over ground",
                "Coverage",
                "Adds",
                "Posts clear",
                "Must-have",
                "Map",
            ],
            &[0, 1, 2, 3, 4, 6],
        );
        let mut before: Option<f64> = None;
        for score in &study.heights {
            let adds = before.map_or_else(String::new, |b| {
                let adds = format!("{:+.1}", (score.weighted_probability - b) * 100.0);
                // What rounds to nothing has no sign.
                if ["+0.0", "-0.0"].contains(&adds.as_str()) {
                    "0.0".to_owned()
                } else {
                    adds.replace('-', "−")
                }
            });
            before = Some(score.weighted_probability);
            out.add_row([
                units.height(score.mast_m),
                units.height(score.mast_m + study.roof_above_ground_m),
                contact(score.weighted_probability),
                adds,
                score.posts_covered.to_string(),
                if score.must_posts_met { "all clear" } else { "missed" }.to_owned(),
                score.map_share.map_or_else(|| "-".to_owned(), percent),
            ]);
        }
        let heights = format!("\n{}\n{}\n", study.site, printed(&out));
        screen = screen.long_only("every height that was tried", heights);
    }
    screen
}

/// Which heights a power line refuses, in a sentence; that none is known where the plan
/// says nothing of one.
pub(super) fn refused(study: &MastStudy, units: UnitSystem) -> Option<String> {
    let Some(line) = study.power_line_m else {
        return Some(format!(
            "{}: the plan states no distance to a power line; look before a mast goes up.",
            study.site
        ));
    };
    let from = study.refused_from_m?;
    Some(format!(
        "{}: REFUSED from {} on: an antenna there has to stand farther than {} from any power line, and one is {} away.",
        study.site,
        units.height(from),
        units.height(clear_of_lines(from)),
        units.height(line)
    ))
}

/// Contact at the greatest height tried that is no higher than `mast`.
fn at(study: &MastStudy, mast: Metres) -> String {
    let no_higher = study.heights.iter().rev().find(|s| s.mast_m <= mast);
    no_higher.map_or_else(String::new, |s| contact(s.weighted_probability))
}

/// From which height every must-have post works, or what stands in the way.
fn least(study: &MastStudy, units: UnitSystem) -> String {
    if let Some(least) = study.all_must_posts_from_m {
        return units.height(least);
    }
    let Some(highest) = study.heights.last().map(|score| score.mast_m) else {
        return "no mast at all: a power line is too near".to_owned();
    };
    let missing: Vec<String> = study
        .still_missing
        .iter()
        .map(|m| match m.missing_db {
            Some(missing) => format!("{} still lacks {missing:.1}", m.post),
            None => format!("{} is not known", m.post),
        })
        .collect();
    format!("no height up to {}: {}", units.height(highest), missing.join(", "))
}
