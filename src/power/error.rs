//! What stops an energy budget.

/// Why an energy budget could not be drawn up.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PowerError {
    /// Nothing says how warm the pack is.
    #[error(
        "{kind} \"{name}\": nothing says how warm its pack is, and the cold decides; add a [forecast] with from and hourly, or kept_at = \"20 °C\" if the pack is kept indoors"
    )]
    NoTemperature {
        /// `station` or `crew`.
        kind: &'static str,
        /// Its name in the plan.
        name: String,
    },
    /// The plan has nothing to work on.
    #[error(
        "the plan has neither [[station]] nor [[crew]]; add what each draws and from which [[pack]]; a plan that perchline start wrote ends with such lines, commented out: take the # away and put in your own (docs/power.md has more)"
    )]
    Nothing,
}

impl PowerError {
    /// The station or crew that it is about.
    #[must_use]
    pub fn name(&self) -> Option<&str> {
        match self {
            Self::NoTemperature { name, .. } => Some(name),
            Self::Nothing => None,
        }
    }

    /// Whether that is a station.
    #[must_use]
    pub fn is_of_a_station(&self) -> bool {
        matches!(self, Self::NoTemperature { kind: "station", .. })
    }
}
