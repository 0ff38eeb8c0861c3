//! Which post uses which relay when more than one works.

use serde::Serialize;

use super::matrix::{Contact, Matrix};
use crate::demand::{Demand, Kind, Target};
use perchline_link::Outcome;
use perchline_units::Db;

/// Probabilities nearer than this count as equal.
pub const EQUAL_WITHIN: f64 = 0.01;

/// Who uses which relay.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sectors {
    /// Whether relays that are about as good for a post share the posts out evenly.
    pub balance: bool,
    /// Each post, in the plan's order.
    pub posts: Vec<Sector>,
    /// How many posts each relay is the first of, in the set's order.
    pub loads: Vec<Load>,
    /// Each area, route and the map: what each relay is to it.
    pub wide: Vec<Wide>,
}

/// A post's relays.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sector {
    /// The post.
    pub post: String,
    /// Whether it must be served.
    pub must: bool,
    /// The relay that it uses; nothing where terrain is missing on every way.
    pub first: Option<Duty>,
    /// The relay that it goes to when the first fails; nothing where no other
    /// works in half of the spots.
    pub reserve: Option<Duty>,
}

/// A relay for a post.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Duty {
    /// The relay's site.
    pub site: String,
    /// Probability that both ways work in the same spot, 0 to 1.
    #[serde(rename = "probability_both_ways")]
    pub probability: f64,
    /// The lower of the two margins.
    pub governing_margin_db: Db,
    /// What it comes to.
    pub outcome: Outcome,
}

/// How many posts a relay is the first of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Load {
    /// The relay's site.
    pub site: String,
    /// Posts.
    pub posts: usize,
}

/// An area, a route or the map.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Wide {
    /// What it is.
    pub kind: Kind,
    /// Its name.
    pub name: String,
    /// Mean probability of contact if everyone there listens to the best relay
    /// for the spot, 0 to 1.
    pub together: f64,
    /// The same through each relay alone, in the set's order.
    pub alone: Vec<f64>,
    /// Share of it for which each relay is the best by more than [`EQUAL_WITHIN`], 0 to 1.
    pub best_in: Vec<f64>,
    /// Share of it for which two relays or more are as good, 0 to 1.
    pub either: f64,
}

/// Shares out the targets among the relays on `set`, sites of these names.
///
/// A post uses the relay with the higher probability, of equal ones that with the
/// greater margin, then the one that the plan names first. Where `balance` is asked
/// for, relays within [`EQUAL_WITHIN`] of the best are equal: the one with fewer
/// posts takes it, counted once the clear cases are settled and then in the plan's
/// order; if that is equal too, the one that the plan names first.
#[must_use]
pub fn sectors(
    matrix: &Matrix,
    demand: &Demand,
    (musts, balance): (&[bool], bool),
    set: &[usize],
    names: &[String],
) -> Sectors {
    let name = |site: usize| names.get(site).cloned().unwrap_or_default();
    let posts: Vec<&Target> = demand.of_kind(Kind::Post).collect();
    // Of each post the relays from which anything is known, with their places in the set.
    let known: Vec<Vec<(usize, Contact)>> = posts
        .iter()
        .map(|post| {
            let contact = |site: &usize| matrix.contacts.get((*site, post.samples.start)).copied();
            let all = set.iter().map(contact).enumerate();
            all.filter_map(|(place, contact)| Some((place, contact?)))
                .filter(|(_, contact)| contact.outcome != Outcome::Unknown)
                .collect()
        })
        .collect();
    let best = |contacts: &[(usize, Contact)]| -> Vec<usize> {
        let margin = |c: &Contact| f64::from(c.talk_in_over.min(c.talk_out_over));
        let better = |a: &Contact, b: &Contact| {
            let by_margin = || margin(a).total_cmp(&margin(b));
            a.probability.total_cmp(&b.probability).then_with(by_margin)
        };
        // Of equals the last is the greatest, so that the first comes last here.
        let first = contacts.iter().rev().max_by(|a, b| better(&a.1, &b.1));
        first.map(|(place, _)| *place).into_iter().collect()
    };
    let within = |contacts: &[(usize, Contact)]| -> Vec<usize> {
        let best = contacts.iter().map(|(_, c)| c.probability).fold(0.0, f64::max);
        let near = contacts.iter().filter(|(_, c)| c.probability >= best - EQUAL_WITHIN);
        near.map(|(place, _)| *place).collect()
    };
    let equals = |contacts: &[(usize, Contact)]| {
        if balance { within(contacts) } else { best(contacts) }
    };
    let mut firsts: Vec<Option<usize>> = known
        .iter()
        .map(|contacts| match equals(contacts).as_slice() {
            [only] => Some(*only),
            _ => None,
        })
        .collect();
    for index in 0..firsts.len() {
        let open = firsts.get(index).is_some_and(Option::is_none);
        let Some(contacts) = known.get(index).filter(|_| open) else { continue };
        let load = |place: &usize| firsts.iter().filter(|first| **first == Some(*place)).count();
        let least = equals(contacts).into_iter().min_by_key(|place| (load(place), *place));
        if let Some(first) = firsts.get_mut(index) {
            *first = least;
        }
    }
    let duty = |post: &Target, place: usize, contact: &Contact| Duty {
        site: set.get(place).map_or_else(String::new, |site| name(*site)),
        probability: contact.probability,
        governing_margin_db: Db::new(f64::from(contact.talk_in_over.min(contact.talk_out_over)))
            - matrix.allowance(post.samples.start),
        outcome: contact.outcome,
    };
    let sector =
        |post: &Target, contacts: &[(usize, Contact)], first: Option<usize>, must: bool| {
            let reserve = contacts
                .iter()
                .filter(|(place, contact)| {
                    Some(*place) != first && contact.probability >= Outcome::PATCHY_FROM
                })
                .fold(None, |best: Option<&(usize, Contact)>, next| match best {
                    Some(best) if best.1.probability >= next.1.probability => Some(best),
                    _ => Some(next),
                });
            let of_first = contacts.iter().find(|(place, _)| Some(*place) == first);
            Sector {
                post: post.name.clone(),
                must,
                first: of_first.map(|(place, contact)| duty(post, *place, contact)),
                reserve: reserve.map(|(place, contact)| duty(post, *place, contact)),
            }
        };
    Sectors {
        balance,
        posts: posts
            .iter()
            .zip(&known)
            .zip(firsts.iter().zip(musts))
            .map(|((post, contacts), (first, must))| sector(post, contacts, *first, *must))
            .collect(),
        loads: set
            .iter()
            .enumerate()
            .map(|(place, site)| Load {
                site: name(*site),
                posts: firsts.iter().filter(|first| **first == Some(place)).count(),
            })
            .collect(),
        wide: demand
            .targets
            .iter()
            .filter(|target| target.kind != Kind::Post)
            .map(|target| wide(matrix, demand, target, set))
            .collect(),
    }
}

fn wide(matrix: &Matrix, demand: &Demand, target: &Target, set: &[usize]) -> Wide {
    let (mut together, mut either) = (0.0, 0.0);
    let (mut alone, mut best_in) = (vec![0.0; set.len()], vec![0.0; set.len()]);
    for place in target.samples.clone() {
        let part = demand.samples.get(place).map_or(0.0, |spot| spot.part);
        let chance = |site: &usize| {
            matrix.contacts.get((*site, place)).map_or(0.0, |contact| contact.probability)
        };
        let here: Vec<f64> = set.iter().map(chance).collect();
        let best = here.iter().copied().fold(0.0, f64::max);
        together += part * best;
        for (sum, chance) in alone.iter_mut().zip(&here) {
            *sum += part * chance;
        }
        let mut good = (0..here.len())
            .filter(|relay| here.get(*relay).is_some_and(|h| *h >= best - EQUAL_WITHIN));
        match (good.next().and_then(|relay| best_in.get_mut(relay)), good.next()) {
            (Some(share), None) => *share += part,
            _ => either += part,
        }
    }
    Wide { kind: target.kind, name: target.name.clone(), together, alone, best_in, either }
}

#[cfg(test)]
mod tests {
    use ndarray::Array2;

    use super::*;
    use perchline_link::Spread;
    use perchline_units::{Degrees, Position};

    /// Posts with these probabilities from each of the relays.
    fn shared(posts: &[&[f64]], balance: bool) -> Sectors {
        let at = Position::new(Degrees::new(0.0), Degrees::new(0.0)).unwrap();
        let relays = posts.first().unwrap().len();
        let contacts = Array2::from_shape_fn((relays, posts.len()), |(relay, post)| {
            let probability = posts[post][relay];
            Contact {
                probability,
                talk_in_over: 12.0,
                talk_out_over: 10.0,
                outcome: Outcome::of(probability, Db::new(10.0), 0.95),
            }
        });
        // At a reliability of one deviation the location allowance is 9 dB.
        let spreads = vec![Spread::new(Db::new(9.0), 0.9); posts.len()];
        let matrix = Matrix {
            contacts,
            spreads,
            reliability: 0.841_344_746_068_543,
            with_duplexers: Vec::new(),
        };
        let mut demand = Demand::default();
        for index in 0..posts.len() {
            demand.add(Kind::Post, &index.to_string(), 1.0, None, [(at, 1.0)]);
        }
        let set: Vec<usize> = (0..relays).collect();
        let names: Vec<String> = ["A", "B", "C"].map(str::to_owned).to_vec();
        sectors(&matrix, &demand, (&vec![false; posts.len()], balance), &set, &names)
    }

    fn firsts(sectors: &Sectors) -> Vec<&str> {
        sectors.posts.iter().map(|p| p.first.as_ref().map_or("-", |d| d.site.as_str())).collect()
    }

    const SIX: [&[f64]; 6] = [
        &[0.99, 0.985],
        &[0.99, 0.90],
        &[0.975, 0.98],
        &[0.96, 0.99],
        &[0.985, 0.99],
        &[0.995, 0.99],
    ];

    #[test]
    fn a_post_has_the_relay_that_serves_it_best() {
        let sectors = shared(&SIX, false);
        assert_eq!(firsts(&sectors), ["A", "A", "B", "B", "B", "A"]);
        // All equal: the plan's first.
        assert_eq!(firsts(&shared(&[&[0.9, 0.9, 0.9]], false)), ["A"]);
    }

    #[test]
    fn where_the_plan_asks_for_it_equals_are_shared_out() {
        let sectors = shared(&SIX, true);
        // Two clear cases, one each; then by load, the plan's first of equals.
        assert_eq!(firsts(&sectors), ["A", "A", "B", "B", "A", "B"]);
        let loads: Vec<usize> = sectors.loads.iter().map(|load| load.posts).collect();
        assert_eq!(loads, [3, 3]);
        let margin = sectors.posts[0].first.as_ref().unwrap().governing_margin_db;
        approx::assert_abs_diff_eq!(margin.value(), 1.0, epsilon = 1e-6);
    }

    #[test]
    fn a_reserve_works_in_half_of_the_spots_or_it_is_none() {
        let sectors = shared(&[&[0.99, 0.49, 0.3], &[0.7, 0.5, 0.96], &[0.2, 0.1, 0.0]], false);
        let reserves: Vec<_> =
            sectors.posts.iter().map(|p| p.reserve.as_ref().map(|d| d.site.as_str())).collect();
        assert_eq!(reserves, [None, Some("A"), None]);
        // Even a post that nobody reaches has the relay that comes nearest.
        assert_eq!(firsts(&sectors), ["A", "C", "A"]);
    }
}
