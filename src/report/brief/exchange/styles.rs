//! How places look in other programs: by what radio comes to there, as on the maps.

use perchline_link::Outcome;

use crate::ReportError;
use crate::map::marks;
use crate::svg_page::render_clear;
use crate::words;

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
    let posts = Outcome::ALL.map(|outcome| (picture_of(outcome), marks::post_alone(outcome)));
    let sites = [
        (RELAY_PICTURE.to_owned(), marks::site_alone()),
        (SITE_PICTURE.to_owned(), marks::other_site_alone()),
    ];
    let all = posts.into_iter().chain(sites);
    all.map(|(file, mark)| Ok((file, render_clear(&mark.into_svg())?))).collect()
}

/// File of the relay's mark.
pub(super) const RELAY_PICTURE: &str = "relay.png";
/// File of the mark of a site that is not used.
pub(super) const SITE_PICTURE: &str = "site.png";

/// What the style of a post is called.
pub(super) fn post_id(outcome: Outcome) -> String {
    format!("post-{}", words::id(outcome))
}

/// File of a post's mark.
pub(super) fn picture_of(outcome: Outcome) -> String {
    format!("{}.png", post_id(outcome))
}
