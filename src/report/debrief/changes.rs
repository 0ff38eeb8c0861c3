//! What the next plan should have otherwise, as lines to paste into it.

use serde::Serialize;

use perchline_heard::estimate::Verdict;
use perchline_plan::Plan;

use super::Debrief;
use super::tables::verdict;

/// A change for the next plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What calls for it, and what to do.
    pub why: String,
    /// Where in the plan the lines belong; nothing where there are none.
    pub place: Option<String>,
    /// Lines to paste, TOML; none where the change is not one of the plan.
    pub lines: Vec<String>,
}

impl Change {
    fn to_do(why: String) -> Self {
        Self { why, place: None, lines: Vec::new() }
    }

    /// The lines with where they belong, as one text.
    #[must_use]
    pub fn text(&self) -> String {
        let place = self.place.iter().map(|place| format!("# {place}"));
        place.chain(self.lines.iter().cloned()).collect::<Vec<_>>().join("\n")
    }
}

/// Every change that the reports call for.
#[must_use]
pub fn changes(debrief: &Debrief, plan: &Plan) -> Vec<Change> {
    let mut changes = Vec::new();
    changes.extend(packs(debrief));
    changes.push(match debrief.learned.validation.verdict {
        Verdict::Worth => Change {
            why: "Plan with the corrections: they predict reports better that they were not made from".to_owned(),
            place: Some("in [prediction]".to_owned()),
            lines: vec!["calibration = \"calibration.toml\"".to_owned()],
        },
        Verdict::TooFew { .. } | Verdict::NoGain => Change::to_do(verdict(debrief)),
    });
    changes.extend(carried(debrief, plan));
    changes.extend(outliers(debrief));
    changes.extend(routes(debrief, plan));
    changes.extend(fallback(debrief));
    if debrief.log.rows > 0 && debrief.rejected.len() * 5 > debrief.log.rows {
        changes.push(Change::to_do(format!(
            "{} of {} rows of the log could not be used: hand out a form with the columns time, post, direction, heard, daq",
            debrief.rejected.len(),
            debrief.log.rows
        )));
    }
    changes
}

fn packs(debrief: &Debrief) -> impl Iterator<Item = Change> + '_ {
    debrief.packs.iter().map(|pack| match (pack.share, &pack.line, &pack.advice) {
        (Some(share), Some(line), _) => Change {
            why: format!(
                "Pack \"{}\" of {} held {:.0} % of its capacity",
                pack.pack,
                pack.station,
                share * 100.0
            ),
            place: Some(format!("in [[pack]] name = {}", quoted(&pack.pack))),
            lines: vec![line.clone()],
        },
        (_, _, Some(advice)) => Change::to_do(format!("{}: {advice}", pack.station)),
        _ => Change::to_do(format!(
            "{}: no capacity of its pack explains what was reported; check the meter, the time and how busy it was",
            pack.station
        )),
    })
}

/// Posts that missed contacts with the radio on the hip.
fn carried(debrief: &Debrief, plan: &Plan) -> Option<Change> {
    let on_the_hip = |because: &[String]| because.iter().any(|b| b.contains("on the hip"));
    let missed: Vec<_> = debrief.compared.iter().filter(|c| on_the_hip(&c.because)).collect();
    if missed.is_empty() {
        return None;
    }
    let posts = plan.posts.iter().filter(|p| missed.iter().any(|c| *c.place == p.name));
    let lines = posts
        .flat_map(|post| {
            [format!("# in [[post]] name = {}", quoted(&post.name)), "carry = \"head\"".to_owned()]
        })
        .collect();
    Some(Change {
        why: format!(
            "{} contacts were missed with the radio on the hip: hold it at the head to speak and to listen. If the posts will do that, the plan can say so",
            missed.len()
        ),
        place: None,
        lines,
    })
}

fn outliers(debrief: &Debrief) -> Option<Change> {
    match debrief.learned.outlier_count {
        0 => None,
        1 => Some(Change::to_do(
            "Ask about the outlier before the next event: nothing in the plan explains it, and no correction was made for it".to_owned(),
        )),
        many => Some(Change::to_do(format!(
            "Ask about the {many} outliers before the next event: nothing in the plan explains them, and no correction was made for them"
        ))),
    }
}

fn routes(debrief: &Debrief, plan: &Plan) -> Option<Change> {
    // One that was more likely than not to be good, and was not.
    let stretches: Vec<String> = debrief
        .routes
        .iter()
        .filter(|miss| miss.predicted >= 0.5)
        .map(|miss| super::document::stretch(miss, plan.units))
        .collect();
    (!stretches.is_empty()).then(|| {
        Change::to_do(format!(
            "Walk with a radio before the next event, where it is safe and allowed, where reports were not good: {}",
            stretches.join("; ")
        ))
    })
}

fn fallback(debrief: &Debrief) -> Option<Change> {
    let untried: Vec<&str> = debrief
        .fallback
        .iter()
        .filter(|channel| channel.reports == 0)
        .map(|channel| channel.channel.as_str())
        .collect();
    (!untried.is_empty()).then(|| {
        Change::to_do(format!(
            "Nobody reported from {}: call round on it once before the next event and log it with the columns from, to, channel, heard",
            untried.join(" or ")
        ))
    })
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(crate::brief::plain(text)).to_string()
}
