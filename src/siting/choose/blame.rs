//! Why no set keeps all that is asked: found by asking for less.

use std::time::Duration;

use ndarray::Array2;

use super::problem::Problem;
use super::solve::{Search, SolveError};

/// Time for each question of what would do.
const TIME: Duration = Duration::from_secs(10);

/// Why no set keeps all that is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Impossible {
    /// No site may be used.
    NothingUsable,
    /// No site that may be used serves these, however many are taken.
    Unserved(Vec<String>),
    /// These demands can't be kept together; dropping any one of `either` would do.
    Conflict {
        /// Demands each of which is in the way.
        either: Vec<Demand>,
        /// How many sites would do with all else as it is, if a few more do.
        sites: Option<usize>,
    },
}

/// One thing that is asked of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Demand {
    /// The sum called so, one of [`Problem::caps`].
    Cap(&'static str),
    /// The spots that must be served.
    Needs,
    /// That the sites hear each other.
    Links,
}

/// Why no set of `problem` keeps all that is asked; asked only where none does.
///
/// # Errors
/// [`SolveError`] if the solver fails.
pub fn why_impossible(problem: &Problem) -> Result<Impossible, SolveError> {
    if !problem.usable.iter().any(|usable| *usable) {
        return Ok(Impossible::NothingUsable);
    }
    let serves = |served_by: &[bool]| served_by.iter().zip(&problem.usable).any(|(s, u)| *s && *u);
    let unserved: Vec<String> = problem
        .needs
        .iter()
        .filter(|need| !serves(&need.served_by))
        .map(|need| need.name.clone())
        .collect();
    if !unserved.is_empty() {
        return Ok(Impossible::Unserved(unserved));
    }
    let caps = problem.caps.iter().map(|cap| Demand::Cap(cap.field));
    let mut either = Vec::new();
    for demand in caps.chain([Demand::Needs, Demand::Links]) {
        let mut less = bare(problem, problem.most);
        let is_asked = match demand {
            Demand::Cap(field) => {
                less.caps.retain(|cap| cap.field != field);
                true
            }
            Demand::Needs => {
                less.needs.clear();
                !problem.needs.is_empty()
            }
            Demand::Links => less.links.take().is_some(),
        };
        if is_asked && is_possible(&less)? {
            either.push(demand);
        }
    }
    let mut sites = None;
    for most in problem.most + 1..=problem.candidates().min(problem.most + 6) {
        if is_possible(&bare(problem, most))? {
            sites = Some(most);
            break;
        }
    }
    Ok(Impossible::Conflict { either, sites })
}

fn is_possible(problem: &Problem) -> Result<bool, SolveError> {
    Ok(Search::new(problem, TIME).best()?.is_some())
}

/// The same demands with nothing to gain.
fn bare(problem: &Problem, most: usize) -> Problem {
    let nothing = Array2::zeros((1, problem.candidates()));
    let mut bare = Problem::new(nothing, vec![1.0], most);
    bare.usable.clone_from(&problem.usable);
    bare.caps.clone_from(&problem.caps);
    bare.needs.clone_from(&problem.needs);
    bare.links.clone_from(&problem.links);
    bare
}
