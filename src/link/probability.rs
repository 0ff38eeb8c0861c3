//! How likely a link is to work both ways, over the spots around a place.
//!
//! Levels scatter around their median, normally in decibels (log-normal
//! shadowing; ITU-R P.1546 annex 5 section 12 uses the same form). Both
//! directions cross the same ground, so most of the scatter is shared: where
//! one is weak the other is too.

use owens_t::biv_norm;
use statrs::distribution::{ContinuousCDF, Normal};

use perchline_units::{Db, Megahertz};

/// Correlation between the levels of talk-in and talk-out over spots, at
/// frequencies as close as a relay's two (common practice, no source: a split
/// of 0.6 MHz in 147 sees nearly the same shadows).
const CLOSE: f64 = 0.9;

/// The same at frequencies further apart than [`APART_FROM`]: little is known,
/// and less correlation is the cautious side (common practice, no source).
const APART: f64 = 0.5;

/// Ratio of two frequencies from which they count as far apart (common
/// practice, no source).
const APART_FROM: f64 = 1.1;

/// Beyond so many deviations a probability is nothing or all in double precision.
const FARTHEST: f64 = 30.0;

/// How the levels of both directions scatter around their medians.
///
/// ```
/// # use perchline_link::Spread;
/// # use perchline_units::Db;
/// let spread = Spread::new(Db::new(5.6), 0.9);
/// let (median, ample) = (Db::new(0.0), Db::new(40.0));
/// assert!((spread.both_ways(median, ample) - 0.5).abs() < 1e-6);
/// assert!(spread.both_ways(median, median) < 0.5);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    deviation: Db,
    correlation: f64,
}

impl Spread {
    /// Correlation at close frequencies, 0 to 1.
    pub const CLOSE: f64 = CLOSE;

    /// Levels of this standard deviation in both directions, their deviations
    /// correlated by `correlation`. A negative deviation counts as none, a
    /// correlation outside 0 to 1 as the nearer of the two.
    #[must_use]
    pub const fn new(deviation: Db, correlation: f64) -> Self {
        Self { deviation: deviation.max(Db::new(0.0)), correlation: correlation.clamp(0.0, 1.0) }
    }

    /// The spread over locations and the error of the model together, which
    /// have nothing to do with each other, on the frequencies of talk-in and
    /// talk-out.
    #[must_use]
    pub fn over(locations: Db, model_error: Db, (input, output): (Megahertz, Megahertz)) -> Self {
        let deviation = Db::new(locations.value().hypot(model_error.value()));
        let ratio = input.max(output).value() / input.min(output).value();
        Self::new(deviation, if ratio < APART_FROM { CLOSE } else { APART })
    }

    /// Standard deviation of either direction's level.
    #[must_use]
    pub const fn deviation(self) -> Db {
        self.deviation
    }

    /// What of the deviation is left without a model error that is part of it.
    #[must_use]
    pub fn without(self, model_error: Db) -> Db {
        let (whole, error) = (self.deviation.value(), model_error.value());
        Db::new((whole * whole - error * error).max(0.0).sqrt())
    }

    /// How levels scatter once an error of this deviation, which is part of it and
    /// the same in both directions, is known: over the spots of one place.
    #[must_use]
    pub fn given(self, error: Db) -> Self {
        let (whole, error) = (self.deviation.value().powi(2), error.value().powi(2));
        let left = (whole - error).max(0.0);
        // The rest is less alike.
        let shared = self.correlation * whole - error;
        let correlation = if left > 0.0 { shared / left } else { 1.0 };
        Self::new(Db::new(left.sqrt()), correlation)
    }

    /// Probability, 0 to 1, that in this place the share `wanted` (above 0, below 1)
    /// of spots works both ways, where `error` is the part of the spread that is
    /// common to all spots: how sure the answer is, which is not the share of spots.
    #[must_use]
    pub fn sure(self, error: Db, talk_in: Db, talk_out: Db, wanted: f64) -> f64 {
        let missing = self.given(error).missing(talk_in, talk_out, wanted);
        Self::new(error, 1.0).one_way(-missing)
    }

    /// Correlation between both directions, 0 to 1.
    #[must_use]
    pub const fn correlation(self) -> f64 {
        self.correlation
    }

    /// The location allowance: what it takes so that the share `reliability` (above 0,
    /// below 1) of spots works in one direction.
    #[must_use]
    pub fn allowance(self, reliability: f64) -> Db {
        self.deviation * Normal::standard().inverse_cdf(reliability)
    }

    /// Probability, 0 to 1, that a direction works whose median level is
    /// `over` what it needs.
    #[must_use]
    pub fn one_way(self, over: Db) -> f64 {
        // A level that is not a number works nowhere.
        match self.deviations(over) {
            Some(deviations) => Normal::standard().cdf(deviations),
            None => f64::from(u8::from(over.value() >= 0.0)),
        }
    }

    /// Probability, 0 to 1, that both directions work in the same spot, whose
    /// median levels are `talk_in` and `talk_out` over what they need. Exact
    /// to some 1e-14 (bivariate normal through Owen's T, as of Patefield and
    /// Tandy, Journal of Statistical Software 5(5), 2000).
    #[must_use]
    pub fn both_ways(self, talk_in: Db, talk_out: Db) -> f64 {
        match (self.deviations(talk_in), self.deviations(talk_out)) {
            (Some(a), Some(b)) => biv_norm(-a, -b, self.correlation).clamp(0.0, 1.0),
            _ => self.one_way(talk_in).min(self.one_way(talk_out)),
        }
    }

    /// What both directions lack so that the share `wanted` (above 0, below 1)
    /// of spots works both ways, to 1e-9 dB; below zero what they have to
    /// spare.
    #[must_use]
    pub fn missing(self, talk_in: Db, talk_out: Db, wanted: f64) -> Db {
        // The limiting direction alone needs this much; that the other may fail by
        // itself costs less than twice a deviation more.
        let least = self.allowance(wanted) - talk_in.min(talk_out);
        let (mut low, mut high) = (least, least + self.deviation * 2.0);
        while (high - low).value() > 1e-9 {
            let middle = (low + high) / 2.0;
            if middle == low || middle == high {
                break;
            }
            if self.both_ways(talk_in + middle, talk_out + middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }

    /// A distance to the median in deviations; nothing where nothing scatters.
    fn deviations(self, over: Db) -> Option<f64> {
        let deviations = over.value() / self.deviation.value();
        (self.deviation.value() > 0.0 && !deviations.is_nan())
            .then(|| deviations.clamp(-FARTHEST, FARTHEST))
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// Levels worth trying, dB over what is needed, for a spread of 5.6 dB.
    const LEVELS: [f64; 9] = [-40.0, -12.0, -5.6, -1.0, 0.0, 2.5, 9.2, 13.0, 60.0];

    fn pairs() -> impl Iterator<Item = (Db, Db)> {
        LEVELS.iter().flat_map(|a| LEVELS.iter().map(|b| (Db::new(*a), Db::new(*b))))
    }

    #[test]
    fn wholly_shared_the_weaker_way_decides_and_with_nothing_shared_the_product() {
        let (shared, apart) = (Spread::new(Db::new(5.6), 1.0), Spread::new(Db::new(5.6), 0.0));
        let nearly = Spread::new(Db::new(5.6), 1.0 - 1e-9);
        for (a, b) in pairs() {
            let lower = shared.one_way(a.min(b));
            // The library's distribution of one normal is good to some 1e-11.
            assert_abs_diff_eq!(shared.both_ways(a, b), lower, epsilon = 1e-10);
            assert_abs_diff_eq!(nearly.both_ways(a, b), lower, epsilon = 2e-5);
            let product = apart.one_way(a) * apart.one_way(b);
            assert_abs_diff_eq!(apart.both_ways(a, b), product, epsilon = 1e-10);
        }
    }

    /// Slepian's inequality, and no intersection is likelier than its parts.
    #[test]
    fn the_more_is_shared_the_likelier_both_are() {
        for (a, b) in pairs() {
            let mut before = 0.0;
            for correlation in [0.0, 0.2, 0.5, 0.8, 0.9, 0.99, 1.0] {
                let spread = Spread::new(Db::new(5.6), correlation);
                let both = spread.both_ways(a, b);
                assert!(both >= before - 1e-14, "{a} {b} {correlation}");
                assert!(both <= spread.one_way(a.min(b)) + 1e-10, "{a} {b} {correlation}");
                before = both;
            }
        }
    }

    /// At both medians: 1/4 + asin(rho) / 2 pi (Sheppard's formula).
    #[test]
    fn at_both_medians_the_chance_is_sheppards() {
        let none = Db::new(0.0);
        for correlation in [0.0, 0.5, 0.9, 0.999] {
            let by_hand = 0.25 + f64::asin(correlation) / std::f64::consts::TAU;
            let found = Spread::new(Db::new(3.0), correlation).both_ways(none, none);
            assert_abs_diff_eq!(found, by_hand, epsilon = 1e-14);
        }
    }

    #[test]
    fn where_nothing_scatters_it_works_or_it_does_not() {
        let spread = Spread::new(Db::new(0.0), 0.9);
        let (under, level, over) = (Db::new(-0.1), Db::new(0.0), Db::new(0.1));
        assert_eq!(spread.both_ways(level, over), 1.0);
        assert_eq!(spread.both_ways(under, over), 0.0);
        assert_eq!(spread.one_way(under), 0.0);
        assert_eq!(spread.allowance(0.95), Db::new(0.0));
        assert_eq!(spread.missing(under, over, 0.95), Db::new(0.1));
        for level in [f64::NAN, f64::NEG_INFINITY] {
            for spread in [spread, Spread::new(Db::new(5.6), 0.9)] {
                assert_eq!(spread.both_ways(Db::new(level), over), 0.0, "{level}");
            }
        }
    }

    #[test]
    fn what_is_missing_makes_it_work_and_a_little_less_does_not() {
        for correlation in [0.0, 0.5, 0.9, 1.0] {
            let spread = Spread::new(Db::new(5.6), correlation);
            for wanted in [0.5, 0.95, 0.999] {
                for (a, b) in pairs() {
                    let missing = spread.missing(a, b, wanted);
                    let with = |more: f64| {
                        let more = missing + Db::new(more);
                        spread.both_ways(a + more, b + more)
                    };
                    assert!(with(1e-6) >= wanted, "{a} {b} {correlation} {wanted}: {missing}");
                    assert!(with(-1e-6) < wanted, "{a} {b} {correlation} {wanted}: {missing}");
                }
            }
        }
    }

    #[test]
    fn errors_that_know_nothing_of_each_other_add_as_squares() {
        let near = (Megahertz::new(147.6), Megahertz::new(147.0));
        let spread = Spread::over(Db::new(3.0), Db::new(4.0), near);
        assert_abs_diff_eq!(spread.deviation().value(), 5.0, epsilon = 1e-12);
        assert_eq!(spread.correlation(), Spread::CLOSE);
        let bands = (Megahertz::new(146.5), Megahertz::new(446.0));
        assert!(Spread::over(Db::new(3.0), Db::new(4.0), bands).correlation() < Spread::CLOSE);
    }

    /// Ten percent between two frequencies is where they count as far apart.
    #[test]
    fn frequencies_are_close_up_to_a_tenth_whichever_is_higher() {
        let correlation = |one: f64, other: f64| {
            let frequencies = (Megahertz::new(one), Megahertz::new(other));
            Spread::over(Db::new(3.0), Db::new(4.0), frequencies).correlation()
        };
        for (one, other, expected) in [
            (100.0, 109.9, 0.9),
            (109.9, 100.0, 0.9),
            (10.0, 11.0, 0.5),
            (100.0, 110.1, 0.5),
            (110.1, 100.0, 0.5),
            (147.0, 147.0, 0.9),
        ] {
            assert_eq!(correlation(one, other), expected, "{one} {other}");
        }
    }

    /// 5 squared less 4 squared is 3 squared; no spread is less than none.
    #[test]
    fn an_error_comes_out_of_the_spread_as_it_went_in() {
        let spread = Spread::new(Db::new(5.0), 0.9);
        assert_abs_diff_eq!(spread.without(Db::new(4.0)).value(), 3.0, epsilon = 1e-12);
        assert_eq!(spread.without(Db::new(6.0)), Db::new(0.0));
    }

    /// Standard normal table: 95 % lie below 1.6449, 84.134 % below 1.
    #[test]
    fn an_allowance_is_a_quantile_of_the_spread() {
        let spread = Spread::new(Db::new(5.6), 0.9);
        assert_abs_diff_eq!(spread.allowance(0.95).value(), 5.6 * 1.6449, epsilon = 1e-3);
        assert_abs_diff_eq!(spread.one_way(Db::new(5.6)), 0.841_345, epsilon = 1e-6);
        assert_abs_diff_eq!(spread.one_way(Db::new(-5.6)), 0.158_655, epsilon = 1e-6);
        // Levels without end are no trouble.
        assert_eq!(spread.one_way(Db::new(f64::INFINITY)), 1.0);
        assert_eq!(spread.both_ways(Db::new(1e9), Db::new(1e9)), 1.0);
    }
}
