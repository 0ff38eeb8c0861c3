//! How places look in other programs: by what radio comes to there, as on the maps.

use perchline_link::Outcome;

use crate::ReportError;
use crate::map::marks;
use crate::svg_page::{Sheet, render_clear};

/// Pixels of a mark's picture.
const MARK: u32 = 30;
/// Pixels of the relay's mark.
const RELAY: u32 = 52;

/// A word for an outcome without spaces, for names of styles and files.
pub(super) const fn word(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "well-clear",
        Outcome::Clear => "clear",
        Outcome::Patchy => "patchy",
        Outcome::OneWay => "one-way",
        Outcome::NoContact => "no-contact",
        Outcome::Unknown => "not-known",
    }
}

/// The symbol of a post in a GPS unit, by a name that such units commonly have (from
/// memory); one that lacks it shows its own.
pub(super) const fn gps_symbol(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong | Outcome::Clear => "Flag, Green",
        Outcome::Patchy | Outcome::OneWay => "Flag, Blue",
        Outcome::NoContact | Outcome::Unknown => "Flag, Red",
    }
}

/// The marks of the maps as pictures: names and PNG.
///
/// # Errors
/// [`ReportError`] when one cannot be drawn.
pub(super) fn pictures() -> Result<Vec<(String, Vec<u8>)>, ReportError> {
    let post = |outcome: Outcome| -> Result<(String, Vec<u8>), ReportError> {
        let mut sheet = Sheet::clear(MARK, MARK);
        let middle = f64::from(MARK) / 2.0;
        marks::post(&mut sheet, (middle, middle), outcome);
        Ok((picture_of(outcome), render_clear(&sheet.into_svg())?))
    };
    let mut all = Outcome::ALL.into_iter().map(post).collect::<Result<Vec<_>, _>>()?;
    let mut relay = Sheet::clear(RELAY, RELAY);
    let middle = f64::from(RELAY) / 2.0;
    marks::site(&mut relay, (middle, middle), marks::SITE_RADIUS);
    all.push((RELAY_PICTURE.to_owned(), render_clear(&relay.into_svg())?));
    let mut other = Sheet::clear(MARK, MARK);
    let middle = f64::from(MARK) / 2.0;
    marks::other_site(&mut other, (middle, middle));
    all.push((SITE_PICTURE.to_owned(), render_clear(&other.into_svg())?));
    Ok(all)
}

/// File of the relay's mark.
pub(super) const RELAY_PICTURE: &str = "relay.png";
/// File of the mark of a site that is not used.
pub(super) const SITE_PICTURE: &str = "site.png";

/// File of a post's mark.
pub(super) fn picture_of(outcome: Outcome) -> String {
    format!("post-{}.png", word(outcome))
}
