//! A site as a place where people work: its hours, its edge, lines near by, what
//! its roof bears.

use jiff::ZonedDateTime;
use serde::{Serialize, Serializer};

use perchline_plan::{Plan, Roof, Site, SiteAccess, SitePower, Station};
use perchline_units::{Kilograms, KilogramsPerSquareMetre, Metres};

use super::budget::StationBudget;
use super::mast::{WindLoad, line_forbids, wind_load_on};

/// A rail or parapet lower than this keeps nobody from falling: 42 in (29 CFR
/// 1910.29(b)(1), from memory); the local code decides.
pub const GUARDRAIL: Metres = Metres::new(1.0668);

/// From this height above the ground on a fall is one from a roof (29 CFR
/// 1910.28(b)(1), 4 ft, from memory).
const A_FALL: Metres = Metres::new(1.22);

/// Footprint of a mast's foot where the plan has no mast for the station: 1.2 m square
/// (common practice, no source), in square metres.
const FOOTPRINT: f64 = 1.44;

/// A site with a channel's station on it, for whoever goes there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SitePlace {
    /// The channel.
    pub channel: String,
    /// The site.
    pub site: String,
    /// When somebody gets up.
    pub access: SiteAccess,
    /// Changes of packs that are due while nobody gets up.
    pub changes_missed: Vec<ZonedDateTime>,
    /// Height of its rail or parapet, 0 for none; nothing where the plan does not say.
    pub guardrail_m: Option<Metres>,
    /// Whether that is lower than [`GUARDRAIL`].
    pub guardrail_is_low: bool,
    /// What power there is; nothing where the plan does not say.
    pub power: Option<SitePower>,
    /// Distance of the nearest power line; nothing where the plan does not say.
    pub power_line_m: Option<Metres>,
    /// The mast has to stand farther than this from one.
    pub clear_of_lines_m: Metres,
    /// Whether the line is no farther than that.
    pub line_is_near: bool,
    /// What the mast asks of the roof; nothing where there is no mast.
    pub roof: Option<RoofLoad>,
    /// What the plan does not say of it.
    pub not_stated: Vec<SiteFact>,
}

/// What a plan may say of a site as a place where people work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SiteFact {
    /// When it is open.
    Hours,
    /// Who has its key.
    Key,
    /// How high its rail or parapet is.
    Rail,
    /// How near the next power line is.
    PowerLine,
    /// Whether it has mains.
    Mains,
    /// What its roof bears.
    RoofLoad,
}

impl SiteFact {
    /// What is asked, in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Hours => "when it is open",
            Self::Key => "who has the key",
            Self::Rail => "how high its rail or parapet is",
            Self::PowerLine => "how near the next power line is",
            Self::Mains => "whether it has mains power",
            Self::RoofLoad => "what its roof bears",
        }
    }

    /// Whether an answer could forbid the site.
    #[must_use]
    pub const fn may_forbid(self) -> bool {
        match self {
            Self::Hours | Self::Key | Self::PowerLine | Self::RoofLoad => true,
            Self::Rail | Self::Mains => false,
        }
    }
}

impl Serialize for SiteFact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}

/// What a mast and its ballast ask of a roof.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RoofLoad {
    /// The ballast.
    pub ballast_kg: Kilograms,
    /// Whether the plan states it, or it is what the wind asks for.
    pub ballast_is_stated: bool,
    /// What the wind asks for.
    pub asked_kg: Kilograms,
    /// Weight of the mast; nothing where the plan does not say.
    pub mast_kg: Option<Kilograms>,
    /// Area on which they stand, m².
    pub footprint_m2: f64,
    /// Their weight over that area.
    pub load: KilogramsPerSquareMetre,
    /// What the roof bears; nothing where the plan does not say.
    pub bears: Option<KilogramsPerSquareMetre>,
    /// Whether the load is more than that.
    pub is_too_much: bool,
}

impl RoofLoad {
    fn of(site: &Site, station: Option<&Station>, wind: &WindLoad) -> Self {
        let mast = station.and_then(|station| station.mast);
        let stated = mast.and_then(|mast| mast.ballast);
        let ballast = stated.unwrap_or(wind.ballast_kg);
        let mast_kg = mast.map(|mast| mast.weight);
        let footprint = mast.map_or(FOOTPRINT, |mast| mast.footprint_m2);
        let weight = ballast + mast_kg.unwrap_or(Kilograms::new(0.0));
        let load = KilogramsPerSquareMetre::new(weight.value() / footprint);
        Self {
            ballast_kg: ballast,
            ballast_is_stated: stated.is_some(),
            asked_kg: wind.ballast_kg,
            mast_kg,
            footprint_m2: footprint,
            load,
            bears: site.roof_load,
            is_too_much: site.roof_load.is_some_and(|bears| load > bears),
        }
    }

    /// The same load as a pressure in kilopascals, at standard gravity.
    #[must_use]
    pub fn kilopascals(&self) -> f64 {
        self.load.value() * super::mast::GRAVITY / 1000.0
    }
}

/// A site with the station of this channel on it, whichever the plan puts there; its
/// changes of packs are those of `budget`.
#[must_use]
pub fn site_place(
    plan: &Plan,
    (channel, station): (&str, Option<&Station>),
    site: &Site,
    budget: Option<&StationBudget>,
) -> SitePlace {
    let access = plan.site_access(site, station);
    let wind = wind_load_on(plan, station, site);
    let changes = budget.map(|budget| budget.changes.as_slice()).unwrap_or_default();
    let line_is_near = line_forbids(site, wind.height_m);
    let is_roof = !matches!(site.roof, Roof::AboveGround(height) if height < A_FALL);
    let unknown = [
        (!access.has_hours(), SiteFact::Hours),
        (site.locked && site.key_holder.is_none(), SiteFact::Key),
        (is_roof && site.guardrail.is_none(), SiteFact::Rail),
        (site.power_line.is_none(), SiteFact::PowerLine),
        (site.power.is_none(), SiteFact::Mains),
        (is_roof && site.roof_load.is_none(), SiteFact::RoofLoad),
    ];
    SitePlace {
        channel: channel.to_owned(),
        site: site.name.clone(),
        changes_missed: changes.iter().filter(|at| !access.open_at(at)).cloned().collect(),
        access,
        guardrail_m: site.guardrail,
        guardrail_is_low: is_roof && site.guardrail.is_some_and(|rail| rail < GUARDRAIL),
        power: site.power,
        power_line_m: site.power_line,
        clear_of_lines_m: wind.clear_of_lines_m,
        line_is_near,
        roof: (wind.height_m.value() > 0.0).then(|| RoofLoad::of(site, station, &wind)),
        not_stated: unknown.into_iter().filter(|(not, _)| *not).map(|(_, what)| what).collect(),
    }
}
