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

/// How many of the beacons from a spot are heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hearing {
    /// Nearly all: [`AlongRoute::NEARLY_ALL_FROM`] or more.
    NearlyAll,
    /// Half of them or more.
    HalfOrMore,
    /// Fewer than half: the spot is silent.
    FewerThanHalf,
    /// Not known: terrain is missing on the way.
    Unknown,
}

impl Hearing {
    /// All of them, best first.
    pub const ALL: [Self; 4] =
        [Self::NearlyAll, Self::HalfOrMore, Self::FewerThanHalf, Self::Unknown];

    /// That of a spot from which a beacon is heard with this probability.
    #[must_use]
    pub fn of(heard: Option<f64>) -> Self {
        match heard {
            None => Self::Unknown,
            Some(heard) if heard >= AlongRoute::NEARLY_ALL_FROM => Self::NearlyAll,
            Some(heard) if heard >= AlongRoute::SILENT_UNDER => Self::HalfOrMore,
            Some(_) => Self::FewerThanHalf,
        }
    }
}

/// A stretch of a route from which beacons are heard alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HeardStretch {
    /// Where it begins, metres from the route's first point.
    pub from_m: Metres,
    /// Where it ends.
    pub to_m: Metres,
    /// How many are heard.
    pub hearing: Hearing,
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
    /// The whole route in stretches, in order, each heard alike.
    pub stretches: Vec<HeardStretch>,
}

impl AlongRoute {
    /// Under this probability a spot is silent: its median level does not reach
    /// what a packet needs.
    pub const SILENT_UNDER: f64 = 0.5;

    /// From this probability on nearly all beacons are heard (ours).
    pub const NEARLY_ALL_FROM: f64 = 0.95;

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
        let mut stretches: Vec<HeardStretch> = Vec::new();
        for piece in pieces {
            let hearing = Hearing::of(piece.heard);
            match stretches.last_mut().filter(|last| last.hearing == hearing) {
                Some(last) => last.to_m = piece.to,
                None => {
                    let Piece { from, to, .. } = *piece;
                    stretches.push(HeardStretch { from_m: from, to_m: to, hearing });
                }
            }
        }
        Self {
            stretches,
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

    /// The same pieces: the stretches run from end to end without a gap, and those that
    /// are silent or not known are the silences.
    #[test]
    fn stretches_are_heard_alike() {
        use Hearing::{FewerThanHalf, HalfOrMore, NearlyAll, Unknown};
        let told =
            [Some(0.2), Some(0.9), Some(0.4), None, Some(0.1), Some(0.5), Some(1.0), Some(0.95)];
        let route = AlongRoute::of(&pieces(&told), MetresPerSecond::new(2.0));
        let ends: Vec<_> =
            route.stretches.iter().map(|s| (s.from_m.value(), s.to_m.value(), s.hearing)).collect();
        let expected = [
            (0.0, 25.0, FewerThanHalf),
            (25.0, 50.0, HalfOrMore),
            (50.0, 75.0, FewerThanHalf),
            (75.0, 100.0, Unknown),
            (100.0, 125.0, FewerThanHalf),
            (125.0, 150.0, HalfOrMore),
            (150.0, 200.0, NearlyAll),
        ];
        assert_eq!(ends, expected);
        for silence in &route.silences {
            let within = route
                .stretches
                .iter()
                .filter(|s| s.from_m >= silence.from_m && s.to_m <= silence.to_m);
            let length: f64 = within
                .filter(|s| matches!(s.hearing, FewerThanHalf | Unknown))
                .map(|s| (s.to_m - s.from_m).value())
                .sum();
            assert_abs_diff_eq!(length, silence.length().value(), epsilon = 1e-9);
        }
    }

    #[test]
    fn a_route_that_is_heard_everywhere_has_no_silence() {
        let route = AlongRoute::of(&pieces(&[Some(1.0), Some(0.5)]), MetresPerSecond::new(3.0));
        assert_eq!(route.longest_silence(), None);
        assert_eq!(AlongRoute::of(&[], MetresPerSecond::new(3.0)).heard, 0.0);
    }
}
