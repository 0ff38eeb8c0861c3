//! Corrections that reports of an earlier event have taught, out of a file.

use std::fmt;
use std::path::Path;

use toml::Spanned;

use super::locate::line_of;
use super::{Carry, Environment, InputFile};
use perchline_units::{Db, listed, parse_quantity, printable, shown};

/// What stands around a carried radio, as far as corrections tell it apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CarriedIn {
    /// In the open, with this radio noise around it.
    Open(Environment),
    /// Inside a building.
    Indoors,
}

impl CarriedIn {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Open(Environment::City),
        Self::Open(Environment::Residential),
        Self::Open(Environment::Rural),
        Self::Open(Environment::QuietRural),
        Self::Indoors,
    ];

    /// The word for it in a calibration file.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Open(environment) => environment.word(),
            Self::Indoors => "indoors",
        }
    }

    /// Its place in [`CarriedIn::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        Self::ALL.iter().position(|one| *one == self).unwrap_or(0)
    }
}

/// Carry positions in the order in which a calibration holds them.
pub const CARRIES: [Carry; 3] = [Carry::Head, Carry::Shoulder, Carry::Hip];

impl Carry {
    /// Its place in [`CARRIES`].
    #[must_use]
    pub fn index(self) -> usize {
        CARRIES.iter().position(|one| *one == self).unwrap_or(0)
    }
}

/// Corrections to what the published model says.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    /// What levels around a carried radio were more than predicted, in the
    /// order of [`CarriedIn::ALL`]; -30 to 30 dB.
    pub offsets: [Db; 5],
    /// What bodies took more than the table says, in the order of [`CARRIES`];
    /// -20 to 20 dB. A body loss that the plan states is left alone.
    pub bodies: [Db; 3],
    /// Standard deviation of the model's error, 0 to 20 dB, in place of the plan's.
    pub model_error: Option<Db>,
}

impl Calibration {
    /// The published values themselves.
    pub const NONE: Self =
        Self { offsets: [Db::new(0.0); 5], bodies: [Db::new(0.0); 3], model_error: None };

    /// What is added to levels around a radio in this environment.
    #[must_use]
    pub fn offset(&self, environment: CarriedIn) -> Db {
        self.offsets.get(environment.index()).copied().unwrap_or(Db::new(0.0))
    }

    /// What a body takes more than the table says.
    #[must_use]
    pub fn body(&self, carry: Carry) -> Db {
        self.bodies.get(carry.index()).copied().unwrap_or(Db::new(0.0))
    }

    /// Reads a calibration file, with its digest for what rests on it.
    ///
    /// # Errors
    /// A sentence that names the file and what is wrong.
    pub fn read(file: &Path) -> Result<(Self, InputFile), String> {
        let unreadable =
            |e: std::io::Error| format!("{}: the calibration cannot be read: {e}", file.display());
        let text = std::fs::read_to_string(file).map_err(unreadable)?;
        let calibration = Self::parse(file, &text).map_err(|e| e.to_string())?;
        Ok((calibration, InputFile::of(file).map_err(unreadable)?))
    }

    /// Reads a calibration file's text; `file` is what its problems are told of.
    ///
    /// # Errors
    /// [`CalibrationError`] with the line: no TOML, an unknown field or word, a
    /// number without unit or out of range, the same thing twice.
    pub fn parse(file: &Path, text: &str) -> Result<Self, CalibrationError> {
        let problem = |at: Option<usize>, said: String| CalibrationError {
            file: file.display().to_string(),
            line: at.map(|byte| line_of(text, byte)),
            text: printable(&said),
        };
        let typed: FileText = toml::from_str(text).map_err(|error| {
            let what = listed(error.message()).replace('\n', "; ").replace('`', "\"");
            problem(
                error.span().map(|span| span.start),
                format!("this is no calibration file: {what}; \"perchline debrief\" writes one"),
            )
        })?;
        let mut offsets = [None; CarriedIn::ALL.len()];
        for entry in typed.offset {
            let at = Some(entry.span().start);
            let OffsetText { environment, add, .. } = entry.into_inner();
            put(&mut offsets, CarriedIn::ALL.map(CarriedIn::word), &environment, || {
                decibels("add", &add, -30.0..=30.0)
            })
            .map_err(|text| problem(at, text))?;
        }
        let mut bodies = [None; CARRIES.len()];
        for entry in typed.body {
            let at = Some(entry.span().start);
            let BodyText { carry, more_loss, .. } = entry.into_inner();
            put(&mut bodies, CARRIES.map(Carry::word), &carry, || {
                decibels("more_loss", &more_loss, -20.0..=20.0)
            })
            .map_err(|text| problem(at, text))?;
        }
        let as_published = |stated: Option<Db>| stated.unwrap_or(Db::new(0.0));
        let mut calibration = Self {
            offsets: offsets.map(as_published),
            bodies: bodies.map(as_published),
            model_error: None,
        };
        if let Some(entry) = typed.model_error {
            let at = Some(entry.span().start);
            let value = decibels("deviation", &entry.into_inner().deviation, 0.0..=20.0)
                .map_err(|text| problem(at, text))?;
            calibration.model_error = Some(value);
        }
        Ok(calibration)
    }
}

/// A calibration file that cannot be used: where and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct CalibrationError {
    file: String,
    line: Option<usize>,
    text: String,
}

impl fmt::Display for CalibrationError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}", self.file, self.text),
            None => write!(f, "{}: {}", self.file, self.text),
        }
    }
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    /// What made it, for people.
    #[serde(default, rename = "made")]
    _made: toml::Table,
    #[serde(default)]
    offset: Vec<Spanned<OffsetText>>,
    #[serde(default)]
    body: Vec<Spanned<BodyText>>,
    model_error: Option<Spanned<ErrorText>>,
}

/// `low`, `high` and `reports` are for people.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct OffsetText {
    /// Files of the first version have the other name.
    #[serde(alias = "surroundings")]
    environment: String,
    add: String,
    #[serde(rename = "low")]
    _low: Option<String>,
    #[serde(rename = "high")]
    _high: Option<String>,
    #[serde(rename = "reports")]
    _reports: Option<u64>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct BodyText {
    carry: String,
    more_loss: String,
    #[serde(rename = "low")]
    _low: Option<String>,
    #[serde(rename = "high")]
    _high: Option<String>,
    #[serde(rename = "reports")]
    _reports: Option<u64>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct ErrorText {
    deviation: String,
    #[serde(rename = "low")]
    _low: Option<String>,
    #[serde(rename = "high")]
    _high: Option<String>,
}

/// Puts what `read` gives in the place of `word` among corrections of one kind.
fn put<const N: usize>(
    corrections: &mut [Option<Db>; N],
    words: [&str; N],
    word: &str,
    read: impl FnOnce() -> Result<Db, String>,
) -> Result<(), String> {
    let place = words.iter().position(|known| *known == word);
    match place.and_then(|index| corrections.get_mut(index)) {
        Some(Some(_)) => Err(format!("\"{word}\" is there twice; leave one out")),
        Some(correction) => {
            *correction = Some(read()?);
            Ok(())
        }
        None => {
            Err(format!("\"{}\" is not known; write one of: {}", shown(word), words.join(", ")))
        }
    }
}

fn decibels(field: &str, text: &str, range: std::ops::RangeInclusive<f64>) -> Result<Db, String> {
    let (value, _) = parse_quantity(text, &["dB"]).map_err(|error| format!("{field}: {error}"))?;
    if range.contains(&value) {
        return Ok(Db::new(value));
    }
    let (low, high) = (range.start(), range.end());
    Err(format!("{field}: {value} dB is out of range; {low} to {high} dB is allowed"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "\
# learned at the harbour run
[made]
by = \"perchline 0.1.0\"

[model_error]
deviation = \"4.5 dB\"

[[offset]]
environment = \"residential\"
add = \"-3.2 dB\"
low = \"-4.9 dB\"
high = \"-1.5 dB\"
reports = 41

[[body]]
carry = \"hip\"
more_loss = \"1.5 dB\"
";

    fn read(text: &str) -> Result<Calibration, CalibrationError> {
        Calibration::parse(Path::new("cal.toml"), text)
    }

    #[test]
    fn what_is_stated_is_taken_and_the_rest_is_as_published() {
        let calibration = read(FILE).unwrap();
        assert_eq!(calibration.offset(CarriedIn::Open(Environment::Residential)), Db::new(-3.2));
        assert_eq!(calibration.offset(CarriedIn::Indoors), Db::new(0.0));
        assert_eq!(calibration.body(Carry::Hip), Db::new(1.5));
        assert_eq!(calibration.body(Carry::Head), Db::new(0.0));
        assert_eq!(calibration.model_error, Some(Db::new(4.5)));
        assert_eq!(read("").unwrap(), Calibration::NONE);
    }

    #[test]
    fn problems_have_their_line() {
        for (from, to, line, says) in [
            ("residential", "suburb", 8, "city, residential, rural, quiet-rural, indoors"),
            ("-3.2 dB", "-3.2", 8, "add"),
            ("-3.2 dB", "-32 dB", 8, "-30 to 30 dB"),
            ("hip", "pocket", 15, "head, shoulder, hip"),
            ("4.5 dB", "45 dB", 5, "0 to 20 dB"),
            ("more_loss", "loss", 15, "no calibration file"),
            ("[made]", "[mad]", 2, "no calibration file"),
        ] {
            let error = read(&FILE.replace(from, to)).unwrap_err().to_string();
            assert!(error.contains(says), "{to}: {error}");
            let at = error.split(':').nth(1).unwrap().parse::<usize>().unwrap();
            assert!(at.abs_diff(line) <= 2, "{to}: {error}");
        }
        let twice = format!("{FILE}\n[[body]]\ncarry = \"hip\"\nmore_loss = \"1 dB\"\n");
        assert!(read(&twice).unwrap_err().to_string().contains("there twice"));
    }
}
