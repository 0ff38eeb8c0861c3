//! How to predict and what to demand.

use super::{Check, Entry, if_stated};
use crate::typed::prediction;
use crate::{Calibration, Prediction};

impl Check<'_> {
    /// How to predict; the first of `methods` is the default.
    pub(super) fn prediction(&mut self, methods: &[&str]) -> Option<Prediction> {
        let typed: prediction::Text = self.table_or_empty("prediction")?;
        let entry = Entry::single("prediction");
        let both_bend = typed.k_factor.is_some() && typed.delta_n.is_some();
        let k_stated = typed.k_factor.is_some();
        let read = typed.read(self, &entry, "");
        let words: Vec<(&str, &str)> = methods.iter().map(|name| (*name, *name)).collect();
        let method = match &read.method {
            Some(method) => self.word(&entry, "method", method, &words),
            None => methods.first().copied(),
        };
        if both_bend {
            let text = "k_factor and delta_n both say how rays bend; state one of them and \
                        delete the other";
            self.problem(&entry, "delta_n", text);
        }
        let k_factor = match read.delta_n.flatten() {
            Some(lapse) if !k_stated => Some(lapse.k_factor()),
            _ => read.k_factor,
        };
        self.houses(&entry, read.surroundings, [read.roof_height, read.street_width]);
        let calibration =
            if_stated(read.calibration.as_ref(), |file| self.calibration(&entry, file));
        let mut prediction = read.with(prediction::Resolved {
            method: method.map(str::to_owned),
            k_factor,
            calibration: Some(None),
        })?;
        if let Some(calibration) = calibration? {
            prediction.calibrate(calibration);
        }
        Some(prediction)
    }

    /// The corrections in a file that the plan names.
    fn calibration(&mut self, entry: &Entry, typed: &str) -> Option<Calibration> {
        let file = self.local_file(entry, "calibration", typed)?;
        match Calibration::read(&file) {
            Ok((calibration, input)) => {
                self.drew_from(input);
                Some(calibration)
            }
            Err(text) => {
                self.problem(entry, "calibration", text);
                None
            }
        }
    }
}
