//! Samples added up: shares, lengths without contact and gaps.

use perchline_link::Outcome;
use perchline_units::Metres;

use super::demand::Sample;
use super::{ClassStretch, RouteScore, ShareScore, Stretch};

/// What one sample comes to; nothing where terrain is missing on the way.
pub(super) type Contact = Option<(f64, Outcome)>;

/// What talk-in and talk-out come to at one sample, each alone; nothing where terrain is
/// missing on the way.
pub(super) type EachWay = Option<(Outcome, Outcome)>;

/// The samples of an area or route together, each by its weight.
pub(super) fn share_score(name: &str, samples: &[Sample], contacts: &[Contact]) -> ShareScore {
    let of = |value: fn(f64, Outcome) -> f64| {
        let values = contacts
            .iter()
            .map(|contact| contact.map(|(probability, outcome)| value(probability, outcome)));
        mean(samples, values)
    };
    ShareScore {
        name: name.to_owned(),
        share: of(|_, outcome| f64::from(u8::from(outcome.works()))),
        probability: of(|probability, _| probability),
        samples: samples.len(),
        unknown: contacts.iter().filter(|c| c.is_none()).count(),
    }
}

/// The mean of what the samples come to, each by its weight; what is not known counts as
/// zero.
pub(super) fn mean(samples: &[Sample], values: impl Iterator<Item = Option<f64>>) -> f64 {
    let total: f64 = samples.iter().map(|s| s.weight).sum();
    let known = samples.iter().zip(values);
    let weighted = known.filter_map(|(sample, value)| value.map(|value| sample.weight * value));
    if total > 0.0 { weighted.sum::<f64>() / total } else { 0.0 }
}

/// The samples of a route, whose weights are lengths in metres, in order.
pub(super) fn route_score(
    name: &str,
    samples: &[Sample],
    contacts: &[Contact],
    each_way: &[EachWay],
) -> RouteScore {
    let (mut along, mut without) = (0.0, 0.0);
    let mut gaps: Vec<Stretch> = Vec::new();
    let mut is_open = false;
    for (sample, contact) in samples.iter().zip(contacts) {
        let end = along + sample.weight;
        let (probability, outcome) = contact.unwrap_or((0.0, Outcome::Unknown));
        without += sample.weight * (1.0 - probability);
        let to_m = Metres::new(end);
        match gaps.last_mut().filter(|_| is_open) {
            _ if outcome.works() => is_open = false,
            Some(gap) => gap.to_m = to_m,
            None => {
                gaps.push(Stretch { from_m: Metres::new(along), to_m });
                is_open = true;
            }
        }
        along = end;
    }
    RouteScore {
        share: share_score(name, samples, contacts),
        length_m: Metres::new(along),
        expected_without_contact_m: Metres::new(without),
        longest_gap: longest(&gaps),
        gaps,
        classes: classes(samples, contacts, each_way),
    }
}

/// Neighbours of one class as one stretch.
fn classes(samples: &[Sample], contacts: &[Contact], each_way: &[EachWay]) -> Vec<ClassStretch> {
    let mut along = 0.0;
    let mut classes: Vec<ClassStretch> = Vec::new();
    for (sample, (contact, each)) in samples.iter().zip(contacts.iter().zip(each_way)) {
        let from_m = Metres::new(along);
        along += sample.weight;
        let to_m = Metres::new(along);
        let outcome = contact.map_or(Outcome::Unknown, |(_, outcome)| outcome);
        let (talk_in, talk_out) = each.unwrap_or((Outcome::Unknown, Outcome::Unknown));
        let own = ClassStretch { stretch: Stretch { from_m, to_m }, outcome, talk_in, talk_out };
        let alike = |c: &&mut ClassStretch| {
            (c.outcome, c.talk_in, c.talk_out) == (outcome, talk_in, talk_out)
        };
        match classes.last_mut().filter(alike) {
            Some(before) => before.stretch.to_m = to_m,
            None => classes.push(own),
        }
    }
    classes
}

/// The longest stretch; of several the first.
fn longest(gaps: &[Stretch]) -> Option<Stretch> {
    gaps.iter().copied().reduce(
        |longest, gap| {
            if gap.length() > longest.length() { gap } else { longest }
        },
    )
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use perchline_units::{Degrees, Position};

    fn route(pieces: &[(f64, Contact)]) -> RouteScore {
        let at = Position::new(Degrees::new(0.0), Degrees::new(0.0)).unwrap();
        let samples: Vec<_> =
            pieces.iter().map(|(weight, _)| Sample { at, weight: *weight, part: 0.5 }).collect();
        let contacts: Vec<_> = pieces.iter().map(|(_, contact)| *contact).collect();
        let each: Vec<EachWay> = contacts.iter().map(|c| c.map(|(_, o)| (o, o))).collect();
        route_score("Course", &samples, &contacts, &each)
    }

    #[test]
    fn neighbours_of_one_class_are_one_stretch_from_end_to_end() {
        let (good, bad) = (Some((0.999, Outcome::Strong)), Some((0.4, Outcome::OneWay)));
        let score = route(&[(5.0, good), (6.0, good), (7.0, bad), (8.0, None), (9.0, bad)]);
        let told: Vec<_> = score
            .classes
            .iter()
            .map(|c| (c.stretch.from_m.value(), c.stretch.to_m.value(), c.outcome))
            .collect();
        let expected = [
            (0.0, 11.0, Outcome::Strong),
            (11.0, 18.0, Outcome::OneWay),
            (18.0, 26.0, Outcome::Unknown),
            (26.0, 35.0, Outcome::OneWay),
        ];
        assert_eq!(told, expected);
        // Apart where one direction alone differs.
        let at = Position::new(Degrees::new(0.0), Degrees::new(0.0)).unwrap();
        let samples = [Sample { at, weight: 4.0, part: 0.5 }; 2];
        let each = [
            Some((Outcome::NoContact, Outcome::Clear)),
            Some((Outcome::Clear, Outcome::NoContact)),
        ];
        let score = route_score("Course", &samples, &[bad, bad], &each);
        let ways: Vec<_> = score.classes.iter().map(|c| (c.talk_in, c.talk_out)).collect();
        assert_eq!(ways, each.map(Option::unwrap));
    }

    /// By hand: 20 m at 0.99, 10 m at 0.8, 25 m unknown, 5 m at 0.97, 30 m at 0.1.
    #[test]
    fn lengths_and_gaps_add_up_by_hand() {
        let score = route(&[
            (20.0, Some((0.99, Outcome::Strong))),
            (10.0, Some((0.8, Outcome::Patchy))),
            (25.0, None),
            (5.0, Some((0.97, Outcome::Clear))),
            (30.0, Some((0.1, Outcome::NoContact))),
        ]);
        assert_abs_diff_eq!(score.length_m.value(), 90.0);
        let without = 0.2 + 2.0 + 25.0 + 0.15 + 27.0;
        assert_abs_diff_eq!(score.expected_without_contact_m.value(), without, epsilon = 1e-12);
        assert_abs_diff_eq!(score.share.probability, 1.0 - without / 90.0, epsilon = 1e-12);
        assert_abs_diff_eq!(score.share.share, 25.0 / 90.0, epsilon = 1e-12);
        assert_eq!((score.share.samples, score.share.unknown), (5, 1));
        let gap = score.longest_gap.unwrap();
        assert_eq!((gap.from_m, gap.to_m), (Metres::new(20.0), Metres::new(55.0)));
        let gaps: Vec<_> = score.gaps.iter().map(|g| (g.from_m.value(), g.to_m.value())).collect();
        assert_eq!(gaps, [(20.0, 55.0), (60.0, 90.0)]);
    }

    #[test]
    fn a_gap_may_reach_either_end_and_the_first_of_two_equals_counts() {
        let (good, bad) = (Some((0.999, Outcome::Strong)), Some((0.4, Outcome::OneWay)));
        let gap = |pieces: &[(f64, Contact)]| {
            route(pieces).longest_gap.map(|g| (g.from_m.value(), g.to_m.value()))
        };
        assert_eq!(gap(&[(5.0, bad), (5.0, bad)]), Some((0.0, 10.0)));
        assert_eq!(gap(&[(5.0, good), (5.0, bad)]), Some((5.0, 10.0)));
        assert_eq!(gap(&[(5.0, bad), (5.0, good), (5.0, bad)]), Some((0.0, 5.0)));
        assert_eq!(gap(&[(5.0, good), (5.0, good)]), None);
        assert_eq!(gap(&[]), None);
    }
}
