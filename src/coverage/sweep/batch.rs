//! The losses of a batch of cells, over one surface: from the rays on both sides
//! of them and the ground right in front of them.

use pulp::Simd;

use super::cell_geometry::CellGeometry;
use super::fan::Fan;
use super::fit::{self, EffectiveHeights, PathIntegrals, Protrusions};
use super::foreground::Foreground;
use super::geometry::{Batch, BatchLosses, Setup, Waves};
use super::horizons::{Horizons, SightLines, receiver_slopes};
use super::loss::{Wave, bullington, knife_edge};
use super::obstruction::NO_HINT;
use super::own_path::{Courses, Kept, OverForegrounds};
use super::registers::{ALL_LANES, LANES, Lanes, Part, Register, larger, parts, parts_of, smaller};
use super::smooth_earth::{self, SmoothEarth, SmoothPath};
use perchline_propagation::SweptForm;

/// What the losses of a batch for one pair of antennas were made of.
#[derive(Clone, Copy)]
pub(super) struct PairFound {
    horizons: Horizons,
    /// Where a surface is fitted.
    fit: Option<Fit>,
    /// The losses of cells whose horizons were looked at again for one channel,
    /// without what the smooth earth adds.
    blocked: BatchLosses,
    /// The lanes, as bits, whose horizons were looked at already, for whichever channel.
    looked: u32,
}

/// What decides on the surface that is fitted to the bare earth, as the rays tell it, but
/// for what stands out where that was looked at.
#[derive(Clone, Copy)]
struct Fit {
    by_rays: PathIntegrals,
    over: Protrusions,
}

/// v1 and v2 over the own paths of a batch, of the lanes that were asked for: the same
/// for all antennas, and for all surfaces, which stand on one bare earth.
#[derive(Default)]
pub(super) struct OwnIntegrals {
    known: u32,
    of: PathIntegrals,
}

impl OwnIntegrals {
    /// Those of some lanes, by `integrals` where they are not known yet; what stands in
    /// other lanes means nothing.
    #[inline(always)]
    fn of(
        &mut self,
        lanes: impl Iterator<Item = usize>,
        mut integrals: impl FnMut(usize) -> (f32, f32),
    ) -> &PathIntegrals {
        for lane in lanes {
            if self.known & 1 << lane == 0 {
                self.known |= 1 << lane;
                (self.of.first[lane], self.of.second[lane]) = integrals(lane);
            }
        }
        &self.of
    }
}

/// What is found once on the own paths of a batch's cells and serves many pairs.
pub(super) struct OnOwnPaths<'a> {
    pub integrals: &'a mut OwnIntegrals,
    pub kept: Kept<'a>,
}

/// The losses of a batch for every combination, added to `found`: receiver by
/// receiver, of each mast by mast, and of each channel by channel. What they were made
/// of is left in `pairs`, without channels; `horizons` is scratch.
#[inline(always)]
pub(super) fn add_losses<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    (fan, foreground): (&Fan, &Foreground),
    (horizons, pairs): (&mut Vec<Horizons>, &mut Vec<PairFound>),
    batch: &Batch,
    cells: &CellGeometry,
    found: &mut Vec<BatchLosses>,
) {
    pairs.clear();
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
            [horizons.receiver_slope, horizons.receiver_doubt] = back;
            if cells.any_sampled_whole {
                horizons.sample_whole_paths(setup, batch, cells, &lines);
            }
            if setup.form != SweptForm::FreeSpace {
                let lines = (&lines, &mut hints);
                horizons.obstruct_by_rays(simd, setup, fan, count, cells, lines);
            }
            let fit = integrals.as_ref().map(|integrals| {
                let lines = (&lines, *above_ground, &mut bare_horizons);
                let over = fit::protrusions(simd, setup, fan, batch, both, lines);
                Fit { by_rays: *integrals, over }
            });
            let heights = fit.as_ref().map(|fit| {
                let (antennas, lanes) = ((*mast, *above_ground), ALL_LANES);
                fit::effective_heights(simd, cells, &fit.by_rays, &fit.over, antennas, lanes)
            });
            for waves in &setup.channels {
                let wanted = (ALL_LANES, setup.weighs_doubts);
                let over = &horizons.as_told_by_rays(setup, waves, cells);
                let mut losses = losses(simd, setup, waves, cells, (&lines, over), wanted);
                if let (Some(heights), Some(earths)) = (&heights, &waves.smooth_earths) {
                    add_smooth_earth(simd, earths, cells, (heights, ALL_LANES), &mut losses);
                }
                found.push(losses);
            }
            let blocked = BatchLosses::EMPTY;
            pairs.push(PairFound { horizons: *horizons, fit, blocked, looked: 0 });
        }
    }
}

/// What a cell is looked at for on its own path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    /// The horizons of both ends, the obstruction and what stands out of the bare
    /// earth.
    AtHorizons,
    /// The surface that fits the bare earth best.
    AtAllOfIt,
}

/// By how much losses may be off with a surface that is fitted to the rays, at
/// most, at least and as a share of what the smooth earth adds, dB.
const FIT_DOUBT: f32 = 2.0;
const LEAST_FIT_DOUBT: f32 = 0.005;
const FIT_SHARE: f32 = 0.065;

/// Adds to the doubts what a surface leaves in doubt that is fitted to the rays;
/// `without` are losses without what the smooth earth adds.
#[inline(always)]
fn doubt_the_fit(without: &Lanes, losses: &mut BatchLosses) {
    let both = losses.talk_out.iter().zip(without);
    for (doubt, (with, without)) in losses.doubt.iter_mut().zip(both) {
        *doubt += smaller(LEAST_FIT_DOUBT + FIT_SHARE * (with - without), FIT_DOUBT);
    }
}

impl PairFound {
    /// The losses of one channel once more, with the cells of `lanes` looked at on
    /// their own paths; those of other lanes mean nothing. `mast` and `above_ground`
    /// are the pair of antennas.
    #[inline(always)]
    pub(super) fn look_again<S: Simd>(
        &mut self,
        simd: S,
        setup: &Setup<'_>,
        (courses, lanes, look): (Courses<'_>, u32, Look),
        (fan, foreground, mut own): (&Fan, &Foreground, OnOwnPaths<'_>),
        (batch, cells): (&Batch, &CellGeometry),
        (waves, (number, mast, above_ground)): (&Waves, (usize, f32, f32)),
    ) -> BatchLosses {
        let mut slope = [0f32; LANES];
        let receiver = cells.receiver_heights(simd, above_ground);
        slopes(simd, cells, &receiver, mast, &mut slope);
        let lines = SightLines { number, mast, receiver: &receiver, slope: &slope };
        let of_batch = |lanes: u32| (0..batch.count).filter(move |lane| lanes & 1 << lane != 0);
        if look == Look::AtHorizons {
            let anew = lanes & !self.looked;
            self.looked |= lanes;
            if anew != 0 {
                let over = self.fit.as_ref().map(|fit| &fit.over);
                let read = (cells, foreground);
                let foregrounds = OverForegrounds::of(simd, setup, read, (&lines, over), anew);
                for lane in of_batch(anew).filter(|lane| !cells.sampled_whole(*lane)) {
                    let path = courses.path_to(batch, cells, &lines, lane);
                    let over = self.fit.as_mut().map(|fit| &mut fit.over);
                    let found = (&mut self.horizons, over);
                    let which = (number, lane, &mut own.kept);
                    path.look(simd, setup, fan, (cells, &foregrounds), which, found);
                }
            }
            let lines = (&lines, &self.horizons);
            self.blocked = losses(simd, setup, waves, cells, lines, (lanes, false));
        }
        let mut losses = self.blocked;
        if let (Some(Fit { by_rays, over }), Some(earths)) = (&self.fit, &waves.smooth_earths) {
            let integrals = match look {
                Look::AtHorizons => by_rays,
                Look::AtAllOfIt => own.integrals.of(of_batch(lanes), |lane| {
                    if cells.sampled_whole(lane) {
                        return (by_rays.first[lane], by_rays.second[lane]);
                    }
                    let path = courses.path_to(batch, cells, &lines, lane);
                    path.integrals(simd, setup, cells.ground[lane])
                }),
            };
            let antennas = (mast, above_ground);
            let heights = fit::effective_heights(simd, cells, integrals, over, antennas, lanes);
            add_smooth_earth(simd, earths, cells, (&heights, lanes), &mut losses);
            if look == Look::AtHorizons {
                doubt_the_fit(&self.blocked.talk_out, &mut losses);
            }
        }
        losses
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

/// The losses of the cells for one channel, without what the smooth earth adds: of some
/// lanes, with doubts or without.
#[inline(always)]
fn losses<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    waves: &Waves,
    cells: &CellGeometry,
    (lines, horizons): (&SightLines<'_>, &Horizons),
    (lanes, doubts): (u32, bool),
) -> BatchLosses {
    let mut out = BatchLosses { distance: cells.distance, ..BatchLosses::EMPTY };
    let curvature = setup.station.curvature as f32;
    let single_edge = setup.form == SweptForm::SingleEdge;
    let rays_apart = if waves.smooth_earths.is_some() { 1.0 } else { WIDE_GAP };
    for part in parts_of::<S>(lanes) {
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
        let root = distance.sqrt();
        let obstruction = root * deciding;
        if doubts {
            let doubts = (
                at.load(&horizons.station_doubt) * rays_apart,
                at.load(&horizons.receiver_doubt) * rays_apart,
            );
            let ends = ((up - slope, doubts.0), (back + slope, doubts.1));
            let doubt = in_doubt(&waves.of, ends, (deciding, root));
            doubt.store(&mut out.doubt, part);
        }
        let rise = at.load(lines.receiver) + at.load(&cells.drop) - lines.mast;
        let square = (distance * distance + rise * rise).at_least(1.0);
        // Free-space loss by P.525-4 equation (4).
        let spreading = square.decibels() * 0.5;
        let [talk_in, talk_out] = &waves.of;
        total(setup.form, talk_in, obstruction, distance, spreading).store(&mut out.talk_in, part);
        total(setup.form, talk_out, obstruction, distance, spreading)
            .store(&mut out.talk_out, part);
    }
    if doubts {
        out.doubt = evened(&out.doubt);
    }
    let slopes = horizons.station_slope.iter().zip(lines.slope);
    for (clear, (horizon, slope)) in out.line_of_sight.iter_mut().zip(slopes) {
        *clear = horizon < slope;
    }
    out
}

/// By how much the losses may be off where both slopes are over the line by
/// `up` and `back`, each give or take its doubt: dB. `deciding` and `root` are
/// what makes up the obstruction.
#[inline(always)]
fn in_doubt<S: Simd>(
    waves: &[Wave; 2],
    ((up, up_doubt), (back, back_doubt)): (Doubted<S>, Doubted<S>),
    (deciding, root): (Register<S>, Register<S>),
) -> Register<S> {
    let [a, b] = waves;
    let shortest = a.two_over_wavelength.max(b.two_over_wavelength).sqrt();
    let highest = (up + up_doubt).at_least(0.0) * (back + back_doubt).at_least(0.0);
    let lowest = (up - up_doubt).at_least(0.0) * (back - back_doubt).at_least(0.0);
    // On a clear path the clearance may be off as the slope to the horizon is.
    let share = (up_doubt / (-up).at_least(1e-6)).at_most(1.0);
    let clear = -up.at_most(0.0);
    let blocked = up.exceeds(0.0);
    let high = blocked
        .select(highest.sqrt(), deciding - deciding * share + (up_doubt - clear).at_least(0.0));
    let low = blocked.select(lowest.sqrt(), deciding + deciding * share);
    let scale = root * shortest;
    // Lower than this nothing is lost.
    let low = (low * scale).at_least(-0.78);
    let spread = (high * scale - low).at_least(0.0);
    let shifted = low - 0.1;
    let steepness = (shifted * shifted + 1.0).sqrt();
    spread * MOST_A_NU / steepness + LEAST_DOUBT
}

/// Doubts no smaller than what is usual among the cells beside: where the ground
/// is rough two rays may agree by chance.
#[inline(always)]
fn evened(doubt: &Lanes) -> Lanes {
    let sum = doubt.iter().map(|doubt| smaller(*doubt, MOST_COUNTED)).sum::<f32>();
    let usual = sum * (TIMES_USUAL / LANES as f32);
    doubt.map(|doubt| larger(doubt, usual))
}

/// No cell counts with more than this in what is usual, dB.
const MOST_COUNTED: f32 = 8.0;

/// All cells are in doubt by so many times the mean.
const TIMES_USUAL: f32 = 1.4;

/// A number and by how much it may be off.
type Doubted<S> = (Register<S>, Register<S>);

/// How much more two rays leave in doubt where no surface is fitted: they are so
/// much farther apart.
const WIDE_GAP: f32 = 3.0 / 1.75;

/// Most dB that Bullington's construction adds where nu grows by one, at nu = 0.1.
const MOST_A_NU: f32 = 14.0;

/// All losses are in doubt by this much, dB.
const LEAST_DOUBT: f32 = 0.03;

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

/// Adds to the losses of some lanes what the smooth earth costs beyond Bullington's
/// construction.
#[inline(always)]
fn add_smooth_earth<S: Simd>(
    simd: S,
    earths: &[SmoothEarth; 2],
    cells: &CellGeometry,
    (heights, lanes): (&EffectiveHeights, u32),
    losses: &mut BatchLosses,
) {
    for part in parts_of::<S>(lanes) {
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
