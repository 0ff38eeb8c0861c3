//! The energy budget of a powered station: how long it runs, until what
//! o'clock, and what would do.

use jiff::ZonedDateTime;
use serde::Serialize;

use perchline_plan::{Pack, Plan, Stands, Station, Traffic};
use perchline_units::{
    AmpereHours, Amperes, Celsius, Hours, Kilograms, Position, Volts, WattHours,
};

use super::battery::{Battery, pack_weight};
use super::discharge::{Discharge, Ledger, Rundown, Stop, Surroundings};
use super::error::PowerError;
use super::load::Load;
use super::site_air::SiteAir;
use super::weather::{after, elapsed};

/// Share of the charge that is to be left at the end of the day.
pub const RESERVE: f64 = 0.3;

/// With less than this share of the charge left at the end of the poor case it is
/// only just (common practice, no source).
pub const ONLY_JUST: f64 = 0.2;

/// Share of the charge at which a pack is changed, where it has to be.
pub const CHANGE_AT: f64 = 0.2;

/// How far beyond the end of the day a run is followed to state its length.
const BEYOND: Hours = Hours::new(24.0);

/// Capacities in ampere-hours that packs are commonly sold in (common practice,
/// no source).
pub const STANDARD_CAPACITIES: [f64; 22] = [
    1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 9.0, 12.0, 15.0, 18.0, 20.0, 26.0, 30.0, 40.0,
    50.0, 60.0, 75.0, 100.0, 200.0,
];

/// How the unknowns fall.
///
/// Poor: a tenth less capacity than stated, three degrees colder than forecast, a
/// quarter more traffic, half the sun. Good: a twentieth more capacity, two
/// degrees warmer, a fifth less traffic (common practice, no source: packs of
/// one make differ by as much, and so do forecasts and guesses at traffic).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Case {
    /// As planned.
    Expected,
    /// Against us.
    Poor,
    /// In our favour.
    Good,
}

impl Case {
    /// Factor on capacity.
    const fn capacity(self) -> f64 {
        match self {
            Self::Expected => 1.0,
            Self::Poor => 0.9,
            Self::Good => 1.05,
        }
    }

    /// Degrees above the forecast.
    const fn warmer(self) -> f64 {
        match self {
            Self::Expected => 0.0,
            Self::Poor => -3.0,
            Self::Good => 2.0,
        }
    }

    /// Factor on traffic.
    const fn traffic(self) -> f64 {
        match self {
            Self::Expected => 1.0,
            Self::Poor => 1.25,
            Self::Good => 0.8,
        }
    }

    /// Factor on sunshine.
    const fn sunshine(self) -> f64 {
        match self {
            Self::Poor => 0.5,
            Self::Expected | Self::Good => 1.0,
        }
    }
}

/// How one case goes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// Which case.
    pub case: Case,
    /// How long it runs; nothing if it still runs a day after it may be switched off.
    pub run_time_h: Option<Hours>,
    /// When it dies, by the event's clock; nothing as above.
    pub dies_at: Option<ZonedDateTime>,
    /// Why.
    pub why: Option<Stop>,
    /// Run time less the time for which it is wanted; nothing as above.
    pub margin_h: Option<Hours>,
    /// Share of the charge left when it may be switched off, 0 if it died before.
    pub left_at_end: f64,
}

impl Run {
    /// Whether it runs until it may be switched off.
    #[must_use]
    pub fn lasts(&self) -> bool {
        self.margin_h.is_none_or(|margin| margin.value() >= 0.0)
    }
}

/// A new pack that would do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StandardPack {
    /// Its rated capacity.
    pub capacity_ah: AmpereHours,
    /// What such a pack typically weighs.
    pub weight_kg: Kilograms,
    /// Share of its charge left at the end.
    pub left_at_end: f64,
    /// The same in the poor case.
    pub left_in_poor_case: f64,
}

/// An hour of the expected case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HourlyState {
    /// When.
    pub at: ZonedDateTime,
    /// Temperature of the pack.
    pub temperature_c: Celsius,
    /// Share of the charge left.
    pub left: f64,
    /// Voltage without load.
    pub resting_v: Volts,
}

/// A full set of packs in the poor case, from when it is put in.
#[derive(Debug, Clone, PartialEq)]
struct SetRun {
    from: ZonedDateTime,
    discharge: Discharge,
}

/// What feeds a station at a moment of the poor case.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum Feed {
    /// Nothing yet: it is switched on later.
    NotYetOn,
    /// A set of packs.
    Set {
        /// Which, from 1 on.
        set: usize,
        /// Share of its charge that is left, 0 to 1.
        left: f64,
    },
    /// Nothing: its set has died.
    Dead {
        /// Which set, from 1 on.
        set: usize,
        /// When it died.
        since: ZonedDateTime,
    },
    /// Nothing any more: it may be off.
    Off,
}

impl Feed {
    /// Whether the station is on the air.
    #[must_use]
    pub const fn is_on_the_air(&self) -> bool {
        matches!(self, Self::Set { .. })
    }
}

/// The energy budget of one station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationBudget {
    /// The station.
    pub station: String,
    /// Its channel.
    pub channel: String,
    /// Kind of pack.
    pub pack: String,
    /// Packs in parallel.
    pub packs: u32,
    /// Nominal voltage.
    pub nominal_v: Volts,
    /// Rated capacity of all of them.
    pub rated_ah: AmpereHours,
    /// The same as energy.
    pub rated_wh: WattHours,
    /// Beacons an hour that it is taken to hear in the poor case; nothing for voice.
    pub beacons_an_hour: Option<f64>,
    /// The same as expected: by the probabilities with which its site hears the
    /// plan's trackers, where these are known.
    pub expected_beacons_an_hour: Option<f64>,
    /// How busy it is as expected.
    #[serde(skip)]
    pub expected_traffic: Traffic,
    /// Average current of the load as expected.
    pub average_a: Amperes,
    /// When it is switched on.
    pub on: ZonedDateTime,
    /// When it may be switched off.
    pub off: ZonedDateTime,
    /// For how long it is wanted.
    pub wanted_h: Hours,
    /// Coldest and warmest that the pack gets.
    pub temperatures_c: (Celsius, Celsius),
    /// As planned.
    pub expected: Run,
    /// Against us.
    pub poor: Run,
    /// In our favour.
    pub good: Run,
    /// Smallest standard pack of the same cells that ends with [`RESERVE`] left as
    /// expected and runs to the end in the poor case; nothing if none does.
    pub enough: Option<StandardPack>,
    /// When to change packs so that it runs through even in the poor case;
    /// empty if the first lasts.
    pub changes: Vec<ZonedDateTime>,
    /// Sets of packs beside the first.
    pub spares: u32,
    /// Weight of all packs, spares included.
    pub weight_kg: Kilograms,
    /// Where the energy of the expected case went.
    pub ledger: Ledger,
    /// The expected case, hour by hour.
    pub hourly: Vec<HourlyState>,
    /// The poor case, set after set, each changed when it is due.
    #[serde(skip)]
    runs: Vec<SetRun>,
}

impl StationBudget {
    /// Sets of packs that are missing for the changes.
    #[must_use]
    pub fn sets_short(&self) -> u32 {
        u32::try_from(self.changes.len()).unwrap_or(u32::MAX).saturating_sub(self.spares)
    }

    /// The changes of packs that can be made: all, or none where sets are missing for
    /// them, for another pack is the fix then.
    #[must_use]
    pub fn planned_changes(&self) -> &[ZonedDateTime] {
        if self.sets_short() == 0 { &self.changes } else { &[] }
    }

    /// What feeds it at a moment of the poor case, with the changes that are planned.
    #[must_use]
    pub fn feed_at(&self, moment: &ZonedDateTime) -> Feed {
        if *moment < self.on {
            return Feed::NotYetOn;
        }
        if *moment > self.off {
            return Feed::Off;
        }
        let sets = self.runs.iter().take(self.planned_changes().len() + 1);
        let Some((number, set)) = (1..).zip(sets).take_while(|(_, set)| set.from <= *moment).last()
        else {
            return Feed::NotYetOn;
        };
        let died = set.discharge.stopped.map(|(at, _)| after(&set.from, at));
        match died.filter(|died| died <= moment && *died < self.off) {
            Some(since) => Feed::Dead { set: number, since },
            None => Feed::Set { set: number, left: set.discharge.left(elapsed(&set.from, moment)) },
        }
    }
}

/// The budget of every station of a plan, in its order, each as busy in every case as
/// the plan has it.
///
/// # Errors
/// [`PowerError`] when a station has neither forecast nor a place indoors.
pub fn station_budgets(plan: &Plan) -> Result<Vec<StationBudget>, PowerError> {
    each_station_budget(plan, &[]).into_iter().collect()
}

/// The same by itself for each station, where one is as busy as `expected` says, by its
/// place in the plan, as expected and in the good case; the poor case is the plan's.
/// Nothing in `expected` for a station that is the plan's in every case.
///
/// # Errors
/// [`PowerError`] in the place of each station of which nothing says how warm it is.
pub fn each_station_budget(
    plan: &Plan,
    expected: &[Option<Traffic>],
) -> Vec<Result<StationBudget, PowerError>> {
    plan.power
        .stations
        .iter()
        .enumerate()
        // A checked plan's indices all lead somewhere.
        .filter_map(|(place, station)| {
            let pack = plan.power.packs.get(station.supply.pack)?;
            let expected = expected.get(place).copied().flatten();
            Some((station, pack, expected.unwrap_or(station.traffic)))
        })
        .map(|(station, pack, expected)| station_budget(plan, station, pack, &expected))
        .collect()
}

/// The budget of one station that is this busy as expected.
///
/// # Errors
/// [`PowerError`] as for [`station_budgets`].
pub fn station_budget(
    plan: &Plan,
    station: &Station,
    pack: &Pack,
    expected_traffic: &Traffic,
) -> Result<StationBudget, PowerError> {
    let supply = &station.supply;
    let wanted = elapsed(&station.on, &station.off);
    let setting = Setting::of(plan, station, pack, expected_traffic)?;
    let [expected, poor, good] = [Case::Expected, Case::Poor, Case::Good]
        .map(|case| setting.run(case, Hours::new(0.0), wanted + BEYOND));
    let told = |case, discharge| summary(case, discharge, &station.on, wanted);
    let changes = setting.changes(wanted);
    let runs = setting.runs(&station.on, &poor, &changes, wanted);
    let battery = setting.rundown.battery;
    let sets = supply.spares + 1;
    Ok(StationBudget {
        station: station.name.clone(),
        channel: plan.channels.get(station.channel).map_or_else(String::new, |c| c.name.clone()),
        pack: pack.name.clone(),
        packs: supply.count,
        nominal_v: pack.nominal(),
        rated_ah: battery.rated(),
        rated_wh: WattHours::new(battery.rated().value() * pack.nominal().value()),
        beacons_an_hour: station.traffic.beacons_an_hour,
        expected_beacons_an_hour: expected_traffic.beacons_an_hour,
        expected_traffic: *expected_traffic,
        average_a: Amperes::new(setting.rundown.load.average_amperes()),
        on: station.on.clone(),
        off: station.off.clone(),
        wanted_h: wanted,
        temperatures_c: setting.air.range(wanted),
        expected: told(Case::Expected, &expected),
        poor: told(Case::Poor, &poor),
        good: told(Case::Good, &good),
        enough: setting.enough(wanted),
        changes: changes.into_iter().map(|h| after(&station.on, h)).collect(),
        spares: supply.spares,
        weight_kg: pack_weight(pack) * f64::from(supply.count) * f64::from(sets),
        ledger: setting.run(Case::Expected, Hours::new(0.0), wanted).ledger,
        hourly: setting.hourly(&expected, &station.on, wanted),
        runs,
    })
}

/// One station's battery, load and air.
struct Setting {
    /// As expected.
    rundown: Rundown,
    /// The load of the poor case, before that is busier still.
    poor: Load,
    air: SiteAir,
}

impl Setting {
    fn of(
        plan: &Plan,
        station: &Station,
        pack: &Pack,
        expected: &Traffic,
    ) -> Result<Self, PowerError> {
        let supply = &station.supply;
        let air = SiteAir::new(plan, &station.on, supply.kept_at, ("station", &station.name))?;
        let air = match (supply.solar, place(plan, station)) {
            (Some(solar), Some(at)) => air.with_panel(plan, solar, at),
            _ => air,
        };
        let load =
            |traffic| Load::new(&station.currents, traffic, &station.extras, supply.converter);
        let rundown = Rundown {
            battery: Battery::of(pack, supply.count),
            load: load(expected),
            lead: supply.lead,
            cutoff: supply.cutoff,
        };
        Ok(Self { rundown, poor: load(&station.traffic), air })
    }

    /// A full set, put in so long after the start.
    fn run(&self, case: Case, from: Hours, longest: Hours) -> Discharge {
        let load = match case {
            Case::Poor => &self.poor,
            Case::Expected | Case::Good => &self.rundown.load,
        };
        let rundown = Rundown {
            battery: self.rundown.battery.scaled(case.capacity()),
            load: load.busier(case.traffic()),
            ..self.rundown.clone()
        };
        let air = self.air.later(from).warmer(case.warmer()).sunnier(case.sunshine());
        rundown.run(&air, longest)
    }

    /// The smallest standard pack that ends the day with the reserve, and lasts in
    /// the poor case.
    fn enough(&self, wanted: Hours) -> Option<StandardPack> {
        STANDARD_CAPACITIES.iter().find_map(|capacity| {
            let battery = self.rundown.battery.of_capacity(AmpereHours::new(*capacity));
            let rundown = Rundown { battery, ..self.rundown.clone() };
            let setting = Self { rundown, poor: self.poor.clone(), air: self.air.clone() };
            let [expected, poor] =
                [Case::Expected, Case::Poor].map(|case| setting.run(case, Hours::new(0.0), wanted));
            let left = expected.left(wanted);
            let lasts = expected.stopped.is_none() && poor.stopped.is_none();
            (lasts && left >= RESERVE).then(|| StandardPack {
                capacity_ah: battery.rated(),
                weight_kg: battery.typical_weight(),
                left_at_end: left,
                left_in_poor_case: poor.left(wanted),
            })
        })
    }

    /// When to change packs: with [`CHANGE_AT`] left in the poor case, or a
    /// quarter of an hour before it would die in it.
    fn changes(&self, wanted: Hours) -> Vec<Hours> {
        const MOST: usize = 100;
        let mut changes = Vec::new();
        let mut at = Hours::new(0.0);
        while changes.len() < MOST {
            let rest = wanted - at;
            let poor = self.run(Case::Poor, at, rest);
            let Some((dies, _)) = poor.stopped else { break };
            let low = poor.fell_to(CHANGE_AT).unwrap_or(dies);
            let early = Hours::new((dies.value() - 0.25).max(dies.value() / 2.0));
            // A pack that dies within the minute is no use changing.
            let last = Hours::new(low.value().min(early.value()));
            if last.value() < 1.0 / 60.0 {
                break;
            }
            at += last;
            changes.push(at);
        }
        changes
    }

    /// The first set's poor case, and that of each set after it.
    fn runs(
        &self,
        on: &ZonedDateTime,
        first: &Discharge,
        changes: &[Hours],
        wanted: Hours,
    ) -> Vec<SetRun> {
        let first = SetRun { from: on.clone(), discharge: first.clone() };
        let changed = changes.iter().map(|at| SetRun {
            from: after(on, *at),
            discharge: self.run(Case::Poor, *at, wanted - *at),
        });
        std::iter::once(first).chain(changed).collect()
    }

    fn hourly(&self, run: &Discharge, on: &ZonedDateTime, wanted: Hours) -> Vec<HourlyState> {
        let hours = wanted.value().floor() as u32;
        (0..=hours)
            .map(|hour| Hours::new(f64::from(hour)))
            .filter(|hour| run.runs_at(*hour))
            .map(|hour| {
                let left = run.left(hour);
                HourlyState {
                    at: after(on, hour),
                    temperature_c: self.air.temperature(hour),
                    left,
                    resting_v: self.rundown.battery.resting(1.0 - left),
                }
            })
            .collect()
    }
}

fn summary(case: Case, discharge: &Discharge, on: &ZonedDateTime, wanted: Hours) -> Run {
    let stopped = discharge.stopped;
    Run {
        case,
        run_time_h: stopped.map(|(at, _)| at),
        dies_at: stopped.map(|(at, _)| after(on, at)),
        why: stopped.map(|(_, why)| why),
        margin_h: stopped.map(|(at, _)| at - wanted),
        left_at_end: if discharge.runs_at(wanted) { discharge.left(wanted) } else { 0.0 },
    }
}

/// Where a station stands, near enough for the sun.
fn place(plan: &Plan, station: &Station) -> Option<Position> {
    let site = match station.stands {
        Stands::On(site) => plan.sites.get(site),
        Stands::Beside(_) | Stands::Anywhere => plan.sites.first(),
    };
    site.map(|s| s.at)
}
