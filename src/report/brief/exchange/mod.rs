//! The briefing for other programs: phones, GPS units, programs for maps.

mod gis;
mod gpx;
mod kml;
mod overlay;

pub(crate) use gis::write_geopackage;
pub(crate) use gpx::write_gpx;
pub(crate) use kml::{write_kml, write_kmz};

use perchline_plan::Plan;

use super::{Brief, BriefContent, BriefInputs};

/// What is told of a post, an area or a route: its sentence and what to do.
fn told(sentence: &str, advice: &[String]) -> String {
    let lines = std::iter::once(sentence).chain(advice.iter().map(String::as_str));
    lines.collect::<Vec<_>>().join(" ")
}

/// What is told of a site.
fn told_of_site(inputs: &BriefInputs<'_>, name: &str) -> String {
    let site = inputs.plan.sites.iter().find(|site| site.name == name);
    let access = site.and_then(|s| s.access.as_deref()).map(super::plain);
    let stands = if inputs.site.site == name { "The relay stands here." } else { "Not in use." };
    access.map_or_else(|| stands.to_owned(), |access| format!("{stands} {access}."))
}

/// Name of the whole in other programs.
fn title(brief: &Brief) -> String {
    format!("{}: radio", brief.event)
}

/// What it was made with, for a description.
fn made(brief: &Brief, plan: &Plan) -> String {
    let caveats = brief.caveats.join(" ");
    let made = brief.made.first().map_or("", String::as_str);
    format!("{} {caveats} {made} Plan {}.", brief.headline, plan.sha256)
}
