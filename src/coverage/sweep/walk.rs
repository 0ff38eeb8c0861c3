//! A wedge from the antenna outwards: its rays, then its cells line by line.

use std::iter;
use std::sync::atomic::{AtomicBool, Ordering};

use pulp::Simd;

use super::cells::{CellLosses, Group, Kind, Losses, Setting, work};
use super::ends::{Ends, NEAR, Near, OWN};
use super::fan::{Fan, Spread};
use super::frame::{DEGREE, Frame};
use super::lane::LANES;
use super::sight::Sight;
use super::surface::Strip;
use super::task::{AntennaPair, CellProfiles, CellSpan, KnownLanes, LossSink};
use super::verdict::{Verdict, Verdicts, verdicts};
use super::wedge::{MapCells, Wedge};
use super::woods::Woods;

/// A sweep over a map.
pub(super) struct Sweep<'a> {
    pub setting: Setting<'a>,
    /// The same as if no trees stood there, and what leaves take, where they do.
    pub woods: Option<Woods<'a>>,
    pub frame: Frame,
    pub map: MapCells,
    /// Distance between neighbouring rays at their far ends, in spacings.
    pub ray_gap: f64,
    /// Cells whose distance is greater are left out, metres.
    pub radius: f64,
    pub stop: &'a AtomicBool,
}

/// Cells beside a wedge that paths to its cells may touch. Where a path bends
/// further, its heights are read one by one.
const MARGIN: f64 = 6.0;

/// What a thread keeps between wedges.
#[derive(Default)]
pub(super) struct Bench {
    /// Over everything, and as if no trees stood there.
    layers: [Layer; 2],
    sights: Vec<Sight>,
    /// The losses of a group, layer by layer.
    found: Vec<Losses>,
}

/// What is read off one surface.
#[derive(Default)]
pub(super) struct Layer {
    pub fan: Fan,
    pub near: Box<Near>,
    strip: Strip,
}

impl Sweep<'_> {
    /// Works on one wedge; ends early when told to stop.
    #[inline(always)]
    pub(super) fn wedge<S: Simd>(
        &self,
        simd: S,
        wedge: &Wedge,
        bench: &mut Bench,
        profiles: &mut dyn CellProfiles,
        sink: &dyn LossSink,
    ) {
        let Some(spread) = self.spread(wedge) else { return };
        if self.stop.load(Ordering::Relaxed) {
            return;
        }
        let Bench { layers, sights, found } = bench;
        let columns = wedge.side.lines_are_columns();
        let mut kind = Kind::Apart;
        for (setting, layer) in self.settings().zip(&mut *layers) {
            layer.fan.begin(setting.ground, &self.frame, &setting.stage, &spread);
            kind = self.lay_out(setting, wedge, &mut layer.strip);
        }
        let (run_scale, line_scale) =
            if columns { (self.map.scale.1, self.map.scale.0) } else { self.map.scale };
        let origin = ((self.frame.origin.0 - 0.5) as f32, (self.frame.origin.1 - 0.5) as f32);
        let next = if columns { (0.0, run_scale as f32) } else { (run_scale as f32, 0.0) };
        for line in wedge.lines() {
            let Some(run) = wedge.run(line) else { continue };
            if self.stop.load(Ordering::Relaxed) {
                return;
            }
            let cell = |at: usize| {
                let (column, row) = if columns { (line, at) } else { (at, line) };
                let (x, y) = self.map.centre(column, row);
                (column, row, x - self.frame.origin.0, y - self.frame.origin.1)
            };
            let (_, _, x, y) = cell(run.start);
            let (held, first) = if columns { (x, y) } else { (y, x) };
            let [along, across] = self.polynomials(&spread, held, columns);
            let last = first + (run.end - run.start) as f64 * run_scale;
            // The farthest cell of the run is at one of its ends.
            let square = |at: f64| {
                let (along, across) = (value(along, at), value(across, at));
                along * along + across * across
            };
            let farthest = square(first).max(square(last)).sqrt();
            let stage = &self.setting.stage;
            let point = (farthest / stage.spacing) as usize + 1;
            for (setting, layer) in self.settings().zip(&mut *layers) {
                layer.fan.reach(simd, setting.ground, &self.frame, stage, point);
            }
            let middle = 0.5 * (first + last);
            let (along_axis, across_axis) = (value(along, middle), value(across, middle));
            let (ax, ay) = spread.axis;
            let (bend_x, bend_y) = self
                .frame
                .to_cell
                .bend(along_axis * ax + across_axis * ay, along_axis * ay - across_axis * ax);
            let mut start = run.start;
            let mut beyond = true;
            while start < run.end {
                let count = (run.end - start).min(LANES);
                let (column, row, x, y) = cell(start);
                let running = if columns { y } else { x };
                let group = Group {
                    count,
                    first: (
                        (x + self.frame.origin.0 - 0.5) as f32,
                        (y + self.frame.origin.1 - 0.5) as f32,
                    ),
                    next,
                    origin,
                    bend: (bend_x as f32, bend_y as f32),
                    along: shifted(along, running, run_scale),
                    across: shifted(across, running, run_scale),
                    rim: self.near_the_rim((x, y), (bend_x, bend_y)),
                    kind,
                };
                let distance = length(group.along[0], group.across[0]);
                let reach = LANES as f32 * length(group.along[1], group.across[1]);
                if distance - 2.0 * reach <= self.radius as f32 {
                    beyond = false;
                    let span = CellSpan {
                        first: row * self.map.columns + column,
                        step: if columns { self.map.columns } else { 1 },
                        count,
                    };
                    found.clear();
                    let [over, _] = &*layers;
                    let ends = Ends::of(simd, &self.setting, &over.strip, &spread, &group);
                    let verdicts = verdicts(&self.setting, &over.fan, &group, &ends);
                    for (setting, layer) in self.settings().zip(&mut *layers) {
                        layer.near.fill(simd, setting, &layer.strip, &group, &ends);
                        work(
                            simd,
                            setting,
                            (&layer.fan, &layer.near, sights),
                            &group,
                            &ends,
                            found,
                        );
                    }
                    if let Some(woods) = &self.woods {
                        woods.merge(simd, &self.setting, layers, &group, &ends, found);
                    }
                    let mut own = Vec::new();
                    if doubtful(&verdicts) {
                        let verdicts = verdicts.iter().zip(span.cells());
                        own.extend(verdicts.map(|(verdict, cell)| match verdict {
                            Verdict::Doubtful => profiles.losses(cell),
                            _ => None,
                        }));
                    }
                    let (masts, carried) = (stage.masts.len(), self.setting.carried.len());
                    for (number, losses) in found.iter_mut().take(masts * carried).enumerate() {
                        let pair = AntennaPair { mast: number % masts, carried: number / masts };
                        let mut known = verdicts.map(|verdict| verdict == Verdict::Known);
                        if self.radius != f64::INFINITY || doubtful(&verdicts) {
                            settle(&mut known, losses, &own, pair.mast * carried + pair.carried);
                            self.cut(&mut known, losses);
                        }
                        sink.take(pair, span, &known, losses);
                    }
                }
                start += count;
            }
            if beyond && wedge.away(line) * line_scale.abs() > 2.0 * OWN as f64 {
                return;
            }
        }
    }

    /// What is swept, layer by layer.
    fn settings(&self) -> impl Iterator<Item = &Setting<'_>> {
        iter::once(&self.setting).chain(self.woods.as_ref().map(|woods| &woods.cleared))
    }

    /// Makes the cells of the wedge's runs neighbours in memory, if they are
    /// neighbours on the terrain.
    fn lay_out(&self, setting: &Setting<'_>, wedge: &Wedge, strip: &mut Strip) -> Kind {
        if self.map.scale != (1.0, 1.0) {
            return Kind::Apart;
        }
        let surface = &setting.ground.surface;
        if !wedge.side.lines_are_columns() {
            strip.upright(surface);
            return Kind::AlongRows;
        }
        let (last_column, last_row) = (f64::from(surface.last().0), f64::from(surface.last().1));
        let (x, y) = (self.frame.origin.0 - 0.5, self.frame.origin.1 - 0.5);
        // From a little behind the antenna to the wedge's last line.
        let ends = [wedge.lines().next(), wedge.lines().last()];
        let places = ends.into_iter().flatten().map(|line| self.map.centre(line, 0).0 - 0.5);
        let (low, high) = places.fold((x, x), |(low, high), x| (low.min(x), high.max(x)));
        let line = |v: f64| v.clamp(0.0, last_column) as usize;
        let lines = line(low - MARGIN)..line(high + MARGIN) + 1;
        strip.turned(surface, lines, |line| {
            // The wedge's cells there, some more for paths that bend, and as
            // many as a row of places may look past the end.
            let [(_, one), (_, other)] = wedge.sides((line as f64 - x).abs() + 1.0);
            let from = y + one.min(other) - MARGIN;
            let to = y + one.max(other) + MARGIN + (LANES + 2) as f64;
            let cell = |v: f64| v.clamp(0.0, last_row + 1.0) as usize;
            cell(from)..cell(to)
        });
        Kind::AlongColumns
    }

    /// Leaves out cells beyond the radius.
    #[inline(always)]
    fn cut(&self, known: &mut KnownLanes, losses: &Losses) {
        for (known, distance) in known.iter_mut().zip(losses.distance) {
            if f64::from(distance) > self.radius {
                *known = false;
            }
        }
    }

    /// Whether the path to a cell and its neighbours may bend out of the raster.
    fn near_the_rim(&self, (x, y): (f64, f64), bend: (f64, f64)) -> bool {
        let bulge = 0.25 * (bend.0 * bend.0 + bend.1 * bend.1).sqrt() + 1e-3;
        let last = self.setting.ground.surface.last();
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

    /// Distance along and across the wedge as polynomials of the cell along a run.
    #[inline(always)]
    fn polynomials(&self, spread: &Spread, held: f64, columns: bool) -> [Polynomial; 2] {
        let line = self.frame.to_earth.line(held, columns);
        let (ax, ay) = spread.axis;
        let (mut along, mut across) = ([0.0; DEGREE + 1], [0.0; DEGREE + 1]);
        for ((along, across), (e, n)) in along.iter_mut().zip(&mut across).zip(line) {
            *along = e * ax + n * ay;
            *across = e * ay - n * ax;
        }
        [along, across]
    }

    /// The rays that a wedge needs; `None` when it holds no cell.
    fn spread(&self, wedge: &Wedge) -> Option<Spread> {
        let last = wedge.lines().rev().find(|line| wedge.run(*line).is_some())?;
        let away = wedge.away(last) + 0.5;
        let earth = |(column, row): (f64, f64)| {
            self.frame.to_earth.at(column * self.map.scale.0, row * self.map.scale.1)
        };
        let [a, b] = wedge.sides(away).map(earth);
        let (east, north) = (
            a.0 / a.0.hypot(a.1) + b.0 / b.0.hypot(b.1),
            a.1 / a.0.hypot(a.1) + b.1 / b.0.hypot(b.1),
        );
        let length = east.hypot(north);
        let axis = (east / length, north / length);
        let (mut low, mut high, mut far) = (f64::INFINITY, f64::NEG_INFINITY, 0f64);
        for part in 1..=8 {
            for side in wedge.sides(away * f64::from(part) / 8.0) {
                let (e, n) = earth(side);
                let tangent = (e * axis.1 - n * axis.0) / (e * axis.0 + n * axis.1);
                (low, high) = (low.min(tangent), high.max(tangent));
                far = far.max(e.hypot(n));
            }
        }
        let far = far.min(self.radius + 2.0 * self.setting.stage.spacing);
        if !(far.is_finite() && low < high) {
            return None;
        }
        let spacing = self.setting.stage.spacing;
        let gaps = ((high - low) * far / (self.ray_gap * spacing)).ceil().max(1.0);
        let points = (far / spacing).ceil() as usize + 2 - NEAR.min(2);
        let room = self.setting.stage.drop.len();
        Some(Spread {
            axis,
            first: low,
            step: (high - low) / gaps,
            rays: gaps as usize + 1,
            points: points.min(room),
        })
    }
}

/// Whether any cell's own path must be looked at.
#[inline(always)]
fn doubtful(verdicts: &Verdicts) -> bool {
    verdicts.contains(&Verdict::Doubtful)
}

/// Puts what the doubtful cells' own paths say into their places.
fn settle(
    known: &mut KnownLanes,
    losses: &mut Losses,
    own: &[Option<Vec<CellLosses>>],
    pair: usize,
) {
    for (l, own) in own.iter().enumerate() {
        if let Some(cell) = own.as_ref().and_then(|all| all.get(pair)) {
            losses.talk_in[l] = cell.talk_in;
            losses.talk_out[l] = cell.talk_out;
            losses.up[l] = cell.up;
            losses.back[l] = cell.back;
            losses.sight[l] = cell.sight;
            known[l] = true;
        }
    }
}

/// Coefficients of 1, x ... x^4.
type Polynomial = [f64; DEGREE + 1];

/// The value of a polynomial.
#[inline(always)]
fn value([a, b, c, d, e]: Polynomial, x: f64) -> f64 {
    (((e * x + d) * x + c) * x + b) * x + a
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
