//! Buildings and land cover as typed.

use super::FILE;
use super::measures::length;
use crate::field::{
    AnyText, Flag, Left, LeftOptional, List, Measure, Number, Optional, Usual, left, left_optional,
    list, number, optional, table, usual,
};
use crate::{ClassMapping, GroundNames};
use perchline_units::Metres;
use std::path::PathBuf;

table! {
    /// Buildings, burnt into the surface that paths run over.
    #[derive(Debug, Clone, PartialEq)]
    buildings as BuildingInputs {
        /// Vector files of footprints, relative to the plan's folder.
        files: Left<List<String>> => Vec<PathBuf>, "Already joined to the plan's folder." =
            left(list(None)).note("polygons").allowed("one or more"),
        /// The layer that holds the houses, for files of several.
        layer: Optional<AnyText> as Option<String> =
            optional(AnyText, "the only one with polygons")
            .note("of several none is guessed")
            .such_as(&["buildings"]),
        /// The field that holds a house's height: a bare number of metres, or with a unit.
        height_field: Optional<AnyText> as Option<String> = optional(AnyText, "`height`")
            .such_as(&["roof_height"]),
        /// The field that holds its number of storeys.
        storeys_field: Optional<AnyText> as Option<String> =
            optional(AnyText, "`building:levels`, or `levels`")
            .such_as(&["floors"]),
        /// Side of a cell of the surface that paths run over.
        cell: Usual<Measure<Metres>> as Metres = usual(length(0.5, 50.0), 5.0)
            .note("the terrain's own where that is finer")
            .such_as(&["2 m"]),
        /// Height of one storey, a bare number of metres.
        storey = "metres_per_level": Usual<Number<Metres>> as Metres =
            usual(number(2.0, 6.0, Metres::new), 3.0)
            .source("common practice, no source"),
        /// Height of a building that states neither height nor storeys.
        default_height: Usual<Measure<Metres>> as Metres = usual(length(1.0, 100.0), 6.0)
            .note("every use is counted in a remark")
            .source("two storeys: common practice, no source")
            .such_as(&["6 m"]),
    }
}

table! {
    /// Land cover: what grows and stands where no footprint is.
    #[derive(Debug, Clone, PartialEq)]
    land_cover as LandCoverInputs {
        /// Raster of class codes, relative to the plan's folder.
        file: Left<AnyText> => PathBuf, "Already joined to the plan's folder." =
            left(AnyText).allowed("any that GDAL reads, one band of whole numbers"),
        /// What the codes stand for: a mapping that comes with the program, or a
        /// mapping file.
        mapping = "classes": Left<AnyText> => ClassMapping = left(AnyText)
            .such_as(&["global-10", "national-30", "my-classes.toml"])
            .allowed("`\"global-10\"`, `\"national-30\"`, or a mapping file"),
    }
}

table! {
    /// Open water: polygons, cells no higher than a level, and the water of the land
    /// cover.
    #[derive(Debug, Clone, PartialEq)]
    water as WaterInputs {
        /// Vector files of its polygons, relative to the plan's folder.
        files: LeftOptional<List<String>> => Vec<PathBuf>, "Already joined to the plan's folder." =
            left_optional(list(None), "none").note("polygons").allowed("one or more"),
        /// Height of the water: cells of the terrain no higher are water too.
        below: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(-500.0, 5000.0), "none").such_as(&["0.5 m"]),
        /// Whether it is salt and counts as sea; fresh water counts as land.
        salt: Usual<Flag> as bool = usual(Flag, true),
    }
}

table! {
    /// Names of the ground for orientation: towns, quarters, streets, streams.
    #[derive(Debug, Clone, PartialEq)]
    place_names as PlaceNameInputs {
        /// Vector file of the points, lines and polygons that have them.
        found = "file": Left<AnyText> => GroundNames = left(AnyText)
            .such_as(&["place-names.geojson"])
            .allowed(FILE),
        /// The layer that holds them, for files of several.
        layer: Optional<AnyText> as Option<String> = optional(AnyText, "all layers")
            .such_as(&["names"]),
        /// The field that holds the name.
        name_field: Optional<AnyText> as Option<String> =
            optional(AnyText, "`name`, `title`, `label` or `id`").such_as(&["name"]),
        /// The field that says what has it; water is told by it, and towns are set larger.
        kind_field: Optional<AnyText> as Option<String> = optional(AnyText, "`kind` or `type`")
            .note("`town`, `village`, `quarter`, `river`, `stream`, `lake` and the like")
            .such_as(&["kind"]),
    }
}
