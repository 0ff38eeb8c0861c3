//! Reading a position as a person types it.
//!
//! This module only recognises the notation; the coordinate maths is that of
//! the crates `geoconvert` (UTM, MGRS) and `maidenhead`.

mod degrees;
mod grid;

use perchline_units::{Degrees, Metres, Position, printable, shown};

/// A position and how far a person may have meant another spot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The position; the centre where the text names a square.
    pub position: Position,
    /// Side of the square that the text can mean, the longer of the two, where
    /// the notation is coarse enough that a person should be told.
    pub square: Option<Metres>,
}

/// Why a text is not a position.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PositionError {
    /// No notation fits.
    #[error(
        "\"{found}\" is not a position; write decimal degrees (\"47.1234, -35.2345\"), degrees \
         and minutes (\"47°07'24\\\"N 35°14'04\\\"W\"), a Maidenhead locator (\"HN27jc48\"), UTM \
         (\"25T 412345E 5212345N\") or MGRS (\"25TDN1234512345\")"
    )]
    Unrecognised {
        /// The text as typed.
        found: String,
    },
    /// The notation is clear, but something in it cannot be.
    #[error("\"{found}\": {reason}")]
    Impossible {
        /// The text as typed.
        found: String,
        /// What cannot be, and what to do.
        reason: String,
    },
    /// The latitude is one that only a longitude can be.
    #[error(
        "latitude and longitude look swapped in \"{found}\" (no latitude is beyond 90 degrees): \
         did you mean \"{suggestion}\"?"
    )]
    Swapped {
        /// The text as typed.
        found: String,
        /// The same the other way round.
        suggestion: String,
    },
}

/// Longest text that is looked at; every notation is far shorter.
const LONGEST: usize = 120;

/// Reads a position in any notation of a plan.
///
/// # Errors
/// [`PositionError`] when the text is in no known notation, is ambiguous, or
/// names a place that does not exist.
///
/// ```
/// let read = perchline_plan::read_position("47°07'30\"N 35°15'00\"W")?;
/// assert_eq!(read.position.latitude().value(), 47.125);
/// assert_eq!(read.position.longitude().value(), -35.25);
/// # Ok::<(), perchline_plan::PositionError>(())
/// ```
pub fn read_position(text: &str) -> Result<Reading, PositionError> {
    let typed = text.trim();
    if typed.is_empty() || typed.len() > LONGEST {
        return Err(unrecognised(typed));
    }
    grid::maidenhead(typed)
        .or_else(|| grid::mgrs(typed))
        .or_else(|| grid::utm(typed))
        .or_else(|| degrees::read(typed))
        .unwrap_or_else(|| Err(unrecognised(typed)))
}

fn unrecognised(found: &str) -> PositionError {
    PositionError::Unrecognised { found: shown(found) }
}

fn impossible(found: &str, reason: impl Into<String>) -> PositionError {
    PositionError::Impossible { found: printable(found), reason: reason.into() }
}

/// A position out of two angles, with the complaint that fits one out of range.
fn position(found: &str, latitude: f64, longitude: f64) -> Result<Position, PositionError> {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).map_err(|error| {
        if latitude.abs() > 90.0 && latitude.abs() <= 180.0 && longitude.abs() <= 90.0 {
            PositionError::Swapped {
                found: printable(found),
                suggestion: format!("{longitude}, {latitude}"),
            }
        } else {
            impossible(found, error.to_string())
        }
    })
}

/// Metres in one degree of latitude, near enough to say how coarse a text is.
const METRES_PER_DEGREE: f64 = 111_320.0;
