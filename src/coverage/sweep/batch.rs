//! The losses of a batch of cells, over one surface: from the rays on both sides
//! of them and the ground right in front of them.

use pulp::Simd;

use super::cell_geometry::CellGeometry;
use super::fan::Fan;
use super::fit::{self, EffectiveHeights, PathIntegrals};
use super::foreground::Foreground;
use super::geometry::{Batch, BatchLosses, Setup};
use super::horizons::{Horizons, SightLines, receiver_slopes};
use super::loss::{Wave, bullington, knife_edge};
use super::obstruction::NO_HINT;
use super::registers::{LANES, Lanes, Part, Register, parts};
use super::smooth_earth::{self, SmoothEarth, SmoothPath};
use perchline_propagation::SweptForm;

/// The losses of a batch for every pair of antennas, added to `found`: receiver
/// by receiver, and of each mast by mast. `horizons` is scratch.
#[inline(always)]
pub(super) fn add_losses<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    (fan, foreground, horizons): (&Fan, &Foreground, &mut Vec<Horizons>),
    batch: &Batch,
    cells: &CellGeometry,
    found: &mut Vec<BatchLosses>,
) {
    let count = batch.count;
    let both = (cells, foreground);
    let masts = || setup.station.masts.iter().enumerate();
    let integrals = if setup.station.fits_surface {
        Some(PathIntegrals::of(simd, setup, fan, batch, both))
    } else {
        None
    };
    let mut hints = [NO_HINT; LANES];
    for above_ground in &setup.receivers {
        let mut bare_horizons = [None; LANES];
        let mut slope = [0f32; LANES];
        let receiver = cells.receiver_heights(simd, *above_ground);
        // Where the line is clear, so is the one to the other end's horizon:
        // slopes from the receiver matter behind obstacles alone.
        let mut blocked = [false; LANES];
        horizons.clear();
        for (number, mast) in masts() {
            slopes(simd, cells, &receiver, *mast, &mut slope);
            let lines = SightLines { number, mast: *mast, receiver: &receiver, slope: &slope };
            let from_mast = Horizons::from_mast(simd, setup, fan, count, both, &lines);
            let lanes = from_mast.station_slope.iter().zip(&slope);
            for (blocked, (horizon, slope)) in blocked.iter_mut().zip(lanes) {
                *blocked |= horizon >= slope;
            }
            horizons.push(from_mast);
        }
        let back = receiver_slopes(simd, setup, fan, count, both, &receiver, &blocked);
        for ((number, mast), horizons) in masts().zip(&mut *horizons) {
            slopes(simd, cells, &receiver, *mast, &mut slope);
            let lines = SightLines { number, mast: *mast, receiver: &receiver, slope: &slope };
            horizons.receiver_slope = back;
            if cells.any_sampled_whole {
                horizons.sample_whole_paths(setup, batch, cells, &lines);
            }
            if setup.form != SweptForm::FreeSpace {
                let lines = (&lines, &mut hints);
                horizons.obstruct_by_rays(simd, setup, fan, count, cells, lines);
            }
            let mut losses = losses(simd, setup, cells, &lines, horizons);
            if let (Some(integrals), Some(earths)) = (&integrals, &setup.smooth_earths) {
                let lines = (&lines, *above_ground, &mut bare_horizons);
                let heights =
                    fit::effective_heights(simd, setup, fan, batch, both, integrals, lines);
                add_smooth_earth(simd, earths, cells, &heights, &mut losses);
            }
            found.push(losses);
        }
    }
}

/// Slopes from a mast to the receiver antennas, in the effective-earth plane.
#[inline(always)]
fn slopes<S: Simd>(simd: S, cells: &CellGeometry, receiver: &Lanes, mast: f32, slope: &mut Lanes) {
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        ((at.load(receiver) - mast) / at.load(&cells.distance)).store(slope, part);
    }
}

/// The losses of the cells, without what the smooth earth adds.
#[inline(always)]
fn losses<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    cells: &CellGeometry,
    lines: &SightLines<'_>,
    horizons: &Horizons,
) -> BatchLosses {
    let mut out = BatchLosses { distance: cells.distance, ..BatchLosses::EMPTY };
    let curvature = setup.station.curvature as f32;
    let single_edge = setup.form == SweptForm::SingleEdge;
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let (distance, slope) = (at.load(&cells.distance), at.load(lines.slope));
        let up = at.load(&horizons.station_slope);
        let back = at.load(&horizons.receiver_slope);
        // The effective-earth plane tilts along the path: at the station the
        // horizontal is level in it, at the receiver it is not.
        up.max(slope).store(&mut out.station_take_off, part);
        (back.max(-slope) - distance * (2.0 * curvature)).store(&mut out.receiver_take_off, part);
        let over = (up - slope).at_least(0.0) * (back + slope).at_least(0.0);
        let worst = at.load(&horizons.obstruction);
        let clear = slope.above(up);
        let deciding = if single_edge { worst } else { clear.select(worst, over.sqrt()) };
        let obstruction = distance.sqrt() * deciding;
        let rise = at.load(lines.receiver) + at.load(&cells.drop) - lines.mast;
        let square = (distance * distance + rise * rise).at_least(1.0);
        // Free-space loss by P.525-4 equation (4).
        let spreading = square.decibels() * 0.5;
        let [talk_in, talk_out] = &setup.waves;
        total(setup.form, talk_in, obstruction, distance, spreading).store(&mut out.talk_in, part);
        total(setup.form, talk_out, obstruction, distance, spreading)
            .store(&mut out.talk_out, part);
    }
    let lanes = horizons.station_slope.iter().zip(lines.slope);
    for (clear, (horizon, slope)) in out.line_of_sight.iter_mut().zip(lanes) {
        *clear = horizon < slope;
    }
    out
}

/// Loss at one frequency, dB: by the obstruction (nu over sqrt(2 / lambda)), the
/// distance in metres, and the spreading in dB over that at 1 m.
#[inline(always)]
fn total<S: Simd>(
    form: SweptForm,
    wave: &Wave,
    obstruction: Register<S>,
    distance: Register<S>,
    spreading: Register<S>,
) -> Register<S> {
    let nu = obstruction * wave.two_over_wavelength.sqrt();
    let diffraction = match form {
        SweptForm::FreeSpace => spreading.zero(),
        SweptForm::SingleEdge => knife_edge(nu),
        _ => bullington(knife_edge(nu), distance),
    };
    spreading + wave.free_space_at_1_m + diffraction
}

/// Adds what the smooth earth costs beyond Bullington's construction.
#[inline(always)]
fn add_smooth_earth<S: Simd>(
    simd: S,
    earths: &[SmoothEarth; 2],
    cells: &CellGeometry,
    heights: &EffectiveHeights,
    losses: &mut BatchLosses,
) {
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let path = SmoothPath {
            distance: at.load(&cells.distance),
            steps: at.load(&cells.steps),
            station: at.load(&heights.station),
            receiver: at.load(&heights.receiver),
        };
        let [talk_in, talk_out] = smooth_earth::beyond_bullington(earths, path);
        (at.load(&losses.talk_in) + talk_in).store(&mut losses.talk_in, part);
        (at.load(&losses.talk_out) + talk_out).store(&mut losses.talk_out, part);
    }
}
