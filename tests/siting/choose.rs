//! The best set of sites: against every set tried one by one, against another
//! solver, and on the sample's plans.

use std::path::Path;
use std::time::Duration;

use ndarray::Array2;
use perchline::siting::choose::{
    Cap, Demand, Found, Impossible, Need, Problem, Prover, Search, Set, TOLERANCE, greedy,
    why_impossible,
};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

const TIME: Duration = Duration::from_secs(120);

/// Every set of one to `most` of the candidates.
fn sets(candidates: usize, most: usize) -> Vec<Set> {
    let mut sets: Vec<Set> = vec![vec![]];
    for candidate in 0..candidates {
        let with: Vec<Set> = sets
            .iter()
            .filter(|set| set.len() < most)
            .map(|set| set.iter().copied().chain([candidate]).collect())
            .collect();
        sets.extend(with);
    }
    sets.retain(|set| !set.is_empty());
    sets
}

/// The value of the best set that `problem` allows, by trying all: the value
/// worked out here, not by the library.
fn brute_force(chances: &Array2<f64>, weights: &[f64], allowed: &[Set]) -> Option<f64> {
    let total: f64 = weights.iter().sum();
    allowed
        .iter()
        .map(|set| {
            let rows = chances.rows();
            let each = rows.into_iter().zip(weights).map(|(row, weight)| {
                weight * set.iter().map(|site| row[*site]).fold(0.0, f64::max)
            });
            each.sum::<f64>() / total
        })
        .reduce(f64::max)
}

/// Whether the sites hear each other, over others of the set if need be: by
/// spreading from the first, not by the library.
fn is_connected(links: &Array2<bool>, set: &[usize]) -> bool {
    let mut reached = vec![set[0]];
    while let Some(next) = set
        .iter()
        .find(|site| !reached.contains(site) && reached.iter().any(|from| links[[*from, **site]]))
    {
        reached.push(*next);
    }
    reached.len() == set.len()
}

/// An instance with some, all or none of the demands.
#[derive(Debug, Clone)]
struct Instance {
    chances: Array2<f64>,
    weights: Vec<f64>,
    most: usize,
    usable: Vec<bool>,
    locked: Option<(Vec<bool>, usize)>,
    mast: Option<(Vec<u32>, u32)>,
    needs: Vec<Vec<bool>>,
    links: Option<Array2<bool>>,
}

impl Instance {
    fn problem(&self) -> Problem {
        let mut problem = Problem::new(self.chances.clone(), self.weights.clone(), self.most);
        problem.usable.clone_from(&self.usable);
        if let Some((locked, most)) = &self.locked {
            let costs = locked.iter().map(|l| f64::from(u8::from(*l))).collect();
            problem.caps.push(Cap { field: "locked_doors", costs, most: *most as f64 });
        }
        if let Some((mast, most)) = &self.mast {
            let costs = mast.iter().map(|m| f64::from(*m) / 10.0).collect();
            problem.caps.push(Cap { field: "total_mast", costs, most: f64::from(*most) / 10.0 });
        }
        for (number, served_by) in self.needs.iter().enumerate() {
            problem.needs.push(Need { name: number.to_string(), served_by: served_by.clone() });
        }
        problem.links.clone_from(&self.links);
        problem
    }

    fn allowed(&self) -> Vec<Set> {
        let mut sets = sets(self.usable.len(), self.most);
        sets.retain(|set| {
            let count = |flags: &[bool]| set.iter().filter(|site| flags[**site]).count();
            count(&self.usable) == set.len()
                && self.locked.as_ref().is_none_or(|(locked, most)| count(locked) <= *most)
                && self.mast.as_ref().is_none_or(|(mast, most)| {
                    set.iter().map(|site| mast[*site]).sum::<u32>() <= *most
                })
                && self.needs.iter().all(|need| count(need) > 0)
                && self.links.as_ref().is_none_or(|links| is_connected(links, set))
        });
        sets
    }
}

fn instances() -> impl Strategy<Value = Instance> {
    (2usize..=15, 1usize..=40, 1usize..=4).prop_flat_map(|(sites, spots, most)| {
        let most = if sites > 12 { most.min(3) } else { most };
        // Some chances are alike and some are none, as beyond a ridge.
        let chance = prop_oneof![2 => Just(0.0), 1 => Just(0.5), 1 => Just(1.0), 8 => 0.0..1.0f64];
        let flags = move |likely: f64| prop::collection::vec(prop::bool::weighted(likely), sites);
        let linked = prop::collection::vec(prop::bool::weighted(0.3), sites * sites);
        (
            prop::collection::vec(chance, sites * spots),
            prop::collection::vec(prop_oneof![Just(1.0), 0.01..5.0f64], spots),
            flags(0.9),
            prop::option::of((flags(0.5), 0usize..=2)),
            prop::option::of((prop::collection::vec(10u32..=90, sites), 20u32..=200)),
            prop::collection::vec(flags(0.3), 0..=3),
            prop::option::of(linked),
        )
            .prop_map(move |(chances, weights, usable, locked, mast, needs, linked)| {
                Instance {
                    chances: Array2::from_shape_vec((spots, sites), chances).unwrap(),
                    weights,
                    most,
                    usable,
                    locked,
                    mast,
                    needs,
                    links: linked.map(|linked| {
                        Array2::from_shape_fn((sites, sites), |(a, b)| {
                            linked[a.min(b) * sites + a.max(b)]
                        })
                    }),
                }
            })
    })
}

/// The set is allowed, no other is better, and where there is none it is said
/// why; the next best likewise.
#[test]
fn no_set_of_any_small_instance_is_better() {
    const CASES: u32 = 300;
    let (mut asked, mut agreed, mut none, mut greedy_short) = (0, 0, 0, 0);
    let random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let mut runner = TestRunner::new_with_rng(Config::with_cases(CASES), random);
    for _ in 0..CASES {
        let instance = instances().new_tree(&mut runner).unwrap().current();
        let (problem, allowed) = (instance.problem(), instance.allowed());
        let best = brute_force(&instance.chances, &instance.weights, &allowed);
        let mut search = Search::new(&problem, TIME);
        let found = search.best().unwrap();
        for prover in [Prover::Program, Prover::Trial] {
            let alone = Search::new(&problem, TIME).proving_by(prover).best().unwrap();
            let near = |a: &Found, b: &Found| (a.value - b.value).abs() <= TOLERANCE;
            let same = match (&alone, &found) {
                (Some(alone), Some(found)) => near(alone, found) && alone.gap() == 0.0,
                (alone, found) => alone == found,
            };
            assert!(same, "{prover:?}: {alone:?} {found:?} {instance:?}");
        }
        asked += 1;
        match (best, &found) {
            (None, None) => {
                none += 1;
                agreed += 1;
                check_blame(&instance);
            }
            (Some(best), Some(found)) => {
                assert!(
                    allowed.contains(&found.set),
                    "{:?} is not allowed: {instance:?}",
                    found.set
                );
                assert_eq!(found.gap(), 0.0, "{instance:?}");
                agreed += u32::from((found.value - best).abs() <= TOLERANCE);
                assert!((found.value - best).abs() <= TOLERANCE, "{found:?} {best} {instance:?}");
                let one_by_one = greedy(&problem).map(|set| problem.value(&set));
                greedy_short += u32::from(one_by_one.is_none_or(|v| v < best - TOLERANCE));
                let others: Vec<Set> =
                    allowed.iter().filter(|set| **set != found.set).cloned().collect();
                let next = brute_force(&instance.chances, &instance.weights, &others);
                let second = search.best_but(&[], std::slice::from_ref(&found.set)).unwrap();
                assert_eq!(next.is_some(), second.is_some(), "{instance:?}");
                if let (Some(next), Some(second)) = (next, second) {
                    assert!(others.contains(&second.set));
                    assert!((second.value - next).abs() <= TOLERANCE, "{second:?} {next}");
                }
                for site in &found.set {
                    let others: Vec<Set> =
                        allowed.iter().filter(|set| !set.contains(site)).cloned().collect();
                    let next = brute_force(&instance.chances, &instance.weights, &others);
                    let found = search.best_but(&[*site], &[]).unwrap().map(|found| found.value);
                    let near = |a: f64, b: f64| (a - b).abs() <= TOLERANCE;
                    assert!(
                        next.zip(found).map_or(next == found, |(a, b)| near(a, b)),
                        "without {site}: {next:?} {found:?} {instance:?}"
                    );
                }
            }
            (best, found) => panic!("{best:?} but {found:?}: {instance:?}"),
        }
    }
    // Instances of both kinds were met, and some that are not trivial.
    assert!(none > 10 && greedy_short > 10 && asked - none > 100, "{none} {greedy_short}");
    println!(
        "\nfigure brute_force_agreement_percent {} %",
        f64::from(agreed) / f64::from(asked) * 100.0
    );
    println!("figure brute_force_instances {asked} instances");
}

/// What is blamed is to blame: dropping it makes a set possible.
fn check_blame(instance: &Instance) {
    match why_impossible(&instance.problem()).unwrap() {
        Impossible::NothingUsable => assert!(!instance.usable.contains(&true)),
        Impossible::Unserved(names) => {
            for name in names {
                let need = &instance.needs[name.parse::<usize>().unwrap()];
                assert!(
                    !need.iter().zip(&instance.usable).any(|(serves, usable)| *serves && *usable)
                );
            }
        }
        Impossible::Conflict { either, sites } => {
            for demand in &either {
                let mut less = instance.clone();
                match demand {
                    Demand::Cap("locked_doors") => less.locked = None,
                    Demand::Cap(_) => less.mast = None,
                    Demand::Needs => less.needs.clear(),
                    Demand::Links => less.links = None,
                }
                assert!(!less.allowed().is_empty(), "{demand:?} is not to blame: {instance:?}");
            }
            if let Some(sites) = sites {
                let more = Instance { most: sites, ..instance.clone() };
                assert!(!more.allowed().is_empty(), "{sites} do not do: {instance:?}");
            }
        }
    }
}

/// The generator of tests/reference/make_sets.py.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = (1_103_515_245 * self.0 + 12345) % (1 << 31);
        (self.0 >> 8) % limit
    }

    fn places(&mut self, count: usize) -> Vec<(i64, i64)> {
        (0..count).map(|_| (self.below(1000) as i64, self.below(1000) as i64)).collect()
    }
}

/// Made by tests/reference/make_sets.py with CBC through PuLP 2.9.0:
///   python3 -m venv /tmp/pulp && /tmp/pulp/bin/pip install pulp==2.9.0
///   /tmp/pulp/bin/python tests/reference/make_sets.py > tests/reference/sets.csv
#[test]
fn another_solver_finds_sets_of_the_same_value() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/sets.csv");
    let mut checked = 0;
    for line in csv::Reader::from_path(path).unwrap().records() {
        let line = line.unwrap();
        let number = |column: usize| line[column].parse::<i64>().unwrap();
        let (sites, spots) = (number(1) as usize, number(2) as usize);
        let mut numbers = Numbers(number(0) as u64);
        let at = numbers.places(sites);
        let mast: Vec<f64> = (0..sites).map(|_| 2.0 + numbers.below(8) as f64).collect();
        let locked: Vec<f64> = (0..sites).map(|_| numbers.below(2) as f64).collect();
        let usable: Vec<bool> = (0..sites).map(|_| numbers.below(10) > 0).collect();
        let places = numbers.places(spots);
        let weights: Vec<f64> = (0..spots).map(|_| 1.0 + numbers.below(5) as f64).collect();
        let square = |a: (i64, i64), b: (i64, i64)| (a.0 - b.0).pow(2) + (a.1 - b.1).pow(2);
        let chance =
            |(spot, site): (usize, usize)| (1000 - square(places[spot], at[site]) / 300).max(0);
        let chances = Array2::from_shape_fn((spots, sites), |cell| chance(cell) as f64 / 1000.0);
        let total: f64 = weights.iter().sum();
        let mut problem = Problem::new(chances, weights, number(3) as usize);
        problem.usable = usable;
        for (column, field, costs) in [(4, "locked_doors", locked), (5, "total_mast", mast)] {
            if number(column) >= 0 {
                problem.caps.push(Cap { field, costs, most: number(column) as f64 });
            }
        }
        for spot in 0..number(6) as usize {
            let served_by = (0..sites).map(|site| chance((spot, site)) >= 700).collect();
            problem.needs.push(Need { name: spot.to_string(), served_by });
        }
        if number(7) == 1 {
            let near = |(a, b): (usize, usize)| square(at[a], at[b]) < 160_000;
            problem.links = Some(Array2::from_shape_fn((sites, sites), near));
        }
        let by_trial = Search::new(&problem, TIME).proving_by(Prover::Trial).best().unwrap();
        let found = Search::new(&problem, TIME).proving_by(Prover::Program).best().unwrap();
        assert_eq!(by_trial.map(|found| found.set), found.as_ref().map(|found| found.set.clone()));
        match (&line[8], found) {
            ("none", None) => {}
            (value, Some(found)) => {
                let value = value.parse::<f64>().unwrap() / 1000.0 / total;
                assert!((found.value - value).abs() < TOLERANCE, "{line:?}: {found:?} {value}");
                let set: Set = line[9].split(' ').map(|site| site.parse().unwrap()).collect();
                assert!(problem.allows(&set), "{line:?}");
                assert!((problem.value(&set) - value).abs() < 1e-12, "{line:?}");
                assert_eq!(found.gap(), 0.0);
            }
            (value, None) => panic!("{value} but nothing: {line:?}"),
        }
        checked += 1;
    }
    assert!(checked >= 14, "{checked}");
}
