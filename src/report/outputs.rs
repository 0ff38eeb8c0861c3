//! Which files the results of all verbs come as. A format is one function that
//! writes it from the finished content, in a file of its own, and one entry in
//! the list of its result; verbs write whatever the lists name.

use std::fmt::Display;
use std::io::{self, Write as Writer};
use std::path::Path;
use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use super::brief::{self, BriefContent};
use super::call_plot;
use super::card::{self, Card};
use super::channel_sheet::{self, ChannelSheet};
use super::debrief::map::MapPicture;
use super::debrief::{self, DebriefContent};
use super::map::choice::ChoiceMap;
use super::map::spots::SpotMap;
use super::map::trackers::TrackerMap;
use super::map::{self, MapContent};
use super::mast_plot::{self, MastPlot};
use super::outbox::{Outbox, OutboxError, Part};
use super::path_plot::{self, PathPlot};
use super::power_plot::{self, PowerPlot};
use super::ready::{self, ReadyContent};
use super::rehearsal::{self, RehearsalWalk};
use super::roof_plan::{self, RoofPlan};
use super::{ReportError, geojson, route_strip, spot_tables};

/// One of the files that a result comes as. `W` is what writes it.
#[derive(Debug, Clone, Copy)]
pub struct Format<W> {
    /// What its name ends in after that of the result, such as `.gpx` or
    /// `-margin.tif`; the whole name where the result has none.
    pub ending: &'static str,
    /// What it is for, in a line for people.
    pub purpose: &'static str,
    /// Writes it into its slot, or nothing where the content does not ask for it.
    pub write: W,
}

impl<W> Format<W> {
    /// A file whose name ends in `ending`, what it is for, and what writes it.
    const fn new(ending: &'static str, purpose: &'static str, write: W) -> Self {
        Self { ending, purpose, write }
    }
}

/// The files that a result comes as. `W` is what writes one.
#[derive(Debug, Clone, Copy)]
pub struct Files<'a, W> {
    /// What all their names begin with, such as `card-`.
    pub prefix: &'static str,
    /// What comes next, as the help writes it: `CHANNEL` where there are such
    /// files for each channel; empty where a verb has one such result.
    pub each: &'static str,
    /// One entry a file.
    pub formats: &'a [Format<W>],
}

/// Writes content `C` in a format.
pub type Write<C> = fn(&C, OutboxSlot<'_>) -> Result<(), OutputError>;

/// The type of [`SITE_MAP`].
pub type MapFiles = Files<'static, fn(&MapContent<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`BRIEFING`].
pub type BriefFiles =
    Files<'static, fn(&BriefContent<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`SPOTS`].
pub type SpotFiles = Files<'static, fn(&SpotMap<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`PATH_PLOT`].
pub type PathFiles = Files<'static, fn(&PathPlot<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`MASTS`].
pub type MastFiles = Files<'static, fn(&MastPlot<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`POWER`].
pub type PowerFiles = Files<'static, fn(&PowerPlot<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`TRACKERS`].
pub type TrackerFiles =
    Files<'static, fn(&TrackerMap<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`CHOICE`].
pub type ChoiceFiles =
    Files<'static, fn(&ChoiceMap<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`CHANNELS`].
pub type ChannelFiles =
    Files<'static, fn(&ChannelSheet<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`ROOF`].
pub type RoofFiles = Files<'static, fn(&RoofPlan<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`CARD`].
pub type CardFiles = Files<'static, fn(&Card, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`REHEARSAL`].
pub type RehearsalFiles =
    Files<'static, fn(&RehearsalWalk<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`DEBRIEF`].
pub type DebriefFiles =
    Files<'static, fn(&DebriefContent<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`READY`].
pub type ReadyFiles =
    Files<'static, fn(&ReadyContent<'_>, OutboxSlot<'_>) -> Result<(), OutputError>>;
/// The type of [`REPORT_MAP`].
pub type ReportFiles = Files<'static, fn(&MapPicture, OutboxSlot<'_>) -> Result<(), OutputError>>;

/// The files of a site's map.
pub static SITE_MAP: MapFiles = Files {
    prefix: "",
    each: "CHANNEL-SITE",
    formats: &[
        Format::new(".png", "the map for people", map::write_png),
        Format::new(".geojson", "classes and places", geojson::write_map),
        Format::new(
            "-routes.png",
            "what radio comes to along each route, if there are any",
            route_strip::write_map,
        ),
        Format::new("-margin.tif", "governing margin of each cell, dB", map::rasters::write_margin),
        Format::new(
            "-probability.tif",
            "probability of both ways in each cell, 0 to 1",
            map::rasters::write_probability,
        ),
    ],
};

/// The files of the briefing.
pub static BRIEFING: BriefFiles = Files {
    prefix: "brief",
    each: "",
    formats: &[
        Format::new(".html", "a page for phones and laptops", brief::write_page),
        Format::new("-a4.pdf", "two sheets of A4", brief::write_a4),
        Format::new("-letter.pdf", "two sheets of Letter", brief::write_letter),
        Format::new("-a3.pdf", "two sheets of A3, if asked for", brief::write_a3),
        Format::new("-tabloid.pdf", "two sheets of Tabloid, if asked for", brief::write_tabloid),
        Format::new(
            "-poster.pdf",
            "a poster for a wall (A2, or 18 x 24 in), if asked for",
            brief::write_poster,
        ),
        Format::new(
            "-slips.pdf",
            "a slip for each post to cut out, on A4, or on Letter with US units",
            brief::write_slips,
        ),
        Format::new(".kml", "places and routes for a globe", brief::write_kml),
        Format::new(".kmz", "the same with the coverage laid on the ground", brief::write_kmz),
        Format::new(".gpx", "GPS units and phones", brief::write_gpx),
        Format::new(".png", "the map to print or show", brief::write_png),
        Format::new(".gpkg", "programs for maps", brief::write_geopackage),
    ],
};

/// The files of a search.
pub static SPOTS: SpotFiles = Files {
    prefix: "spots",
    each: "",
    formats: &[
        Format::new(".png", "the map for people", map::spots::write_png),
        Format::new(".geojson", "the spots as features", geojson::write_spots),
        Format::new(".toml", "lines for the plan", spot_tables::write_toml),
    ],
};

/// The files of one link's study.
pub static PATH_PLOT: PathFiles = Files {
    prefix: "path-",
    each: "FROM-to-TO",
    formats: &[Format::new(".png", "the profile and both budgets", path_plot::write_png)],
};

/// The files of a study of masts.
pub static MASTS: MastFiles = Files {
    prefix: "masts",
    each: "",
    formats: &[
        Format::new(".png", "coverage against the antenna's height", mast_plot::write_png),
        Format::new(".svg", "the same to enlarge", mast_plot::write_svg),
    ],
};

/// The files of the energy budgets, if the plan has stations or crews.
pub static POWER: PowerFiles = Files {
    prefix: "power",
    each: "",
    formats: &[
        Format::new(".png", "how long each pack runs, a bar a station", power_plot::write_png),
        Format::new(".svg", "the same to enlarge", power_plot::write_svg),
    ],
};

/// The files of the trackers of one packet channel.
pub static TRACKERS: TrackerFiles = Files {
    prefix: "trackers-",
    each: "CHANNEL",
    formats: &[Format::new(
        ".png",
        "the routes on a map, by how often trackers are heard",
        map::trackers::write_png,
    )],
};

/// The files of a choice of sites.
pub static CHOICE: ChoiceFiles = Files {
    prefix: "choice",
    each: "",
    formats: &[Format::new(
        ".png",
        "the chosen sites on a map, and which serves what",
        map::choice::write_png,
    )],
};

/// The files of the channel sheet.
pub static CHANNELS: ChannelFiles = Files {
    prefix: "channels",
    each: "",
    formats: &[
        Format::new(".html", "the channel sheet to print", channel_sheet::write_html),
        Format::new(".csv", "the same for spreadsheets", channel_sheet::write_csv),
    ],
};

/// The files of one roof that stations share.
pub static ROOF: RoofFiles = Files {
    prefix: "roof-",
    each: "SITE",
    formats: &[Format::new(
        ".png",
        "antennas from above with the distances to keep",
        roof_plan::write_png,
    )],
};

/// The files of a fallback card.
pub static CARD: CardFiles = Files {
    prefix: "card-",
    each: "WHOSE",
    formats: &[
        Format::new(
            ".txt",
            "the fallback card of a channel, or of a group and role, for a label printer",
            card::write_text,
        ),
        Format::new(
            ".png",
            "the same to cut out; -side-N before .png if one side is too small",
            card::write_sides,
        ),
    ],
};

/// The files of a rehearsal.
pub static REHEARSAL: RehearsalFiles = Files {
    prefix: "rehearsal",
    each: "",
    formats: &[
        Format::new(".gpx", "the walk for GPS units and phones", rehearsal::write_gpx),
        Format::new(".png", "the walk on a map", map::walk::write_png),
        Format::new("-calls.png", "what each call would teach", call_plot::write_png),
    ],
};

/// The files of a debrief.
pub static DEBRIEF: DebriefFiles = Files {
    prefix: "",
    each: "",
    formats: &[
        Format::new("debrief.html", "the whole debrief as a page", debrief::page::write_page),
        Format::new(
            "debrief.pdf",
            "the same on sheets of A4, or of Letter with US units",
            debrief::sheets::write_pdf,
        ),
        Format::new("lessons.md", "one page for the next plan", debrief::lessons::write_markdown),
        Format::new(
            "debrief-curve.png",
            "what worked against what was predicted",
            debrief::curve::write_png,
        ),
        Format::new(
            "calibration.toml",
            "the corrections, if the reports teach any",
            debrief::calibration::write_toml,
        ),
    ],
};

/// The files of the evening before.
pub static READY: ReadyFiles = Files {
    prefix: "ready",
    each: "",
    formats: &[
        Format::new(
            "-a4.pdf",
            "the same on A4, the routes behind it, unless another paper is wanted",
            ready::write_a4,
        ),
        Format::new(
            "-letter.pdf",
            "the same on Letter, with US units or if asked for",
            ready::write_letter,
        ),
        Format::new("-a3.pdf", "the same on A3, if asked for", ready::write_a3),
        Format::new("-tabloid.pdf", "the same on Tabloid, if asked for", ready::write_tabloid),
        Format::new(
            "-routes.png",
            "what radio comes to along each route, if there are any",
            ready::write_routes,
        ),
    ],
};

/// The files of the reports from one site.
pub static REPORT_MAP: ReportFiles = Files {
    prefix: "debrief-",
    each: "CHANNEL-SITE",
    formats: &[Format::new(".png", "the map with the reports on it", debrief::map::write_png)],
};

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

/// The slot of an outbox that one file of a result goes into, under its name.
#[derive(Debug)]
pub struct OutboxSlot<'a> {
    part: Part<'a>,
    /// The name without its ending.
    stem: String,
    ending: &'static str,
}

impl OutboxSlot<'_> {
    fn name(&self) -> String {
        format!("{}{}", self.stem, self.ending)
    }

    /// Writes these bytes there.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when they can't be written.
    pub fn bytes(mut self, content: &[u8]) -> Result<(), OutputError> {
        let name = self.name();
        Ok(self.part.put(&name, content)?)
    }

    /// Writes the sides of a thing there: one under the file's own name, several
    /// with `-side-1` and so on before its ending.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when one can't be written.
    pub fn sides(mut self, sides: &[Vec<u8>]) -> Result<(), OutputError> {
        if let [side] = sides {
            return self.bytes(side);
        }
        for (number, side) in (1..).zip(sides) {
            let name = format!("{}-side-{number}{}", self.stem, self.ending);
            self.part.put(&name, side)?;
        }
        Ok(())
    }

    /// Writes a value there as JSON that people can read.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when it can't be written.
    pub fn json(mut self, value: &impl Serialize) -> Result<(), OutputError> {
        let name = self.name();
        Ok(self.part.put_json(&name, value)?)
    }

    /// Lets `write` write there piece by piece.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when it can't.
    pub fn through(
        mut self,
        write: impl FnOnce(&mut dyn Writer) -> io::Result<()>,
    ) -> Result<(), OutputError> {
        let name = self.name();
        Ok(self.part.put_through(&name, write)?)
    }

    /// Lets a library write there that wants a path.
    ///
    /// # Errors
    /// [`OutputError::Writing`] when it can't.
    pub fn by<E: Display>(
        mut self,
        write: impl FnOnce(&Path) -> Result<(), E>,
    ) -> Result<(), OutputError> {
        let name = self.name();
        Ok(self.part.put_by(&name, write)?)
    }
}

/// Adds every file of a result to the outbox. `each` is the part of the names
/// that tells this result from others of its kind; empty where there is one.
///
/// The files are made and written at a time on all threads, whose number changes no
/// byte of them; what each takes to make is in memory together.
///
/// # Errors
/// [`OutputError`] for the first in the list that cannot be made or written.
pub fn put_all<C: Sync>(
    outbox: &mut Outbox,
    files: &Files<'_, Write<C>>,
    each: &str,
    content: &C,
) -> Result<(), OutputError> {
    let names = make_all(outbox, files, each, content)?;
    outbox.take_in(names);
    Ok(())
}

/// The same for one of several results that are made at a time; the names are for
/// [`Outbox::take_in`].
///
/// # Errors
/// [`OutputError`] as for [`put_all`].
pub fn make_all<C: Sync>(
    outbox: &Outbox,
    files: &Files<'_, Write<C>>,
    each: &str,
    content: &C,
) -> Result<Vec<String>, OutputError> {
    let put = |format: &Format<Write<C>>| {
        let mut names = Vec::new();
        let part = outbox.part(&mut names);
        let slot = OutboxSlot { part, stem: files.stem(each), ending: format.ending };
        let begun = Instant::now();
        (format.write)(content, slot)?;
        for name in &names {
            outbox.made(name, begun.elapsed());
        }
        Ok(names)
    };
    let put: Vec<Result<Vec<String>, OutputError>> = files.formats.par_iter().map(put).collect();
    Ok(put.into_iter().collect::<Result<Vec<_>, _>>()?.concat())
}

/// A file as help tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedFile {
    /// Its name, with a word in capitals for what differs, such as
    /// `card-CHANNEL.txt`.
    pub name: String,
    /// What it is for, in a line for people.
    pub purpose: &'static str,
}

impl<W> Files<'_, W> {
    /// The names of these files without their endings, for the result called `each`.
    #[must_use]
    pub fn stem(&self, each: &str) -> String {
        format!("{}{each}", self.prefix)
    }

    /// These files as help tells them.
    #[must_use]
    pub fn named(&self) -> Vec<NamedFile> {
        let stem = self.stem(self.each);
        let named = |format: &Format<W>| NamedFile {
            name: format!("{stem}{}", format.ending),
            purpose: format.purpose,
        };
        self.formats.iter().map(named).collect()
    }
}

/// Files as a list for people: a name and what it is for, one a line.
#[must_use]
pub fn listed(files: &[NamedFile]) -> String {
    let widest = files.iter().map(|file| file.name.chars().count()).max().unwrap_or_default();
    files.iter().map(|file| format!("  {:widest$}  {}\n", file.name, file.purpose)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_files_share_a_name_and_each_says_what_it_is_for() {
        let all = [
            SITE_MAP.named(),
            BRIEFING.named(),
            SPOTS.named(),
            PATH_PLOT.named(),
            MASTS.named(),
            POWER.named(),
            TRACKERS.named(),
            CHOICE.named(),
            CHANNELS.named(),
            ROOF.named(),
            CARD.named(),
            REHEARSAL.named(),
            DEBRIEF.named(),
            READY.named(),
            REPORT_MAP.named(),
        ]
        .concat();
        let names: BTreeSet<&str> = all.iter().map(|file| file.name.as_str()).collect();
        assert_eq!(names.len(), all.len());
        for file in &all {
            assert!(file.name.contains('.') && !file.purpose.is_empty(), "{file:?}");
        }
    }

    #[test]
    fn every_file_is_put_under_its_own_name_and_the_first_failure_is_told() {
        const FILES: Files<'static, Write<String>> = Files {
            prefix: "card-",
            each: "CHANNEL",
            formats: &[
                Format::new(".txt", "a test", |text, slot| slot.bytes(text.as_bytes())),
                Format::new("-length.json", "a test", |text, slot| slot.json(&text.len())),
                Format::new(".none", "a test", |_, _| Ok(())),
                Format::new(".side", "a test", |text, slot| {
                    slot.sides(&[text.clone().into_bytes()])
                }),
                Format::new(".sides", "a test", |text, slot| {
                    slot.sides(&[text.clone().into_bytes(), b"back".to_vec()])
                }),
            ],
        };
        const FAILS: Files<'static, Write<String>> = Files {
            formats: &[Format::new(".bad", "a test", |_, _| {
                Err(OutputError::Content(ReportError::Empty { columns: 0, rows: 1 }))
            })],
            ..FILES
        };

        let four = "four".to_owned();
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("out");
        let mut outbox = Outbox::open(&out).unwrap();
        put_all(&mut outbox, &FILES, "talk", &four).unwrap();
        let delivered = outbox.deliver().unwrap();
        let names = ["talk.txt", "talk-length.json", "talk.side", "talk-side-1.sides"];
        let names = names.iter().chain(&["talk-side-2.sides"]);
        let expected: Vec<_> = names.map(|name| out.join(format!("card-{name}"))).collect();
        assert_eq!(delivered, expected);
        let read = |name: &str| std::fs::read_to_string(out.join(name)).unwrap();
        assert_eq!(read("card-talk.txt"), "four");
        assert_eq!(read("card-talk-length.json").trim(), "4");
        assert_eq!(read("card-talk-side-2.sides"), "back");

        let mut outbox = Outbox::open(&out).unwrap();
        let error = put_all(&mut outbox, &FAILS, "talk", &four).unwrap_err();
        assert!(error.to_string().contains("no area"), "{error}");
        let list = listed(&FILES.named());
        assert!(list.contains("  card-CHANNEL.txt          a test\n"), "{list}");
    }
}
