//! What every verb starts with: the plan, its terrain and its method.

use std::path::Path;

use crate::link::{NOISE_VALID_TO, Propagator, Terminal, TerminalError, frequencies};
use crate::plan::{self, Channel, Plan, PlanError, Post, Problem, Remark, Service, Site};
use crate::propagation::METHODS;
use crate::report::Provenance;
use crate::report::outbox::Outbox;
use crate::terrain::{Extent, Grid, Terrain};
use crate::units::{Metres, Position};

use super::args::PlanArgs;
use super::failure::Failure;

/// A plan with its terrain, ready to be worked on.
pub(super) struct Session {
    pub(super) plan: Plan,
    pub(super) terrain: Terrain,
    pub(super) propagator: Propagator,
    pub(super) provenance: Provenance,
    /// Everything a person should know before trusting a result.
    pub(super) remarks: Vec<Remark>,
}

impl Session {
    /// Reads the plan and its terrain and checks that every site and post
    /// stands on it.
    pub(super) fn open(args: &PlanArgs) -> Result<Self, Failure> {
        if let Some(threads) = args.threads {
            rayon::ThreadPoolBuilder::new()
                .num_threads(threads.into())
                .build_global()
                .map_err(Failure::output)?;
        }
        let methods: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
        let mut plan = plan::read(&args.plan, &methods).map_err(Failure::input)?;
        if let Some(method) = &args.method {
            plan.prediction.method.clone_from(method);
        }
        let extent = extent(&plan)?;
        let terrain = Terrain::open(&plan.terrain, extent).map_err(|e| plan_error(&plan, &e))?;
        let propagator = Propagator::new(&plan.prediction);
        stand_on_terrain(&plan, &terrain)?;
        let provenance = Provenance::of(&plan, &terrain, &propagator);
        let remarks = plan
            .remarks
            .iter()
            .chain(terrain.remarks())
            .cloned()
            .chain(range_remarks(&plan, &propagator))
            .collect();
        Ok(Self { plan, terrain, propagator, provenance, remarks })
    }

    /// The cells of the coverage maps.
    pub(super) fn map_grid(&self) -> Result<Grid, Failure> {
        let grid = self.terrain.grid();
        match self.plan.map.cell {
            Some(cell) => grid.coarser(cell).map_err(Failure::input),
            None => Ok(grid.clone()),
        }
    }

    /// The channel with this name, or the first that has a station.
    pub(super) fn station_channel(&self, name: Option<&str>) -> Result<&Channel, Failure> {
        let has_station = |c: &&Channel| !matches!(c.service, Service::Simplex { .. });
        match name {
            Some(name) => {
                let channel = named(&self.plan.channels, name, "channel", |c| &c.name)?;
                Some(channel).filter(has_station).ok_or_else(|| {
                    Failure::Input(format!(
                        "channel \"{name}\" runs from radio to radio: it has no station to put on a site; name a relay or packet channel"
                    ))
                })
            }
            None => self.plan.channels.iter().find(has_station).ok_or_else(|| {
                Failure::Input(format!(
                    "{}: no channel has a station: add a [[channel]] of kind \"relay\" or \"packet\"",
                    self.plan.file.display()
                ))
            }),
        }
    }

    /// The site with this name.
    pub(super) fn site(&self, name: &str) -> Result<&Site, Failure> {
        named(&self.plan.sites, name, "site", |s| &s.name)
    }

    /// The post with this name.
    pub(super) fn post(&self, name: &str) -> Result<&Post, Failure> {
        named(&self.plan.posts, name, "post", |p| &p.name)
    }

    /// An outbox for results.
    pub(super) fn outbox(&self, folder: &Path) -> Result<Outbox, Failure> {
        Outbox::open(folder).map_err(Failure::output)
    }
}

/// The item with this name, letter case aside; otherwise an error that lists them.
pub(super) fn named<'a, T>(
    items: &'a [T],
    name: &str,
    kind: &str,
    name_of: impl Fn(&T) -> &String,
) -> Result<&'a T, Failure> {
    items.iter().find(|item| name_of(item).to_lowercase() == name.to_lowercase()).ok_or_else(|| {
        let all: Vec<_> = items.iter().map(|item| format!("\"{}\"", name_of(item))).collect();
        let near = items
            .iter()
            .map(&name_of)
            .max_by(|a, b| strsim::jaro_winkler(a, name).total_cmp(&strsim::jaro_winkler(b, name)))
            .filter(|near| strsim::jaro_winkler(near, name) > 0.8)
            .map_or_else(String::new, |near| format!(" Did you mean \"{near}\"?"));
        Failure::Input(format!(
            "the plan has no {kind} \"{name}\"; it has {}.{near}",
            if all.is_empty() { "none".to_owned() } else { all.join(", ") }
        ))
    })
}

/// The rectangle of terrain that the plan needs.
fn extent(plan: &Plan) -> Result<Extent, Failure> {
    Extent::around(plan.extent_points(), plan.map.margin)
        .ok_or_else(|| Failure::Input(format!("{}: the plan names no place", plan.file.display())))
}

fn plan_error(plan: &Plan, error: &dyn std::fmt::Display) -> Failure {
    Failure::Input(format!("{}: {error}", plan.file.display()))
}

/// Every site and post that does not fit the terrain, all in one failure, each
/// with its line.
fn stand_on_terrain(plan: &Plan, terrain: &Terrain) -> Result<(), Failure> {
    let sites = plan.sites.iter().filter_map(|site| {
        let radio = plan.radios.first()?;
        Terminal::on_mast(plan, radio, site, terrain).err()
    });
    let posts = plan.posts.iter().filter_map(|post| {
        let channel = plan.channels.first()?;
        Terminal::at_post(plan, channel, post, terrain).err()
    });
    let problems: Vec<_> = sites
        .chain(posts)
        .map(|error| match error {
            TerminalError::Misfit { kind, name, misfit } => {
                plan.problem(kind, &name, misfit.field(), misfit.to_string())
            }
            other => Problem::whole(other.to_string()),
        })
        .collect();
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Failure::input(PlanError::new(&plan.file, problems)))
    }
}

/// Frequencies and distances for which the method or the noise tables are
/// stretched beyond their source.
fn range_remarks(plan: &Plan, propagator: &Propagator) -> Vec<Remark> {
    let frequency = propagator.method.valid_frequency();
    let distance = propagator.method.valid_distance();
    let method = propagator.method.name();
    let channels = plan.channels.iter().flat_map(|channel| {
        let (input, output) = frequencies(&channel.service);
        let about = format!("channel \"{}\"", channel.name);
        let outside =
            [input, output].into_iter().find(|f| !frequency.contains(f)).map(|f| Remark {
                about: about.clone(),
                text: format!(
                    "{f} is outside the range of {method}, {} to {}: take its losses with care",
                    frequency.start(),
                    frequency.end()
                ),
            });
        let noisy = [input, output].into_iter().find(|f| *f > NOISE_VALID_TO).map(|f| Remark {
            about,
            text: format!(
                "man-made noise is published up to {NOISE_VALID_TO}; at {f} its line is prolonged"
            ),
        });
        outside.into_iter().chain(noisy)
    });
    let farthest = farthest(plan);
    let far = (!distance.contains(&farthest)).then(|| Remark {
        about: "map".to_owned(),
        text: format!(
            "the longest path, {}, is outside the range of {method}, {} to {}",
            plan.units.distance(farthest),
            plan.units.distance(*distance.start()),
            plan.units.distance(*distance.end())
        ),
    });
    channels.chain(far).collect()
}

/// The longest distance from a site to anything in the plan.
fn farthest(plan: &Plan) -> Metres {
    let places: Vec<Position> = plan.extent_points().collect();
    plan.sites
        .iter()
        .flat_map(|site| places.iter().map(|place| site.at.distance(*place)))
        .fold(Metres::new(0.0), Metres::max)
}
