//! Powered stations: currents, traffic, supply and place on the roof.

use super::check::quoted;
use super::quantity::LENGTHS;
use super::{Check, Entry};
use crate::typed::{
    ConverterText, CurrentsText, ExtraText, OnRoofText, SolarText, StationText, SupplyText,
    TrafficText,
};
use crate::{
    Channel, Converter, Currents, Event, Extra, OnRoof, Pack, Solar, Stands, Station, Supply,
    Traffic,
};
use perchline_units::{Metres, Ohms, Volts, Watts};

/// Longest time for which a station may be on.
const LONGEST_HOURS: f64 = 31.0 * 24.0;

/// Share of a panel's rating that reaches the pack where the plan is silent:
/// controller, heat, dirt and a panel that lies as it lies (common practice, no source).
const PANEL_EFFICIENCY: f64 = 0.7;

impl Check<'_> {
    /// Every station; `None` in the place of a wrong one.
    pub(super) fn stations(
        &mut self,
        event: Option<&Event>,
        channels: &[Option<Channel>],
        packs: &[Option<Pack>],
    ) -> Vec<Option<Station>> {
        let typed = self.list::<StationText>("station");
        let leaning: Vec<bool> =
            typed.iter().map(|(_, t)| t.as_ref().is_some_and(|t| t.beside.is_some())).collect();
        typed
            .into_iter()
            .map(|(entry, typed)| self.station_of(&entry, typed?, event, channels, packs, &leaning))
            .collect()
    }

    fn station_of(
        &mut self,
        entry: &Entry,
        typed: StationText,
        event: Option<&Event>,
        channels: &[Option<Channel>],
        packs: &[Option<Pack>],
        leaning: &[bool],
    ) -> Option<Station> {
        let channel = self.entry_named(entry, "channel", "channel", &typed.channel);
        if let Some(Some(Some(simplex))) = channel.map(|index| channels.get(index))
            && !simplex.has_station()
        {
            let text = format!(
                "{} runs from radio to radio and has no station; name a relay or packet channel",
                quoted(&typed.channel)
            );
            self.problem(entry, "channel", text);
        }
        let stands = self.stands(entry, &typed, leaning);
        let zone = event.map(|e| e.starts.time_zone().clone());
        let on = match &typed.on {
            Some(on) => self.moment(entry, "on", on, zone.as_ref()),
            None => event.map(|e| e.starts.clone()),
        };
        let off = match &typed.off {
            Some(off) => self.moment(entry, "off", off, zone.as_ref()),
            None => event.map(|e| e.tear_down.clone()),
        };
        if let (Some(on), Some(off)) = (&on, &off) {
            let seconds = off.timestamp().as_second() - on.timestamp().as_second();
            let field = if typed.off.is_some() { "off" } else { "on" };
            if seconds <= 0 {
                let text = format!(
                    "it is switched off at {} but on at {}",
                    off.strftime("%Y-%m-%d %H:%M"),
                    on.strftime("%Y-%m-%d %H:%M")
                );
                self.problem(entry, field, text);
            } else if seconds as f64 / 3600.0 > LONGEST_HOURS {
                self.problem(entry, field, "it is on for more than 31 days; is a date wrong?");
            }
        }
        let currents = self.currents(entry, &typed.currents);
        let extras: Vec<_> = typed
            .extra
            .iter()
            .flatten()
            .enumerate()
            .map(|(index, extra)| self.extra(entry, index, extra))
            .collect();
        let extras: Option<Vec<_>> = extras.into_iter().collect();
        let traffic = self.traffic(entry, &typed.traffic);
        let supply = self.supply(entry, &typed.supply, packs);
        let roof = self.on_roof(entry, typed.roof.unwrap_or_default());
        Some(Station {
            name: typed.name,
            channel: channel?,
            stands: stands?,
            on: on?,
            off: off?,
            currents: currents?,
            extras: extras?,
            traffic: traffic?,
            supply: supply?,
            roof: roof?,
        })
    }

    fn stands(&mut self, entry: &Entry, typed: &StationText, leaning: &[bool]) -> Option<Stands> {
        match (&typed.site, &typed.beside) {
            (None, None) => Some(Stands::Anywhere),
            (Some(site), None) => self.entry_named(entry, "site", "site", site).map(Stands::On),
            (None, Some(name)) => {
                let other = self.entry_named(entry, "beside", "station", name)?;
                if leaning.get(other) == Some(&true) {
                    let text = format!(
                        "{} itself says that it stands beside another station; name that one",
                        quoted(name)
                    );
                    self.problem(entry, "beside", text);
                    return None;
                }
                Some(Stands::Beside(other))
            }
            (Some(_), Some(_)) => {
                let text = "a station has a site or stands beside another one, not both; leave \
                            one out";
                self.problem(entry, "beside", text);
                None
            }
        }
    }

    /// Currents of a radio.
    pub(super) fn currents(&mut self, entry: &Entry, typed: &CurrentsText) -> Option<Currents> {
        let transmit = self.current(entry, "currents.transmit", &typed.transmit);
        let receive = self.current(entry, "currents.receive", &typed.receive);
        let standby = self.current(entry, "currents.standby", &typed.standby);
        let found = Currents { transmit: transmit?, receive: receive?, standby: standby? };
        if found.transmit < found.receive || found.receive < found.standby {
            let text = format!(
                "transmit {}, receive {}, standby {}: they most often fall in this order; are two \
                 exchanged?",
                found.transmit, found.receive, found.standby
            );
            self.remark(entry, "currents", text);
        }
        Some(found)
    }

    fn extra(&mut self, entry: &Entry, index: usize, typed: &ExtraText) -> Option<Extra> {
        self.name(entry, &format!("extra[{index}].name"), &typed.name);
        let current = self.current(entry, &format!("extra[{index}].current"), &typed.current);
        let share = match &typed.share {
            Some(share) => self.share(entry, &format!("extra[{index}].share"), share),
            None => Some(1.0),
        };
        Some(Extra { name: typed.name.clone(), current: current?, share: share? })
    }

    /// How busy a radio is.
    pub(super) fn traffic(&mut self, entry: &Entry, typed: &TrafficText) -> Option<Traffic> {
        let packets = [&typed.heard, &typed.repeated, &typed.packet];
        let traffic = match (&typed.keyed, &typed.listening, packets) {
            (Some(keyed), Some(listening), [None, None, None]) => {
                let keyed = self.share(entry, "traffic.keyed", keyed);
                let listening = self.share(entry, "traffic.listening", listening);
                Traffic { keyed: keyed?, listening: listening? }
            }
            (None, None, [Some(heard), Some(repeated), Some(packet)]) => {
                let heard = self.ranged(entry, "traffic.heard", heard, "/h", 0.0..=36_000.0);
                let repeated =
                    self.ranged(entry, "traffic.repeated", repeated, "/h", 0.0..=36_000.0);
                let units = [("s", 1.0), ("ms", 1e-3)];
                let packet = self.scaled(entry, "traffic.packet", packet, &units, 0.01..=30.0);
                let (heard, repeated, packet) = (heard?, repeated?, packet?);
                if repeated > heard {
                    let text = format!(
                        "{repeated} packets an hour are repeated and only {heard} heard; a \
                         digipeater repeats no more than it hears (count its own beacons with \
                         the heard ones)"
                    );
                    self.problem(entry, "traffic.repeated", text);
                    return None;
                }
                Traffic { keyed: repeated * packet / 3600.0, listening: heard * packet / 3600.0 }
            }
            _ => {
                let text = "traffic is { keyed = \"25 %\", listening = \"10 %\" } for voice or \
                            { heard = \"240 /h\", repeated = \"160 /h\", packet = \"0.9 s\" } for \
                            packet, one or the other";
                self.problem(entry, "traffic", text);
                return None;
            }
        };
        let busy = traffic.keyed + traffic.listening;
        if busy > 1.0 {
            let text = format!(
                "keyed {:.0} % and listening {:.0} % of the time are more than all of it",
                traffic.keyed * 100.0,
                traffic.listening * 100.0
            );
            self.problem(entry, "traffic", text);
            return None;
        }
        Some(traffic)
    }

    fn supply(
        &mut self,
        entry: &Entry,
        typed: &SupplyText,
        packs: &[Option<Pack>],
    ) -> Option<Supply> {
        let pack = self.entry_named(entry, "supply.pack", "pack", &typed.pack);
        let count = self.whole(entry, "supply.count", typed.count.unwrap_or(1), 1..=40);
        let spares = self.whole(entry, "supply.spares", typed.spares.unwrap_or(0), 0..=40);
        let cut_out = self.cut_out(entry, "supply.cut_out", &typed.cut_out, pack, packs);
        let lead = match &typed.lead {
            Some(lead) => {
                let units = [("ohm", 1.0), ("mohm", 1e-3)];
                self.scaled(entry, "supply.lead", lead, &units, 0.0..=10.0)
            }
            None => Some(0.0),
        };
        let converter = match &typed.converter {
            Some(converter) => self.converter(entry, converter).map(Some),
            None => Some(None),
        };
        let solar = match &typed.solar {
            Some(solar) => self.solar(entry, solar).map(Some),
            None => Some(None),
        };
        let kept_at = match &typed.kept_at {
            Some(kept) => self.temperature(entry, "supply.kept_at", kept).map(Some),
            None => Some(None),
        };
        Some(Supply {
            pack: pack?,
            count: count?,
            spares: spares?,
            cut_out: cut_out?,
            lead: Ohms::new(lead?),
            converter: converter?,
            solar: solar?,
            kept_at: kept_at?,
        })
    }

    /// A cut-out that the pack can be above.
    pub(super) fn cut_out(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &crate::typed::Quantity,
        pack: Option<usize>,
        packs: &[Option<Pack>],
    ) -> Option<Volts> {
        let cut_out = self.scaled(entry, field, typed, &[("V", 1.0)], 0.5..=100.0)?;
        if let Some(Some(Some(pack))) = pack.map(|index| packs.get(index)) {
            let nominal = pack.nominal();
            if cut_out >= nominal.value() {
                let text = format!(
                    "{cut_out} V is not under the {nominal:.1} of {} ({} cells in series): it \
                     would never run; check the number of cells and the cut-out",
                    quoted(&pack.name),
                    pack.cells
                );
                self.problem(entry, field, text);
                return None;
            }
        }
        Some(Volts::new(cut_out))
    }

    fn converter(&mut self, entry: &Entry, typed: &ConverterText) -> Option<Converter> {
        let output = self.scaled(
            entry,
            "supply.converter.output",
            &typed.output,
            &[("V", 1.0)],
            1.0..=100.0,
        );
        let efficiency =
            self.ranged(entry, "supply.converter.efficiency", &typed.efficiency, "%", 10.0..=100.0);
        Some(Converter { output: Volts::new(output?), efficiency: efficiency? / 100.0 })
    }

    fn solar(&mut self, entry: &Entry, typed: &SolarText) -> Option<Solar> {
        let rating =
            self.scaled(entry, "supply.solar.rating", &typed.rating, &[("W", 1.0)], 0.1..=2000.0);
        let efficiency = match &typed.efficiency {
            Some(efficiency) => self.share(entry, "supply.solar.efficiency", efficiency),
            None => Some(PANEL_EFFICIENCY),
        };
        Some(Solar { rating: Watts::new(rating?), efficiency: efficiency? })
    }

    fn on_roof(&mut self, entry: &Entry, typed: OnRoofText) -> Option<OnRoof> {
        let aside = |check: &mut Self, field: &str, typed: &Option<_>| match typed {
            Some(length) => check.length_in(entry, field, length, LENGTHS, -200.0..=200.0),
            None => Some(Metres::new(0.0)),
        };
        let east = aside(self, "roof.east", &typed.east);
        let north = aside(self, "roof.north", &typed.north);
        let antenna = match &typed.antenna {
            Some(height) => {
                self.length_in(entry, "roof.antenna", height, LENGTHS, 0.0..=60.0).map(Some)
            }
            None => Some(None),
        };
        let level = |check: &mut Self, field: &str, typed: &Option<_>| match typed {
            Some(level) => check.decibels(entry, field, level, 0.0..=180.0).map(Some),
            None => Some(None),
        };
        let duplexer = level(self, "roof.duplexer", &typed.duplexer);
        let receive_filter = level(self, "roof.receive_filter", &typed.receive_filter);
        let transmit_filter = level(self, "roof.transmit_filter", &typed.transmit_filter);
        let noise = level(self, "roof.noise_below_carrier", &typed.noise_below_carrier);
        let rejection = level(self, "roof.rejection", &typed.rejection);
        let wind_area_m2 = match &typed.wind_area {
            Some(area) => {
                self.scaled(entry, "roof.wind_area", area, &[("m2", 1.0)], 0.001..=20.0).map(Some)
            }
            None => Some(None),
        };
        Some(OnRoof {
            east: east?,
            north: north?,
            antenna: antenna?,
            duplexer: duplexer?,
            receive_filter: receive_filter?,
            transmit_filter: transmit_filter?,
            noise_below_carrier: noise?,
            rejection: rejection?,
            wind_area_m2: wind_area_m2?,
        })
    }
}
