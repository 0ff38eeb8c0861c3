//! Forecast, exposure, packs and the channels of others.

use super::{Check, Entry};
use crate::Tracker;
use crate::field::{FieldCheck, Part, Plain};
use crate::typed::{MOST_HOURS, Quantity, TEMPERATURE, exposure, forecast, other_channel, pack};
use crate::{Channel, Event, Exposure, Forecast, PowerInputs, Site};

impl Check<'_> {
    /// Everything on power; `None` together with a problem.
    pub(super) fn power_inputs(
        &mut self,
        event: Option<&Event>,
        channels: &[Option<Channel>],
        trackers: &[Option<Tracker>],
        sites: &[Option<Site>],
    ) -> Option<PowerInputs> {
        let forecast = self.forecast(event);
        let exposure = self.exposure();
        let packs =
            self.each("pack", |check, entry, typed: pack::Text| typed.part(check, entry, ""));
        let stations = self.stations(event, channels, trackers, &packs, sites);
        let crews = self.crews(event, &packs);
        let other_channels = self
            .each("other_channel", |check, entry, typed: other_channel::Text| {
                typed.part(check, entry, "")
            });
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
        let read = typed.read(self, &entry, "");
        let zone = event.map(|e| e.starts.time_zone().clone());
        let from = self.moment(&entry, "from", &read.from, zone.as_ref());
        let mut hourly = Vec::new();
        for (index, value) in read.hourly.iter().enumerate() {
            let unknown = matches!(value, Quantity::Text(text) if text.trim() == "?");
            hourly.push(if unknown {
                Some(None)
            } else {
                let field = format!("hourly[{index}]");
                let mut check = FieldCheck::new(self, &entry, &field);
                TEMPERATURE.read(&mut check, value.clone()).map(Some)
            });
        }
        if hourly.iter().all(|h| matches!(h, Some(None))) {
            self.problem(&entry, "hourly", "no hour has a temperature; write at least one");
        } else if hourly.len() > MOST_HOURS {
            let text = format!("more than {MOST_HOURS} hours; leave out what is not needed");
            self.problem(&entry, "hourly", text);
        }
        let hourly = hourly.into_iter().collect();
        read.with(forecast::Resolved { from, hourly }).map(Some)
    }

    fn exposure(&mut self) -> Option<Exposure> {
        let typed: exposure::Text = self.table_or_empty("exposure")?;
        typed.part(self, &Entry::single("exposure"), "")
    }
}
