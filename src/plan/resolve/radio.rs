//! Radios with their antennas and feed lines.

use super::{Check, Entry};
use crate::typed::{feed_line, radio};
use crate::{FeedLine, Radio};
use perchline_units::{Dbm, Metres};

/// No antenna that a person carries is higher than this.
const HIGHEST_CARRIED: Metres = Metres::new(4.0);

impl Check<'_> {
    /// Every radio; `None` in the place of a wrong one.
    pub(super) fn radios(&mut self) -> Vec<Option<Radio>> {
        self.each("radio", Self::radio)
    }

    fn radio(&mut self, entry: &Entry, typed: radio::Text) -> Option<Radio> {
        let read = typed.read(self, entry, "");
        if let Some(power) = read.power {
            self.question_power(entry, power);
        }
        let feed_line = match read.feed_line.clone() {
            Some(line) => self.feed_line(entry, line),
            None => Some(FeedLine::None),
        };
        // A carry that was refused is one too.
        let carried = read.carry.is_none_or(|carry| carry.is_some());
        if !carried && read.body_loss.is_none_or(|loss| loss.is_some()) {
            let text = "a body loss is of a carried radio; say how it is carried with carry = \
                        \"head\", \"shoulder\" or \"hip\", or leave it out";
            self.problem(entry, "body_loss", text);
        }
        let antenna_height = match &read.antenna_height {
            Some(Some(height)) if carried && height.value > HIGHEST_CARRIED => {
                let text = format!(
                    "{} is out of range; 0.3 to {} m is allowed where a person carries it",
                    height.quoted,
                    HIGHEST_CARRIED.value()
                );
                self.problem(entry, "antenna_height", text);
                None
            }
            height => height.as_ref().map(|height| height.as_ref().map(|height| height.value)),
        };
        read.with(radio::Resolved { feed_line, antenna_height })
    }

    /// Remarks an output that is seldom meant.
    fn question_power(&mut self, entry: &Entry, power: Dbm) {
        let watts = power.watts();
        if watts > 200.0 {
            let text = format!("{watts:.0} W is a lot for a relay or a hand-held; is it right?");
            self.remark(entry, "power", text);
        } else if watts < 0.01 {
            let text = format!("{:.3} mW is very little; is it right?", watts * 1e3);
            self.remark(entry, "power", text);
        }
    }

    fn feed_line(&mut self, entry: &Entry, typed: feed_line::Text) -> Option<FeedLine> {
        let stated = (typed.loss.is_some(), typed.r#type.is_some(), typed.length.is_some());
        if !matches!(stated, (true, false, false) | (false, true, true)) {
            let text = "a feed line is { loss = \"1 dB\" } or { type = \"RG-58\", length = \
                        \"3 m\" }, one or the other";
            self.problem(entry, "feed_line", text);
            return None;
        }
        let read = typed.read(self, entry, "feed_line.");
        if let Some(loss) = read.loss? {
            return Some(FeedLine::Loss(loss));
        }
        let length = read.length??;
        if length.value() > 100.0 {
            let text = format!("{length:.0} of cable is unusually long; is it right?");
            self.remark(entry, "feed_line.length", text);
        }
        Some(FeedLine::Cable { cable: read.r#type??, length })
    }
}
