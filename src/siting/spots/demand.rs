//! What spots are searched for: posts, and points that stand for areas and routes.

use crate::demand::{Sample, area_samples, on_the_street, route_samples};
use perchline_link::{LinkModel, Terminal, TerminalError};
use perchline_plan::{Channel, Plan};
use perchline_terrain::Terrain;

/// One place that the station should serve.
pub(super) struct DemandPoint {
    /// The link to it from a station at any spot, on open ground.
    pub model: LinkModel,
    /// Its part of all weights, which add up to 1.
    pub weight: f64,
    /// Whether a spot that misses it is no good.
    pub must: bool,
}

/// Number of points that stand for the plan's demand: its posts, and
/// `search.samples` at most for each area and each route.
#[must_use]
pub fn demand_count(plan: &Plan) -> usize {
    let most = plan.search.samples;
    let areas = plan.areas.iter().map(|area| area_samples(area).len().min(most));
    let routes = plan.routes.iter().map(|route| route_samples(route).len().min(most));
    plan.posts.len() + areas.sum::<usize>() + routes.sum::<usize>()
}

/// Those points, the heaviest first, served by a station like `station`.
///
/// # Errors
/// [`TerminalError`] when a post does not fit the terrain.
pub(super) fn demand_points(
    plan: &Plan,
    channel: &Channel,
    terrain: &Terrain,
    station: &Terminal,
) -> Result<Vec<DemandPoint>, TerminalError> {
    let total: f64 = plan
        .posts
        .iter()
        .map(|p| p.weight)
        .chain(plan.areas.iter().map(|a| a.weight))
        .chain(plan.routes.iter().map(|r| r.weight))
        .sum();
    let mut points = Vec::new();
    for post in &plan.posts {
        let carried = Terminal::at_post(plan, channel, post, terrain)?;
        points.push(DemandPoint {
            model: LinkModel::new(plan, channel, station, &carried),
            weight: post.weight / total,
            must: post.must,
        });
    }
    let areas = plan.areas.iter().map(|a| (a.weight, a.environment, area_samples(a)));
    let routes = plan.routes.iter().map(|r| (r.weight, r.environment, route_samples(r)));
    for (weight, environment, samples) in areas.chain(routes) {
        let whole: f64 = samples.iter().map(|s| s.weight).sum();
        let thin = thinned(&samples, plan.search.samples);
        for sample in on_the_street(thin, terrain) {
            let carried = Terminal::anywhere(plan, channel, environment, sample.at);
            points.push(DemandPoint {
                model: LinkModel::new(plan, channel, station, &carried),
                weight: weight / total * sample.weight / whole,
                must: false,
            });
        }
    }
    // Heavy and must-have ones first, so that hopeless spots are known early.
    points.sort_by(|a, b| b.must.cmp(&a.must).then(b.weight.total_cmp(&a.weight)));
    Ok(points)
}

/// At most `most` of the samples: the middle one of each run of neighbours,
/// with the weight of its run.
fn thinned(samples: &[Sample], most: usize) -> Vec<Sample> {
    let runs = samples.len().min(most.max(1));
    (0..runs)
        .filter_map(|run| {
            let part = samples.get(run * samples.len() / runs..(run + 1) * samples.len() / runs)?;
            let middle = part.get(part.len() / 2)?;
            Some(Sample { at: middle.at, weight: part.iter().map(|s| s.weight).sum() })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_units::{Degrees, Position};

    #[test]
    fn thinning_keeps_the_whole_weight() {
        for (count, most) in [(1, 8), (7, 8), (8, 8), (9, 8), (844, 8), (20, 1)] {
            let at = |i: usize| Position::new(Degrees::new(0.0), Degrees::new(i as f64 * 1e-3));
            let all: Vec<Sample> =
                (0..count).map(|i| Sample { at: at(i).unwrap(), weight: 2.0 }).collect();
            let few = thinned(&all, most);
            assert_eq!(few.len(), count.min(most));
            let weight: f64 = few.iter().map(|s| s.weight).sum();
            assert!((weight - 2.0 * count as f64).abs() < 1e-9);
        }
    }
}
