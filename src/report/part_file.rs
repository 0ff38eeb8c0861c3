//! A part of a large ranking: scores of some of a plan's sites, in an Apache Parquet
//! file that other programs read too, and beside it what it is a part of.
//!
//! Numbers come back to the bit: a ranking put together from parts is that of a
//! single run.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use parquet::basic::Compression;
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::record::RowAccessor;
use parquet::schema::parser::parse_message_type;
use perchline_plan::{InputFile, hexadecimal};
use perchline_siting::{DuplexerScore, SiteScore};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::ReportError;

/// Which part of how many; both from 1 on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Share {
    /// The part.
    pub part: usize,
    /// How many there are.
    pub of: usize,
}

impl Share {
    /// Parts that a ranking may be cut into.
    pub const MOST: usize = 100_000;

    /// Whether the site at this place of the plan, from 0 on, belongs to it: each
    /// part takes every so many sites, so that all have near ones and far ones.
    #[must_use]
    pub const fn holds(self, place: usize) -> bool {
        place % self.of == self.part - 1
    }

    /// A part as it is typed, such as `3/16`.
    ///
    /// # Errors
    /// A sentence when it is none.
    pub fn parse(text: &str) -> Result<Self, String> {
        let wrong = || {
            format!("write which part of how many, such as 3/16: from 1 on, {} at most", Self::MOST)
        };
        let (part, of) = text.split_once('/').ok_or_else(wrong)?;
        let number = |text: &str| text.trim().parse::<usize>().map_err(|_| wrong());
        let (part, of) = (number(part)?, number(of)?);
        if (1..=of).contains(&part) && of <= Self::MOST {
            Ok(Self { part, of })
        } else {
            Err(wrong())
        }
    }

    /// The name of its files, without an ending.
    #[must_use]
    pub fn stem(self) -> String {
        let digits = self.of.to_string().len();
        format!("part-{:0digits$}-of-{}", self.part, self.of)
    }
}

/// What a part is a part of, as the file beside it says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartOf {
    /// Which part.
    pub share: Share,
    /// A digest of the plan, its terrain, the settings and the map's cells: all parts
    /// of a ranking have the same.
    pub run: String,
    /// The program's version.
    pub version: String,
    /// Channels that were ranked.
    pub channels: Vec<String>,
    /// Sites of this part.
    pub sites: usize,
    /// SHA-256 of the Parquet file.
    pub sha256: String,
}

/// The score of one site on one channel.
#[derive(Debug, Clone)]
pub struct KeptScore {
    /// The channel's name.
    pub channel: String,
    /// The site's place in the plan, from 0 on.
    pub place: usize,
    /// The score; its budgets are not kept.
    pub score: SiteScore,
}

/// What a score's own text leaves out stands beside it.
#[derive(Serialize, Deserialize)]
struct Whole {
    score: SiteScore,
    duplexers: Vec<DuplexerScore>,
}

/// The columns: what other programs may want to sort by, and the whole score as JSON.
const COLUMNS: &str = "message site {
    required binary channel (UTF8);
    required binary site (UTF8);
    required int64 place;
    required double weighted_probability;
    required boolean must_posts_met;
    required int64 posts_covered;
    required double map_share;
    required binary score (UTF8);
}";

/// Sites of a row group: a few megabytes of scores.
const ROWS: usize = 500;

/// A part's file is no larger than this, bytes: more than any part of a plan that is
/// allowed comes to.
const LARGEST: u64 = 4 << 30;

/// Packs scores as a Parquet file, with its SHA-256.
///
/// # Errors
/// [`ReportError::Exchange`] when a score can't be packed.
pub fn pack(scores: &[KeptScore]) -> Result<(Vec<u8>, String), ReportError> {
    let mut bytes = Vec::new();
    write(&mut bytes, scores).map_err(|e| exchange(&e))?;
    let digest = hexadecimal(&Sha256::digest(&bytes));
    Ok((bytes, digest))
}

fn exchange(error: &ParquetError) -> ReportError {
    ReportError::Exchange { format: "Parquet", reason: error.to_string() }
}

fn write(to: &mut Vec<u8>, scores: &[KeptScore]) -> Result<(), ParquetError> {
    let schema = Arc::new(parse_message_type(COLUMNS)?);
    let properties =
        WriterProperties::builder().set_compression(Compression::GZIP(Default::default())).build();
    let mut file = SerializedFileWriter::new(to, schema, Arc::new(properties))?;
    for scores in scores.chunks(ROWS) {
        let mut rows = file.next_row_group()?;
        write_rows(&mut rows, scores)?;
        rows.close()?;
    }
    file.close()?;
    Ok(())
}

fn write_rows<W: io::Write + Send>(
    rows: &mut SerializedRowGroupWriter<'_, W>,
    scores: &[KeptScore],
) -> Result<(), ParquetError> {
    let text = |text: &dyn Fn(&KeptScore) -> String| -> Vec<ByteArray> {
        scores.iter().map(|kept| ByteArray::from(text(kept).into_bytes())).collect()
    };
    let number =
        |number: &dyn Fn(&KeptScore) -> f64| -> Vec<f64> { scores.iter().map(number).collect() };
    let count = |count: &dyn Fn(&KeptScore) -> usize| -> Vec<i64> {
        scores.iter().map(|kept| i64::try_from(count(kept)).unwrap_or(i64::MAX)).collect()
    };
    let wholes: Result<Vec<ByteArray>, ParquetError> = scores
        .iter()
        .map(|kept| {
            let mut score = kept.score.clone();
            score.posts.iter_mut().for_each(|post| post.budgets = None);
            let whole = Whole { duplexers: score.duplexers.clone(), score };
            let text = serde_json::to_vec(&whole);
            text.map(ByteArray::from).map_err(|e| ParquetError::External(Box::new(e)))
        })
        .collect();
    let mut columns = [
        Column::Text(text(&|kept| kept.channel.clone())),
        Column::Text(text(&|kept| kept.score.site.clone())),
        Column::Count(count(&|kept| kept.place)),
        Column::Number(number(&|kept| kept.score.weighted_probability)),
        Column::Flag(scores.iter().map(|kept| kept.score.must_posts_met).collect()),
        Column::Count(count(&|kept| kept.score.posts_covered)),
        Column::Number(number(&|kept| kept.score.map_share.unwrap_or(f64::NAN))),
        Column::Text(wholes?),
    ]
    .into_iter();
    while let Some(mut writer) = rows.next_column()? {
        match (writer.untyped(), columns.next()) {
            (ColumnWriter::ByteArrayColumnWriter(to), Some(Column::Text(values))) => {
                to.write_batch(&values, None, None)?;
            }
            (ColumnWriter::Int64ColumnWriter(to), Some(Column::Count(values))) => {
                to.write_batch(&values, None, None)?;
            }
            (ColumnWriter::DoubleColumnWriter(to), Some(Column::Number(values))) => {
                to.write_batch(&values, None, None)?;
            }
            (ColumnWriter::BoolColumnWriter(to), Some(Column::Flag(values))) => {
                to.write_batch(&values, None, None)?;
            }
            _ => return Err(ParquetError::General("columns and values differ".to_owned())),
        }
        writer.close()?;
    }
    Ok(())
}

enum Column {
    Text(Vec<ByteArray>),
    Count(Vec<i64>),
    Number(Vec<f64>),
    Flag(Vec<bool>),
}

/// A part that was found.
#[derive(Debug, Clone)]
pub struct FoundPart {
    /// The file that says what it is a part of.
    pub beside: PathBuf,
    /// What that says.
    pub part: PartOf,
}

/// Why parts can't be put together.
#[derive(Debug, thiserror::Error)]
pub enum PartError {
    /// A folder or file can't be read.
    #[error("{}: {source}", file.display())]
    Read {
        /// The folder or file.
        file: PathBuf,
        /// Why.
        #[source]
        source: io::Error,
    },
    /// No part lies there.
    #[error(
        "{}: no part of a ranking is there or in a folder in it; make them with perchline rank PLAN --part 1/4 --out DIR and so on",
        folder.display()
    )]
    None {
        /// The folder.
        folder: PathBuf,
    },
    /// A file does not say what a part's says.
    #[error("{}: is not what a part of a ranking says of itself: {reason}; rank that part again", file.display())]
    NoPart {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// A part of another ranking.
    #[error(
        "{}: was made from another plan, terrain or settings, or by another version ({version}); rank that part again with what is to be put together",
        file.display()
    )]
    Another {
        /// The file.
        file: PathBuf,
        /// The version that made it.
        version: String,
    },
    /// Parts that are cut otherwise than the first.
    #[error(
        "{}: is part {} of {}, and others are of {of}; put parts of one cut into one folder",
        file.display(), found.part, found.of
    )]
    OtherwiseCut {
        /// The file.
        file: PathBuf,
        /// What it is.
        found: Share,
        /// What the first is one of.
        of: usize,
    },
    /// Parts that are not there.
    #[error("{}: {} of {of} parts are missing: {}; make them with perchline rank PLAN --part {}/{of} and so on", folder.display(), missing.len(), listed(missing), missing.first().copied().unwrap_or(1))]
    Missing {
        /// The folder.
        folder: PathBuf,
        /// Which.
        missing: Vec<usize>,
        /// Of how many.
        of: usize,
    },
    /// A file that is not as it was written.
    #[error("{}: is not as it was written: {reason}; rank that part again", file.display())]
    Broken {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        reason: String,
    },
}

/// The first of many numbers.
fn listed(numbers: &[usize]) -> String {
    const TOLD: usize = 10;
    let told: Vec<String> = numbers.iter().take(TOLD).map(ToString::to_string).collect();
    let more = numbers.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", told.join(", "))
}

/// The parts in a folder and in the folders in it, by number: all of one cut.
///
/// # Errors
/// [`PartError`] when one is missing, is of another cut, or can't be read.
pub fn find(folder: &Path) -> Result<Vec<FoundPart>, PartError> {
    let mut found = Vec::new();
    let mut folders = vec![(folder.to_owned(), 0)];
    while let Some((folder, depth)) = folders.pop() {
        let failed = |source| PartError::Read { file: folder.clone(), source };
        for entry in std::fs::read_dir(&folder).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            let path = entry.path();
            let name = entry.file_name().to_string_lossy().into_owned();
            if path.is_dir() {
                if depth == 0 {
                    folders.push((path, 1));
                }
            } else if name.starts_with("part-") && name.ends_with(".json") {
                found.push(found_at(path)?);
            }
        }
    }
    found.sort_by(|a, b| {
        a.part.share.part.cmp(&b.part.share.part).then_with(|| a.beside.cmp(&b.beside))
    });
    let Some(of) = found.first().map(|first| first.part.share.of) else {
        return Err(PartError::None { folder: folder.to_owned() });
    };
    if let Some(other) = found.iter().find(|part| part.part.share.of != of) {
        let (file, found) = (other.beside.clone(), other.part.share);
        return Err(PartError::OtherwiseCut { file, found, of });
    }
    // One that lies there twice counts once.
    found.dedup_by_key(|part| part.part.share.part);
    let there = |part: &usize| found.binary_search_by_key(part, |f| f.part.share.part).is_ok();
    let missing: Vec<usize> = (1..=of).filter(|part| !there(part)).collect();
    if missing.is_empty() {
        Ok(found)
    } else {
        Err(PartError::Missing { folder: folder.to_owned(), missing, of })
    }
}

fn found_at(beside: PathBuf) -> Result<FoundPart, PartError> {
    /// Names of channels and little else.
    const LONGEST: u64 = 1 << 20;
    let failed = |source| PartError::Read { file: beside.clone(), source };
    let mut text = String::new();
    File::open(&beside)
        .and_then(|file| file.take(LONGEST).read_to_string(&mut text))
        .map_err(failed)?;
    let wrong = |reason: String| PartError::NoPart { file: beside.clone(), reason };
    let part: PartOf = serde_json::from_str(&text).map_err(|e| wrong(e.to_string()))?;
    let Share { part: number, of } = part.share;
    if number == 0 || number > of || of > Share::MOST {
        return Err(wrong(format!("there is no part {number} of {of}")));
    }
    Ok(FoundPart { beside, part })
}

impl FoundPart {
    /// The Parquet file beside it.
    #[must_use]
    pub fn scores_file(&self) -> PathBuf {
        self.beside.with_extension("parquet")
    }

    /// The scores of the part, which has to be one of this `run`.
    ///
    /// # Errors
    /// [`PartError`] when it is of another, or not as it was written.
    pub fn scores(&self, run: &str) -> Result<Vec<KeptScore>, PartError> {
        if self.part.run != run {
            let version = self.part.version.clone();
            return Err(PartError::Another { file: self.beside.clone(), version });
        }
        let file = self.scores_file();
        let failed = |source| PartError::Read { file: file.clone(), source };
        let broken = |reason: String| PartError::Broken { file: file.clone(), reason };
        let length = std::fs::metadata(&file).map_err(failed)?.len();
        if length > LARGEST {
            return Err(broken(format!("it has {length} bytes")));
        }
        // Nothing but what was written is looked into.
        if InputFile::of(&file).map_err(failed)?.sha256 != self.part.sha256 {
            return Err(broken("its SHA-256 is another".to_owned()));
        }
        let scores = unpack(File::open(&file).map_err(failed)?).map_err(&broken)?;
        if scores.iter().all(|kept| self.part.share.holds(kept.place)) {
            Ok(scores)
        } else {
            Err(broken("it holds sites of another part".to_owned()))
        }
    }
}

fn unpack(file: File) -> Result<Vec<KeptScore>, String> {
    let reader = SerializedFileReader::new(file).map_err(|e| e.to_string())?;
    let rows = reader.get_row_iter(None).map_err(|e| e.to_string())?;
    rows.map(|row| {
        let row = row.map_err(|e| e.to_string())?;
        let channel = row.get_string(0).map_err(|e| e.to_string())?.clone();
        let place = row.get_long(2).map_err(|e| e.to_string())?;
        let text = row.get_string(7).map_err(|e| e.to_string())?;
        let Whole { mut score, duplexers } =
            serde_json::from_str(text).map_err(|e| e.to_string())?;
        score.duplexers = duplexers;
        let place = usize::try_from(place).map_err(|e| e.to_string())?;
        Ok(KeptScore { channel, place, score })
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_link::Outcome;
    use perchline_siting::{ClassStretch, PostScore, RouteScore, ShareScore, Stretch};
    use perchline_units::{Db, Degrees, Metres, Position};

    fn score(site: &str, third: f64) -> SiteScore {
        let at = Position::new(Degrees::new(47.1 + third), Degrees::new(-35.2)).unwrap();
        SiteScore {
            site: site.to_owned(),
            at,
            available: true,
            refused_mast: None,
            ground_m: Metres::new(third * 1e3),
            antenna_above_ground_m: Metres::new(17.1),
            weighted_probability: third,
            must_posts_met: true,
            posts_covered: 1,
            worst_post: Some("Aid 3".to_owned()),
            posts: vec![PostScore {
                post: "Aid 3".to_owned(),
                at,
                must: true,
                counts: true,
                distance_m: Metres::new(1e3 / 7.0),
                line_of_sight: None,
                outcome: Outcome::OneWay,
                probability: Some(0.1 + 0.2),
                sure: Some(f64::MIN_POSITIVE),
                governing_margin_db: Some(Db::new(-1.0 / 3.0)),
                budgets: None,
                reason: "in \"clear\" view; Ørsted".to_owned(),
                remedy: None,
            }],
            areas: Vec::new(),
            routes: vec![RouteScore {
                share: ShareScore {
                    name: "Run".to_owned(),
                    share: 2.0 / 3.0,
                    probability: 0.7,
                    samples: 3,
                    unknown: 1,
                },
                length_m: Metres::new(5000.1),
                expected_without_contact_m: Metres::new(1e-9),
                longest_gap: Some(Stretch { from_m: Metres::new(0.1), to_m: Metres::new(0.3) }),
                gaps: Vec::new(),
                classes: vec![ClassStretch {
                    stretch: Stretch { from_m: Metres::new(0.1 + 0.2), to_m: Metres::new(0.7) },
                    outcome: Outcome::OneWay,
                    talk_in: Outcome::NoContact,
                    talk_out: Outcome::Patchy,
                }],
            }],
            map_share: Some(1.0 / 7.0),
            duplexers: vec![DuplexerScore {
                isolation: Db::new(70.0),
                weighted_probability: third / 3.0,
                must_posts_met: false,
                posts_covered: 0,
            }],
        }
    }

    #[test]
    fn scores_read_back_to_the_bit() {
        let kept: Vec<KeptScore> = (0..1203)
            .map(|place| KeptScore {
                channel: "Event net".to_owned(),
                place,
                score: score(&format!("Roof {place}"), (place as f64 + 1.0) / 3001.0),
            })
            .collect();
        let (bytes, digest) = pack(&kept).unwrap();
        let folder = tempfile::tempdir().unwrap();
        let share = Share { part: 1, of: 1 };
        let beside = folder.path().join(format!("{}.json", share.stem()));
        let part = PartOf {
            share,
            run: "run".to_owned(),
            version: "1".to_owned(),
            channels: vec!["Event net".to_owned()],
            sites: kept.len(),
            sha256: digest,
        };
        std::fs::write(&beside, serde_json::to_vec(&part).unwrap()).unwrap();
        std::fs::write(beside.with_extension("parquet"), &bytes).unwrap();
        let found = find(folder.path()).unwrap();
        let [found] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!(found.part, part);
        let back = found.scores("run").unwrap();
        // Debug tells all fields.
        assert_eq!(format!("{back:?}"), format!("{kept:?}"));
        assert!(matches!(found.scores("other"), Err(PartError::Another { .. })));
        let mut broken = bytes;
        broken[100] ^= 1;
        std::fs::write(beside.with_extension("parquet"), &broken).unwrap();
        assert!(matches!(found.scores("run"), Err(PartError::Broken { .. })));
    }

    #[test]
    fn every_site_belongs_to_one_part() {
        for of in 1..9 {
            for place in 0..40 {
                let holding = (1..=of).filter(|part| Share { part: *part, of }.holds(place));
                assert_eq!(holding.count(), 1, "{place} of {of}");
            }
        }
        assert_eq!(Share { part: 3, of: 16 }.stem(), "part-03-of-16");
    }

    #[test]
    fn what_is_missing_or_cut_otherwise_is_told() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(find(folder.path()), Err(PartError::None { .. })));
        let put = |part: usize, of: usize| {
            let share = Share { part, of };
            let place = folder.path().join(part.to_string());
            std::fs::create_dir_all(&place).unwrap();
            let part = PartOf {
                share,
                run: String::new(),
                version: String::new(),
                channels: Vec::new(),
                sites: 0,
                sha256: String::new(),
            };
            let file = place.join(format!("{}.json", share.stem()));
            std::fs::write(file, serde_json::to_vec(&part).unwrap()).unwrap();
        };
        put(1, 30);
        put(4, 30);
        let text = find(folder.path()).unwrap_err().to_string();
        assert!(
            text.contains(
                "28 of 30 parts are missing: 2, 3, 5, 6, 7, 8, 9, 10, 11, 12 and 18 more"
            ),
            "{text}"
        );
        put(2, 3);
        assert!(matches!(find(folder.path()), Err(PartError::OtherwiseCut { .. })));
        std::fs::write(folder.path().join("part-1-of-2.json"), "{}").unwrap();
        assert!(matches!(find(folder.path()), Err(PartError::NoPart { .. })));
    }
}
