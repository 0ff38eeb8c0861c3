//! Buildings and land cover as typed.

use super::measures::length;
use crate::field::{AnyText, Left, List, Measure, Number, Usual, left, list, number, table, usual};
use perchline_units::Metres;

table! {
    /// Buildings, burnt into the surface that paths run over.
    buildings {
        /// Vector files of footprints, relative to the plan's folder.
        files: Left<List<String>> = left(list(None)).note("polygons").allowed("one or more"),
        /// Side of a cell of the surface that paths run over.
        cell: Usual<Measure<Metres>> = usual(length(0.5, 50.0), 5.0)
            .note("the terrain's own where that is finer")
            .such_as(&["2 m"]),
        /// Height of one storey, a bare number of metres.
        metres_per_level: Usual<Number<Metres>> = usual(number(2.0, 6.0, Metres::new), 3.0)
            .source("common practice, no source"),
        /// Height of a building that states neither height nor storeys.
        default_height: Usual<Measure<Metres>> = usual(length(1.0, 100.0), 6.0)
            .note("every use is counted in a remark")
            .source("two storeys: common practice, no source")
            .such_as(&["6 m"]),
    }
}

table! {
    /// Land cover: what grows and stands where no footprint is.
    land_cover {
        /// Raster of class codes, relative to the plan's folder.
        file: Left<AnyText> = left(AnyText).allowed("any that GDAL reads, one band of whole numbers"),
        /// What the codes stand for: a mapping that comes with the program, or a
        /// mapping file.
        classes: Left<AnyText> = left(AnyText)
            .such_as(&["global-10", "national-30", "my-classes.toml"])
            .allowed("`\"global-10\"`, `\"national-30\"`, or a mapping file"),
    }
}
