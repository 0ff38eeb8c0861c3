//! What grows around Ostler's Ferry, in the codes of the plan's `global-10` mapping.

use super::landscape::{CELL, COLUMNS, LEFT, ROWS, TOP, from_river, noise, place};
use super::town::edge;

const TREES: u8 = 10;
const SHRUBS: u8 = 20;
const GRASS: u8 = 30;
const CROPS: u8 = 40;
const BUILT: u8 = 50;
const WATER: u8 = 80;

/// Class codes, row after row from the north-west corner, over `heights` of
/// the land. Nothing grows near the places of `open`, UTM metres with a radius.
pub fn codes(heights: &[f64], open: &[((f64, f64), f64)]) -> Vec<u8> {
    let river = from_river();
    let mut codes = Vec::with_capacity(COLUMNS * ROWS);
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let (x, y) = place(column, row, 1);
            let (east, north) =
                (LEFT + (column as f64 + 0.5) * CELL, TOP - (row as f64 + 0.5) * CELL);
            let water = river(x, y);
            let at = |c: usize, r: usize| heights[r * COLUMNS + c];
            let (left, right) = (column.saturating_sub(2), (column + 2).min(COLUMNS - 1));
            let (above, below) = (row.saturating_sub(2), (row + 2).min(ROWS - 1));
            let fall = (at(right, row) - at(left, row)) / ((right - left) as f64 * CELL);
            let drop = (at(column, below) - at(column, above)) / ((below - above) as f64 * CELL);
            let slope = (fall * fall + drop * drop).sqrt();
            let patch = noise(x * 2.6, y * 2.6, 81) + 0.5 * noise(x * 7.0, y * 7.0, 82);
            let code = if water < 0.042 {
                WATER
            } else if edge(east, north) < 1.0 {
                BUILT
            } else if open.iter().any(|(spot, radius)| {
                let (dx, dy) = (east - spot.0, north - spot.1);
                dx * dx + dy * dy < radius * radius
            }) {
                GRASS
            } else if slope + 0.10 * patch > 0.17 {
                TREES
            } else if slope + 0.10 * patch > 0.14 {
                SHRUBS
            } else if slope < 0.06 && patch > -0.2 {
                CROPS
            } else {
                GRASS
            };
            codes.push(code);
        }
    }
    codes
}
