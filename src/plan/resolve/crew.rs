//! People with hand-helds and what they carry.

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
        self.list::<crew::Text>("crew")
            .into_iter()
            .map(|(entry, typed)| self.crew(&entry, typed?, event, packs))
            .collect()
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
        let currents = self.currents(entry, read.currents);
        let traffic = self.traffic(entry, read.traffic);
        let pack = self.entry_named(entry, "pack", "pack", &read.pack);
        let cut_out = self.cut_out(entry, "cut_out", read.cut_out, pack, packs);
        let items: Vec<_> = read
            .item
            .into_iter()
            .flatten()
            .enumerate()
            .map(|(index, item)| self.item(entry, index, item))
            .collect();
        let items: Option<Vec<_>> = items.into_iter().collect();
        Some(Crew {
            name: read.name,
            people: read.people?,
            shift: shift?,
            currents: currents?,
            traffic: traffic?,
            cut_out: cut_out?,
            pack: pack?,
            radio_weight: read.radio_weight?,
            kept_at: read.kept_at?,
            items: items?,
        })
    }

    fn item(&mut self, entry: &Entry, index: usize, typed: item::Text) -> Option<Item> {
        let within = format!("item[{index}].");
        if typed.uses.is_some() != typed.holds.is_some() {
            let text = "power that it uses and energy that it holds go together; write both or \
                        neither";
            self.problem(entry, &format!("{within}uses"), text);
        }
        let read = typed.read(self, entry, &within);
        Some(Item {
            name: read.name?,
            weight: read.weight?,
            count: read.count?,
            uses: read.uses?,
            holds: read.holds?,
        })
    }
}
