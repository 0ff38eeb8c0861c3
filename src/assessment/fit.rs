//! Whether what a plan names stands on its terrain.

use perchline_link::{Misfit, Terminal, TerminalError, frequencies, thermal_noise};
use perchline_plan::{Misplaced, Plan, PlanError, Remark, Service};
use perchline_propagation::free_space;
use perchline_terrain::{Extent, Terrain};
use perchline_units::{Metres, Position};

/// The rectangle of terrain that the plan needs.
pub(super) fn extent(plan: &Plan, more: &[Position]) -> Result<Extent, PlanError> {
    Extent::around(plan.extent_points().chain(more.iter().copied()), plan.map.margin)
        .ok_or_else(|| PlanError::whole(&plan.file, "the plan names no place".to_owned()))
}

/// Every site and post that does not fit the terrain, all in one failure, each
/// with its line.
pub(super) fn stand_on_terrain(plan: &Plan, terrain: &Terrain) -> Result<(), PlanError> {
    let sites = plan.sites.iter().filter_map(|site| {
        let radio = plan.radios.first()?;
        Terminal::on_mast(plan, radio, site, terrain).err()
    });
    let posts = plan.posts.iter().filter_map(|post| {
        let channel = plan.channels.first()?;
        Terminal::at_post(plan, channel, post, terrain).err()
    });
    let misfits: Vec<TerminalError> = sites.chain(posts).collect();
    let problems = plan.problems(misfits.iter().map(|TerminalError { kind, name, misfit }| {
        let text = match (misfit, terrain.missing_tiles()) {
            (Misfit::Place(_), Some(missing)) => {
                format!("{misfit}; elevation is missing: {missing}")
            }
            _ => misfit.to_string(),
        };
        Misplaced { kind, name, field: misfit.field(), text }
    }));
    if problems.is_empty() { Ok(()) } else { Err(PlanError::new(&plan.file, problems)) }
}

/// Every stated noise floor that cannot be one: below thermal noise, or above
/// what the carried radio gives at a kilometre in free space.
pub(super) fn noise_floors(plan: &Plan) -> Result<(), PlanError> {
    let wrong = plan.power.stations.iter().filter_map(|station| {
        let (floor, channel) = (station.noise_floor?, plan.channels.get(station.channel)?);
        let (Service::Relay { station: radio, .. } | Service::Packet { station: radio, .. }) =
            channel.service
        else {
            return None;
        };
        let thermal = thermal_noise(plan.radios.get(radio)?.bandwidth);
        let (input, _) = frequencies(&channel.service);
        let carried = plan.radios.get(channel.carried)?;
        let signal = carried.power - free_space::loss(input, NEAR);
        let text = if floor < thermal {
            format!("{floor:.0} is below the thermal noise of its receiver, {thermal:.0}: was it measured in a narrower bandwidth?")
        } else if floor > signal {
            format!("{floor:.0} is above the signal: a carried radio gives {signal:.0} at {NEAR:.0} in free space; is the sign or the unit right?")
        } else {
            return None;
        };
        Some(Misplaced { kind: "station", name: &station.name, field: "noise_floor", text })
    });
    let problems = plan.problems(wrong);
    if problems.is_empty() { Ok(()) } else { Err(PlanError::new(&plan.file, problems)) }
}

/// Distance at which a signal is no weaker than any noise that leaves a net usable.
const NEAR: Metres = Metres::new(1000.0);

/// Remarks on areas and routes that lie partly off the terrain.
///
/// # Errors
/// Those that lie wholly off it, each with its line.
pub(super) fn strays(plan: &Plan, terrain: &Terrain) -> Result<Vec<Remark>, PlanError> {
    let areas = plan.areas.iter().map(|a| ("area", &a.name, "outline", a.outline.exterior()));
    let routes = plan.routes.iter().map(|r| ("route", &r.name, "line", &r.line));
    let mut remarks = Vec::new();
    let mut problems = Vec::new();
    for (kind, name, field, line) in areas.chain(routes) {
        let places: Vec<_> = line.points().filter_map(|p| Position::from_point(p).ok()).collect();
        let off = places.iter().filter(|place| terrain.ground(**place).is_err()).count();
        if off == places.len() {
            let text = format!("it lies outside the terrain, which covers {}", terrain.covered());
            problems.push(Misplaced { kind, name, field, text });
        } else if off > 0 {
            remarks.push(Remark {
                about: format!("{kind} \"{name}\""),
                text: format!(
                    "{off} of its {} points are off the terrain or in gaps; what is not known counts as not working",
                    places.len()
                ),
            });
        }
    }
    if problems.is_empty() {
        Ok(remarks)
    } else {
        Err(PlanError::new(&plan.file, plan.problems(problems)))
    }
}
