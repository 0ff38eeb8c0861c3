//! How to predict and what to demand.

use std::ops::RangeInclusive;

use super::{Check, Entry};
use crate::typed::{PredictionText, Quantity};
use crate::{AudioQuality, Calibration, Environment, Prediction};
use perchline_units::{Db, Percent, Polarization, Refractivity, RefractivityLapse};

/// Effective-earth factor of the standard atmosphere, 4/3 (ITU-R P.526, section 2).
const STANDARD_K: f64 = 4.0 / 3.0;

/// Share of locations where the plan is silent.
const DEFAULT_RELIABILITY: f64 = 0.95;

/// What a packet needs above the 12 dB SINAD point (common practice, no source).
const DEFAULT_PACKET: Db = Db::new(10.0);

/// What `delta_n` may be. The world's maps of its median lie well inside (ITU-R
/// P.453 figures, from memory), and a fall is counted as positive.
const LAPSES: RangeInclusive<f64> = 0.0..=120.0;

/// What `n0` may be, and where the plan is silent: about the middle of the world's
/// maps (ITU-R P.453 figures, from memory).
const REFRACTIVITIES: RangeInclusive<f64> = 250.0..=400.0;
const DEFAULT_N0: Refractivity = Refractivity::new(325.0);

/// Shares of time for which P.1812 is given, in percent (section 1), and the
/// median where the plan is silent.
const TIMES: RangeInclusive<f64> = 1.0..=50.0;
const DEFAULT_TIME: Percent = Percent::new(50.0);

/// The words for an environment.
const ENVIRONMENTS: &[(&str, Environment)] = &[
    ("city", Environment::City),
    ("residential", Environment::Residential),
    ("rural", Environment::Rural),
    ("quiet-rural", Environment::QuietRural),
];

impl Check<'_> {
    /// How to predict; the first of `methods` is the default.
    pub(super) fn prediction(&mut self, methods: &[&str]) -> Option<Prediction> {
        let typed: PredictionText =
            if self.has("prediction") { self.table("prediction")? } else { Default::default() };
        let entry = Entry::single("prediction");
        let words: Vec<(&str, &str)> = methods.iter().map(|name| (*name, *name)).collect();
        let method = match &typed.method {
            Some(method) => self.word(&entry, "method", method, &words),
            None => methods.first().copied(),
        };
        let k_stated = typed.k_factor.map(|k| self.plain(&entry, "k_factor", k, 0.5..=10.0));
        let delta_n = match &typed.delta_n {
            Some(lapse) => self
                .ranged(&entry, "delta_n", lapse, "N/km", LAPSES)
                .map(|lapse| Some(RefractivityLapse::new(lapse))),
            None => Some(None),
        };
        if typed.k_factor.is_some() && typed.delta_n.is_some() {
            let text = "k_factor and delta_n both say how rays bend; state one of them and \
                        delete the other";
            self.problem(&entry, "delta_n", text);
        }
        let k_factor = match (k_stated, delta_n.flatten()) {
            (Some(k), _) => k,
            (None, Some(lapse)) => Some(lapse.k_factor()),
            (None, None) => Some(STANDARD_K),
        };
        let n0 = match &typed.n0 {
            Some(n0) => self.ranged(&entry, "n0", n0, "N", REFRACTIVITIES).map(Refractivity::new),
            None => Some(DEFAULT_N0),
        };
        let time = match &typed.time_percent {
            Some(time) => self.ranged(&entry, "time_percent", time, "%", TIMES).map(Percent::new),
            None => Some(DEFAULT_TIME),
        };
        let waves =
            [("vertical", Polarization::Vertical), ("horizontal", Polarization::Horizontal)];
        let polarization = match &typed.polarization {
            Some(word) => self.word(&entry, "polarization", word, &waves),
            None => Some(Polarization::Vertical),
        };
        let audio_quality = match &typed.audio_quality {
            Some(quality) => self.audio_quality(&entry, quality),
            None => Some(AudioQuality::Daq34),
        };
        let reliability = match &typed.reliability {
            Some(share) => self
                .ranged(&entry, "reliability", share, "%", 50.0..=99.9)
                .map(|percent| percent / 100.0),
            None => Some(DEFAULT_RELIABILITY),
        };
        let variability = match &typed.variability {
            Some(spread) => self.decibels(&entry, "variability", spread, 0.0..=20.0).map(Some),
            None => Some(None),
        };
        let model_error = match &typed.model_error {
            Some(error) => self.decibels(&entry, "model_error", error, 0.0..=20.0),
            None => Some(Db::new(0.0)),
        };
        let environment = match &typed.environment {
            Some(word) => self.word(&entry, "environment", word, ENVIRONMENTS),
            None => Some(Environment::Residential),
        };
        let packet_over_sinad = match &typed.packet_over_sinad {
            Some(need) => self.decibels(&entry, "packet_over_sinad", need, -10.0..=30.0),
            None => Some(DEFAULT_PACKET),
        };
        let calibration = match &typed.calibration {
            Some(file) => self.calibration(&entry, file).map(Some),
            None => Some(None),
        };
        let mut prediction = Prediction {
            calibration: None,
            method: method?.to_owned(),
            k_factor: k_factor?,
            delta_n: delta_n?,
            n0: n0?,
            time: time?,
            polarization: polarization?,
            audio_quality: audio_quality?,
            reliability: reliability?,
            variability: variability?,
            model_error: model_error?,
            environment: environment?,
            packet_over_sinad: packet_over_sinad?,
        };
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

    fn audio_quality(&mut self, entry: &Entry, typed: &Quantity) -> Option<AudioQuality> {
        let (Quantity::Text(text) | Quantity::Bare(text)) = typed;
        let steps = [
            ("3.0", AudioQuality::Daq30),
            ("3.4", AudioQuality::Daq34),
            ("4.0", AudioQuality::Daq40),
        ];
        // "3" and 3.0 are the same step.
        let text = match text.trim() {
            "3" => "3.0",
            "4" => "4.0",
            other => other,
        };
        self.word(entry, "audio_quality", text, &steps)
    }

    /// An environment that an entry states for itself; the outer `None` is a problem.
    pub(super) fn environment(
        &mut self,
        entry: &Entry,
        typed: Option<&String>,
    ) -> Option<Option<Environment>> {
        match typed {
            Some(word) => self.word(entry, "environment", word, ENVIRONMENTS).map(Some),
            None => Some(None),
        }
    }
}
