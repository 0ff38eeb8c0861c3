//! What a plan says in two places that do not agree.

use perchline_plan::{Plan, Remark};
use perchline_terrain::Terrain;
use perchline_units::{Metres, Position};

/// Time zones follow the sun to within so many hours, save for a few places that
/// keep the time of a far capital (ours; the largest difference on land is about
/// three and a half hours with summer time).
const MOST_HOURS_OFF: f64 = 3.5;

/// Terrain with larger cells loses the ridges and hollows that decide a link over
/// a few kilometres (ours).
const COARSE: Metres = Metres::new(100.0);

/// Posts nearer than this to each other are one place (ours).
const ONE_PLACE: Metres = Metres::new(5.0);

/// The plan's positions against the time zone of its event.
pub(super) fn zone_remark(plan: &Plan) -> Option<Remark> {
    let places: Vec<Position> = plan.sites.iter().map(|s| s.at).collect();
    let places = places.into_iter().chain(plan.posts.iter().map(|p| p.at));
    let zone = f64::from(plan.event.starts.offset().seconds()) / 3600.0;
    let farthest = places
        .map(|at| (at, hours_apart(at.longitude().value() / 15.0, zone)))
        .max_by(|(_, a), (_, b)| a.abs().total_cmp(&b.abs()))?;
    let (at, hours) = farthest;
    (hours.abs() > MOST_HOURS_OFF).then(|| Remark {
        about: placed(plan, "event", "time_zone"),
        text: format!(
            "the event's clock is UTC{zone:+.1} h and the sun at longitude {:.2} is {:.1} h {} it: \
             is the time zone wrong, or a longitude (its sign, its zone)?",
            at.longitude().value(),
            hours.abs(),
            if hours > 0.0 { "ahead of" } else { "behind" }
        ),
    })
}

/// Hours from one clock to another around the day, -12 to 12.
fn hours_apart(sun: f64, zone: f64) -> f64 {
    (sun - zone + 12.0).rem_euclid(24.0) - 12.0
}

/// The terrain's cells against what the plan asks of them.
pub(super) fn cell_remark(plan: &Plan, terrain: &Terrain) -> Option<Remark> {
    let cell = terrain.spacing();
    let near = nearest_posts(plan).filter(|(apart, ..)| *apart < cell);
    let text = match near {
        Some((apart, one, other)) => format!(
            "its cells are {cell:.0} wide, and posts \"{one}\" and \"{other}\" are {apart:.0} \
             apart: results do not tell such places from each other; take finer elevation data"
        ),
        None if cell > COARSE => format!(
            "its cells are {cell:.0} wide: ridges and hollows smaller than that are not in any \
             result; take elevation data of 30 m or finer"
        ),
        None => return None,
    };
    Some(Remark { about: placed(plan, "terrain", "files"), text })
}

/// The two posts that are nearest to each other of those at two places.
fn nearest_posts(plan: &Plan) -> Option<(Metres, &str, &str)> {
    let posts = &plan.posts;
    let pairs = posts.iter().enumerate().flat_map(|(index, one)| {
        posts
            .iter()
            .skip(index + 1)
            .map(move |other| (one.at.distance(other.at), one.name.as_str(), other.name.as_str()))
    });
    pairs
        .filter(|(apart, ..)| *apart > ONE_PLACE)
        .min_by(|a, b| a.0.value().total_cmp(&b.0.value()))
}

/// A field of the plan with its line.
fn placed(plan: &Plan, table: &str, field: &str) -> String {
    let problem = plan.table_problem(table, field, String::new());
    match problem.line() {
        Some(line) => format!("{table}: {field}, line {line}"),
        None => format!("{table}: {field}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: at 150 degrees east the sun is 10 h ahead of UTC; on a clock of
    /// UTC-8 that is 18 h ahead, which around the day is 6 h behind.
    #[test]
    fn clocks_are_apart_around_the_day() {
        assert_eq!(hours_apart(10.0, 0.0), 10.0);
        assert_eq!(hours_apart(10.0, -8.0), -6.0);
        assert_eq!(hours_apart(-2.0, -2.0), 0.0);
    }
}
