//! Forecast, exposure, packs and the channels of others.

use super::{Check, Entry};
use crate::Tracker;
use crate::field::Plain;
use crate::typed::{MOST_HOURS, Quantity, TEMPERATURE, exposure, forecast, other_channel, pack};
use crate::{Channel, Event, Exposure, Forecast, OtherChannel, Pack, PowerInputs};

impl Check<'_> {
    /// Everything on power; `None` together with a problem.
    pub(super) fn power_inputs(
        &mut self,
        event: Option<&Event>,
        channels: &[Option<Channel>],
        trackers: &[Option<Tracker>],
    ) -> Option<PowerInputs> {
        let forecast = self.forecast(event);
        let exposure = self.exposure();
        let packs = self.packs();
        let stations = self.stations(event, channels, trackers, &packs);
        let crews = self.crews(event, &packs);
        let other_channels = self.other_channels();
        Some(PowerInputs {
            forecast: forecast?,
            exposure: exposure?,
            // An entry is only ever missing together with a problem.
            packs: packs.into_iter().flatten().collect(),
            stations: stations.into_iter().flatten().collect(),
            crews: crews.into_iter().flatten().collect(),
            other_channels: other_channels.into_iter().flatten().collect(),
        })
    }

    fn forecast(&mut self, event: Option<&Event>) -> Option<Option<Forecast>> {
        if !self.has("forecast") {
            return Some(None);
        }
        let typed: forecast::Text = self.table("forecast")?;
        let entry = Entry::single("forecast");
        let typed = typed.read(self, &entry, "");
        let zone = event.map(|e| e.starts.time_zone().clone());
        let from = self.moment(&entry, "from", &typed.from, zone.as_ref());
        let mut hourly = Vec::new();
        for (index, value) in typed.hourly.iter().enumerate() {
            let unknown = matches!(value, Quantity::Text(text) if text.trim() == "?");
            hourly.push(if unknown {
                Some(None)
            } else {
                TEMPERATURE.read(self, &entry, &format!("hourly[{index}]"), value).map(Some)
            });
        }
        if hourly.iter().all(|h| matches!(h, Some(None))) {
            self.problem(&entry, "hourly", "no hour has a temperature; write at least one");
        } else if hourly.len() > MOST_HOURS {
            let text = format!("more than {MOST_HOURS} hours; leave out what is not needed");
            self.problem(&entry, "hourly", text);
        }
        let hourly: Option<Vec<_>> = hourly.into_iter().collect();
        Some(Some(Forecast { from: from?, hourly: hourly?, gust: typed.gust?, sky: typed.sky? }))
    }

    fn exposure(&mut self) -> Option<Exposure> {
        let typed: exposure::Text = self.table_or_empty("exposure")?;
        let read = typed.read(self, &Entry::single("exposure"), "");
        Some(Exposure { standard: read.standard?, reflection: read.reflection? })
    }

    fn packs(&mut self) -> Vec<Option<Pack>> {
        self.list::<pack::Text>("pack")
            .into_iter()
            .map(|(entry, typed)| {
                let read = typed?.read(self, &entry, "");
                Some(Pack {
                    name: read.name,
                    chemistry: read.chemistry?,
                    cells: read.cells?,
                    strings: read.strings?,
                    capacity: read.capacity?,
                    age_years: read.age?,
                    weight: read.weight?,
                })
            })
            .collect()
    }

    fn other_channels(&mut self) -> Vec<Option<OtherChannel>> {
        self.list::<other_channel::Text>("other_channel")
            .into_iter()
            .map(|(entry, typed)| {
                let read = typed?.read(self, &entry, "");
                Some(OtherChannel {
                    name: read.name,
                    owner: read.owner?,
                    receive: read.receive?,
                    transmit: read.transmit?,
                    bandwidth: read.bandwidth?,
                })
            })
            .collect()
    }
}
