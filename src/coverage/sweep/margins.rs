//! From losses to margins: antenna gains by the slope of the path, from a table.

use super::geometry::{BatchLosses, LeftMargins};
use super::registers::{LANES, Lanes};
use super::task::KnownLanes;
use perchline_link::{Chances, LinkModel, Loss, Outcome, PathLosses, Terminal, gain_towards};
use perchline_plan::Antenna;
use perchline_propagation::Model;
use perchline_propagation::clearance::TakeOff;
use perchline_units::{Db, Degrees};

/// What makes margins of the losses between a station and a carried radio.
pub(super) struct Margins {
    /// Margins of talk-in and talk-out over a path without loss that is level at
    /// both ends, dB.
    lossless: [f32; 2],
    /// Gains in talk-in, and in talk-out where the plan states others for its band.
    gains: Gains,
    gains_out: Option<Gains>,
}

/// Gains of the antenna at the sweep's origin and of that at every cell.
struct Gains {
    origin: GainTable,
    cell: GainTable,
}

impl Gains {
    fn of([origin, cell]: [Antenna; 2]) -> Self {
        Self { origin: GainTable::of(&origin), cell: GainTable::of(&cell) }
    }

    /// Both over their gain towards the horizon, dB, for a cell of a batch.
    #[inline(always)]
    fn along(&self, losses: &BatchLosses, lane: usize) -> f32 {
        self.origin.towards(losses.station_take_off[lane])
            + self.cell.towards(losses.receiver_take_off[lane])
    }
}

impl Margins {
    /// Where the station is the sweep's origin and the carried radio is at every
    /// cell.
    pub(super) fn from_station(model: &LinkModel) -> Self {
        Self::between(model, [model.station(), model.carried()])
    }

    /// Where the carried radio is the sweep's origin and the station is at every
    /// cell.
    pub(super) fn from_carried(model: &LinkModel) -> Self {
        Self::between(model, [model.carried(), model.station()])
    }

    fn between(model: &LinkModel, ends: [&Terminal; 2]) -> Self {
        let (input, output) = model.frequencies();
        let [inward, outward] =
            [input, output].map(|frequency| ends.map(|end| end.radio.antenna_at(frequency)));
        Self {
            lossless: lossless(model),
            gains: Gains::of(inward),
            gains_out: (outward != inward).then(|| Gains::of(outward)),
        }
    }

    /// The same as [`Margins::of`], of which only those are worked out that were not
    /// left with the losses.
    pub(super) fn left_or_of(&self, losses: &BatchLosses) -> [Lanes; 2] {
        let Some(LeftMargins { of: mut margins, mut stale }) = losses.margins else {
            return self.of(losses);
        };
        while stale != 0 {
            let lane = stale.trailing_zeros() as usize;
            stale &= stale - 1;
            self.put_lane(losses, lane, &mut margins);
        }
        margins
    }

    /// The same, and leaves them with the losses.
    pub(super) fn leave(&self, losses: &mut BatchLosses) -> [Lanes; 2] {
        let margins = self.left_or_of(losses);
        losses.margins = Some(LeftMargins { of: margins, stale: 0 });
        margins
    }

    /// Margins of talk-in and talk-out for the cells of a batch, dB. Those of
    /// cells that are not known mean nothing.
    pub(super) fn of(&self, losses: &BatchLosses) -> [Lanes; 2] {
        let mut margins = [[0.0; LANES]; 2];
        for lane in 0..LANES {
            self.put_lane(losses, lane, &mut margins);
        }
        margins
    }

    /// Puts those of one cell.
    #[inline(always)]
    fn put_lane(&self, losses: &BatchLosses, lane: usize, [talk_in, talk_out]: &mut [Lanes; 2]) {
        let inward = self.gains.along(losses, lane);
        let outward = self.gains_out.as_ref().map_or(inward, |gains| gains.along(losses, lane));
        talk_in[lane] = self.lossless[0] + inward - losses.talk_in[lane];
        talk_out[lane] = self.lossless[1] + outward - losses.talk_out[lane];
    }
}

/// Between which margins the outcome changes.
pub(super) struct Boundaries {
    chances: Chances,
    /// The least and the greatest margin of the weaker direction, dB, at which a
    /// class of both directions begins, whatever the stronger one's is and whichever
    /// of the two it is: outcomes do not tell them apart.
    weaker: [(f32, f32); 3],
    /// The margin of the better direction, dB, at which it alone works.
    better: f32,
}

impl Boundaries {
    pub(super) fn new(chances: &Chances) -> Self {
        // The least margin, as far as single precision tells it, for which an
        // outcome is at least as good.
        let from = |wanted: Outcome, outcome: &dyn Fn(f32) -> Outcome| {
            let (mut low, mut high) = (-FARTHEST, FARTHEST);
            for _ in 0..40 {
                let middle = 0.5 * (low + high);
                let reached = rank(outcome(middle)) >= rank(wanted);
                (low, high) = if reached { (low, middle) } else { (middle, high) };
            }
            high
        };
        let weaker = [Outcome::Patchy, Outcome::Clear, Outcome::Strong].map(|wanted| {
            let alone = from(wanted, &|margin| chances.of(margin, FARTHEST).1);
            let both = from(wanted, &|margin| chances.of(margin, margin).1);
            (alone.min(both) - ROUNDING, alone.max(both) + ROUNDING)
        });
        let better = from(Outcome::OneWay, &|margin| chances.of(-FARTHEST, margin).1);
        Self { chances: chances.clone(), weaker, better }
    }

    /// The lanes, as bits, whose cells would come to another outcome if their
    /// losses were off by as much as they may be.
    pub(super) fn undecided(
        &self,
        margins: &[Lanes; 2],
        known: &KnownLanes,
        losses: &BatchLosses,
    ) -> u32 {
        let [talk_in, talk_out] = margins;
        let (mut near, mut surely) = ([false; LANES], [false; LANES]);
        for (lane, (near, surely)) in near.iter_mut().zip(&mut surely).enumerate() {
            let doubt = losses.doubt[lane];
            let (a, b) = (talk_in[lane], talk_out[lane]);
            let (weaker, better) = (if a < b { a } else { b }, if a < b { b } else { a });
            *near = (better - self.better).abs() <= doubt + ROUNDING;
            for (least, greatest) in self.weaker {
                *near |= weaker + doubt >= least && weaker - doubt <= greatest;
                // The class begins in between, whatever the other direction's margin is.
                *surely |= weaker + doubt >= greatest && weaker - doubt <= least;
            }
        }
        let mut lanes = 0;
        for (lane, (near, surely)) in near.into_iter().zip(surely).enumerate() {
            if near
                && known[lane]
                && (surely || self.changes(talk_in[lane], talk_out[lane], losses.doubt[lane]))
            {
                lanes |= 1 << lane;
            }
        }
        lanes
    }

    /// Whether the outcome differs between losses that are so much higher and lower.
    fn changes(&self, talk_in: f32, talk_out: f32, doubt: f32) -> bool {
        let outcome = |off: f32| self.chances.of(talk_in + off, talk_out + off).1;
        outcome(-doubt) != outcome(doubt)
    }
}

/// A margin beyond all that matter, dB.
const FARTHEST: f32 = 1000.0;

/// What single precision may be off, dB.
const ROUNDING: f32 = 1e-3;

/// Outcomes by number, the better the higher.
fn rank(outcome: Outcome) -> usize {
    Outcome::ALL.len() - Outcome::ALL.iter().position(|o| *o == outcome).unwrap_or(0)
}

/// Margins of talk-in and talk-out over a path without loss towards the horizons, dB.
fn lossless(model: &LinkModel) -> [f32; 2] {
    let zero = Loss {
        free_space: Db::new(0.0),
        diffraction: Db::new(0.0),
        leaves: Db::new(0.0),
        streets: Db::new(0.0),
        rows: Db::new(0.0),
        model: Model::Method("free-space"),
    };
    let level = Degrees::new(0.0);
    let base = model.assess(&PathLosses {
        talk_in: zero,
        talk_out: zero,
        take_off: TakeOff { at_transmitter: level, at_receiver: level },
        woods: None,
        streets: None,
    });
    [base.talk_in_margin.value() as f32, base.talk_out_margin.value() as f32]
}

/// Steps of the sine of the elevation from -1 to 1.
const STEPS: usize = 8192;

/// Slope from which on patterns are too steep for the table: 71 degrees. Only
/// cells right below the antenna are seen so.
const STEEP: f32 = 3.0;

/// An antenna's gain over its gain towards the horizon, dB, by elevation.
struct GainTable {
    antenna: Antenna,
    table: Vec<f32>,
}

impl GainTable {
    fn of(antenna: &Antenna) -> Self {
        let level = gain_towards(antenna, Degrees::new(0.0)).over_isotropic();
        let table = (0..STEPS + 2).map(|i| {
            let sine = (i as f64 / (STEPS / 2) as f64 - 1.0).min(1.0);
            let elevation = Degrees::new(sine.asin().to_degrees());
            (gain_towards(antenna, elevation).over_isotropic() - level).value() as f32
        });
        Self { antenna: *antenna, table: table.collect() }
    }

    /// The difference for a path that leaves at this slope, dB.
    #[inline(always)]
    fn towards(&self, slope: f32) -> f32 {
        if slope.abs() > STEEP {
            return self.steep(slope);
        }
        let sine = slope / (slope * slope + 1.0).sqrt();
        let at = (sine + 1.0) * (STEPS / 2) as f32;
        let index = at as u32;
        let whole = index as f32;
        match self.table.get(index as usize..index as usize + 2) {
            Some(&[a, b]) => a + (b - a) * (at - whole),
            _ => 0.0,
        }
    }

    #[cold]
    fn steep(&self, slope: f32) -> f32 {
        let level = gain_towards(&self.antenna, Degrees::new(0.0));
        let elevation = Degrees::new(f64::from(slope).atan().to_degrees());
        let gain = gain_towards(&self.antenna, elevation);
        (gain.over_isotropic() - level.over_isotropic()).value() as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_link::{DesenseAtTimes, Spread};
    use perchline_plan::Pattern;
    use perchline_units::Dbi;

    /// Undecided are the cells whose outcome differs between the ends of what their
    /// losses may be, and no others, by whatever shortcut that is found.
    #[test]
    fn undecided_is_what_would_come_to_another_outcome() {
        let spread = Spread::new(Db::new(7.0), 0.9);
        let desense = DesenseAtTimes { share: 0.1, cost_db: Db::new(12.0) };
        for chances in [
            Chances::new(spread, 0.95),
            Chances::new(spread, 0.95).with_desense(Some(desense)),
            Chances::new(Spread::new(Db::new(3.0), 0.4), 0.9),
        ] {
            let boundaries = Boundaries::new(&chances);
            let mut counts = [0, 0];
            for step in 0..6000_u16 {
                // Every lane another mixture of margins and doubts.
                let value = |lane: usize, by: f32, span: f32| {
                    ((f32::from(step) + lane as f32 * 0.37) * by).rem_euclid(span) - span / 2.0
                };
                let talk_in = std::array::from_fn(|lane| value(lane, 0.173, 60.0));
                let talk_out = std::array::from_fn(|lane| talk_in[lane] + value(lane, 0.291, 20.0));
                let doubt = std::array::from_fn(|lane| value(lane, 0.057, 12.0).abs());
                let losses = BatchLosses { doubt, ..BatchLosses::EMPTY };
                let found = boundaries.undecided(&[talk_in, talk_out], &[true; LANES], &losses);
                for lane in 0..LANES {
                    let of = |off: f32| chances.of(talk_in[lane] + off, talk_out[lane] + off).1;
                    let differs = of(-doubt[lane]) != of(doubt[lane]);
                    counts[usize::from(differs)] += 1;
                    assert_eq!(
                        found & 1 << lane != 0,
                        differs,
                        "{} dB, {} dB, off by {} dB",
                        talk_in[lane],
                        talk_out[lane],
                        doubt[lane]
                    );
                }
            }
            assert!(counts.iter().all(|count| *count > 5000), "{counts:?}");
        }
    }

    #[test]
    fn the_table_keeps_within_a_hundredth_of_a_decibel() {
        for pattern in [Pattern::Isotropic, Pattern::Dipole, Pattern::Collinear] {
            for gain in [-3.0, 2.15, 6.0, 9.0] {
                let antenna = Antenna { gain: Dbi::new(gain), pattern };
                let gains = GainTable::of(&antenna);
                for tenths in -899..=899 {
                    let elevation = f64::from(tenths) / 10.0 + 0.013;
                    let exact = gain_towards(&antenna, Degrees::new(elevation)).over_isotropic()
                        - gain_towards(&antenna, Degrees::new(0.0)).over_isotropic();
                    let got = gains.towards(elevation.to_radians().tan() as f32);
                    let off = (f64::from(got) - exact.value()).abs();
                    assert!(off < 0.01, "{pattern:?} {gain} dBi at {elevation}: {off} dB");
                }
            }
        }
    }
}
