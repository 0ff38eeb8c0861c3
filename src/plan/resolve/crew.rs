//! People with hand-helds and what they carry.

use super::{Check, Entry};
use crate::field::Part;
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
        self.check_cut_out(entry, "cut_out", read.cut_out, pack, packs);
        let items = self.items(entry, read.items.clone());
        read.with(crew::Resolved { shift, traffic, pack, items })
    }

    fn items(&mut self, entry: &Entry, typed: Option<Vec<item::Text>>) -> Option<Vec<Item>> {
        let typed = typed.into_iter().flatten().enumerate();
        let items: Vec<_> = typed.map(|(index, item)| self.item(entry, index, item)).collect();
        items.into_iter().collect()
    }

    fn item(&mut self, entry: &Entry, index: usize, typed: item::Text) -> Option<Item> {
        let within = format!("item[{index}].");
        if typed.uses.is_some() != typed.holds.is_some() {
            let text = "power that it uses and energy that it holds go together; write both or \
                        neither";
            self.problem(entry, &format!("{within}uses"), text);
        }
        typed.part(self, entry, &within)
    }
}
