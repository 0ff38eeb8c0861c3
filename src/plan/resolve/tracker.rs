//! Packet trackers along routes.

use super::check::quoted;
use super::quantity::as_typed;
use super::{Check, Entry};
use crate::typed::{Quantity, tracker};
use crate::{Carry, Channel, Mount, Radio, Service, Tracker};
use perchline_units::{METRES_PER_MILE, MetresPerSecond, Seconds};

/// Bits a second on the air of the 1200 baud packet of FM radios.
const BITS_A_SECOND: f64 = 1200.0;

/// Time from keying up to the first byte (common practice, no source).
const KEY_UP: Seconds = Seconds::new(0.3);

/// A beacon of some 90 bytes with its key-up (common practice, no source).
const USUAL_PACKET: Seconds = Seconds::new(0.9);

/// Speeds from a stroll that stops often to a vehicle on a closed road, m/s.
const SPEEDS: std::ops::RangeInclusive<f64> = 0.1..=50.0;

impl Check<'_> {
    /// Every tracker; `None` in the place of a wrong one.
    pub(super) fn trackers(
        &mut self,
        radios: &[Option<Radio>],
        channels: &[Option<Channel>],
    ) -> Vec<Option<Tracker>> {
        self.list::<tracker::Text>("tracker")
            .into_iter()
            .map(|(entry, typed)| self.tracker(&entry, typed?, radios, channels))
            .collect()
    }

    fn tracker(
        &mut self,
        entry: &Entry,
        typed: tracker::Text,
        radios: &[Option<Radio>],
        channels: &[Option<Channel>],
    ) -> Option<Tracker> {
        let typed = typed.read(self, entry, "");
        let route = self.entry_named(entry, "route", "route", &typed.route);
        let channel = self.packet_channel(entry, typed.channel.as_deref(), channels);
        let radio = match &typed.radio {
            Some(name) => self.radio_named(entry, "radio", name),
            None => channel.and_then(|c| channels.get(c)?.as_ref()).map(|c| c.carried),
        };
        let radio_stated = radio.and_then(|r| radios.get(r)?.as_ref());
        let mount = match (typed.vehicle, typed.carry) {
            (Some(vehicle), Some(carry)) => self.mount(entry, vehicle, carry, radio_stated),
            _ => None,
        };
        let speed = self.tracker_speed(entry, typed.pace.as_ref(), typed.speed.as_ref());
        let packet = self.packet(entry, typed.packet.as_ref());
        let (every, packet) = (typed.every?, packet?);
        if packet >= every {
            let text = format!(
                "a beacon of {packet:.1} every {every:.0} never ends; beacon less often or send less"
            );
            self.problem(entry, "every", text);
            return None;
        }
        Some(Tracker {
            name: typed.name,
            count: typed.count?,
            route: route?,
            channel: channel?,
            radio: radio?,
            mount: mount?,
            every,
            packet,
            speed: speed?,
        })
    }

    /// The packet channel with this name, or the plan's only one.
    fn packet_channel(
        &mut self,
        entry: &Entry,
        typed: Option<&str>,
        channels: &[Option<Channel>],
    ) -> Option<usize> {
        let is_packet = |channel: &Channel| matches!(channel.service, Service::Packet { .. });
        if let Some(name) = typed {
            let index = self.entry_named(entry, "channel", "channel", name)?;
            if channels.get(index)?.as_ref().is_some_and(|c| !is_packet(c)) {
                let text = format!("{} carries voice; name a packet channel", quoted(name));
                self.problem(entry, "channel", text);
                return None;
            }
            return Some(index);
        }
        let packet: Vec<usize> = channels
            .iter()
            .enumerate()
            .filter(|(_, c)| c.as_ref().is_some_and(is_packet))
            .map(|(index, _)| index)
            .collect();
        match packet.as_slice() {
            [only] => Some(*only),
            // A channel that was refused may be the one: its own problem is told.
            [] if channels.iter().any(Option::is_none) => None,
            [] => {
                let text = "the plan has no packet channel for its beacons; add a [[channel]] of \
                            kind \"packet\"";
                self.problem(entry, "", text);
                None
            }
            _ => {
                let text = "the plan has several packet channels; say which with channel = \"...\"";
                self.problem(entry, "channel", text);
                None
            }
        }
    }

    fn mount(
        &mut self,
        entry: &Entry,
        vehicle: bool,
        carry: Option<Carry>,
        radio: Option<&Radio>,
    ) -> Option<Mount> {
        match (vehicle, carry) {
            (true, Some(_)) => {
                let text = "it is worn by a person or rides on a vehicle; leave one of carry and \
                            vehicle out";
                self.problem(entry, "vehicle", text);
                None
            }
            (true, None) => Some(Mount::Vehicle),
            (false, Some(carry)) => Some(Mount::Person(carry)),
            (false, None) => {
                let radio = radio?;
                if radio.carry.is_none() {
                    let text = format!(
                        "the radio {} does not say how it is carried; write carry = \"hip\", say, \
                         or vehicle = true",
                        quoted(&radio.name)
                    );
                    self.problem(entry, "carry", text);
                }
                radio.carry.map(Mount::Person)
            }
        }
    }

    /// Speed along the route, from a pace or a speed.
    fn tracker_speed(
        &mut self,
        entry: &Entry,
        pace: Option<&Quantity>,
        speed: Option<&Quantity>,
    ) -> Option<MetresPerSecond> {
        let (field, text, speed) = match (pace, speed) {
            (Some(pace), None) => {
                let units = [("min/km", 1000.0), ("min/mi", METRES_PER_MILE)];
                let minutes = self.number(entry, "pace", &with_minutes(pace), &units.map(|u| u.0));
                let (minutes, unit) = minutes?;
                let metres = units.get(unit).map_or(1000.0, |u| u.1);
                ("pace", pace, metres / (minutes * 60.0))
            }
            (None, Some(speed)) => {
                let units = [("km/h", 1.0 / 3.6), ("m/s", 1.0), ("mph", METRES_PER_MILE / 3600.0)];
                let (value, unit) = self.number(entry, "speed", speed, &units.map(|u| u.0))?;
                ("speed", speed, value * units.get(unit).map_or(1.0, |u| u.1))
            }
            _ => {
                let text = "say how fast it goes, with pace = \"6:30 min/km\" or speed = \"15 km/h\", \
                            one or the other";
                self.problem(entry, "pace", text);
                return None;
            }
        };
        if SPEEDS.contains(&speed) {
            return Some(MetresPerSecond::new(speed));
        }
        let text =
            format!("{} is {:.1} km/h; 0.36 to 180 km/h is allowed", as_typed(text), speed * 3.6);
        self.problem(entry, field, text);
        None
    }

    /// Time on the air of one beacon.
    fn packet(&mut self, entry: &Entry, typed: Option<&Quantity>) -> Option<Seconds> {
        let Some(typed) = typed else {
            let text = format!("not stated: a beacon is taken to be {USUAL_PACKET} on the air");
            self.remark(entry, "packet", text);
            return Some(USUAL_PACKET);
        };
        let (value, unit) = self.number(entry, "packet", typed, &["s", "ms", "bytes"])?;
        let time = match unit {
            0 => Seconds::new(value),
            1 => Seconds::new(value / 1e3),
            _ => Seconds::new(value * 8.0 / BITS_A_SECOND) + KEY_UP,
        };
        let whole = unit < 2 || (1.0..=400.0).contains(&value);
        if whole && (0.05..=10.0).contains(&time.value()) {
            return Some(time);
        }
        let text = format!(
            "{} is out of range; 0.05 to 10 s or 1 to 400 bytes is allowed",
            as_typed(typed)
        );
        self.problem(entry, "packet", text);
        None
    }
}

/// A pace typed as `6:30 min/km` with its minutes in one number.
fn with_minutes(typed: &Quantity) -> Quantity {
    let Quantity::Text(text) = typed else { return typed.clone() };
    let minutes = text.split_once(':').and_then(|(minutes, rest)| {
        let at = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        let (seconds, unit) = rest.split_at(at);
        let (minutes, seconds) =
            (minutes.trim().parse::<u32>().ok()?, seconds.parse::<u32>().ok()?);
        (at == 2 && seconds < 60)
            .then(|| format!("{} {unit}", f64::from(minutes) + f64::from(seconds) / 60.0))
    });
    minutes.map_or_else(|| typed.clone(), Quantity::Text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_and_seconds_become_minutes() {
        let read = |text: &str| match with_minutes(&Quantity::Text(text.to_owned())) {
            Quantity::Text(text) | Quantity::Bare(text) => text,
        };
        assert_eq!(read("6:30 min/km"), "6.5  min/km");
        assert_eq!(read("10:00min/mi"), "10 min/mi");
        // What is no time is left for the reader of quantities to refuse.
        for text in ["6:5 min/km", "6:75 min/km", ":30 min/km", "6.5 min/km", "6:é0 min/km"] {
            assert_eq!(read(text), text);
        }
    }
}
