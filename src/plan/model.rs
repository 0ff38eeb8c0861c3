//! The plan once it is read and checked: everything resolved, nothing guessed.

mod choose;
mod contact;
mod power;
mod search;
mod tracker;

pub use choose::*;
pub use contact::*;
pub use power::*;
pub use search::*;
pub use tracker::*;

use std::path::{Path, PathBuf};

use jiff::ZonedDateTime;

use perchline_units::{
    Db, Dbi, Dbm, Kilohertz, Megahertz, Metres, Percent, Polarization, Position, Refractivity,
    RefractivityLapse,
};

use super::{BuildingInputs, Cable, Calibration, Indoors, LandCoverInputs, UnitSystem};

/// A plan that has passed every check that can be made without terrain.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Where the plan was read from.
    pub file: PathBuf,
    /// The plan's text, to find the line of a field again.
    pub text: String,
    /// SHA-256 of the plan file, lower-case hexadecimal.
    pub sha256: String,
    /// Every file that the plan drew places, buildings or land-cover classes
    /// from, with its SHA-256.
    pub vector_files: Vec<InputFile>,
    /// The event and its times.
    pub event: Event,
    /// People to call, in the plan's order.
    pub contacts: Vec<Contact>,
    /// Units of the report.
    pub units: UnitSystem,
    /// Elevation files and what to do with them.
    pub terrain: TerrainInputs,
    /// Building footprints, where the plan names some.
    pub buildings: Option<BuildingInputs>,
    /// A land-cover raster, where the plan names one.
    pub land_cover: Option<LandCoverInputs>,
    /// How to predict and what to demand.
    pub prediction: Prediction,
    /// The area of the maps.
    pub map: MapInputs,
    /// Radios by name, in the plan's order.
    pub radios: Vec<Radio>,
    /// Channels by name, in the plan's order.
    pub channels: Vec<Channel>,
    /// Posts, in the plan's order.
    pub posts: Vec<Post>,
    /// Staging areas, in the plan's order.
    pub areas: Vec<Area>,
    /// Routes, in the plan's order.
    pub routes: Vec<Route>,
    /// Candidate sites, in the plan's order.
    pub sites: Vec<Site>,
    /// Packet trackers, in the plan's order.
    pub trackers: Vec<Tracker>,
    /// How many relays there are and what their sites have to keep.
    pub choose: ChooseInputs,
    /// Mast heights to try.
    pub masts: MastInputs,
    /// Where to look for spots that nobody listed.
    pub search: SearchInputs,
    /// Batteries, shared roofs and people.
    pub power: PowerInputs,
    /// What was accepted but should be seen by a person.
    pub remarks: Vec<Remark>,
}

impl Plan {
    /// Predicts with the corrections in this file.
    ///
    /// # Errors
    /// A sentence that names the file and what is wrong.
    pub fn calibrate(&mut self, file: &Path) -> Result<(), String> {
        let (calibration, input) = Calibration::read(file)?;
        self.prediction.calibrate(calibration);
        self.vector_files.push(input);
        Ok(())
    }

    /// The radio with this number: a channel's, a post's or a tracker's.
    #[expect(
        clippy::indexing_slicing,
        reason = "only the reader numbers radios, and it numbers those of the plan"
    )]
    pub fn radio(&self, number: usize) -> &Radio {
        &self.radios[number]
    }

    /// Whether it says what stands on the ground: buildings or land cover.
    #[must_use]
    pub const fn is_covered(&self) -> bool {
        self.buildings.is_some() || self.land_cover.is_some()
    }

    /// Whether an index into [`Plan::channels`], a station's or a tracker's, is
    /// that of this channel.
    #[must_use]
    pub fn is_channel(&self, index: usize, channel: &Channel) -> bool {
        self.channels.get(index).is_some_and(|known| known.name == channel.name)
    }

    /// The trackers on this channel, in the plan's order.
    pub fn trackers_on(&self, channel: &Channel) -> impl Iterator<Item = &Tracker> {
        self.trackers.iter().filter(|tracker| self.is_channel(tracker.channel, channel))
    }
}

/// A file that a result rests on.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct InputFile {
    /// The file's path as opened.
    pub path: PathBuf,
    /// Its SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

/// Something a person should know: where it is and what it says.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remark {
    /// What it is about: a plan field such as `site "Hotel": roof`, or a file.
    pub about: String,
    /// What was found, and what was done or should be.
    pub text: String,
}

/// The event that the radios serve.
#[derive(Debug, Clone)]
pub struct Event {
    /// Its name.
    pub name: String,
    /// The served agency: the organiser.
    pub agency: Option<String>,
    /// Start, in the event's time zone.
    pub starts: ZonedDateTime,
    /// End of the event itself.
    pub ends: ZonedDateTime,
    /// When the last radio is taken down; the end if the plan says nothing.
    pub tear_down: ZonedDateTime,
}

/// Unit of a raster's heights.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightUnit {
    /// Metres.
    Metre,
    /// International feet.
    Foot,
    /// US survey feet (1200/3937 m).
    UsSurveyFoot,
}

/// Elevation files, as the plan names them.
#[derive(Debug, Clone, PartialEq)]
pub struct TerrainInputs {
    /// Paths, already joined to the plan's folder; the first wins where tiles overlap.
    pub files: Vec<PathBuf>,
    /// Unit of heights, where the plan states it.
    pub height_unit: Option<HeightUnit>,
    /// Coordinate system for rasters that carry none, as text that PROJ reads (`EPSG:32625`).
    pub crs: Option<String>,
    /// Whether gaps are filled from their rims.
    pub fill_gaps: bool,
    /// Side of a cell to work with, where the plan states one: the mean of the
    /// first file's cells inside. Never finer than those.
    pub cell: Option<Metres>,
}

/// How losses are predicted and what counts as working.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// Name of the propagation method.
    pub method: String,
    /// Effective-earth factor, 0.5 to 10: as stated, or as
    /// `delta_n` makes it.
    pub k_factor: f64,
    /// Fall of the air's refractivity that was stated in place of the factor,
    /// 0 to 120 N-units per kilometre.
    pub delta_n: Option<RefractivityLapse>,
    /// Refractivity of the air at sea level, 250 to 400 N-units.
    pub n0: Refractivity,
    /// Share of an average year for which losses hold, 1 to 50 %.
    pub time: Percent,
    /// Polarization of the antennas.
    pub polarization: Polarization,
    /// Voice quality wanted.
    pub audio_quality: AudioQuality,
    /// Share of locations that must reach it, between 0.5 and 0.999.
    pub reliability: f64,
    /// Standard deviation of the location variability, where the plan states it.
    pub variability: Option<Db>,
    /// Standard deviation of what the method itself gets wrong, 0 to 20 dB.
    pub model_error: Db,
    /// Radio noise around every place that does not state its own.
    pub environment: Environment,
    /// Carrier over noise that a packet needs, above the 12 dB SINAD point.
    pub packet_over_sinad: Db,
    /// Corrections that an earlier event has taught.
    pub calibration: Option<Calibration>,
}

impl Prediction {
    /// Predicts with these corrections; their model error takes the place of
    /// the one that was stated.
    pub fn calibrate(&mut self, calibration: Calibration) {
        self.model_error = calibration.model_error.unwrap_or(self.model_error);
        self.calibration = Some(calibration);
    }
}

/// Delivered audio quality, as TIA TSB-88 defines the steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AudioQuality {
    /// DAQ 3.0: understandable with slight effort, occasional repetition.
    Daq30,
    /// DAQ 3.4: understandable with repetition only rarely.
    Daq34,
    /// DAQ 4.0: easily understood, occasional noise.
    Daq40,
}

/// Man-made noise environments of ITU-R P.372.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Environment {
    /// City.
    City,
    /// Residential.
    Residential,
    /// Rural.
    Rural,
    /// Quiet rural.
    QuietRural,
}

impl Environment {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::City => "city",
            Self::Residential => "residential",
            Self::Rural => "rural",
            Self::QuietRural => "quiet-rural",
        }
    }
}

/// The map's extent and resolution.
#[derive(Debug, Clone, PartialEq)]
pub struct MapInputs {
    /// Side of a coverage cell; the raster's own cell if the plan is silent.
    pub cell: Option<Metres>,
    /// Border around everything that the plan names.
    pub margin: Metres,
    /// A file of map tiles to draw under pages, already joined to the plan's folder.
    pub tiles: Option<PathBuf>,
}

/// A transceiver with its antenna and what lies between.
#[derive(Debug, Clone)]
pub struct Radio {
    /// Name in the plan.
    pub name: String,
    /// Transmitter output.
    pub power: Dbm,
    /// The antenna.
    pub antenna: Antenna,
    /// The line between radio and antenna.
    pub feed_line: FeedLine,
    /// Duplexer or filter loss, once in each direction.
    pub filter_loss: Db,
    /// Level at the receiver's input that gives 12 dB SINAD.
    pub sensitivity: Dbm,
    /// Channel bandwidth: 12.5 or 25 kHz.
    pub bandwidth: Bandwidth,
    /// How it is carried; a fixed station if not.
    pub carry: Option<Carry>,
    /// Body loss that the plan states in place of the table's.
    pub body_loss: Option<Db>,
    /// Height of a carried antenna above the ground where the plan states it.
    pub antenna_height: Option<Metres>,
}

/// An antenna: gain towards the horizon and the pattern in the vertical plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Antenna {
    /// Peak gain.
    pub gain: Dbi,
    /// Pattern in the vertical plane.
    pub pattern: Pattern,
}

/// Pattern of an antenna in the vertical plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// The same in every direction.
    Isotropic,
    /// A half-wave dipole.
    Dipole,
    /// An omnidirectional collinear, its beam as narrow as its gain implies.
    Collinear,
}

/// What lies between a radio and its antenna.
#[derive(Debug, Clone, PartialEq)]
pub enum FeedLine {
    /// The antenna sits on the radio.
    None,
    /// A stated loss.
    Loss(Db),
    /// A length of a known cable.
    Cable {
        /// The cable, one of [`super::CABLES`].
        cable: &'static Cable,
        /// Its length.
        length: Metres,
    },
}

/// Channel bandwidths of land-mobile FM.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bandwidth {
    /// 12.5 kHz channels, 2.5 kHz deviation.
    Narrow,
    /// 25 kHz channels, 5 kHz deviation.
    Wide,
}

impl Bandwidth {
    /// The width of the channel.
    #[must_use]
    pub const fn channel(self) -> Kilohertz {
        match self {
            Self::Narrow => Kilohertz::new(12.5),
            Self::Wide => Kilohertz::new(25.0),
        }
    }
}

/// Where a person wears the radio.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Carry {
    /// Held at the head.
    Head,
    /// Worn at the shoulder with a speaker microphone.
    Shoulder,
    /// Worn on the hip.
    Hip,
}

impl Carry {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Head => "head",
            Self::Shoulder => "shoulder",
            Self::Hip => "hip",
        }
    }

    /// How it is worn, in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Head => "held at the head",
            Self::Shoulder => "worn at the shoulder",
            Self::Hip => "worn on the hip",
        }
    }
}

/// A channel and the radios at its two ends.
#[derive(Debug, Clone)]
pub struct Channel {
    /// Name in the plan.
    pub name: String,
    /// What runs on it.
    pub service: Service,
    /// Access tone in hertz, where one is used.
    pub tone: Option<f64>,
    /// Index into [`Plan::radios`] of the radio that posts carry on it.
    pub carried: usize,
    /// What it is for, on the channel sheet.
    pub function: Option<String>,
    /// Who uses it, on the channel sheet.
    pub users: Option<String>,
}

impl Channel {
    /// Whether a station runs on it that stands on a site.
    #[must_use]
    pub const fn has_station(&self) -> bool {
        !matches!(self.service, Service::Simplex { .. })
    }
}

/// What runs on a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Service {
    /// Voice through a relay.
    Relay {
        /// The relay's input: carried radios transmit here.
        input: Megahertz,
        /// The relay's output: carried radios listen here.
        output: Megahertz,
        /// Index into [`Plan::radios`] of the relay's radio.
        station: usize,
    },
    /// Voice from radio to radio.
    Simplex {
        /// The one frequency.
        frequency: Megahertz,
    },
    /// Packet through a digipeater.
    Packet {
        /// The one frequency.
        frequency: Megahertz,
        /// Index into [`Plan::radios`] of the digipeater's radio.
        station: usize,
    },
}

/// A place where one person with a radio stands.
#[derive(Debug, Clone)]
pub struct Post {
    /// Name in the plan.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// Its weight in the ranking, above zero.
    pub weight: f64,
    /// Whether a site that misses it is no good.
    pub must: bool,
    /// Whether net control sits here; of one post at most.
    pub net_control: bool,
    /// Index into [`Plan::radios`] where the post has a radio of its own.
    pub radio: Option<usize>,
    /// Carry position in place of the radio's.
    pub carry: Option<Carry>,
    /// The kind of building that it is inside of, if it is indoors.
    pub indoors: Option<Indoors>,
    /// Whether the plan says that it is on the street where a footprint holds it.
    pub street: bool,
    /// Noise environment in place of the plan's.
    pub environment: Option<Environment>,
}

/// A staging area.
#[derive(Debug, Clone)]
pub struct Area {
    /// Name in the plan.
    pub name: String,
    /// Its outline in longitude and latitude, valid and not empty.
    pub outline: geo::Polygon,
    /// Its weight in the ranking, above zero.
    pub weight: f64,
    /// Noise environment in place of the plan's.
    pub environment: Option<Environment>,
}

/// A route.
#[derive(Debug, Clone)]
pub struct Route {
    /// Name in the plan.
    pub name: String,
    /// Its line in longitude and latitude, two points or more.
    pub line: geo::LineString,
    /// Its weight in the ranking, above zero.
    pub weight: f64,
    /// Noise environment in place of the plan's.
    pub environment: Option<Environment>,
}

/// A candidate place for a relay or digipeater.
#[derive(Debug, Clone)]
pub struct Site {
    /// Name in the plan.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// The surface that the mast stands on.
    pub roof: Roof,
    /// Height of the antenna above that surface.
    pub mast: Metres,
    /// Whether an uncommonly high roof is meant as it stands.
    pub tall: bool,
    /// Whether it may be used at all.
    pub available: bool,
    /// Whether somebody with a key has to come.
    pub locked: bool,
    /// How one gets up there.
    pub access: Option<String>,
    /// Anything else.
    pub notes: Option<String>,
    /// Noise environment in place of the plan's.
    pub environment: Option<Environment>,
}

/// Height of the surface that a mast stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Roof {
    /// Above the ground at the site.
    AboveGround(Metres),
    /// Above sea level.
    AboveSea(Metres),
    /// The roof of the building whose footprint holds the site.
    OfBuilding,
}

impl Roof {
    /// A roof higher than this above the ground is questioned: few buildings
    /// are, and many are when feet are taken for metres.
    pub const QUESTIONED_FROM: Metres = Metres::new(150.0);
}
