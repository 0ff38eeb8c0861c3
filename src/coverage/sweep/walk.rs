//! A wedge from the station outwards: its rays, then its cells line by line, a
//! batch at a time.

use std::iter;
use std::sync::atomic::{AtomicBool, Ordering};

use pulp::Simd;

use super::batch::{Look, OnOwnPaths, OwnIntegrals, add_losses};
use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS, SAMPLED_WHOLE_STEPS};
use super::doubt::{CellState, cell_states};
use super::fan::FanShape;
use super::geometry::{Batch, BatchLosses, CellLosses, Layout, Setup};
use super::kept_blocks::KeptBlocks;
use super::own_path::{Courses, Kept};
use super::raster::Strip;
use super::registers::LANES;
use super::scratch::{Scratch, SurfaceScratch};
use super::task::{CellProfiles, CellSpan, Combination, KnownLanes, LossSink};
use super::transform::{DEGREE, StationFrame};
use super::trees::TreeBlocks;
use super::wedge::{MapGrid, Run, Wedge};
use super::woods::Woods;

/// A sweep over a map.
pub(super) struct Sweep<'a> {
    pub setup: Setup<'a>,
    /// The same as if no trees stood there, and what foliage attenuates, where
    /// there are trees.
    pub woods: Option<Woods<'a>>,
    pub frame: StationFrame,
    pub map: MapGrid,
    /// Distance between neighbouring rays at their far ends, in spacings of the
    /// terrain.
    pub ray_gap: f64,
    /// Cells whose distance is greater are left out, metres.
    pub radius: f64,
    pub stop: &'a AtomicBool,
}

/// Cells beside a wedge that paths to its cells may touch. Where a path bends
/// further, its heights are read one by one.
const MARGIN: f64 = 6.0;

/// Coefficients of 1, x ... x^4.
type Polynomial = [f64; DEGREE + 1];

/// One run of cells, seen from the station.
struct RunGeometry {
    cells: Run,
    /// Whether the run is a part of a column.
    columns: bool,
    /// Distance along the wedge's axis and across it, metres, as polynomials of
    /// the terrain cells from the station along the run.
    along: Polynomial,
    across: Polynomial,
    /// Direction of the wedge's axis.
    axis: (f64, f64),
    layout: Layout,
}

impl Sweep<'_> {
    /// Computes one wedge and hands its cells to `sink`; ends early when told to
    /// stop.
    #[inline(always)]
    pub(super) fn wedge<S: Simd>(
        &self,
        simd: S,
        wedge: &Wedge,
        scratch: &mut Scratch,
        profiles: &mut dyn CellProfiles,
        sink: &dyn LossSink,
    ) {
        let Some(fan) = self.fan_shape(wedge) else { return };
        if self.stopped() {
            return;
        }
        let columns = wedge.quadrant.lines_are_columns();
        let mut layout = Layout::Scattered;
        for (setup, surface) in self.setups().zip(&mut scratch.surfaces) {
            surface.fan.begin(setup.terrain, &self.frame, &setup.station, &fan);
            layout = self.lay_out(setup, wedge, &mut surface.strip);
        }
        if self.woods.is_some() {
            scratch.trees.begin(&scratch.surfaces[0].fan, fan.rays);
        }
        let (_, line_scale) = self.scales(columns);
        for line in wedge.lines() {
            let Some(run) = wedge.run(line) else { continue };
            if self.stopped() {
                return;
            }
            let (run, point) = self.run_geometry(&fan, run, columns, layout);
            let station = &self.setup.station;
            for (setup, surface) in self.setups().zip(&mut scratch.surfaces) {
                surface.fan.extend_to(simd, setup.terrain, &self.frame, station, point);
            }
            if self.woods.is_some() {
                let [tops, feet] = &scratch.surfaces;
                scratch.trees.note(&tops.fan, &feet.fan);
            }
            let mut beyond = true;
            for start in (run.cells.start..run.cells.end).step_by(LANES) {
                let (batch, span) = self.batch_of(&run, start);
                if self.may_be_within_radius(&batch) {
                    beyond = false;
                    self.batch(simd, &fan, (&batch, span), scratch, profiles, sink);
                }
            }
            let away = wedge.away(line) * line_scale.abs();
            if beyond && away > 2.0 * SAMPLED_WHOLE_STEPS as f64 {
                return;
            }
        }
    }

    /// Computes one batch and hands it to `sink`.
    #[inline(always)]
    fn batch<S: Simd>(
        &self,
        simd: S,
        fan: &FanShape,
        (batch, span): (&Batch, CellSpan),
        scratch: &mut Scratch,
        profiles: &mut dyn CellProfiles,
        sink: &dyn LossSink,
    ) {
        let Scratch { surfaces, trees, horizons, found, bare_earth } = scratch;
        let courses = Courses { frame: &self.frame, shape: fan };
        found.clear();
        let [over, _] = &*surfaces;
        let cells = CellGeometry::of(simd, &self.setup, &over.strip, fan, batch);
        let states = cell_states(&self.setup, &over.fan, batch, &cells);
        for (setup, surface) in self.setups().zip(&mut *surfaces) {
            surface.foreground.sample(simd, setup, &surface.strip, batch, &cells);
            let read = (&surface.fan, &*surface.foreground);
            let left = (&mut *horizons, &mut surface.pairs);
            add_losses(simd, setup, read, left, batch, &cells, found);
        }
        if let Some(woods) = &self.woods {
            woods.merge(simd, &self.setup, (surfaces, trees), batch, &cells, found);
        }
        let doubtful = states.contains(&CellState::Doubtful);
        let mut own = Vec::new();
        if doubtful {
            own.extend(states.iter().zip(span.cells()).map(|(state, cell)| match state {
                CellState::Doubtful => profiles.losses(cell),
                _ => None,
            }));
        }
        let (masts, receivers) = (self.setup.station.masts.len(), self.setup.receivers.len());
        let channels = self.setup.channels.len();
        let mut integrals = OwnIntegrals::default();
        let several = masts * receivers > 1;
        bare_earth.begin(several);
        surfaces.iter_mut().for_each(|surface| surface.kept.begin(several));
        for number in 0..masts * receivers * channels {
            let pair = number / channels;
            let which = Combination {
                mast: pair % masts,
                receiver: pair / masts,
                channel: number % channels,
            };
            let mut known = states.map(|state| state == CellState::Known);
            let mut among = u32::MAX;
            for look in [Look::AtHorizons, Look::AtAllOfIt] {
                let Some(losses) = found.get_mut(number) else { break };
                among &= sink.undecided(which, &known, losses);
                if among == 0 {
                    break;
                }
                let (whose, cells) = ((courses, among, look), (batch, &cells));
                let own = (&mut integrals, &mut *bare_earth);
                let read = (&mut *surfaces, &*trees, own);
                self.look_again(simd, whose, cells, (number, which), read, found);
            }
            let Some(losses) = found.get_mut(number) else { break };
            if self.radius != f64::INFINITY || doubtful {
                let pair = which.mast * receivers + which.receiver;
                settle(&mut known, losses, &own, pair * channels + which.channel);
                self.cut(&mut known, losses);
            }
            sink.take(which, span, &known, losses);
        }
    }

    /// Looks at the cells of some lanes of a batch on their own paths, for combination
    /// number `number`.
    #[inline(always)]
    fn look_again<S: Simd>(
        &self,
        simd: S,
        (courses, lanes, look): (Courses<'_>, u32, Look),
        (batch, cells): (&Batch, &CellGeometry),
        (number, which): (usize, Combination),
        (surfaces, trees, (integrals, bare_earth)): (
            &mut [SurfaceScratch; 2],
            &TreeBlocks,
            (&mut OwnIntegrals, &mut KeptBlocks),
        ),
        found: &mut [BatchLosses],
    ) {
        let Setup { station, receivers, channels, .. } = &self.setup;
        let (Some(mast), Some(above_ground), Some(waves)) = (
            station.masts.get(which.mast),
            receivers.get(which.receiver),
            channels.get(which.channel),
        ) else {
            return;
        };
        let antennas = (which.mast, *mast, *above_ground);
        let combinations = station.masts.len() * receivers.len() * channels.len();
        for (layer, (setup, surface)) in self.setups().zip(&mut *surfaces).enumerate() {
            let own = OnOwnPaths {
                integrals: &mut *integrals,
                kept: Kept { surface: &mut surface.kept, bare_earth: &mut *bare_earth },
            };
            let read = (&surface.fan, &*surface.foreground, own);
            let Some(pair) = surface.pairs.get_mut(number / channels.len()) else { return };
            let (whose, antennas) = ((courses, lanes, look), (waves, antennas));
            let anew = pair.look_again(simd, setup, whose, read, (batch, cells), antennas);
            let Some(losses) = found.get_mut(layer * combinations + number) else { return };
            for lane in (0..batch.count).filter(|lane| lanes & 1 << lane != 0) {
                losses.copy_lane(lane, &anew);
            }
        }
        if let Some(woods) = &self.woods {
            let which = (number..number + 1, which.channel, antennas, lanes);
            woods.merge_pair(simd, &self.setup, (surfaces, trees), (batch, cells), which, found);
        }
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// The setups that are swept, surface by surface.
    fn setups(&self) -> impl Iterator<Item = &Setup<'_>> {
        iter::once(&self.setup).chain(self.woods.as_ref().map(|woods| &woods.cleared))
    }

    /// Terrain cells a map cell along runs and from line to line.
    fn scales(&self, columns: bool) -> (f64, f64) {
        if columns { (self.map.scale.1, self.map.scale.0) } else { self.map.scale }
    }

    /// Column and row on the map of a cell of a line, and its centre in terrain
    /// cells from the station.
    #[inline(always)]
    fn cell(&self, line: usize, at: usize, columns: bool) -> ((usize, usize), (f64, f64)) {
        let (column, row) = if columns { (line, at) } else { (at, line) };
        let (x, y) = self.map.centre(column, row);
        ((column, row), (x - self.frame.origin.0, y - self.frame.origin.1))
    }

    /// The geometry of a run, and the point of the rays up to which it needs them.
    #[inline(always)]
    fn run_geometry(
        &self,
        fan: &FanShape,
        cells: Run,
        columns: bool,
        layout: Layout,
    ) -> (RunGeometry, usize) {
        let (run_scale, _) = self.scales(columns);
        let (_, (x, y)) = self.cell(cells.line, cells.start, columns);
        let (held, first) = if columns { (x, y) } else { (y, x) };
        let [along, across] = self.polynomials(fan, held, columns);
        let last = first + (cells.end - cells.start) as f64 * run_scale;
        // The farthest cell of the run is at one of its ends.
        let square = |at: f64| {
            let (along, across) = (value(along, at), value(across, at));
            along * along + across * across
        };
        let farthest = square(first).max(square(last)).sqrt();
        let point = (farthest / self.setup.station.spacing) as usize + 1;
        (RunGeometry { cells, columns, along, across, axis: fan.axis, layout }, point)
    }

    /// How far the path to a place of a run bends, in terrain cells: see [`Batch`].
    #[inline(always)]
    fn bend(&self, run: &RunGeometry, at: f64) -> (f64, f64) {
        let (along, across) = (value(run.along, at), value(run.across, at));
        let (ax, ay) = run.axis;
        self.frame.to_cell.bend(along * ax + across * ay, along * ay - across * ax)
    }

    /// The batch of the cells of a run from `start` on, and where it is on the map.
    #[inline(always)]
    fn batch_of(&self, run: &RunGeometry, start: usize) -> (Batch, CellSpan) {
        let columns = run.columns;
        let (run_scale, _) = self.scales(columns);
        let count = (run.cells.end - start).min(LANES);
        let ((column, row), (x, y)) = self.cell(run.cells.line, start, columns);
        let running = if columns { y } else { x };
        let origin = self.frame.origin;
        let half = 0.5 * (LANES - 1) as f64;
        let bends = [0.0, half, 2.0 * half].map(|lane| self.bend(run, running + lane * run_scale));
        let batch = Batch {
            count,
            first: ((x + origin.0 - 0.5) as f32, (y + origin.1 - 0.5) as f32),
            step: if columns { (0.0, run_scale as f32) } else { (run_scale as f32, 0.0) },
            station: self.frame.offset_to_first_centre(),
            bend: through(bends, half),
            along: shifted(run.along, running, run_scale),
            across: shifted(run.across, running, run_scale),
            near_rim: bends.into_iter().any(|bend| self.near_the_rim((x, y), bend)),
            layout: run.layout,
        };
        let span = CellSpan {
            first: row * self.map.columns + column,
            step: if columns { self.map.columns } else { 1 },
            count,
        };
        (batch, span)
    }

    /// Whether some cell of a batch may be within the radius.
    #[inline(always)]
    fn may_be_within_radius(&self, batch: &Batch) -> bool {
        let distance = length(batch.along[0], batch.across[0]);
        let reach = LANES as f32 * length(batch.along[1], batch.across[1]);
        distance - 2.0 * reach <= self.radius as f32
    }

    /// Makes the cells of the wedge's runs neighbours in memory, if they are
    /// neighbours on the terrain.
    fn lay_out(&self, setup: &Setup<'_>, wedge: &Wedge, strip: &mut Strip) -> Layout {
        if self.map.scale != (1.0, 1.0) {
            return Layout::Scattered;
        }
        let surface = &setup.terrain.surface;
        if !wedge.quadrant.lines_are_columns() {
            strip.lay_out_rows(surface);
            return Layout::AlongRows;
        }
        let (last_column, last_row) = (f64::from(surface.last().0), f64::from(surface.last().1));
        let (x, y) = (self.frame.origin.0 - 0.5, self.frame.origin.1 - 0.5);
        // From a little behind the station to the wedge's last line.
        let ends = [wedge.lines().next(), wedge.lines().last()];
        let places = ends.into_iter().flatten().map(|line| self.map.centre(line, 0).0 - 0.5);
        let (low, high) = places.fold((x, x), |(low, high), x| (low.min(x), high.max(x)));
        let line = |v: f64| v.clamp(0.0, last_column) as usize;
        let lines = line(low - MARGIN)..line(high + MARGIN) + 1;
        strip.lay_out_columns(surface, lines, |line| {
            // The wedge's cells there, some more for paths that bend, and as
            // many as the lanes may look past the end.
            let [(_, one), (_, other)] = wedge.edges((line as f64 - x).abs() + 1.0);
            let from = y + one.min(other) - MARGIN;
            let to = y + one.max(other) + MARGIN + (LANES + 2) as f64;
            let cell = |v: f64| v.clamp(0.0, last_row + 1.0) as usize;
            cell(from)..cell(to)
        });
        Layout::AlongColumns
    }

    /// Leaves out cells beyond the radius.
    #[inline(always)]
    fn cut(&self, known: &mut KnownLanes, losses: &BatchLosses) {
        for (known, distance) in known.iter_mut().zip(losses.distance) {
            if f64::from(distance) > self.radius {
                *known = false;
            }
        }
    }

    /// Whether the path to a cell and its neighbours may bend out of the raster.
    fn near_the_rim(&self, (x, y): (f64, f64), bend: (f64, f64)) -> bool {
        let bulge = 0.25 * (bend.0 * bend.0 + bend.1 * bend.1).sqrt() + 1e-3;
        let last = self.setup.terrain.surface.last();
        let size = (f64::from(last.0) + 1.0, f64::from(last.1) + 1.0);
        let span = LANES as f64 * self.map.scale.0.max(self.map.scale.1);
        let close = |start: f64, offset: f64, size: f64, span: f64| {
            let (low, high) = (offset.min(0.0) + start, (offset + span).max(0.0) + start);
            low - bulge < 0.0 || high + bulge > size
        };
        let origin = self.frame.origin;
        // Along a run the last cells lie up to a span further.
        bulge > 2e-3 && (close(origin.0, x, size.0, span) || close(origin.1, y, size.1, span))
    }

    /// Distance along and across the wedge, metres, as polynomials of the
    /// terrain cells along a run; `held` is where its line lies.
    #[inline(always)]
    fn polynomials(&self, fan: &FanShape, held: f64, columns: bool) -> [Polynomial; 2] {
        let line = self.frame.to_earth.line(held, columns);
        let (ax, ay) = fan.axis;
        let (mut along, mut across) = ([0.0; DEGREE + 1], [0.0; DEGREE + 1]);
        for ((along, across), (e, n)) in along.iter_mut().zip(&mut across).zip(line) {
            *along = e * ax + n * ay;
            *across = e * ay - n * ax;
        }
        [along, across]
    }

    /// The rays that a wedge needs; `None` when it holds no cell.
    fn fan_shape(&self, wedge: &Wedge) -> Option<FanShape> {
        let last = wedge.lines().rev().find(|line| wedge.run(*line).is_some())?;
        let away = wedge.away(last) + 0.5;
        let earth = |(column, row): (f64, f64)| {
            self.frame.to_earth.at(column * self.map.scale.0, row * self.map.scale.1)
        };
        let [a, b] = wedge.edges(away).map(earth);
        let (east, north) = (
            a.0 / a.0.hypot(a.1) + b.0 / b.0.hypot(b.1),
            a.1 / a.0.hypot(a.1) + b.1 / b.0.hypot(b.1),
        );
        let length = east.hypot(north);
        let axis = (east / length, north / length);
        let (mut low, mut high, mut far) = (f64::INFINITY, f64::NEG_INFINITY, 0f64);
        for part in 1..=8 {
            for edge in wedge.edges(away * f64::from(part) / 8.0) {
                let (e, n) = earth(edge);
                let tangent = (e * axis.1 - n * axis.0) / (e * axis.0 + n * axis.1);
                (low, high) = (low.min(tangent), high.max(tangent));
                far = far.max(e.hypot(n));
            }
        }
        let spacing = self.setup.station.spacing;
        let far = far.min(self.radius + 2.0 * spacing);
        if !(far.is_finite() && low < high) {
            return None;
        }
        let gaps = ((high - low) * far / (self.ray_gap * spacing)).ceil().max(1.0);
        let points = (far / spacing).ceil() as usize + 2 - FOREGROUND_POINTS.min(2);
        let room = self.setup.station.drop.len();
        Some(FanShape {
            axis,
            first: low,
            step: (high - low) / gaps,
            rays: gaps as usize + 1,
            points: points.min(room),
        })
    }
}

/// Puts what the doubtful cells' own profiles tell into their lanes.
fn settle(
    known: &mut KnownLanes,
    losses: &mut BatchLosses,
    own: &[Option<Vec<CellLosses>>],
    pair: usize,
) {
    for (lane, own) in own.iter().enumerate() {
        if let Some(cell) = own.as_ref().and_then(|all| all.get(pair)) {
            losses.set(lane, cell);
            known[lane] = true;
        }
    }
}

/// The value of a polynomial.
#[inline(always)]
fn value([a, b, c, d, e]: Polynomial, x: f64) -> f64 {
    (((e * x + d) * x + c) * x + b) * x + a
}

/// The polynomial that has these values at 0, `half` and twice `half`.
#[inline(always)]
fn through([a, b, c]: [(f64, f64); 3], half: f64) -> [(f32, f32); 3] {
    let coefficients = |a: f64, b: f64, c: f64| {
        let square = 0.5 * (c - 2.0 * b + a) / (half * half);
        [a as f32, ((b - a) / half - square * half) as f32, square as f32]
    };
    let (x, y) = (coefficients(a.0, b.0, c.0), coefficients(a.1, b.1, c.1));
    [(x[0], y[0]), (x[1], y[1]), (x[2], y[2])]
}

/// The length of a vector.
#[inline(always)]
fn length(x: f32, y: f32) -> f32 {
    (x * x + y * y).sqrt()
}

/// A polynomial of x as one of t, x = s + scale t.
#[inline(always)]
fn shifted([a, b, c, d, e]: Polynomial, s: f64, scale: f64) -> [f32; DEGREE + 1] {
    let square = scale * scale;
    [
        (a + s * (b + s * (c + s * (d + s * e)))) as f32,
        (scale * (b + s * (2.0 * c + s * (3.0 * d + s * 4.0 * e)))) as f32,
        (square * (c + s * (3.0 * d + s * 6.0 * e))) as f32,
        (square * scale * (d + s * 4.0 * e)) as f32,
        (square * square * e) as f32,
    ]
}
