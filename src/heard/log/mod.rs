//! Reading what was reported: CSV with a head line, or GPX waypoints.
//!
//! Reading is tolerant: names of columns and values may be written in several
//! ways. What cannot be understood is rejected row by row with its line and a
//! reason; nothing is dropped silently.

mod cells;
mod gpx_file;
mod names;
mod packets;
mod row;
mod seen;
mod table;
mod times;
mod values;

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;
use serde::{Serialize, Serializer};

use names::Names;
use seen::{Mark, Seen};

pub use row::Defaults;
pub(super) use table::separator_of;
pub(super) use times::time;
pub use values::{level_of_s_units, quality_of_readability};

use perchline_link::Direction;
use perchline_plan::{AudioQuality, Carry, InputFile, Plan, Remark};
use perchline_units::{Db, Dbm, Position, printable};

/// The largest log that is read, in bytes (64 MiB).
pub const MAX_LOG_BYTES: u64 = 64 * 1024 * 1024;

/// Rows of all logs that are compared at once: each takes memory and time.
pub const MOST_ROWS: usize = 500_000;

/// Reports that they may come to, two a row, missing beacons among them.
pub const MOST_REPORTS: usize = 2 * MOST_ROWS;

/// One report, one direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// The row that it is from.
    pub origin: Origin,
    /// When, where it says.
    pub time: Option<Timestamp>,
    /// Where.
    pub place: Place,
    /// Index into [`Plan::channels`].
    pub channel: usize,
    /// Index into [`Plan::sites`] of the station, where the row or the command
    /// names one; nothing from radio to radio.
    pub site: Option<usize>,
    /// The other end, where it is no station but a radio too, on a channel from radio
    /// to radio; nothing where there is a station.
    pub to: Option<Place>,
    /// Index into [`Plan::trackers`], for a beacon.
    pub tracker: Option<usize>,
    /// Which direction; from radio to radio talk-in is from `place` to `to`.
    pub direction: Direction,
    /// How the radio was worn, where the row says.
    pub carry: Option<Carry>,
    /// What was said.
    pub said: Said,
}

/// What a report says of one direction; at least one of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Said {
    /// Whether it was heard at all.
    pub heard: Option<bool>,
    /// Between which steps of audio quality it was.
    pub quality: Option<Quality>,
    /// Level at the receiver.
    pub level: Option<Level>,
}

/// Audio quality as a range: the least that it reached and the least that it
/// did not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quality {
    /// It was this good at the least.
    pub at_least: Option<AudioQuality>,
    /// It was not as good as this.
    pub below: Option<AudioQuality>,
}

/// A reported level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// The level at the receiver's input.
    pub level: Dbm,
    /// Standard deviation of what it was read off; nothing for an S meter: each
    /// has a scale of its own, and hundreds of readings share its error.
    pub spread: Option<Db>,
}

/// Where a report is from.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// A post: index into [`Plan::posts`].
    Post(usize),
    /// Anywhere.
    At(Position),
}

/// The row of a file that something is from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Origin {
    /// The file; all rows of one share it.
    #[serde(serialize_with = "as_path")]
    pub file: Arc<Path>,
    /// The line, counted from 1; the number of the waypoint in a GPX file.
    pub line: usize,
}

fn as_path<S: Serializer>(file: &Arc<Path>, serializer: S) -> Result<S::Ok, S::Error> {
    Path::serialize(file, serializer)
}

/// A rejected row, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Rejected {
    /// The row.
    pub origin: Origin,
    /// What is wrong and what would be right.
    pub reason: String,
    /// Its text, cut where it is long.
    pub text: String,
}

/// Everything that the logs say.
#[derive(Debug, Clone, Default)]
pub struct Log {
    /// The reports, in the order of the files and their lines. One row may give
    /// two, a direction each.
    pub reports: Vec<Report>,
    /// Rejected rows.
    pub rejected: Vec<Rejected>,
    /// Rows with something in them: those that count and those that do not.
    pub rows: usize,
    /// Rows that count.
    pub counted: usize,
    /// Beacons that should have come between two that did, counted as not
    /// heard; they have no rows of their own.
    pub missing_beacons: usize,
    /// What was taken for granted.
    pub remarks: Vec<Remark>,
    /// The files.
    pub files: Vec<InputFile>,
}

impl Log {
    /// Takes what a row comes to: its reports, or why it does not count. `text`
    /// is the row's own.
    fn take(
        &mut self,
        origin: Origin,
        text: impl FnOnce() -> String,
        read: Result<Vec<Report>, String>,
    ) {
        self.rows += 1;
        match read {
            Ok(reports) => {
                self.counted += 1;
                self.reports.extend(reports);
            }
            Err(reason) => {
                let text = values::short(&text());
                let reason = printable(&reason);
                self.rejected.push(Rejected { origin, text, reason });
            }
        }
    }

    /// Whether one more row can be taken; it is of this file.
    fn room_for_a_row(&self, file: &Path) -> Result<(), LogError> {
        if self.rows < MOST_ROWS {
            return Ok(());
        }
        Err(LogError::TooMany { file: file.to_owned(), what: "rows", most: MOST_ROWS })
    }

    /// Rows that are neither counted nor rejected: none, or something is wrong
    /// with the reading.
    #[must_use]
    pub fn lost(&self) -> usize {
        self.rows.abs_diff(self.counted + self.rejected.len())
    }
}

/// A log that cannot be read at all.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// It cannot be opened.
    #[error("{file}: cannot be read: {reason}")]
    Unreadable {
        /// The file.
        file: PathBuf,
        /// Why.
        reason: String,
    },
    /// It has no reports.
    #[error(
        "{file}: the log is empty: a CSV file has a line with the names of its columns, such as \"time,post,direction,heard,daq\", and a row a report"
    )]
    Empty {
        /// The file.
        file: PathBuf,
    },
    /// Its head line has not what is needed.
    #[error("{file}:{line}: {text}")]
    Head {
        /// The file.
        file: PathBuf,
        /// The line of the names.
        line: usize,
        /// What is missing, and the names that are known.
        text: String,
    },
    /// It holds more than is compared at once.
    #[error(
        "{file}: the logs come to more than {most} {what}, and no more are compared at once; split them, by station or by hours of the day, and debrief each part by itself"
    )]
    TooMany {
        /// The file that goes beyond.
        file: PathBuf,
        /// Of what.
        what: &'static str,
        /// How many there may be.
        most: usize,
    },
    /// It is neither CSV nor GPX.
    #[error("{file}: this is no log: {reason}; CSV with a line of names and GPX are read")]
    Format {
        /// The file.
        file: PathBuf,
        /// What was found.
        reason: String,
    },
}

/// How many rows a log has at the most, told before it is read; what is no file
/// that can be read twice has none.
#[must_use]
pub fn rows_at_most(file: &Path) -> usize {
    if !std::fs::metadata(file).is_ok_and(|found| found.is_file()) {
        return 0;
    }
    let bytes = bytes(file).unwrap_or_default();
    match bytes.trim_ascii_start().first() {
        None => 0,
        Some(b'<') => bytes.windows(4).filter(|piece| piece == b"<wpt").count(),
        Some(_) => 1 + bytes.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count(),
    }
}

/// Reads logs, one after the other.
///
/// # Errors
/// [`LogError`] when a file cannot be read at all; single rows that cannot are
/// in [`Log::rejected`].
pub fn read(files: &[PathBuf], plan: &Plan, defaults: &Defaults) -> Result<Log, LogError> {
    let mut log = Log::default();
    let mut names = Names::of(plan);
    for file in files {
        let text = text_of_log(file)?;
        let shared: Arc<Path> = Arc::from(file.as_path());
        if text.trim_start().starts_with('<') {
            gpx_file::read(&shared, &text, &mut names, defaults, &mut log)?;
        } else {
            table::read(&shared, &text, &mut names, defaults, &mut log)?;
        }
        let input = InputFile::of(file)
            .map_err(|e| LogError::Unreadable { file: file.clone(), reason: e.to_string() })?;
        log.files.push(input);
    }
    if files.len() > 1 {
        same_again(&mut log);
    }
    packets::add_missing(&mut log, plan)?;
    log.remarks.extend(times::remarks(&log, plan));
    Ok(log)
}

/// Rejects rows of later files that say at the same time of the same place what
/// an earlier file says: one walk, logged twice.
fn same_again(log: &mut Log) {
    let mark = |r: &Report| {
        let ends = (&r.place, &r.to);
        let what = (ends, r.channel, r.site, r.tracker, r.direction, r.carry, r.said);
        r.time.map(|time| Seen::mark([format!("{time} {what:?}")]))
    };
    let mut first: HashMap<Mark, Origin> = HashMap::new();
    let mut again: HashMap<(Arc<Path>, usize), Origin> = HashMap::new();
    for report in &log.reports {
        let Some(mark) = mark(report) else { continue };
        let known = first.entry(mark).or_insert_with(|| report.origin.clone());
        if known.file != report.origin.file {
            let row = (Arc::clone(&report.origin.file), report.origin.line);
            again.entry(row).or_insert_with(|| known.clone());
        }
    }
    let row = |origin: &Origin| (Arc::clone(&origin.file), origin.line);
    log.reports.retain(|r| !again.contains_key(&row(&r.origin)));
    log.counted -= again.len();
    let mut rejected: Vec<Rejected> = again
        .into_iter()
        .map(|((file, line), first)| Rejected {
            origin: Origin { file, line },
            text: String::new(),
            reason: format!("the same as {}:{}; it counts once", first.file.display(), first.line),
        })
        .collect();
    rejected.sort_by(|a, b| (&a.origin.file, a.origin.line).cmp(&(&b.origin.file, b.origin.line)));
    log.rejected.extend(rejected);
}

/// The text of a file of reports.
///
/// # Errors
/// [`LogError`] when it cannot be read or is empty.
pub(super) fn text_of_log(file: &Path) -> Result<String, LogError> {
    let text = text(bytes(file)?);
    if text.trim().is_empty() {
        return Err(LogError::Empty { file: file.to_owned() });
    }
    Ok(text)
}

fn bytes(file: &Path) -> Result<Vec<u8>, LogError> {
    let failed = |reason: String| LogError::Unreadable { file: file.to_owned(), reason };
    let length = std::fs::metadata(file).map_err(|e| failed(e.to_string()))?.len();
    if length > MAX_LOG_BYTES {
        return Err(failed(format!(
            "it has {:.0} MiB, and {} MiB is the most that is read; split it",
            length as f64 / 1_048_576.0,
            MAX_LOG_BYTES / 1_048_576
        )));
    }
    std::fs::read(file).map_err(|e| failed(e.to_string()))
}

/// The text of a log; what is no UTF-8 is taken as Latin-1, as old spreadsheets
/// write it.
fn text(bytes: Vec<u8>) -> String {
    let mut text = String::from_utf8(bytes)
        .unwrap_or_else(|error| error.as_bytes().iter().map(|byte| char::from(*byte)).collect());
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
    }
    text
}
