//! What a file of places has for a plan that is there already.

use std::path::Path;

use geo::{LineString, Polygon};
use perchline_units::Position;

use super::StartError;
use super::places::Places;

/// What a vector file holds that a plan can take, each with a name of its own.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Found {
    /// Points.
    pub posts: Vec<(String, Position)>,
    /// Points of which the file says that they are sites.
    pub sites: Vec<(String, Position)>,
    /// Lines, in longitude and latitude.
    pub routes: Vec<(String, LineString)>,
    /// Polygons, in longitude and latitude.
    pub areas: Vec<(String, Polygon)>,
    /// What a person should know of how the file was read.
    pub notes: Vec<String>,
}

/// Reads a vector file as [`begin`](super::begin) does. No name that comes out is one
/// of `taken`, letter case aside.
///
/// # Errors
/// [`StartError`] when the file cannot be read, is too large, or has nothing that a
/// plan could use.
pub fn found_in<'n>(
    file: &Path,
    taken: impl IntoIterator<Item = &'n str>,
) -> Result<Found, StartError> {
    let mut places = Places::read(file)?;
    places.name_all(taken.into_iter().map(|name| name.trim().to_lowercase()).collect());
    Ok(Found {
        posts: places.posts.into_iter().map(|post| (post.name, post.at)).collect(),
        sites: places.sites.into_iter().map(|site| (site.name, site.at)).collect(),
        routes: places.routes,
        areas: places.areas,
        notes: places.notes,
    })
}
