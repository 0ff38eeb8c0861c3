//! What can hurt whoever does what a result says: every caution once, with its source,
//! and which output shows it.
//!
//! docs/cautions.md has the same as a table; a test holds it against what verbs print.

use perchline_plan::{Chemistry, Plan, Roof, Site, SitePower};
use perchline_units::{Celsius, Metres};
use serde::Serialize;

use super::text_lines::{COLUMNS, wrapped};

/// What is said of a source that is none.
const PRACTICE: &str = "common practice, no source";

/// Something that can hurt somebody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Caution {
    /// Whom to call where a life is at risk.
    Emergency,
    /// What comes before any plan.
    LocalCodes,
    /// Lightning.
    Thunder,
    /// A mast in wind.
    Mast,
    /// A mast that falls into a power line.
    PowerLine,
    /// A fall from a roof.
    Edge,
    /// Weight on a roof, and on backs.
    Load,
    /// Ice on the way up.
    Ice,
    /// Fields near an antenna that transmits.
    Antenna,
    /// Fields of a radio that somebody holds.
    HandHeld,
    /// Packs in general.
    Pack,
    /// Lithium cells that are charged.
    Charging,
    /// Lead and acid.
    LeadAcid,
    /// A generator.
    Generator,
    /// Mains outdoors.
    Mains,
    /// Cold for packs and people.
    Cold,
    /// Heat for packs and people.
    Heat,
    /// Another climb for a change of packs.
    Climb,
    /// A way on foot.
    Walking,
    /// A line on a map that is no way.
    Legs,
    /// Cars and trains.
    Traffic,
    /// A spot that nobody has seen.
    Unseen,
}

/// What shows cautions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Output {
    /// `perchline brief`, page one.
    Liaison,
    /// `perchline brief`, page two.
    Crew,
    /// The sheet of channels.
    Channels,
    /// `perchline choose`.
    Choose,
    /// `perchline cosite`.
    Cosite,
    /// `perchline coverage`.
    Coverage,
    /// `perchline debrief`.
    Debrief,
    /// `perchline direct`.
    Direct,
    /// `perchline masts`.
    Masts,
    /// `perchline path`.
    Path,
    /// `perchline power`.
    Power,
    /// `perchline rank`.
    Rank,
    /// `perchline ready`.
    Ready,
    /// `perchline rehearse`.
    Rehearse,
    /// The plan of a roof.
    RoofPlan,
    /// `perchline search`.
    Search,
    /// `perchline trackers`.
    Trackers,
}

/// A caution as people read it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Said {
    /// What to do, or not to do.
    pub text: &'static str,
    /// Where that is from.
    pub source: &'static str,
}

impl Caution {
    /// All of them, in the order in which they are shown: what saves a life first, what
    /// comes before any plan last.
    pub const ALL: [Self; 22] = [
        Self::Emergency,
        Self::Unseen,
        Self::Walking,
        Self::Legs,
        Self::Traffic,
        Self::PowerLine,
        Self::Thunder,
        Self::Mast,
        Self::Edge,
        Self::Load,
        Self::Ice,
        Self::Climb,
        Self::Antenna,
        Self::HandHeld,
        Self::Pack,
        Self::Charging,
        Self::LeadAcid,
        Self::Generator,
        Self::Mains,
        Self::Cold,
        Self::Heat,
        Self::LocalCodes,
    ];

    /// A word or two for a list.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Emergency => "Life at risk",
            Self::LocalCodes => "Before all",
            Self::Thunder => "Thunder",
            Self::Mast => "Mast",
            Self::PowerLine => "Power lines",
            Self::Edge => "Roof",
            Self::Load => "Roof load",
            Self::Ice => "Ice",
            Self::Antenna => "Antenna",
            Self::HandHeld => "Hand-held",
            Self::Pack => "Batteries",
            Self::Charging => "Charging",
            Self::LeadAcid => "Lead-acid",
            Self::Generator => "Generator",
            Self::Mains => "Mains",
            Self::Cold => "Cold",
            Self::Heat => "Heat",
            Self::Climb => "Changing packs",
            Self::Walking => "On foot",
            Self::Legs => "The walk",
            Self::Traffic => "Road and rail",
            Self::Unseen => "The spots",
        }
    }

    /// What to do, or not to do.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Emergency => {
                "Life at risk: call the local emergency number first, then the radio."
            }
            Self::LocalCodes => {
                "Local codes, the owner's permission and licensed practice come before this."
            }
            Self::Thunder => {
                "At the first thunder everybody leaves roof and ridge, and stays off for 30 minutes after the last. Masts come down before a storm is near, never in it."
            }
            Self::Mast => {
                "A mast is guyed or ballasted for its height, guys flagged, and comes down before the wind reaches what it is set up for. Nobody stays within its fall."
            }
            Self::PowerLine => {
                "A mast stands farther from any power line than it reaches in its fall and 3.05 m (10 ft) more, all round, and farther than 1.5 times its height. Else no mast."
            }
            Self::Edge => {
                "Nobody alone on a roof. Stay behind a guardrail or parapet of code height (1.07 m, 42 in); without one only with fall protection, by a trained person."
            }
            Self::Load => {
                "Ballast goes up only where the owner says that the roof bears it, on boards, in pieces that one person lifts; two people carry."
            }
            Self::Ice => {
                "Ice on roof, ladder or track: nobody goes up; wait, or take another site."
            }
            Self::Antenna => {
                "Nobody goes near a transmitting antenna, the digipeater's too: rope off the distances of perchline cosite, switch off before anybody works nearer. The licensee is responsible; measure where in doubt."
            }
            Self::HandHeld => {
                "A hand-held radiates too, and no distance formula holds beside the face: antenna 5 cm (2 in) or more from head and eyes, short calls, transmit less than half of the time, keep to its maker's limits."
            }
            Self::Pack => {
                "A fuse at the pack, terminals covered, packs dry. One that is wet, swollen, dented or hot is not used: outdoors with it, away from people."
            }
            Self::Charging => {
                "Never charge lithium cells below 0 °C (32 °F) or above 45 °C (113 °F)."
            }
            Self::LeadAcid => {
                "Lead-acid: upright and aired, no flame, eyes and hands protected from acid; two people lift it."
            }
            Self::Generator => {
                "A generator runs outdoors, its exhaust away from people, windows and tents (carbon monoxide), earthed (grounded) as maker and code say; refuel it switched off and cool."
            }
            Self::Mains => {
                "Mains outdoors only through a residual-current device (GFCI), with leads made for outdoors and dry joints."
            }
            Self::Cold => {
                "Cold takes capacity: spare packs warm in an inner pocket. People too: gloves, and relief as agreed."
            }
            Self::Heat => {
                "Heat: packs and people in the shade, no pack in a closed car; water, and relief as agreed."
            }
            Self::Climb => {
                "Every change of packs is another climb: two people, never with thunder about; the owner knows when."
            }
            Self::Walking => {
                "Walk only where it is safe and allowed: not onto a road, a railway, water, ice or an edge. Two people, by daylight or with a light each; somebody knows the way and when you are back."
            }
            Self::Legs => {
                "A leg is a line on a map: fences, traffic, private ground, depth and ice are not in it. If one leads there, go round or leave the place out."
            }
            Self::Traffic => {
                "At a road or a railway: high-visibility clothing, off the carriageway and clear of the track, facing the traffic. Only who has the authority stops it."
            }
            Self::Unseen => {
                "A spot is a cell of a raster or a footprint in a file: nobody has asked its owner, seen its edge, or looked for power lines, soft ground or a way up. Go and look by daylight."
            }
        }
    }

    /// What a screen keeps of it in a line, where a life hangs on it on the way to an
    /// antenna or to a post.
    #[must_use]
    pub const fn in_a_line(self) -> Option<&'static str> {
        match self {
            Self::Emergency => {
                Some("Life at risk: the local emergency number first, then the radio.")
            }
            Self::Walking => {
                Some("Walk where it is safe and allowed, two people; off road, rail, water, ice.")
            }
            Self::Traffic => {
                Some("Road and rail: high-visibility clothing, clear of carriageway and track.")
            }
            Self::PowerLine => {
                Some("No mast within 1.5 x its height of a power line, or fall + 3.05 m (10 ft).")
            }
            Self::Thunder => {
                Some("Off roof and ridge at the first thunder, until 30 minutes after the last.")
            }
            Self::Edge => Some("Nobody alone on a roof; no edge without a rail of code height."),
            Self::Load => {
                Some("Ballast only where the owner says that the roof bears it; two carry.")
            }
            Self::Generator => {
                Some("Generator outdoors, exhaust away from people and tents (carbon monoxide).")
            }
            _ => None,
        }
    }

    /// Where that is from.
    #[must_use]
    pub const fn source(self) -> &'static str {
        match self {
            Self::Thunder => {
                "30 minutes: US National Weather Service, from memory; the rest common practice, no source"
            }
            Self::PowerLine => {
                "10 ft: 29 CFR 1910.333(c)(3), from memory; the rest common practice, no source"
            }
            Self::Edge => "29 CFR 1910.29(b)(1), from memory",
            Self::Antenna => "FCC OET Bulletin 65 or ICNIRP 2020, from memory",
            Self::HandHeld => {
                "half of the time: FCC KDB 447498, from memory; the rest common practice, no source"
            }
            Self::Charging => "typical of data sheets of cells, from memory",
            Self::Traffic => {
                "clothing: ISO 20471, from memory; the rest common practice, no source"
            }
            _ => PRACTICE,
        }
    }

    /// It for a document.
    #[must_use]
    pub const fn as_said(self) -> Said {
        Said { text: self.text(), source: self.source() }
    }

    /// It in words, its source behind it where it has one.
    #[must_use]
    pub fn said(self) -> String {
        match self.source() {
            PRACTICE => self.text().to_owned(),
            source => {
                let short = source.split("; the rest").next().unwrap_or(source);
                format!("{} ({short})", self.text())
            }
        }
    }

    /// Whether it is of any use to those who carry out this plan.
    #[must_use]
    pub fn applies(self, plan: &Plan) -> bool {
        let sites = &plan.sites;
        let has =
            |of: fn(Chemistry) -> bool| plan.power.packs.iter().any(|pack| of(pack.chemistry));
        let lithium = |chemistry| {
            matches!(chemistry, Chemistry::LithiumIon | Chemistry::LithiumIronPhosphate)
        };
        match self {
            Self::Edge | Self::Load => sites.iter().any(is_a_roof),
            Self::Antenna => plan.channels.iter().any(perchline_plan::Channel::has_station),
            Self::Ice => hours(plan).is_none_or(|mut h| h.any(|hour| hour <= ICY)),
            Self::Cold => hours(plan).is_none_or(|mut h| h.any(|hour| hour < COLD)),
            Self::Heat => hours(plan).is_none_or(|mut h| h.any(|hour| hour > HOT)),
            // Hand-helds have such packs where the plan is silent.
            Self::Charging => plan.power.packs.is_empty() || has(lithium),
            Self::LeadAcid => has(|chemistry| chemistry == Chemistry::LeadAcid),
            Self::Generator => sites.iter().any(|site| site.power != Some(SitePower::Mains)),
            Self::Mains => sites.iter().any(|site| site.power == Some(SitePower::Mains)),
            _ => true,
        }
    }
}

/// Ice may lie at this and below (common practice, no source).
const ICY: Celsius = Celsius::new(3.0);
/// Curves of the chemistries fall from here on (ours; see docs/power.md).
const COLD: Celsius = Celsius::new(10.0);
/// People and packs in the sun suffer above this (common practice, no source).
const HOT: Celsius = Celsius::new(27.0);

/// The forecast's hours; nothing where the plan has none, which says neither that it is
/// cold nor that it is not.
fn hours(plan: &Plan) -> Option<impl Iterator<Item = Celsius> + '_> {
    plan.power.forecast.as_ref().map(|forecast| forecast.hourly.iter().flatten().copied())
}

/// Whether one can fall from it: nobody calls less than this a roof (ours).
#[must_use]
pub fn is_a_roof(site: &Site) -> bool {
    const ROOF: Metres = Metres::new(2.5);
    !matches!(site.roof, Roof::AboveGround(height) if height < ROOF)
}

impl Output {
    /// The cautions that it shows where they apply.
    #[must_use]
    pub const fn shows(self) -> &'static [Caution] {
        use Caution as C;
        match self {
            Self::Liaison => &[C::Emergency, C::Walking, C::Traffic],
            Self::Crew => &[
                C::Traffic,
                C::PowerLine,
                C::Thunder,
                C::Mast,
                C::Edge,
                C::Load,
                C::Ice,
                C::Climb,
                C::Antenna,
                C::HandHeld,
                C::Pack,
                C::Charging,
                C::LeadAcid,
                C::Generator,
                C::Mains,
                C::Cold,
                C::Heat,
                C::LocalCodes,
            ],
            Self::Channels => &[C::Emergency, C::LocalCodes],
            Self::Rank | Self::Choose | Self::Coverage | Self::Trackers => {
                &[C::PowerLine, C::Thunder, C::Edge, C::Load, C::Ice, C::Antenna, C::LocalCodes]
            }
            Self::Masts => &[
                C::PowerLine,
                C::Thunder,
                C::Mast,
                C::Edge,
                C::Load,
                C::Ice,
                C::Antenna,
                C::LocalCodes,
            ],
            Self::Search => &[
                C::Unseen,
                C::Traffic,
                C::PowerLine,
                C::Thunder,
                C::Mast,
                C::Edge,
                C::Load,
                C::Ice,
                C::Antenna,
                C::LocalCodes,
            ],
            Self::Cosite | Self::RoofPlan => &[
                C::PowerLine,
                C::Thunder,
                C::Mast,
                C::Edge,
                C::Antenna,
                C::HandHeld,
                C::LocalCodes,
            ],
            Self::Path => &[C::Thunder, C::Edge, C::LocalCodes],
            Self::Direct => &[C::Emergency, C::Walking, C::Traffic, C::HandHeld, C::LocalCodes],
            Self::Power => &[
                C::Thunder,
                C::Edge,
                C::Load,
                C::Ice,
                C::Climb,
                C::Pack,
                C::Charging,
                C::LeadAcid,
                C::Generator,
                C::Mains,
                C::Cold,
                C::Heat,
                C::LocalCodes,
            ],
            Self::Rehearse => &[
                C::Emergency,
                C::Walking,
                C::Legs,
                C::Traffic,
                C::Thunder,
                C::Edge,
                C::Antenna,
                C::HandHeld,
                C::LocalCodes,
            ],
            Self::Ready => &Caution::ALL,
            Self::Debrief => &[C::Emergency, C::Walking, C::Traffic, C::LocalCodes],
        }
    }
}

/// The cautions of an output that apply to a plan, each once.
#[must_use]
pub fn cautions(plan: &Plan, output: Output) -> Vec<Caution> {
    output.shows().iter().copied().filter(|caution| caution.applies(plan)).collect()
}

/// The same for a document.
#[must_use]
pub fn said(plan: &Plan, output: Output) -> Vec<Said> {
    cautions(plan, output).into_iter().map(Caution::as_said).collect()
}

/// The same for a text, in lines of 80 letters at most, under a heading.
#[must_use]
pub(super) fn lines(plan: &Plan, output: Output) -> String {
    listed(&cautions(plan, output))
}

/// Cautions for a terminal.
#[must_use]
pub(super) fn listed(cautions: &[Caution]) -> String {
    let item = |text: &str| -> String {
        wrapped(text, COLUMNS - 3, 0)
            .iter()
            .enumerate()
            .map(|(n, line)| format!("{}{line}\n", if n == 0 { " * " } else { "   " }))
            .collect()
    };
    let items: String = cautions.iter().map(|caution| item(&caution.said())).collect();
    format!("Take care ({UNNAMED})\n{items}")
}

/// Cautions for the foot of a drawing, a paragraph each, and what holds where one names no
/// source.
#[must_use]
pub(super) fn in_paragraphs(plan: &Plan, output: Output) -> Vec<String> {
    let said = cautions(plan, output).into_iter().map(Caution::said);
    said.chain([format!("Of the cautions: {UNNAMED}.")]).collect()
}

/// Cautions for a screen: those on which a life hangs, a line each, and how many more
/// there are.
#[must_use]
pub(super) fn in_brief(cautions: &[Caution]) -> String {
    if cautions.is_empty() {
        return String::new();
    }
    let kept: Vec<&str> = cautions.iter().filter_map(|caution| caution.in_a_line()).collect();
    let items: String = kept.iter().map(|line| format!(" * {line}\n")).collect();
    let more = match cautions.len() - kept.len() {
        0 => "in full, with sources: --long".to_owned(),
        more => format!("{more} more, and these in full with sources: --long"),
    };
    format!("Take care ({more})\n{items}")
}

/// What holds where a caution names no source.
pub(super) const UNNAMED: &str = "where no source is named: common practice, no source";

/// In the room of a line, for the foot of a map: what goes wrong most on a roof.
pub const IN_A_LINE: &str = "Take care: local codes and owners first; off roof and ridge at the first thunder; no mast near a power line; away from edges and from transmitting antennas (common practice, no source).";
