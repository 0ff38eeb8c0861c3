//! Maps that an interrupted run kept, so that the same run continues from there.

use std::fs::{self, File};
use std::io::{BufReader, BufWriter, Read, Seek, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use ndarray::{Array0, Array2, arr0};
use ndarray_npy::{NpzReader, NpzWriter, ReadNpzError, WriteNpzError};

use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_terrain::Grid;
use perchline_units::Dbm;

use super::HIDDEN;

/// How long a run must have taken before its maps are worth keeping.
const LONG: Duration = Duration::from_secs(2);

/// Maps kept beside the results of a long run, as NumPy archives, until those
/// are delivered.
#[derive(Debug)]
pub struct KeptMaps {
    folder: PathBuf,
    began: Instant,
    found: usize,
    kept: usize,
    /// Whether one could not be kept: then none is.
    full: bool,
}

impl KeptMaps {
    /// Maps of the run with this `key`, which tells apart all runs whose maps
    /// differ, for results that go into `out`.
    #[must_use]
    pub fn open(out: &Path, key: &str) -> Self {
        let folder = out.join(format!("{}{key}", prefix()));
        Self { folder, began: Instant::now(), found: 0, kept: 0, full: false }
    }

    /// The map kept under this number; `None` where there is none, or none that
    /// can be read whole and fits `grid`.
    pub fn find(&mut self, number: usize, grid: &Grid) -> Option<Coverage> {
        let file = File::open(self.place(number)).ok()?;
        let coverage = read(BufReader::new(file), grid).ok().flatten()?;
        self.found += 1;
        Some(coverage)
    }

    /// Keeps a map under this number if the run has become a long one. Where one
    /// cannot be kept none is.
    pub fn keep(&mut self, number: usize, coverage: &Coverage) {
        if self.full || self.began.elapsed() < LONG {
            return;
        }
        let keep = || -> Result<(), WriteNpzError> {
            fs::create_dir_all(&self.folder).map_err(ndarray_npy::WriteNpyError::Io)?;
            let mut beside = tempfile::NamedTempFile::new_in(&self.folder)
                .map_err(ndarray_npy::WriteNpyError::Io)?;
            write(BufWriter::new(beside.as_file_mut()), coverage)?;
            beside
                .persist(self.place(number))
                .map_err(|e| ndarray_npy::WriteNpyError::Io(e.error))?;
            Ok(())
        };
        if keep().is_ok() {
            self.kept += 1;
        } else {
            // The room is for the results.
            drop(fs::remove_dir_all(&self.folder));
            (self.full, self.found, self.kept) = (true, 0, 0);
        }
    }

    /// How many maps were found that an earlier run had kept.
    #[must_use]
    pub fn found(&self) -> usize {
        self.found
    }

    /// How many maps a later run would find.
    #[must_use]
    pub fn held(&self) -> usize {
        self.found + self.kept
    }

    fn place(&self, number: usize) -> PathBuf {
        self.folder.join(format!("{number}.npz"))
    }
}

/// Removes all maps that were kept for results that go into `out`.
pub fn forget_maps(out: &Path) {
    let Ok(entries) = fs::read_dir(out) else { return };
    for entry in entries.flatten() {
        if entry.file_name().to_str().is_some_and(|name| name.starts_with(&prefix())) {
            drop(fs::remove_dir_all(entry.path()));
        }
    }
}

fn prefix() -> String {
    format!("{HIDDEN}kept-")
}

fn write(to: impl Write + Seek, coverage: &Coverage) -> Result<(), WriteNpzError> {
    let mut archive = NpzWriter::new(to);
    archive.add_array("talk_in_margin", &coverage.talk_in_margin)?;
    archive.add_array("talk_out_margin", &coverage.talk_out_margin)?;
    archive.add_array("talk_out_wanted", &arr0(coverage.talk_out_wanted.value()))?;
    archive.add_array("probability", &coverage.probability)?;
    archive.add_array("line_of_sight", &coverage.line_of_sight)?;
    archive.add_array("reliability", &arr0(coverage.reliability))?;
    archive.add_array("outcome", &coverage.outcome.mapv(number_of))?;
    archive.add_array("unknown_cells", &arr0(coverage.unknown_cells as u64))?;
    archive.finish()?.flush().map_err(ndarray_npy::WriteNpyError::Io)?;
    Ok(())
}

fn read(from: impl Read + Seek, grid: &Grid) -> Result<Option<Coverage>, ReadNpzError> {
    let mut archive = NpzReader::new(from)?;
    let wanted: Array0<f64> = archive.by_name("talk_out_wanted.npy")?;
    let reliability: Array0<f64> = archive.by_name("reliability.npy")?;
    let unknown_cells: Array0<u64> = archive.by_name("unknown_cells.npy")?;
    let outcomes: Array2<u8> = archive.by_name("outcome.npy")?;
    let coverage = Coverage {
        grid: grid.clone(),
        talk_in_margin: archive.by_name("talk_in_margin.npy")?,
        talk_out_margin: archive.by_name("talk_out_margin.npy")?,
        talk_out_wanted: Dbm::new(wanted.into_scalar()),
        probability: archive.by_name("probability.npy")?,
        line_of_sight: archive.by_name("line_of_sight.npy")?,
        reliability: reliability.into_scalar(),
        outcome: outcomes.mapv(outcome_of),
        unknown_cells: unknown_cells.into_scalar() as usize,
    };
    let shape = (grid.rows(), grid.columns());
    let whole = [&coverage.talk_in_margin, &coverage.talk_out_margin, &coverage.probability]
        .iter()
        .all(|layer| layer.dim() == shape)
        && coverage.line_of_sight.dim() == shape
        && coverage.outcome.dim() == shape;
    Ok(whole.then_some(coverage))
}

fn number_of(outcome: Outcome) -> u8 {
    Outcome::ALL.iter().position(|o| *o == outcome).unwrap_or_default() as u8
}

fn outcome_of(number: u8) -> Outcome {
    Outcome::ALL.get(usize::from(number)).copied().unwrap_or(Outcome::Unknown)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid() -> Grid {
        Grid::new(3, 2, [410_000.0, 30.0, 0.0, 5_210_000.0, 0.0, -30.0], "EPSG:32625").unwrap()
    }

    fn coverage() -> Coverage {
        let layer = Array2::from_shape_fn((2, 3), |(r, c)| (r * 3 + c) as f32 / 7.0);
        let mut probability = layer.clone();
        probability[(1, 1)] = f32::NAN;
        Coverage {
            grid: grid(),
            talk_in_margin: layer.clone(),
            talk_out_margin: -layer,
            talk_out_wanted: Dbm::new(-112.345),
            probability,
            line_of_sight: Array2::from_shape_fn((2, 3), |(r, c)| (r + c) % 2 == 0),
            reliability: 0.9,
            outcome: Array2::from_shape_vec((2, 3), Outcome::ALL.to_vec()).unwrap(),
            unknown_cells: 1,
        }
    }

    #[test]
    fn a_map_reads_back_to_the_bit() {
        let mut file = std::io::Cursor::new(Vec::new());
        write(&mut file, &coverage()).unwrap();
        file.set_position(0);
        let back = read(file, &grid()).unwrap().unwrap();
        // Debug tells all fields, NaN among them.
        assert_eq!(format!("{back:?}"), format!("{:?}", coverage()));
    }

    #[test]
    fn half_a_map_or_another_grids_is_none() {
        let mut whole = std::io::Cursor::new(Vec::new());
        write(&mut whole, &coverage()).unwrap();
        let whole = whole.into_inner();
        for length in (0..whole.len()).step_by(7) {
            let part = std::io::Cursor::new(whole[..length].to_vec());
            assert!(!matches!(read(part, &grid()), Ok(Some(_))), "{length} bytes");
        }
        let wider =
            Grid::new(4, 2, [410_000.0, 30.0, 0.0, 5_210_000.0, 0.0, -30.0], "EPSG:32625").unwrap();
        assert!(read(std::io::Cursor::new(whole), &wider).unwrap().is_none());
    }
}
