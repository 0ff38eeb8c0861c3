//! Numbers by chance, the same for the same seed.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

pub struct Random(Pcg64Mcg);

impl Random {
    /// Those of case `number` of the reader called `name`.
    pub fn of(seed: u64, name: &str, number: u64) -> Self {
        let mut mixed = seed;
        for byte in name.bytes().chain(number.to_le_bytes()) {
            // FNV-1a.
            mixed = (mixed ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
        Self(Pcg64Mcg::seed_from_u64(mixed))
    }

    pub fn word(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Below `end`, 0 where that is 0.
    pub fn below(&mut self, end: usize) -> usize {
        ((u128::from(self.word()) * end as u128) >> 64) as usize
    }

    /// From `first` to `last`, both with it.
    pub fn between(&mut self, first: usize, last: usize) -> usize {
        first + self.below(last + 1 - first)
    }

    /// One time in so many.
    pub fn one_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }

    /// A number between two others.
    pub fn number(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.word() >> 11) as f64 / (1u64 << 53) as f64
    }
}
