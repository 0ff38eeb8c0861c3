//! Several sites at once: the coverage of each, computed by itself as if the others were
//! off, and all of them laid together.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use perchline_assessment::Assessment;
use perchline_coverage::cover;
use perchline_link::Outcome;
use perchline_report::palette::SERVED_BY;
use perchline_report::words;
use perchline_siting::map_model;

use super::board::Board;
use super::desk::{Desk, Refused, State};
use super::work::Stage;

/// Sites that are laid together at the most: each keeps the classes of a map.
pub const MOST_TOGETHER: usize = 8;

/// How coverages are laid together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// The best class that any of them has.
    Best,
    /// How many of them serve.
    Count,
}

/// What the cells of one site come to, or why the site cannot be mapped.
type Classes = Result<Arc<Array2<Outcome>>, String>;

/// A site and what its cells come to.
struct Covered {
    site: String,
    classes: Classes,
}

/// Sites with their classes, in the plan's order.
type Snapshot = Vec<(String, Arc<Array2<Outcome>>)>;

/// What is to be done next.
enum Step {
    /// To find the classes of this site; those that are there already.
    Cover(String, Option<Array2<Outcome>>),
    /// To lay together what is there.
    Lay,
    /// Nothing.
    Done,
}

/// Coverages laid together.
pub struct Laid {
    /// The sites, in the plan's order.
    pub sites: Vec<String>,
    /// The best class of each cell.
    pub best: Array2<Outcome>,
    /// By how many sites it is served; nothing where that is not known.
    pub count: Array2<Option<u8>>,
    /// The ground under them.
    pub board: Arc<Board>,
    /// The sites that serve a cell, by the bits of their places in `sites`.
    by: Array2<u8>,
    best_rows: Vec<LegendRow>,
    count_rows: Vec<LegendRow>,
}

/// What is laid together, and what of it is there.
#[derive(Default)]
pub struct Together {
    /// The sites that were asked for, in the plan's order; none while nobody asks.
    sites: Vec<String>,
    known: Vec<Covered>,
    /// What the known ones come to; that of the state before until there is a newer one.
    laid: Option<Arc<Laid>>,
    /// Whether it is of what is known.
    is_fresh: bool,
    /// Counts the times that it was laid: a page fetches the picture of a new one.
    number: u64,
    /// Set to end what is being computed.
    running: Option<Arc<AtomicBool>>,
}

/// A row of the legend.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LegendRow {
    /// The name of its patch in the style sheet.
    patch: String,
    words: String,
    /// Share of the map, 0 to 1.
    share: f64,
}

/// What a page is told of it.
#[derive(Debug, Serialize)]
pub struct TogetherView {
    /// The sites that were asked for.
    sites: Vec<String>,
    most: usize,
    number: u64,
    /// The sites in the picture.
    laid: Vec<String>,
    /// Whether all of this state are in it.
    complete: bool,
    /// What cannot be mapped, and why.
    trouble: Vec<String>,
    best: Vec<LegendRow>,
    count: Vec<LegendRow>,
}

impl Laid {
    fn of(known: &Snapshot, board: &Arc<Board>) -> Option<Self> {
        let size = known.first()?.1.dim();
        let mut best = Array2::from_elem(size, Outcome::Unknown);
        let mut count = Array2::from_elem(size, None);
        let mut by = Array2::from_elem(size, 0u8);
        for (cell, best) in best.indexed_iter_mut() {
            let classes = known.iter().filter_map(|(_, classes)| classes.get(cell).copied());
            let served = classes.clone().enumerate().filter(|(_, class)| class.works());
            // No more sites than bits.
            let bits = served.fold(0u8, |bits, (place, _)| bits | (1 << place.min(7)));
            *best = best_of(classes.clone());
            if let (Some(count), Some(by)) = (count.get_mut(cell), by.get_mut(cell)) {
                let is_known = classes.into_iter().all(|class| class != Outcome::Unknown);
                // Where one is not known there may be more.
                *count = (bits > 0 || is_known).then(|| bits.count_ones() as u8);
                *by = bits;
            }
        }
        let sites: Vec<String> = known.iter().map(|(site, _)| site.clone()).collect();
        let (best_rows, count_rows) = (best_rows(&best), count_rows(&count, sites.len()));
        let board = Arc::clone(board);
        Some(Self { sites, best, count, board, by, best_rows, count_rows })
    }

    /// The sites that serve the cell in this column and row.
    #[must_use]
    pub fn serving(&self, column: f64, row: f64) -> Option<Vec<&str>> {
        let on = column >= 0.0 && row >= 0.0;
        // Not below zero, and looked up, so the cut to whole cells is safe.
        let bits = self.by.get((row as usize, column as usize)).filter(|_| on)?;
        let serves = |place: usize| (bits >> place.min(7)) & 1 == 1;
        let sites = self.sites.iter().enumerate();
        Some(sites.filter(|(place, _)| serves(*place)).map(|(_, site)| site.as_str()).collect())
    }
}

fn best_rows(best: &Array2<Outcome>) -> Vec<LegendRow> {
    let row = |outcome: Outcome| LegendRow {
        patch: words::id(outcome).to_owned(),
        words: words::meaning(outcome).to_owned(),
        share: share_of(best, |class| *class == outcome),
    };
    Outcome::ALL.into_iter().map(row).collect()
}

/// From the most sites down to none, and what is not known.
fn count_rows(count: &Array2<Option<u8>>, sites: usize) -> Vec<LegendRow> {
    let last = SERVED_BY.len() - 1;
    let row = |number: usize| {
        let rest = number == last && sites > last;
        let words = match number {
            0 => "No site serves".to_owned(),
            1 => "1 site serves".to_owned(),
            many if rest => format!("{many} or more sites serve"),
            many => format!("{many} sites serve"),
        };
        let is_it = |count: &Option<u8>| {
            count.map(usize::from).is_some_and(|c| c == number || (rest && c > number))
        };
        LegendRow { patch: format!("served-{number}"), words, share: share_of(count, is_it) }
    };
    let unknown = LegendRow {
        patch: words::id(Outcome::Unknown).to_owned(),
        words: words::meaning(Outcome::Unknown).to_owned(),
        share: share_of(count, Option::is_none),
    };
    (0..=sites.min(last)).rev().map(row).chain([unknown]).collect()
}

fn share_of<T>(cells: &Array2<T>, wanted: impl Fn(&T) -> bool) -> f64 {
    cells.iter().filter(|cell| wanted(cell)).count() as f64 / cells.len().max(1) as f64
}

/// The best of several classes. Where one is not known and the others have no contact,
/// nothing is known.
fn best_of(classes: impl Iterator<Item = Outcome> + Clone) -> Outcome {
    let best = classes.clone().max().unwrap_or(Outcome::Unknown);
    let lacks = || classes.clone().any(|class| class == Outcome::Unknown);
    if best == Outcome::NoContact && lacks() { Outcome::Unknown } else { best }
}

impl Together {
    /// What is laid together, once a first site is there.
    #[must_use]
    pub fn laid(&self) -> Option<&Arc<Laid>> {
        self.laid.as_ref()
    }

    /// Counts the times that it was laid.
    #[must_use]
    pub fn number(&self) -> u64 {
        self.number
    }

    /// What a page is told.
    pub(super) fn view(&self) -> TogetherView {
        let laid = self.laid.as_deref();
        let trouble = self.known.iter().filter_map(|covered| {
            let why = covered.classes.as_ref().err()?;
            Some(format!("{}: {why}", covered.site))
        });
        TogetherView {
            sites: self.sites.clone(),
            most: MOST_TOGETHER,
            number: self.number,
            laid: laid.map_or_else(Vec::new, |laid| laid.sites.clone()),
            complete: self.is_fresh && self.missing().is_none(),
            trouble: trouble.collect(),
            best: laid.map_or_else(Vec::new, |laid| laid.best_rows.clone()),
            count: laid.map_or_else(Vec::new, |laid| laid.count_rows.clone()),
        }
    }

    /// Ends what is being computed.
    pub(super) fn halt(&mut self) {
        if let Some(running) = self.running.take() {
            running.store(true, Ordering::Relaxed);
        }
    }

    /// What is known is of a state that has changed; `there` are the plan's sites.
    pub(super) fn forget(&mut self, there: &[String]) {
        self.halt();
        self.known.clear();
        self.is_fresh = false;
        self.sites.retain(|site| there.contains(site));
        if self.sites.is_empty() {
            self.laid = None;
        }
    }

    /// A site has another name.
    pub(super) fn rename(&mut self, old: &str, new: &str) {
        for site in self.sites.iter_mut().filter(|site| *site == old) {
            new.clone_into(site);
        }
    }

    /// The next site that is not there yet.
    fn missing(&self) -> Option<&String> {
        self.sites.iter().find(|site| self.known.iter().all(|known| known.site != **site))
    }

    fn snapshot(&self) -> Snapshot {
        let order = |site: &String| {
            let known = self.known.iter().find(|known| known.site == *site)?;
            Some((site.clone(), Arc::clone(known.classes.as_ref().ok()?)))
        };
        self.sites.iter().filter_map(order).collect()
    }
}

impl State {
    /// What is to be done next for several sites at once.
    fn step_together(&self) -> Step {
        let together = &self.together;
        match together.missing() {
            Some(site) => {
                // The picture that is shown is one of them already.
                let full = self.latest.stage.is_some_and(|stage| stage >= Stage::Full);
                let picture = self.latest.picture.as_ref();
                let picture = picture.filter(|_| full && *site == self.look.site);
                Step::Cover(site.clone(), picture.map(|picture| picture.coverage.outcome.clone()))
            }
            None if !together.is_fresh => Step::Lay,
            None => Step::Done,
        }
    }
}

impl Desk {
    /// Lays the coverages of these sites together, in the plan's order; none ends it.
    ///
    /// # Errors
    /// [`Refused`] when the plan has no such site, or they are too many.
    pub fn lay_together(self: &Arc<Self>, sites: &[String]) -> Result<(), Refused> {
        let mut state = self.lock();
        let there = state.site_names();
        if let Some(missing) = sites.iter().find(|site| !there.contains(site)) {
            return Err(Refused::Now(format!("the plan has no site \"{missing}\"")));
        }
        let wanted: Vec<String> = there.into_iter().filter(|site| sites.contains(site)).collect();
        if wanted.len() > MOST_TOGETHER {
            return Err(Refused::Now(format!(
                "{MOST_TOGETHER} sites at once are the most: untick one first"
            )));
        }
        let together = &mut state.together;
        together.halt();
        together.known.retain(|known| wanted.contains(&known.site));
        together.sites = wanted;
        together.is_fresh = false;
        if together.sites.is_empty() {
            together.laid = None;
        }
        self.tell(&mut state);
        self.go_on_together(&mut state);
        Ok(())
    }

    /// Works on several sites at once, unless the picture itself is at work or nothing is
    /// to be done.
    pub(super) fn go_on_together(self: &Arc<Self>, state: &mut State) {
        if state.is_at_work() || state.together.running.is_some() {
            return;
        }
        let stop: Arc<AtomicBool> = Arc::default();
        state.together.running = Some(Arc::clone(&stop));
        let (opened, board) = (Arc::clone(&state.opened), Arc::clone(&state.board));
        let (channel, desk) = (state.look.channel.clone(), Arc::clone(self));
        std::thread::spawn(move || {
            // Whoever halted it has begun anew, or wants nothing any more.
            while !stop.load(Ordering::Relaxed) {
                let step = desk.lock().step_together();
                let covered = match step {
                    Step::Cover(site, Some(classes)) => Some((site, Ok(Arc::new(classes)))),
                    Step::Cover(site, None) => {
                        let classes = classes_of(&opened, &board, &channel, &site, &stop);
                        Some((site, classes))
                    }
                    Step::Lay => None,
                    Step::Done => break,
                };
                if desk.put_together(covered, &board, &stop).is_none() {
                    return;
                }
            }
            let mut state = desk.lock();
            if !stop.load(Ordering::Relaxed) {
                state.together.running = None;
            }
        });
    }

    /// Keeps what was found of a site, and lays together what is known then. Nothing where
    /// it was halted meanwhile.
    fn put_together(
        &self,
        covered: Option<(String, Classes)>,
        board: &Arc<Board>,
        stop: &AtomicBool,
    ) -> Option<()> {
        // Asked under the lock, which whoever halts it holds.
        let go_on = || (!stop.load(Ordering::Relaxed)).then_some(());
        let known = {
            let mut state = self.lock();
            go_on()?;
            let covered = covered.map(|(site, classes)| Covered { site, classes });
            state.together.known.extend(covered);
            state.together.is_fresh = false;
            state.together.snapshot()
        };
        let laid = Laid::of(&known, board).map(Arc::new);
        let mut state = self.lock();
        go_on()?;
        state.together.laid = laid;
        state.together.is_fresh = true;
        state.together.number += 1;
        self.tell(&mut state);
        Some(())
    }
}

/// What the cells of the board come to with the station of a channel on a site, by the
/// engine of every other picture.
fn classes_of(
    opened: &Assessment,
    board: &Board,
    channel: &str,
    site: &str,
    stop: &AtomicBool,
) -> Classes {
    let Assessment { plan, terrain, propagator, .. } = opened;
    let channel = plan.channels.iter().find(|known| known.name == channel);
    let site = plan.sites.iter().find(|known| known.name == site);
    let (Some(channel), Some(site)) = (channel, site) else {
        return Err("the plan has no such site or channel any more".to_owned());
    };
    let model = map_model(plan, terrain, channel, site).map_err(|e| e.to_string())?;
    let coverage = cover(terrain, &board.grid, &model, propagator, &|| (), stop);
    coverage.map(|coverage| Arc::new(coverage.outcome)).map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use Outcome::{Clear, NoContact, OneWay, Patchy, Strong, Unknown};

    #[test]
    fn the_best_class_counts_and_what_is_not_known_is_not_told_as_none() {
        for (classes, best) in [
            (vec![Patchy, Strong, NoContact], Strong),
            (vec![OneWay, NoContact], OneWay),
            (vec![Unknown, Clear], Clear),
            (vec![Unknown, OneWay], OneWay),
            (vec![Unknown, NoContact], Unknown),
            (vec![NoContact, NoContact], NoContact),
            (vec![Unknown, Unknown], Unknown),
        ] {
            assert_eq!(best_of(classes.iter().copied()), best, "{classes:?}");
        }
    }
}
