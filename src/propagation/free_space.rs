//! TODO
use super::{Edge, Path, PathLoss};
use crate::units::{Db, Megahertz, Metres};
use std::ops::RangeInclusive;
/// TODO
#[derive(Debug, Clone, Copy)]
pub struct FreeSpace;
impl PathLoss for FreeSpace {
    fn name(&self) -> &'static str {
        "free-space"
    }
    fn summary(&self) -> &'static str {
        ""
    }
    fn source(&self) -> &'static str {
        ""
    }
    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        Megahertz::new(30.0)..=Megahertz::new(3000.0)
    }
    fn valid_distance(&self) -> RangeInclusive<Metres> {
        Metres::new(1.0)..=Metres::new(1e6)
    }
    fn diffraction(&self, _path: &Path<'_>, _note: &mut dyn FnMut(Edge)) -> Db {
        todo!()
    }
}
/// Free-space basic transmission loss; distances below 1 m are taken as 1 m.
pub fn loss(_frequency: Megahertz, _distance: Metres) -> Db {
    todo!()
}
