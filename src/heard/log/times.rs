//! Times as people and devices write them.

use jiff::civil::{DateTime, Time};
use jiff::{SignedDuration, Timestamp, ZonedDateTime};

use super::Log;
use super::values::short;
use perchline_plan::{Event, Plan, Remark};

/// A report this far from the event's hours is asked about.
const AROUND: SignedDuration = SignedDuration::from_hours(3);

/// Reads a time: ISO 8601 with a zone, or without one on the event's own clock;
/// or the time of day alone, on the day of the event that it falls on.
pub(crate) fn time(
    text: &str,
    date: Option<&str>,
    event: &Event,
    offset: SignedDuration,
) -> Result<Timestamp, String> {
    let typed = match date.map(str::trim).filter(|date| !date.is_empty()) {
        Some(date) => format!("{date} {}", text.trim()),
        None => text.trim().to_owned(),
    };
    let wrong = || {
        format!(
            "time: \"{}\" is no time such as 17:05, 2026-12-05 17:05 or 2026-12-05T19:05:00Z; a zone needs a date with it",
            short(&typed)
        )
    };
    let at = typed
        .parse::<Timestamp>()
        .ok()
        .or_else(|| on_the_clock(&typed, event))
        .or_else(|| of_the_day(&typed, event))
        .ok_or_else(wrong)?;
    at.checked_add(offset).map_err(|_| wrong())
}

/// A date and a time without a zone.
fn on_the_clock(text: &str, event: &Event) -> Option<Timestamp> {
    let civil: DateTime = text.replacen(' ', "T", 1).parse().ok()?;
    let zone = event.starts.time_zone().clone();
    Some(civil.to_zoned_datetime(zone).ok()?.timestamp())
}

/// A time of day: on the day that puts it nearest to the event.
fn of_the_day(text: &str, event: &Event) -> Option<Timestamp> {
    let text = if text.len() == 4 && text.chars().all(|c| c.is_ascii_digit()) {
        let (hours, minutes) = text.split_at(2);
        format!("{hours}:{minutes}")
    } else {
        text.to_owned()
    };
    // A time of day with a zone but no date could be of either day.
    if text.contains(['Z', 'z', '+', '-']) {
        return None;
    }
    let time: Time = text.parse().ok()?;
    let middle = middle(event);
    let zone = event.starts.time_zone().clone();
    let days = [-1, 0, 1].into_iter().filter_map(|days| {
        let day = event.starts.date().checked_add(jiff::Span::new().days(days)).ok()?;
        Some(day.to_datetime(time).to_zoned_datetime(zone.clone()).ok()?.timestamp())
    });
    days.min_by_key(|at| at.duration_since(middle).abs())
}

fn middle(event: &Event) -> Timestamp {
    let half = event.tear_down.timestamp().duration_since(event.starts.timestamp()) / 2;
    event.starts.timestamp() + half
}

/// Whether a time lies in the hours of the event, set-up and tear-down with it.
fn belongs(at: Timestamp, event: &Event) -> bool {
    let around = |zoned: &ZonedDateTime| zoned.timestamp();
    at >= around(&event.starts) - AROUND && at <= around(&event.tear_down) + AROUND
}

/// What to know of the times of a log.
pub(super) fn remarks(log: &Log, plan: &Plan) -> Vec<Remark> {
    let about = || "log: time".to_owned();
    let mut remarks = Vec::new();
    let silent = log.reports.iter().filter(|r| r.time.is_none()).count();
    if silent > 0 {
        remarks.push(Remark {
            about: about(),
            text: format!(
                "{silent} reports have no time: whether a battery was dead by then is not known"
            ),
        });
    }
    let meters =
        log.reports.iter().filter(|r| r.said.level.is_some_and(|l| l.spread.is_none())).count();
    if meters > 0 {
        remarks.push(Remark {
            about: "log: level".to_owned(),
            text: format!(
                "{meters} levels are off S meters: they are shown, but no correction is learned from them, for every meter has a scale of its own"
            ),
        });
    }
    let times: Vec<_> = log.reports.iter().filter_map(|r| r.time).collect();
    let strange = times.iter().filter(|at| !belongs(**at, &plan.event)).count();
    if strange > 0 && strange == times.len() {
        let mean = times
            .iter()
            .map(|at| at.duration_since(middle(&plan.event)).as_secs_f64())
            .sum::<f64>()
            / times.len() as f64;
        remarks.push(Remark {
            about: about(),
            text: format!(
                "all {strange} times lie outside the event's hours, by {:.1} h on average: is the clock in another zone? --clock-offset \"{:.0} min\" would put them right",
                mean / 3600.0,
                (-mean / 60.0).round()
            ),
        });
    } else if strange > 0 {
        remarks.push(Remark {
            about: about(),
            text: format!("{strange} of {} times lie outside the event's hours", times.len()),
        });
    }
    remarks
}
