//! What every verb starts with: the plan, its terrain and its method.

use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use indicatif::ProgressBar;
use ndarray::Array2;
use serde::Serialize;
use sysinfo::{MemoryRefreshKind, RefreshKind, System};

use perchline_assessment::{self as assessment, Assessment, Holds, Need, Survey};
use perchline_confine::{Room, without_coordinate_systems};
use perchline_plan::{Channel, Plan, Post, Site, nearest};
use perchline_report::fixed_time;
use perchline_report::outbox::{Claim, Outbox};
use perchline_siting::RankInputs;
use perchline_terrain::Grid;
use perchline_units::Position;

use super::args::{ALL_METHODS, PlanArgs};
use super::confined;
use super::failure::Failure;
use super::plan_at::plan_file;
use super::progress::{Stages, Within};
use super::say;

/// An opened plan.
pub(super) struct Session {
    opened: Assessment,
    /// The memory that it takes.
    pub(super) need: Need,
    /// Never set: an interrupt ends the program itself.
    pub(super) stop: AtomicBool,
    /// What it does, and since when.
    stages: Arc<Stages>,
    /// Whether anybody asked how long that takes.
    times: bool,
    /// Where the results go, until they do.
    out: Mutex<Option<Outbox>>,
    /// Held to the end; let go of after the results.
    _claim: Option<Claim>,
}

impl Deref for Session {
    type Target = Assessment;

    fn deref(&self) -> &Assessment {
        &self.opened
    }
}

impl Session {
    /// Reads the plan and its terrain and checks that every site and post
    /// stands on it. The run will keep beside it what `holds` says.
    pub(super) fn open<H: Into<Holds>>(
        args: &PlanArgs,
        holds: impl FnOnce(&Plan) -> H,
    ) -> Result<Self, Failure> {
        Self::open_with(args, &[], holds, |_| Ok(Vec::new()))
    }

    /// The same, where the verb reads `files` too that the plan does not name.
    pub(super) fn open_beside<H: Into<Holds>>(
        args: &PlanArgs,
        files: &[&Path],
        holds: impl FnOnce(&Plan) -> H,
    ) -> Result<Self, Failure> {
        Self::open_with(args, files, holds, |_| Ok(Vec::new()))
    }

    /// The same with the plan as `change` makes it, and terrain around the places
    /// that it returns too.
    pub(super) fn open_with<H: Into<Holds>>(
        args: &PlanArgs,
        files: &[&Path],
        holds: impl FnOnce(&Plan) -> H,
        change: impl FnOnce(&mut Plan) -> Result<Vec<Position>, Failure>,
    ) -> Result<Self, Failure> {
        let stages = Arc::new(Stages::new());
        fixed_time().map_err(Failure::Input)?;
        if let Some(out) = args.out.as_ref().filter(|out| out.exists() && !out.is_dir()) {
            return Err(Failure::Input(format!(
                "--out {}: this is a file; name a folder, which is made if it is not there",
                out.display()
            )));
        }
        let file = plan_file(&args.plan)?;
        // Whether anything can be written there shows before an hour's work. The
        // folder is there, and this run's alone, from now on.
        let (claim, out) = args.out.as_deref().map(claimed).transpose()?.unzip();
        let files: Vec<&Path> = files.iter().copied().chain(args.calibration.as_deref()).collect();
        let room = match (&args.out, &claim) {
            (Some(out), Some(claim)) => room_for(out, claim),
            _ => Room::default(),
        };
        confined::shut_in(&file, &files, room, args.file_time);
        use_threads(args.threads)?;
        coordinate_systems()?;
        stages.begin("reading the plan", 0, "its terrain");
        let mut plan = assessment::read(&file).map_err(Failure::input)?;
        if let Some(method) = args.method.as_ref().filter(|method| *method != ALL_METHODS) {
            plan.prediction.method.clone_from(method);
        }
        if let Some(file) = &args.calibration {
            plan.calibrate(file).map_err(Failure::Input)?;
        }
        let more = change(&mut plan)?;
        stages.begin("reading the terrain", 0, "the answer");
        let survey = weigh(&plan, &more, holds(&plan), args.memory)?;
        let need = survey.need();
        let opened = Assessment::surveyed(plan, survey).map_err(Failure::input)?;
        stages.end();
        let (out, stop, times) = (Mutex::new(out), AtomicBool::new(false), args.times);
        Ok(Self { opened, need, stop, stages, times, out, _claim: claim })
    }

    /// The same with the plan's map tiles, for a page.
    pub(super) fn with_tiles(self) -> Result<Self, Failure> {
        let Self { _claim, out, opened, need, stop, stages, times } = self;
        stages.begin("reading map tiles", 0, "the answer");
        let opened = opened.with_tiles().map_err(Failure::input)?;
        stages.end();
        Ok(Self { opened, need, stop, stages, times, out, _claim })
    }

    /// The cells of the coverage maps.
    pub(super) fn map_grid(&self) -> Result<Grid, Failure> {
        self.opened.map_grid().map_err(Failure::input)
    }

    /// What sites are ranked from, on the cells of `grid`.
    pub(super) fn rank_inputs<'a>(
        &'a self,
        grid: &'a Grid,
        row_done: &'a (dyn Fn() + Sync),
    ) -> RankInputs<'a> {
        self.opened.rank_inputs(grid, row_done, &self.stop)
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

    /// Begins a stage of `steps` steps, or of nobody knows how many where there are
    /// none, and ends the one before; `left` says what follows it.
    pub(super) fn begin(&self, what: &str, steps: usize, left: &str) -> ProgressBar {
        self.stages.begin(what, steps, left)
    }

    /// Ends the stage that lasts: the answer is there.
    pub(super) fn answered(&self) {
        self.stages.answered();
    }

    /// Ends the stage that lasts.
    pub(super) fn end(&self) {
        self.stages.end();
    }

    /// Says how long all stages took if that was asked for.
    pub(super) fn tell_times(&self) {
        if self.times {
            say(self.stages.table().trim_end());
        }
    }

    /// A result's document, with the times of the stages so far if they were asked for.
    pub(super) fn timed<'a, T: Serialize>(&'a self, document: &'a T) -> Within<'a, T> {
        if self.times { self.stages.within(document) } else { Within::without(document) }
    }

    /// The terrain's shaded relief.
    pub(super) fn relief(&self) -> Result<Array2<u8>, Failure> {
        let begun = Instant::now();
        let relief = self.terrain.hillshade().map_err(Failure::output)?;
        self.stages.part("shaded relief", begun.elapsed());
        Ok(relief)
    }

    /// The outbox for the results, once, where they go into a folder.
    pub(super) fn outbox(&self) -> Option<Outbox> {
        let outbox = self.out.lock().unwrap_or_else(PoisonError::into_inner).take()?;
        let stages = Arc::clone(&self.stages);
        let seen = move |file: &str, time| stages.part(file, time);
        Some(outbox.signed_by(&self.provenance).seen_by(seen))
    }
}

/// The voice relay's channel of this name, or the plan's first, for `what`.
pub(super) fn relay_channel<'a>(
    session: &'a Session,
    name: Option<&str>,
    what: &str,
) -> Result<&'a Channel, Failure> {
    let is_relay = |channel: &&Channel| channel.is_relay();
    if let Some(name) = name {
        let channel = session.station_channel(Some(name))?;
        return Some(channel).filter(is_relay).ok_or_else(|| {
            Failure::Input(format!(
                "channel \"{name}\" carries position beacons; {what} is about voice: name a relay channel"
            ))
        });
    }
    session.plan.channels.iter().find(is_relay).ok_or_else(|| {
        Failure::Input(format!(
            "{}: no channel runs through a relay: add a [[channel]] of kind \"relay\"",
            session.plan.file.display()
        ))
    })
}

/// An outbox for a folder that is this run's alone; waits for another run that
/// writes there, and says so.
pub(super) fn claimed(folder: &Path) -> Result<(Claim, Outbox), Failure> {
    let wait = || {
        say(&format!(
            "{}: another run writes into this folder. This one begins when that has ended; Ctrl-C ends it.",
            folder.display()
        ));
    };
    let claim = Claim::to(folder, wait).map_err(Failure::output)?;
    let outbox = Outbox::open(folder).map_err(Failure::output)?;
    // What is bound last goes first: what is staged in the folder, then the folder.
    Ok((claim, outbox))
}

/// Room to write into a folder, and to take away again what was made for that.
pub(super) fn room_for(folder: &Path, claim: &Claim) -> Room {
    let whole = |made: &PathBuf| std::path::absolute(made).unwrap_or_else(|_| made.clone());
    let remove = claim.made().iter().filter_map(|made| whole(made).parent().map(Path::to_owned));
    Room { write: vec![folder.to_owned()], remove: remove.collect(), ..Room::default() }
}

/// The terrain that a run over this plan is for, if the run fits into the memory
/// that is free, or that was allowed.
pub(super) fn weigh(
    plan: &Plan,
    more: &[Position],
    holds: impl Into<Holds>,
    allowed: Option<f64>,
) -> Result<Survey, Failure> {
    let survey = Survey::of(plan, more, holds).map_err(Failure::input)?;
    survey
        .fits(allowed.unwrap_or_else(free_memory))
        .map_err(|text| Failure::input(plan.terrain_error(text)))?;
    Ok(survey)
}

/// What this machine, or the container that this runs in, has free, in bytes.
fn free_memory() -> f64 {
    let what = RefreshKind::nothing().with_memory(MemoryRefreshKind::nothing().with_ram());
    let system = System::new_with_specifics(what);
    let free = system.available_memory();
    if free == 0 {
        // A system that does not say is not a reason to refuse.
        return f64::INFINITY;
    }
    // What files fill of a container's share can be had back.
    let contained = system.cgroup_limits().map(|c| c.total_memory.saturating_sub(c.rss));
    contained.map_or(free, |contained| free.min(contained)) as f64
}

/// Computes with so many threads; with all cores where no number is given.
pub(super) fn use_threads(threads: Option<u16>) -> Result<(), Failure> {
    let Some(threads) = threads else { return Ok(()) };
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads.into())
        .build_global()
        .map_err(Failure::output)
}

/// Whether coordinate systems can be looked up, which every plan needs: where not,
/// each of its places would be an error of its own. Asked from inside the box.
pub(super) fn coordinate_systems() -> Result<(), Failure> {
    without_coordinate_systems().map_or(Ok(()), |why| Err(Failure::Input(why)))
}

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
        let near = nearest(name, items.iter().map(|item| name_of(item).as_str()))
            .map_or_else(String::new, |near| format!(" Did you mean \"{near}\"?"));
        Failure::Input(format!(
            "{}: the plan has no {kind} \"{name}\"; it has {}.{near}",
            plan.file.display(),
            if all.is_empty() { "none".to_owned() } else { all.join(", ") }
        ))
    })
}
