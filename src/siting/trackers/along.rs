//! What is heard along a route, and where it is silent.

use serde::Serialize;

use perchline_units::{Metres, MetresPerSecond, Seconds};

/// A piece of a route and how likely a beacon from it is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Where it begins, metres from the route's first point.
    pub from: Metres,
    /// Where it ends.
    pub to: Metres,
    /// Probability that a beacon from it is heard, 0 to 1; nothing where
    /// terrain is missing on the way.
    pub heard: Option<f64>,
}

/// A stretch of a route from which fewer than half of the beacons are heard.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Silence {
    /// Where it begins, metres from the route's first point.
    pub from_m: Metres,
    /// Where it ends.
    pub to_m: Metres,
    /// How long a tracker is in it at its pace.
    pub lasts_s: Seconds,
}

impl Silence {
    /// Its length.
    #[must_use]
    pub fn length(&self) -> Metres {
        self.to_m - self.from_m
    }
}

/// How a route does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AlongRoute {
    /// Share of beacons that are heard, 0 to 1, at an even pace; what is not
    /// known counts as not heard.
    pub heard: f64,
    /// Share of the route of which nothing is known because terrain is missing.
    pub unknown: f64,
    /// Every silent stretch, in order.
    pub silences: Vec<Silence>,
}

impl AlongRoute {
    /// Under this probability a spot is silent: its median level does not reach
    /// what a packet needs.
    pub const SILENT_UNDER: f64 = 0.5;

    /// How a route of these pieces, in order and without gaps between them,
    /// does at this speed.
    #[must_use]
    pub fn of(pieces: &[Piece], speed: MetresPerSecond) -> Self {
        let length: f64 = pieces.iter().map(|p| (p.to - p.from).value()).sum();
        let share = |of: &dyn Fn(&Piece) -> f64| {
            let sum: f64 = pieces.iter().map(|p| of(p) * (p.to - p.from).value()).sum();
            if length > 0.0 { sum / length } else { 0.0 }
        };
        let mut silences: Vec<Silence> = Vec::new();
        let mut before_was_silent = false;
        for piece in pieces {
            let silent = piece.heard.is_none_or(|heard| heard < Self::SILENT_UNDER);
            match silences.last_mut() {
                Some(last) if silent && before_was_silent => last.to_m = piece.to,
                _ if silent => silences.push(Silence {
                    from_m: piece.from,
                    to_m: piece.to,
                    lasts_s: Seconds::new(0.0),
                }),
                _ => {}
            }
            before_was_silent = silent;
        }
        for silence in &mut silences {
            silence.lasts_s = Seconds::new(silence.length().value() / speed.value());
        }
        Self {
            heard: share(&|piece| piece.heard.unwrap_or(0.0)),
            unknown: share(&|piece| f64::from(u8::from(piece.heard.is_none()))),
            silences,
        }
    }

    /// The longest silent stretch, the first of those that are alike.
    #[must_use]
    pub fn longest_silence(&self) -> Option<&Silence> {
        self.silences.iter().reduce(|a, b| if b.length() > a.length() { b } else { a })
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn pieces(heard: &[Option<f64>]) -> Vec<Piece> {
        let at = |index: usize| Metres::new(25.0 * index as f64);
        let piece =
            |(i, heard): (usize, &Option<f64>)| Piece { from: at(i), to: at(i + 1), heard: *heard };
        heard.iter().enumerate().map(piece).collect()
    }

    /// By hand: eight pieces of 25 m at 2 m/s.
    #[test]
    fn silences_are_told_by_metre_and_second() {
        let told =
            [Some(0.2), Some(0.9), Some(0.4), None, Some(0.1), Some(0.5), Some(1.0), Some(0.0)];
        let route = AlongRoute::of(&pieces(&told), MetresPerSecond::new(2.0));
        assert_abs_diff_eq!(route.heard, 3.1 / 8.0, epsilon = 1e-12);
        assert_abs_diff_eq!(route.unknown, 1.0 / 8.0, epsilon = 1e-12);
        let ends: Vec<_> = route
            .silences
            .iter()
            .map(|s| (s.from_m.value(), s.to_m.value(), s.lasts_s.value()))
            .collect();
        assert_eq!(ends, [(0.0, 25.0, 12.5), (50.0, 125.0, 37.5), (175.0, 200.0, 12.5)]);
        assert_eq!(route.longest_silence(), route.silences.get(1));
    }

    #[test]
    fn a_route_that_is_heard_everywhere_has_no_silence() {
        let route = AlongRoute::of(&pieces(&[Some(1.0), Some(0.5)]), MetresPerSecond::new(3.0));
        assert_eq!(route.longest_silence(), None);
        assert_eq!(AlongRoute::of(&[], MetresPerSecond::new(3.0)).heard, 0.0);
    }
}
