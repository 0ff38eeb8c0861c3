//! From a moment of the day to a place along a drawing or a line of text.

use jiff::ZonedDateTime;

/// The hours between two moments.
#[derive(Debug, Clone, Copy)]
pub(super) struct TimeAxis<'a> {
    from: &'a ZonedDateTime,
    to: &'a ZonedDateTime,
}

impl<'a> TimeAxis<'a> {
    /// From one moment to a later one.
    pub(super) const fn new(from: &'a ZonedDateTime, to: &'a ZonedDateTime) -> Self {
        Self { from, to }
    }

    /// The full hours, each with its number.
    pub(super) fn hours(&self) -> Vec<(ZonedDateTime, String)> {
        /// More hours than this stand too close.
        const MOST: usize = 14;
        let span = self.from.duration_until(self.to).as_hours().max(1);
        let step = usize::try_from(span).unwrap_or(usize::MAX).div_ceil(MOST).max(1);
        let first = self.from.round(jiff::Unit::Hour).unwrap_or_else(|_| self.from.clone());
        let next = |at: &ZonedDateTime| {
            let ahead = jiff::Span::new().try_hours(i64::try_from(step).unwrap_or(1)).ok()?;
            at.checked_add(ahead).ok()
        };
        std::iter::successors(Some(first), next)
            .take_while(|at| at <= self.to)
            .filter(|at| at >= self.from)
            .map(|at| {
                let hour = at.strftime("%H").to_string();
                (at, hour)
            })
            .collect()
    }

    /// How far along a moment is, 0 to 1.
    pub(super) fn part(&self, at: &ZonedDateTime) -> f64 {
        let seconds = |to: &ZonedDateTime| self.from.duration_until(to).as_secs_f64();
        (seconds(at) / seconds(self.to).max(1.0)).clamp(0.0, 1.0)
    }
}
