//! Packet trackers along routes.

use super::check::quoted;
use super::{Check, Entry};
use crate::typed::tracker;
use crate::{Carry, Channel, Mount, Radio, Service, Tracker};

impl Check<'_> {
    /// Every tracker; `None` in the place of a wrong one.
    pub(super) fn trackers(
        &mut self,
        radios: &[Option<Radio>],
        channels: &[Option<Channel>],
    ) -> Vec<Option<Tracker>> {
        self.each("tracker", |check, entry, typed: tracker::Text| {
            check.tracker(entry, typed, radios, channels)
        })
    }

    fn tracker(
        &mut self,
        entry: &Entry,
        typed: tracker::Text,
        radios: &[Option<Radio>],
        channels: &[Option<Channel>],
    ) -> Option<Tracker> {
        let paced = (typed.pace.is_some(), typed.speed.is_some());
        let read = typed.read(self, entry, "");
        let route = self.entry_named(entry, "route", "route", &read.route);
        let channel = self.packet_channel(entry, read.channel.as_deref(), channels);
        let radio = match &read.radio {
            Some(name) => self.radio_named(entry, "radio", name),
            None => channel.and_then(|c| channels.get(c)?.as_ref()).map(|c| c.carried),
        };
        let radio_stated = radio.and_then(|r| radios.get(r)?.as_ref());
        let mount = match (read.mount, read.carry) {
            (Some(vehicle), Some(carry)) => self.mount(entry, vehicle, carry, radio_stated),
            _ => None,
        };
        if !matches!(paced, (true, false) | (false, true)) {
            let text = "say how fast it goes, with pace = \"6:30 min/km\" or speed = \"15 km/h\", \
                        one or the other";
            self.problem(entry, "pace", text);
        }
        let speed = read.pace.flatten().or(read.speed.flatten());
        let packet = match read.packet {
            Some(None) => {
                let usual = Channel::USUAL_PACKET;
                let text = format!("not stated: a beacon is taken to be {usual} on the air");
                self.remark(entry, "packet", text);
                Some(Channel::USUAL_PACKET)
            }
            stated => stated.flatten(),
        };
        if let (Some(every), Some(packet)) = (read.every, packet)
            && packet >= every
        {
            let text = format!(
                "a beacon of {packet:.1} every {every:.0} never ends; beacon less often or send less"
            );
            self.problem(entry, "every", text);
        }
        read.with(tracker::Resolved { route, channel, radio, mount, speed, packet })
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
}
