//! The command line as typed.

use std::path::PathBuf;
use std::time::Duration;

use clap::builder::PossibleValue;
use clap::{Args, Parser, Subcommand, ValueEnum};

use jiff::civil::DateTime;
use perchline_plan::{Carry, ChooseInputs, UnitSystem};
use perchline_propagation::METHODS;
use perchline_report::brief::Paper;
use perchline_report::outputs::{
    self, BRIEFING, CARD, CHANNELS, CHOICE, DEBRIEF, MASTS, NamedFile, PATH_PLOT, POWER, READY,
    REHEARSAL, REPORT_MAP, ROOF, SITE_MAP, TRACKERS,
};
use perchline_report::part_file::Share;
use perchline_start::RelayKind;
use perchline_units::{Metres, parse_quantity};

use super::start::{distance, local_time};

/// What `path --method` takes to compare all methods.
pub const ALL_METHODS: &str = "all";

/// Where the relay goes, and who will hear it.
#[derive(Debug, Parser)]
#[command(
    name = "perchline",
    version,
    about = "Find the site for an event's radio relay, and who should hear it and be heard",
    subcommand_value_name = "VERB",
    subcommand_help_heading = "Verbs, in the order of the work",
    after_help = "Begin with perchline start FOLDER; perchline help VERB tells more of a verb.\nExit codes: 0 done; 2 something in the command, the plan or the terrain must be\nfixed (nothing was written); 1 anything else; 130 interrupted."
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub verb: Verb,
}

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Make a first plan from a place, a route or an elevation file
    Start(StartArgs),
    /// Read the plan and its terrain, and say what is wrong or odd
    Check(PlanArgs),
    /// Rank the candidate sites, say why posts fail, draw maps
    #[command(after_help = files(&SITE_MAP.named()))]
    Rank {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// Rank for this channel only; otherwise for every relay and packet channel
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Which maps to draw
        #[arg(long, value_enum, default_value_t = Maps::Best)]
        maps: Maps,
        /// Score one part of very many sites and keep it in --out: 3/16 takes the 3rd
        /// of every 16
        #[arg(long, value_name = "K/N", value_parser = Share::parse, requires = "out", conflicts_with = "gather")]
        part: Option<Share>,
        /// Put the parts in this folder together instead of scoring sites
        #[arg(long, value_name = "DIR")]
        gather: Option<PathBuf>,
    },
    /// Explain one link: what lies in its way, what it loses
    #[command(after_help = files(&PATH_PLOT.named()), mut_arg("method", |method| method
        .value_parser(clap::builder::PossibleValuesParser::new(
            METHODS.iter().map(|m| m.name()).chain([ALL_METHODS]),
        ))
        .help("Propagation method in place of the plan's, or all of them side by side")))]
    Path {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// One end: a site or post, as the plan names it
        #[arg(long, value_name = "NAME")]
        from: String,
        /// The other end: a site or post
        #[arg(long, value_name = "NAME")]
        to: String,
        /// The channel; if not given, the first relay channel for a site and a
        /// post, the first simplex channel for two posts
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
    },
    /// Map what one site serves
    #[command(after_help = files(&SITE_MAP.named()))]
    Coverage {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The site, as the plan names it
        #[arg(long, value_name = "NAME")]
        site: String,
        /// The channel; the plan's first relay or packet channel if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
    },
    /// Choose the best set of sites for several relays
    #[command(after_help = files(&CHOICE.named()))]
    Choose {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// Relays at hand, in place of the plan's number
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..=ChooseInputs::MOST_RELAYS as i64))]
        relays: Option<u8>,
        /// The relay channel; the plan's own or its first if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Count the whole map as an area of weight 1
        #[arg(long)]
        whole_area: bool,
    },
    /// Say how much mast each site needs
    #[command(after_help = files(&MASTS.named()))]
    Masts {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// This site only; otherwise every one
        #[arg(long, value_name = "NAME")]
        site: Option<String>,
        /// The channel; the plan's first relay or packet channel if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
    },
    /// Search open ground and roofs for spots that nobody listed
    #[command(after_help = files(&outputs::SPOTS.named()))]
    Search {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The channel; the plan's first relay or packet channel if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Search inside this staging area of the plan, in place of the plan's own outline
        #[arg(long, value_name = "AREA")]
        inside: Option<String>,
        /// Height of the antenna over ground or roof, such as "6 m", in place of the plan's
        #[arg(long, value_name = "HEIGHT")]
        mast: Option<String>,
    },
    /// Say what digipeaters hear of the trackers along their routes
    #[command(after_help = files(&TRACKERS.named()))]
    Trackers {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// Site of a digipeater, as the plan names it (repeatable)
        #[arg(long, value_name = "NAME", required = true)]
        site: Vec<String>,
    },
    /// Say who disturbs whom on a roof, and how far to stay away
    #[command(after_help = files(&[CHANNELS.named(), ROOF.named()].concat()))]
    Cosite(PlanArgs),
    /// Say how long batteries run in the cold, and what people carry
    #[command(after_help = files(&POWER.named()))]
    Power(PlanArgs),
    /// Say what to do when the relay falls silent; make the cards
    #[command(after_help = files(&CARD.named()))]
    Direct {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The simplex channel; every one if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Where everybody holds the radio, in place of what [fallback] and the posts say
        #[arg(long, value_enum)]
        carry: Option<Worn>,
    },
    /// Plan a walk of test calls that tell most about the best site
    #[command(after_help = files(&REHEARSAL.named()))]
    Rehearse {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The channel; the plan's first relay or packet channel if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Number of places
        #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u8).range(1..=50))]
        calls: u8,
        /// Hours that the walk may take; fewer places if they are too far apart
        #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u8).range(1..=24))]
        hours: u8,
    },
    /// Say on the evening before whether to go, and what to do first
    #[command(after_help = files(&READY.named()))]
    Ready {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The relay's site; that of the plan or the best one if not given
        #[arg(long, value_name = "NAME")]
        site: Option<String>,
        /// The relay channel; the plan's first if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Paper to lay the sheets out for (repeatable); A4, or Letter with US units, if not given
        #[arg(long, value_enum)]
        paper: Vec<HandPapers>,
    },
    /// Write the organiser's briefing: page, paper and map files
    #[command(after_help = files(&BRIEFING.named()))]
    Brief {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The relay's site; the best of the ranking if not given
        #[arg(long, value_name = "NAME")]
        site: Option<String>,
        /// The relay channel; the plan's first if not given
        #[arg(long, value_name = "NAME")]
        channel: Option<String>,
        /// Paper to lay sheets out for (repeatable)
        #[arg(long, value_enum, default_values_t = [Papers::Hand(HandPapers::Both)])]
        paper: Vec<Papers>,
    },
    /// Compare what was heard on the day with what was predicted
    #[command(after_help = files(&[DEBRIEF.named(), REPORT_MAP.named()].concat()))]
    Debrief {
        /// What to read and where to write
        #[command(flatten)]
        common: PlanArgs,
        /// The logs
        #[command(flatten)]
        wanted: DebriefArgs,
    },
    /// Open the plan in the browser: move a site, watch its coverage
    Live(LiveArgs),
    /// Write shell completions, manual pages and the schema of the plan file
    Extras {
        /// The folder
        #[arg(long, value_name = "DIR", default_value = ".")]
        out: PathBuf,
    },
}

/// What a verb writes beside its tables, for its help.
fn files(named: &[NamedFile]) -> String {
    format!("Files beside the tables, with --out:\n{}", outputs::listed(named))
}

/// A size of memory in bytes.
fn memory(text: &str) -> Result<f64, String> {
    let (number, unit) = parse_quantity(text, &["GB", "MB"]).map_err(|e| e.to_string())?;
    if number <= 0.0 {
        return Err("it must be above zero".to_owned());
    }
    Ok(number * if unit == 0 { 1e9 } else { 1e6 })
}

/// A time in seconds.
fn seconds(text: &str) -> Result<Duration, String> {
    let value: f64 = text.trim().parse().map_err(|_| "write a number of seconds".to_owned())?;
    Duration::try_from_secs_f64(value)
        .ok()
        .filter(|time| (0.001..=86_400.0).contains(&time.as_secs_f64()))
        .ok_or_else(|| "it must be between 0.001 s and a day".to_owned())
}

/// Which of a ranking's maps to draw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Maps {
    /// The best site's on each channel
    Best,
    /// Every site's on every channel
    All,
    /// None
    None,
}

/// Paper to lay a briefing out for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Papers {
    /// To read in the hand or at a table.
    Hand(HandPapers),
    /// One sheet for a wall.
    Poster,
}

impl ValueEnum for Papers {
    fn value_variants<'a>() -> &'a [Self] {
        &[
            Self::Hand(HandPapers::A4),
            Self::Hand(HandPapers::Letter),
            Self::Hand(HandPapers::Both),
            Self::Hand(HandPapers::A3),
            Self::Hand(HandPapers::Tabloid),
            Self::Poster,
        ]
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        match self {
            Self::Hand(paper) => paper.to_possible_value(),
            Self::Poster => {
                Some(PossibleValue::new("poster").help(
                    "One sheet for a wall, read from 3 m: A2, or 18 by 24 inches with US units",
                ))
            }
        }
    }
}

impl Papers {
    /// The sizes that it stands for with these units.
    pub(super) fn sizes(self, units: UnitSystem) -> Vec<Paper> {
        match self {
            Self::Hand(paper) => paper.sizes().to_vec(),
            Self::Poster => vec![Paper::for_a_wall(units)],
        }
    }
}

/// Paper to lay sheets out for that are read in the hand or at a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum HandPapers {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
    /// A4 and Letter
    Both,
    /// 297 by 420 mm
    A3,
    /// 11 by 17 inches
    Tabloid,
}

impl HandPapers {
    /// The sizes that it stands for.
    pub(super) const fn sizes(self) -> &'static [Paper] {
        match self {
            Self::A4 => &[Paper::A4],
            Self::Letter => &[Paper::Letter],
            Self::Both => &[Paper::A4, Paper::Letter],
            Self::A3 => &[Paper::A3],
            Self::Tabloid => &[Paper::Tabloid],
        }
    }
}

/// Where a person wears a radio.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Worn {
    /// Held at the head
    Head,
    /// At the shoulder
    Shoulder,
    /// On the hip
    Hip,
}

impl From<Worn> for Carry {
    fn from(worn: Worn) -> Self {
        match worn {
            Worn::Head => Self::Head,
            Worn::Shoulder => Self::Shoulder,
            Worn::Hip => Self::Hip,
        }
    }
}

/// What every verb that reads a plan takes.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// The plan file (TOML), or the folder of the only plan in it
    pub plan: PathBuf,
    /// Write results into this folder; it is made if it is not there
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print everything; without it what matters most, on a screen of 40 lines
    #[arg(long)]
    pub long: bool,
    /// Print results as JSON instead of tables: always everything
    #[arg(long)]
    pub json: bool,
    /// Threads to use; all cores if not given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Say at the end, on standard error, how long each stage took; and in the JSON
    #[arg(long)]
    pub times: bool,
    /// The most memory to plan with, such as "2 GB"; what is free if not given
    #[arg(long, value_name = "SIZE", value_parser = memory)]
    pub memory: Option<f64>,
    /// The longest that opening or reading one file may take, in seconds; 30 if not
    /// given, and more for files of very many cells
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub file_time: Option<Duration>,
    /// Corrections that "debrief" wrote, in place of the plan's
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Propagation method in place of the plan's
    #[arg(long, value_parser = clap::builder::PossibleValuesParser::new(METHODS.iter().map(|m| m.name())))]
    pub method: Option<String>,
}

impl PlanArgs {
    /// Whether what a screen has no room for is told too: on it, as JSON or in files.
    #[must_use]
    pub const fn tells_everything(&self) -> bool {
        self.long || self.json || self.out.is_some()
    }
}

/// What `start` takes.
#[derive(Debug, Args)]
pub struct StartArgs {
    /// The folder for the plan; it is made if it is not there
    pub folder: PathBuf,
    /// The middle of the event, in any notation that plans take
    #[arg(long, value_name = "PLACE", allow_hyphen_values = true)]
    pub centre: Option<String>,
    /// How far the event reaches around the middle, such as "3 km" or "2 mi"; with
    /// --places, what lies farther off is left out
    #[arg(long, value_name = "DISTANCE", value_parser = distance)]
    pub radius: Option<Metres>,
    /// Route, posts and areas: GPX, KML, GeoJSON, GeoPackage, Shapefile, or CSV with
    /// columns name, lat and lon; a point is a post, or a site for the relay where its
    /// field "kind" (in GPX "type") says "site"
    #[arg(long, value_name = "FILE")]
    pub places: Option<PathBuf>,
    /// An elevation file, or a folder of them; if not given, the folder terrain inside
    /// the plan's, where it is there
    #[arg(long, value_name = "FILE")]
    pub elevation: Option<PathBuf>,
    /// What the event is called
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// Local time of the start, such as 2026-12-05T17:30; tomorrow evening if not given
    #[arg(long, value_name = "TIME", value_parser = local_time)]
    pub starts: Option<DateTime>,
    /// Local time of the end; three hours after the start if not given
    #[arg(long, value_name = "TIME", value_parser = local_time)]
    pub ends: Option<DateTime>,
    /// The portable relay at hand
    #[arg(long, value_enum, default_value_t = Relays::Duplexer)]
    pub relay: Relays,
    /// Units of the report; those of the region if not given
    #[arg(long, value_enum)]
    pub units: Option<Units>,
    /// Print what was made as JSON
    #[arg(long)]
    pub json: bool,
    /// The longest that opening or reading one file may take, in seconds; 30 if not
    /// given, and more for files of very many cells
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub file_time: Option<Duration>,
}

/// How a relay keeps its transmitter out of its receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Relays {
    /// One antenna behind a duplexer
    Duplexer,
    /// Two antennas apart, no duplexer
    TwoAntennas,
}

impl From<Relays> for RelayKind {
    fn from(relay: Relays) -> Self {
        match relay {
            Relays::Duplexer => Self::Duplexer,
            Relays::TwoAntennas => Self::TwoAntennas,
        }
    }
}

/// Units of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// Metres and kilometres
    Metric,
    /// Feet and miles
    Us,
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Metric => Self::Metric,
            Units::Us => Self::Us,
        }
    }
}

/// What `live` takes.
#[derive(Debug, Clone, Args)]
pub struct LiveArgs {
    /// The plan file (TOML), or a folder: its one plan is opened, and where there is
    /// none the page makes one; this folder if not given
    #[arg(default_value = ".", hide_default_value = true)]
    pub plan: PathBuf,
    /// Port on this machine; the next free one if it is in use, any for 0
    #[arg(long, value_name = "N", default_value_t = 4780)]
    pub port: u16,
    /// The site to look at first, as the plan names it; the best of the ranking if not
    /// given
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// The channel; the plan's first relay or packet channel if not given
    #[arg(long, value_name = "NAME")]
    pub channel: Option<String>,
    /// The most memory to plan with, such as "2 GB"; what is free if not given
    #[arg(long, value_name = "SIZE", value_parser = memory)]
    pub memory: Option<f64>,
    /// The longest that opening or reading one file may take, in seconds; 30 if not
    /// given, and more for files of very many cells
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub file_time: Option<Duration>,
    /// Corrections that "debrief" wrote, in place of the plan's
    #[arg(long, value_name = "FILE")]
    pub calibration: Option<PathBuf>,
    /// Print the address as JSON
    #[arg(long)]
    pub json: bool,
    /// Threads to use; all cores if not given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
}

/// What `debrief` takes beside the plan.
#[derive(Debug, Args)]
pub struct DebriefArgs {
    /// Logs of what was heard: CSV or GPX
    #[arg(required = true, value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// Where the station stood, for rows that do not say
    #[arg(long, value_name = "NAME")]
    pub site: Option<String>,
    /// The channel, for rows that do not say; the plan's first relay or packet channel if not given
    #[arg(long, value_name = "NAME")]
    pub channel: Option<String>,
    /// Batteries: CSV with the columns station, time and volts (repeatable)
    #[arg(long, value_name = "FILE")]
    pub batteries: Vec<PathBuf>,
    /// What is added to every time of the logs, such as "-1 h" or "90 s"
    #[arg(long, value_name = "SPAN", allow_hyphen_values = true)]
    pub clock_offset: Option<String>,
}
