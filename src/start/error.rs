//! Why no plan could be begun.

use std::path::PathBuf;

use perchline_terrain::TerrainError;
use perchline_units::{Metres, shown};
use perchline_vector::VectorError;

/// Why no plan could be begun: what was found, what is allowed, what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StartError {
    /// Nothing says where the event is.
    #[error(
        "nothing says where the event is{}; give --centre \"47.1234, -35.2345\", --places with a file of its route, or --elevation with a file of its hills",
        elevation.as_ref().map_or_else(String::new, |file| format!(" ({} is a folder, or cannot be placed)", file.display()))
    )]
    Nowhere {
        /// The elevation that was given and says nothing.
        elevation: Option<PathBuf>,
    },
    /// The file of places cannot be used.
    #[error(transparent)]
    Vector(#[from] VectorError),
    /// It has nothing that a plan could use.
    #[error(
        "{}: {reason}; give a file with a route, posts or areas (GPX, KML, GeoJSON, GeoPackage, Shapefile, or CSV with columns name, lat and lon)",
        file.display()
    )]
    NoPlaces {
        /// The file.
        file: PathBuf,
        /// What it has.
        reason: String,
    },
    /// It is too large to be a file of places.
    #[error(
        "{}: it has {:.0} MB, and {:.0} MB is the most that is read of places; save the route and the posts alone",
        file.display(), *found as f64 / 1e6, *most as f64 / 1e6
    )]
    TooLarge {
        /// The file.
        file: PathBuf,
        /// Its bytes.
        found: u64,
        /// The most.
        most: u64,
    },
    /// It has more points than there can be posts.
    #[error(
        "{}: it has {found} points, and {most} is the most that become posts; keep those at which somebody stands with a radio, or give --centre and --radius",
        file.display()
    )]
    TooMany {
        /// The file.
        file: PathBuf,
        /// Its points.
        found: usize,
        /// The most.
        most: usize,
    },
    /// None of the places lies within the radius.
    #[error(
        "none of the {places} places of {} lies within {radius:.0} of the centre; check --centre and --radius",
        file.display()
    )]
    AllOutside {
        /// The file.
        file: PathBuf,
        /// How many places it has.
        places: usize,
        /// The radius.
        radius: Metres,
    },
    /// The elevation cannot be used.
    #[error("{0}")]
    Terrain(#[from] Box<TerrainError>),
    /// A place lies off the elevation, or where that has a gap.
    #[error("{what}: {reason}; check where it is, or give elevation of that place")]
    Off {
        /// The place.
        what: String,
        /// What stands against it.
        reason: String,
    },
    /// The times do not fit together, or are in no calendar.
    #[error("{}", shown(reason))]
    Time {
        /// What is wrong.
        reason: String,
    },
    /// No time zone is known of the place.
    #[error("the time zone \"{}\" of the place is not known here", shown(name))]
    Zone {
        /// Its name.
        name: String,
    },
}
