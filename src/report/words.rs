//! Outcomes, lengths and places in words that need no radio knowledge.

use perchline_assessment::RoofConflict;
use perchline_link::{Direction, Outcome, PathStudy};
use perchline_plan::{Houses, Plan, Service};
use perchline_units::Megahertz;

use super::cautions::Output;
use super::screen::Screen;

/// A class of the map by the spots that work in it, where the share
/// `reliability` of them is wanted.
pub fn legend(outcome: Outcome, reliability: f64) -> String {
    let spots = outcome.from_probability(reliability).map(per_hundred);
    match (outcome, spots) {
        (Outcome::Strong | Outcome::Clear, Some(spots)) => {
            format!("Clear both ways: {spots} of 100 spots or more")
        }
        (Outcome::Patchy, Some(spots)) => {
            format!("Patchy, {spots} of 100 or more: move a few steps")
        }
        _ => meaning(outcome).to_owned(),
    }
}

/// A wanted share of spots as a number of a hundred, with decimals where it has any.
pub(super) fn per_hundred(share: f64) -> String {
    format!("{:.1}", share * 100.0).trim_end_matches(".0").to_owned()
}

/// How sure it is that the wanted share of spots works here, whole percents and
/// never all.
#[must_use]
pub fn sure(probability: f64) -> String {
    format!("{:.0} %", (probability * 100.0).floor().clamp(0.0, 99.0))
}

/// How many of a hundred spots work, from the probability for one: whole ones,
/// and never all, which no prediction promises.
pub fn spots(probability: f64) -> String {
    format!("{} of 100", hundredths(probability))
}

/// The same, the number alone.
pub fn hundredths(probability: f64) -> String {
    // A hair more, so that 0.57 is 57.
    format!("{:.0}", (probability * 100.0 + 1e-9).floor().min(99.0))
}

/// A share of the time, 0 to 1, in whole percent.
pub fn share_of_time(share: f64) -> String {
    if share < 0.01 { "less than 1 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

/// What a class means to someone who stands there.
pub const fn meaning(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "Clear both ways, with room to spare",
        Outcome::Clear => "Clear both ways",
        Outcome::Patchy => "Patchy: move a few steps and try again",
        Outcome::OneWay => "One way only: one hears, the other does not",
        Outcome::NoContact => "No contact expected",
        Outcome::Unknown => "Not known: gap in the terrain file",
    }
}

/// The same in the room of a table's cell.
pub const fn short(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "Well clear",
        Outcome::Clear => "Clear",
        Outcome::Patchy => "Patchy",
        Outcome::OneWay => "One way only",
        Outcome::NoContact => "No contact",
        Outcome::Unknown => "Not known",
    }
}

/// A class by a name without spaces, for styles and files; the same as in JSON.
#[must_use]
pub const fn id(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "strong",
        Outcome::Clear => "clear",
        Outcome::Patchy => "patchy",
        Outcome::OneWay => "one-way",
        Outcome::NoContact => "no-contact",
        Outcome::Unknown => "unknown",
    }
}

/// The station's name in a sentence.
pub const fn station(service: Service) -> &'static str {
    match service {
        Service::Relay { .. } => "relay",
        Service::Simplex { .. } => "station",
        Service::Packet { .. } => "digipeater",
    }
}

/// Who speaks and who hears in one direction of a link, with the trade's word
/// where there is a station.
pub fn way_of(study: &PathStudy, direction: Direction) -> String {
    let (speaking, hearing) = study.ends(direction);
    let ends = format!("{} to {}", speaking.name, hearing.name);
    match study.service {
        Service::Simplex { .. } => ends,
        _ => format!("{}: {ends}", way(direction)),
    }
}

/// The same within a sentence: "talk-in (Aid 3 to Hotel)".
pub fn ends_of(study: &PathStudy, direction: Direction) -> String {
    let (speaking, hearing) = study.ends(direction);
    let ends = format!("{} to {}", speaking.name, hearing.name);
    match study.service {
        Service::Simplex { .. } => ends,
        _ => format!("{} ({ends})", way(direction)),
    }
}

/// A word with its first letter large, for the beginning of a sentence.
pub(super) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The method of a study, and what stands in for it on a short path.
pub fn method_of(study: &PathStudy) -> String {
    let models = [study.budgets.talk_in.model, study.budgets.talk_out.model];
    match models {
        [one, other] if one.is_the_method() && other.is_the_method() => study.method.to_owned(),
        [one, other] if one == other => format!("{}, here {one}", study.method),
        [one, other] => {
            let (inward, outward) = (way(Direction::TalkIn), way(Direction::TalkOut));
            format!("{}, here {inward} by {one}, {outward} by {other}", study.method)
        }
    }
}

/// A frequency as a radio shows it: three decimals, four where the raster of
/// channels needs them.
pub fn megahertz(frequency: Megahertz) -> String {
    let f = frequency.value();
    let on_kilohertz = ((f * 1e3).round() - f * 1e3).abs() < 0.05;
    if on_kilohertz { format!("{f:.3}") } else { format!("{f:.4}") }
}

/// A share from 0 to 1 in whole percent. Nothing but all is 100, nothing but none is 0.
pub fn percent(share: f64) -> String {
    let rounded = (share * 100.0).round();
    let whole = if share < 1.0 { rounded.min(99.0) } else { rounded };
    let whole = if share > 0.0 { whole.max(1.0) } else { whole };
    format!("{whole:.0} %")
}

/// A mean probability in tenths of a percent, rounded down: sites differ by little.
pub fn contact(probability: f64) -> String {
    format!("{:.1} %", (probability * 1e3 + 1e-9).floor() / 10.0)
}

/// The trade's word for a direction.
#[must_use]
pub const fn way(direction: Direction) -> &'static str {
    match direction {
        Direction::TalkIn => "talk-in",
        Direction::TalkOut => "talk-out",
    }
}

/// What a reader must know of any prediction, for documents: what is missing first.
#[must_use]
pub const fn caveats(houses: Houses) -> &'static [&'static str] {
    match houses {
        Houses::Unknown => &[NO_BUILDINGS, BARE, WALK],
        Houses::Stated | Houses::OnFile => foot(houses),
    }
}

/// The same for the foot of a text or a drawing, whose heading says what is missing.
#[must_use]
pub const fn foot(houses: Houses) -> &'static [&'static str] {
    match houses {
        Houses::Unknown => &[BARE, WALK],
        Houses::Stated => &[
            "A prediction from bare terrain and a class of surroundings: no single building or tree is in it.",
            WALK,
        ],
        Houses::OnFile => {
            &["A prediction: buildings and trees count as far as the files know them.", WALK]
        }
    }
}

/// What the heading of a result says where the plan knows no houses.
#[must_use]
pub const fn heading(houses: Houses) -> Option<&'static str> {
    match houses {
        Houses::Unknown => Some(NO_BUILDINGS),
        Houses::Stated | Houses::OnFile => None,
    }
}

/// The same in a line, where what settles it is told below.
#[must_use]
pub const fn lacking(houses: Houses) -> Option<&'static str> {
    match houses {
        Houses::Unknown => Some(LESS_IN_A_TOWN),
        Houses::Stated | Houses::OnFile => None,
    }
}

/// The same for people without radio knowledge.
#[must_use]
pub const fn heading_for_all(houses: Houses) -> Option<&'static str> {
    match houses {
        Houses::Unknown => Some(
            "No buildings in this plan: in a town expect radio to work in fewer places than this says.",
        ),
        Houses::Stated | Houses::OnFile => None,
    }
}

/// The range is common practice, no source.
const LESS_IN_A_TOWN: &str = "No buildings in this plan: in a town expect 15 to 25 dB less.";

/// The same, with what to do.
const NO_BUILDINGS: &str =
    "No buildings in this plan: in a town expect 15 to 25 dB less. Set surroundings.";

/// What surroundings a plan may state, and where.
pub const SURROUNDINGS: &str = "under [prediction]: \"town\", \"suburb\", \"village\" or \"open\"";

const BARE: &str = "A prediction from bare terrain: buildings and trees will make it worse.";

const WALK: &str = "Walk it with the real radios before anyone relies on it.";

/// For the end of a text, one a line: what a reader must know of the prediction, and
/// what can hurt.
#[must_use]
pub fn closing(plan: &Plan, output: Output) -> Screen {
    let foot: String = foot(plan.houses()).iter().map(|line| format!("{line}\n")).collect();
    Screen::new(foot).cautions(plan, output)
}

/// What a shared roof costs: which station desenses which, by how much or more.
pub(super) fn desenses(
    RoofConflict { from, to, desense_db, overloaded, .. }: &RoofConflict,
) -> String {
    let more = if *overloaded { " or more" } else { "" };
    format!("{from} desenses {to} by {desense_db:.0}{more}")
}

/// The first few of some names, and how many more there are.
#[must_use]
pub(super) fn first_of<S: AsRef<str>>(names: &[S], most: usize) -> String {
    let some: Vec<&str> = names.iter().take(most).map(AsRef::as_ref).collect();
    match names.len().saturating_sub(most) {
        0 => some.join(", "),
        more => format!("{} and {more} more", some.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use perchline_plan::{MOST_TOWN_LOSS, TOWN_LOSS};

    use super::*;

    #[test]
    fn what_is_lacking_begins_the_heading() {
        assert!(NO_BUILDINGS.starts_with(LESS_IN_A_TOWN));
    }

    #[test]
    fn classes_are_called_as_in_json() {
        for outcome in Outcome::ALL {
            assert_eq!(serde_json::to_value(outcome).unwrap(), id(outcome));
        }
    }

    #[test]
    fn a_share_is_never_rounded_to_all_or_nothing() {
        assert_eq!(percent(0.9999), "99 %");
        assert_eq!(percent(0.0001), "1 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(0.625), "63 %");
    }

    #[test]
    fn classes_and_spots_read_as_whole_numbers() {
        assert_eq!(spots(0.57), "57 of 100");
        assert_eq!(spots(0.9999), "99 of 100");
        assert_eq!(spots(1.0), "99 of 100");
        assert_eq!(spots(0.004), "0 of 100");
        let clear = |reliability| legend(Outcome::Clear, reliability);
        assert_eq!(clear(0.95), "Clear both ways: 95 of 100 spots or more");
        assert_eq!(clear(0.975), "Clear both ways: 97.5 of 100 spots or more");
        assert!(legend(Outcome::Strong, 0.95).contains("99 of 100"));
        assert!(legend(Outcome::Strong, 0.999).contains("99.9 of 100"));
    }

    #[test]
    fn the_loss_of_a_town_has_one_number() {
        assert!(NO_BUILDINGS.contains(TOWN_LOSS), "{NO_BUILDINGS}");
        assert!(TOWN_LOSS.ends_with(&format!(" to {MOST_TOWN_LOSS:.0}")), "{TOWN_LOSS}");
    }

    #[test]
    fn frequencies_read_as_on_a_radio() {
        assert_eq!(megahertz(Megahertz::new(147.0)), "147.000");
        assert_eq!(megahertz(Megahertz::new(446.006_25)), "446.0063");
        assert_eq!(megahertz(Megahertz::new(145.6)), "145.600");
    }
}
