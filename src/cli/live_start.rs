//! `perchline live FOLDER`: the page that makes a plan where a folder has none.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use perchline_assessment::{fixed_time, now};
use perchline_confine::Room;
use perchline_live::server::{Beginning, Listener, NotBegun, Wanted};
use perchline_plan::read_position;
use perchline_report::outbox::Outbox;
use perchline_start::{Asked, PLAN_FILE, RelayKind, StartError};
use serde_json::json;

use super::args::LiveArgs;
use super::confined::shut_in_with;
use super::failure::Failure;
use super::live::taken;
use super::session::{coordinate_systems, use_threads};
use super::start::{NotMade, distance, make};
use super::{interrupt, print};

/// Serves the page that makes the plan of `folder`. Where it is, once it is made;
/// `None` where the person ended it before.
pub(super) fn make_plan(
    args: &LiveArgs,
    folder: &Path,
    listener: &Listener,
    stop: &Arc<AtomicBool>,
) -> Result<Option<PathBuf>, Failure> {
    for (flag, value) in [("--site", &args.site), ("--channel", &args.channel)] {
        if let Some(value) = value {
            return Err(Failure::Input(format!(
                "{flag} \"{value}\": {} has no plan that could have it; leave it out until there is one",
                folder.display()
            )));
        }
    }
    fixed_time().map_err(Failure::Input)?;
    let whole = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    let read: Vec<&Path> = args.calibration.iter().map(PathBuf::as_path).chain([&*whole]).collect();
    let room = Room { write: vec![whole.clone()], ..Room::default() };
    shut_in_with(&read, room, args.file_time);
    use_threads(args.threads)?;
    coordinate_systems()?;
    interrupt::ends_by(stop);
    let address = listener.address();
    if args.json {
        let line = json!({
            "address": address.url, "port": address.port, "instead_of_port": address.instead_of,
            "folder_without_plan": folder.display().to_string(), "offers": [], "warnings": [],
        });
        print(&format!("{line}\n"))?;
    } else {
        print(&format!(
            "{}{} has no plan yet. Open this address in a browser on this machine to make one:\n\n  {}\n\nIt works here alone, and only until you end this with Ctrl-C.\n",
            taken(address),
            folder.display(),
            address.url
        ))?;
    }
    let place = whole.clone();
    let beginning = Beginning { folder: whole, make: Box::new(move |wanted| made(&place, wanted)) };
    let is_made = listener.begin(beginning, stop).map_err(Failure::output)?;
    Ok(is_made.then(|| match folder == Path::new(".") {
        true => PathBuf::from(PLAN_FILE),
        false => folder.join(PLAN_FILE),
    }))
}

/// Makes the plan as `perchline start` does.
fn made(folder: &Path, wanted: &Wanted) -> Result<(), NotBegun> {
    let wrong = |field: &'static str, text: String| NotBegun { field, text };
    let typed = |text: &'_ str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    let centre = typed(&wanted.centre).map(|text| read_position(&text)).transpose();
    let centre = centre.map_err(|error| wrong("centre", error.to_string()))?;
    let radius = typed(&wanted.radius).map(|text| distance(&text)).transpose();
    let radius = radius.map_err(|text| wrong("radius", text))?;
    let asked = Asked {
        folder,
        centre: centre.map(|read| read.position),
        radius,
        places: wanted.places.as_deref(),
        elevation: wanted.elevation.as_deref(),
        name: Some(wanted.name.trim()).filter(|name| !name.is_empty()),
        starts: None,
        ends: None,
        relay: RelayKind::default(),
        units: None,
        now: now(),
    };
    let outbox = Outbox::open(folder).map_err(|error| wrong("", error.to_string()))?;
    let not_made = match make(&asked, outbox) {
        Ok(_) => return Ok(()),
        Err(not_made) => not_made,
    };
    let field = match &not_made {
        NotMade::Start(error) => field_of(error, wanted),
        NotMade::Other(_) => "",
    };
    let (Failure::Input(text) | Failure::Output(text)) = not_made.into();
    Err(wrong(field, text))
}

/// The field that has to change.
fn field_of(error: &StartError, wanted: &Wanted) -> &'static str {
    match error {
        StartError::Vector(_)
        | StartError::NoPlaces { .. }
        | StartError::TooLarge { .. }
        | StartError::TooMany { .. } => "places",
        StartError::AllOutside { .. } => "radius",
        StartError::Terrain(_) => "elevation",
        StartError::Off { .. } if wanted.places.is_some() => "places",
        StartError::Nowhere { .. } | StartError::Off { .. } => "centre",
        _ => "",
    }
}
