//! The obvious way to choose, to start from and to be compared with: the site
//! that brings most, then the one that adds most, and so on.

use super::problem::{Problem, Set};

/// What a set is judged by: needs met, then value.
type Merit = (usize, f64);

/// One site after the other, each the one that adds most: first to the needs
/// that are met, then to the weighted probability. Nothing if that ends in a
/// set that does not keep all that is asked.
#[must_use]
pub fn greedy(problem: &Problem) -> Option<Set> {
    let set = grown(problem, Vec::new());
    problem.allows(&set).then_some(set)
}

/// A set grown site by site while that adds anything.
fn grown(problem: &Problem, mut set: Set) -> Set {
    let mut merit = merit(problem, &set);
    while set.len() < problem.most {
        let more = (0..problem.candidates())
            .filter(|site| !set.contains(site))
            .map(|site| with(&set, site))
            .filter(|more| problem.fits(more) && problem.parts(more).len() <= 1);
        let Some((found, best)) = first_best(problem, more) else { break };
        if !better(best, merit) {
            break;
        }
        (set, merit) = (found, best);
    }
    set
}

/// A set that no change of one site makes better, from `set` on.
pub(super) fn swapped(problem: &Problem, set: Set, is_allowed: &dyn Fn(&[usize]) -> bool) -> Set {
    let mut best = set;
    let mut value = problem.value(&best);
    loop {
        let changed = neighbours(problem, &best)
            .filter(|set| problem.allows(set) && is_allowed(set))
            .map(|set| (problem.value(&set), set))
            .fold(None, |found: Option<(f64, Set)>, next| match found {
                Some(found) if found.0 >= next.0 => Some(found),
                _ => Some(next),
            });
        match changed {
            Some((more, set)) if more > value => (value, best) = (more, set),
            _ => return best,
        }
    }
}

/// Every set that differs in one site: one more, one less, one in the place of
/// another.
pub(super) fn neighbours<'p>(
    problem: &'p Problem,
    set: &'p [usize],
) -> impl Iterator<Item = Set> + 'p {
    let outside = move || (0..problem.candidates()).filter(move |site| !set.contains(site));
    let more = outside().map(move |site| with(set, site));
    let changed = set.iter().flat_map(move |gone| {
        let rest = without(set, *gone);
        let other = rest.clone();
        outside().map(move |site| with(&rest, site)).chain([other])
    });
    more.filter(|set| set.len() <= problem.most).chain(changed).filter(|set| !set.is_empty())
}

/// The set without the sites that nobody would miss.
pub(super) fn pruned(problem: &Problem, set: Set, is_allowed: &dyn Fn(&[usize]) -> bool) -> Set {
    let value = problem.value(&set);
    let spare = set.iter().find_map(|site| {
        let rest = without(&set, *site);
        let same = problem.allows(&rest) && is_allowed(&rest) && problem.value(&rest) >= value;
        same.then_some(rest)
    });
    match spare {
        Some(rest) => pruned(problem, rest, is_allowed),
        None => set,
    }
}

pub(super) fn without(set: &[usize], gone: usize) -> Set {
    set.iter().copied().filter(|site| *site != gone).collect()
}

fn with(set: &[usize], site: usize) -> Set {
    let mut more: Set = set.iter().copied().chain([site]).collect();
    more.sort_unstable();
    more
}

fn merit(problem: &Problem, set: &[usize]) -> Merit {
    (problem.met(set), problem.value(set))
}

fn better(one: Merit, other: Merit) -> bool {
    one.0 > other.0 || (one.0 == other.0 && one.1 > other.1)
}

/// The first of the best.
fn first_best(problem: &Problem, sets: impl Iterator<Item = Set>) -> Option<(Set, Merit)> {
    sets.map(|set| {
        let merit = merit(problem, &set);
        (set, merit)
    })
    .fold(None, |found, next| match found {
        Some(found) if !better(next.1, found.1) => Some(found),
        _ => Some(next),
    })
}
