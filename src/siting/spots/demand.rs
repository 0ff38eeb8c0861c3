//! What spots are searched for: posts, and points that stand for areas and routes.

use super::SpotTask;
use crate::demand::carried;
use perchline_link::{LinkModel, Terminal, TerminalError};
use perchline_plan::Channel;

/// One place that the station should serve.
pub(super) struct DemandPoint {
    /// The link to it from a station at any spot, on open ground.
    pub model: LinkModel,
    /// Its part of all weights, which add up to 1.
    pub weight: f64,
    /// Whether a spot that misses it is no good.
    pub must: bool,
}

/// What the plan names as points, `search.samples` at most for each area and each
/// route, the heaviest first, served by a station like `station`.
///
/// # Errors
/// [`TerminalError`] when a post does not fit the terrain.
pub(super) fn demand_points(
    task: &SpotTask<'_>,
    channel: &Channel,
    station: &Terminal,
) -> Result<Vec<DemandPoint>, TerminalError> {
    let SpotTask { plan, terrain, .. } = *task;
    let demand = task.demand.on_channel(plan, channel).thinned(plan.search.samples);
    let total = demand.total_weight();
    let mut points = Vec::new();
    for target in demand.targets.iter().filter(|target| target.weight > 0.0) {
        let samples = demand.samples_of(target);
        let whole: f64 = samples.iter().map(|sample| sample.weight).sum();
        for sample in samples {
            let carried = carried(plan, terrain, channel, target, sample.at)?;
            points.push(DemandPoint {
                model: LinkModel::new(plan, channel, station, &carried),
                weight: target.weight / total * sample.weight / whole,
                must: target.must,
            });
        }
    }
    // Heavy and must-have ones first, so that hopeless spots are known early.
    points.sort_by(|a, b| b.must.cmp(&a.must).then(b.weight.total_cmp(&a.weight)));
    Ok(points)
}
