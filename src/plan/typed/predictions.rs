//! How losses are predicted, as typed.

use super::FILE;
use super::measures::{CLUTTER, ENVIRONMENT, ROOF_HEIGHT, STREET_WIDTH, decibels, share};
use crate::field::{
    AnyText, Choice, LeftOptional, Measure, Number, Optional, Steps, Units, Usual, left_optional,
    measure, number, optional, table, usual,
};
use crate::{AudioQuality, Calibration, ClutterClass, Environment};
use perchline_units::{Db, Metres, Percent, Polarization, Refractivity, RefractivityLapse};

table! {
    /// How losses are predicted and what counts as working.
    #[derive(Debug, Clone)]
    prediction as Prediction {
        /// Propagation method.
        method: LeftOptional<AnyText> => String = left_optional(AnyText, ""),
        /// Effective-earth factor (ITU-R P.526, section 2).
        k_factor: Usual<Number<f64>> => f64, "0.5 to 10: as stated, or as `delta_n` makes it." =
            usual(number(0.5, 10.0, |k| k), 4.0 / 3.0).shown("4/3"),
        /// Fall of the air's refractivity in the lowest kilometre, in place of
        /// `k_factor`.
        delta_n: Optional<Measure<RefractivityLapse>> as Option<RefractivityLapse> =
            optional(measure(LAPSES, 0.0, 120.0, RefractivityLapse::new), "`k_factor` governs")
                .note(
                    "the median fall as ITU-R P.1812 and P.452 have it, positive where it falls; \
                     k = 157 / (157 - `delta_n`)",
                )
                .such_as(&["45 N/km"])
                .allowed("most places have 30 to 80"),
        /// Refractivity of the air at sea level, which `p1812` alone counts.
        n0: Usual<Measure<Refractivity>> as Refractivity =
            usual(measure(&[("N", |v| v)], 250.0, 400.0, Refractivity::new), 325.0)
                .source("about the middle of the world's maps: ITU-R P.453 figures, from memory")
                .such_as(&["325 N"]),
        /// Share of an average year for which losses hold, which `p1812` alone
        /// counts.
        time = "time_percent": Usual<Measure<Percent>> as Percent =
            usual(measure(&[("%", |v| v)], 1.0, 50.0, Percent::new), 50.0)
                .source("the median; the range is that of ITU-R P.1812, section 1")
                .such_as(&["50 %"]),
        /// Polarization of the antennas.
        polarization: Usual<Choice<Polarization>> as Polarization =
            usual(WAVES, Polarization::Vertical),
        /// Delivered audio quality wanted.
        audio_quality: Usual<Steps<AudioQuality>> as AudioQuality =
            usual(QUALITIES, AudioQuality::Daq34),
        /// Share of locations that must work.
        reliability: Usual<Measure<f64>> as f64, "0.5 to 0.999." = usual(share(50.0, 99.9), 95.0)
            .such_as(&["95 %"]),
        /// Standard deviation of the location variability.
        variability: Optional<Measure<Db>> as Option<Db> = optional(
            decibels(0.0, 20.0),
            "5.6 dB, or with `p1812` its own",
        )
        .shown(
            "`\"5.6 dB\"` (TIA TSB-88 practice, from memory); with `p1812` that method's own, \
             see [link.md](link.md)",
        )
        .such_as(&["5.6 dB"]),
        /// Standard deviation of what the method gets wrong.
        model_error: Optional<Measure<Db>> as Option<Db> = optional(
            decibels(0.0, 20.0),
            "5 dB, or with `p1812` what makes the whole spread the same",
        )
        .note("on top of `variability`; the same for all spots of a place")
        .shown(
            "`\"5 dB\"` (from measured hand-helds, see [link.md](link.md)); with `p1812` what \
             makes the whole spread as large as that of the other methods",
        )
        .such_as(&["5 dB"]),
        /// Radio noise around every place that does not state its own.
        environment: Usual<Choice<Environment>> as Environment =
            usual(ENVIRONMENT, Environment::Residential),
        /// What stands around every place, where neither footprints nor land cover say it.
        surroundings: Optional<Choice<ClutterClass>> as Option<ClutterClass> =
            optional(CLUTTER, "unknown: bare ground, which every result then says"),
        /// Height of its roofs, with `surroundings`.
        roof_height: Optional<Measure<Metres>> as Option<Metres> =
            optional(ROOF_HEIGHT, "that of the class: 5, 10 or 15 m").such_as(&["12 m"]),
        /// Width of its streets, with `surroundings`.
        street_width: Optional<Measure<Metres>> as Option<Metres> =
            optional(STREET_WIDTH, "27 m").such_as(&["20 m"]),
        /// What a packet needs above the 12 dB SINAD point.
        packet_over_sinad: Usual<Measure<Db>> as Db = usual(decibels(-10.0, 30.0), 10.0)
            .source("common practice, no source")
            .such_as(&["10 dB"]),
        /// A file of corrections that `perchline debrief` wrote after an earlier
        /// event.
        calibration: LeftOptional<AnyText> => Option<Calibration> = left_optional(AnyText, "none")
            .note("its model error takes the place of `model_error` ([debrief.md](debrief.md))")
            .such_as(&["calibration.toml"])
            .allowed(FILE),
    }
}

/// A fall is counted as positive. The world's maps of its median lie well inside
/// the range of the field (ITU-R P.453 figures, from memory).
const LAPSES: Units = &[("N/km", |v| v)];

const WAVES: Choice<Polarization> =
    Choice(&[("vertical", Polarization::Vertical), ("horizontal", Polarization::Horizontal)]);

pub(super) const QUALITIES: Steps<AudioQuality> = Steps(&[
    (AudioQuality::Daq30.word(), AudioQuality::Daq30),
    (AudioQuality::Daq34.word(), AudioQuality::Daq34),
    (AudioQuality::Daq40.word(), AudioQuality::Daq40),
]);
