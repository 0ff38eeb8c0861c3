//! The best set by trying all that can be better than one that is known.
//!
//! A site never adds more to a larger set than to a part of it, so what sites
//! add to a set bounds what any of its extensions can come to, and what they
//! added one site earlier bounds what they add now. That proves the best of a
//! few sites where the relaxed program's bound is loose (the bound is that of
//! Nemhauser and Wolsey for submodular functions, 1981, from memory).

use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use rayon::prelude::*;

use super::problem::{Problem, Set};

/// Sets that are better by less than this are not looked for.
const CLOSE: f64 = 1e-9;

/// Sums run in so many lanes.
const LANES: usize = 8;

/// What a search through the tree found.
pub(super) struct Searched {
    /// The best set better than the one known; nothing if there is none.
    pub(super) better: Option<(Set, f64)>,
    /// Whether all was searched in time.
    pub(super) is_whole: bool,
}

/// What is searched through.
struct Tree<'p> {
    problem: &'p Problem,
    /// Chances of each candidate, spot by spot.
    columns: Vec<Vec<f64>>,
    weights: Vec<f64>,
    is_allowed: &'p (dyn Fn(&[usize]) -> bool + Sync),
    deadline: Instant,
    late: AtomicBool,
}

/// A set on the way.
struct Node {
    set: Set,
    value: f64,
    /// What each spot gets.
    gets: Vec<f64>,
    /// Candidates that may still come, with at least what each adds, most first.
    rest: Vec<(usize, f64)>,
}

/// Searches the sets of `candidates` for one better than `value`. The same
/// whatever the number of threads.
pub(super) fn search(
    problem: &Problem,
    candidates: &[usize],
    is_allowed: &(dyn Fn(&[usize]) -> bool + Sync),
    value: f64,
    deadline: Instant,
) -> Searched {
    let weights: Vec<f64> = problem.rows().map(|(_, weight)| weight).collect();
    let column = |site: usize| -> Vec<f64> {
        problem.rows().map(|(row, _)| row.get(site).copied().unwrap_or(0.0)).collect()
    };
    let late = AtomicBool::new(false);
    let columns = (0..problem.candidates()).map(column).collect();
    let tree = Tree { problem, columns, weights, is_allowed, deadline, late };
    let gets = vec![0.0; tree.weights.len()];
    let rest = candidates.iter().map(|site| (*site, f64::INFINITY)).collect();
    let root = Node { set: Vec::new(), value: 0.0, gets, rest };
    let rest = tree.additions(&root);
    let better = (0..rest.len())
        .into_par_iter()
        .map(|first| {
            let mut best = (None, value);
            tree.step(&root, &rest, first, &mut best);
            best.0.map(|set| (set, best.1))
        })
        .collect::<Vec<_>>()
        .into_iter()
        .flatten()
        .fold(None, |best: Option<(Set, f64)>, next| match best {
            Some(best) if best.1 >= next.1 => Some(best),
            _ => Some(next),
        });
    Searched { better, is_whole: !tree.late.into_inner() }
}

impl Tree<'_> {
    /// Takes the candidate at `place` of `rest` and continues from there; `false`
    /// if neither it nor those after it can lead to a better set.
    fn step(
        &self,
        node: &Node,
        rest: &[(usize, f64)],
        place: usize,
        best: &mut (Option<Set>, f64),
    ) -> bool {
        let left = self.problem.most - node.set.len();
        let after = rest.get(place..).unwrap_or_default();
        let most: f64 = after.iter().take(left).map(|(_, adds)| adds).sum();
        if node.value + most <= best.1 + CLOSE {
            return false;
        }
        let Some(((site, _), later)) = after.split_first() else { return false };
        let mut set = node.set.clone();
        set.push(*site);
        set.sort_unstable();
        if self.problem.fits(&set) {
            let gets = self.with(&node.gets, *site);
            let value = node.value + self.added(&node.gets, *site);
            if value > best.1 + CLOSE && self.problem.allows(&set) && (self.is_allowed)(&set) {
                *best = (Some(set.clone()), value);
            }
            self.visit(Node { set, value, gets, rest: later.to_vec() }, best);
        }
        true
    }

    fn visit(&self, node: Node, best: &mut (Option<Set>, f64)) {
        match self.problem.most - node.set.len() {
            0 => {}
            1 => self.last(&node, best),
            _ => {
                if Instant::now() > self.deadline {
                    self.late.store(true, Ordering::Relaxed);
                }
                if self.late.load(Ordering::Relaxed) {
                    return;
                }
                let rest = self.additions(&node);
                for place in 0..rest.len() {
                    if !self.step(&node, &rest, place, best) {
                        break;
                    }
                }
            }
        }
    }

    /// The best last site; what each added earlier says when to stop.
    fn last(&self, node: &Node, best: &mut (Option<Set>, f64)) {
        let mut set = Set::with_capacity(node.set.len() + 1);
        for (site, adds) in &node.rest {
            if node.value + adds <= best.1 + CLOSE {
                break;
            }
            set.clone_from(&node.set);
            set.push(*site);
            set.sort_unstable();
            if self.problem.allows(&set) && (self.is_allowed)(&set) {
                let value = node.value + self.added(&node.gets, *site);
                if value > best.1 + CLOSE {
                    *best = (Some(set.clone()), value);
                }
            }
        }
    }

    /// What each candidate still to come adds to a set, most first.
    fn additions(&self, node: &Node) -> Vec<(usize, f64)> {
        let mut rest: Vec<(usize, f64)> =
            node.rest.iter().map(|(site, _)| (*site, self.added(&node.gets, *site))).collect();
        rest.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        rest
    }

    /// What a candidate adds where the spots get so much.
    fn added(&self, gets: &[f64], site: usize) -> f64 {
        let Some(column) = self.columns.get(site) else { return 0.0 };
        let mut lanes = [0.0; LANES];
        let chunks = (column.chunks(LANES), gets.chunks(LANES), self.weights.chunks(LANES));
        for ((chances, gets), weights) in chunks.0.zip(chunks.1).zip(chunks.2) {
            for (((lane, chance), got), weight) in
                lanes.iter_mut().zip(chances).zip(gets).zip(weights)
            {
                *lane += weight * (chance - got).max(0.0);
            }
        }
        lanes.iter().sum()
    }

    /// What the spots get once a candidate is taken too.
    fn with(&self, gets: &[f64], site: usize) -> Vec<f64> {
        let column = self.columns.get(site).map(Vec::as_slice).unwrap_or_default();
        gets.iter().zip(column).map(|(got, chance)| got.max(*chance)).collect()
    }
}
