//! What radio comes to at a post, in an area and along a route, in words that
//! need no radio knowledge.

use geo::{Distance, Geodesic, InterpolatePoint};

use perchline_link::{Direction, Outcome};
use perchline_plan::{Indoors, Plan, UnitSystem};
use perchline_siting::{PostScore, RouteCourse, RouteScore, ShareScore, Stretch};
use perchline_units::{Degrees, METRES_PER_MILE, Metres, Position};

use super::{BriefInputs, PlaceLine, advice, plain, words};
use crate::route_strip::{lasting, pace, shorter, told_gaps};

/// How many posts have radio.
pub(super) fn headline(posts: &[PostScore]) -> String {
    let works = posts.iter().filter(|p| p.outcome.works()).count();
    let all = posts.len();
    let patchy = posts.iter().filter(|p| p.outcome == Outcome::Patchy).count();
    let at = if all == 1 { "post" } else { "posts" };
    if works == all {
        return format!("Radio should work at all {all} {at}.");
    }
    let rest = match patchy {
        0 => String::new(),
        n => format!(" and in some spots at {n} more"),
    };
    let needed: Vec<String> = posts
        .iter()
        .filter(|post| post.must && !post.outcome.works())
        .map(|post| plain(&post.post))
        .collect();
    let warning = if needed.is_empty() {
        String::new()
    } else {
        format!(" Not sure where it has to work: {}.", needed.join(", "))
    };
    format!("Radio should work at {works} of {all} {at}{rest}.{warning}")
}

/// One sentence on a post.
pub(super) fn post(plan: &Plan, score: &PostScore) -> String {
    let indoors: Option<Indoors> =
        plan.posts.iter().find(|p| p.name == score.post).and_then(|p| p.indoors);
    let (around, here) = match indoors {
        Some(_) => ("inside the building", "Inside the building"),
        None => ("around the post", "Here"),
    };
    let spots = score.probability.map_or_else(|| "0".to_owned(), words::hundredths);
    match score.outcome {
        Outcome::Strong => {
            format!("Radio should work all {around} ({spots} of 100 spots).")
        }
        Outcome::Clear => {
            format!("Radio should work in {spots} of 100 spots {around}.")
        }
        Outcome::Patchy => {
            format!("Radio should work in some spots only, about {spots} of 100 {around}.")
        }
        Outcome::OneWay => {
            let governing = score.budgets.as_ref().map(|b| b.governing);
            one_way(here, governing.unwrap_or(Direction::TalkIn))
        }
        Outcome::NoContact => format!("No radio contact is expected {around}."),
        Outcome::Unknown => UNKNOWN.to_owned(),
    }
}

/// Where the terrain has a gap on the way.
pub(super) const UNKNOWN: &str =
    "Not known: the map of the land has a hole there. Count on no radio.";

/// Who hears whom `here`, where the direction `governing` fails.
pub(super) fn one_way(here: &str, governing: Direction) -> String {
    match governing {
        Direction::TalkOut => format!("{here} others hear you, but you will not hear them."),
        Direction::TalkIn => format!("{here} you hear the others, but they will not hear you."),
    }
}

/// One sentence on an area.
pub(super) fn area(inputs: &BriefInputs<'_>, score: &ShareScore) -> PlaceLine {
    let works = score.share >= 1.0;
    let unknown = if score.unknown > 0 { " Part of it is not known." } else { "" };
    let sentence = if works {
        "Radio should work all over the area (every point sampled).".to_owned()
    } else if score.share >= 0.95 {
        "Radio should work almost all over the area.".to_owned()
    } else if score.share >= 0.05 {
        format!("Radio should work in about {} of 10 places of the area.", tenths(score.share))
    } else {
        "Radio should not be counted on in the area: a few spots at best.".to_owned()
    };
    let advice = if score.share >= 0.95 { Vec::new() } else { advice::area(inputs) };
    PlaceLine { name: plain(&score.name), works, sentence: sentence + unknown, advice }
}

/// One sentence on a route, and where its silent stretches are.
pub(super) fn route(
    inputs: &BriefInputs<'_>,
    score: &RouteScore,
    course: &RouteCourse,
) -> PlaceLine {
    let share = &score.share;
    let works = share.share >= 1.0;
    let unknown = if share.unknown > 0 { " Part of it is not known." } else { "" };
    let sentence = if works {
        "Radio should work all along the route (every point sampled).".to_owned()
    } else if share.share >= 0.05 {
        format!("Radio should work along {} of the route.", words::percent(share.share))
    } else {
        "Radio should not be counted on along the route: a few spots at best.".to_owned()
    };
    let advice = gaps(inputs, score, course).into_iter().collect();
    PlaceLine { name: plain(&share.name), works, sentence: sentence + unknown, advice }
}

/// Where the stretches without radio are: every one that is not short, or the
/// longest where all are.
fn gaps(inputs: &BriefInputs<'_>, score: &RouteScore, course: &RouteCourse) -> Option<String> {
    let units = inputs.plan.units;
    let (gaps, more) = told_gaps(score);
    let near = |gap: &Stretch| {
        let middle = (gap.from_m + gap.to_m) / 2.0;
        near_gap(inputs.plan, &score.share.name, middle)
            .map_or_else(String::new, |post| format!(", near {}", plain(&post)))
    };
    let whose = pace(course).map_or_else(String::new, |pace| format!(" {}", plain(&pace)));
    let told = match gaps.as_slice() {
        [] => return None,
        [only] => format!(
            "Longest stretch without: {}, beginning {} from the start of the route{}.",
            lasting(units, course, *only),
            units.distance(only.from_m),
            near(only)
        ),
        several => {
            let listed: Vec<String> = several
                .iter()
                .map(|gap| {
                    let from = units.distance(gap.from_m);
                    format!("{} from {from} on{}", lasting(units, course, *gap), near(gap))
                })
                .collect();
            format!(
                "Stretches without, from the start of the route: {}{}.",
                listed.join("; "),
                shorter(more)
            )
        }
    };
    Some(told + &whose)
}

/// The post nearest to a place along a route, if one is near enough to name it by.
fn near_gap(plan: &Plan, route: &str, along: Metres) -> Option<String> {
    /// Farther away a post's name helps nobody.
    const NEAR: Metres = Metres::new(800.0);
    let route = plan.routes.iter().find(|r| r.name == route)?;
    let mut left = along.value();
    let at = route.line.lines().find_map(|piece| {
        let (from, to) = (piece.start_point(), piece.end_point());
        let length = Geodesic.distance(from, to);
        if left > length {
            left -= length;
            return None;
        }
        let at = Geodesic.point_at_distance_between(from, to, left);
        Position::from_point(at).ok()
    })?;
    let nearest = plan
        .posts
        .iter()
        .map(|post| (post.at.distance(at), &post.name))
        .min_by(|a, b| a.0.value().total_cmp(&b.0.value()))?;
    (nearest.0 <= NEAR).then(|| nearest.1.clone())
}

/// How many of ten, never all and never none.
fn tenths(share: f64) -> String {
    format!("{:.0}", (share * 10.0).round().clamp(1.0, 9.0))
}

/// A distance as one says it, not as it is measured.
pub(crate) fn roughly(units: UnitSystem, distance: Metres) -> String {
    let to = |value: f64, step: f64| ((value / step).round() * step).max(step);
    let metres = distance.value();
    match units {
        UnitSystem::Metric if metres < 995.0 => format!("{:.0} m", to(metres, 10.0)),
        UnitSystem::Metric => format!("{:.1} km", metres / 1000.0),
        UnitSystem::Us if metres < METRES_PER_MILE / 4.0 => {
            format!("{:.0} ft", to(distance.feet(), 50.0))
        }
        UnitSystem::Us => format!("{:.1} miles", metres / METRES_PER_MILE),
    }
}

/// A bearing as one of eight directions.
pub(crate) fn towards(bearing: Degrees) -> &'static str {
    const NAMES: [&str; 8] =
        ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
    // From 0 to 8 after the turn is cut off.
    let eighth = (bearing.value().rem_euclid(360.0) / 45.0).round() as usize % NAMES.len();
    NAMES.get(eighth).copied().unwrap_or("north")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_round_and_directions_named() {
        assert_eq!(roughly(UnitSystem::Metric, Metres::new(743.0)), "740 m");
        assert_eq!(roughly(UnitSystem::Metric, Metres::new(2.0)), "10 m");
        assert_eq!(roughly(UnitSystem::Metric, Metres::new(996.0)), "1.0 km");
        assert_eq!(roughly(UnitSystem::Us, Metres::new(100.0)), "350 ft");
        assert_eq!(roughly(UnitSystem::Us, Metres::new(1609.3)), "1.0 miles");
        for (bearing, name) in [(0.0, "north"), (350.0, "north"), (136.0, "south-east")] {
            assert_eq!(towards(Degrees::new(bearing)), name);
        }
    }

    #[test]
    fn a_part_is_never_called_all_or_nothing() {
        assert_eq!(tenths(0.94), "9");
        assert_eq!(tenths(0.96), "9");
        assert_eq!(tenths(0.05), "1");
    }
}
