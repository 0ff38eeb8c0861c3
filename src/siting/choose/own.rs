//! Relays on channels of their own: every site on every channel, and which relay of a
//! set gets which.
//!
//! A set is first valued as if each of its sites could have the best channel for every
//! spot. No way to give the channels out is worth more, so once the next set by that
//! value is worth no more than the best one with its channels given out, that one is
//! the best.

use ndarray::{Array2, Axis, concatenate};

use super::links::LinkDesense;
use super::matrix::{Contact, Inputs, Matrix};
use super::problem::{Need, Problem, Set};
use super::solve::{Found, Search, SolveError, TOLERANCE};
use super::{Barred, ChooseError};
use crate::demand::Demand;
use perchline_plan::{Channel, ChooseInputs, Plan, RelayLink};
use perchline_power::sharing::{Interference, link_on_roof};
use perchline_units::Db;

/// Sets asked for at the most until one of them is proven to be the best with its
/// channels given out; a gap that is left then is told.
const SETS_TRIED: usize = 20;

/// The channels of the relays, the first relay's first: that of `channel` alone, on
/// which all are predicted, or one for each as the plan names them.
pub(super) fn channels_of<'p>(
    plan: &'p Plan,
    channel: &'p Channel,
    asked: &ChooseInputs,
) -> Result<Vec<&'p Channel>, ChooseError> {
    let named = asked.channels.iter().flatten().filter_map(|index| plan.channels.get(*index));
    let further: Vec<&Channel> = named.filter(|other| other.name != channel.name).collect();
    if further.is_empty() || asked.relays < 2 {
        return Ok(vec![channel]);
    }
    let mut channels: Vec<&Channel> = [channel].into_iter().chain(further).collect();
    if channels.len() < asked.relays {
        return Err(ChooseError::TooFewChannels { relays: asked.relays, channels: channels.len() });
    }
    channels.truncate(asked.relays);
    Ok(channels)
}

/// Every site on every channel: a row of `matrix` is a site on a channel, all sites on
/// the first channel first.
pub(super) struct Stacked<'p> {
    pub(super) channels: Vec<&'p Channel>,
    pub(super) matrix: Matrix,
    sites: usize,
    /// Rows that may be used.
    usable: Vec<bool>,
    /// The rows as candidates, with what they serve; nothing where there is one channel.
    candidates: Option<Problem>,
}

/// A set with its channels given out.
#[derive(Debug, Clone)]
pub(super) struct Given {
    /// The set by its sites, its value and what no other exceeds.
    pub(super) found: Found,
    /// Its rows, one a site in the same order.
    pub(super) rows: Vec<usize>,
}

impl<'p> Stacked<'p> {
    /// Follows every site on every channel to every spot.
    pub(super) fn of(
        inputs: &Inputs<'_>,
        channels: Vec<&'p Channel>,
        demand: &Demand,
    ) -> Result<Self, ChooseError> {
        let each = channels
            .iter()
            .map(|channel| Matrix::of(inputs, channel, demand))
            .collect::<Result<Vec<_>, _>>()?;
        let sites = inputs.plan.sites.len();
        let rows: Vec<_> = each.iter().map(|matrix| matrix.contacts.view()).collect();
        let stacked = concatenate(Axis(0), &rows).ok();
        let with_duplexers = stacked_duplexers(&each);
        let mut all = each.into_iter();
        let first = all.next().ok_or(crate::RankError::Stopped)?;
        let matrix = match stacked {
            // All have a column a spot.
            Some(contacts) if channels.len() > 1 => Matrix { contacts, with_duplexers, ..first },
            _ => first,
        };
        let usable = vec![true; sites * channels.len()];
        Ok(Self { channels, matrix, sites, usable, candidates: None })
    }

    /// The same with each duplexer that is tried, where the plan states none; rows have
    /// to be weighed anew.
    pub(super) fn by_duplexer(&self) -> impl Iterator<Item = (Db, Self)> + '_ {
        self.matrix.by_duplexer().map(|(isolation, matrix)| {
            let (channels, usable) = (self.channels.clone(), self.usable.clone());
            (isolation, Self { channels, matrix, sites: self.sites, usable, candidates: None })
        })
    }

    /// How many rows there are.
    pub(super) fn rows(&self) -> usize {
        self.usable.len()
    }

    /// Whether all relays are predicted on one channel.
    pub(super) fn is_single(&self) -> bool {
        self.channels.len() == 1
    }

    /// The row of a site on the channel of this number.
    fn row(&self, site: usize, channel: usize) -> usize {
        channel * self.sites + site
    }

    /// The site of a row.
    pub(super) fn site(&self, row: usize) -> usize {
        row % self.sites.max(1)
    }

    /// The channel of a row.
    pub(super) fn channel(&self, row: usize) -> Option<&'p Channel> {
        self.channels.get(row / self.sites.max(1)).copied()
    }

    /// The rows of a site.
    fn rows_of(&self, site: usize) -> impl Iterator<Item = usize> {
        (0..self.channels.len()).map(move |channel| self.row(site, channel))
    }

    /// Takes rows out: those that `barred` names by site and channel.
    pub(super) fn bar(&mut self, barred: &[(usize, usize)]) {
        for (site, channel) in barred {
            let row = self.row(*site, *channel);
            if let Some(usable) = self.usable.get_mut(row) {
                *usable = false;
            }
        }
    }

    /// Whether a site may be used on any channel.
    pub(super) fn is_usable(&self, site: usize) -> bool {
        self.rows_of(site).any(|row| self.usable.get(row) == Some(&true))
    }

    /// Probabilities with a row a spot and a column a site, on the best channel for the
    /// spot that the site may be used on.
    pub(super) fn chances(&self) -> Array2<f64> {
        if self.is_single() {
            return self.matrix.chances();
        }
        let contacts = &self.matrix.contacts;
        Array2::from_shape_fn((contacts.ncols(), self.sites), |(spot, site)| {
            let usable = self.rows_of(site).filter(|row| self.usable.get(*row) == Some(&true));
            let chances = usable.filter_map(|row| Some(contacts.get((row, spot))?.probability));
            chances.fold(0.0, f64::max)
        })
    }

    /// The probability that a site that may be used serves a spot on its best channel.
    pub(super) fn probability(&self, site: usize, spot: usize) -> Option<f64> {
        let of = |row| Some(self.matrix.contacts.get((row, spot))?.probability);
        self.rows_of(site).filter_map(of).reduce(f64::max)
    }

    /// Whether a row serves a spot.
    pub(super) fn works(&self, row: usize, spot: usize) -> bool {
        self.matrix.contacts.get((row, spot)).is_some_and(|contact| contact.outcome.works())
    }

    /// Whether a site serves a spot on a channel that it may be used on.
    pub(super) fn serves(&self, site: usize, spot: usize) -> bool {
        if self.is_single() {
            return self.works(site, spot);
        }
        self.rows_of(site).any(|row| self.usable.get(row) == Some(&true) && self.works(row, spot))
    }

    /// Makes the rows candidates that serve the spots of `needs`, each a name and a spot.
    pub(super) fn weigh(&mut self, demand: &Demand, relays: usize, needs: &[(String, usize)]) {
        if self.is_single() {
            return;
        }
        let mut rows = Problem::new(self.matrix.chances(), demand.weights(), relays);
        rows.usable.clone_from(&self.usable);
        let all = 0..self.usable.len();
        let need = |(name, spot): &(String, usize)| Need {
            name: name.clone(),
            served_by: all.clone().map(|row| self.works(row, *spot)).collect(),
        };
        rows.needs = needs.iter().map(need).collect();
        self.candidates = Some(rows);
    }

    /// What rows are worth; `problem` is that of the sites.
    pub(super) fn value(&self, problem: &Problem, rows: &[usize]) -> f64 {
        self.candidates.as_ref().unwrap_or(problem).value(rows)
    }

    /// The best way to give the first channels out to the sites of a set, that keeps
    /// every need, and what it is worth; of equal ones the first, in the order of the
    /// channels. Nothing where there is none.
    pub(super) fn given(&self, problem: &Problem, set: &[usize]) -> Option<(Vec<usize>, f64)> {
        let Some(candidates) = &self.candidates else {
            return Some((set.to_vec(), problem.value(set)));
        };
        let mut best: Option<(Vec<usize>, f64)> = None;
        for order in orders(set.len()) {
            let rows: Vec<usize> =
                set.iter().zip(&order).map(|(site, channel)| self.row(*site, *channel)).collect();
            let usable = rows.iter().all(|row| self.usable.get(*row) == Some(&true));
            if !usable || !candidates.needs.iter().all(|need| need.is_met(&rows)) {
                continue;
            }
            let value = candidates.value(&rows);
            if best.as_ref().is_none_or(|(_, known)| value > *known) {
                best = Some((rows, value));
            }
        }
        best
    }

    /// The best set with its channels given out, but for those of `but` and without the
    /// sites of `without`.
    pub(super) fn best(
        &self,
        problem: &Problem,
        search: &mut Search<'_>,
        without: &[usize],
        but: &[Set],
    ) -> Result<Option<Given>, SolveError> {
        let mut known = but.to_vec();
        let mut best: Option<Given> = None;
        let mut bound = f64::INFINITY;
        for _ in 0..SETS_TRIED {
            let Some(next) = search.best_but(without, &known)? else {
                bound = 0.0;
                break;
            };
            if self.is_single() {
                let rows = next.set.clone();
                return Ok(Some(Given { found: next, rows }));
            }
            bound = next.bound;
            if best.as_ref().is_some_and(|best| bound <= best.found.value + TOLERANCE) {
                break;
            }
            known.push(next.set.clone());
            let Some((rows, value)) = self.given(problem, &next.set) else { continue };
            if best.as_ref().is_none_or(|best| value > best.found.value) {
                best = Some(Given { found: Found { value, ..next }, rows });
            }
        }
        Ok(best.map(|mut best| {
            best.found.bound = bound.max(best.found.value);
            best
        }))
    }

    /// What the radio of the link does on each usable row, where the plan says how far
    /// it is from the relay: rows where that is too much, by site and channel, and what
    /// to tell of them.
    pub(super) fn barred_by_link(
        &self,
        plan: &Plan,
        link: Option<&RelayLink>,
    ) -> Vec<((usize, usize), Barred)> {
        let Some(link) = link else { return Vec::new() };
        let sites = plan.sites.iter().enumerate().filter(|(_, site)| site.available);
        let each = sites.flat_map(|(place, site)| {
            self.channels.iter().enumerate().map(move |(number, channel)| {
                (place, number, site, link_on_roof(plan, channel, link, site))
            })
        });
        each.filter_map(|(place, number, site, pairs)| {
            let pair = pairs?.into_iter().find(Interference::is_too_much)?;
            let barred = Barred {
                site: site.name.clone(),
                from: pair.from,
                to: pair.to,
                desense_db: pair.desense_db,
                by_link: true,
            };
            Some(((place, number), barred))
        })
        .collect()
    }

    /// What the link and the relay of a row do to each other.
    pub(super) fn link_desense(
        &self,
        plan: &Plan,
        link: Option<&RelayLink>,
        row: usize,
    ) -> Option<LinkDesense> {
        let site = plan.sites.get(self.site(row))?;
        let pairs = link_on_roof(plan, self.channel(row)?, link?, site)?;
        let [of_link, of_relay] = pairs.as_slice() else { return None };
        Some(LinkDesense { link_db: of_link.desense_db, relay_db: of_relay.desense_db })
    }
}

/// Contacts of all channels with each duplexer that is tried; a channel whose station
/// states its own keeps that.
fn stacked_duplexers(each: &[Matrix]) -> Vec<(Db, Array2<Contact>)> {
    let tried = each.iter().map(|matrix| matrix.with_duplexers.len()).max().unwrap_or(0);
    let stacked = |index: usize| {
        let with = |matrix: &Matrix| matrix.with_duplexers.get(index).cloned();
        let isolation = each.iter().find_map(with)?.0;
        let rows: Vec<Array2<Contact>> = each
            .iter()
            .map(|matrix| with(matrix).map_or_else(|| matrix.contacts.clone(), |(_, rows)| rows))
            .collect();
        let views: Vec<_> = rows.iter().map(|rows| rows.view()).collect();
        Some((isolation, concatenate(Axis(0), &views).ok()?))
    };
    (0..tried).filter_map(stacked).collect()
}

/// Every order of the numbers under `count`, the rising one first.
fn orders(count: usize) -> Vec<Vec<usize>> {
    let mut orders: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..count {
        let longer = |order: Vec<usize>| {
            let next = (0..count).filter(|next| !order.contains(next));
            next.map(|next| [order.as_slice(), &[next]].concat()).collect::<Vec<_>>()
        };
        orders = orders.into_iter().flat_map(longer).collect();
    }
    orders
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_come_rising_first_and_once_each() {
        assert_eq!(orders(0), [Vec::<usize>::new()]);
        assert_eq!(orders(2), [vec![0, 1], vec![1, 0]]);
        let four = orders(4);
        assert_eq!(four.first(), Some(&vec![0, 1, 2, 3]));
        assert!(four.windows(2).all(|pair| pair[0] < pair[1]) && four.len() == 24);
    }
}
