//! When somebody gets up to a site, against when somebody has to.

use jiff::ZonedDateTime;

use super::{Plan, Site, Station};

/// What power there is on a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SitePower {
    /// Mains.
    Mains,
    /// None: everything runs on packs.
    #[serde(rename = "none")]
    Nothing,
}

impl SitePower {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Mains => "mains",
            Self::Nothing => "none",
        }
    }
}

/// When a site is open, and when a station on it needs somebody there.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct SiteAccess {
    /// The site.
    pub site: String,
    /// The station that needs it; nothing where the plan has none.
    pub station: Option<String>,
    /// Whether somebody with a key has to come.
    pub locked: bool,
    /// Who opens it; nothing where the plan does not say.
    pub key_holder: Option<String>,
    /// The telephone number of whoever opens it; nothing where the plan does not say.
    pub phone: Option<String>,
    /// From when somebody gets up; nothing where the plan names no hour.
    pub open_from: Option<ZonedDateTime>,
    /// Until when; nothing where the plan names no hour.
    pub open_until: Option<ZonedDateTime>,
    /// When the station is switched on: its mast stands by then.
    pub on: ZonedDateTime,
    /// When it may be switched off.
    pub off: ZonedDateTime,
    /// When the last radio of the event is taken down, or this station is
    /// switched off if that is later.
    pub tear_down: ZonedDateTime,
    /// What the hours are in the way of, by time; empty where nothing.
    pub hindrances: Vec<Hindrance>,
}

/// What a site's hours are in the way of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hindrance {
    /// It opens only after the station is to be on.
    OpensLate,
    /// It closes before the station is to be on: it has to be set up by then, and
    /// switched on with nobody there.
    ClosedWhenSwitchedOn,
    /// It closes while the station is on: nobody changes packs after that, nor
    /// takes the mast down.
    ClosesWhileOn,
    /// It closes after the station may be switched off and before tear-down: the
    /// mast has to come down in between.
    ClosedAtTearDown,
}

impl SiteAccess {
    /// Whether somebody gets up at this time.
    #[must_use]
    pub fn open_at(&self, moment: &ZonedDateTime) -> bool {
        self.open_from.as_ref().is_none_or(|from| from <= moment)
            && self.open_until.as_ref().is_none_or(|until| moment <= until)
    }

    /// Whether somebody gets up from when the station is switched on until
    /// tear-down, as far as the plan says.
    #[must_use]
    pub const fn open_throughout(&self) -> bool {
        self.hindrances.is_empty()
    }

    /// Whether the plan names an hour.
    #[must_use]
    pub const fn has_hours(&self) -> bool {
        self.open_from.is_some() || self.open_until.is_some()
    }
}

impl Plan {
    /// Whether somebody gets up to a site when `station` needs that: to switch it
    /// on, to change its packs, to take the mast down. Without a station it is
    /// wanted from the event's start to tear-down.
    #[must_use]
    pub fn site_access(&self, site: &Site, station: Option<&Station>) -> SiteAccess {
        let event = &self.event;
        let on = station.map_or(&event.starts, |station| &station.on).clone();
        let off = station.map_or(&event.tear_down, |station| &station.off).clone();
        let tear_down = if off > event.tear_down { off.clone() } else { event.tear_down.clone() };
        let late = site.open_from.as_ref().filter(|from| **from > on);
        let closes = site.open_until.as_ref().and_then(|until| {
            if *until < on {
                Some(Hindrance::ClosedWhenSwitchedOn)
            } else if *until < off {
                Some(Hindrance::ClosesWhileOn)
            } else {
                (*until < tear_down).then_some(Hindrance::ClosedAtTearDown)
            }
        });
        SiteAccess {
            site: site.name.clone(),
            station: station.map(|station| station.name.clone()),
            locked: site.locked,
            key_holder: site.key_holder.clone(),
            phone: site.phone.clone(),
            open_from: site.open_from.clone(),
            open_until: site.open_until.clone(),
            on,
            off,
            tear_down,
            hindrances: late.map(|_| Hindrance::OpensLate).into_iter().chain(closes).collect(),
        }
    }
}
