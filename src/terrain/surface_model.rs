//! Whether heights look as if roofs and trees were in them.
//!
//! The rule is ours. Between two neighbouring cells of a row or column there is an
//! edge where the step from one to the other differs by [`SHEER`] or more from the
//! step before it and from the step after it, both times to the same side: a wall, or
//! the rim of a crown. Ground has such edges at cliffs alone, for its slopes go on
//! from cell to cell. Over [`MOST_ON_GROUND`] of them on a square kilometre are told.
//! Of the sample's town, of which houses cover one part in eighty, bare ground has
//! none to speak of, and the same with its houses three kilometres
//! (tests/terrain/surface_model.rs). In cells over [`COARSEST`] houses are lost among
//! the slopes, and nothing is told.

use ndarray::{ArrayView1, ArrayView2, Zip, s};

use perchline_plan::Remark;
use perchline_units::Metres;

/// A step of a wall: a storey less what a raster smooths.
const SHEER: f32 = 2.5;

/// Metres of edges on a square kilometre.
const MOST_ON_GROUND: f64 = 500.0;

/// Side of the largest cells in which a house is seen.
const COARSEST: Metres = Metres::new(15.0);

/// What is told of heights in cells of this width and height, if they look so.
pub(super) fn told(
    heights: ArrayView2<'_, f32>,
    (width, height): (Metres, Metres),
) -> Option<Remark> {
    if width.max(height) > COARSEST {
        return None;
    }
    let edges = edges_a_square_kilometre(heights, width, height);
    (edges > MOST_ON_GROUND).then(|| Remark {
        about: "terrain".to_owned(),
        text: format!(
            "it looks as if roofs and trees are in the heights: {edges:.0} m of sheer edges on a square kilometre, where bare ground has hardly any. On such a surface the ground under a site is its roof already: give roofs above sea, and leave out [buildings], [land_cover] and surroundings, or they count twice"
        ),
    })
}

/// Metres of edges on a square kilometre of what has a height.
fn edges_a_square_kilometre(heights: ArrayView2<'_, f32>, width: Metres, height: Metres) -> f64 {
    let (rows, columns) = heights.dim();
    if rows < 4 || columns < 4 {
        return 0.0;
    }
    // Edges between columns are as long as a cell is high, and the other way round.
    let across: usize =
        (0..columns - 3).map(|c| edges([0, 1, 2, 3].map(|n| heights.slice(s![.., c + n])))).sum();
    let down: usize =
        (0..rows - 3).map(|r| edges([0, 1, 2, 3].map(|n| heights.slice(s![r + n, ..])))).sum();
    let cells = heights.iter().filter(|height| height.is_finite()).count() as f64;
    let area = cells * width.value() * height.value() / 1e6;
    let length = across as f64 * height.value() + down as f64 * width.value();
    if area > 0.0 { length / area } else { 0.0 }
}

/// Edges between the second and the third of four lines that lie side by side.
fn edges([first, second, third, fourth]: [ArrayView1<'_, f32>; 4]) -> usize {
    Zip::from(first).and(second).and(third).and(fourth).fold(0, |edges, a, b, c, d| {
        let step = c - b;
        let (before, after) = (step - (b - a), step - (d - c));
        let is_edge = (before >= SHEER && after >= SHEER) || (before <= -SHEER && after <= -SHEER);
        edges + usize::from(is_edge)
    })
}

#[cfg(test)]
mod tests {
    use ndarray::Array2;

    use super::*;

    const CELL: Metres = Metres::new(5.0);

    fn metres_of(heights: &Array2<f32>) -> f64 {
        edges_a_square_kilometre(heights.view(), CELL, CELL)
    }

    /// A house of 20 by 20 m on 200 by 200 m has 80 m of walls: 2000 m on a square
    /// kilometre.
    #[test]
    fn walls_are_counted_by_their_length() {
        let house = Array2::from_shape_fn((40, 40), |(row, column)| {
            let inside = (10..14).contains(&row) && (20..24).contains(&column);
            0.3 * column as f32 + if inside { 7.0 } else { 0.0 }
        });
        assert!((metres_of(&house) - 2000.0).abs() < 1e-9, "{}", metres_of(&house));
        // One cell wide it has its walls too.
        let narrow =
            Array2::from_shape_fn((40, 40), |place| if place == (9, 9) { 7.0 } else { 0.0 });
        assert!((metres_of(&narrow) - 500.0).abs() < 1e-9, "{}", metres_of(&narrow));
    }

    #[test]
    fn slopes_crests_and_gaps_are_no_walls() {
        let ridge = Array2::from_shape_fn((40, 40), |(_, column)| {
            300.0 - 6.0 * (column as f32 - 20.0).abs()
        });
        assert_eq!(metres_of(&ridge), 0.0);
        let gap =
            Array2::from_shape_fn((40, 40), |(row, _)| if row > 20 { f32::NAN } else { 50.0 });
        assert_eq!(metres_of(&gap), 0.0);
        assert_eq!(metres_of(&Array2::from_elem((9, 9), f32::NAN)), 0.0);
        assert_eq!(metres_of(&Array2::zeros((3, 40))), 0.0);
    }

    #[test]
    fn a_step_is_an_edge_from_its_height_on() {
        let step = |high: f32| {
            Array2::from_shape_fn((40, 40), |(row, _)| if row < 20 { high } else { 0.0 })
        };
        assert!(metres_of(&step(SHEER)) > 0.0);
        assert_eq!(metres_of(&step(SHEER - 0.01)), 0.0);
    }

    #[test]
    fn large_cells_say_nothing() {
        let rough = Array2::from_shape_fn((40, 40), |(r, c)| ((r * 7 + c * 13) % 11) as f32 * 5.0);
        assert!(told(rough.view(), (COARSEST, COARSEST)).is_some());
        let larger = Metres::new(15.1);
        assert_eq!(told(rough.view(), (CELL, larger)), None);
    }
}
