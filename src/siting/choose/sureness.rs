//! How sure the choice is: the same sets with the method's error drawn anew.

use std::collections::HashMap;

use ndarray::Array2;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::SeedableRng;
use rayon::prelude::*;
use serde::Serialize;

use super::matrix::Matrix;
use super::problem::Set;
use crate::demand::Demand;
use perchline_link::{Chances, Spread};
use perchline_units::{Db, Position};

/// Draws; each is seeded by its number alone.
pub const DRAWS: u32 = 1000;

/// Parts of the error's variance: shared by all paths to one neighbourhood (what
/// stands around the people there), by all paths of one site (what stands around
/// its mast), and of each path from a site to a neighbourhood alone. That half is
/// shared at the receiving end is what studies of cellular systems take between
/// sites (3GPP TR 36.942, from memory); the even split of the rest is our choice.
pub const PARTS: [f64; 3] = [0.5, 0.25, 0.25];

/// Side of a neighbourhood in metres: spots in one square of this size share
/// their errors, as errors of terrain models and clutter do over some hundred
/// metres (our choice).
pub const NEIGHBOURHOOD: f64 = 250.0;

/// Part of the spread's variance that is taken for the method's error where the
/// plan states none (our choice).
pub const ERROR_PART: f64 = 0.5;

/// Metres to a degree of latitude, near enough to cut the ground into squares.
const METRES_A_DEGREE: f64 = 111_320.0;

/// How often which set came out best.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sureness {
    /// Number of draws.
    pub draws: u32,
    /// Standard deviation of the error that was drawn for each path.
    pub model_error_db: Db,
    /// In how many draws the first set stays first.
    pub first_stays_first: u32,
    /// Mean of its weighted coverage over the draws, 0 to 1.
    pub mean: f64,
    /// Its weighted coverage in the draw that 5 of 100 are below, 0 to 1.
    pub low: f64,
    /// The same that 5 of 100 are above.
    pub high: f64,
    /// How often each set compared was the best, in their order.
    #[serde(skip)]
    pub wins: Vec<u32>,
}

/// A method's error and what is left of the spread once it is known, such that
/// both together are the spread of the prediction.
fn parted(spread: Spread, model_error: Db) -> (Db, Spread) {
    let whole = spread.deviation().value().powi(2);
    let stated = model_error.value().powi(2);
    let error = if stated > 0.0 { stated.min(whole) } else { ERROR_PART * whole };
    let error = Db::new(error.sqrt());
    (error, spread.given(error))
}

/// Draws the errors and compares `sets`, of which the first is the first.
/// `model_error` is the plan's, zero where it states none. The same whatever
/// the number of threads.
#[must_use]
pub fn sureness(
    matrix: &Matrix,
    demand: &Demand,
    model_error: Db,
    sets: &[Set],
    draws: u32,
) -> Sureness {
    let sites = matrix.contacts.nrows();
    sureness_of_rows((matrix, sites), demand, model_error, sets, draws)
}

/// The same where so many rows of the matrix are sites, and those after them the same
/// sites on other channels, which share their errors. Sets are of rows.
pub(super) fn sureness_of_rows(
    (matrix, sites): (&Matrix, usize),
    demand: &Demand,
    model_error: Db,
    sets: &[Set],
    draws: u32,
) -> Sureness {
    // The model's error is the same everywhere: it is parted from the least
    // spread; what a building adds to a post's stays with that post.
    let least = matrix.spreads.iter().copied();
    let least = least.reduce(|a, b| if b.deviation() < a.deviation() { b } else { a });
    let (error, _) = parted(least.unwrap_or(Spread::new(Db::new(0.0), 1.0)), model_error);
    let draw = Draws::new((matrix, sites), demand, sets, error);
    let drawn: Vec<(usize, f64)> = (0..draws).into_par_iter().map(|n| draw.compare(n)).collect();
    let mut wins = vec![0u32; sets.len()];
    for (winner, _) in &drawn {
        if let Some(count) = wins.get_mut(*winner) {
            *count += 1;
        }
    }
    let mut values: Vec<f64> = drawn.iter().map(|(_, value)| *value).collect();
    values.sort_by(f64::total_cmp);
    let at = |part: f64| {
        let place = (part * values.len() as f64) as usize;
        values.get(place.min(values.len().saturating_sub(1))).copied().unwrap_or(0.0)
    };
    Sureness {
        draws,
        model_error_db: error,
        first_stays_first: wins.first().copied().unwrap_or(0),
        mean: values.iter().sum::<f64>() / values.len().max(1) as f64,
        low: at(0.05),
        high: at(0.95),
        wins,
    }
}

/// What all draws share.
struct Draws<'a> {
    matrix: &'a Matrix,
    /// Rows of it to a channel.
    plan_sites: usize,
    weights: Vec<f64>,
    /// Neighbourhood of each spot, and how many there are.
    near: Vec<usize>,
    neighbourhoods: usize,
    /// Sites that are in a set, and each set by its places among them.
    sites: Vec<usize>,
    sets: Vec<Vec<usize>>,
    error: f64,
    /// Each kind of spread without the model's error, and what its [`Chances`]
    /// want taken off a level; which of them holds for each spot.
    rests: Vec<(Chances, f32)>,
    rest: Vec<usize>,
}

impl<'a> Draws<'a> {
    fn new(
        (matrix, plan_sites): (&'a Matrix, usize),
        demand: &Demand,
        sets: &[Set],
        error: Db,
    ) -> Self {
        let mut kinds: Vec<Spread> = Vec::new();
        let rest = matrix
            .spreads
            .iter()
            .map(|spread| {
                kinds.iter().position(|kind| kind == spread).unwrap_or_else(|| {
                    kinds.push(*spread);
                    kinds.len() - 1
                })
            })
            .collect();
        let rests = kinds.into_iter().map(|spread| {
            let left = spread.given(error);
            let allowance = left.allowance(matrix.reliability).value() as f32;
            (Chances::new(left, matrix.reliability), allowance)
        });
        let (near, neighbourhoods) = neighbourhoods(demand.samples.iter().map(|spot| spot.at));
        let mut sites: Vec<usize> = sets.iter().flatten().copied().collect();
        sites.sort_unstable();
        sites.dedup();
        let place = |site: &usize| sites.binary_search(site).ok();
        let sets = sets.iter().map(|set| set.iter().filter_map(place).collect()).collect();
        let weights = demand.weights();
        let total: f64 = weights.iter().sum();
        Self {
            matrix,
            plan_sites,
            weights: weights.iter().map(|weight| weight / total).collect(),
            near,
            neighbourhoods,
            sets,
            error: error.value(),
            rests: rests.collect(),
            rest,
            sites,
        }
    }

    /// The best set of one draw, and the value of the first.
    fn compare(&self, number: u32) -> (usize, f64) {
        let errors = self.errors(number);
        let mut sums = vec![0.0; self.sets.len()];
        let mut here = vec![0.0f64; self.sites.len()];
        for (spot, (weight, near)) in self.weights.iter().zip(&self.near).enumerate() {
            for (place, (site, chance)) in self.sites.iter().zip(&mut here).enumerate() {
                let error = errors.get((place, *near)).copied().unwrap_or(0.0);
                *chance = self.chance(*site, spot, error);
            }
            for (set, sum) in self.sets.iter().zip(&mut sums) {
                let served = set.iter().filter_map(|place| here.get(*place).copied());
                *sum += weight * served.fold(0.0, f64::max);
            }
        }
        let best = sums.iter().enumerate().fold((0, f64::NEG_INFINITY), |best, (set, value)| {
            if *value > best.1 { (set, *value) } else { best }
        });
        (best.0, sums.first().copied().unwrap_or(0.0))
    }

    fn chance(&self, site: usize, spot: usize, error: f32) -> f64 {
        let Some(contact) = self.matrix.contacts.get((site, spot)) else { return 0.0 };
        if contact.talk_in_over.is_nan() {
            return 0.0;
        }
        let kind = self.rest.get(spot).copied().unwrap_or(0);
        let Some((chances, allowance)) = self.rests.get(kind) else { return 0.0 };
        let more = error - allowance;
        let (chance, _) = chances.of(contact.talk_in_over + more, contact.talk_out_over + more);
        f64::from(chance)
    }

    /// Errors in dB, a row a site of [`Draws::sites`], a column a neighbourhood.
    fn errors(&self, number: u32) -> Array2<f32> {
        let mut random = Pcg64Mcg::seed_from_u64(u64::from(number));
        let mut normal = |part: f64| -> f64 {
            let drawn: f64 = StandardNormal.sample(&mut random);
            drawn * self.error * part.sqrt()
        };
        let [around, of_site, of_path] = PARTS;
        let around: Vec<f64> = (0..self.neighbourhoods).map(|_| normal(around)).collect();
        // Every site of the plan takes its turn, so that a site's luck does not
        // depend on which sets are compared.
        let mut errors = Array2::zeros((self.sites.len(), self.neighbourhoods));
        for site in 0..self.plan_sites {
            let own = normal(of_site);
            // Its rows, one a channel.
            let rows = (site..self.matrix.contacts.nrows()).step_by(self.plan_sites);
            let places: Vec<usize> =
                rows.filter_map(|row| self.sites.binary_search(&row).ok()).collect();
            for (near, around) in around.iter().enumerate() {
                let error = (around + own + normal(of_path)) as f32;
                for place in &places {
                    if let Some(cell) = errors.get_mut((*place, near)) {
                        *cell = error;
                    }
                }
            }
        }
        errors
    }
}

/// The neighbourhood of each place, and how many there are.
fn neighbourhoods(places: impl Iterator<Item = Position>) -> (Vec<usize>, usize) {
    let mut known: HashMap<(i64, i64), usize> = HashMap::new();
    let mut middle = None;
    let near = places
        .map(|at| {
            let (latitude, longitude) = (at.latitude().value(), at.longitude().value());
            let shrink = *middle.get_or_insert(latitude.to_radians().cos());
            let step = |degrees: f64| (degrees * METRES_A_DEGREE / NEIGHBOURHOOD).floor() as i64;
            let next = known.len();
            *known.entry((step(latitude), step(longitude * shrink))).or_insert(next)
        })
        .collect();
    (near, known.len())
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::choose::Contact;
    use crate::demand::Kind;
    use perchline_link::Outcome;
    use perchline_units::Degrees;

    #[test]
    fn error_and_rest_are_the_whole_spread() {
        let whole = Spread::new(Db::new(5.6), 0.9);
        for stated in [0.0, 2.0, 3.0] {
            let (error, left) = parted(whole, Db::new(stated));
            if stated > 0.0 {
                assert_abs_diff_eq!(error.value(), stated, epsilon = 1e-12);
            }
            let variance = error.value().powi(2) + left.deviation().value().powi(2);
            assert_abs_diff_eq!(variance, 5.6f64.powi(2), epsilon = 1e-12);
            let shared =
                error.value().powi(2) + left.correlation() * left.deviation().value().powi(2);
            assert_abs_diff_eq!(shared, 0.9 * 5.6f64.powi(2), epsilon = 1e-12);
        }
        assert_abs_diff_eq!(PARTS.iter().sum::<f64>(), 1.0);
    }

    /// Sites in rows, spots far apart in columns: levels over what is needed,
    /// the same both ways.
    fn matrix(levels: Array2<f32>) -> (Matrix, Demand) {
        let spread = Spread::new(Db::new(5.6), 0.9);
        let spots = levels.ncols();
        let contacts = levels.mapv(|level| {
            let over = Db::new(f64::from(level));
            Contact {
                probability: spread.both_ways(over, over),
                talk_in_over: level,
                talk_out_over: level,
                outcome: Outcome::Clear,
            }
        });
        let at = |n: usize| Position::new(Degrees::new(n as f64 * 0.1), Degrees::new(0.0)).unwrap();
        let mut demand = Demand::default();
        demand.add(Kind::Area, "Field", 2.0, None, (0..spots).map(|n| (at(n), 1.0)));
        let spreads = vec![spread; contacts.ncols()];
        (Matrix { contacts, spreads, reliability: 0.95, with_duplexers: Vec::new() }, demand)
    }

    /// The law of total probability: with the error drawn and the rest of the
    /// spread kept, contact comes out as predicted with the whole spread.
    #[test]
    fn drawn_errors_leave_the_mean_where_it_was() {
        let levels = Array2::from_shape_fn((1, 40), |(_, spot)| spot as f32 * 0.5 - 6.0);
        let (matrix, demand) = matrix(levels);
        let predicted = matrix.contacts.iter().map(|c| c.probability).sum::<f64>() / 40.0;
        for stated in [0.0, 3.0] {
            let sure = sureness(&matrix, &demand, Db::new(stated), &[vec![0]], 4000);
            // The site's own error moves all spots together: about 0.06 in one
            // draw, 0.001 in the mean of 4000; five of these.
            assert_abs_diff_eq!(sure.mean, predicted, epsilon = 0.005);
            assert!(sure.low < sure.mean && sure.mean < sure.high);
        }
    }

    /// Equal sites take turns; a site that is ahead by far more than the error
    /// stays ahead; what all sites share changes nothing.
    #[test]
    fn first_places_go_by_the_lead() {
        let equal = matrix(Array2::from_elem((2, 30), 5.0));
        let sets = [vec![0], vec![1]];
        let wins = |(matrix, demand): &(Matrix, Demand)| {
            sureness(matrix, demand, Db::new(0.0), &sets, 1000).wins
        };
        // Even odds: 500, give or take five deviations of 16.
        let even = wins(&equal);
        assert!((420..=580).contains(even.first().unwrap()), "{even:?}");
        assert_eq!(even.iter().sum::<u32>(), 1000);
        let ahead =
            Array2::from_shape_fn((2, 30), |(site, _)| if site == 0 { 10.0 } else { -10.0 });
        assert_eq!(wins(&matrix(ahead)), [1000, 0]);
        assert_eq!(wins(&equal), even, "the same draws again");
    }
}
