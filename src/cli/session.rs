//! What every verb starts with: the plan, its terrain and its method.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::link::{
    NOISE_VALID_TO, Propagator, Terminal, TerminalError, building_remarks, frequencies,
    location_spread_is_own,
};
use crate::plan::{self, Channel, Plan, PlanError, Post, Prediction, Remark, Site};
use crate::propagation::p833::Leaves;
use crate::propagation::{Climate, METHODS};
use crate::report::Provenance;
use crate::report::outbox::Outbox;
use crate::siting::RankInputs;
use crate::terrain::{Extent, Grid, Terrain};
use crate::units::{Db, Metres, Position};

use super::args::{ALL_METHODS, PlanArgs};
use super::failure::Failure;

/// A plan with its terrain, ready to be worked on.
pub(super) struct Session {
    pub(super) plan: Plan,
    pub(super) terrain: Terrain,
    pub(super) propagator: Propagator,
    pub(super) provenance: Provenance,
    /// Everything a person should know before trusting a result.
    pub(super) remarks: Vec<Remark>,
    /// Set when the person wants it to end.
    pub(super) stop: Arc<AtomicBool>,
}

impl Session {
    /// Reads the plan and its terrain and checks that every site and post
    /// stands on it.
    pub(super) fn open(args: &PlanArgs) -> Result<Self, Failure> {
        Self::open_with(args, |_| Ok(Vec::new()))
    }

    /// The same with the plan as `change` makes it, and terrain around the places
    /// that it returns too.
    pub(super) fn open_with(
        args: &PlanArgs,
        change: impl FnOnce(&mut Plan) -> Result<Vec<Position>, Failure>,
    ) -> Result<Self, Failure> {
        if let Some(threads) = args.threads {
            rayon::ThreadPoolBuilder::new()
                .num_threads(threads.into())
                .build_global()
                .map_err(Failure::output)?;
        }
        if let Some(out) = args.out.as_ref().filter(|out| out.exists() && !out.is_dir()) {
            return Err(Failure::Input(format!(
                "--out {}: this is a file; name a folder, which is made if it is not there",
                out.display()
            )));
        }
        let methods: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
        let mut plan = plan::read(&args.plan, &methods).map_err(Failure::input)?;
        if let Some(method) = args.method.as_ref().filter(|method| *method != ALL_METHODS) {
            plan.prediction.method.clone_from(method);
        }
        let more = change(&mut plan)?;
        let extent = extent(&plan, more)?;
        let terrain = Terrain::open(&plan.terrain, extent).map_err(|error| {
            let problem = plan.terrain_problem(error.to_string());
            Failure::input(PlanError::new(&plan.file, vec![problem]))
        })?;
        let terrain = terrain.with_surroundings(&plan).map_err(|error| {
            let (table, field) = error.place();
            let problem = plan.table_problem(table, field, error.to_string());
            Failure::input(PlanError::new(&plan.file, vec![problem]))
        })?;
        let propagator = Propagator::new(&plan.prediction);
        stand_on_terrain(&plan, &terrain)?;
        let strays = strays(&plan, &terrain)?;
        let provenance = Provenance::of(&plan, &terrain, &propagator);
        let remarks = plan
            .remarks
            .iter()
            .chain(terrain.remarks())
            .cloned()
            .chain(building_remarks(&plan, &terrain))
            .chain(strays)
            .chain(range_remarks(&plan, &propagator))
            .chain(spread_remark(&plan.prediction, provenance.location_spread_db))
            .chain(climate_remark(&propagator))
            .collect();
        let stop = Arc::default();
        stop_on_interrupt(&stop);
        Ok(Self { plan, terrain, propagator, provenance, remarks, stop })
    }

    /// The cells of the coverage maps.
    pub(super) fn map_grid(&self) -> Result<Grid, Failure> {
        let grid = self.terrain.grid();
        match self.plan.map.cell {
            Some(cell) => grid.coarser(cell).map_err(Failure::input),
            None => Ok(grid.clone()),
        }
    }

    /// What sites are ranked from, on the cells of `grid`.
    pub(super) fn rank_inputs<'a>(
        &'a self,
        grid: &'a Grid,
        row_done: &'a (dyn Fn() + Sync),
    ) -> RankInputs<'a> {
        RankInputs {
            plan: &self.plan,
            terrain: &self.terrain,
            propagator: &self.propagator,
            grid,
            row_done,
            stop: &self.stop,
        }
    }

    /// The channel with this name, or the first that has a station.
    pub(super) fn station_channel(&self, name: Option<&str>) -> Result<&Channel, Failure> {
        match name {
            Some(name) => {
                let channel = named(&self.plan, &self.plan.channels, name, "channel", |c| &c.name)?;
                Some(channel).filter(|c| c.has_station()).ok_or_else(|| {
                    Failure::Input(format!(
                        "channel \"{name}\" runs from radio to radio: it has no station to put on a site; name a relay or packet channel"
                    ))
                })
            }
            None => self.plan.channels.iter().find(|c| c.has_station()).ok_or_else(|| {
                Failure::Input(format!(
                    "{}: no channel has a station: add a [[channel]] of kind \"relay\" or \"packet\"",
                    self.plan.file.display()
                ))
            }),
        }
    }

    /// The site with this name.
    pub(super) fn site(&self, name: &str) -> Result<&Site, Failure> {
        named(&self.plan, &self.plan.sites, name, "site", |s| &s.name)
    }

    /// The post with this name.
    pub(super) fn post(&self, name: &str) -> Result<&Post, Failure> {
        named(&self.plan, &self.plan.posts, name, "post", |p| &p.name)
    }

    /// An outbox for results.
    pub(super) fn outbox(&self, folder: &Path) -> Result<Outbox, Failure> {
        Outbox::open(folder).map_err(Failure::output)
    }
}

/// Lets an interrupt from the keyboard set `stop`; a second one ends the
/// program at once.
fn stop_on_interrupt(stop: &Arc<AtomicBool>) {
    let stop = Arc::clone(stop);
    let handler = move || {
        if stop.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED);
        }
    };
    // Without a handler an interrupt still ends the program, only less tidily.
    drop(ctrlc::set_handler(handler));
}

/// Exit code after an interrupt, as shells have it: 128 and the signal's number.
const INTERRUPTED: i32 = 130;

/// The item with this name, letter case aside; otherwise an error that lists them.
pub(super) fn named<'a, T>(
    plan: &Plan,
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
            "{}: the plan has no {kind} \"{name}\"; it has {}.{near}",
            plan.file.display(),
            if all.is_empty() { "none".to_owned() } else { all.join(", ") }
        ))
    })
}

/// The rectangle of terrain that the plan needs.
fn extent(plan: &Plan, more: Vec<Position>) -> Result<Extent, Failure> {
    Extent::around(plan.extent_points().chain(more), plan.map.margin)
        .ok_or_else(|| Failure::Input(format!("{}: the plan names no place", plan.file.display())))
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
        .map(|TerminalError { kind, name, misfit }| {
            plan.problem(kind, &name, misfit.field(), misfit.to_string())
        })
        .collect();
    if problems.is_empty() {
        Ok(())
    } else {
        Err(Failure::input(PlanError::new(&plan.file, problems)))
    }
}

/// Remarks on areas and routes that lie partly off the terrain.
///
/// # Errors
/// Those that lie wholly off it, each with its line.
fn strays(plan: &Plan, terrain: &Terrain) -> Result<Vec<Remark>, Failure> {
    let areas = plan.areas.iter().map(|a| ("area", &a.name, "outline", a.outline.exterior()));
    let routes = plan.routes.iter().map(|r| ("route", &r.name, "line", &r.line));
    let mut remarks = Vec::new();
    let mut problems = Vec::new();
    for (kind, name, field, line) in areas.chain(routes) {
        let places: Vec<_> = line.points().filter_map(|p| Position::from_point(p).ok()).collect();
        let off = places.iter().filter(|place| terrain.ground(**place).is_err()).count();
        if off == places.len() {
            let text = format!("it lies outside the terrain, which covers {}", terrain.covered());
            problems.push(plan.problem(kind, name, field, text));
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
    let leaves = plan.channels.iter().filter(|_| plan.land_cover.is_some()).filter_map(|channel| {
        let (input, output) = frequencies(&channel.service);
        let outside =
            [input, output].into_iter().find(|f| !Leaves::FREQUENCIES.contains(&f.value()))?;
        Some(Remark {
            about: format!("channel \"{}\"", channel.name),
            text: format!(
                "the loss in leaves is known from {} to {} MHz; at {outside} trees count as solid obstacles",
                Leaves::FREQUENCIES.start(),
                Leaves::FREQUENCIES.end()
            ),
        })
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
    channels.chain(leaves).chain(far).collect()
}

/// What was taken for the spread where the plan is silent, if that may mislead.
fn spread_remark(prediction: &Prediction, taken: Db) -> Option<Remark> {
    let silent = prediction.variability.is_none();
    let no_error = prediction.model_error.value() == 0.0;
    let method = &prediction.method;
    let text = if silent && location_spread_is_own(prediction) && no_error {
        format!(
            "variability is not stated: {method}'s own is taken, {taken:.1}, which is the spread over places alone; nothing is kept back for what the method gets wrong until model_error is stated"
        )
    } else if silent && !location_spread_is_own(prediction) && !no_error {
        format!(
            "model_error is stated but variability is not: the {taken:.1} taken for it already holds some model error; state variability too"
        )
    } else {
        return None;
    };
    Some(Remark { about: "prediction".to_owned(), text })
}

/// What the plan says of the radio climate and its method does not count.
fn climate_remark(propagator: &Propagator) -> Option<Remark> {
    let stated = Climate { latitude: Climate::DEFAULT.latitude, ..propagator.climate };
    let method = propagator.method.name();
    (method != "p1812" && stated != Climate::DEFAULT).then(|| Remark {
        about: "prediction".to_owned(),
        text: format!(
            "n0 and time_percent count with method p1812 alone; {method} predicts for the middle of the time"
        ),
    })
}

/// The longest distance from a site to anything in the plan.
fn farthest(plan: &Plan) -> Metres {
    let places: Vec<Position> = plan.extent_points().collect();
    plan.sites
        .iter()
        .flat_map(|site| places.iter().map(|place| site.at.distance(*place)))
        .fold(Metres::new(0.0), Metres::max)
}
