//! Radios with their antennas and feed lines.

use super::{Check, Entry};
use crate::field::Part;
use crate::typed::{band, feed_line, radio};
use crate::{Band, FeedLine, Radio};
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
        let bands = self.bands(entry, read.bands.clone(), carried);
        read.with(radio::Resolved { feed_line, antenna_height, bands })
    }

    /// The bands of a radio; `None` if one is wrong or two have frequencies in
    /// common.
    fn bands(
        &mut self,
        entry: &Entry,
        typed: Option<Vec<band::Text>>,
        carried: bool,
    ) -> Option<Vec<Band>> {
        let bands: Vec<Option<Band>> = typed
            .into_iter()
            .flatten()
            .enumerate()
            .map(|(index, band)| band.part(self, entry, &format!("band[{index}].")))
            .collect();
        let mut fit = true;
        for (index, band) in bands.iter().enumerate() {
            let Some(band) = band else { continue };
            let field = |name: &str| format!("band[{index}].{name}");
            if band.to <= band.from {
                let text = format!(
                    "ends at {:.3}, not above {:.3} where it begins; a band runs from its lowest frequency to its highest",
                    band.to, band.from
                );
                self.problem(entry, &field("to"), text);
                fit = false;
            }
            if !carried && band.body_loss.is_some() {
                let text = "a body loss is of a carried radio; say how the radio is carried or leave it out";
                self.problem(entry, &field("body_loss"), text);
                fit = false;
            }
            if band.gain.is_none() && band.body_loss.is_none() {
                let text = "a band states what is otherwise on it: gain, body_loss or both";
                self.problem(entry, &field("from"), text);
                fit = false;
            }
            let before = bands.iter().take(index).flatten();
            if let Some(other) = before.clone().find(|o| band.from <= o.to && o.from <= band.to) {
                let text = format!(
                    "shares frequencies with the band from {:.3} to {:.3}; each frequency has one gain",
                    other.from, other.to
                );
                self.problem(entry, &field("from"), text);
                fit = false;
            }
        }
        let bands: Option<Vec<Band>> = bands.into_iter().collect();
        bands.filter(|_| fit)
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
