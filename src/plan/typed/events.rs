//! The event, the report, elevation files and the map as typed.

use super::FILE;
use super::measures::{distance, length};
use crate::field::{
    AnyText, Choice, Flag, Label, Left, LeftOptional, List, LocalTime, Measure, Optional, Required,
    Usual, left, left_optional, list, optional, required, table, usual,
};
use crate::{HeightUnit, ReferenceGrid, UnitSystem};
use jiff::ZonedDateTime;
use perchline_units::Metres;
use std::path::PathBuf;

table! {
    /// The event and its times.
    #[derive(Debug, Clone)]
    event as Event {
        /// Name of the event.
        name: Required<Label> as String = required(Label).such_as(&["Ferry Lights half marathon"]),
        /// The served agency: the organiser.
        agency: Optional<Label> as Option<String> =
            optional(Label, "none").such_as(&["Ostler's Ferry council"]),
        /// Start: local date and time, no quotes and no offset.
        starts: Left<LocalTime> => ZonedDateTime, "In the zone of the event." =
            left(LocalTime).such_as(&["2026-12-05T17:30:00"]),
        /// End of the event: local date and time.
        ends: Left<LocalTime> => ZonedDateTime = left(LocalTime)
            .note("after `starts`")
            .such_as(&["2026-12-05T21:00:00"]),
        /// When the last radio is taken down.
        tear_down: LeftOptional<LocalTime> => ZonedDateTime,
            "The end where the plan says nothing." =
            left_optional(LocalTime, "`ends`")
            .note("not before `ends`")
            .such_as(&["2026-12-05T22:15:00"]),
        /// IANA time zone of the times.
        time_zone: Left<AnyText> = left(AnyText).such_as(&["Atlantic/Azores", "Etc/GMT+2"]),
    }
}

table! {
    /// How results are written.
    report {
        /// Units of the report.
        units: Usual<Choice<UnitSystem>> = usual(UNITS, UnitSystem::Metric),
    }
}

const UNITS: Choice<UnitSystem> = Choice(&[
    (UnitSystem::Metric.word(), UnitSystem::Metric),
    (UnitSystem::Us.word(), UnitSystem::Us),
]);

table! {
    /// Elevation files.
    #[derive(Debug, Clone, PartialEq)]
    terrain as TerrainInputs {
        /// Elevation files, relative to the plan's folder; the first wins where tiles
        /// overlap. A folder is searched for those that cover the plan.
        files: Left<List<String>> => Vec<PathBuf>, "Already joined to the plan's folder." =
            left(list(None))
            .note("a folder ends in a slash: `\"terrain/\"` ([terrain.md](terrain.md#a-folder-of-elevation))")
            .allowed("one or more, files or folders"),
        /// Unit of the heights, for files that do not say.
        height_unit: Optional<Choice<HeightUnit>> as Option<HeightUnit> =
            optional(HEIGHT_UNITS, "as the file says"),
        /// Coordinate system, for files that carry none.
        crs: LeftOptional<AnyText> => Option<String>,
            "As text that PROJ reads, such as `EPSG:32625`." =
            left_optional(AnyText, "as the file says")
            .such_as(&["EPSG:32625"]),
        /// Whether gaps are filled from their rims.
        fill_gaps: Usual<Flag> as bool = usual(Flag, false),
        /// Side of a cell to work with, for files too fine or too large: the mean
        /// of the first file's cells inside.
        cell: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.5, 1000.0), "the first file's own")
            .note("never finer than those ([terrain.md](terrain.md#files))")
            .such_as(&["10 m"]),
    }
}

const HEIGHT_UNITS: Choice<HeightUnit> = Choice(&[
    ("m", HeightUnit::Metre),
    ("ft", HeightUnit::Foot),
    ("us-ft", HeightUnit::UsSurveyFoot),
]);

table! {
    /// The area and detail of the maps.
    #[derive(Debug, Clone, PartialEq)]
    map as MapInputs {
        /// Side of a coverage cell.
        cell: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(1.0, 1000.0), "the terrain's own cell").such_as(&["20 m"]),
        /// Border around everything that the plan names.
        margin: Usual<Measure<Metres>> as Metres = usual(distance(0.0, 50_000.0), 500.0)
            .such_as(&["500 m"]),
        /// A file of picture tiles, .mbtiles or .pmtiles, to draw under the maps of
        /// `brief` and `live`.
        tiles: LeftOptional<AnyText> => Option<PathBuf>, "Already joined to the plan's folder." =
            left_optional(AnyText, "none")
            .note("see [live.md](live.md)")
            .such_as(&["town.mbtiles"])
            .allowed(FILE),
        /// Grid drawn over the maps on paper: the lines of UTM, numbered as MGRS and
        /// USNG number them.
        grid: Usual<Choice<ReferenceGrid>> as ReferenceGrid = usual(GRIDS, ReferenceGrid::None),
    }
}

const GRIDS: Choice<ReferenceGrid> =
    Choice(&[("none", ReferenceGrid::None), ("utm", ReferenceGrid::Utm)]);
