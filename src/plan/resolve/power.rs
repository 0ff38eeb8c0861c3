//! Forecast, exposure, packs and the channels of others.

use std::ops::RangeInclusive;

use super::quantity::as_typed;
use super::{Check, Entry};
use crate::typed::{ExposureText, ForecastText, OtherChannelText, PackText, Quantity};
use crate::{
    Channel, Chemistry, Event, Exposure, ExposureStandard, Forecast, OtherChannel, Pack,
    PowerInputs,
};
use perchline_units::{AmpereHours, Amperes, Celsius, Kilograms, Kilohertz, MetresPerSecond};

const CHEMISTRIES: &[(&str, Chemistry)] = &[
    ("li-ion", Chemistry::LithiumIon),
    ("lifepo4", Chemistry::LithiumIronPhosphate),
    ("agm", Chemistry::LeadAcid),
    ("nimh", Chemistry::NickelMetalHydride),
];

const STANDARDS: &[(&str, ExposureStandard)] =
    &[("oet-65", ExposureStandard::Oet65), ("icnirp-2020", ExposureStandard::Icnirp2020)];

/// Kilograms in one international avoirdupois pound (exact by definition).
const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;

const CURRENTS: &[(&str, f64)] = &[("A", 1.0), ("mA", 1e-3)];
const CAPACITIES: &[(&str, f64)] = &[("Ah", 1.0), ("mAh", 1e-3)];
const AGES: &[(&str, f64)] = &[("years", 1.0), ("year", 1.0), ("months", 1.0 / 12.0)];
const WEIGHTS: &[(&str, f64)] =
    &[("kg", 1.0), ("g", 1e-3), ("lb", KILOGRAMS_PER_POUND), ("oz", KILOGRAMS_PER_POUND / 16.0)];

/// A kilometre, a statute mile (1609.344 m) and a nautical mile (1852 m) an hour.
const SPEEDS: &[(&str, f64)] = &[
    ("m/s", 1.0),
    ("km/h", 1.0 / 3.6),
    ("mph", perchline_units::METRES_PER_MILE / 3600.0),
    ("kn", 1852.0 / 3600.0),
];

/// An air temperature outside of this is a slip of the unit or of the sign.
const TEMPERATURES: RangeInclusive<f64> = -60.0..=60.0;

/// Share of a clear sky's sunshine where the plan is silent: overcast (common
/// practice, no source).
const OVERCAST: f64 = 0.2;

impl Check<'_> {
    /// Everything on power; `None` together with a problem.
    pub(super) fn power_inputs(
        &mut self,
        event: Option<&Event>,
        channels: &[Option<Channel>],
    ) -> Option<PowerInputs> {
        let forecast = self.forecast(event);
        let exposure = self.exposure();
        let packs = self.packs();
        let stations = self.stations(event, channels, &packs);
        let crews = self.crews(event, &packs);
        let other_channels = self.other_channels();
        Some(PowerInputs {
            forecast: forecast?,
            exposure: exposure?,
            // An entry is only ever missing together with a problem.
            packs: packs.into_iter().flatten().collect(),
            stations: stations.into_iter().flatten().collect(),
            crews: crews.into_iter().flatten().collect(),
            other_channels: other_channels.into_iter().flatten().collect(),
        })
    }

    fn forecast(&mut self, event: Option<&Event>) -> Option<Option<Forecast>> {
        if !self.has("forecast") {
            return Some(None);
        }
        let typed: ForecastText = self.table("forecast")?;
        let entry = Entry::single("forecast");
        let zone = event.map(|e| e.starts.time_zone().clone());
        let from = self.moment(&entry, "from", &typed.from, zone.as_ref());
        let mut hourly = Vec::new();
        for (index, value) in typed.hourly.iter().enumerate() {
            let unknown = matches!(value, Quantity::Text(text) if text.trim() == "?");
            hourly.push(if unknown {
                Some(None)
            } else {
                self.temperature(&entry, &format!("hourly[{index}]"), value).map(Some)
            });
        }
        if hourly.iter().all(|h| matches!(h, Some(None))) {
            self.problem(&entry, "hourly", "no hour has a temperature; write at least one");
        } else if hourly.len() > 400 {
            self.problem(&entry, "hourly", "more than 400 hours; leave out what is not needed");
        }
        let gust = match &typed.gust {
            Some(gust) => self
                .scaled(&entry, "gust", gust, SPEEDS, 0.0..=100.0)
                .map(|speed| Some(MetresPerSecond::new(speed))),
            None => Some(None),
        };
        let sky = match &typed.sky {
            Some(sky) => self.share(&entry, "sky", sky),
            None => Some(OVERCAST),
        };
        let hourly: Option<Vec<_>> = hourly.into_iter().collect();
        Some(Some(Forecast { from: from?, hourly: hourly?, gust: gust?, sky: sky? }))
    }

    fn exposure(&mut self) -> Option<Exposure> {
        let silent = Exposure::default();
        if !self.has("exposure") {
            return Some(silent);
        }
        let typed: ExposureText = self.table("exposure")?;
        let standard = match &typed.standard {
            Some(word) => self.word(&Entry::single("exposure"), "standard", word, STANDARDS),
            None => Some(silent.standard),
        };
        Some(Exposure {
            standard: standard?,
            reflection: typed.reflection.unwrap_or(silent.reflection),
        })
    }

    fn packs(&mut self) -> Vec<Option<Pack>> {
        self.list::<PackText>("pack")
            .into_iter()
            .map(|(entry, typed)| self.pack(&entry, typed?))
            .collect()
    }

    fn pack(&mut self, entry: &Entry, typed: PackText) -> Option<Pack> {
        let chemistry = self.word(entry, "chemistry", &typed.chemistry, CHEMISTRIES);
        let cells = self.whole(entry, "cells", typed.cells, 1..=40);
        let strings = self.whole(entry, "strings", typed.strings.unwrap_or(1), 1..=40);
        let capacity = self.scaled(entry, "capacity", &typed.capacity, CAPACITIES, 0.05..=1000.0);
        let age_years = match &typed.age {
            Some(age) => self.scaled(entry, "age", age, AGES, 0.0..=20.0),
            None => Some(0.0),
        };
        let weight = match &typed.weight {
            Some(weight) => self.mass(entry, "weight", weight).map(Some),
            None => Some(None),
        };
        Some(Pack {
            name: typed.name,
            chemistry: chemistry?,
            cells: cells?,
            strings: strings?,
            capacity: AmpereHours::new(capacity?),
            age_years: age_years?,
            weight: weight?,
        })
    }

    fn other_channels(&mut self) -> Vec<Option<OtherChannel>> {
        self.list::<OtherChannelText>("other_channel")
            .into_iter()
            .map(|(entry, typed)| {
                let typed = typed?;
                let receive = self.frequency(&entry, "receive", &typed.receive);
                let transmit = match &typed.transmit {
                    Some(typed) => self.frequency(&entry, "transmit", typed).map(Some),
                    None => Some(None),
                };
                let bandwidth =
                    self.ranged(&entry, "bandwidth", &typed.bandwidth, "kHz", 1.0..=20_000.0);
                if let Some(owner) = &typed.owner {
                    self.name(&entry, "owner", owner);
                }
                Some(OtherChannel {
                    name: typed.name,
                    owner: typed.owner,
                    receive: receive?,
                    transmit: transmit?,
                    bandwidth: Kilohertz::new(bandwidth?),
                })
            })
            .collect()
    }

    /// A value in the first of `units`, typed in any of them.
    pub(super) fn scaled(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        units: &[(&str, f64)],
        range: RangeInclusive<f64>,
    ) -> Option<f64> {
        let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
        let (value, unit) = self.number(entry, field, typed, &names)?;
        let value = value * units.get(unit).map_or(1.0, |(_, factor)| *factor);
        if range.contains(&value) {
            return Some(value);
        }
        let text = format!(
            "{} is out of range; {} to {} {} is allowed",
            as_typed(typed),
            range.start(),
            range.end(),
            names.first().copied().unwrap_or_default(),
        );
        self.problem(entry, field, text);
        None
    }

    /// A share from 0 to 100 %, as 0 to 1.
    pub(super) fn share(&mut self, entry: &Entry, field: &str, typed: &Quantity) -> Option<f64> {
        self.ranged(entry, field, typed, "%", 0.0..=100.0).map(|percent| percent / 100.0)
    }

    /// A temperature.
    pub(super) fn temperature(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<Celsius> {
        let (value, unit) = self.number(entry, field, typed, &["°C", "C", "°F", "F"])?;
        let celsius = if unit < 2 { value } else { (value - 32.0) / 1.8 };
        if TEMPERATURES.contains(&celsius) {
            return Some(Celsius::new(celsius));
        }
        let text = format!(
            "{} is out of range; {} to {} °C is allowed",
            as_typed(typed),
            TEMPERATURES.start(),
            TEMPERATURES.end()
        );
        self.problem(entry, field, text);
        None
    }

    /// A current above zero.
    pub(super) fn current(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<Amperes> {
        let (value, unit) = self.number(entry, field, typed, &["A", "mA"])?;
        if value <= 0.0 {
            let text = format!(
                "{} is no current to draw; whatever is switched on draws some: look in the \
                 radio's data sheet or measure it",
                as_typed(typed)
            );
            self.problem(entry, field, text);
            return None;
        }
        let amperes = value * CURRENTS.get(unit).map_or(1.0, |(_, factor)| *factor);
        if amperes <= 200.0 {
            return Some(Amperes::new(amperes));
        }
        let text = format!("{} is out of range; up to 200 A is allowed", as_typed(typed));
        self.problem(entry, field, text);
        None
    }

    /// A weight that somebody can carry.
    pub(super) fn mass(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<Kilograms> {
        self.scaled(entry, field, typed, WEIGHTS, 0.0..=200.0).map(Kilograms::new)
    }

    /// A whole number inside a range.
    pub(super) fn whole(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: i64,
        range: RangeInclusive<u32>,
    ) -> Option<u32> {
        if let Some(value) = u32::try_from(typed).ok().filter(|v| range.contains(v)) {
            return Some(value);
        }
        let text =
            format!("{typed} is out of range; {} to {} is allowed", range.start(), range.end());
        self.problem(entry, field, text);
        None
    }
}
