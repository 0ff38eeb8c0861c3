//! Single cells looked at again, on their own path instead of on the rays
//! beside it: the parts of the path on which a horizon or the obstruction may
//! lie, as far as the two rays tell.

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS};
use super::fan::{Fan, FanShape};
use super::fit::Protrusions;
use super::foreground::Foreground;
use super::geometry::{Batch, Setup};
use super::horizons::{Horizons, SightLines};
use super::kept_blocks::KeptBlocks;
use super::obstruction::BLOCK;
use super::registers::{LANE_NUMBERS, LANES, Lanes, Part, Register, larger, parts, parts_of};
use super::transform::{DEGREE, StationFrame};

/// By how much of the difference between the two rays a block of the path in
/// between may stand higher than both of them.
const BEYOND_BOTH: f32 = 0.5;

/// Where the paths of a wedge run.
#[derive(Clone, Copy)]
pub(super) struct Courses<'a> {
    pub frame: &'a StationFrame,
    pub shape: &'a FanShape,
}

/// The path to one cell.
#[derive(Clone, Copy)]
pub(super) struct OwnPath {
    /// Cells from the station as a polynomial of the share of the way.
    course: [(f32, f32); DEGREE],
    station: (f32, f32),
    /// Metres.
    distance: f32,
    /// Steps, each a point but the last.
    steps: f32,
    mast: f32,
    receiver: f32,
    /// Slope from the station antenna to the receiver antenna.
    slope: f32,
}

/// What has been found on a path so far, as in [`Horizons`]; of a path a lane with
/// lanes for `T`.
#[derive(Clone, Copy)]
struct Found<T = f32> {
    /// Steepest slope from the station antenna.
    up: T,
    /// Steepest slope from the receiver antenna, looking back.
    back: T,
    /// The largest obstruction, as a signed square.
    worst: T,
    /// Over the bare earth, as in [`Protrusions`].
    highest: T,
    from_station: T,
    from_receiver: T,
}

/// What was read along the own paths of a batch already.
pub(super) struct Kept<'a> {
    pub surface: &'a mut KeptBlocks,
    /// The same under all surfaces.
    pub bare_earth: &'a mut KeptBlocks,
}

/// What the foregrounds of some cells alone come to.
pub(super) struct OverForegrounds(Found<Lanes>);

impl OverForegrounds {
    /// Of `lanes` of a batch, over the bare earth where `over` has a line to it;
    /// what stands in other lanes means nothing.
    #[inline(always)]
    pub(super) fn of<S: Simd>(
        simd: S,
        setup: &Setup<'_>,
        (cells, foreground): (&CellGeometry, &Foreground),
        (lines, over): (&SightLines<'_>, Option<&Protrusions>),
        lanes: u32,
    ) -> Self {
        let curvature = setup.station.curvature as f32;
        let mut found = Found::<Lanes>::NOTHING;
        for part in parts_of::<S>(lanes) {
            let at = Part { simd, part };
            let distance = at.load(&cells.distance);
            let (slope, receiver) = (at.load(lines.slope), at.load(lines.receiver));
            let none = Register::splat(simd, f32::NEG_INFINITY);
            let (mut up, mut back, mut worst) = (none, none, none);
            let (mut highest, mut from_station, mut from_receiver) = (none, none, none);
            for k in 0..FOREGROUND_POINTS {
                let (place, height) =
                    (at.load(&foreground.distance[k]), at.load(&foreground.height[k]));
                let rise = (height - lines.mast) / place;
                let rest = distance - place;
                let excess = rise - slope;
                up = rise.max(up);
                back = ((height - receiver) / rest).max(back);
                worst = (excess * excess.abs() * place / rest).max(worst);
                let Some(over) = over else { continue };
                let bare = foreground.bare(at, k, curvature);
                let excess = bare - lines.mast - at.load(&over.slope) * place;
                highest = excess.max(highest);
                from_station = (excess / place).max(from_station);
                from_receiver = (excess / rest).max(from_receiver);
            }
            up.store(&mut found.up, part);
            back.store(&mut found.back, part);
            worst.store(&mut found.worst, part);
            highest.store(&mut found.highest, part);
            from_station.store(&mut found.from_station, part);
            from_receiver.store(&mut found.from_receiver, part);
        }
        Self(found)
    }

    /// Of one lane.
    fn lane(&self, lane: usize) -> Found {
        let Self(found) = self;
        Found {
            up: found.up[lane],
            back: found.back[lane],
            worst: found.worst[lane],
            highest: found.highest[lane],
            from_station: found.from_station[lane],
            from_receiver: found.from_receiver[lane],
        }
    }
}

/// The steepest slopes from a mast of the blocks of both rays.
#[derive(Clone, Copy)]
struct BothRays<'a> {
    before: &'a [f32],
    after: &'a [f32],
    /// Blocks that count.
    count: usize,
}

impl Courses<'_> {
    /// The path to a cell of a batch.
    pub(super) fn path_to(
        self,
        batch: &Batch,
        cells: &CellGeometry,
        lines: &SightLines<'_>,
        lane: usize,
    ) -> OwnPath {
        let at = |polynomial: [f32; DEGREE + 1]| {
            let value = |sum: f64, factor: f32| sum * lane as f64 + f64::from(factor);
            polynomial.into_iter().rev().fold(0.0, value)
        };
        let (along, across) = (at(batch.along), at(batch.across));
        let (ax, ay) = self.shape.axis;
        let parts = self.frame.to_cell.ray(along * ax + across * ay, along * ay - across * ax);
        OwnPath {
            course: parts.map(|(x, y)| (x as f32, y as f32)),
            station: batch.station,
            distance: cells.distance[lane],
            steps: cells.steps[lane],
            mast: lines.mast,
            receiver: lines.receiver[lane],
            slope: lines.slope[lane],
        }
    }
}

impl OwnPath {
    /// Puts what the terrain does to the path into its lane of `horizons`.
    #[inline(always)]
    pub(super) fn look<S: Simd>(
        &self,
        simd: S,
        setup: &Setup<'_>,
        fan: &Fan,
        (cells, foregrounds): (&CellGeometry, &OverForegrounds),
        (number, lane, known): (usize, usize, &mut Kept<'_>),
        (horizons, over): (&mut Horizons, Option<&mut Protrusions>),
    ) {
        let Some(rays) = BothRays::of(setup, fan, cells, (number, lane)) else { return };
        let bare = over.as_ref().map(|over| over.slope[lane]);
        let mut found = foregrounds.lane(lane);
        let groups = rays.count.div_ceil(LANES);
        let mut kept = [Bounds::NOTHING; KEPT_GROUPS];
        let mut likely = MostLikely::NOTHING;
        for group in 0..groups {
            let bounds = self.bounds(simd, setup, &rays, (group, bare));
            likely.count(simd, &bounds, group);
            if let Some(kept) = kept.get_mut(group) {
                *kept = bounds;
            }
        }
        let seen = likely.blocks();
        for block in seen.into_iter().flatten() {
            self.look_at(simd, setup, (lane, block, bare), known, &mut found);
        }
        // From the far end, where obstruction weighs most.
        for group in (0..groups).rev() {
            let anew;
            let bounds = if let Some(kept) = kept.get(group) {
                kept
            } else {
                anew = self.bounds(simd, setup, &rays, (group, bare));
                &anew
            };
            let mut left = self.candidates(simd, bounds, bare, found);
            for seen in seen.into_iter().flatten().filter(|seen| seen / LANES == group) {
                left &= !(1 << (seen % LANES));
            }
            while let Some(block) = left.checked_ilog2() {
                left ^= 1 << block;
                let block = group * LANES + block as usize;
                self.look_at(simd, setup, (lane, block, bare), known, &mut found);
                left &= self.candidates(simd, bounds, bare, found);
            }
        }
        horizons.station_slope[lane] = found.up;
        horizons.receiver_slope[lane] = found.back;
        horizons.obstruction[lane] = found.worst.abs().sqrt().copysign(found.worst);
        (horizons.station_doubt[lane], horizons.receiver_doubt[lane]) = (0.0, 0.0);
        if let Some(over) = over {
            over.highest[lane] = found.highest;
            over.from_station[lane] = found.from_station;
            over.from_receiver[lane] = found.from_receiver;
        }
    }

    /// What the blocks of a group may come to at most.
    #[inline(always)]
    fn bounds<S: Simd>(
        &self,
        simd: S,
        setup: &Setup<'_>,
        rays: &BothRays<'_>,
        (group, bare): (usize, Option<f32>),
    ) -> Bounds {
        let spacing = setup.station.spacing as f32;
        let curvature = setup.station.curvature as f32;
        let mut bounds = Bounds::NOTHING;
        let length = BLOCK as f32 * spacing;
        let farthest = self.distance * (1.0 - FOREGROUND_POINTS as f32 / self.steps);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let number = at.load(&LANE_NUMBERS) + (group * LANES) as f32;
            let (before, after) =
                (at.slice(rays.before, group * LANES), at.slice(rays.after, group * LANES));
            let higher = before.max(after);
            // Where nothing is told of a block both are infinite.
            let apart = before.above(after).or(after.above(before));
            let beyond = apart.select((before - after).abs() * BEYOND_BOTH, higher.zero());
            let steepest = higher + beyond.at_most(10.0);
            let excess = steepest - self.slope;
            let start = (number * length).at_least(spacing);
            let last = (number * length + (length - 0.5 * spacing)).at_most(farthest);
            let place = excess.exceeds(0.0).select(last, start.min(last));
            let weight = place / (-place + self.distance);
            let counts = (-number + rays.count as f32).exceeds(0.5);
            let none = Register::splat(simd, f32::NEG_INFINITY);
            counts.select(steepest, none).store(&mut bounds.up, part);
            counts.select(excess * weight - self.slope, none).store(&mut bounds.back, part);
            let square = excess * excess.abs() * weight;
            counts.select(square, none).store(&mut bounds.worst, part);
            let Some(slope) = bare else { continue };
            // What stands on the bare earth only makes the bound a safer one.
            let excess = steepest + last * curvature - slope;
            let place = excess.exceeds(0.0).select(last, start.min(last));
            counts.select(excess, none).store(&mut bounds.from_station, part);
            counts.select(excess * place, none).store(&mut bounds.highest, part);
            let weight = place / (-place + self.distance);
            counts.select(excess * weight, none).store(&mut bounds.from_receiver, part);
        }
        bounds
    }

    /// Which blocks of a group may hold more than has been found, as bits.
    #[inline(always)]
    fn candidates<S: Simd>(
        &self,
        simd: S,
        bounds: &Bounds,
        bare: Option<f32>,
        found: Found,
    ) -> u32 {
        let blocked = found.up >= self.slope;
        let mut bits = 0;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let mut may = at.load(&bounds.up).exceeds(found.up);
            if blocked {
                may = may.or(at.load(&bounds.back).exceeds(found.back));
            } else {
                may = may.or(at.load(&bounds.worst).exceeds(found.worst));
            }
            if bare.is_some() {
                may = may.or(at.load(&bounds.from_station).exceeds(found.from_station.max(0.0)));
                if found.from_station > 0.0 {
                    may = may.or(at.load(&bounds.highest).exceeds(found.highest));
                    may = may.or(at.load(&bounds.from_receiver).exceeds(found.from_receiver));
                }
            }
            bits |= may.bits(part);
        }
        bits
    }

    /// v1 and v2 of P.526 over all points of the path, m^2 and m^3, which ends on
    /// bare earth `ground` metres above datum.
    #[inline(always)]
    pub(super) fn integrals<S: Simd>(&self, simd: S, setup: &Setup<'_>, ground: f32) -> (f32, f32) {
        let raster = setup.terrain.ground();
        let (mut heights, mut moments): (Lanes, Lanes) = ([0.0; LANES], [0.0; LANES]);
        for block in 0..(self.steps as usize).div_ceil(BLOCK) {
            let first = (block * BLOCK) as f32;
            let (x, y) = self.places(simd, first);
            let found = raster.heights(simd, &x, &y);
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let point = at.load(&LANE_NUMBERS) + first;
                let height = at.load(&found) - setup.station.datum;
                let height = point.exceeds(0.5).select(height, height.zero());
                let inside = (-point + self.steps).exceeds(0.5);
                let height = inside.select(height, height.zero());
                (at.load(&heights) + height).store(&mut heights, part);
                (at.load(&moments) + height * point).store(&mut moments, part);
            }
        }
        let step = self.distance / self.steps;
        let sum = |lanes: &Lanes| lanes.iter().sum::<f32>();
        let first = step * (2.0 * sum(&heights) + ground);
        let last = ground * (3.0 * self.distance - step);
        (first, step * (6.0 * step * sum(&moments) + last))
    }

    /// Where points of the path lie, from number `first` on, from the raster's first
    /// centre.
    #[inline(always)]
    fn places<S: Simd>(&self, simd: S, first: f32) -> (Lanes, Lanes) {
        let [a, b, c, d] = self.course;
        let per_step = 1.0 / self.steps;
        let (mut x, mut y): (Lanes, Lanes) = ([0.0; LANES], [0.0; LANES]);
        for part in 0..parts::<S>() {
            let t = (Register::load(simd, &LANE_NUMBERS, part) + first) * per_step;
            let t = t.at_most(1.0);
            ((((t * d.0 + c.0) * t + b.0) * t + a.0) * t + self.station.0).store(&mut x, part);
            ((((t * d.1 + c.1) * t + b.1) * t + a.1) * t + self.station.1).store(&mut y, part);
        }
        (x, y)
    }

    /// Looks at the points of the path that lie along a block of the rays.
    #[inline(always)]
    fn look_at<S: Simd>(
        &self,
        simd: S,
        setup: &Setup<'_>,
        (lane, block, bare): (usize, usize, Option<f32>),
        kept: &mut Kept<'_>,
        found: &mut Found,
    ) {
        let spacing = setup.station.spacing as f32;
        let per_step = 1.0 / self.steps;
        // Points of the path lie a little closer than those of rays.
        let first = ((block * BLOCK) as f32 * spacing / self.distance * self.steps).round();
        let places = self.places(simd, first);
        let which = (lane, block);
        let heights = kept.surface.heights(simd, &setup.terrain.surface, which, &places);
        let curvature = setup.station.curvature as f32;
        let none = Register::splat(simd, f32::NEG_INFINITY);
        let one = Register::splat(simd, 1.0);
        let (mut up, mut back, mut worst) = (none, none, none);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let point = at.load(&LANE_NUMBERS) + first;
            let place = point * per_step * self.distance;
            // Over the distances from both ends.
            let per_place = one / place;
            let per_rest = one / (-place + self.distance);
            let ground = at.load(&heights) - setup.station.datum - place * place * curvature;
            let rise = (ground - self.mast) * per_place;
            let excess = rise - self.slope;
            let counts = point.exceeds(0.5);
            let inside = (-point + self.steps).exceeds(0.5);
            let (rise, behind) = (counts.select(rise, none), (ground - self.receiver) * per_rest);
            let square = counts.select(excess * excess.abs() * place * per_rest, none);
            up = inside.select(rise, none).max(up);
            back = inside.select(counts.select(behind, none), none).max(back);
            worst = inside.select(square, none).max(worst);
        }
        found.up = larger(up.largest(), found.up);
        found.back = larger(back.largest(), found.back);
        found.worst = larger(worst.largest(), found.worst);
        if let Some(slope) = bare {
            let heights = match &setup.terrain.bare_earth {
                Some(bare_earth) => kept.bare_earth.heights(simd, bare_earth, which, &places),
                None => heights,
            };
            self.count_bare(simd, setup, (first, slope), &heights, found);
        }
    }

    /// Counts points of the bare earth, from point number `first` of the path on,
    /// against a line of this slope.
    #[inline(always)]
    fn count_bare<S: Simd>(
        &self,
        simd: S,
        setup: &Setup<'_>,
        (first, slope): (f32, f32),
        heights: &Lanes,
        found: &mut Found,
    ) {
        let per_step = 1.0 / self.steps;
        let none = Register::splat(simd, f32::NEG_INFINITY);
        let (mut highest, mut up, mut back) = (none, none, none);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let point = at.load(&LANE_NUMBERS) + first;
            let place = point * per_step * self.distance;
            let excess = at.load(heights) - setup.station.datum - self.mast - place * slope;
            let counts = point.exceeds(0.5).select(excess, none);
            let excess = (-point + self.steps).exceeds(0.5).select(counts, none);
            highest = excess.max(highest);
            up = point.exceeds(0.5).select(excess / place, none).max(up);
            let rest = (-place + self.distance).at_least(0.01 * setup.station.spacing as f32);
            back = (excess / rest).max(back);
        }
        found.highest = larger(highest.largest(), found.highest);
        found.from_station = larger(up.largest(), found.from_station);
        found.from_receiver = larger(back.largest(), found.from_receiver);
    }
}

/// Groups of blocks of which the bounds are worked out once.
const KEPT_GROUPS: usize = 4;

/// The blocks that most likely hold the horizons of both ends, and what they may
/// come to.
struct MostLikely([(f32, Option<usize>); 2]);

impl MostLikely {
    const NOTHING: Self = Self([(f32::NEG_INFINITY, None); 2]);

    /// Counts the blocks of a group.
    #[inline(always)]
    fn count<S: Simd>(&mut self, simd: S, bounds: &Bounds, group: usize) {
        for ((most, at), lanes) in self.0.iter_mut().zip([&bounds.up, &bounds.back]) {
            let load = |part| Register::load(simd, lanes, part);
            let largest =
                (1..parts::<S>()).fold(load(0), |most, part| load(part).max(most)).largest();
            if largest > *most {
                let all = Register::splat(simd, largest);
                let less =
                    (0..parts::<S>()).fold(0, |bits, part| bits | all.above(load(part)).bits(part));
                (*most, *at) = (largest, Some(group * LANES + less.trailing_ones() as usize));
            }
        }
    }

    /// At the station's end, and at the receiver's if that is another one.
    fn blocks(&self) -> [Option<usize>; 2] {
        let [(_, up), (_, back)] = self.0;
        [up, back.filter(|back| Some(*back) != up)]
    }
}

/// What each block of a group may come to at most.
type Bounds = Found<Lanes>;

impl Bounds {
    const NOTHING: Self = Self {
        up: [f32::NEG_INFINITY; LANES],
        back: [f32::NEG_INFINITY; LANES],
        worst: [f32::NEG_INFINITY; LANES],
        highest: [f32::NEG_INFINITY; LANES],
        from_station: [f32::NEG_INFINITY; LANES],
        from_receiver: [f32::NEG_INFINITY; LANES],
    };
}

impl<'a> BothRays<'a> {
    /// The rays that a cell lies between, as far as they count for it.
    fn of(
        setup: &Setup<'_>,
        fan: &'a Fan,
        cells: &CellGeometry,
        (number, lane): (usize, usize),
    ) -> Option<Self> {
        let masts = setup.station.masts.len();
        let [blocks, _] = fan.padded;
        let ray = cells.ray[lane] as usize;
        let row = |ray: usize| {
            let pair = ray * masts + number;
            fan.blocks.get(pair * blocks..(pair + 1) * blocks)
        };
        let count = cells.last_point[lane] as usize / BLOCK + 1;
        Some(Self { before: row(ray)?, after: row(ray + 1)?, count })
    }
}
