//! What helps a person at a post that the station does not reach.

use serde::Serialize;

use perchline_coverage::Coverage;
use perchline_plan::{Carry, Channel, Plan, Post, Site};
use perchline_terrain::TerrainError;
use perchline_units::{Degrees, Metres, Position};

use super::rank::{RankError, RankInputs, score_post};
use super::station_on;

/// Farther than this nobody walks to say a word (common practice, no source).
const FARTHEST: Metres = Metres::new(600.0);

/// Spots that are looked into, nearest first, before none is found: the map's
/// cells do not know a post's own radio and noise.
const MOST_TRIED: usize = 60;

/// What a person at a failing post can do there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Aid {
    /// Whether the post works once its radio is held at the head in place of
    /// where it is worn.
    pub held_at_the_head: bool,
    /// The nearest spot in the open from which its radio works.
    pub spot: Option<NearSpot>,
}

/// A spot near a post.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NearSpot {
    /// Where it is.
    pub at: Position,
    /// How far from the post.
    pub distance_m: Metres,
    /// In which direction from the post.
    pub bearing_degrees: Degrees,
}

/// Why help could not be looked for.
#[derive(Debug, thiserror::Error)]
pub enum AidError {
    /// A site or a post does not fit the terrain.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// The map's cells have no place on the earth.
    #[error(transparent)]
    Grid(#[from] TerrainError),
}

/// What helps at `post`, the station of `channel` on `site`, whose map is
/// `coverage`. Spots are those within 600 m outside of buildings and on land.
///
/// # Errors
/// [`AidError`] when the site or the post does not fit the terrain.
pub fn aid(
    inputs: &RankInputs<'_>,
    channel: &Channel,
    site: &Site,
    coverage: &Coverage,
    post: &Post,
) -> Result<Aid, AidError> {
    let station =
        station_on(inputs.plan, channel, site, inputs.terrain).map_err(RankError::from)?;
    let works = |post: &Post| -> Result<bool, RankError> {
        Ok(score_post(inputs, channel, &station, post)?.outcome.works())
    };
    let held_at_the_head = match worn(inputs.plan, channel, post) {
        Some(Carry::Shoulder | Carry::Hip) => {
            works(&Post { carry: Some(Carry::Head), ..post.clone() })?
        }
        Some(Carry::Head) | None => false,
    };
    let mut spot = None;
    for (distance, at) in near(coverage, post.at)?.into_iter().take(MOST_TRIED) {
        let outside = Post { at, indoors: None, street: false, ..post.clone() };
        let stands = inputs.terrain.building(at).is_none() && !inputs.terrain.is_afloat(at);
        if stands && works(&outside)? {
            let bearing_degrees = post.at.bearing(at);
            spot = Some(NearSpot { at, distance_m: distance, bearing_degrees });
            break;
        }
    }
    Ok(Aid { held_at_the_head, spot })
}

/// Where a post's radio is worn, if a person carries it.
fn worn(plan: &Plan, channel: &Channel, post: &Post) -> Option<Carry> {
    let radio = plan.radios.get(post.radio.unwrap_or(channel.carried));
    post.carry.or_else(|| radio?.carry)
}

/// Middles of the cells that work within reach of a place, nearest first.
fn near(coverage: &Coverage, place: Position) -> Result<Vec<(Metres, Position)>, TerrainError> {
    let grid = &coverage.grid;
    let (width, height) = grid.cell_size()?;
    let projector = grid.projector()?;
    let (column, row) = projector.to_cell(place)?;
    let (across, down) = (FARTHEST.value() / width.value(), FARTHEST.value() / height.value());
    let cells: Vec<(f64, f64)> = coverage
        .outcome
        .indexed_iter()
        .filter(|(_, outcome)| outcome.works())
        .map(|((r, c), _)| (c as f64 + 0.5, r as f64 + 0.5))
        .filter(|(c, r)| ((c - column) / across).hypot((r - row) / down) <= 1.0)
        .collect();
    let positions = projector.to_positions(&cells)?;
    let mut near: Vec<_> = positions.into_iter().map(|at| (place.distance(at), at)).collect();
    near.sort_by(|(a, _), (b, _)| a.value().total_cmp(&b.value()));
    Ok(near)
}
