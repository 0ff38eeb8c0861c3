//! ln likelihood of one report, with its slopes and curvatures.
//!
//! In the mean of y, m (dB), and t = ln sigma, where the error's deviation is
//! s = sqrt(sigma² + known²).
//!
//! For y between a and b, standardised to (a - m) / s and (b - m) / s, with D
//! the share between and A, B the densities at the bounds over D:
//!
//! * L = ln D, g = B - A, h = bB - aA, q = b²B - a²A, c = b³B - a³A
//! * dL/dm = -g / s, dL/ds = -h / s
//! * d²L/dm² = -(h + g²) / s², d²L/dm ds = (g - q - gh) / s²,
//!   d²L/ds² = (2h - c - h²) / s²
//!
//! and of the curvature in m the slopes
//!
//! * d³L/dm³ = -(q - g + 3gh + 2g³) / s³
//! * d³L/dm² ds = (2(h + g²) - (c - h + h² + 2g(q + gh))) / s³
//!
//! For a level that is r above its mean: L = -ln s - r² / 2s² - ln(2 pi) / 2.
//!
//! A report that may be a gross error has, with the share e of those and their own
//! likelihood Q, which no parameter moves, L* = ln((1 - e) exp L + e Q). With the
//! chance w = (1 - e) exp(L - L*) that it is none, and for any two parameters
//!
//! * dL* = w dL, d²L* = w (d²L + (1 - w) dL dL)
//! * d³L*/dm² dx = w (d³L/dm² dx + (1 - w) (dL/dx d²L/dm² + 2 dL/dm d²L/dm dx)
//!   + (1 - w) (1 - 2w) dL/dx (dL/dm)²)

use std::f64::consts::PI;

use super::normal;
use super::observation::{Evidence, GROSS_SD};

/// A value, its gradient and its Hessian in (m, t).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    pub value: f64,
    pub by_mean: f64,
    pub by_log: f64,
    pub mean_mean: f64,
    pub mean_log: f64,
    pub log_log: f64,
    /// Slopes of `mean_mean`.
    pub mean_mean_mean: f64,
    pub mean_mean_log: f64,
}

/// Slopes in (m, s) before they are turned into those in (m, t).
struct Raw {
    value: f64,
    m: f64,
    s: f64,
    mm: f64,
    ms: f64,
    ss: f64,
    mmm: f64,
    mms: f64,
}

/// The term of `evidence` on a margin whose median is predicted as `predicted`
/// and corrected to `mean`, all in dB.
pub(super) fn term(evidence: Evidence, predicted: f64, mean: f64, sigma: f64, local: f64) -> Term {
    match evidence {
        Evidence::Works(true) => within(0.0, f64::INFINITY, mean, sigma, local),
        Evidence::Works(false) => within(f64::NEG_INFINITY, 0.0, mean, sigma, local),
        Evidence::Between { low, high } => {
            let low = low.map_or(f64::NEG_INFINITY, |low| low.value());
            let high = high.map_or(f64::INFINITY, |high| high.value());
            within(low, high, mean, sigma, local)
        }
        Evidence::Level { excess, spread } => {
            let s = sigma.hypot(local).hypot(spread.value());
            let r = excess.value() - (mean - predicted);
            let z = r / s;
            let raw = Raw {
                value: -s.ln() - 0.5 * z * z - 0.5 * (2.0 * PI).ln(),
                m: z / s,
                s: (z * z - 1.0) / s,
                mm: -1.0 / (s * s),
                ms: -2.0 * z / (s * s),
                ss: (1.0 - 3.0 * z * z) / (s * s),
                mmm: 0.0,
                mms: 2.0 / (s * s * s),
            };
            raw.in_log(sigma, s)
        }
    }
}

/// ln likelihood of `evidence` that has nothing to do with the link: a flat battery, a
/// wrong channel, a slip of the pen. Yes and no are as likely as each other; a level
/// or a margin between two bounds lies about what is `predicted`, [`GROSS_SD`] off.
pub(super) fn log_gross(evidence: Evidence, predicted: f64) -> f64 {
    match evidence {
        Evidence::Between { low: Some(low), high: Some(high) } => {
            let at = |bound: f64| (bound - predicted) / GROSS_SD.value();
            normal::between(at(low.value()), at(high.value())).log_share
        }
        Evidence::Works(_) | Evidence::Between { .. } => 0.5f64.ln(),
        Evidence::Level { excess, spread } => {
            let s = GROSS_SD.value().hypot(spread.value());
            -s.ln() - 0.5 * (excess.value() / s).powi(2) - 0.5 * (2.0 * PI).ln()
        }
    }
}

impl Term {
    /// ln likelihood of the report, where the share `gross` of reports are gross
    /// errors and this one would have `log_gross` as such, and the chance that it is
    /// none.
    fn mixture(&self, gross: f64, log_gross: f64) -> (f64, f64) {
        let (sound, wrong) = ((-gross).ln_1p() + self.value, gross.ln() + log_gross);
        let most = sound.max(wrong);
        let value = most + ((sound - most).exp() + (wrong - most).exp()).ln();
        (value, (sound - value).exp())
    }

    /// Chance, 0 to 1, that the report is a gross error.
    pub(super) fn chance_of_gross(&self, gross: f64, log_gross: f64) -> f64 {
        1.0 - self.mixture(gross, log_gross).1
    }

    /// The term of the same report where it may be a gross error.
    pub(super) fn mixed(self, gross: f64, log_gross: f64) -> Self {
        let (value, w) = self.mixture(gross, log_gross);
        let not = 1.0 - w;
        let (m, t) = (self.by_mean, self.by_log);
        // With w at nothing the rest may be as large as it likes.
        let part = |of: f64| if w > 0.0 { w * of } else { 0.0 };
        let third = |x: f64, cubed: f64, across: f64| {
            cubed + not * (x * self.mean_mean + 2.0 * m * across) + not * (not - w) * x * m * m
        };
        Self {
            value,
            by_mean: part(m),
            by_log: part(t),
            mean_mean: part(self.mean_mean + not * m * m),
            mean_log: part(self.mean_log + not * m * t),
            log_log: part(self.log_log + not * t * t),
            mean_mean_mean: part(third(m, self.mean_mean_mean, self.mean_mean)),
            mean_mean_log: part(third(t, self.mean_mean_log, self.mean_log)),
        }
    }
}

fn within(low: f64, high: f64, mean: f64, sigma: f64, local: f64) -> Term {
    let s = sigma.hypot(local);
    let (a, b) = ((low - mean) / s, (high - mean) / s);
    let share = normal::between(a, b);
    // A bound at infinity weighs nothing, whatever power multiplies it.
    let powers = |at: f64, z: f64| match z.is_finite() {
        true => [at, at * z, at * (z * z), at * (z * z * z)],
        false => [0.0; 4],
    };
    let (high, low) = (powers(share.at_high, b), powers(share.at_low, a));
    let [g, h, q, c] = std::array::from_fn(|n| high[n] - low[n]);
    let raw = Raw {
        value: share.log_share,
        m: -g / s,
        s: -h / s,
        mm: -(h + g * g) / (s * s),
        ms: (g - q - g * h) / (s * s),
        ss: (2.0 * h - c - h * h) / (s * s),
        mmm: -(q - g + 3.0 * g * h + 2.0 * g * g * g) / (s * s * s),
        mms: (2.0 * (h + g * g) - (c - h + h * h + 2.0 * g * (q + g * h))) / (s * s * s),
    };
    raw.in_log(sigma, s)
}

impl Raw {
    /// By the chain rule: ds/dt = sigma² / s, d²s/dt² = ds/dt (2 - sigma² / s²).
    fn in_log(self, sigma: f64, s: f64) -> Term {
        let part = sigma / s;
        let once = sigma * part;
        let twice = once * (2.0 - part * part);
        Term {
            value: self.value,
            by_mean: self.m,
            by_log: self.s * once,
            mean_mean: self.mm,
            mean_log: self.ms * once,
            log_log: self.ss * once * once + self.s * twice,
            mean_mean_mean: self.mmm,
            mean_mean_log: self.mms * once,
        }
    }
}
