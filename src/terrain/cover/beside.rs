//! The street beside a building.

use geo::{Coord, Distance, Euclidean, Intersects, MapCoords, MultiPolygon, Point, Rect};

use super::Building;
use perchline_units::{Degrees, Metres, Position};

/// How far the street is looked for.
const FARTHEST: f64 = 200.0;

/// Bearings that are tried at each distance.
const BEARINGS: u32 = 32;

/// The nearest place to `at`, to a metre, that lies in no footprint and
/// `clear` away from all of them; where no place near by is so far from walls,
/// one a metre from them. `None` where there is none within 200 m.
pub(super) fn beside(buildings: &[Building], at: Position, clear: Metres) -> Option<Position> {
    let flat = Flat::around(at);
    let near: Vec<MultiPolygon> = buildings
        .iter()
        .filter(|building| building.bounds.intersects(&flat.window))
        .map(|building| building.outline.map_coords(|c| flat.metres(c)))
        .collect();
    let free = |place: Point, clear: f64| {
        near.iter().all(|outline| {
            !outline.intersects(&place) && Euclidean.distance(&place, outline) >= clear
        })
    };
    [clear.value(), 1.0].into_iter().find_map(|clear| {
        (1..=FARTHEST as u32).flat_map(|away| (0..BEARINGS).map(move |step| (away, step))).find_map(
            |(away, step)| {
                let (distance, turn) =
                    (f64::from(away), 360.0 * f64::from(step) / f64::from(BEARINGS));
                let (east, north) = turn.to_radians().sin_cos();
                free(Point::new(east * distance, north * distance), clear)
                    .then(|| at.destination(Degrees::new(turn), Metres::new(distance)))
            },
        )
    })
}

/// Metres east and north of a place, good over a few hundred metres.
struct Flat {
    from: Coord,
    scale: Coord,
    window: Rect,
}

impl Flat {
    fn around(at: Position) -> Self {
        let reach = Metres::new(2.0 * FARTHEST);
        let side = |bearing| at.destination(Degrees::new(bearing), reach).point();
        let from = Coord::from(at.point());
        let (east, north) = (Coord::from(side(90.0)), Coord::from(side(0.0)));
        let scale =
            Coord { x: reach.value() / (east.x - from.x), y: reach.value() / (north.y - from.y) };
        let (across, up) = (east.x - from.x, north.y - from.y);
        let window = Rect::new(
            Coord { x: from.x - across, y: from.y - up },
            Coord { x: from.x + across, y: from.y + up },
        );
        Self { from, scale, window }
    }

    fn metres(&self, c: Coord) -> Coord {
        Coord { x: (c.x - self.from.x) * self.scale.x, y: (c.y - self.from.y) * self.scale.y }
    }
}
