//! Raster layers that many threads write, each cell once.

use std::sync::atomic::{AtomicU8, AtomicU32, Ordering};

use ndarray::Array2;

/// A layer of numbers. A cell that nobody wrote is not a number.
pub(super) struct Numbers(Vec<AtomicU32>);

/// A layer of small codes; 0 where nobody wrote.
pub(super) struct Codes(Vec<AtomicU8>);

impl Numbers {
    pub(super) fn new(cells: usize) -> Self {
        // Pages of zeros come free until they are touched, and by the thread
        // that touches them.
        Self(vec![0u32; cells].into_iter().map(AtomicU32::new).collect())
    }

    #[inline(always)]
    pub(super) fn set(&self, cell: usize, value: f32) {
        if let Some(slot) = self.0.get(cell) {
            slot.store(value.to_bits(), Ordering::Relaxed);
        }
    }

    /// The layer, row by row. With `partly`, cells that nobody wrote become
    /// not-a-number; a loss or margin of exactly +0 would too, which is why a
    /// whole layer is not searched for them.
    pub(super) fn into_array(self, shape: (usize, usize), partly: bool) -> Array2<f32> {
        let mut numbers: Vec<f32> =
            self.0.into_iter().map(|slot| f32::from_bits(slot.into_inner())).collect();
        if partly {
            for number in numbers.iter_mut().filter(|n| n.to_bits() == 0) {
                *number = f32::NAN;
            }
        }
        numbers.resize(shape.0 * shape.1, f32::NAN);
        Array2::from_shape_vec(shape, numbers).unwrap_or_default()
    }
}

impl Codes {
    pub(super) fn new(cells: usize) -> Self {
        Self(vec![0u8; cells].into_iter().map(AtomicU8::new).collect())
    }

    #[inline(always)]
    pub(super) fn set(&self, cell: usize, code: u8) {
        if let Some(slot) = self.0.get(cell) {
            slot.store(code, Ordering::Relaxed);
        }
    }

    /// The layer, row by row, each code as what it stands for.
    pub(super) fn into_array<T: Clone>(
        self,
        shape: (usize, usize),
        meaning: impl Fn(u8) -> T,
    ) -> Array2<T> {
        let mut codes: Vec<T> = self.0.into_iter().map(|slot| meaning(slot.into_inner())).collect();
        codes.resize(shape.0 * shape.1, meaning(0));
        Array2::from_shape_vec(shape, codes)
            .unwrap_or_else(|_| Array2::from_elem(shape, meaning(0)))
    }
}
