//! Raster layers that many threads write, each cell once.

use std::sync::atomic::{AtomicU8, AtomicU32, Ordering};

use ndarray::Array2;
use rayon::prelude::*;

/// A layer of numbers; NaN where nobody wrote.
///
/// A number is kept as its bits exclusive-or those of NaN. Memory that nobody
/// wrote holds zeros, so it reads as NaN, and every number, 0.0 among them, is
/// told apart from it.
pub(super) struct NumberLayer(Vec<AtomicU32>);

/// A layer of small codes; 0 where nobody wrote.
pub(super) struct CodeLayer(Vec<AtomicU8>);

/// Cells that a thread turns into numbers at a time.
const CHUNK: usize = 1 << 16;

impl NumberLayer {
    pub(super) fn new(cells: usize) -> Self {
        // Pages of zeros come free until they are touched, and by the thread
        // that touches them.
        Self(vec![0u32; cells].into_iter().map(AtomicU32::new).collect())
    }

    #[inline(always)]
    pub(super) fn set(&self, cell: usize, value: f32) {
        if let Some(slot) = self.0.get(cell) {
            slot.store(value.to_bits() ^ f32::NAN.to_bits(), Ordering::Relaxed);
        }
    }

    /// Several layers, kept cell by cell, as a layer each, row by row.
    pub(super) fn into_arrays(mut self, layers: usize, shape: (usize, usize)) -> Vec<Array2<f32>> {
        let cells = shape.0 * shape.1;
        let mut apart: Vec<Vec<f32>> = (0..layers).map(|_| vec![0.0; cells]).collect();
        // Each chunk of cells is read once and dealt out to its place in every layer.
        let mut chunks: Vec<Vec<&mut [f32]>> = Vec::new();
        for layer in &mut apart {
            for (number, chunk) in layer.chunks_mut(CHUNK).enumerate() {
                match chunks.get_mut(number) {
                    Some(chunks) => chunks.push(chunk),
                    None => chunks.push(vec![chunk]),
                }
            }
        }
        let together = self.0.par_chunks_mut(CHUNK * layers.max(1));
        chunks.par_iter_mut().zip(together).for_each(|(apart, together)| {
            for (cell, numbers) in together.chunks_mut(layers).enumerate() {
                for (layer, number) in apart.iter_mut().zip(numbers) {
                    if let Some(slot) = layer.get_mut(cell) {
                        *slot = f32::from_bits(*number.get_mut() ^ f32::NAN.to_bits());
                    }
                }
            }
        });
        drop(chunks);
        apart
            .into_iter()
            .map(|layer| Array2::from_shape_vec(shape, layer).unwrap_or_default())
            .collect()
    }

    /// The layer, row by row.
    pub(super) fn into_array(mut self, shape: (usize, usize)) -> Array2<f32> {
        self.0.par_chunks_mut(CHUNK).for_each(|chunk| {
            for slot in chunk {
                *slot.get_mut() ^= f32::NAN.to_bits();
            }
        });
        let mut numbers: Vec<f32> =
            self.0.into_iter().map(|slot| f32::from_bits(slot.into_inner())).collect();
        numbers.resize(shape.0 * shape.1, f32::NAN);
        Array2::from_shape_vec(shape, numbers).unwrap_or_default()
    }
}

impl CodeLayer {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn layers_that_were_kept_together_come_apart() {
        let (layers, shape) = (3, (5, 40_001));
        let cells = shape.0 * shape.1;
        let together = NumberLayer::new(layers * cells);
        for cell in (0..cells).step_by(2) {
            for layer in 0..layers {
                together.set(cell * layers + layer, (cell * 10 + layer) as f32);
            }
        }
        let apart = together.into_arrays(layers, shape);
        assert_eq!(apart.len(), layers);
        for (layer, numbers) in apart.iter().enumerate() {
            assert_eq!(numbers.dim(), shape);
            for (cell, number) in numbers.iter().enumerate() {
                if cell % 2 == 0 {
                    assert_eq!(*number, (cell * 10 + layer) as f32);
                } else {
                    assert!(number.is_nan());
                }
            }
        }
    }

    #[test]
    fn every_number_is_kept_and_what_nobody_wrote_is_not_one() {
        let numbers = [0.0, -0.0, 1.5, -130.25, f32::MIN_POSITIVE, f32::INFINITY, f32::NAN];
        let layer = NumberLayer::new(2 * numbers.len());
        for (cell, number) in numbers.iter().enumerate() {
            layer.set(2 * cell, *number);
        }
        let array = layer.into_array((numbers.len(), 2));
        for (row, number) in numbers.iter().enumerate() {
            assert_eq!(array[(row, 0)].to_bits(), number.to_bits());
            assert!(array[(row, 1)].is_nan());
        }
    }
}
