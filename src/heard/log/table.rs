//! CSV with a line of names.

use std::path::Path;
use std::sync::Arc;

use super::cells::{Column, known_names};
use super::names::Names;
use super::row::{Defaults, Row};
use super::seen::Seen;
use super::values::short;
use super::{Log, LogError, Origin};
use perchline_plan::Remark;
use perchline_units::{listed, printable};

/// What separates cells, where it is not a comma.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

pub(super) fn read(
    file: &Arc<Path>,
    text: &str,
    names_of_plan: &mut Names<'_>,
    defaults: &Defaults,
    log: &mut Log,
) -> Result<(), LogError> {
    let separator = separator_of(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .flexible(true)
        .has_headers(false)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut columns: Option<Vec<Option<Column>>> = None;
    let mut seen = Seen::default();
    let mut any = false;
    for record in reader.records() {
        let record = record.map_err(|e| LogError::Format {
            file: file.to_path_buf(),
            reason: printable(&e.to_string()),
        })?;
        let line = record.position().map_or(0, |p| usize::try_from(p.line()).unwrap_or(0));
        if record.iter().all(str::is_empty) {
            continue;
        }
        let Some(known) = &columns else {
            columns = Some(names(file, line, &record, log)?);
            continue;
        };
        any = true;
        log.room_for_a_row(file)?;
        let origin = Origin { file: Arc::clone(file), line };
        let row = Row {
            cells: known.iter().zip(&record).filter_map(|(c, text)| Some(((*c)?, text))).collect(),
        };
        let whole = Seen::mark(record.iter().map(str::to_lowercase));
        let reports = match seen.first(&whole) {
            Some(first) => Err(format!("the same as line {first}; it counts once")),
            None if record.len() > known.len() => Err(format!(
                "the row has {} cells, the line of names {}; put a text that holds the separator in quotes",
                record.len(),
                known.len()
            )),
            None => row.reports(&origin, names_of_plan, defaults),
        };
        if reports.is_ok() {
            seen.add(whole, line);
        }
        log.take(origin, || record.iter().collect::<Vec<_>>().join(", "), reports);
    }
    if any { Ok(()) } else { Err(LogError::Empty { file: file.to_path_buf() }) }
}

/// What separates the cells of a text: what its first line has most of.
pub(crate) fn separator_of(text: &str) -> u8 {
    let head = text.lines().find(|line| !is_blank(line)).unwrap_or_default();
    let count = |separator: u8| head.bytes().filter(|byte| *byte == separator).count();
    // The last of equals would win: a comma comes before the others.
    SEPARATORS.into_iter().rev().max_by_key(|s| count(*s)).unwrap_or(b',')
}

fn is_blank(line: &str) -> bool {
    line.trim().is_empty() || line.starts_with('#')
}

/// The columns that the line of names gives.
fn names(
    file: &Path,
    line: usize,
    record: &csv::StringRecord,
    log: &mut Log,
) -> Result<Vec<Option<Column>>, LogError> {
    let columns: Vec<_> = record.iter().map(Column::named).collect();
    let has = |column| columns.contains(&Some(column));
    let problem = |text: String| LogError::Head { file: file.to_owned(), line, text };
    let placed = has(Column::Post)
        || has(Column::Position)
        || (has(Column::Latitude) && has(Column::Longitude));
    let says =
        [Column::Heard, Column::Daq, Column::Rst, Column::Level, Column::Tracker, Column::Caller]
            .into_iter()
            .any(has);
    if !placed || !says {
        let lacks = if placed { "what was heard" } else { "a place" };
        return Err(problem(format!(
            "no column gives {lacks}; the columns here are {}; known names are {}",
            listed(
                &record
                    .iter()
                    .map(|name| format!("\"{}\"", short(name)))
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
            known_names()
        )));
    }
    for (index, column) in columns.iter().enumerate() {
        if let Some(column) = column
            && columns.iter().take(index).any(|c| c == &Some(*column))
        {
            return Err(problem(format!(
                "two columns give the {}; rename one of them",
                column.name()
            )));
        }
    }
    let unknown: Vec<_> = record
        .iter()
        .zip(&columns)
        .filter(|(name, column)| column.is_none() && !name.is_empty())
        .map(|(name, _)| format!("\"{}\"", short(name)))
        .collect();
    if !unknown.is_empty() {
        log.remarks.push(Remark {
            about: format!("{}:{line}", file.display()),
            text: format!("columns that are not read: {}", listed(&unknown.join(", "))),
        });
    }
    Ok(columns)
}
