//! The transformations between a coordinate system and WGS 84, made once a thread:
//! PROJ searches its database for each, which takes as long as hundreds of paths, and
//! longer still where the system has no code in a registry.

use std::cell::RefCell;
use std::rc::Rc;

use gdal::spatial_ref::CoordTransform;

use super::TerrainError;
use super::grid::spatial_ref;

/// Systems whose transformations a thread keeps: those of the plan's rasters at once.
const KEPT: usize = 8;

/// Both ways between a coordinate system and WGS 84, longitude before latitude.
pub(super) struct Transforms {
    pub to_earth: CoordTransform,
    pub from_earth: CoordTransform,
    /// Degrees in the system's unit, where it is geographic.
    pub degrees: Option<f64>,
}

thread_local! {
    /// What the thread has made by its system, the last used first. When a thread ends
    /// GDAL takes them over for the next one that asks.
    static MADE: RefCell<Vec<(String, Rc<Transforms>)>> = RefCell::default();
}

/// The transformations of the coordinate system of this WKT; a few are kept.
///
/// # Errors
/// [`TerrainError::Crs`] when PROJ knows no way between it and WGS 84.
pub(super) fn transforms(crs: &str) -> Result<Rc<Transforms>, TerrainError> {
    MADE.with_borrow_mut(|made| {
        // Nothing below asks for transformations while the list is borrowed.
        let known = made.iter().position(|(of, _)| of == crs);
        let (of, both) = match known {
            Some(place) => made.remove(place),
            None => (crs.to_owned(), Rc::new(Transforms::between(crs)?)),
        };
        made.truncate(KEPT - 1);
        made.insert(0, (of, Rc::clone(&both)));
        Ok(both)
    })
}

impl Transforms {
    fn between(text: &str) -> Result<Self, TerrainError> {
        let unusable = |e: gdal::errors::GdalError| TerrainError::Crs {
            crs: text.to_owned(),
            reason: e.to_string(),
        };
        let crs = spatial_ref(text)?;
        let earth = spatial_ref("EPSG:4326")?;
        Ok(Self {
            to_earth: CoordTransform::new(&crs, &earth).map_err(unusable)?,
            from_earth: CoordTransform::new(&earth, &crs).map_err(unusable)?,
            degrees: crs.is_geographic().then(|| crs.angular_units().to_degrees()),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// The parameters of UTM zone 25 by themselves, and those that no registry has.
    fn tmerc(meridian: f64) -> String {
        let text = format!(
            "+proj=tmerc +lat_0=0 +lon_0={meridian} +k=0.9996 +x_0=500000 +y_0=0 +datum=WGS84 +units=m"
        );
        spatial_ref(&text).unwrap().to_wkt().unwrap()
    }

    #[test]
    fn one_thread_makes_them_once_and_keeps_a_few() {
        let first = transforms(&tmerc(-33.0)).unwrap();
        assert!(Rc::ptr_eq(&first, &transforms(&tmerc(-33.0)).unwrap()));
        for meridian in 1..KEPT {
            transforms(&tmerc(meridian as f64)).unwrap();
        }
        assert!(Rc::ptr_eq(&first, &transforms(&tmerc(-33.0)).unwrap()));
        for meridian in 0..KEPT {
            transforms(&tmerc(0.5 + meridian as f64)).unwrap();
        }
        assert_eq!(MADE.with_borrow(Vec::len), KEPT);
        // It was let go of, and comes again.
        assert!(!Rc::ptr_eq(&first, &transforms(&tmerc(-33.0)).unwrap()));
    }

    /// One system by its code and by its parameters, on many threads that come and go.
    #[test]
    fn a_system_without_a_code_is_where_that_with_one_is() {
        let wkt = spatial_ref("EPSG:32625").unwrap().to_wkt().unwrap();
        let places = |crs: &str| {
            let both = transforms(crs).unwrap();
            let (mut x, mut y) = ([-34.9, -33.0, -30.5], [47.0, 12.0, 70.0]);
            both.from_earth.transform_coords(&mut x, &mut y, &mut []).unwrap();
            let (mut east, mut north) = (x, y);
            both.to_earth.transform_coords(&mut east, &mut north, &mut []).unwrap();
            (x, y, east, north)
        };
        let by_code = places(&wkt);
        for _ in 0..20 {
            let found = std::thread::spawn(move || places(&tmerc(-33.0))).join().unwrap();
            for (own, coded) in
                found.0.iter().chain(&found.1).zip(by_code.0.iter().chain(&by_code.1))
            {
                assert_abs_diff_eq!(own, coded, epsilon = 1e-6);
            }
            assert_abs_diff_eq!(found.2[0], -34.9, epsilon = 1e-11);
            assert_abs_diff_eq!(found.3[2], 70.0, epsilon = 1e-11);
        }
    }

    #[test]
    fn what_cannot_be_made_is_said_each_time() {
        for _ in 0..2 {
            assert!(matches!(transforms("EPSG:999999"), Err(TerrainError::Crs { .. })));
        }
    }
}
