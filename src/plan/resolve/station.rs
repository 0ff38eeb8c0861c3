//! Powered stations: currents, traffic, supply and place on the roof.

use super::check::quoted;
use super::{Check, Entry};
use crate::field::Part;
use crate::typed::{extra, station, supply, traffic};
use crate::{
    Channel, Currents, Event, Extra, OnRoof, Pack, Site, Stands, Station, StationMast, Supply,
    Tracker, Traffic,
};
use perchline_units::{Metres, Volts};

/// A statement that differs by more than this share from what follows from the rest
/// of the plan contradicts it (ours).
const CONTRADICTS: f64 = 0.2;

/// Longest time for which a station may be on.
const LONGEST_HOURS: f64 = 31.0 * 24.0;

/// What else the plan says, as far as it could be read.
struct Known<'a> {
    event: Option<&'a Event>,
    channels: &'a [Option<Channel>],
    trackers: &'a [Option<Tracker>],
    packs: &'a [Option<Pack>],
    sites: &'a [Option<Site>],
    /// Which stations stand beside another.
    leaning: &'a [bool],
    /// The channel of each station.
    stations_on: &'a [Option<usize>],
}

impl Known<'_> {
    /// The traffic of a digipeater on a channel that hears and repeats all that the
    /// channel's trackers and others send, and hears all that the channel's other
    /// digipeaters repeat.
    fn beacons(&self, channel: usize) -> Traffic {
        let own = self.trackers.iter().flatten().filter(|tracker| tracker.channel == channel);
        let rate = |t: &Tracker| f64::from(t.count) / t.every.value();
        let stated = self.channels.get(channel).and_then(Option::as_ref);
        let others = stated.map_or(0.0, Channel::background_rate);
        let an_hour = (own.clone().map(rate).sum::<f64>() + others) * 3600.0;
        let sent = own.map(|t| rate(t) * t.packet.value()).sum::<f64>()
            + others * Channel::USUAL_PACKET.value();
        let digipeaters = self.stations_on.iter().filter(|on| **on == Some(channel)).count();
        let repeats = stated.map_or(1.0, |c| c.repeats(digipeaters));
        let neighbours = digipeaters.saturating_sub(1) as f64;
        let (keyed, listening) = (sent * repeats, sent * (1.0 + neighbours * repeats));
        let beacons_an_hour = (an_hour > 0.0).then_some(an_hour);
        Traffic {
            keyed: keyed.min(Traffic::MOST),
            listening: listening.min(Traffic::MOST),
            beacons_an_hour,
            is_counted: true,
        }
    }
}

impl Check<'_> {
    /// Every station; `None` in the place of a wrong one.
    pub(super) fn stations(
        &mut self,
        event: Option<&Event>,
        channels: &[Option<Channel>],
        trackers: &[Option<Tracker>],
        packs: &[Option<Pack>],
        sites: &[Option<Site>],
    ) -> Vec<Option<Station>> {
        let typed = self.list::<station::Text>("station");
        let leaning: Vec<bool> =
            typed.iter().map(|(_, t)| t.as_ref().is_some_and(|t| t.beside.is_some())).collect();
        let named = |name: &str| {
            let of = |channel: &Option<Channel>| {
                channel.as_ref().is_some_and(|c| c.name.eq_ignore_ascii_case(name))
            };
            channels.iter().position(of)
        };
        let stations_on: Vec<Option<usize>> =
            typed.iter().map(|(_, t)| named(&t.as_ref()?.channel)).collect();
        let (leaning, stations_on) = (&leaning, &stations_on);
        let known = Known { event, channels, trackers, packs, sites, leaning, stations_on };
        typed.into_iter().map(|(entry, typed)| self.station_of(&entry, typed?, &known)).collect()
    }

    fn station_of(
        &mut self,
        entry: &Entry,
        typed: station::Text,
        known: &Known<'_>,
    ) -> Option<Station> {
        let Known { event, channels, packs, leaning, .. } = *known;
        let read = typed.read(self, entry, "");
        let channel = self.entry_named(entry, "channel", "channel", &read.channel);
        if let Some(Some(Some(simplex))) = channel.map(|index| channels.get(index))
            && !simplex.has_station()
        {
            let text = format!(
                "{} runs from radio to radio and has no station; name a relay or packet channel",
                quoted(&read.channel)
            );
            self.problem(entry, "channel", text);
        }
        let stands = self.stands(entry, read.stands.as_deref(), read.beside.as_deref(), leaning);
        if read.noise_floor.flatten().is_some() && read.stands.is_none() {
            let text = "a noise floor is measured at a place: say with site where that was";
            self.problem(entry, "noise_floor", text);
        }
        let zone = event.map(|e| e.starts.time_zone().clone());
        let on = match &read.on {
            Some(on) => self.moment(entry, "on", on, zone.as_ref()),
            None => event.map(|e| e.starts.clone()),
        };
        let off = match &read.off {
            Some(off) => self.moment(entry, "off", off, zone.as_ref()),
            None => event.map(|e| e.tear_down.clone()),
        };
        if let (Some(on), Some(off)) = (&on, &off) {
            let seconds = off.timestamp().as_second() - on.timestamp().as_second();
            let field = if read.off.is_some() { "off" } else { "on" };
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
        self.question_currents(entry, read.currents);
        let extras = self.extras(entry, read.extras.clone());
        let beacons = channel.map(|channel| known.beacons(channel));
        let traffic = match read.traffic.clone() {
            Some(traffic) => self.traffic(entry, traffic).inspect(|stated| {
                self.hold_against(entry, stated, beacons);
            }),
            None => beacons.and_then(|beacons| self.counted(entry, known, beacons)),
        };
        let supply = self.supply(entry, read.supply.clone(), packs);
        let roof = read.roof.map(Option::unwrap_or_default);
        let items = self.items(entry, read.items.clone());
        if let Some(Some(StationMast { ballast: Some(_), .. })) = read.mast {
            self.ballast_of_a_mast(entry, stands, roof, known.sites);
        }
        read.with(station::Resolved {
            channel,
            stands,
            on,
            off,
            extras,
            traffic,
            supply,
            roof,
            items,
        })
    }

    /// Tells of ballast where the antenna stands on the roof itself.
    fn ballast_of_a_mast(
        &mut self,
        entry: &Entry,
        stands: Option<Stands>,
        roof: Option<OnRoof>,
        sites: &[Option<Site>],
    ) {
        let none = Metres::new(0.0);
        let of_roof = roof.and_then(|roof| roof.antenna);
        let of_site = match stands {
            Some(Stands::On(site)) => sites.get(site).and_then(Option::as_ref),
            _ => None,
        };
        let text = match (of_roof, of_site) {
            (Some(height), _) if height <= none => "ballast holds a mast, and roof.antenna says \
                that the antenna stands on the roof itself; give the mast's height there or leave \
                ballast out"
                .to_owned(),
            (None, Some(site)) if site.mast <= none => format!(
                "ballast holds a mast, and {} has mast = \"0 m\"; give the mast's height there or \
                 leave ballast out",
                quoted(&site.name)
            ),
            _ => return,
        };
        self.problem(entry, "mast.ballast", text);
    }

    fn extras(&mut self, entry: &Entry, typed: Option<Vec<extra::Text>>) -> Option<Vec<Extra>> {
        let typed = typed.into_iter().flatten().enumerate();
        let extras: Vec<_> = typed
            .map(|(index, extra)| extra.part(self, entry, &format!("extra[{index}].")))
            .collect();
        extras.into_iter().collect()
    }

    fn stands(
        &mut self,
        entry: &Entry,
        site: Option<&str>,
        beside: Option<&str>,
        leaning: &[bool],
    ) -> Option<Stands> {
        match (site, beside) {
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

    /// Remarks currents that are seldom meant.
    pub(super) fn question_currents(&mut self, entry: &Entry, currents: Option<Currents>) {
        let Some(Currents { transmit, receive, standby }) = currents else { return };
        if transmit < receive || receive < standby {
            let text = format!(
                "transmit {transmit}, receive {receive}, standby {standby}: they most often fall in \
                 this order; are two exchanged?"
            );
            self.remark(entry, "currents", text);
        }
    }

    /// Remarks traffic that is stated otherwise than the plan's trackers make it, by
    /// more than a fifth.
    fn hold_against(&mut self, entry: &Entry, stated: &Traffic, beacons: Option<Traffic>) {
        let sent = beacons.and_then(|beacons| beacons.beacons_an_hour);
        let (Some(heard), Some(sent)) = (stated.beacons_an_hour, sent) else { return };
        let what = if heard < sent * (1.0 - CONTRADICTS) {
            "if it hears them all its pack ends sooner than told; leave traffic out to count these"
        } else if heard > sent * (1.0 + CONTRADICTS) {
            "if others send the rest state them as background of the channel and leave traffic out"
        } else {
            return;
        };
        let text = format!(
            "{heard:.0} beacons an hour are stated as heard, and the plan's trackers and the \
             channel's background come to {sent:.0}: {what}"
        );
        self.remark(entry, "traffic", text);
    }

    /// The traffic of a station that states none: all that its trackers send.
    fn counted(&mut self, entry: &Entry, known: &Known<'_>, beacons: Traffic) -> Option<Traffic> {
        if beacons.beacons_an_hour.is_some() {
            return Some(beacons);
        }
        // A tracker that cannot be read may be the one, and is told itself.
        if known.trackers.iter().all(Option::is_some) {
            let text = "how busy the station is has to be stated: the plan has no trackers on its \
                        channel to count; add traffic = { keyed = \"25 %\", listening = \"10 %\" } \
                        for voice, { heard = \"240 /h\", repeated = \"160 /h\", packet = \"0.9 s\" } \
                        for packet";
            self.problem(entry, "traffic", text);
        }
        None
    }

    /// How busy a radio is.
    pub(super) fn traffic(&mut self, entry: &Entry, typed: traffic::Text) -> Option<Traffic> {
        let voice = [typed.keyed.is_some(), typed.listening.is_some()];
        let packets = [typed.heard.is_some(), typed.repeated.is_some(), typed.packet.is_some()];
        let read = typed.read(self, entry, "traffic.");
        let traffic = match (voice, packets) {
            ([true, true], [false, false, false]) => {
                let (keyed, listening) = (read.keyed??, read.listening??);
                Traffic { keyed, listening, beacons_an_hour: None, is_counted: false }
            }
            ([false, false], [true, true, true]) => {
                let (heard, repeated) = (read.heard??, read.repeated??);
                let packet = read.packet??.value();
                if repeated > heard {
                    let text = format!(
                        "{repeated} packets an hour are repeated and only {heard} heard; a \
                         digipeater repeats no more than it hears (count its own beacons with \
                         the heard ones)"
                    );
                    self.problem(entry, "traffic.repeated", text);
                    return None;
                }
                Traffic {
                    keyed: repeated * packet / 3600.0,
                    listening: heard * packet / 3600.0,
                    beacons_an_hour: Some(heard),
                    is_counted: false,
                }
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
        typed: supply::Text,
        packs: &[Option<Pack>],
    ) -> Option<Supply> {
        let read = typed.read(self, entry, "supply.");
        let pack = self.entry_named(entry, "supply.pack", "pack", &read.pack);
        self.check_cutoff(entry, "supply.cutoff", read.cutoff, pack, packs);
        read.with(supply::Resolved { pack })
    }

    /// Tells of a low-voltage cutoff that the pack is never above.
    pub(super) fn check_cutoff(
        &mut self,
        entry: &Entry,
        field: &str,
        cutoff: Option<Volts>,
        pack: Option<usize>,
        packs: &[Option<Pack>],
    ) {
        let Some(Some(pack)) = pack.and_then(|index| packs.get(index)) else { return };
        let nominal = pack.nominal();
        if let Some(cutoff) = cutoff.filter(|cutoff| *cutoff >= nominal) {
            let text = format!(
                "{cutoff} is not under the {nominal:.1} of {} ({} cells in series): it would never \
                 run; check the number of cells and the low-voltage cutoff",
                quoted(&pack.name),
                pack.cells
            );
            self.problem(entry, field, text);
        }
    }
}
