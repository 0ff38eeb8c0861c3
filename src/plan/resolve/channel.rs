//! Channels and the radios at their ends.

use super::check::quoted;
use super::{Check, Entry};
use crate::typed::{ChannelText, Quantity};
use crate::{Channel, Radio, Service};
use perchline_units::Megahertz;

/// Access tones of land-mobile FM lie between 67.0 and 254.1 Hz (common practice, no source).
const TONES: std::ops::RangeInclusive<f64> = 60.0..=260.0;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Relay,
    Simplex,
    Packet,
}

const KINDS: &[(&str, Kind)] =
    &[("relay", Kind::Relay), ("simplex", Kind::Simplex), ("packet", Kind::Packet)];

impl Check<'_> {
    /// Every channel; `None` in the place of a wrong one.
    pub(super) fn channels(&mut self, radios: &[Option<Radio>]) -> Vec<Option<Channel>> {
        self.list::<ChannelText>("channel")
            .into_iter()
            .map(|(entry, typed)| self.channel(&entry, typed?, radios))
            .collect()
    }

    fn channel(
        &mut self,
        entry: &Entry,
        typed: ChannelText,
        radios: &[Option<Radio>],
    ) -> Option<Channel> {
        let tone = match &typed.tone {
            Some(tone) => {
                let (low, high) = TONES.into_inner();
                self.ranged(entry, "tone", tone, "Hz", low..=high).map(Some)
            }
            None => Some(None),
        };
        let carried = self.carried(entry, &typed.carried, radios);
        let kind = self.word(entry, "kind", &typed.kind, KINDS)?;
        let fields = [
            ("input", typed.input.is_some(), kind == Kind::Relay),
            ("output", typed.output.is_some(), kind == Kind::Relay),
            ("frequency", typed.frequency.is_some(), kind != Kind::Relay),
            ("station", typed.station.is_some(), kind != Kind::Simplex),
        ];
        for (field, given, needed) in fields {
            if needed && !given {
                let text = format!("this is missing, and every {} channel needs it", typed.kind);
                self.problem(entry, field, text);
            } else if given && !needed {
                let text = format!("a {} channel has none; leave it out", typed.kind);
                self.problem(entry, field, text);
            }
        }
        let input = self.optional_frequency(entry, "input", typed.input.as_ref());
        let output = self.optional_frequency(entry, "output", typed.output.as_ref());
        let frequency = self.optional_frequency(entry, "frequency", typed.frequency.as_ref());
        let station = match &typed.station {
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
            Kind::Relay => Service::Relay { input: input?, output: output?, station: station? },
            Kind::Simplex => Service::Simplex { frequency: frequency? },
            Kind::Packet => Service::Packet { frequency: frequency?, station: station? },
        };
        for (field, text) in [("function", &typed.function), ("users", &typed.users)] {
            if let Some(text) = text {
                self.name(entry, field, text);
            }
        }
        Some(Channel {
            name: typed.name,
            service,
            tone: tone?,
            carried: carried?,
            function: typed.function,
            users: typed.users,
        })
    }

    fn optional_frequency(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: Option<&Quantity>,
    ) -> Option<Megahertz> {
        typed.and_then(|typed| self.frequency(entry, field, typed))
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
