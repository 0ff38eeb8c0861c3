//! Channels and the radios at their ends.

use super::check::quoted;
use super::{Check, Entry};
use crate::typed::{ChannelKind, channel};
use crate::{Channel, Radio, Service};

impl Check<'_> {
    /// Every channel; `None` in the place of a wrong one.
    pub(super) fn channels(&mut self, radios: &[Option<Radio>]) -> Vec<Option<Channel>> {
        self.each("channel", |check, entry, typed: channel::Text| {
            check.channel(entry, typed, radios)
        })
    }

    fn channel(
        &mut self,
        entry: &Entry,
        typed: channel::Text,
        radios: &[Option<Radio>],
    ) -> Option<Channel> {
        let word = typed.service.clone();
        let given = [
            ("input", typed.input.is_some()),
            ("output", typed.output.is_some()),
            ("frequency", typed.frequency.is_some()),
            ("station", typed.station.is_some()),
        ];
        let of_packet = [
            ("background", typed.background_an_hour.is_some()),
            ("hops", typed.hops.is_some_and(|hops| hops != 1)),
        ];
        let read = typed.read(self, entry, "");
        let carried = self.carried(entry, &read.carried, radios);
        let kind = read.service?;
        for (field, given) in given {
            let needed = match field {
                "input" | "output" => kind == ChannelKind::Relay,
                "frequency" => kind != ChannelKind::Relay,
                _ => kind != ChannelKind::Simplex,
            };
            if needed && !given {
                let text = format!("this is missing, and every {word} channel needs it");
                self.problem(entry, field, text);
            } else if given && !needed {
                let text = format!("a {word} channel has none; leave it out");
                self.problem(entry, field, text);
            }
        }
        for (field, given) in of_packet {
            if given && kind != ChannelKind::Packet {
                let text = format!("a {word} channel carries no beacons; leave it out");
                self.problem(entry, field, text);
            }
        }
        let (input, output) = (read.input.flatten(), read.output.flatten());
        let frequency = read.frequency.flatten();
        let station = match &read.station {
            Some(name) => self.station(entry, name, radios),
            None => None,
        };
        if let (Some(input), Some(output)) = (input, output)
            && input == output
        {
            let text = "a relay's input and output differ, and both are given as the same \
                        frequency; for one frequency use kind = \"simplex\"";
            self.problem(entry, "output", text);
            return None;
        }
        let service = match kind {
            ChannelKind::Relay => {
                Service::Relay { input: input?, output: output?, station: station? }
            }
            ChannelKind::Simplex => Service::Simplex { frequency: frequency? },
            ChannelKind::Packet => Service::Packet { frequency: frequency?, station: station? },
        };
        read.with(channel::Resolved { service: Some(service), carried })
    }

    fn carried(&mut self, entry: &Entry, name: &str, radios: &[Option<Radio>]) -> Option<usize> {
        let index = self.radio_named(entry, "carried", name)?;
        if radios.get(index).is_some_and(|r| r.as_ref().is_some_and(|r| r.carry.is_none())) {
            let text = format!(
                "{} does not say how it is carried; give that radio carry = \"head\", \"shoulder\" \
                 or \"hip\"",
                quoted(name)
            );
            self.problem(entry, "carried", text);
            return None;
        }
        Some(index)
    }

    fn station(&mut self, entry: &Entry, name: &str, radios: &[Option<Radio>]) -> Option<usize> {
        let index = self.radio_named(entry, "station", name)?;
        if radios.get(index).is_some_and(|r| r.as_ref().is_some_and(|r| r.carry.is_some())) {
            let text = format!(
                "{} is carried by a person and cannot be the station on a roof; name a radio \
                 without carry",
                quoted(name)
            );
            self.problem(entry, "station", text);
            return None;
        }
        Some(index)
    }
}
