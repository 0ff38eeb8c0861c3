//! A point on the WGS 84 ellipsoid.

use geo::{Bearing, Destination, Distance, Geodesic, Point};
use serde::{Deserialize, Serialize};

use super::{Degrees, Metres};

/// A point on WGS 84, latitude and longitude in degrees, always in range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Unchecked")]
pub struct Position {
    latitude: f64,
    longitude: f64,
}

/// A position as it is read.
#[derive(Deserialize)]
struct Unchecked {
    latitude: f64,
    longitude: f64,
}

impl TryFrom<Unchecked> for Position {
    type Error = PositionOutOfRange;

    fn try_from(read: Unchecked) -> Result<Self, Self::Error> {
        Self::new(Degrees::new(read.latitude), Degrees::new(read.longitude))
    }
}

/// A latitude or longitude that does not exist.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{name} {found} is out of range: {name} runs from -{limit} to {limit} degrees")]
pub struct PositionOutOfRange {
    name: &'static str,
    found: f64,
    limit: f64,
}

impl Position {
    /// A position from degrees north and degrees east.
    ///
    /// # Errors
    /// [`PositionOutOfRange`] when the latitude is beyond 90 or the longitude
    /// beyond 180 degrees, or either is not a number.
    pub fn new(latitude: Degrees, longitude: Degrees) -> Result<Self, PositionOutOfRange> {
        for (name, found, limit) in
            [("latitude", latitude.value(), 90.0), ("longitude", longitude.value(), 180.0)]
        {
            if !(-limit..=limit).contains(&found) {
                return Err(PositionOutOfRange { name, found, limit });
            }
        }
        Ok(Self { latitude: latitude.value(), longitude: longitude.value() })
    }

    /// Degrees north of the equator.
    #[must_use]
    pub const fn latitude(self) -> Degrees {
        Degrees::new(self.latitude)
    }

    /// Degrees east of Greenwich.
    #[must_use]
    pub const fn longitude(self) -> Degrees {
        Degrees::new(self.longitude)
    }

    /// How far from it, in degrees of longitude and of latitude, places within this
    /// distance lie at the most; around a pole all longitudes, 180 degrees.
    ///
    /// A degree of latitude is 110.57 km at the least (WGS 84, at the equator), and no
    /// sphere that touches the ellipsoid from within is smaller than that of 6335 km.
    #[must_use]
    pub fn degrees_within(self, distance: Metres) -> (Degrees, Degrees) {
        let up = distance.value() / 110_000.0;
        let nearest_pole = (self.latitude.abs() + up).min(90.0).to_radians();
        let across = (distance.value() / (6_335e3 * nearest_pole.cos())).to_degrees();
        (Degrees::new(if across < 90.0 { across } else { 180.0 }), Degrees::new(up))
    }

    /// As a `geo` point, x = longitude and y = latitude in degrees.
    #[must_use]
    pub fn point(self) -> Point {
        Point::new(self.longitude, self.latitude)
    }

    /// From a `geo` point whose x is a longitude and y a latitude in degrees.
    ///
    /// # Errors
    /// [`PositionOutOfRange`] as for [`Position::new`].
    pub fn from_point(point: Point) -> Result<Self, PositionOutOfRange> {
        Self::new(Degrees::new(point.y()), Degrees::new(point.x()))
    }

    /// Geodesic distance on WGS 84 (Karney 2013, doi:10.1007/s00190-012-0578-z).
    #[must_use]
    pub fn distance(self, other: Self) -> Metres {
        Metres::new(Geodesic.distance(self.point(), other.point()))
    }

    /// The place at a share, 0 to 1, of the way to another, evenly in degrees:
    /// for a few hundred metres.
    ///
    /// # Errors
    /// [`PositionOutOfRange`] when the share leads off the earth's degrees.
    pub fn on_the_way(self, other: Self, share: f64) -> Result<Self, PositionOutOfRange> {
        let mix =
            |a: Degrees, b: Degrees| Degrees::new(a.value() + (b.value() - a.value()) * share);
        Self::new(mix(self.latitude(), other.latitude()), mix(self.longitude(), other.longitude()))
    }

    /// Initial geodesic bearing towards `other`, degrees clockwise from true north, 0 to 360.
    #[must_use]
    pub fn bearing(self, other: Self) -> Degrees {
        Degrees::new(Geodesic.bearing(self.point(), other.point()).rem_euclid(360.0))
    }

    /// The point at `distance` along the geodesic that leaves at `bearing`.
    #[must_use]
    pub fn destination(self, bearing: Degrees, distance: Metres) -> Self {
        let end = Geodesic.destination(self.point(), bearing.value(), distance.value());
        // The geodesic solver returns coordinates in range for any input in range.
        Self { latitude: end.y().clamp(-90.0, 90.0), longitude: end.x().clamp(-180.0, 180.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_place_within_a_distance_lies_outside_its_degrees() {
        for latitude in [-89.99, -70.0, -0.3, 0.0, 12.0, 47.0, 60.0, 85.0, 89.9995] {
            let at = Position::new(Degrees::new(latitude), Degrees::new(-34.9)).unwrap();
            for metres in [1.0, 100.0, 5000.0] {
                let (across, up) = at.degrees_within(Metres::new(metres));
                for bearing in 0..72 {
                    let place =
                        at.destination(Degrees::new(f64::from(bearing) * 5.0), Metres::new(metres));
                    let off = |a: Degrees, b: Degrees| (a.value() - b.value()).abs();
                    let turned = off(place.longitude(), at.longitude());
                    assert!(turned.min(360.0 - turned) <= across.value(), "{at:?} {place:?}");
                    assert!(off(place.latitude(), at.latitude()) <= up.value(), "{at:?} {place:?}");
                }
                // It is no wider than it has to be.
                assert!(up.value() < metres / 110_000.0 + 1e-12);
            }
        }
        let equator = Position::new(Degrees::new(0.0), Degrees::new(0.0)).unwrap();
        let (across, _) = equator.degrees_within(Metres::new(1000.0));
        assert!((1000.0 / 111_319.5..1000.0 / 110_000.0).contains(&across.value()), "{across:?}");
    }
}
