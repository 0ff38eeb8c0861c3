//! Profiles along geodesics, many from one place.

use geo::{Geodesic, InterpolatePoint};

use super::{PlaceError, Projector, Terrain};
use perchline_profile::{Profile, Roofs};
use perchline_units::{Metres, Position};

/// Ends of a path nearer than this are one place: the profile between them is
/// level ground of this length.
pub const CLOSEST: Metres = Metres::new(1.0);

/// A maker of many profiles that start at one place; one a thread.
///
/// The geodesic is converted to cells exactly at its start, middle and end. A
/// quadratic through the three gives the cells between: the geodesic and the
/// map projection both bend so little over the length of a radio path that it
/// stays within two hundredths of a cell over 50 km.
pub struct Tracer<'a> {
    terrain: &'a Terrain,
    projector: Projector,
    from: Position,
    start: (f64, f64),
    ground: f64,
    roofs: Roofs,
}

impl<'a> Tracer<'a> {
    pub(super) fn new(terrain: &'a Terrain, from: Position) -> Result<Self, PlaceError> {
        let mut tracer = Self::on_ground(terrain, from)?;
        tracer.roofs = terrain.roofs_around(tracer.start);
        Ok(tracer)
    }

    /// The same for a place of which the ground alone is asked.
    pub(super) fn on_ground(terrain: &'a Terrain, from: Position) -> Result<Self, PlaceError> {
        let projector = terrain.grid().projector()?;
        // Where the map projection fails there is no cell, so no terrain.
        let start = projector.to_cell(from).unwrap_or((f64::INFINITY, f64::INFINITY));
        let mut tracer = Self { terrain, projector, from, start, ground: 0.0, roofs: Roofs::NONE };
        tracer.ground = match tracer.sampler().height(start.0, start.1) {
            Sample::Height(height) => terrain.own_height(start, height),
            Sample::Gap => return Err(PlaceError::Gap { at: from }),
            Sample::Outside => return Err(tracer.outside(from)),
        };
        Ok(tracer)
    }

    /// Ground height above sea level at the place where the profiles start.
    #[must_use]
    pub fn ground(&self) -> Metres {
        Metres::new(self.ground)
    }

    /// The roofs around the place where the profiles start.
    #[must_use]
    pub const fn roofs(&self) -> Roofs {
        self.roofs
    }

    /// Writes the profile from the tracer's place to `to` into `profile`.
    ///
    /// The points are equally spaced, as near to one cell apart as the length
    /// allows without exceeding it.
    ///
    /// # Errors
    /// [`PlaceError`] when a point has no height; the profile is then empty of
    /// meaning.
    pub fn trace(&mut self, to: Position, profile: &mut Profile) -> Result<(), PlaceError> {
        let length = self.from.distance(to).value();
        if length < CLOSEST.value() {
            let ground = self.ground;
            return Ok(profile.refill(|distances, heights| {
                distances.extend([0.0, CLOSEST.value()]);
                heights.extend([ground, ground]);
            })?);
        }
        let curve = self.curve(to)?;
        let steps = (length / self.terrain.spacing().value()).ceil().max(1.0);
        let share = |step: u32| f64::from(step) / steps;
        // Far fewer points than u32 holds: a path is shorter than the earth's circumference.
        let points = steps as u32 + 1;
        let sampler = self.sampler();
        let mut failed = None;
        let filled = profile.refill(|distances, heights| {
            distances.extend((0..points).map(|step| share(step) * length));
            heights.extend((0..points).map(|step| {
                let (column, row) = curve.at(share(step));
                sampler.inner_height(column, row)
            }));
            // At the rim and near gaps a second, careful look decides.
            for (step, height) in (0..points).zip(&mut *heights).filter(|(_, h)| h.is_nan()) {
                let (column, row) = curve.at(share(step));
                match sampler.height(column, row) {
                    Sample::Height(found) => *height = found,
                    other => {
                        failed = Some((share(step), other));
                        break;
                    }
                }
            }
            if self.terrain.has_own_cells() {
                for (step, height) in (0..points).zip(heights) {
                    *height = self.terrain.own_height(curve.at(share(step)), *height);
                }
            }
        });
        let cover = Sampler { heights: self.terrain.flat_cover(), ..self.sampler() };
        let woods = Sampler { heights: self.terrain.flat_woods(), ..self.sampler() };
        match failed {
            None => {
                filled?;
                let places = (0..points).map(|step| curve.at(share(step)));
                if self.terrain.sea {
                    profile.refill_sea(places.clone().map(|place| self.terrain.is_sea(place)));
                }
                if cover.heights.is_empty() {
                    return Ok(());
                }
                profile.refill_cover(|covers, trees| {
                    for place in places {
                        let corners = cover.corners(place.0, place.1);
                        let above = |of: &Sampler<'_>| of.above_ground(corners.as_ref());
                        let covered = above(&cover);
                        covers.push(covered);
                        if !woods.heights.is_empty() {
                            // Rounding aside they are a part of the cover.
                            trees.push(above(&woods).min(covered));
                        }
                    }
                })?;
                // The far end matters where the near one is among houses.
                if self.roofs != Roofs::NONE {
                    profile.refill_roofs([self.roofs, self.terrain.roofs_around(curve.at(1.0))]);
                }
                Ok(())
            }
            Some((t, sample)) => {
                let at = self.along(to, t);
                Err(match sample {
                    Sample::Outside => self.outside(at),
                    _ => PlaceError::Gap { at },
                })
            }
        }
    }

    /// The geodesic to `to` as a curve of cells.
    fn curve(&self, to: Position) -> Result<Curve, PlaceError> {
        let [middle, end] =
            self.projector.to_cells([self.along(to, 0.5), to]).map_err(|_| self.outside(to))?;
        Ok(Curve::through(self.start, middle, end))
    }

    /// The position at a share `t` of the geodesic to `to`.
    fn along(&self, to: Position, t: f64) -> Position {
        let point = Geodesic.point_at_ratio_between(self.from.point(), to.point(), t);
        // A point between two positions is one itself; the fallback is never needed.
        Position::from_point(point).unwrap_or(to)
    }

    fn sampler(&self) -> Sampler<'a> {
        Sampler::new(self.terrain)
    }

    fn outside(&self, at: Position) -> PlaceError {
        let swapped = Position::new(at.longitude(), at.latitude()).ok().is_some_and(|other| {
            let grid = self.terrain.grid();
            self.projector.to_cell(other).is_ok_and(|(column, row)| {
                (0.0..=grid.columns() as f64).contains(&column)
                    && (0.0..=grid.rows() as f64).contains(&row)
            })
        });
        PlaceError::Outside { at, bounds: self.terrain.covered(), swapped }
    }
}

/// A quadratic in the share of the path's length that yields (column, row).
struct Curve {
    start: (f64, f64),
    linear: (f64, f64),
    square: (f64, f64),
}

impl Curve {
    /// The quadratic that takes these values at 0, 1/2 and 1.
    fn through(start: (f64, f64), middle: (f64, f64), end: (f64, f64)) -> Self {
        let linear = |s: f64, m: f64, e: f64| 4.0 * m - 3.0 * s - e;
        let square = |s: f64, m: f64, e: f64| 2.0 * (s - 2.0 * m + e);
        Self {
            start,
            linear: (linear(start.0, middle.0, end.0), linear(start.1, middle.1, end.1)),
            square: (square(start.0, middle.0, end.0), square(start.1, middle.1, end.1)),
        }
    }

    fn at(&self, t: f64) -> (f64, f64) {
        (
            self.start.0 + t * (self.linear.0 + t * self.square.0),
            self.start.1 + t * (self.linear.1 + t * self.square.1),
        )
    }
}

/// What a place of the window has.
pub(super) enum Sample {
    Height(f64),
    Gap,
    Outside,
}

/// The four cells around a place: the upper left one, and what each of them counts.
struct Corners {
    first: usize,
    weights: [f64; 4],
}

/// Bilinear heights from the cells of a window.
#[derive(Clone, Copy)]
pub(super) struct Sampler<'a> {
    heights: &'a [f32],
    columns: usize,
    /// Size of the window.
    size: (f64, f64),
    /// The greatest column and row that start a pair of neighbours.
    last: (f64, f64),
    /// Offsets to the neighbours right and below; 0 on a window one cell wide.
    step: (usize, usize),
}

/// What converting a position may be off by through rounding, in cells.
const ROUNDING: f64 = 1e-6;

impl<'a> Sampler<'a> {
    pub(super) fn new(terrain: &'a Terrain) -> Self {
        let (rows, columns) = terrain.heights().dim();
        Self {
            heights: terrain.flat(),
            columns,
            size: (columns as f64, rows as f64),
            last: (columns.saturating_sub(2) as f64, rows.saturating_sub(2) as f64),
            step: (usize::from(columns > 1), if rows > 1 { columns } else { 0 }),
        }
    }

    /// The height between four centres that all have one; NaN anywhere else.
    #[inline]
    fn inner_height(&self, column: f64, row: f64) -> f64 {
        let (x, y) = (column - 0.5, row - 0.5);
        if !(x >= 0.0 && y >= 0.0 && x < self.size.0 && y < self.size.1) {
            return f64::NAN;
        }
        // Cutting off is rounding down here, and much faster than `floor`.
        let (left, top) = (x as u32, y as u32);
        let first = top as usize * self.columns + left as usize;
        let below = first + self.columns;
        let pair = |at: usize| self.heights.get(at..at + 2);
        let (Some(&[a, b]), Some(&[c, d])) = (pair(first), pair(below)) else {
            return f64::NAN;
        };
        if left as usize + 1 == self.columns {
            return f64::NAN;
        }
        let (right, down) = (x - f64::from(left), y - f64::from(top));
        let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
        mix(mix(f64::from(a), f64::from(b), right), mix(f64::from(c), f64::from(d), right), down)
    }

    /// The same of what stands on ground that has no gap: of that there is none either.
    fn above_ground(&self, corners: Option<&Corners>) -> f64 {
        match corners.map(|corners| self.height_of(corners)) {
            Some(Sample::Height(height)) => height.max(0.0),
            _ => 0.0,
        }
    }

    /// The height at a fractional cell. Within half a cell of the rim, where
    /// no second centre lies beyond, the outermost centres hold.
    pub(super) fn height(&self, column: f64, row: f64) -> Sample {
        self.corners(column, row).map_or(Sample::Outside, |corners| self.height_of(&corners))
    }

    /// The four cells around a place; `None` outside.
    #[inline]
    fn corners(&self, column: f64, row: f64) -> Option<Corners> {
        let inside = column >= -ROUNDING
            && row >= -ROUNDING
            && column <= self.size.0 + ROUNDING
            && row <= self.size.1 + ROUNDING;
        if !inside {
            return None;
        }
        let x = (column - 0.5).clamp(0.0, (self.size.0 - 1.0).max(0.0));
        let y = (row - 0.5).clamp(0.0, (self.size.1 - 1.0).max(0.0));
        // Cutting off is rounding down here, and much faster than `trunc`.
        let cut = |v: f64, last: f64| f64::from(v as u32).min(last);
        let (left, top) = (cut(x, self.last.0), cut(y, self.last.1));
        let (right, down) = (x - left, y - top);
        Some(Corners {
            first: top as u32 as usize * self.columns + left as u32 as usize,
            weights: [
                (1.0 - right) * (1.0 - down),
                right * (1.0 - down),
                (1.0 - right) * down,
                right * down,
            ],
        })
    }

    /// The height between these cells.
    #[inline]
    fn height_of(&self, Corners { first, weights }: &Corners) -> Sample {
        let cell =
            |offset: usize| self.heights.get(first + offset).map_or(f64::NAN, |&h| f64::from(h));
        let [a, b, c, d] = *weights;
        let corners = [
            (cell(0), a),
            (cell(self.step.0), b),
            (cell(self.step.1), c),
            (cell(self.step.0 + self.step.1), d),
        ];
        let mut height: f64 = corners.iter().map(|(h, weight)| h * weight).sum();
        if height.is_nan() {
            // A gap counts only where it has a say beyond rounding.
            height =
                corners.iter().filter(|(_, w)| *w > ROUNDING).map(|(h, weight)| h * weight).sum();
            if height.is_nan() {
                return Sample::Gap;
            }
        }
        Sample::Height(height)
    }
}
