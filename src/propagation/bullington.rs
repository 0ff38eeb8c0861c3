//! TODO
use super::{Edge, Path, PathLoss};
use crate::units::{Db, Megahertz, Metres};
use std::ops::RangeInclusive;
/// TODO
#[derive(Debug, Clone, Copy)]
pub struct Bullington;
impl PathLoss for Bullington {
    fn name(&self) -> &'static str {
        "bullington"
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
