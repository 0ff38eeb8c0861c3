//! What a choice can give at most, as straight lines over the sites taken.
//!
//! A spot's best chance is no straight line of which sites are taken, but it
//! lies below some: with the candidates in falling order of what they give the
//! spot, take the first m of them that are together taken once; the spot gets
//! what the m-th gives, and more only by those before it. That holds for every
//! choice and is exact at the one that it was made for, so a bound from such
//! lines is one for all choices (Benders' cuts of an uncapacitated location
//! problem; Cornuéjols, Nemhauser and Wolsey 1990, from memory).

use super::problem::Problem;

/// Spots whose lines are added up: as many groups as this at most.
const GROUPS: usize = 64;

/// One line: a group of spots gets no more than `constant` and `slopes` times
/// what is taken of each candidate.
#[derive(Debug, Clone)]
pub(super) struct Cut {
    pub(super) group: usize,
    pub(super) constant: f64,
    pub(super) slopes: Vec<f64>,
}

impl Cut {
    /// What the line allows where `taken` of each candidate is taken.
    pub(super) fn at(&self, taken: &[f64]) -> f64 {
        self.constant + self.slopes.iter().zip(taken).map(|(s, t)| s * t).sum::<f64>()
    }
}

/// Makes lines for a problem.
pub(super) struct Cutter<'p> {
    problem: &'p Problem,
    /// Candidates of each spot, the best first.
    order: Vec<Vec<usize>>,
    per_group: usize,
}

impl<'p> Cutter<'p> {
    pub(super) fn new(problem: &'p Problem) -> Self {
        let order = problem
            .rows()
            .map(|(row, _)| {
                let mut order: Vec<(usize, f64)> = row.iter().copied().enumerate().collect();
                order.sort_by(|a, b| b.1.total_cmp(&a.1));
                order.into_iter().map(|(site, _)| site).collect()
            })
            .collect();
        Self { problem, order, per_group: problem.spots().div_ceil(GROUPS).max(1) }
    }

    /// Number of groups.
    pub(super) fn groups(&self) -> usize {
        self.problem.spots().div_ceil(self.per_group)
    }

    /// The line of each group that is exact where `taken` of each candidate is
    /// taken, 0 to 1.
    pub(super) fn cuts(&self, taken: &[f64]) -> Vec<Cut> {
        let fresh = |group| Cut { group, constant: 0.0, slopes: vec![0.0; taken.len()] };
        let mut cuts: Vec<Cut> = (0..self.groups()).map(fresh).collect();
        for (spot, ((row, weight), order)) in self.problem.rows().zip(&self.order).enumerate() {
            let Some(cut) = cuts.get_mut(spot / self.per_group) else { continue };
            let chance = |site: &usize| row.get(*site).copied().unwrap_or(0.0);
            let mut sum = 0.0;
            let met = order.iter().position(|site| {
                sum += taken.get(*site).copied().unwrap_or(0.0);
                // Sums of parts of a whole come out a hair short of it.
                sum >= 1.0 - 1e-12
            });
            let (before, level) = match met {
                Some(met) => (order.get(..met), order.get(met).map_or(0.0, chance)),
                None => (Some(order.as_slice()), 0.0),
            };
            cut.constant += weight * level;
            for site in before.unwrap_or_default() {
                if let Some(slope) = cut.slopes.get_mut(*site) {
                    *slope += weight * (chance(site) - level);
                }
            }
        }
        cuts
    }
}

#[cfg(test)]
mod tests {
    use ndarray::array;

    use super::*;

    /// Every line lies above every set's value, and on that of its own set.
    #[test]
    fn lines_bound_every_set_and_touch_their_own() {
        let chances = array![[0.9, 0.1, 0.5], [0.2, 0.7, 0.6], [0.3, 0.3, 0.3], [0.0, 1.0, 0.4]];
        let problem = Problem::new(chances, vec![1.0, 2.0, 3.0, 1.5], 2);
        let cutter = Cutter::new(&problem);
        let taken = |set: &[usize]| -> Vec<f64> {
            (0..3).map(|site| f64::from(u8::from(set.contains(&site)))).collect()
        };
        let sets: [&[usize]; 7] = [&[], &[0], &[1], &[2], &[0, 1], &[1, 2], &[0, 2]];
        let total = |cuts: &[Cut], at: &[f64]| cuts.iter().map(|cut| cut.at(at)).sum::<f64>();
        let points = sets.map(taken).to_vec().into_iter().chain([vec![0.5, 0.75, 0.75]]);
        for point in points {
            let cuts = cutter.cuts(&point);
            for set in sets {
                let (bound, value) = (total(&cuts, &taken(set)), problem.value(set));
                assert!(bound >= value - 1e-12, "{set:?} {point:?}");
                if taken(set) == point {
                    assert!((bound - value).abs() < 1e-12, "{set:?}");
                }
            }
        }
    }
}
