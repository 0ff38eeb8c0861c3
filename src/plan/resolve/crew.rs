//! People with hand-helds and what they carry.

use super::check::quoted;
use super::{Check, Entry};
use crate::typed::{crew, item};
use crate::{Crew, Event, Item, Pack};
use perchline_units::Hours;

impl Check<'_> {
    /// Every crew; `None` in the place of a wrong one.
    pub(super) fn crews(
        &mut self,
        event: Option<&Event>,
        packs: &[Option<Pack>],
    ) -> Vec<Option<Crew>> {
        self.each("crew", |check, entry, typed: crew::Text| check.crew(entry, typed, event, packs))
    }

    fn crew(
        &mut self,
        entry: &Entry,
        typed: crew::Text,
        event: Option<&Event>,
        packs: &[Option<Pack>],
    ) -> Option<Crew> {
        let read = typed.read(self, entry, "");
        let shift = match read.shift {
            Some(None) => event.map(|e| {
                let seconds =
                    e.tear_down.timestamp().as_second() - e.starts.timestamp().as_second();
                Hours::new(seconds as f64 / 3600.0)
            }),
            stated => stated.flatten(),
        };
        self.question_currents(entry, read.currents);
        let traffic = self.traffic(entry, read.traffic.clone());
        let pack = self.entry_named(entry, "pack", "pack", &read.pack);
        self.check_cutoff(entry, "cutoff", read.cutoff, pack, packs);
        let items = self.items(entry, read.items.clone());
        read.with(crew::Resolved { shift, traffic, pack, items })
    }

    /// What is carried; problems name each with its place in the list.
    pub(super) fn items(
        &mut self,
        entry: &Entry,
        typed: Option<Vec<item::Text>>,
    ) -> Option<Vec<Item>> {
        let typed = typed.unwrap_or_default();
        // Of each its name, and whether it has a battery that is used up.
        let known: Vec<(String, bool)> =
            typed.iter().map(|item| (item.name.clone(), item.uses.is_some())).collect();
        let typed = typed.into_iter().enumerate();
        let items: Vec<_> =
            typed.map(|(index, item)| self.item(entry, index, item, &known)).collect();
        items.into_iter().collect()
    }

    fn item(
        &mut self,
        entry: &Entry,
        index: usize,
        typed: item::Text,
        known: &[(String, bool)],
    ) -> Option<Item> {
        let within = format!("item[{index}].");
        let (uses, holds) = (typed.uses.is_some(), typed.holds.is_some());
        let problem = match (typed.recharges.is_some(), uses, holds) {
            (true, true, _) => Some((
                "uses",
                "what recharges others uses nothing itself; leave uses or recharges out",
            )),
            (true, false, false) => Some((
                "recharges",
                "say what it holds, with holds = \"37 Wh\", so that what it recharges can be \
                 counted",
            )),
            (false, one, other) if one != other => Some((
                "uses",
                "power that it uses and energy that it holds go together; write both or neither \
                 (a power bank has holds and recharges)",
            )),
            _ => None,
        };
        if let Some((field, text)) = problem {
            self.problem(entry, &format!("{within}{field}"), text);
        }
        let read = typed.read(self, entry, &within);
        let recharges = read.recharges.clone().unwrap_or_default();
        for (place, name) in recharges.iter().enumerate() {
            self.rechargeable(entry, &format!("{within}recharges[{place}]"), name, known);
        }
        read.with(item::Resolved { recharges: Some(recharges) })
    }

    /// Tells of a name that is none of an item with a battery of its own.
    fn rechargeable(&mut self, entry: &Entry, field: &str, name: &str, known: &[(String, bool)]) {
        let text = match known.iter().find(|(item, _)| item == name) {
            Some((_, true)) => return,
            Some((_, false)) => format!(
                "{} has no battery of its own in the plan; give it uses and holds, or leave it out \
                 here",
                quoted(name)
            ),
            None => {
                let names: Vec<String> = known
                    .iter()
                    .filter(|(_, battery)| *battery)
                    .map(|(item, _)| quoted(item))
                    .collect();
                let names = match names.as_slice() {
                    [] => "none has uses and holds".to_owned(),
                    some => format!("those with a battery are {}", some.join(", ")),
                };
                format!("no item of this list is called {}; {names}", quoted(name))
            }
        };
        self.problem(entry, field, text);
    }
}
