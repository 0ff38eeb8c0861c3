//! The street beside a building.

use geo::{
    BoundingRect, Coord, Distance, Euclidean, Intersects, MapCoords, MultiPolygon, Point, Rect,
};

use super::Standing;
use perchline_units::{Degrees, Metres, Position};

/// How far the street is looked for.
const FARTHEST: f64 = 200.0;

/// Bearings that are tried at each distance.
const BEARINGS: u32 = 32;

/// The nearest place to `at`, to a metre, that lies in no footprint and
/// `clear` away from all of them; where no place near by is so far from walls,
/// one a metre from them. `None` where there is none within 200 m.
pub(super) fn beside(buildings: &Standing, at: Position, clear: Metres) -> Option<Position> {
    let flat = Flat::around(at);
    let near = Near::of(buildings, &flat);
    [clear.value(), 1.0].into_iter().find_map(|clear| {
        (1..=FARTHEST as u32).find_map(|away| {
            let distance = f64::from(away);
            let walls = near.within(distance + clear);
            (0..BEARINGS).find_map(|step| {
                let turn = 360.0 * f64::from(step) / f64::from(BEARINGS);
                let (east, north) = turn.to_radians().sin_cos();
                is_free(walls, Point::new(east * distance, north * distance), clear)
                    .then(|| at.destination(Degrees::new(turn), Metres::new(distance)))
            })
        })
    })
}

/// Whether a place lies in none of the outlines and so far from all of them.
fn is_free(walls: &[(f64, MultiPolygon)], place: Point, clear: f64) -> bool {
    walls.iter().all(|(_, outline)| {
        !outline.intersects(&place) && Euclidean.distance(&place, outline) >= clear
    })
}

/// Outlines around a place in metres from it, each with how far away at the least it
/// is, nearest first.
struct Near(Vec<(f64, MultiPolygon)>);

impl Near {
    fn of(buildings: &Standing, flat: &Flat) -> Self {
        let here = Point::new(0.0, 0.0);
        let outlines = buildings.touching(flat.window);
        let mut near: Vec<_> = outlines
            .map(|building| building.outline.map_coords(|c| flat.metres(c)))
            .filter_map(|outline| {
                let bounds = outline.bounding_rect()?;
                Some((Euclidean.distance(&here, &bounds.to_polygon()), outline))
            })
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self(near)
    }

    /// Those that may be as near as this; a millimetre more for rounding.
    fn within(&self, reach: f64) -> &[(f64, MultiPolygon)] {
        let end = self.0.partition_point(|(away, _)| *away <= reach + 1e-3);
        self.0.get(..end).unwrap_or_default()
    }
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
