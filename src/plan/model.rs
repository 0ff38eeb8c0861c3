//! The plan once it is read and checked: everything resolved, nothing guessed.
//!
//! Most parts are made by the tables that declare them (`typed/`); here is what
//! holds them and what they can do.

mod access;
mod group;
mod power;
mod tracker;

pub use access::*;
pub use group::*;
pub use power::*;
pub use tracker::*;

pub use crate::typed::{
    Antenna, Area, Band, BuildingInputs, Channel, ChooseInputs, Contact, Converter, Crew, Currents,
    Event, Exposure, Extra, FallbackInputs, Forecast, Group, Item, LandCoverInputs, MapInputs,
    MastInputs, OnRoof, OtherChannel, Pack, PlaceNameInputs, Post, Prediction, Radio, RelayLink,
    Route, SearchInputs, Site, Solar, Station, StationMast, Supply, TerrainInputs, Tracker,
    WaterInputs,
};

use std::path::{Path, PathBuf};

use perchline_units::{Db, Kilohertz, Megahertz, Metres, Position, Seconds};

use super::{Cable, Calibration, UnitSystem};

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
    /// Open water, where the plan names some.
    pub water: Option<WaterInputs>,
    /// Names of the ground, where the plan names a file of some.
    pub place_names: Option<PlaceNameInputs>,
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
    /// Groups of people, in the plan's order.
    pub groups: Vec<Group>,
    /// What everybody does when the relay falls silent.
    pub fallback: FallbackInputs,
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

/// Where a spare relay lies ready: an index into [`Plan::posts`] or [`Plan::sites`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpareRelay {
    /// At a post.
    AtPost(usize),
    /// On a site.
    OnSite(usize),
}

impl Plan {
    /// Name and place of where the spare relay lies ready, if there is one.
    #[must_use]
    pub fn spare_relay(&self) -> Option<(&str, Position)> {
        match self.choose.spare? {
            SpareRelay::AtPost(post) => self.posts.get(post).map(|p| (p.name.as_str(), p.at)),
            SpareRelay::OnSite(site) => self.sites.get(site).map(|s| (s.name.as_str(), s.at)),
        }
    }
}

/// A file that a result rests on.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct InputFile {
    /// The file's path as opened; results name the file alone, for they go to others.
    #[serde(serialize_with = "name_alone")]
    pub path: PathBuf,
    /// Its SHA-256, lower-case hexadecimal.
    pub sha256: String,
}

impl InputFile {
    /// The file's name without its folder.
    #[must_use]
    pub fn name(&self) -> String {
        self.path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
    }
}

fn name_alone<S: serde::Serializer>(path: &Path, serializer: S) -> Result<S::Ok, S::Error> {
    let name = path.file_name().unwrap_or_default();
    serializer.serialize_str(&name.to_string_lossy())
}

/// Something a person should know: where it is and what it says.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Remark {
    /// What it is about: a plan field such as `site "Hotel": roof`, or a file.
    pub about: String,
    /// What was found, and what was done or should be.
    pub text: String,
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

/// The grid drawn over maps on paper.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum ReferenceGrid {
    /// None; latitude and longitude stand at the edges.
    #[default]
    None,
    /// UTM on WGS 84, numbered as in MGRS and USNG.
    Utm,
}

impl Prediction {
    /// Predicts with these corrections; their model error takes the place of
    /// the one that was stated.
    pub fn calibrate(&mut self, calibration: Calibration) {
        self.model_error = calibration.model_error.or(self.model_error);
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

impl AudioQuality {
    /// The step as a plan has it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Daq30 => "3.0",
            Self::Daq34 => "3.4",
            Self::Daq40 => "4.0",
        }
    }
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

impl Radio {
    /// What is otherwise at `frequency`, if the plan states it.
    fn band(&self, frequency: Megahertz) -> Option<&Band> {
        self.bands.iter().find(|band| (band.from..=band.to).contains(&frequency))
    }

    /// The antenna as it is at `frequency`.
    #[must_use]
    pub fn antenna_at(&self, frequency: Megahertz) -> Antenna {
        let gain = self.band(frequency).and_then(|band| band.gain);
        Antenna { gain: gain.unwrap_or(self.antenna.gain), ..self.antenna }
    }

    /// Body loss that the plan states for `frequency`, in place of the table's.
    #[must_use]
    pub fn body_loss_at(&self, frequency: Megahertz) -> Option<Db> {
        self.band(frequency).and_then(|band| band.body_loss).or(self.body_loss)
    }
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

impl Channel {
    /// Time on the air of a beacon of some 90 bytes with its key-up (common practice,
    /// no source).
    pub const USUAL_PACKET: Seconds = Seconds::new(0.9);

    /// Beacons a second that others than the plan's trackers send.
    #[must_use]
    pub fn background_rate(&self) -> f64 {
        self.background_an_hour.unwrap_or(0.0) / 3600.0
    }

    /// How often a digipeater sends each beacon that it hears, where all of the
    /// channel's `digipeaters` hear each other and each repeats whatever it hears
    /// until the beacon has gone through as many as the plan's hops: once what it
    /// hears at first hand, then each copy of every other one. Of two that is once a
    /// hop. One that drops what it has repeated already sends less.
    #[must_use]
    pub fn repeats(&self, digipeaters: usize) -> f64 {
        let neighbours = digipeaters.saturating_sub(1) as f64;
        // Without a neighbour nothing comes back: 1 + 0 + 0...
        std::iter::successors(Some(1.0), |copies| Some(copies * neighbours))
            .take(self.hops as usize)
            .sum()
    }

    /// Whether a station runs on it that stands on a site.
    #[must_use]
    pub const fn has_station(&self) -> bool {
        !matches!(self.service, Service::Simplex { .. })
    }

    /// Whether it carries voice through a relay.
    #[must_use]
    pub const fn is_relay(&self) -> bool {
        matches!(self.service, Service::Relay { .. })
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

/// How the building around an indoor post is made (ITU-R P.2109).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Indoors {
    /// Without metallized glass or foil in the walls.
    Traditional,
    /// With metallized glass and foil-backed panels.
    Efficient,
}

impl Indoors {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Traditional => "traditional",
            Self::Efficient => "efficient",
        }
    }
}

/// Lines that one can drive on.
#[derive(Debug, Clone, PartialEq)]
pub struct Roads {
    /// The file that they are from.
    pub file: PathBuf,
    /// The lines in longitude and latitude, one or more.
    pub lines: Vec<geo::LineString>,
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: alone it sends each beacon once, whatever the hops. Of two each sends
    /// it once a hop. Of three with two hops: its own, and the copies of two others.
    #[test]
    fn digipeaters_that_hear_each_other_multiply_a_beacon() {
        for (digipeaters, hops, sent) in [
            (0, 2, 1.0),
            (1, 1, 1.0),
            (1, 3, 1.0),
            (2, 1, 1.0),
            (2, 2, 2.0),
            (2, 3, 3.0),
            (3, 2, 3.0),
        ] {
            let channel = Channel {
                name: String::new(),
                service: Service::Packet { frequency: Megahertz::new(144.8), station: 0 },
                carried: 0,
                tone: None,
                background_an_hour: None,
                hops,
                placeholder: false,
                function: None,
                users: None,
            };
            assert_eq!(channel.repeats(digipeaters), sent, "{digipeaters} {hops}");
        }
    }
}
