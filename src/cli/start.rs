//! `perchline start`: from nothing to a plan.

use std::path::{Path, PathBuf};

use jiff::civil::DateTime;
use perchline_assessment::{self as assessment, Assessment, fixed_time, now};
use perchline_plan::read_position;
use perchline_report::documents::Started;
use perchline_report::outbox::Outbox;
use perchline_report::start_words::start_text;
use perchline_start::{Asked, PLAN_FILE, SHAPES_FILE, StartError, Told, begin};
use perchline_units::{METRES_PER_MILE, Metres, parse_quantity};

use super::args::StartArgs;
use super::confined::shut_in_with;
use super::failure::Failure;
use super::session::{claimed, room_for};
use super::{print, print_json};

/// The folder of elevation that is used where none is named and it is there.
const TERRAIN: &str = "terrain";

pub(super) fn run(args: &StartArgs) -> Result<(), Failure> {
    let folder = &args.folder;
    if folder.exists() && !folder.is_dir() {
        return Err(Failure::Input(format!(
            "{}: this is a file; name a folder, which is made if it is not there",
            folder.display()
        )));
    }
    never_over(folder)?;
    let centre = args.centre.as_deref().map(read_position).transpose();
    let centre = centre.map_err(|e| Failure::Input(format!("--centre: {e}")))?;
    let own = folder.join(TERRAIN);
    let elevation = args.elevation.clone().or_else(|| own.is_dir().then_some(own));
    fixed_time().map_err(Failure::Input)?;
    let (claim, outbox) = claimed(folder)?;
    let read: Vec<&Path> =
        [args.places.as_deref(), elevation.as_deref()].into_iter().flatten().collect();
    shut_in_with(&read, room_for(folder, &claim), args.file_time);
    let asked = Asked {
        folder,
        centre: centre.map(|read| read.position),
        radius: args.radius,
        places: args.places.as_deref(),
        elevation: elevation.as_deref(),
        name: args.name.as_deref(),
        starts: args.starts,
        ends: args.ends,
        relay: args.relay.into(),
        units: args.units.map(Into::into),
        now: now(),
    };
    let told = make(&asked, outbox)?;
    drop(claim);
    if args.json { print_json(&Started::of(&told)) } else { print(&start_text(&told)) }
}

/// Why no plan was made.
pub(super) enum NotMade {
    /// What was asked for does not make one.
    Start(StartError),
    /// Something else: the plan would have problems, or cannot be written.
    Other(Failure),
}

impl From<StartError> for NotMade {
    fn from(error: StartError) -> Self {
        Self::Start(error)
    }
}

impl From<Failure> for NotMade {
    fn from(failure: Failure) -> Self {
        Self::Other(failure)
    }
}

impl From<NotMade> for Failure {
    fn from(not_made: NotMade) -> Self {
        match not_made {
            NotMade::Start(error) => Self::input(error),
            NotMade::Other(failure) => failure,
        }
    }
}

/// Makes the plan that is asked for, tries it out and delivers it whole, over nothing.
pub(super) fn make(asked: &Asked<'_>, mut outbox: Outbox) -> Result<Told, NotMade> {
    never_over(asked.folder)?;
    try_out(asked)?;
    let begun = begin(asked)?;
    for (name, bytes) in &begun.files {
        outbox.put(name, bytes).map_err(Failure::output)?;
    }
    never_over(asked.folder)?;
    outbox.deliver().map_err(Failure::output)?;
    Ok(begun.told)
}

/// Refuses a folder in which a plan stands already.
fn never_over(folder: &Path) -> Result<(), Failure> {
    let there: Vec<PathBuf> = [PLAN_FILE, SHAPES_FILE]
        .iter()
        .map(|name| folder.join(name))
        .filter(|file| file.symlink_metadata().is_ok())
        .collect();
    let names: Vec<String> = there.iter().map(|file| file.display().to_string()).collect();
    if names.is_empty() {
        return Ok(());
    }
    Err(Failure::Input(format!(
        "{}: already there, and nothing is overwritten; name another folder, or move {} away",
        names.join(", "),
        if names.len() > 1 { "them" } else { "it" }
    )))
}

/// Makes the plan in a hidden folder first and reads it as any plan is read: what is
/// handed out passes `check`.
fn try_out(asked: &Asked<'_>) -> Result<(), NotMade> {
    let mut trial = Outbox::open(asked.folder).map_err(Failure::output)?;
    let there = trial.staged().to_owned();
    let begun = begin(&Asked { folder: &there, ..asked.clone() })?;
    for (name, bytes) in &begun.files {
        trial.put(name, bytes).map_err(Failure::output)?;
    }
    let plan = assessment::read(&there.join(PLAN_FILE)).map_err(Failure::input)?;
    // Without elevation that is all there is to read.
    if asked.elevation.is_some() {
        Assessment::new(plan, &[]).map_err(Failure::input)?;
    }
    Ok(())
}

/// A distance such as "3 km", "2 mi" or "800 m", above 0 and up to 100 km.
pub(super) fn distance(text: &str) -> Result<Metres, String> {
    let (number, unit) =
        parse_quantity(text, &["km", "mi", "m", "ft"]).map_err(|e| e.to_string())?;
    let metres = match unit {
        0 => Metres::new(number * 1000.0),
        1 => Metres::new(number * METRES_PER_MILE),
        2 => Metres::new(number),
        _ => Metres::from_feet(number),
    };
    if (10.0..=100_000.0).contains(&metres.value()) {
        Ok(metres)
    } else {
        Err("it must be from 10 m to 100 km".to_owned())
    }
}

/// A local date and time such as "2026-12-05T17:30".
pub(super) fn local_time(text: &str) -> Result<DateTime, String> {
    text.trim()
        .parse()
        .map_err(|_| "write a local date and time such as 2026-12-05T17:30".to_owned())
}
