//! A battery run down by a load, minute by minute.

use serde::Serialize;

use perchline_units::{Celsius, Hours, Ohms, Volts, WattHours, Watts};

use super::battery::Battery;
use super::chemistry::{rate_factor, traits};
use super::load::Load;

/// Steps of the simulation.
pub const STEP: Hours = Hours::new(1.0 / 60.0);

/// What is run down, by what, and where it stops.
#[derive(Debug, Clone)]
pub struct Rundown {
    /// The source.
    pub battery: Battery,
    /// What it feeds.
    pub load: Load,
    /// Resistance of the lead, both ways.
    pub lead: Ohms,
    /// Voltage at the end of the lead under which the load drops out.
    pub cutoff: Volts,
}

/// What surrounds the battery at a time after the start.
pub trait Surroundings {
    /// Temperature of the pack.
    fn temperature(&self, after: Hours) -> Celsius;
    /// Power that a solar panel gives.
    fn solar(&self, after: Hours) -> Watts;
}

/// One temperature throughout, and no sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Steady(pub Celsius);

impl Surroundings for Steady {
    fn temperature(&self, _: Hours) -> Celsius {
        self.0
    }
    fn solar(&self, _: Hours) -> Watts {
        Watts::new(0.0)
    }
}

/// Why a load stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stop {
    /// The charge that the pack gives at its temperature was used up.
    Empty,
    /// Charge was left, but under the heaviest load the voltage fell below the low-voltage cutoff.
    Sag,
}

/// Where the energy went.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ledger {
    /// Out of the cells, before their own resistance; what was charged into them is taken off.
    pub from_cells_wh: WattHours,
    /// Out of the solar panel, as far as it was used.
    pub from_sun_wh: WattHours,
    /// Into the radio and its extras.
    pub load_wh: WattHours,
    /// Lost in the converter.
    pub converter_wh: WattHours,
    /// Lost in the lead.
    pub lead_wh: WattHours,
    /// Lost as heat in the pack.
    pub pack_wh: WattHours,
}

impl Ledger {
    const EMPTY: Self = {
        let none = WattHours::new(0.0);
        Self {
            from_cells_wh: none,
            from_sun_wh: none,
            load_wh: none,
            converter_wh: none,
            lead_wh: none,
            pack_wh: none,
        }
    };

    /// What came in less what went out: nothing, but for rounding.
    #[must_use]
    pub fn imbalance(&self) -> WattHours {
        self.from_cells_wh + self.from_sun_wh
            - self.load_wh
            - self.converter_wh
            - self.lead_wh
            - self.pack_wh
    }
}

/// How a battery was run down.
#[derive(Debug, Clone, PartialEq)]
pub struct Discharge {
    /// When and why the load stopped; nothing if it still ran at the end.
    pub stopped: Option<(Hours, Stop)>,
    /// Share of the charge left at the start of each step, and at the end.
    left: Vec<f64>,
    /// Where the energy went.
    pub ledger: Ledger,
}

impl Discharge {
    /// Share of the charge left after this time, 0 to 1; once it has stopped, what
    /// was left then.
    #[must_use]
    pub fn left(&self, after: Hours) -> f64 {
        let step = (after.value() / STEP.value()).round().max(0.0) as usize;
        self.left.get(step).or(self.left.last()).copied().unwrap_or(0.0)
    }

    /// The first time at which no more than `share` of the charge was left.
    #[must_use]
    pub fn fell_to(&self, share: f64) -> Option<Hours> {
        self.left.iter().position(|left| *left <= share).map(|step| STEP * step as f64)
    }

    /// Whether the load still ran after this time.
    #[must_use]
    pub fn runs_at(&self, after: Hours) -> bool {
        self.stopped.is_none_or(|(stop, _)| stop >= after)
    }
}

impl Rundown {
    /// Runs a full battery down from the start until it stops, but no longer
    /// than `longest`.
    ///
    /// Each step takes the temperature in its middle. The load's states follow
    /// each other fast, so charge is drawn at their average; the voltage is
    /// checked against the low-voltage cutoff at the heaviest of them, with everything
    /// that ever runs running.
    #[must_use]
    pub fn run(&self, surroundings: &impl Surroundings, longest: Hours) -> Discharge {
        let steps = (longest.value() / STEP.value()).ceil().max(0.0) as usize;
        let mut depth = 0.0;
        let mut left = Vec::with_capacity(steps + 1);
        let mut ledger = Ledger::EMPTY;
        left.push(1.0);
        for step in 0..steps {
            let start = STEP * step as f64;
            let middle = start + STEP / 2.0;
            let air = surroundings.temperature(middle);
            let Some(drain) = self.drain(depth, air, surroundings.solar(middle)) else {
                return Discharge { stopped: Some((start, Stop::Sag)), left, ledger };
            };
            let deeper = depth + drain.depth_an_hour * STEP.value();
            let share_of_step = if deeper > 1.0 { (1.0 - depth) / (deeper - depth) } else { 1.0 };
            let time = STEP * share_of_step;
            drain.book(&mut ledger, time);
            if deeper >= 1.0 {
                left.push(0.0);
                return Discharge { stopped: Some((start + time, Stop::Empty)), left, ledger };
            }
            depth = deeper.max(0.0);
            left.push(1.0 - depth);
        }
        Discharge { stopped: None, left, ledger }
    }

    /// What flows at this depth and temperature; nothing when the voltage under
    /// the heaviest load is below the low-voltage cutoff.
    fn drain(&self, depth: f64, air: Celsius, sun: Watts) -> Option<Drain> {
        let volts = self.battery.resting(depth).value();
        let inner = self.battery.resistance(air).value();
        let lead = self.lead.value();
        let peak = self.load.drawn(self.load.peak, volts, inner + lead)?;
        if volts - peak * (inner + lead) < self.cutoff.value() {
            return None;
        }
        let mut drain = Drain::default();
        for state in self.load.states {
            let amperes = self.load.drawn(state.amperes, volts, inner + lead)?;
            let into = amperes * (volts - amperes * (inner + lead));
            let useful = self.load.converter.map_or(into, |c| into * c.efficiency);
            drain.amperes += state.share * amperes;
            drain.load += state.share * useful;
            drain.converter += state.share * (into - useful);
            drain.lead += state.share * amperes * amperes * lead;
            drain.pack += state.share * amperes * amperes * inner;
        }
        drain.volts = volts;
        let capacity = self.battery.capacity(air).value();
        let traits = traits(self.battery.chemistry());
        // The sun first carries the load; what is left over charges, if the
        // pack is not full and warm enough for it.
        let wanted = sun.value() / volts;
        let carried = wanted.min(drain.amperes);
        let may_charge = depth > 0.0 && air >= traits.charges_from;
        let spare = if may_charge {
            let fills = depth * capacity / (traits.charge_efficiency * STEP.value());
            (wanted - carried).min(fills)
        } else {
            0.0
        };
        drain.sun = carried + spare;
        let from_pack = drain.amperes - carried;
        let faster = rate_factor(self.battery.chemistry(), from_pack, self.battery.rated().value());
        drain.depth_an_hour = (from_pack * faster - spare * traits.charge_efficiency) / capacity;
        Some(drain)
    }
}

/// What flows in a step: amperes, watts and volts.
#[derive(Debug, Clone, Copy, Default)]
struct Drain {
    volts: f64,
    amperes: f64,
    sun: f64,
    load: f64,
    converter: f64,
    lead: f64,
    pack: f64,
    depth_an_hour: f64,
}

impl Drain {
    fn book(&self, ledger: &mut Ledger, time: Hours) {
        let energy = |watts: f64| Watts::new(watts) * time;
        ledger.from_cells_wh += energy(self.volts * (self.amperes - self.sun));
        ledger.from_sun_wh += energy(self.volts * self.sun);
        ledger.load_wh += energy(self.load);
        ledger.converter_wh += energy(self.converter);
        ledger.lead_wh += energy(self.lead);
        ledger.pack_wh += energy(self.pack);
    }
}
