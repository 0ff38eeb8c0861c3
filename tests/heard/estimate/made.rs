//! Logs made up from a known truth, from a seed.

use perchline::heard::estimate::{
    Estimate, Evidence, Observation, Part, Prior, Priors, SigmaPrior,
};
use perchline::units::Db;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

pub fn prior(mean: f64, sd: f64) -> Prior {
    Prior { mean: Db::new(mean), sd: Db::new(sd) }
}

/// What a plan may hold: four classes, three ways to carry.
pub fn priors() -> Priors {
    Priors {
        offsets: vec![prior(0.0, 4.0); 4],
        bodies: vec![prior(0.0, 3.0); 3],
        sigma: SigmaPrior { median: Db::new(5.6), ln_sd: 0.25 },
    }
}

pub fn works(class: usize, carry: Option<usize>, margin: f64, works: bool) -> Observation {
    let (margin, local) = (Db::new(margin), Db::new(0.0));
    Observation { class, carry, margin, local, evidence: Evidence::Works(works) }
}

pub fn parts(found: &Estimate) -> impl Iterator<Item = Part> + '_ {
    found.offsets.iter().chain(&found.bodies).chain([&found.sigma]).copied()
}

/// Made-up reports, from a seed.
pub struct Made(Pcg64Mcg);

impl Made {
    pub fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn below(&mut self, count: usize) -> usize {
        self.between(0.0, count as f64) as usize
    }

    /// Offsets, bodies and ln sigma as the priors have them.
    pub fn truth(&mut self, priors: &Priors) -> Vec<f64> {
        let linear: Vec<_> = priors.offsets.iter().chain(&priors.bodies).copied().collect();
        let mut truth: Vec<_> =
            linear.iter().map(|p| p.mean.value() + p.sd.value() * self.normal()).collect();
        truth.push(priors.sigma.median.value().ln() + priors.sigma.ln_sd * self.normal());
        truth
    }

    pub fn report(&mut self, truth: &[f64]) -> Observation {
        let (class, carry) = (self.below(4), self.below(4).checked_sub(1));
        let (margin, local) = (self.between(-15.0, 25.0), [0.0, 0.0, 2.0, 4.0][self.below(4)]);
        let shift = truth[class] - carry.map_or(0.0, |carry| truth[4 + carry]);
        let y = margin + shift + truth[7].exp().hypot(local) * self.normal();
        let evidence = match self.below(20) {
            0..12 => Evidence::Works(y > 0.0),
            // Heard with noise, well, or without any.
            12..17 => {
                let cuts = [None, Some(-6.0), Some(0.0), Some(7.0), Some(14.0), None];
                let bound = |at: usize| cuts[at].map(Db::new);
                let at = (1..5).take_while(|at| cuts[*at].is_some_and(|cut| y > cut)).count();
                Evidence::Between { low: bound(at), high: bound(at + 1) }
            }
            _ => {
                let spread = [1.0, 3.0][self.below(2)];
                let excess = y - margin + spread * self.normal();
                Evidence::Level { excess: Db::new(excess), spread: Db::new(spread) }
            }
        };
        let (margin, local) = (Db::new(margin), Db::new(local));
        Observation { class, carry, margin, local, evidence }
    }

    pub fn log(&mut self, truth: &[f64], reports: usize) -> Vec<Observation> {
        (0..reports).map(|_| self.report(truth)).collect()
    }
}
