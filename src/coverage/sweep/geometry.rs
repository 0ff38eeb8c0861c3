//! The types that the parts of a sweep share: the setup that is the same for all
//! cells, a batch of cells, and the losses that come out for it.
//!
//! Heights are counted from the datum, the ground under the station antenna, and
//! most of them in the *effective-earth plane*: the curve of the effective earth
//! is folded into the ground, so that a point at distance d from the station lies
//! d^2 / (2 a) lower (its curvature drop) and rays are straight lines. Slopes are
//! metres of height in that plane a metre of ground distance.

use super::gaps::GapMap;
use super::loss::Wave;
use super::obstruction::BLOCK;
use super::raster::HeightRaster;
use super::registers::{LANES, Lanes};
use super::smooth_earth::SmoothEarth;
use super::transform::DEGREE;
use perchline_propagation::SweptForm;

/// The heights that a sweep reads.
#[derive(Clone, Copy)]
pub(super) struct TerrainLayers<'a> {
    /// Ground with what stands on it.
    pub surface: HeightRaster<'a>,
    /// Ground alone, where something is known to stand on it.
    pub bare_earth: Option<HeightRaster<'a>>,
    /// Where heights are missing, if any are.
    pub gaps: Option<&'a GapMap>,
}

impl<'a> TerrainLayers<'a> {
    /// Ground alone.
    #[inline(always)]
    pub(super) fn ground(&self) -> HeightRaster<'a> {
        self.bare_earth.unwrap_or(self.surface)
    }
}

/// The station antenna, and the points at which rays from it are sampled.
#[derive(Debug, Clone)]
pub(super) struct StationGeometry {
    /// Ground under the station antenna, metres above sea level.
    pub datum: f32,
    /// Heights of the station antenna, metres above datum.
    pub masts: Vec<f32>,
    /// 1 / (2 a) of the effective-earth radius a, 1/m.
    pub curvature: f64,
    /// Distance between points of a ray, metres.
    pub spacing: f64,
    /// 1 / (i spacing) of point i, 1/m.
    pub inverse: Vec<f32>,
    /// Curvature drop i^2 spacing^2 / (2 a) of point i, metres.
    pub drop: Vec<f32>,
    /// Whether the method also needs the bare earth, without the curve of the
    /// earth folded in: to fit a smooth surface to it.
    pub fits_surface: bool,
}

impl StationGeometry {
    /// The tables for rays of up to `points` points.
    pub(super) fn new(
        datum: f32,
        masts: Vec<f32>,
        curvature: f64,
        spacing: f64,
        points: usize,
        fits_surface: bool,
    ) -> Self {
        // Whole blocks of them.
        let points = (points + 2).next_multiple_of(BLOCK);
        let distances = || (0..points).map(|i| i as f64 * spacing);
        Self {
            datum,
            masts,
            curvature,
            spacing,
            inverse: distances().map(|d| (1.0 / d) as f32).collect(),
            drop: distances().map(|d| (d * d * curvature) as f32).collect(),
            fits_surface,
        }
    }
}

/// The frequencies of one channel.
#[derive(Clone)]
pub(super) struct Waves {
    /// Talk-in and talk-out.
    pub of: [Wave; 2],
    /// Both over a smooth earth, where the method counts it.
    pub smooth_earths: Option<[SmoothEarth; 2]>,
}

impl Waves {
    /// The least 2 / lambda of both, 1/m.
    #[inline(always)]
    pub(super) fn longest(&self) -> f32 {
        let [a, b] = &self.of;
        a.two_over_wavelength.min(b.two_over_wavelength)
    }
}

/// Everything that is the same for all cells of a sweep.
#[derive(Clone)]
pub(super) struct Setup<'a> {
    pub terrain: TerrainLayers<'a>,
    pub station: StationGeometry,
    /// Heights of the receiver antenna, metres above the ground of its cell.
    pub receivers: Vec<f32>,
    /// The channels that share the sweep.
    pub channels: Vec<Waves>,
    pub form: SweptForm,
    /// Whether somebody asks by how much losses may be off.
    pub weighs_doubts: bool,
}

/// How the cells of a batch lie on the terrain's raster.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Layout {
    /// Neighbours in a row.
    AlongRows,
    /// Neighbours in a column.
    AlongColumns,
    /// Not neighbours: the map's cells are of another size than the terrain's.
    Scattered,
}

/// Neighbouring cells of the map along a line, one a lane. Places are given by
/// column and row of the terrain's raster, from its first cell's centre.
#[derive(Debug, Clone, Copy)]
pub(super) struct Batch {
    /// Cells in use, 1 or more, at most [`LANES`].
    pub count: usize,
    /// Centre of the first cell.
    pub first: (f32, f32),
    /// From a cell's centre to the next one's.
    pub step: (f32, f32),
    /// The station.
    pub station: (f32, f32),
    /// How far the paths to the cells bend on the raster, as a polynomial of the
    /// lane's number: the part of their cells that grows with the square of the
    /// distance, at the cells.
    pub bend: [(f32, f32); 3],
    /// Distance along the wedge's axis and across it, metres, as polynomials of
    /// the lane's number.
    pub along: [f32; DEGREE + 1],
    pub across: [f32; DEGREE + 1],
    /// Whether paths may bend out of the raster.
    pub near_rim: bool,
    pub layout: Layout,
}

/// What a sweep computes for a batch of cells, one pair of antenna heights and one
/// channel.
#[derive(Debug, Clone, Copy)]
pub(super) struct BatchLosses {
    /// Basic transmission loss of talk-in, dB.
    pub talk_in: Lanes,
    /// The same of talk-out.
    pub talk_out: Lanes,
    /// Slope of the path at the station antenna, over its horizontal.
    pub station_take_off: Lanes,
    /// Slope of the path at the receiver antenna, over its horizontal.
    pub receiver_take_off: Lanes,
    /// Whether the straight line clears the terrain.
    pub line_of_sight: [bool; LANES],
    /// Ground distance, metres.
    pub distance: Lanes,
    /// By how much the losses may be off, dB: an estimate from how the two rays
    /// beside each cell differ.
    pub doubt: Lanes,
    /// What whoever takes these losses has made of them already.
    pub margins: Option<LeftMargins>,
}

/// Margins of talk-in and talk-out that were left with losses, dB.
#[derive(Debug, Clone, Copy)]
pub(super) struct LeftMargins {
    pub of: [Lanes; 2],
    /// The lanes, as bits, whose losses are others since.
    pub stale: u32,
}

/// The same for one cell.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellLosses {
    pub talk_in: f32,
    pub talk_out: f32,
    pub station_take_off: f32,
    pub receiver_take_off: f32,
    pub line_of_sight: bool,
}

impl BatchLosses {
    /// Nothing.
    pub(super) const EMPTY: Self = Self {
        talk_in: [0.0; LANES],
        talk_out: [0.0; LANES],
        station_take_off: [0.0; LANES],
        receiver_take_off: [0.0; LANES],
        line_of_sight: [true; LANES],
        distance: [0.0; LANES],
        doubt: [0.0; LANES],
        margins: None,
    };

    /// Those of a single cell, in every lane.
    pub(super) fn of_one(cell: &CellLosses) -> Self {
        Self {
            talk_in: [cell.talk_in; LANES],
            talk_out: [cell.talk_out; LANES],
            station_take_off: [cell.station_take_off; LANES],
            receiver_take_off: [cell.receiver_take_off; LANES],
            line_of_sight: [cell.line_of_sight; LANES],
            ..Self::EMPTY
        }
    }

    /// Puts those of a single cell into a lane.
    pub(super) fn set(&mut self, lane: usize, cell: &CellLosses) {
        self.talk_in[lane] = cell.talk_in;
        self.talk_out[lane] = cell.talk_out;
        self.station_take_off[lane] = cell.station_take_off;
        self.receiver_take_off[lane] = cell.receiver_take_off;
        self.line_of_sight[lane] = cell.line_of_sight;
        self.doubt[lane] = 0.0;
        self.changed(lane);
    }

    /// The same of one lane of others.
    pub(super) fn copy_lane(&mut self, lane: usize, other: &Self) {
        self.talk_in[lane] = other.talk_in[lane];
        self.talk_out[lane] = other.talk_out[lane];
        self.station_take_off[lane] = other.station_take_off[lane];
        self.receiver_take_off[lane] = other.receiver_take_off[lane];
        self.line_of_sight[lane] = other.line_of_sight[lane];
        self.doubt[lane] = other.doubt[lane];
        self.changed(lane);
    }

    fn changed(&mut self, lane: usize) {
        if let Some(margins) = &mut self.margins {
            margins.stale |= 1 << lane;
        }
    }
}
