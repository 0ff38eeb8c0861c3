//! The buildings of Ostler's Ferry: streets in a grid, houses along them,
//! lower towards the edge, and the landmarks that the plan's sites stand on.
//!
//! Places are in metres of UTM zone 25, the grid turned by a 5-12-13 triangle
//! so that no trigonometry is needed.

use super::landscape::{LEFT, ROWS, TOP, from_river, hash};

/// A building: its outer ring, a hole if it has one, and what a survey knows of it.
pub struct House {
    /// A name, for landmarks.
    pub name: Option<&'static str>,
    /// Corners of the outer ring in order, east and north in metres.
    pub ring: Vec<(f64, f64)>,
    /// Corners of a courtyard, or nothing.
    pub hole: Vec<(f64, f64)>,
    /// The attribute `height` as JSON.
    pub height: Option<String>,
    /// The attribute `building:levels`.
    pub levels: Option<u32>,
}

/// What must stay free of houses, in metres of UTM zone 25.
pub struct Clear {
    /// Places with a metre of radius each that no house comes near.
    pub places: Vec<((f64, f64), f64)>,
    /// Lines that run along streets.
    pub lines: Vec<Vec<(f64, f64)>>,
    /// Places of the sites and posts that landmarks are built on, by name.
    pub landmarks: Vec<(&'static str, (f64, f64))>,
    /// Height in metres that the hotel has to have.
    pub hotel: f64,
}

/// The middle of the town, where the race starts.
pub const CENTRE: (f64, f64) = (355_560.0, 5_206_010.0);

/// Half the width and height of the built-up ellipse in metres.
const REACH: (f64, f64) = (720.0, 525.0);

/// Blocks and the street beside each, metres.
const BLOCK: (f64, f64) = (88.0, 60.0);
const STREET: f64 = 14.0;

/// The direction along the streets: cosine and sine.
const ALONG: (f64, f64) = (12.0 / 13.0, 5.0 / 13.0);

/// Distance from a route to the nearest wall.
const FROM_ROUTE: f64 = 10.0;

/// How far into the town a place is: 0 in the middle, 1 at its edge, more outside.
pub fn edge(east: f64, north: f64) -> f64 {
    let (u, v) = to_streets((east, north));
    ((u / REACH.0) * (u / REACH.0) + (v / REACH.1) * (v / REACH.1)).sqrt()
}

/// Every building, landmarks first.
pub fn houses(clear: &Clear) -> Vec<House> {
    let mut houses = landmarks(clear);
    let landmarks: Vec<Vec<(f64, f64)>> = houses.iter().map(|h| h.ring.clone()).collect();
    let river = from_river();
    let (across, down) = (BLOCK.0 + STREET, BLOCK.1 + STREET);
    for row in -9i32..=9 {
        for column in -9i32..=9 {
            let (left, bottom) = (f64::from(column) * across, f64::from(row) * down);
            for house in block(left, bottom, column, row) {
                let middle = middle(&house.ring);
                let south = TOP - ROWS as f64 * 10.0;
                let water = river((middle.0 - LEFT) / 1000.0, (middle.1 - south) / 1000.0) * 1000.0;
                let free = edge(middle.0, middle.1) < 1.0
                    && water > 160.0
                    && clear
                        .places
                        .iter()
                        .all(|(at, radius)| from_ring(*at, &house.ring) > *radius)
                    && clear.lines.iter().all(|line| {
                        line.windows(2).all(|pair| passes(pair, &house.ring, FROM_ROUTE))
                    })
                    && landmarks.iter().all(|ring| !near(ring, &house.ring, 12.0));
                if free {
                    houses.push(house);
                }
            }
        }
    }
    houses
}

/// The houses of one block: a row along each long side, with gaps.
fn block(left: f64, bottom: f64, column: i32, row: i32) -> Vec<House> {
    let mut houses = Vec::new();
    for side in 0..2u32 {
        let mut at = left;
        let mut index = 0;
        loop {
            let bits =
                hash(i64::from(column) * 64 + index, i64::from(row) * 4 + i64::from(side), 71);
            let share = |shift: u32| f64::from((bits >> shift) & 0xff) / 255.0;
            let width = 11.0 + (share(0) * 15.0).round();
            let depth = 10.0 + (share(8) * 7.0).round();
            if at + width > left + BLOCK.0 {
                break;
            }
            let (low, high) = if side == 0 {
                (bottom, bottom + depth)
            } else {
                (bottom + BLOCK.1 - depth, bottom + BLOCK.1)
            };
            let corners = [(at, low), (at + width, low), (at + width, high), (at, high)];
            let ring: Vec<_> = corners.into_iter().map(from_streets).collect();
            let out = edge(middle(&ring).0, middle(&ring).1);
            // The further out, the more gardens.
            if share(16) > 0.12 + 0.25 * out {
                houses.push(surveyed(ring, out, bits));
            }
            at += width + if share(24) < 0.45 { 0.0 } else { 4.0 + (share(24) * 9.0).round() };
            index += 1;
        }
    }
    houses
}

/// A house with what a survey knows of it: a height, storeys, or nothing.
fn surveyed(ring: Vec<(f64, f64)>, out: f64, bits: u32) -> House {
    let bits = hash(i64::from(bits & 0xffff), i64::from(bits >> 16), 72);
    let share = |shift: u32| f64::from((bits >> shift) & 0xff) / 255.0;
    let levels = if out < 0.35 {
        3 + u32::from(share(0) > 0.6)
    } else if out < 0.7 {
        2 + u32::from(share(0) > 0.55)
    } else {
        1 + u32::from(share(0) > 0.3)
    };
    // A roof above the storeys; tenths of a metre.
    let height = f64::from(levels) * 2.9 + 1.0 + share(8) * 2.0;
    let known = share(16);
    House {
        name: None,
        ring,
        hole: Vec::new(),
        height: (known > 0.45).then(|| format!("{:.1}", height)),
        levels: (0.03..0.7).contains(&known).then_some(levels),
    }
}

fn landmarks(clear: &Clear) -> Vec<House> {
    let mut houses = Vec::new();
    for (name, at) in &clear.landmarks {
        let (u, v) = to_streets(*at);
        let block = |name, (half_u, half_v): (f64, f64), height: String, levels| House {
            name: Some(name),
            ring: around((u, v), half_u, half_v),
            hole: Vec::new(),
            height: Some(height),
            levels,
        };
        match *name {
            "Car park" => {
                // Four storeys; the deck, and round it the parapet of 1.1 m. A
                // survey draws the parapet as wide as a raster needs to see it.
                let (half_u, half_v, rim) = (32.0, 24.0, 6.0);
                let inner = (half_u - rim, half_v - rim);
                houses.push(block("Car park, deck", inner, "14.0".to_owned(), Some(4)));
                houses.push(House {
                    hole: around((u, v), inner.0, inner.1),
                    ..block("Car park, parapet", (half_u, half_v), "15.1".to_owned(), None)
                });
            }
            "Hospital" => houses.push(block("Hospital", (42.0, 16.0), "24.0".to_owned(), Some(7))),
            "College library" => {
                houses.push(block("College library", (26.0, 16.0), "\"72 ft\"".to_owned(), None));
            }
            "Hotel" => {
                houses.push(block("Hotel", (20.0, 13.0), format!("{:.1}", clear.hotel), None));
            }
            "Grain elevator" => {
                houses.push(block("Grain elevator", (14.0, 11.0), "38.0".to_owned(), None));
            }
            "Net Control" => {
                houses.push(block("Town hall", (17.0, 12.0), "11.0".to_owned(), Some(3)));
            }
            other => unreachable!("{other} has no building"),
        }
    }
    houses
}

fn around((u, v): (f64, f64), half_u: f64, half_v: f64) -> Vec<(f64, f64)> {
    [(-half_u, -half_v), (half_u, -half_v), (half_u, half_v), (-half_u, half_v)]
        .into_iter()
        .map(|(du, dv)| from_streets((u + du, v + dv)))
        .collect()
}

fn to_streets((east, north): (f64, f64)) -> (f64, f64) {
    let (x, y) = (east - CENTRE.0, north - CENTRE.1);
    (x * ALONG.0 + y * ALONG.1, y * ALONG.0 - x * ALONG.1)
}

fn from_streets((u, v): (f64, f64)) -> (f64, f64) {
    (CENTRE.0 + u * ALONG.0 - v * ALONG.1, CENTRE.1 + u * ALONG.1 + v * ALONG.0)
}

fn middle(ring: &[(f64, f64)]) -> (f64, f64) {
    let count = ring.len() as f64;
    let sum = ring.iter().fold((0.0, 0.0), |sum, at| (sum.0 + at.0, sum.1 + at.1));
    (sum.0 / count, sum.1 / count)
}

/// Sides of a ring.
fn sides(ring: &[(f64, f64)]) -> impl Iterator<Item = [(f64, f64); 2]> + '_ {
    (0..ring.len()).map(|i| [ring[i], ring[(i + 1) % ring.len()]])
}

/// Distance from a place to a ring, 0 inside it; the ring runs anticlockwise.
fn from_ring(at: (f64, f64), ring: &[(f64, f64)]) -> f64 {
    let left_of =
        |[a, b]: [(f64, f64); 2]| (b.0 - a.0) * (at.1 - a.1) - (b.1 - a.1) * (at.0 - a.0) >= 0.0;
    if sides(ring).all(left_of) {
        return 0.0;
    }
    sides(ring).map(|[a, b]| from_line(at, a, b)).fold(f64::INFINITY, f64::min)
}

fn from_line(at: (f64, f64), a: (f64, f64), b: (f64, f64)) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let t = (((at.0 - a.0) * dx + (at.1 - a.1) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
    let (x, y) = (a.0 + t * dx - at.0, a.1 + t * dy - at.1);
    (x * x + y * y).sqrt()
}

/// Whether a stretch of a line stays `clear` away from a ring.
fn passes(stretch: &[(f64, f64)], ring: &[(f64, f64)], clear: f64) -> bool {
    let (a, b) = (stretch[0], stretch[1]);
    let length = ((b.0 - a.0) * (b.0 - a.0) + (b.1 - a.1) * (b.1 - a.1)).sqrt();
    // A point every 3 m: no house is so narrow that a line slips through.
    let steps = (length / 3.0).ceil().max(1.0);
    (0..=steps as usize).all(|i| {
        let t = i as f64 / steps;
        from_ring((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1)), ring) > clear
    })
}

/// Whether two rings come within `clear` of each other.
fn near(one: &[(f64, f64)], other: &[(f64, f64)], clear: f64) -> bool {
    one.iter().any(|at| from_ring(*at, other) < clear)
        || other.iter().any(|at| from_ring(*at, one) < clear)
}
