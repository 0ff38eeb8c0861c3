//! Probabilities for rasters: looked up, not worked out for each cell.

use std::borrow::Cow;
use std::sync::LazyLock;

use super::Outcome;
use super::noise::DesenseAtTimes;
use super::probability::Spread;
use perchline_units::Db;

/// Steps of the table to a deviation.
const STEPS: f32 = 32.0;

/// The limiting direction's level over what it needs runs to so many deviations either way.
const REACH: f32 = 4.5;

/// Entries along the limiting direction's level.
const LEVELS: usize = 2 * (REACH * STEPS) as usize + 1;

/// The table that nearly all maps need, built once.
static CLOSE: LazyLock<Vec<f32>> = LazyLock::new(|| table(Spread::CLOSE));

/// What margins come to: the probability that both ways work, and its class.
///
/// From a table of [`Spread::both_ways`], a value every 1/32 deviation with
/// straight lines between: off by less than 1e-4, and never quite 0 or 1. Every engine uses it, so
/// equal margins give equal cells.
#[derive(Debug, Clone)]
pub struct Chances {
    spread: Spread,
    reliability: f64,
    allowance: f32,
    per_db: f32,
    /// Share of the time for which talk-in has so many dB less.
    at_times: Option<(f32, f32)>,
    /// By difference, then by the limiting direction's level, both in steps.
    table: Cow<'static, [f32]>,
}

impl Chances {
    /// Chances under this spread; a place counts as clear from `reliability`,
    /// above 0 and below 1, on.
    #[must_use]
    pub fn new(spread: Spread, reliability: f64) -> Self {
        let table = if spread.correlation() == Spread::CLOSE {
            Cow::Borrowed(CLOSE.as_slice())
        } else {
            Cow::Owned(table(spread.correlation()))
        };
        Self {
            spread,
            reliability,
            allowance: spread.allowance(reliability).value() as f32,
            per_db: (1.0 / spread.deviation().value()) as f32,
            at_times: None,
            table,
        }
    }

    /// The spread that these are under.
    #[must_use]
    pub const fn spread(&self) -> Spread {
        self.spread
    }

    /// The same where a desense takes from talk-in for a share of the time.
    #[must_use]
    pub fn with_desense(self, desense: Option<DesenseAtTimes>) -> Self {
        let at_times = desense.map(|d| (d.share as f32, d.cost_db.value() as f32));
        Self { at_times, ..self }
    }

    /// What two margins in dB, already less the allowance for the spread, come
    /// to: the probability, 0 to 1, that both ways work, over all the time, and
    /// the outcome, which is that of nearly all the time.
    #[inline]
    #[must_use]
    pub fn of(&self, talk_in: f32, talk_out: f32) -> (f32, Outcome) {
        let (talk_in, talk_out) = (talk_in + self.allowance, talk_out + self.allowance);
        let probability = self.both_ways(talk_in, talk_out);
        let better = Db::new(f64::from(talk_in.max(talk_out)));
        let outcome = Outcome::of(f64::from(probability), better, self.reliability);
        let over_time = match self.at_times {
            None => probability,
            Some((share, cost)) => {
                probability + share * (self.both_ways(talk_in - cost, talk_out) - probability)
            }
        };
        (over_time, outcome)
    }

    /// Probability of levels over what they need, dB.
    #[inline]
    fn both_ways(&self, talk_in: f32, talk_out: f32) -> f32 {
        if !self.per_db.is_finite() {
            return self.spread.one_way(Db::new(f64::from(talk_in.min(talk_out)))) as f32;
        }
        let level = (talk_in.min(talk_out) * self.per_db + REACH) * STEPS;
        let gap = (talk_in - talk_out).abs() * self.per_db * STEPS;
        // The last whole step is that before the last entry.
        let last = self.table.len() / LEVELS - 1;
        let level = level.clamp(0.0, (LEVELS - 1) as f32);
        let gap = gap.clamp(0.0, last as f32);
        let (column, row) = ((level as usize).min(LEVELS - 2), (gap as usize).min(last - 1));
        let along = |row: usize| {
            let start = row * LEVELS + column;
            match self.table.get(start..start + 2) {
                Some(&[before, after]) => before + (after - before) * (level - column as f32),
                _ => f32::NAN,
            }
        };
        let (near, far) = (along(row), along(row + 1));
        near + (far - near) * (gap - row as f32)
    }
}

fn table(correlation: f64) -> Vec<f32> {
    let spread = Spread::new(Db::new(1.0), correlation);
    let step = 1.0 / f64::from(STEPS);
    let entry = |gap: usize, level: usize| {
        let weaker = Db::new(level as f64 * step - f64::from(REACH));
        spread.both_ways(weaker, weaker + Db::new(gap as f64 * step)) as f32
    };
    // So far from the limiting direction that the stronger, where the weaker just
    // works, all but never fails.
    let own = (1.0 - correlation * correlation).max(0.0).sqrt();
    let farthest = f64::from(REACH) * (1.0 - correlation + own);
    let gaps = (farthest * f64::from(STEPS)).ceil() as usize + 2;
    (0..gaps).flat_map(|gap| (0..LEVELS).map(move |level| entry(gap, level))).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::print_stdout, reason = "figures are printed")]
    use super::*;

    #[test]
    fn the_table_gives_what_it_was_made_from() {
        let mut worst = 0.0f64;
        for (deviation, correlation) in [(5.6, 0.9), (1.6, 0.9), (8.0, 0.5), (5.6, 0.0)] {
            let spread = Spread::new(Db::new(deviation), correlation);
            let chances = Chances::new(spread, 0.95);
            for a in -120..=120 {
                for b in -120..=120 {
                    let (a, b) = (a as f32 * 0.317, b as f32 * 0.293);
                    let over = |margin: f32| Db::new(f64::from(margin)) + spread.allowance(0.95);
                    let exact = spread.both_ways(over(a), over(b));
                    let (found, outcome) = chances.of(a, b);
                    let off = (f64::from(found) - exact).abs();
                    worst = worst.max(off);
                    assert!(off < 1e-4, "{deviation} {correlation}: {a} {b}: {found} {exact}");
                    let better = over(a).max(over(b));
                    if (exact - 0.95).abs() > 1e-4
                        && (exact - 0.99).abs() > 1e-4
                        && (exact - 0.5).abs() > 1e-4
                        && better.value().abs() > 1e-4
                    {
                        assert_eq!(outcome, Outcome::of(exact, better, 0.95), "{a} {b}");
                    }
                }
            }
        }
        println!("\nfigure probability_table_worst_spots {:.3} of 100", worst * 100.0);
        assert!(worst > 0.0);
    }

    /// By hand: at 10 dB over what it needs with a spread of 5 dB, 30 dB less
    /// for 4 % of the time leaves 96 % of what there was; the outcome stays.
    #[test]
    fn a_desense_at_times_takes_its_share_and_leaves_the_outcome() {
        let plain = Chances::new(Spread::new(Db::new(5.0), 0.9), 0.95);
        let desense = DesenseAtTimes { share: 0.04, cost_db: Db::new(30.0) };
        let seldom = plain.clone().with_desense(Some(desense));
        for (talk_in, talk_out) in [(2.0, 3.0), (-1.0, 4.0), (20.0, 20.0)] {
            let (usual, outcome) = plain.of(talk_in, talk_out);
            let (poor, _) = plain.of(talk_in - 30.0, talk_out);
            let (found, same) = seldom.of(talk_in, talk_out);
            assert!((found - (0.96 * usual + 0.04 * poor)).abs() < 1e-6, "{talk_in} {found}");
            assert_eq!(same, outcome);
        }
        let (found, _) = seldom.of(2.0, 3.0);
        let exact = 0.96 * Spread::new(Db::new(5.0), 0.9).both_ways(Db::new(10.22), Db::new(11.22));
        assert!((f64::from(found) - exact).abs() < 1e-3, "{found} {exact}");
    }

    #[test]
    fn where_nothing_scatters_the_weaker_way_decides() {
        let chances = Chances::new(Spread::new(Db::new(0.0), 0.9), 0.95);
        assert_eq!(chances.of(0.1, 0.0), (1.0, Outcome::Strong));
        assert_eq!(chances.of(0.1, -0.1), (0.0, Outcome::OneWay));
        assert_eq!(chances.of(-0.2, -0.1), (0.0, Outcome::NoContact));
    }

    #[test]
    fn far_beyond_the_table_it_is_all_or_nothing() {
        let chances = Chances::new(Spread::new(Db::new(5.6), 0.9), 0.95);
        let (all, outcome) = chances.of(500.0, 300.0);
        assert!((all - 1.0).abs() < 1e-5 && outcome == Outcome::Strong);
        let (nothing, outcome) = chances.of(-500.0, 300.0);
        assert!(nothing.abs() < 1e-5 && outcome == Outcome::OneWay);
        assert_eq!(chances.of(-500.0, -900.0).1, Outcome::NoContact);
    }

    /// Between its entries the table is a straight line, so between two of them
    /// in either direction it stays between both.
    #[test]
    fn more_margin_is_never_less_likely() {
        let chances = Chances::new(Spread::new(Db::new(5.6), 0.9), 0.95);
        let mut last = 0.0;
        for step in -400..400 {
            let level = step as f32 * 0.0613;
            let (both, _) = chances.of(level, level + 3.0);
            assert!(both >= last, "{level}");
            assert_eq!(both, chances.of(level + 3.0, level).0);
            last = both;
        }
    }

    /// The table ends at 4.5 deviations with what Spread gives there, and beyond
    /// nothing changes.
    #[test]
    fn the_table_ends_where_it_says() {
        let spread = Spread::new(Db::new(1.0), 0.9);
        let chances = Chances::new(spread, 0.5);
        for (level, end) in [(4.5, 50.0), (-4.5, -50.0)] {
            let (found, _) = chances.of(level, 60.0);
            let exact = spread.both_ways(Db::new(f64::from(level)), Db::new(60.0));
            assert!((f64::from(found) - exact).abs() < 1e-7, "{found} {exact}");
            assert_eq!(chances.of(end, 60.0).0, found);
        }
    }

    /// In its last row the stronger direction fails nowhere that the weaker works, to
    /// a tenth of the table's 1e-4; with half as many rows it still would.
    #[test]
    fn the_table_is_wide_enough_and_no_wider() {
        for correlation in [0.0, 0.5, 0.9] {
            let spread = Spread::new(Db::new(1.0), correlation);
            let rows = table(correlation).len() / LEVELS;
            let fails = |row: usize| {
                let gap = Db::new(row as f64 / f64::from(STEPS));
                (-144..=144).fold(0.0f64, |worst, step| {
                    let weaker = Db::new(f64::from(step) / f64::from(STEPS));
                    let alone = spread.one_way(weaker);
                    worst.max(alone - spread.both_ways(weaker, weaker + gap))
                })
            };
            assert!(fails(rows - 1) < 1e-5, "{correlation}: {}", fails(rows - 1));
            assert!(fails(rows / 2) > 1e-5, "{correlation}: {}", fails(rows / 2));
        }
    }
}
