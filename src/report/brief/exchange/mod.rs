//! The briefing for other programs: phones, GPS units, programs for maps.

mod gis;
mod gpx;
mod kml;
mod overlay;
mod sheet_styles;
mod styles;

pub(crate) use gis::write_geopackage;
pub(crate) use gpx::write_gpx;
pub(crate) use kml::{write_kml, write_kmz};

use geo::{Coord, LineString};
use perchline_plan::Plan;
use perchline_siting::Stretch;
use perchline_units::Position;

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

/// The part of a line from one distance along it to another, on the ground.
fn part_of(line: &LineString, stretch: &Stretch) -> LineString {
    let (from, to) = (stretch.from_m.value(), stretch.to_m.value());
    let mut part: Vec<Coord> = Vec::new();
    let mut along = 0.0;
    for side in line.lines() {
        let ends = [side.start, side.end].map(|end| Position::from_point(end.into()).ok());
        let [Some(start), Some(end)] = ends else { continue };
        let length = start.distance(end).value();
        let (first, last) = ((from - along) / length, (to - along) / length);
        if length > 0.0 && first < 1.0 && last > 0.0 {
            let at = |share: f64| side.start + side.delta() * share.clamp(0.0, 1.0);
            if part.is_empty() {
                part.push(at(first));
            }
            part.push(at(last));
        }
        along += length;
    }
    LineString(part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_units::Metres;

    #[test]
    fn a_part_of_a_line_has_the_length_that_was_asked_for() {
        let line: LineString = vec![(-34.9, 47.0), (-34.88, 47.0), (-34.88, 47.02)].into();
        let length = |line: &LineString| -> f64 {
            let at: Vec<_> =
                line.points().map(|point| Position::from_point(point).unwrap()).collect();
            at.iter().zip(at.iter().skip(1)).map(|(a, b)| a.distance(*b).value()).sum()
        };
        let whole = length(&line);
        for (from, to) in [(0.0, 300.0), (1000.0, 2500.0), (whole - 200.0, whole), (0.0, whole)] {
            let stretch = Stretch { from_m: Metres::new(from), to_m: Metres::new(to) };
            let part = part_of(&line, &stretch);
            assert!((length(&part) - (to - from)).abs() < 0.1, "{from} to {to}: {part:?}");
            let before = Stretch { from_m: Metres::new(0.0), to_m: Metres::new(from) };
            let reached = part_of(&line, &before).0.last().copied();
            assert!(from == 0.0 || reached.is_some_and(|at| at == part.0[0]), "{from}");
        }
    }
}
