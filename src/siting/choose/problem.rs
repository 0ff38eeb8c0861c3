//! The choice as plain numbers: which sites, what each gives to each spot, and
//! what a set has to keep. No plan, no terrain.

use std::collections::HashMap;

use ndarray::{Array2, ArrayView1};

/// A set of candidates: their indices, rising.
pub type Set = Vec<usize>;

/// What is to be chosen from.
///
/// ```
/// # use perchline_siting::choose::Problem;
/// # use ndarray::array;
/// // Two spots, the second of twice the weight, and three candidates.
/// let problem = Problem::new(array![[0.9, 0.2, 0.5], [0.1, 0.8, 0.5]], vec![1.0, 2.0], 2);
/// assert!((problem.value(&[2]) - 0.5).abs() < 1e-12);
/// // Each spot is served by the better of the two.
/// assert!((problem.value(&[0, 1]) - (0.9 + 2.0 * 0.8) / 3.0).abs() < 1e-12);
/// ```
#[derive(Debug, Clone)]
pub struct Problem {
    /// Probability of contact, 0 to 1: a row a spot, a column a candidate.
    chances: Array2<f64>,
    /// Weight of each row; they add up to 1.
    weights: Vec<f64>,
    /// Sites that a set holds at most.
    pub most: usize,
    /// Candidates that may be used.
    pub usable: Vec<bool>,
    /// Sums that must not be exceeded.
    pub caps: Vec<Cap>,
    /// Spots that must be served.
    pub needs: Vec<Need>,
    /// Whether two candidates hear each other, a row and a column a candidate;
    /// nothing where a set's sites need no link.
    pub links: Option<Array2<bool>>,
}

/// A sum over a set's sites that must not be exceeded.
#[derive(Debug, Clone, PartialEq)]
pub struct Cap {
    /// What it is called: the plan's field.
    pub field: &'static str,
    /// What each candidate adds; not below zero.
    pub costs: Vec<f64>,
    /// The most that is allowed.
    pub most: f64,
}

/// A spot that one site of the set at least must serve well enough.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Need {
    /// What it is called.
    pub name: String,
    /// Which candidates do.
    pub served_by: Vec<bool>,
}

/// Sums of costs may be over a cap by this much, for they are sums of floats.
const ROUNDING: f64 = 1e-9;

impl Problem {
    /// Candidates of which `most` may be taken and nothing else is asked.
    /// `chances` has a row a spot and a column a candidate; spots without a
    /// weight count as none.
    #[must_use]
    pub fn new(chances: Array2<f64>, weights: Vec<f64>, most: usize) -> Self {
        let (chances, weights) = merged(&chances, &weights);
        let candidates = chances.ncols();
        Self {
            chances,
            weights,
            most,
            usable: vec![true; candidates],
            caps: Vec::new(),
            needs: Vec::new(),
            links: None,
        }
    }

    /// Number of candidates.
    #[must_use]
    pub fn candidates(&self) -> usize {
        self.chances.ncols()
    }

    /// Number of spots that differ.
    #[must_use]
    pub fn spots(&self) -> usize {
        self.chances.nrows()
    }

    /// Each spot with its weight.
    pub(super) fn rows(&self) -> impl Iterator<Item = (ArrayView1<'_, f64>, f64)> {
        self.chances.rows().into_iter().zip(self.weights.iter().copied())
    }

    /// Weighted coverage, 0 to 1, if each spot listens to the
    /// set's best site for it; nothing is 0.
    #[must_use]
    pub fn value(&self, set: &[usize]) -> f64 {
        self.rows().map(|(row, weight)| weight * best(row, set)).sum()
    }

    /// Whether the candidate may be used.
    #[must_use]
    pub fn is_usable(&self, candidate: usize) -> bool {
        self.usable.get(candidate).copied().unwrap_or(false)
    }

    /// Whether two different candidates hear each other, or need not.
    #[must_use]
    pub fn are_linked(&self, one: usize, other: usize) -> bool {
        self.links.as_ref().is_none_or(|links| links.get((one, other)) == Some(&true))
    }

    /// Whether a set keeps all that is asked.
    #[must_use]
    pub fn allows(&self, set: &[usize]) -> bool {
        self.fits(set)
            && self.needs.iter().all(|need| need.is_met(set))
            && self.parts(set).len() <= 1
    }

    /// Whether a set keeps its size, uses what may be used and stays under
    /// every cap: what no further site fixes.
    pub(super) fn fits(&self, set: &[usize]) -> bool {
        !set.is_empty()
            && set.len() <= self.most
            && set.iter().all(|site| self.is_usable(*site))
            && self.caps.iter().all(|cap| cap.allows(set))
    }

    /// How many needs a set meets.
    pub(super) fn met(&self, set: &[usize]) -> usize {
        self.needs.iter().filter(|need| need.is_met(set)).count()
    }

    /// The groups of a set's sites within which each hears another.
    pub(super) fn parts(&self, set: &[usize]) -> Vec<Set> {
        let mut left = set.to_vec();
        let mut parts = Vec::new();
        while let Some(first) = left.first().copied() {
            let mut part = vec![first];
            left.retain(|site| *site != first);
            loop {
                let near = |site: &usize| part.iter().any(|member| self.are_linked(*member, *site));
                let Some(next) = left.iter().copied().find(near) else { break };
                part.push(next);
                left.retain(|site| *site != next);
            }
            part.sort_unstable();
            parts.push(part);
        }
        parts
    }
}

impl Cap {
    /// What a set adds up to.
    #[must_use]
    pub fn sum(&self, set: &[usize]) -> f64 {
        set.iter().filter_map(|site| self.costs.get(*site)).sum()
    }

    fn allows(&self, set: &[usize]) -> bool {
        self.sum(set) <= self.most + ROUNDING
    }
}

impl Need {
    /// Whether a site of the set serves it.
    #[must_use]
    pub fn is_met(&self, set: &[usize]) -> bool {
        set.iter().any(|site| self.served_by.get(*site) == Some(&true))
    }
}

/// The best that a set gives to one spot.
pub(super) fn best(row: ArrayView1<'_, f64>, set: &[usize]) -> f64 {
    set.iter().filter_map(|site| row.get(*site).copied()).fold(0.0, f64::max)
}

/// Spots that are alike as one, weights adding up to 1.
fn merged(chances: &Array2<f64>, weights: &[f64]) -> (Array2<f64>, Vec<f64>) {
    let total: f64 = weights.iter().sum();
    let mut known: HashMap<Vec<u64>, usize> = HashMap::new();
    let (mut rows, mut sums): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for (row, weight) in chances.rows().into_iter().zip(weights) {
        let share = if total > 0.0 { weight / total } else { 0.0 };
        let bits = row.iter().map(|chance| chance.to_bits()).collect();
        let place = *known.entry(bits).or_insert(sums.len());
        match sums.get_mut(place) {
            Some(sum) => *sum += share,
            None => {
                rows.extend(row);
                sums.push(share);
            }
        }
    }
    let shape = (sums.len(), chances.ncols());
    match Array2::from_shape_vec(shape, rows) {
        Ok(rows) => (rows, sums),
        Err(_) => (chances.clone(), weights.to_vec()),
    }
}

#[cfg(test)]
mod tests {
    use ndarray::array;

    use super::*;

    #[test]
    fn spots_that_are_alike_count_together() {
        let chances = array![[0.5, 0.1], [0.2, 0.9], [0.5, 0.1]];
        let problem = Problem::new(chances, vec![1.0, 2.0, 5.0], 1);
        assert_eq!(problem.spots(), 2);
        assert!((problem.value(&[0]) - (6.0 * 0.5 + 2.0 * 0.2) / 8.0).abs() < 1e-15);
        assert_eq!(problem.value(&[]), 0.0);
    }

    #[test]
    fn each_demand_refuses_by_itself() {
        let mut problem = Problem::new(array![[0.5, 0.1, 0.3, 0.3]], vec![1.0], 3);
        assert!(problem.allows(&[0, 1, 2]) && !problem.allows(&[0, 1, 2, 3]));
        assert!(!problem.allows(&[]));
        problem.usable = vec![true, true, true, false];
        assert!(!problem.allows(&[3]));
        problem.caps = vec![Cap { field: "doors", costs: vec![1.0, 1.0, 0.0, 0.0], most: 1.0 }];
        assert!(problem.allows(&[0, 2]) && !problem.allows(&[0, 1]));
        problem.needs =
            vec![Need { name: "Start".into(), served_by: vec![false, true, false, true] }];
        assert!(problem.allows(&[1, 2]) && !problem.allows(&[0, 2]));
        let mut links = Array2::from_elem((4, 4), false);
        for (a, b) in [(0, 1), (1, 0)] {
            links[[a, b]] = true;
        }
        problem.links = Some(links);
        assert!(!problem.allows(&[1, 2]));
        assert_eq!(problem.parts(&[0, 1, 2]), vec![vec![0, 1], vec![2]]);
    }
}
