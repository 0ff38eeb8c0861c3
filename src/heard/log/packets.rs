//! Beacons that did not come. A packet log holds those that were heard alone;
//! taken by itself it would say that everything works.

use jiff::SignedDuration;

use super::{Log, LogError, MOST_REPORTS, Place, Report, Said};
use perchline_link::Direction;
use perchline_plan::Plan;
use perchline_units::Position;

/// A silence longer than this many beacons is a tracker that was switched off,
/// or packed away (common practice, no source).
const LONGEST_SILENCE: u32 = 10;

/// Adds a report of silence for every beacon that should have come between two
/// that did, at the place between their places.
///
/// # Errors
/// [`LogError::TooMany`] when these are more than is compared at once.
pub(super) fn add_missing(log: &mut Log, plan: &Plan) -> Result<(), LogError> {
    let mut heard: Vec<&Report> = log
        .reports
        .iter()
        // One that is reported as not heard is accounted for.
        .filter(|r| r.tracker.is_some() && r.direction == Direction::TalkIn && r.time.is_some())
        .collect();
    // By file too: two trackers of one kind keep their own files or names.
    heard.sort_by(|a, b| {
        (a.tracker, a.site, &a.origin.file, a.time).cmp(&(
            b.tracker,
            b.site,
            &b.origin.file,
            b.time,
        ))
    });
    let mut missing = Vec::new();
    for pair in heard.windows(2) {
        let [before, after] = pair else { continue };
        let same = before.tracker == after.tracker
            && before.site == after.site
            && before.origin.file == after.origin.file;
        let tracker = before.tracker.and_then(|t| plan.trackers.get(t));
        let (Some(tracker), true) = (tracker.filter(|t| t.count == 1), same) else { continue };
        let (Some(from), Some(to)) = (before.time, after.time) else { continue };
        let elapsed = to.duration_since(from).as_secs_f64();
        let beacons = (elapsed / tracker.every.value()).round();
        if !(2.0..=f64::from(LONGEST_SILENCE) + 1.0).contains(&beacons) {
            continue;
        }
        let (Some(start), Some(end)) = (place(before, plan), place(after, plan)) else { continue };
        if log.reports.len() + missing.len() + beacons as usize - 1 > MOST_REPORTS {
            return Err(LogError::TooMany {
                file: before.origin.file.to_path_buf(),
                what: "reports and beacons that should have come between them",
                most: MOST_REPORTS,
            });
        }
        // At most LONGEST_SILENCE, checked above.
        for number in 1..beacons as u32 {
            let part = f64::from(number) / beacons;
            let Ok(at) = start.on_the_way(end, part) else { continue };
            let time = from.checked_add(SignedDuration::from_secs_f64(elapsed * part)).ok();
            missing.push(Report {
                time,
                place: Place::At(at),
                said: Said { heard: Some(false), ..Said::default() },
                ..(*before).clone()
            });
        }
    }
    log.missing_beacons = missing.len();
    log.reports.extend(missing);
    Ok(())
}

fn place(report: &Report, plan: &Plan) -> Option<Position> {
    match report.place {
        Place::At(at) => Some(at),
        Place::Post(post) => Some(plan.posts.get(post)?.at),
    }
}
