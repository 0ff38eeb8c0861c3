//! The best set, with the proof that no other is better.
//!
//! A mixed-integer program over the candidates alone: what each group of spots
//! gets is bounded by straight lines ([`super::cuts`]), which are made where
//! the program goes, first without whole numbers, then with them, until the
//! bound meets the best set known. Where the program's bound is loose all sets
//! that can be better are tried ([`super::tree`]).

use std::time::{Duration, Instant};

use good_lp::solvers::highs::{HighsParallelType, highs};
use good_lp::{
    Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, constraint,
    variable,
};

use super::cuts::{Cut, Cutter};
use super::greedy::{greedy, pruned, swapped};
use super::problem::{Problem, Set};
use super::tree::search;

/// Values are held in thousandths before the solver, whose own tolerance of
/// some 1e-7 is then far below [`TOLERANCE`].
const SCALE: f64 = 1000.0;

/// Two values nearer than this count as equal: a ten-thousandth of a percent of
/// contact.
pub const TOLERANCE: f64 = 1e-6;

/// Rounds without whole numbers at most; later ones gain next to nothing.
const ROUNDS: usize = 200;

/// After so many rounds the bound has to have come nearer to the best set by a
/// tenth, or the rounds end.
const PATIENCE: usize = 6;

/// Part of a set's value by which the bound may be above it after the rounds
/// for whole numbers to be asked for; beyond it they rarely help.
const LOOSE: f64 = 0.003;

/// Rounds with whole numbers at most.
const WHOLE_ROUNDS: usize = 20;

/// A set and how good it is proven to be.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The set.
    pub set: Set,
    /// Its weighted coverage, 0 to 1.
    pub value: f64,
    /// What no set exceeds, 0 to 1; the value itself, but for [`TOLERANCE`],
    /// unless time ran out.
    pub bound: f64,
}

impl Found {
    /// By what share of its value another set may be better at most; zero
    /// where none is better by more than [`TOLERANCE`].
    #[must_use]
    pub fn gap(&self) -> f64 {
        let missing = self.bound - self.value;
        if missing <= TOLERANCE { 0.0 } else { missing / self.value.max(TOLERANCE) }
    }
}

/// Why no answer came.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SolveError {
    /// The solver gave up in a way that should not be.
    #[error("the solver of the choice failed: {0}; this is a fault of the program")]
    Solver(String),
    /// Time ran out before any set was found that keeps all that is asked.
    #[error(
        "no set of sites that keeps all limits was found in {seconds} s; ask for fewer relays or looser limits"
    )]
    Time {
        /// Seconds that were allowed.
        seconds: u64,
    },
}

/// A search over one problem; its lines serve every question asked of it.
pub struct Search<'p> {
    problem: &'p Problem,
    cutter: Cutter<'p>,
    cuts: Vec<Cut>,
    time: Duration,
    prover: Prover,
}

/// How a set is proven to be the best.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Prover {
    /// By the program, or by trial where its bound is loose.
    Usual,
    /// By the mixed-integer program.
    Program,
    /// By trying all sets that can be better, of the candidates that the relaxed
    /// program leaves.
    Trial,
}

/// `terms` times what is taken of each column is `most` at the most.
struct Row {
    terms: Vec<(usize, f64)>,
    most: f64,
}

/// What the program came to.
struct Master {
    taken: Vec<f64>,
    gets: Vec<f64>,
    bound: f64,
    /// By how much the bound falls for each candidate if it is taken whole.
    falls: Vec<f64>,
}

impl<'p> Search<'p> {
    /// A search that ends each question after `time` with the gap that is left.
    #[must_use]
    pub fn new(problem: &'p Problem, time: Duration) -> Self {
        let cutter = Cutter::new(problem);
        Self { problem, cutter, cuts: Vec::new(), time, prover: Prover::Usual }
    }

    /// The same with one way to prove alone; both give the same values.
    #[must_use]
    pub const fn proving_by(mut self, prover: Prover) -> Self {
        self.prover = prover;
        self
    }

    /// The best set; nothing if no set keeps all that is asked.
    ///
    /// # Errors
    /// [`SolveError`] if the solver fails or time runs out before there is any.
    pub fn best(&mut self) -> Result<Option<Found>, SolveError> {
        self.best_but(&[], &[])
    }

    /// The best set without the candidates `gone` that is none of `known`.
    ///
    /// # Errors
    /// [`SolveError`] as for [`Search::best`].
    pub fn best_but(&mut self, gone: &[usize], known: &[Set]) -> Result<Option<Found>, SolveError> {
        let deadline = Instant::now() + self.time;
        let problem = self.problem;
        let is_allowed = |set: &[usize]| {
            !known.iter().any(|k| k == set) && !set.iter().any(|site| gone.contains(site))
        };
        let mut out: Vec<bool> = (0..problem.candidates())
            .map(|site| gone.contains(&site) || !problem.is_usable(site))
            .collect();
        let mut rows = rows(problem, known);
        let mut best: Option<(Set, f64)> = None;
        let improve = |best: &mut Option<(Set, f64)>, set: Set| {
            if problem.allows(&set) && is_allowed(&set) {
                let set = swapped(problem, set, &is_allowed);
                let value = problem.value(&set);
                if best.as_ref().is_none_or(|(_, known)| value > *known) {
                    *best = Some((set, value));
                }
            }
        };
        for start in greedy(problem).into_iter().chain(known.iter().cloned()) {
            for near in super::greedy::neighbours(problem, &start).chain([start.clone()]) {
                if best.is_none() {
                    improve(&mut best, near);
                }
            }
        }
        if self.cuts.is_empty() {
            self.cuts = self.cutter.cuts(&vec![0.0; problem.candidates()]);
        }
        if let Some((set, _)) = &best {
            self.add(&whole(set, problem.candidates()), None);
        }

        // No spot gets more than all.
        let mut bound = 1.0f64;
        let mut bounds = Vec::new();
        for _ in 0..ROUNDS {
            let value = best.as_ref().map_or(0.0, |(_, value)| *value);
            let Some(relaxed) = self.master(&rows, &out, false, deadline)? else {
                // Nothing is left but what is known.
                if best.is_none() {
                    return Ok(None);
                }
                bound = value;
                break;
            };
            bound = relaxed.bound.min(bound);
            for (site, out) in out.iter_mut().enumerate() {
                let fall = relaxed.falls.get(site).copied().unwrap_or(0.0);
                let idle = relaxed.taken.get(site).is_none_or(|taken| *taken < 1e-9);
                *out |= best.is_some() && idle && relaxed.bound - fall < value - TOLERANCE;
            }
            let over = self.add(&relaxed.taken, Some(&relaxed.gets));
            bounds.push(bound);
            let earlier = bounds.len().checked_sub(PATIENCE + 1).and_then(|n| bounds.get(n));
            if earlier.is_some_and(|earlier| earlier - bound < 0.1 * (bound - value)) {
                break;
            }
            if over < 0.02 * (bound - value) + TOLERANCE / 10.0 || Instant::now() > deadline {
                break;
            }
        }
        for round in 0.. {
            if let Some((set, value)) = &best
                && (bound <= value + TOLERANCE || Instant::now() > deadline)
            {
                let set = pruned(problem, set.clone(), &is_allowed);
                return Ok(Some(Found { set, value: *value, bound: bound.max(*value) }));
            }
            if Instant::now() > deadline {
                break;
            }
            let value = best.as_ref().map_or(0.0, |(_, value)| *value);
            let is_loose = round > WHOLE_ROUNDS || bound - value > LOOSE * bound;
            if self.prover == Prover::Trial || (is_loose && self.prover == Prover::Usual) {
                let left: Set = out.iter().enumerate().filter(|o| !o.1).map(|o| o.0).collect();
                let value = if best.is_some() { value } else { -1.0 };
                let searched = search(problem, &left, &is_allowed, value, deadline);
                if let Some((set, _)) = searched.better {
                    let value = problem.value(&set);
                    best = Some((set, value));
                }
                match &best {
                    Some((_, value)) if searched.is_whole => bound = *value,
                    None if searched.is_whole => return Ok(None),
                    _ => {}
                }
                if !searched.is_whole && best.is_none() {
                    break;
                }
                continue;
            }
            let Some(integral) = self.master(&rows, &out, true, deadline)? else {
                // No other set is left.
                let Some((_, value)) = &best else { return Ok(None) };
                bound = *value;
                continue;
            };
            bound = integral.bound.min(bound);
            let set: Set = (0..problem.candidates())
                .filter(|site| integral.taken.get(*site).is_some_and(|taken| *taken > 0.5))
                .collect();
            let parts = problem.parts(&set);
            if parts.len() > 1 {
                rows.extend(parts.iter().flat_map(|part| split(problem, part, &set)));
                continue;
            }
            if integral.bound.is_infinite() {
                improve(&mut best, set);
                continue;
            }
            let before = best.clone();
            improve(&mut best, set.clone());
            let over = self.add(&whole(&set, problem.candidates()), Some(&integral.gets));
            if let Some((set, _)) = &best
                && best != before
            {
                self.add(&whole(set, problem.candidates()), None);
            }
            if over <= TOLERANCE / 10.0 && !problem.allows(&set) {
                return Err(SolveError::Solver(format!("{set:?} is not allowed")));
            }
            if over <= TOLERANCE / 10.0 {
                // The program's best set is worth what the program says.
                bound = bound.min(problem.value(&set) + TOLERANCE / 10.0);
            }
        }
        Err(SolveError::Time { seconds: self.time.as_secs() })
    }

    /// Adds the lines that are exact where `taken` is taken; all of them, or
    /// those below what each group `gets`. Gives by how much it gets too much.
    fn add(&mut self, taken: &[f64], gets: Option<&[f64]>) -> f64 {
        let mut over = 0.0;
        for cut in self.cutter.cuts(taken) {
            match gets.and_then(|gets| gets.get(cut.group)) {
                Some(got) => {
                    let more = got - cut.at(taken);
                    if more > 1e-10 {
                        over += more;
                        self.cuts.push(cut);
                    }
                }
                None => self.cuts.push(cut),
            }
        }
        over
    }

    /// The program with the lines known so far; nothing if no choice keeps the rows.
    fn master(
        &self,
        rows: &[Row],
        out: &[bool],
        integral: bool,
        deadline: Instant,
    ) -> Result<Option<Master>, SolveError> {
        let mut variables = ProblemVariables::new();
        let taken: Vec<Variable> = (0..=self.problem.candidates())
            .map(|column| {
                // The last column says whether there are two or more.
                let is_out = out.get(column).copied().unwrap_or(false);
                let definition = variable().min(0.0).max(if is_out { 0.0 } else { 1.0 });
                variables.add(if integral { definition.integer() } else { definition })
            })
            .collect();
        let gets: Vec<Variable> = (0..self.cutter.groups())
            .map(|_| variables.add(variable().min(0.0).max(SCALE)))
            .collect();
        let goal: Expression = gets.iter().sum();
        let seconds = deadline.saturating_duration_since(Instant::now()).as_secs_f64().max(0.1);
        let mut model = variables
            .maximise(goal)
            .using(highs)
            .set_parallel(HighsParallelType::Off)
            .set_threads(1)
            .set_option("mip_rel_gap", 0.0)
            .set_option("mip_abs_gap", TOLERANCE * SCALE / 100.0)
            .set_time_limit(seconds);
        for row in rows {
            let mut sum = Expression::with_capacity(row.terms.len());
            for (column, factor) in &row.terms {
                if let Some(variable) = taken.get(*column) {
                    sum.add_mul(*factor, *variable);
                }
            }
            model.add_constraint(constraint!(sum <= row.most));
        }
        for cut in &self.cuts {
            let Some(gets) = gets.get(cut.group) else { continue };
            let mut line = Expression::with_capacity(cut.slopes.len() + 1);
            line.add_mul(1.0, *gets);
            for ((slope, variable), out) in cut.slopes.iter().zip(&taken).zip(out) {
                if *slope != 0.0 && !out {
                    line.add_mul(-slope * SCALE, *variable);
                }
            }
            model.add_constraint(constraint!(line <= cut.constant * SCALE));
        }
        let solution = match model.solve() {
            Ok(solution) => solution,
            Err(ResolutionError::Infeasible) => return Ok(None),
            // Time ran out with nothing to show.
            Err(ResolutionError::Other("NoSolutionFound")) => {
                return Ok(Some(Master {
                    taken: Vec::new(),
                    gets: Vec::new(),
                    bound: f64::INFINITY,
                    falls: Vec::new(),
                }));
            }
            Err(error) => return Err(SolveError::Solver(error.to_string())),
        };
        let values = |variables: &[Variable]| -> Vec<f64> {
            variables.iter().map(|variable| solution.value(*variable)).collect()
        };
        let in_time = matches!(solution.status(), good_lp::solvers::SolutionStatus::TimeLimit);
        let gets: Vec<f64> = values(&gets).iter().map(|got| got / SCALE).collect();
        let taken = values(&taken);
        let bound = if in_time { f64::INFINITY } else { gets.iter().sum() };
        let falls = solution.into_inner().dual_columns().iter().map(|d| d.abs() / SCALE).collect();
        Ok(Some(Master { taken, gets, bound, falls }))
    }
}

/// What is asked of a set, `known` ones left out, as rows.
fn rows(problem: &Problem, known: &[Set]) -> Vec<Row> {
    let candidates = problem.candidates();
    let all = |factor: f64| (0..candidates).map(move |site| (site, factor));
    let most = problem.most as f64;
    let mut rows = vec![
        Row { terms: all(1.0).collect(), most },
        Row { terms: all(-1.0).collect(), most: -1.0 },
    ];
    rows.extend(problem.caps.iter().map(|cap| Row {
        terms: cap.costs.iter().copied().enumerate().filter(|(_, cost)| *cost != 0.0).collect(),
        most: cap.most + 1e-9,
    }));
    rows.extend(problem.needs.iter().map(|need| {
        let serves = |site: &usize| need.served_by.get(*site) == Some(&true);
        Row { terms: (0..candidates).filter(serves).map(|site| (site, -1.0)).collect(), most: -1.0 }
    }));
    if problem.links.is_some() {
        // With two sites or more each hears another; up to three that is all.
        let several = candidates;
        let size = all(1.0).chain([(several, 1.0 - most)]).collect();
        rows.push(Row { terms: size, most: 1.0 });
        rows.extend((0..candidates).map(|site| {
            let near = (0..candidates).filter(move |o| *o != site && problem.are_linked(site, *o));
            let terms = near.map(|other| (other, -1.0)).chain([(site, 1.0), (several, 1.0)]);
            Row { terms: terms.collect(), most: 1.0 }
        }));
    }
    rows.extend(known.iter().map(|set| {
        // A full set can't have others beside it.
        let beside = if set.len() < problem.most { -1.0 } else { 0.0 };
        let factor = |site| if set.contains(&site) { 1.0 } else { beside };
        let terms = (0..candidates).map(|site| (site, factor(site))).filter(|(_, f)| *f != 0.0);
        Row { terms: terms.collect(), most: set.len() as f64 - 1.0 }
    }));
    rows
}

/// A part that hears no other of the set may only stand with others if one that
/// it hears does too.
fn split<'a>(
    problem: &'a Problem,
    part: &'a [usize],
    set: &'a [usize],
) -> impl Iterator<Item = Row> + 'a {
    let near = move |site: &usize| {
        !part.contains(site) && part.iter().any(|member| problem.are_linked(*member, *site))
    };
    set.iter().filter(|site| !part.contains(site)).map(move |far| {
        let bridges = (0..problem.candidates()).filter(near).map(|site| (site, -1.0));
        let terms = part.iter().map(|site| (*site, 1.0)).chain([(*far, 1.0)]).chain(bridges);
        Row { terms: terms.collect(), most: part.len() as f64 }
    })
}

fn whole(set: &[usize], candidates: usize) -> Vec<f64> {
    (0..candidates).map(|site| f64::from(u8::from(set.contains(&site)))).collect()
}
