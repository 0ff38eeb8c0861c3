//! What a radio with its extras draws, state by state.

use perchline_plan::{Converter, Currents, Extra, Traffic};

/// One state of a load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct State {
    /// Share of time.
    pub(super) share: f64,
    /// Current at the load's terminals in amperes.
    pub(super) amperes: f64,
}

/// A load that goes through a few states over and over, fast against the
/// battery's hours.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    pub(super) states: [State; 3],
    pub(super) peak: f64,
    pub(super) converter: Option<Converter>,
}

impl Load {
    /// A radio this busy, with its extras, behind a converter or not.
    #[must_use]
    pub fn new(
        currents: &Currents,
        traffic: &Traffic,
        extras: &[Extra],
        converter: Option<Converter>,
    ) -> Self {
        let steady: f64 = extras.iter().map(|e| e.share * e.current.value()).sum();
        let all: f64 = extras.iter().filter(|e| e.share > 0.0).map(|e| e.current.value()).sum();
        let idle = (1.0 - traffic.keyed - traffic.listening).max(0.0);
        let state = |share: f64, amperes: f64| State { share, amperes: amperes + steady };
        let states = [
            state(traffic.keyed, currents.transmit.value()),
            state(traffic.listening, currents.receive.value()),
            state(idle, currents.standby.value()),
        ];
        let of_radio = [currents.transmit, currents.receive, currents.standby];
        let peak = states
            .iter()
            .zip(of_radio)
            .filter(|(state, _)| state.share > 0.0)
            .map(|(_, current)| current.value())
            .fold(0.0, f64::max);
        // When the radio draws most, everything that ever runs may be running.
        Self { states, peak: peak + all, converter }
    }

    /// The same, busier by `factor`: more of the time keyed and listening, up to all of it.
    #[must_use]
    pub fn busier(&self, factor: f64) -> Self {
        let [keyed, listening, idle] = self.states;
        let busy = keyed.share + listening.share;
        let factor = if busy > 0.0 { factor.min((busy + idle.share) / busy) } else { factor };
        let scaled = |state: State| State { share: state.share * factor, ..state };
        let rest = (1.0 - busy * factor).max(0.0);
        Self {
            states: [scaled(keyed), scaled(listening), State { share: rest, ..idle }],
            ..self.clone()
        }
    }

    /// Average current at the load's terminals in amperes.
    #[must_use]
    pub fn average_amperes(&self) -> f64 {
        self.states.iter().map(|s| s.share * s.amperes).sum()
    }

    /// Current out of a source of `volts` behind `ohms` that the load draws as
    /// `amperes` at its own terminals. Nothing if the source can't give it.
    pub(super) fn drawn(&self, amperes: f64, volts: f64, ohms: f64) -> Option<f64> {
        let Some(converter) = self.converter else { return Some(amperes) };
        let watts = converter.output.value() * amperes / converter.efficiency;
        // volts * i - ohms * i^2 = watts; the smaller root is the stable one.
        let root = volts * volts - 4.0 * ohms * watts;
        // The form without a difference of near numbers.
        (root >= 0.0).then(|| 2.0 * watts / (volts + root.sqrt()))
    }
}
