//! Which files a result comes as. A format is one function that writes it from
//! the finished content, in a file of its own, and one entry in the list of its
//! result; verbs write whatever the lists name.

use std::fmt::Display;
use std::path::Path;

use serde::Serialize;

use super::brief::{self, BriefContent};
use super::map::spots::SpotMap;
use super::map::{self, MapContent};
use super::outbox::{Outbox, OutboxError};
use super::{ReportError, geojson, spot_tables};

/// One of the files that a result comes as. `W` is what writes it.
#[derive(Debug, Clone, Copy)]
pub struct Format<W> {
    /// What its name ends in after that of the result, such as `.gpx` or
    /// `-margin.tif`.
    pub ending: &'static str,
    /// What it is for, in a line for people.
    pub purpose: &'static str,
    /// Writes it into its place, or nothing where the content does not ask for it.
    pub write: W,
}

/// Writes content `C` in a format.
pub type Write<C> = fn(&C, Place<'_>) -> Result<(), OutputError>;

/// A file of a site's map.
pub type MapFormat = Format<fn(&MapContent<'_>, Place<'_>) -> Result<(), OutputError>>;

/// A file of the briefing.
pub type BriefFormat = Format<fn(&BriefContent<'_>, Place<'_>) -> Result<(), OutputError>>;

/// A file of a search.
pub type SpotFormat = Format<fn(&SpotMap<'_>, Place<'_>) -> Result<(), OutputError>>;

/// The files of a site's map.
pub static SITE_MAP: &[MapFormat] = &[
    Format { ending: ".png", purpose: "the map for people", write: map::write_png },
    Format { ending: ".geojson", purpose: "classes and places", write: geojson::write_map },
    Format {
        ending: "-margin.tif",
        purpose: "governing margin of each cell, dB",
        write: map::rasters::write_margin,
    },
    Format {
        ending: "-probability.tif",
        purpose: "probability of both ways in each cell, 0 to 1",
        write: map::rasters::write_probability,
    },
];

/// The files of the briefing.
pub static BRIEFING: &[BriefFormat] = &[
    Format { ending: ".html", purpose: "a page for phones and laptops", write: brief::write_page },
    Format { ending: "-a4.pdf", purpose: "two sheets of A4", write: brief::write_a4 },
    Format { ending: "-letter.pdf", purpose: "two sheets of Letter", write: brief::write_letter },
    Format { ending: ".kml", purpose: "places and routes for a globe", write: brief::write_kml },
    Format {
        ending: ".kmz",
        purpose: "the same with the coverage laid on the ground",
        write: brief::write_kmz,
    },
    Format { ending: ".gpx", purpose: "GPS units and phones", write: brief::write_gpx },
    Format { ending: ".png", purpose: "the map to print or show", write: brief::write_png },
    Format { ending: ".gpkg", purpose: "programs for maps", write: brief::write_geopackage },
];

/// The files of a search.
pub static SPOTS: &[SpotFormat] = &[
    Format { ending: ".png", purpose: "the map for people", write: map::spots::write_png },
    Format { ending: ".geojson", purpose: "the spots as features", write: geojson::write_spots },
    Format { ending: ".toml", purpose: "lines for the plan", write: spot_tables::write_toml },
];

/// A file that could not be made or written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OutputError {
    /// What goes into it could not be made.
    #[error(transparent)]
    Content(#[from] ReportError),
    /// It could not be written.
    #[error(transparent)]
    Writing(#[from] OutboxError),
}

/// Where a file goes: a name in an outbox.
#[derive(Debug)]
pub struct Place<'a> {
    outbox: &'a mut Outbox,
    name: String,
}

impl Place<'_> {
    /// Writes these bytes there.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when they can't be written.
    pub fn bytes(self, content: &[u8]) -> Result<(), OutputError> {
        Ok(self.outbox.put(&self.name, content)?)
    }

    /// Writes a value there as JSON that people can read.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when it can't be written.
    pub fn json(self, value: &impl Serialize) -> Result<(), OutputError> {
        Ok(self.outbox.put_json(&self.name, value)?)
    }

    /// Lets a library write there that wants a path.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when it can't.
    pub fn by<E: Display>(
        self,
        write: impl FnOnce(&Path) -> Result<(), E>,
    ) -> Result<(), OutputError> {
        Ok(self.outbox.put_by(&self.name, write)?)
    }
}

/// Adds every file of `formats` to the outbox, named `stem` and its ending.
///
/// # Errors
/// [`OutputError`] for the first that cannot be made or written.
pub fn put_all<C>(
    outbox: &mut Outbox,
    stem: &str,
    formats: &[Format<Write<C>>],
    content: &C,
) -> Result<(), OutputError> {
    for format in formats {
        let name = format!("{stem}{}", format.ending);
        (format.write)(content, Place { outbox: &mut *outbox, name })?;
    }
    Ok(())
}

/// The files of a result as a list for people: a name and what it is for, one a line.
#[must_use]
pub fn listed<W>(stem: &str, formats: &[Format<W>]) -> String {
    let names: Vec<String> = formats.iter().map(|f| format!("{stem}{}", f.ending)).collect();
    let widest = names.iter().map(|name| name.chars().count()).max().unwrap_or_default();
    let lines = names.iter().zip(formats);
    lines.map(|(name, format)| format!("  {name:widest$}  {}\n", format.purpose)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_files_of_a_result_share_a_name_and_each_says_what_it_is_for() {
        fn check<W>(formats: &[Format<W>]) {
            let endings: BTreeSet<&str> = formats.iter().map(|f| f.ending).collect();
            assert_eq!(endings.len(), formats.len());
            for format in formats {
                assert!(format.ending.contains('.') && !format.purpose.is_empty());
            }
        }
        check(SITE_MAP);
        check(BRIEFING);
        check(SPOTS);
    }

    #[test]
    fn every_file_is_put_under_its_own_name_and_the_first_failure_is_told() {
        let whole: Write<String> = |text, place| place.bytes(text.as_bytes());
        let length: Write<String> = |text, place| place.json(&text.len());
        let nothing: Write<String> = |_, _| Ok(());
        let fails: Write<String> = |_, _| Err(ReportError::Empty { columns: 0, rows: 1 }.into());
        let format = |ending, write| Format { ending, purpose: "a test", write };
        let formats =
            [format(".txt", whole), format("-length.json", length), format(".none", nothing)];

        let four = "four".to_owned();
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        let mut outbox = Outbox::open(&out).unwrap();
        put_all(&mut outbox, "plan", &formats, &four).unwrap();
        let delivered = outbox.deliver().unwrap();
        assert_eq!(delivered, [out.join("plan.txt"), out.join("plan-length.json")]);
        assert_eq!(std::fs::read_to_string(out.join("plan.txt")).unwrap(), "four");
        assert_eq!(std::fs::read_to_string(out.join("plan-length.json")).unwrap().trim(), "4");

        let mut outbox = Outbox::open(&out).unwrap();
        let error = put_all(&mut outbox, "plan", &[format(".bad", fails)], &four).unwrap_err();
        assert!(error.to_string().contains("no area"), "{error}");
        let list = listed("plan", &formats);
        assert!(list.contains("  plan.txt          a test\n"), "{list}");
    }
}
