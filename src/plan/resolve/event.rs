//! The event, its times, the report's units, terrain files and the map.

use std::collections::HashSet;

use jiff::tz::TimeZone;
use jiff::{ZonedDateTime, civil};
use toml::value::Datetime;

use super::names::suggestion;
use super::{Check, Entry, if_stated};
use crate::typed::{event, map, report, terrain};
use crate::{Event, MapInputs, TerrainInputs, UnitSystem};

/// Longer events are accepted with a remark.
const LONG_EVENT_HOURS: f64 = 14.0 * 24.0;

/// Years in which an event can be: hours are added to its times, and at the
/// ends of the calendar there is nothing to add to.
const YEARS: std::ops::RangeInclusive<u16> = 1970..=2199;

impl Check<'_> {
    /// The event and its times.
    pub(super) fn event(&mut self) -> Option<Event> {
        let typed: event::Text = self.table("event")?;
        let entry = Entry::single("event");
        let read = typed.read(self, &entry, "");
        let zone = self.time_zone(&entry, &read.time_zone);
        let starts = self.moment(&entry, "starts", &read.starts, zone.as_ref());
        let ends = self.moment(&entry, "ends", &read.ends, zone.as_ref());
        let tear_down = match &read.tear_down {
            Some(time) => self.moment(&entry, "tear_down", time, zone.as_ref()),
            None => ends.clone(),
        };
        let (starts, ends, tear_down) = (starts?, ends?, tear_down?);
        if ends <= starts {
            let text = format!("the event ends at {} but starts at {}", read.ends, read.starts);
            self.problem(&entry, "ends", text);
        } else if tear_down < ends {
            self.problem(&entry, "tear_down", "tear-down is before the end of the event");
        }
        let hours = (ends.timestamp().as_second() - starts.timestamp().as_second()) as f64 / 3600.0;
        if hours > LONG_EVENT_HOURS {
            self.remark(&entry, "ends", format!("the event lasts {:.0} days", hours / 24.0));
        }
        read.with(event::Resolved {
            starts: Some(starts),
            ends: Some(ends),
            tear_down: Some(tear_down),
        })
    }

    fn time_zone(&mut self, entry: &Entry, typed: &str) -> Option<TimeZone> {
        match TimeZone::get(typed) {
            Ok(zone) => Some(zone),
            Err(_) => {
                let known: Vec<String> =
                    jiff::tz::db().available().map(|name| name.as_str().to_owned()).collect();
                let text = format!(
                    "{} is not an IANA time zone such as \"Atlantic/Azores\" or \"Etc/GMT+2\"{}",
                    super::check::quoted(typed),
                    suggestion(typed, known.iter().map(String::as_str)),
                );
                self.problem(entry, "time_zone", text);
                None
            }
        }
    }

    /// A local date and time in `zone`.
    pub(super) fn moment(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Datetime,
        zone: Option<&TimeZone>,
    ) -> Option<ZonedDateTime> {
        let (date, time) = match (typed.date, typed.time, typed.offset) {
            (Some(date), Some(time), None) => (date, time),
            (Some(_), Some(_), Some(_)) => {
                let text = format!(
                    "{typed} has an offset; times are local, so leave it out: time_zone says it"
                );
                self.problem(entry, field, text);
                return None;
            }
            _ => {
                let text =
                    format!("{typed} is not a date with a time, such as 2026-12-05T17:30:00");
                self.problem(entry, field, text);
                return None;
            }
        };
        if !YEARS.contains(&date.year) {
            let text = format!(
                "{typed} is in no year from {} to {}; is it mistyped?",
                YEARS.start(),
                YEARS.end()
            );
            self.problem(entry, field, text);
            return None;
        }
        let small = |value: u8| i8::try_from(value).ok();
        let moment = i16::try_from(date.year)
            .ok()
            .zip(small(date.month))
            .zip(small(date.day))
            .zip(small(time.hour).zip(small(time.minute)).zip(small(time.second.unwrap_or(0))))
            .and_then(|(((year, month), day), ((hour, minute), second))| {
                // A leap second is told as the second before it.
                civil::DateTime::new(year, month, day, hour, minute, second.min(59), 0).ok()
            });
        let Some(moment) = moment else {
            self.problem(entry, field, format!("{typed} is not in the calendar"));
            return None;
        };
        let zone = zone?;
        let ambiguous = zone.to_ambiguous_zoned_datetime(moment);
        if ambiguous.is_ambiguous() {
            let text = format!(
                "the clocks of this time zone change at {typed}: the time is skipped or occurs \
                 twice; the usual reading was taken"
            );
            self.remark(entry, field, text);
        }
        match ambiguous.compatible() {
            Ok(moment) => Some(moment),
            Err(error) => {
                self.problem(entry, field, format!("{typed} cannot be used: {error}"));
                None
            }
        }
    }

    /// Units of the report.
    pub(super) fn units(&mut self) -> Option<UnitSystem> {
        let typed: report::Text = self.table_or_empty("report")?;
        typed.read(self, &Entry::single("report"), "").units
    }

    /// Elevation files.
    pub(super) fn terrain(&mut self) -> Option<TerrainInputs> {
        let typed: terrain::Text = self.table("terrain")?;
        let entry = Entry::single("terrain");
        let read = typed.read(self, &entry, "");
        if read.files.is_empty() {
            self.problem(&entry, "files", "name at least one elevation file");
        }
        let mut files = Vec::new();
        let mut seen = HashSet::new();
        for (index, file) in read.files.iter().enumerate() {
            let field = format!("files[{index}]");
            match self.local_file_or_folder(&entry, &field, file) {
                Some(_) if !seen.insert(file) => {
                    self.problem(&entry, &field, "this file is already in the list");
                }
                Some(path) => files.push(path),
                None => {}
            }
        }
        if read.crs.as_ref().is_some_and(|crs| crs.trim().is_empty()) {
            self.problem(
                &entry,
                "crs",
                "the coordinate system is empty; write one or leave it out",
            );
        }
        let crs = Some(read.crs.clone());
        read.with(terrain::Resolved { files: Some(files), crs })
    }

    /// The area and detail of the maps.
    pub(super) fn map(&mut self) -> Option<MapInputs> {
        let typed: map::Text = self.table_or_empty("map")?;
        let entry = Entry::single("map");
        let read = typed.read(self, &entry, "");
        let tiles = if_stated(read.tiles.as_ref(), |file| self.local_file(&entry, "tiles", file));
        read.with(map::Resolved { tiles })
    }
}
