//! People with hand-helds and what they carry.

use super::{Check, Entry};
use crate::typed::{CrewText, ItemText};
use crate::{Crew, Event, Item, Pack};
use perchline_units::{Hours, WattHours, Watts};

impl Check<'_> {
    /// Every crew; `None` in the place of a wrong one.
    pub(super) fn crews(
        &mut self,
        event: Option<&Event>,
        packs: &[Option<Pack>],
    ) -> Vec<Option<Crew>> {
        self.list::<CrewText>("crew")
            .into_iter()
            .map(|(entry, typed)| self.crew(&entry, typed?, event, packs))
            .collect()
    }

    fn crew(
        &mut self,
        entry: &Entry,
        typed: CrewText,
        event: Option<&Event>,
        packs: &[Option<Pack>],
    ) -> Option<Crew> {
        let people = self.whole(entry, "people", typed.people, 1..=10_000);
        let shift = match &typed.shift {
            Some(shift) => {
                let units = [("h", 1.0), ("min", 1.0 / 60.0)];
                self.scaled(entry, "shift", shift, &units, 0.1..=72.0).map(Hours::new)
            }
            None => event.map(|e| {
                let seconds =
                    e.tear_down.timestamp().as_second() - e.starts.timestamp().as_second();
                Hours::new(seconds as f64 / 3600.0)
            }),
        };
        let currents = self.currents(entry, &typed.currents);
        let traffic = self.traffic(entry, &typed.traffic);
        let pack = self.entry_named(entry, "pack", "pack", &typed.pack);
        let cut_out = self.cut_out(entry, "cut_out", &typed.cut_out, pack, packs);
        let radio_weight = match &typed.radio_weight {
            Some(weight) => self.mass(entry, "radio_weight", weight).map(Some),
            None => Some(None),
        };
        let kept_at = match &typed.kept_at {
            Some(kept) => self.temperature(entry, "kept_at", kept).map(Some),
            None => Some(None),
        };
        let items: Vec<_> = typed
            .item
            .iter()
            .flatten()
            .enumerate()
            .map(|(index, item)| self.item(entry, index, item))
            .collect();
        let items: Option<Vec<_>> = items.into_iter().collect();
        Some(Crew {
            name: typed.name,
            people: people?,
            shift: shift?,
            currents: currents?,
            traffic: traffic?,
            cut_out: cut_out?,
            pack: pack?,
            radio_weight: radio_weight?,
            kept_at: kept_at?,
            items: items?,
        })
    }

    fn item(&mut self, entry: &Entry, index: usize, typed: &ItemText) -> Option<Item> {
        let field = |name: &str| format!("item[{index}].{name}");
        self.name(entry, &field("name"), &typed.name);
        let weight = self.mass(entry, &field("weight"), &typed.weight);
        let count = self.whole(entry, &field("count"), typed.count.unwrap_or(1), 1..=100);
        let uses = match &typed.uses {
            Some(uses) => {
                self.scaled(entry, &field("uses"), uses, &[("W", 1.0)], 0.001..=500.0).map(Some)
            }
            None => Some(None),
        };
        let holds = match &typed.holds {
            Some(holds) => {
                self.scaled(entry, &field("holds"), holds, &[("Wh", 1.0)], 0.01..=5000.0).map(Some)
            }
            None => Some(None),
        };
        if typed.uses.is_some() != typed.holds.is_some() {
            let text = "power that it uses and energy that it holds go together; write both or \
                        neither";
            self.problem(entry, &field("uses"), text);
        }
        Some(Item {
            name: typed.name.clone(),
            weight: weight?,
            count: count?,
            uses: uses?.map(Watts::new),
            holds: holds?.map(WattHours::new),
        })
    }
}
