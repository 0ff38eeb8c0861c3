//! GPX: a report a waypoint. Its description says what a CSV row would, as
//! `name: value` pieces between semicolons or lines, or as bare values.

use std::path::Path;
use std::sync::Arc;

use super::cells::Column;
use super::names::Names;
use super::row::{Defaults, Row};
use super::seen::Seen;
use super::values::{self, short};
use super::{Log, LogError, Origin};
use perchline_units::{Megahertz, listed};

pub(super) fn read(
    file: &Arc<Path>,
    text: &str,
    names: &mut Names<'_>,
    defaults: &Defaults,
    log: &mut Log,
) -> Result<(), LogError> {
    let document = gpx::read(text.as_bytes()).map_err(|e| LogError::Format {
        file: file.to_path_buf(),
        reason: listed(&e.to_string()),
    })?;
    if document.waypoints.is_empty() {
        return Err(LogError::Format {
            file: file.to_path_buf(),
            reason: "the GPX file has no waypoint, and a waypoint is a report".to_owned(),
        });
    }
    let mut seen = Seen::default();
    for (number, waypoint) in (1..).zip(&document.waypoints) {
        log.room_for_a_row(file)?;
        let origin = Origin { file: Arc::clone(file), line: number };
        let said = [&waypoint.description, &waypoint.comment]
            .into_iter()
            .flatten()
            .cloned()
            .collect::<Vec<_>>()
            .join("\n");
        let name = waypoint.name.clone().unwrap_or_default();
        let made = cells(&said).and_then(|mut cells| {
            let point = waypoint.point();
            cells.push((Column::Latitude, format!("{}", point.y())));
            cells.push((Column::Longitude, format!("{}", point.x())));
            if let Some(time) = waypoint.time {
                let time = time.format().map_err(|e| format!("time: {e}"))?;
                cells.push((Column::Time, time));
            }
            let whole = Seen::mark(cells.iter().flat_map(|(c, text)| [c.name(), text.as_str()]));
            if let Some(first) = seen.first(&whole) {
                return Err(format!("the same as waypoint {first}; it counts once"));
            }
            let row = Row { cells: cells.iter().map(|(c, text)| (*c, text.as_str())).collect() };
            let reports = row.reports(&origin, names, defaults)?;
            seen.add(whole, number);
            Ok(reports)
        });
        log.take(origin, || format!("{name}: {said}"), made);
    }
    Ok(())
}

/// The cells that a description gives.
fn cells(said: &str) -> Result<Vec<(Column, String)>, String> {
    let mut cells = Vec::new();
    for piece in said.split(['\n', ';']).map(str::trim).filter(|piece| !piece.is_empty()) {
        let pair = piece.split_once([':', '=']);
        let cell = match pair.and_then(|(name, value)| Some((Column::named(name)?, value.trim()))) {
            Some((column, value)) => (column, value.to_owned()),
            None => (bare(piece)?, piece.to_owned()),
        };
        // A person's note is nobody's measurement.
        if cell.0 != Column::Note {
            cells.push(cell);
        }
    }
    Ok(cells)
}

/// What a value without a name must be.
fn bare(piece: &str) -> Result<Column, String> {
    let any = Megahertz::new(145.0);
    let lower = piece.to_lowercase();
    if values::heard(piece).is_ok() {
        Ok(Column::Heard)
    } else if lower.starts_with("daq") && values::daq(piece).is_ok() {
        Ok(Column::Daq)
    } else if values::rst(piece, any).is_ok() {
        Ok(Column::Rst)
    } else if values::level(piece, any).is_ok() {
        Ok(Column::Level)
    } else if values::carry(piece).is_ok() {
        Ok(Column::Carry)
    } else if values::directions(piece).is_ok() {
        Ok(Column::Direction)
    } else {
        Err(format!(
            "description: \"{}\" is not understood; write pieces such as \"heard: no; direction: in\" or \"59\"",
            short(piece)
        ))
    }
}
