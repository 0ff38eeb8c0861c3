//! Where the cells lie as seen from the station: geodesic distance and azimuth
//! as polynomials of the cell, and back.
//!
//! A point at geodesic distance d and azimuth A has the normal coordinates
//! east = d sin A, north = d cos A, in metres. Map projections are smooth, so over a radio
//! path's length cells are a polynomial of these to well under a hundredth of
//! a cell, and a geodesic is that polynomial along a straight line.

/// Terms of a polynomial of two variables without a constant, up to the fourth power.
const TERMS: usize = 14;

/// Exponents of the terms, by rising degree.
const POWERS: [(usize, usize); TERMS] = [
    (1, 0),
    (0, 1),
    (2, 0),
    (1, 1),
    (0, 2),
    (3, 0),
    (2, 1),
    (1, 2),
    (0, 3),
    (4, 0),
    (3, 1),
    (2, 2),
    (1, 3),
    (0, 4),
];

/// Degrees of the terms.
const DEGREES: [usize; TERMS] = [1, 1, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 4];

/// Highest degree of the polynomials.
pub(super) const DEGREE: usize = 4;

/// A polynomial transformation of the plane of the fourth degree that keeps the
/// origin.
#[derive(Debug, Clone)]
pub(super) struct PolynomialTransform {
    scale: f64,
    terms: [(f64, f64); TERMS],
}

/// A point and what it is transformed to.
type ControlPoint = ((f64, f64), (f64, f64));

impl PolynomialTransform {
    /// The transformation that fits control points best, by least squares.
    /// `None` when they do not determine it.
    pub(super) fn fit(points: &[ControlPoint]) -> Option<Self> {
        let scale = points.iter().map(|((x, y), _)| x.abs().max(y.abs())).fold(0.0, f64::max);
        if !(scale > 0.0 && scale.is_finite()) {
            return None;
        }
        // Normal equations, with the two right-hand sides as extra columns.
        let mut matrix = [[0.0; TERMS + 2]; TERMS];
        for ((x, y), (u, v)) in points {
            let (x, y) = (powers(x / scale), powers(y / scale));
            let row = POWERS.map(|(p, q)| x[p] * y[q]);
            for (line, left) in matrix.iter_mut().zip(row) {
                for (sum, right) in line.iter_mut().zip(row.into_iter().chain([*u, *v])) {
                    *sum += left * right;
                }
            }
        }
        let solved = solve(matrix)?;
        Some(Self { scale: 1.0 / scale, terms: solved })
    }

    /// A point transformed.
    pub(super) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let parts = self.ray(x, y);
        parts.iter().fold((0.0, 0.0), |sum, part| (sum.0 + part.0, sum.1 + part.1))
    }

    /// The parts of degree 1 to 4 at a point: on the ray through it, at a share
    /// t of the way, the part of degree k counts t^k times.
    pub(super) fn ray(&self, x: f64, y: f64) -> [(f64, f64); DEGREE] {
        let (x, y) = (powers(x * self.scale), powers(y * self.scale));
        let mut parts = [(0.0, 0.0); DEGREE];
        for (((p, q), (u, v)), degree) in POWERS.into_iter().zip(self.terms).zip(DEGREES) {
            let power = x[p] * y[q];
            parts[degree - 1].0 += u * power;
            parts[degree - 1].1 += v * power;
        }
        parts
    }

    /// The part of degree 2 at a point: how far the ray through it bends.
    #[inline(always)]
    pub(super) fn bend(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (x * self.scale, y * self.scale);
        let [_, _, xx, xy, yy, ..] = self.terms;
        let part = |a: f64, b: f64, c: f64| (a * x + b * y) * x + c * y * y;
        (part(xx.0, xy.0, yy.0), part(xx.1, xy.1, yy.1))
    }

    /// Coefficients of 1, x ... x^4 of both coordinates along the line on which
    /// y is `fixed`; with `transposed`, of 1, y ... y^4 along that on which x is.
    #[inline(always)]
    pub(super) fn line(&self, fixed: f64, transposed: bool) -> [(f64, f64); DEGREE + 1] {
        let (held_powers, scales) = (powers(fixed * self.scale), powers(self.scale));
        let mut line = [(0.0, 0.0); DEGREE + 1];
        for ((p, q), (u, v)) in POWERS.into_iter().zip(self.terms) {
            let (running, held) = if transposed { (q, p) } else { (p, q) };
            let factor = scales[running] * held_powers[held];
            line[running].0 += u * factor;
            line[running].1 += v * factor;
        }
        line
    }
}

/// 1, x ... x^4.
#[inline(always)]
fn powers(x: f64) -> [f64; DEGREE + 1] {
    let square = x * x;
    [1.0, x, square, square * x, square * square]
}

/// Gaussian elimination with pivots; the last two columns are right-hand sides.
fn solve(mut matrix: [[f64; TERMS + 2]; TERMS]) -> Option<[(f64, f64); TERMS]> {
    for pivot in 0..TERMS {
        let best = (pivot..TERMS)
            .max_by(|a, b| matrix[*a][pivot].abs().total_cmp(&matrix[*b][pivot].abs()))?;
        matrix.swap(pivot, best);
        let lead = matrix[pivot];
        let size = lead[pivot].abs();
        if size.is_nan() || size <= 1e-12 {
            return None;
        }
        for (index, line) in matrix.iter_mut().enumerate() {
            if index != pivot {
                let factor = line[pivot] / lead[pivot];
                for (value, lead) in line.iter_mut().zip(lead) {
                    *value -= factor * lead;
                }
            }
        }
    }
    let mut solved = [(0.0, 0.0); TERMS];
    for (index, (value, line)) in solved.iter_mut().zip(&matrix).enumerate() {
        *value = (line[TERMS] / line[index], line[TERMS + 1] / line[index]);
    }
    Some(solved)
}

/// The station's place on the raster, and the transformations between cells and
/// metres around it.
#[derive(Debug, Clone)]
pub(super) struct StationFrame {
    /// The station in fractional cells; cell (0, 0) spans 0 to 1.
    pub origin: (f64, f64),
    /// East and north in metres to cells from the station.
    pub to_cell: PolynomialTransform,
    /// Cells from the station to east and north in metres.
    pub to_earth: PolynomialTransform,
}

impl StationFrame {
    /// The station in cells from the raster's first cell centre.
    pub(super) fn offset_to_first_centre(&self) -> (f32, f32) {
        ((self.origin.0 - 0.5) as f32, (self.origin.1 - 0.5) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bent map is found again, and its line and ray forms are the map.
    #[test]
    fn a_polynomial_is_found_from_its_values() {
        let map = |x: f64, y: f64| {
            (2.0 * x - y + 3e-3 * x * y + 1e-6 * y.powi(3), x + 4e-3 * y * y - 2e-8 * x.powi(4))
        };
        let pairs: Vec<_> = (-5..=5)
            .flat_map(|i| (-5..=5).map(move |j| (f64::from(i) * 9.0, f64::from(j) * 7.0)))
            .map(|(x, y)| ((x, y), map(x, y)))
            .collect();
        let transform = PolynomialTransform::fit(&pairs).unwrap();
        let close = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1) < 1e-7;
        assert!(close(transform.at(11.3, -23.0), map(11.3, -23.0)));
        let (mut along_row, mut down_column) = ((0.0, 0.0), (0.0, 0.0));
        for (power, (row, column)) in
            transform.line(-23.0, false).into_iter().zip(transform.line(11.3, true)).enumerate()
        {
            let (x, y) = (11.3f64.powi(power as i32), (-23.0f64).powi(power as i32));
            along_row = (along_row.0 + row.0 * x, along_row.1 + row.1 * x);
            down_column = (down_column.0 + column.0 * y, down_column.1 + column.1 * y);
        }
        assert!(close(along_row, map(11.3, -23.0)) && close(down_column, map(11.3, -23.0)));
        let [a, b, c, d] = transform.ray(11.3, -23.0);
        let half = (
            a.0 / 2.0 + b.0 / 4.0 + c.0 / 8.0 + d.0 / 16.0,
            a.1 / 2.0 + b.1 / 4.0 + c.1 / 8.0 + d.1 / 16.0,
        );
        assert!(close(half, map(5.65, -11.5)));
        assert!(close(b, transform.bend(11.3, -23.0)));
        assert!(PolynomialTransform::fit(&pairs[..3]).is_none(), "three points do not fix it");
    }
}
