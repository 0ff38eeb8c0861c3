//! A few neighbouring cells at once: from the rays on both sides of them and
//! the ground right in front of them to their losses.

use pulp::Simd;

use super::clear::NO_HINT;
use super::ends::{Ends, Near};
use super::fan::{Fan, Ground, Stage};
use super::fit::{self, Effective};
use super::frame::DEGREE;
use super::lane::{LANES, Lane, Part, Row, parts};
use super::loss::{Wave, corrected, knife_edge};
use super::sight::{self, Pair, Sight};
use super::spherical::{self, Sphere};
use crate::propagation::SweptForm;

/// Everything that is the same for all cells of a sweep.
#[derive(Clone)]
pub(super) struct Setting<'a> {
    pub ground: Ground<'a>,
    pub stage: Stage,
    /// Heights of the carried antenna over its ground.
    pub carried: Vec<f32>,
    /// Talk-in and talk-out.
    pub waves: [Wave; 2],
    pub form: SweptForm,
    /// Earth and wave of talk-in and talk-out, where the method asks for them.
    pub spheres: Option<[Sphere; 2]>,
}

/// How the cells of a group lie on the terrain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Neighbours in a row.
    AlongRows,
    /// Neighbours in a column.
    AlongColumns,
    /// Not neighbours: the map's cells are larger than the terrain's.
    Apart,
}

/// A group of neighbouring cells along a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Group {
    /// Cells in use, 1 or more, at most [`LANES`].
    pub count: usize,
    /// Column and row of the first cell's centre, from the raster's first centre.
    pub first: (f32, f32),
    /// From a cell's centre to the next one's.
    pub next: (f32, f32),
    /// The antenna, from the raster's first centre.
    pub origin: (f32, f32),
    /// How far the paths bend: the part of their cells that grows with the
    /// square of the distance, at their ends.
    pub bend: (f32, f32),
    /// Distance along the wedge's axis and across it, as polynomials of the lane.
    pub along: [f32; DEGREE + 1],
    pub across: [f32; DEGREE + 1],
    /// Whether paths may bend out of the raster.
    pub rim: bool,
    pub kind: Kind,
}

/// What comes out for one pair of antenna heights.
#[derive(Debug, Clone, Copy)]
pub(super) struct Losses {
    /// Basic transmission loss, talk-in, dB.
    pub talk_in: Row,
    /// The same, talk-out.
    pub talk_out: Row,
    /// Slope of the path at the station over its horizontal.
    pub up: Row,
    /// Slope of the path at the carried radio over its horizontal.
    pub back: Row,
    /// Whether the straight line clears the ground.
    pub sight: [bool; LANES],
    /// Ground distance in metres.
    pub distance: Row,
}

/// What a sweep computes for one cell and one pair of antenna heights.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellLosses {
    pub talk_in: f32,
    pub talk_out: f32,
    /// Slopes over the horizontals of the station and the carried radio.
    pub up: f32,
    pub back: f32,
    pub sight: bool,
}

impl Losses {
    /// Nothing.
    pub(super) const EMPTY: Self = Self {
        talk_in: [0.0; LANES],
        talk_out: [0.0; LANES],
        up: [0.0; LANES],
        back: [0.0; LANES],
        sight: [true; LANES],
        distance: [0.0; LANES],
    };

    /// Those of a single cell, in every lane.
    pub(super) fn of_one(cell: &CellLosses) -> Self {
        Self {
            talk_in: [cell.talk_in; LANES],
            talk_out: [cell.talk_out; LANES],
            up: [cell.up; LANES],
            back: [cell.back; LANES],
            sight: [cell.sight; LANES],
            distance: [0.0; LANES],
        }
    }
}

/// The losses of the group for every pair of heights, added to `found`: carried
/// antenna by carried antenna, mast by mast.
#[inline(always)]
pub(super) fn work<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    (fan, near, sights): (&Fan, &Near, &mut Vec<Sight>),
    group: &Group,
    ends: &Ends,
    found: &mut Vec<Losses>,
) {
    let count = group.count;
    let both = (ends, near);
    let ground =
        if setting.stage.bare { Some(fit::ground(simd, setting, fan, group, both)) } else { None };
    let mut hints = [NO_HINT; LANES];
    for carried in &setting.carried {
        let mut crests = [None; LANES];
        let mut slope = [0f32; LANES];
        let tip = ends.tips(simd, *carried);
        // Where the line is clear, so is the one to the other end's horizon:
        // back slopes matter behind obstacles alone.
        let mut blocked = [false; LANES];
        let sights = &mut *sights;
        sights.clear();
        for (number, mast) in setting.stage.masts.iter().enumerate() {
            slopes(simd, ends, &tip, *mast, &mut slope);
            let pair = Pair { number, mast: *mast, tip: &tip, slope: &slope };
            let sight = sight::sight(simd, setting, fan, count, both, &pair);
            for (blocked, (up, slope)) in blocked.iter_mut().zip(sight.up.iter().zip(&slope)) {
                *blocked |= up >= slope;
            }
            sights.push(sight);
        }
        let back = sight::back(simd, setting, fan, count, both, &tip, &blocked);
        for ((number, mast), sight) in setting.stage.masts.iter().enumerate().zip(sights) {
            slopes(simd, ends, &tip, *mast, &mut slope);
            let pair = Pair { number, mast: *mast, tip: &tip, slope: &slope };
            sight.back = back;
            if ends.close {
                sight::own(setting, group, ends, &pair, sight);
            }
            if setting.form != SweptForm::FreeSpace {
                sight::worst(simd, setting, fan, count, ends, &pair, (sight, &mut hints));
            }
            let mut losses = losses(simd, setting, ends, &pair, sight);
            if let (Some(ground), Some(spheres)) = (&ground, &setting.spheres) {
                let heights = fit::effective(
                    simd,
                    setting,
                    fan,
                    group,
                    both,
                    ground,
                    (&pair, *carried, &mut crests),
                );
                add_spherical(simd, spheres, ends, &heights, &mut losses);
            }
            found.push(losses);
        }
    }
}

/// Slopes from a mast to the carried antennas.
#[inline(always)]
fn slopes<S: Simd>(simd: S, ends: &Ends, tip: &Row, mast: f32, slope: &mut Row) {
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        ((at.row(tip) - mast) / at.row(&ends.distance)).store(slope, part);
    }
}

#[inline(always)]
fn losses<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    ends: &Ends,
    pair: &Pair<'_>,
    sight: &Sight,
) -> Losses {
    let mut out = Losses { distance: ends.distance, ..Losses::EMPTY };
    let curvature = setting.stage.curvature as f32;
    let single = setting.form == SweptForm::SingleEdge;
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let (distance, slope) = (at.row(&ends.distance), at.row(pair.slope));
        let (up, back) = (at.row(&sight.up), at.row(&sight.back));
        // The drop makes the plane of the heights tilt: at the station the
        // horizontal is level in it, at the carried radio it is not.
        up.max(slope).store(&mut out.up, part);
        (back.max(-slope) - distance * (2.0 * curvature)).store(&mut out.back, part);
        let over = (up - slope).at_least(0.0) * (back + slope).at_least(0.0);
        let worst = at.row(&sight.worst);
        let seen = slope.above(up);
        let kind = if single { worst } else { seen.choose(worst, over.sqrt()) };
        let obstruction = distance.sqrt() * kind;
        let rise = at.row(pair.tip) + at.row(&ends.drop) - pair.mast;
        let square = (distance * distance + rise * rise).at_least(1.0);
        // Free-space loss by P.525-4 equation (4).
        let spreading = square.decibels() * 0.5;
        let [first, second] = &setting.waves;
        total(setting.form, first, obstruction, distance, spreading).store(&mut out.talk_in, part);
        total(setting.form, second, obstruction, distance, spreading)
            .store(&mut out.talk_out, part);
    }
    for (sight, (up, slope)) in out.sight.iter_mut().zip(sight.up.iter().zip(pair.slope)) {
        *sight = up < slope;
    }
    out
}

/// Loss at one frequency by the obstruction of the line and the spreading over
/// the distance at 0 dB a metre.
#[inline(always)]
fn total<S: Simd>(
    form: SweptForm,
    wave: &Wave,
    obstruction: Lane<S>,
    distance: Lane<S>,
    spreading: Lane<S>,
) -> Lane<S> {
    let nu = obstruction * wave.twice_per_length.sqrt();
    let diffraction = match form {
        SweptForm::FreeSpace => spreading.nothing(),
        SweptForm::SingleEdge => knife_edge(nu),
        _ => corrected(knife_edge(nu), distance),
    };
    spreading + wave.at_one_metre + diffraction
}

/// What the smooth earth adds.
#[inline(always)]
fn add_spherical<S: Simd>(
    simd: S,
    spheres: &[Sphere; 2],
    ends: &Ends,
    heights: &Effective,
    losses: &mut Losses,
) {
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let path = spherical::Path {
            distance: at.row(&ends.distance),
            steps: at.row(&ends.steps),
            station: at.row(&heights.station),
            carried: at.row(&heights.carried),
        };
        let [talk_in, talk_out] = spherical::beyond_bullington(spheres, path);
        (at.row(&losses.talk_in) + talk_in).store(&mut losses.talk_in, part);
        (at.row(&losses.talk_out) + talk_out).store(&mut losses.talk_out, part);
    }
}
