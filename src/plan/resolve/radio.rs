//! Radios with their antennas and feed lines.

use super::quantity::LENGTHS;
use super::{Check, Entry};
use crate::typed::{FeedLineText, Quantity, RadioText};
use crate::{Antenna, Bandwidth, CABLES, Cable, Carry, FeedLine, Pattern, Radio};
use perchline_units::Db;

const CARRIES: &[(&str, Carry)] =
    &[("head", Carry::Head), ("shoulder", Carry::Shoulder), ("hip", Carry::Hip)];

const PATTERNS: &[(&str, Pattern)] = &[
    ("isotropic", Pattern::Isotropic),
    ("dipole", Pattern::Dipole),
    ("collinear", Pattern::Collinear),
];

impl Check<'_> {
    /// Every radio; `None` in the place of a wrong one.
    pub(super) fn radios(&mut self) -> Vec<Option<Radio>> {
        self.list::<RadioText>("radio")
            .into_iter()
            .map(|(entry, typed)| self.radio(&entry, typed?))
            .collect()
    }

    fn radio(&mut self, entry: &Entry, typed: RadioText) -> Option<Radio> {
        let power = self.power(entry, "power", &typed.power);
        let gain = self.gain(entry, "antenna.gain", &typed.antenna.gain);
        let pattern = self.word(entry, "antenna.pattern", &typed.antenna.pattern, PATTERNS);
        let feed_line = match &typed.feed_line {
            Some(line) => self.feed_line(entry, line),
            None => Some(FeedLine::None),
        };
        let filter_loss = match &typed.filter_loss {
            Some(loss) => self.decibels(entry, "filter_loss", loss, 0.0..=20.0),
            None => Some(Db::new(0.0)),
        };
        let sensitivity = self.sensitivity(entry, "sensitivity", &typed.sensitivity);
        let bandwidth = self.bandwidth(entry, &typed.bandwidth);
        let carry = self.carry(entry, typed.carry.as_ref());
        let body_loss = match &typed.body_loss {
            Some(loss) => self.decibels(entry, "body_loss", loss, 0.0..=40.0).map(Some),
            None => Some(None),
        };
        if typed.body_loss.is_some() && typed.carry.is_none() {
            let text = "a body loss is of a carried radio; say how it is carried with carry = \
                        \"head\", \"shoulder\" or \"hip\", or leave it out";
            self.problem(entry, "body_loss", text);
        }
        let antenna_height = match &typed.antenna_height {
            Some(height) => {
                let highest = if typed.carry.is_some() { 4.0 } else { 60.0 };
                self.length_in(entry, "antenna_height", height, LENGTHS, 0.3..=highest).map(Some)
            }
            None => Some(None),
        };
        Some(Radio {
            name: typed.name,
            power: power?,
            antenna: Antenna { gain: gain?, pattern: pattern? },
            feed_line: feed_line?,
            filter_loss: filter_loss?,
            sensitivity: sensitivity?,
            bandwidth: bandwidth?,
            carry: carry?,
            body_loss: body_loss?,
            antenna_height: antenna_height?,
        })
    }

    fn feed_line(&mut self, entry: &Entry, typed: &FeedLineText) -> Option<FeedLine> {
        match (&typed.loss, &typed.cable, &typed.length) {
            (Some(loss), None, None) => {
                self.decibels(entry, "feed_line.loss", loss, 0.0..=30.0).map(FeedLine::Loss)
            }
            (None, Some(name), Some(length)) => {
                let cable = self.cable(entry, name);
                let length =
                    self.length_in(entry, "feed_line.length", length, LENGTHS, 0.0..=500.0)?;
                if length.value() > 100.0 {
                    let text = format!("{length:.0} of cable is unusually long; is it right?");
                    self.remark(entry, "feed_line.length", text);
                }
                Some(FeedLine::Cable { cable: cable?, length })
            }
            _ => {
                let text = "a feed line is { loss = \"1 dB\" } or { type = \"RG-58\", length = \
                            \"3 m\" }, one or the other";
                self.problem(entry, "feed_line", text);
                None
            }
        }
    }

    fn cable(&mut self, entry: &Entry, name: &str) -> Option<&'static Cable> {
        let words: Vec<(&str, &'static Cable)> = CABLES.iter().map(|c| (c.name, c)).collect();
        self.word(entry, "feed_line.type", name, &words)
    }

    fn bandwidth(&mut self, entry: &Entry, typed: &Quantity) -> Option<Bandwidth> {
        let (value, _) = self.number(entry, "bandwidth", typed, &["kHz"])?;
        let widths = [Bandwidth::Narrow, Bandwidth::Wide];
        let found = widths.into_iter().find(|b| (b.channel().value() - value).abs() < 1e-9);
        if found.is_none() {
            let text = format!(
                "{value} kHz is not a bandwidth that is known; write \"12.5 kHz\" or \"25 kHz\""
            );
            self.problem(entry, "bandwidth", text);
        }
        found
    }

    /// How something is carried; the outer `None` is a problem.
    pub(super) fn carry(&mut self, entry: &Entry, typed: Option<&String>) -> Option<Option<Carry>> {
        match typed {
            Some(word) => self.word(entry, "carry", word, CARRIES).map(Some),
            None => Some(None),
        }
    }
}
