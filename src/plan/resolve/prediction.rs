//! How to predict and what to demand.

use super::{Check, Entry};
use crate::plan::typed::{PredictionText, Quantity};
use crate::plan::{AudioQuality, Environment, Prediction};
use crate::units::{Db, Polarization};

/// Effective-earth factor of the standard atmosphere, 4/3 (ITU-R P.526, section 2).
const STANDARD_K: f64 = 4.0 / 3.0;

/// Share of locations where the plan is silent.
const DEFAULT_RELIABILITY: f64 = 0.95;

/// What a packet needs above the 12 dB SINAD point (common practice, no source).
const DEFAULT_PACKET: Db = Db::new(10.0);

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
        let k_factor = match typed.k_factor {
            Some(k) => self.plain(&entry, "k_factor", k, 0.5..=10.0),
            None => Some(STANDARD_K),
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
        Some(Prediction {
            method: method?.to_owned(),
            k_factor: k_factor?,
            polarization: polarization?,
            audio_quality: audio_quality?,
            reliability: reliability?,
            variability: variability?,
            model_error: model_error?,
            environment: environment?,
            packet_over_sinad: packet_over_sinad?,
        })
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
