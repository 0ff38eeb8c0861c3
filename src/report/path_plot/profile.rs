//! The ground between the ends, the straight line over it and its Fresnel zone.
//!
//! The earth's curve, flattened by refraction through the k-factor, is put
//! into the ground: each point rises by d1 d2 / 2a over the chord, and the ray
//! stays straight.

use crate::axis;
use crate::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline};
use crate::words;
use perchline_link::PathStudy;
use perchline_plan::UnitSystem;
use perchline_propagation::EffectiveEarth;
use perchline_units::METRES_PER_FOOT;
use perchline_units::METRES_PER_MILE;
use perchline_units::Metres;

use super::plate;

/// Ground and Fresnel zone in tints that part on a grey copy.
const GROUND: &str = "#b9b2a3";
const HOUSES: &str = "#6f6a63";
const WOODS: &str = "#9dba97";
const ZONE: &str = "#cfdfe6";
const ZONE_LINE: &str = "#4a7a8c";
/// Points along the zone and the curve of the sea level.
const STEPS: usize = 240;
/// Edges listed below the profile, in rows of this many.
const EDGES_A_ROW: usize = 4;
/// Height of such a row.
const EDGE_ROW: f64 = 30.0;

/// Height of the list of `count` edges.
pub fn edges_height(count: usize) -> f64 {
    count.max(1).div_ceil(EDGES_A_ROW) as f64 * EDGE_ROW
}

/// From metres along and up to points on the sheet.
struct Scale {
    frame: Frame,
    length: f64,
    low: f64,
    high: f64,
}

impl Scale {
    fn at(&self, distance: f64, height: f64) -> Point {
        (
            self.frame.left + distance / self.length * self.frame.width,
            self.frame.bottom() - (height - self.low) / (self.high - self.low) * self.frame.height,
        )
    }
}

/// The link's geometry over the chord between sea level at both ends.
struct Geometry {
    length: f64,
    earth: EffectiveEarth,
    from: f64,
    to: f64,
    wavelength: f64,
}

impl Geometry {
    fn new(study: &PathStudy) -> Self {
        Self {
            // A profile has two points or more, so a length; the floor only keeps division safe.
            length: study.profile.length().value().max(1e-3),
            earth: study.earth,
            from: (study.from.ground + study.from.antenna).value(),
            to: (study.to.ground + study.to.antenna).value(),
            wavelength: study.budgets.talk_out.frequency_mhz.wavelength().value(),
        }
    }

    fn bulge(&self, d: f64) -> f64 {
        self.earth.bulge(Metres::new(self.length), Metres::new(d)).value()
    }

    fn ray(&self, d: f64) -> f64 {
        self.from + (self.to - self.from) * d / self.length
    }

    /// Radius of the first Fresnel zone (ITU-R P.526, section 2.1, n = 1).
    fn zone(&self, d: f64) -> f64 {
        (self.wavelength * (d * (self.length - d)).max(0.0) / self.length).sqrt()
    }

    fn steps(&self) -> impl Iterator<Item = f64> + '_ {
        (0..=STEPS).map(|i| self.length * i as f64 / STEPS as f64)
    }
}

/// Draws the profile within `frame`, its axes outside it and the edges below.
pub fn draw(sheet: &mut Sheet, frame: Frame, study: &PathStudy, units: UnitSystem) {
    let geometry = Geometry::new(study);
    let scale = scale(frame, study, &geometry);
    axes(sheet, &scale, units);

    let upper = geometry.steps().map(|d| (d, geometry.ray(d) + geometry.zone(d)));
    let lower: Vec<(f64, f64)> =
        geometry.steps().map(|d| (d, geometry.ray(d) - geometry.zone(d))).collect();
    let zone = upper.chain(lower.into_iter().rev()).map(|(d, h)| scale.at(d, h));
    sheet.path_within(frame, &outline(zone, true), &Pen::line(ZONE_LINE, 1.4).filled(ZONE));

    let walls = walls(study);
    let base = [scale.at(geometry.length, scale.low), scale.at(0.0, scale.low)];
    // Whatever stands on the ground lies behind it.
    let layers = [
        (study.profile.has_woods(), study.profile.cover().to_vec(), Pen::fill(WOODS)),
        (has_houses(&walls), walls, Pen::fill(HOUSES)),
        (true, vec![0.0; study.profile.len()], Pen::line(INK, 2.0).filled(GROUND)),
    ];
    for (_, above, pen) in layers.into_iter().filter(|(there, ..)| *there) {
        let ground = study.profile.distances().iter().zip(study.profile.heights());
        let points = ground.zip(above).map(|((d, h), a)| scale.at(*d, h + a + geometry.bulge(*d)));
        sheet.path_within(frame, &outline(points.chain(base), true), &pen);
    }

    for sign in [1.0, -1.0] {
        let line =
            geometry.steps().map(|d| scale.at(d, geometry.ray(d) + sign * 0.6 * geometry.zone(d)));
        sheet.path_within(frame, &outline(line, false), &Pen::line(ZONE_LINE, 1.6).dashed("7 6"));
    }
    if scale.low < 0.0 || geometry.bulge(geometry.length / 2.0) > 1.0 {
        let sea = geometry.steps().map(|d| scale.at(d, geometry.bulge(d)));
        sheet.path_within(frame, &outline(sea, false), &Pen::line(QUIET, 1.4).dashed("2 6"));
    }
    sheet.line(
        scale.at(0.0, geometry.from),
        scale.at(geometry.length, geometry.to),
        &Pen::line(ACCENT, 3.0),
    );
    end(sheet, &scale, 0.0, study.from.ground.value(), geometry.from);
    end(sheet, &scale, geometry.length, study.to.ground.value(), geometry.to);
    end_names(sheet, &scale, study, units);
    edges(sheet, &scale, study, &geometry, units);
    sheet.rectangle(frame, 0.0, &Pen::line(INK, 1.6));
    key(sheet, frame, study, &geometry, units);
}

/// Heights over the ground of what is no tree; empty where nothing stands.
fn walls(study: &PathStudy) -> Vec<f64> {
    let woods = study.profile.woods().iter().copied().chain(std::iter::repeat(0.0));
    study.profile.cover().iter().zip(woods).map(|(cover, woods)| cover - woods).collect()
}

/// Whether there are houses: what a rounded difference leaves is none.
fn has_houses(walls: &[f64]) -> bool {
    walls.iter().any(|height| *height > 0.1)
}

fn scale(frame: Frame, study: &PathStudy, geometry: &Geometry) -> Scale {
    let profile = study.profile.distances().iter().zip(study.profile.heights());
    let ground: Vec<f64> = profile.map(|(d, h)| h + geometry.bulge(*d)).collect();
    let covered = ground.iter().zip(study.profile.cover()).map(|(ground, cover)| ground + cover);
    let zone = geometry.steps().map(|d| geometry.ray(d) + geometry.zone(d));
    let edges = study.edges.iter().map(|e| e.height.value() + geometry.bulge(e.distance.value()));
    let low = ground.iter().copied().fold(f64::INFINITY, f64::min);
    let low = low.min(geometry.from).min(geometry.to);
    let high = ground
        .iter()
        .copied()
        .chain(covered)
        .chain(zone)
        .chain(edges)
        .fold(f64::NEG_INFINITY, f64::max);
    let span = (high - low).max(20.0);
    Scale { frame, length: geometry.length, low: low - 0.12 * span, high: low + 1.28 * span }
}

fn axes(sheet: &mut Sheet, scale: &Scale, units: UnitSystem) {
    let (along, along_name) = match units {
        UnitSystem::Metric if scale.length < 2_000.0 => (1.0, "m"),
        UnitSystem::Metric => (1_000.0, "km"),
        UnitSystem::Us => (METRES_PER_MILE, "miles"),
    };
    let (up, up_name) = match units {
        UnitSystem::Metric => (1.0, "m"),
        UnitSystem::Us => (METRES_PER_FOOT, "ft"),
    };
    let frame = scale.frame;
    let lettering = Lettering::new(19.0).in_colour(QUIET);
    let step = axis::round_step((scale.high - scale.low) / up / 6.0);
    for value in axis::ticks(scale.low / up, scale.high / up, 6) {
        let (_, y) = scale.at(0.0, value * up);
        sheet.line((frame.left, y), (frame.right(), y), &Pen::line(HAIRLINE, 1.0));
        let text = axis::label(value, step);
        sheet.text((frame.left - 12.0, y + 6.5), &text, &lettering.aligned(Align::Right));
    }
    let middle = frame.top + frame.height / 2.0;
    let name = format!("height above sea level at the ends, {up_name}");
    sheet.text_upwards((frame.left - 68.0, middle), &name, &lettering);
    let step = axis::round_step(scale.length / along / 8.0);
    for value in axis::ticks(0.0, scale.length / along, 8) {
        let (x, y) = scale.at(value * along, scale.low);
        sheet.line((x, y), (x, y + 8.0), &Pen::line(INK, 1.4));
        let text = if value == 0.0 { format!("0 {along_name}") } else { axis::label(value, step) };
        sheet.text((x, y + 28.0), &text, &lettering.aligned(Align::Middle));
    }
}

fn end(sheet: &mut Sheet, scale: &Scale, distance: f64, ground: f64, antenna: f64) {
    let foot = scale.at(distance, ground);
    let top = scale.at(distance, antenna);
    sheet.line(foot, top, &Pen::line(INK, 5.0));
    sheet.circle(top, 8.0, &Pen::line(INK, 2.4).filled(PAPER));
}

fn end_names(sheet: &mut Sheet, scale: &Scale, study: &PathStudy, units: UnitSystem) {
    let frame = scale.frame;
    let bold = Lettering::new(22.0).bold();
    let plain = Lettering::new(19.0).quiet();
    for (end, x, align) in [
        (&study.from, frame.left + 16.0, Align::Left),
        (&study.to, frame.right() - 16.0, Align::Right),
    ] {
        let name = bold.fitted(&end.name, frame.width * 0.4);
        plate(sheet, (x, frame.top + 30.0), &name, &bold.aligned(align));
        let heights = format!(
            "antenna {} above ground, ground {} above sea",
            one_decimal(end.antenna.value(), units),
            units.height(end.ground)
        );
        plate(sheet, (x, frame.top + 56.0), &heights, &plain.aligned(align));
    }
}

/// A small height to one decimal place in metres, whole feet otherwise.
fn one_decimal(metres: f64, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric => axis::minus(&format!("{metres:.1}")) + " m",
        UnitSystem::Us => axis::minus(&format!("{:.0}", metres / METRES_PER_FOOT)) + " ft",
    }
}

/// Numbers the edges on the profile and lists them below it.
fn edges(
    sheet: &mut Sheet,
    scale: &Scale,
    study: &PathStudy,
    geometry: &Geometry,
    units: UnitSystem,
) {
    let frame = scale.frame;
    let top = frame.bottom() + 70.0;
    let heading = Lettering::new(20.0).bold();
    let text = Lettering::new(20.0);
    if study.edges.is_empty() {
        let none = "The method counted no edge on this path.";
        sheet.text((frame.left, top), none, &text);
        return;
    }
    let column = frame.width / EDGES_A_ROW as f64;
    // The right end of the last number above the profile; edges come in order.
    let mut taken = f64::NEG_INFINITY;
    for (index, edge) in study.edges.iter().enumerate() {
        let d = edge.distance.value();
        let (x, y) = scale.at(d, edge.height.value() + geometry.bulge(d));
        let number = (index + 1).to_string();
        sheet.path(
            &outline([(x, y), (x - 9.0, y - 18.0), (x + 9.0, y - 18.0)], true),
            &Pen::line(PAPER, 1.5).filled(ACCENT),
        );
        let mark = Lettering::new(21.0).bold().in_colour(ACCENT).aligned(Align::Middle);
        let half = mark.width(&number) / 2.0 + 5.0;
        let beside = x.max(taken + half);
        taken = beside + half;
        plate(sheet, (beside, y - 24.0), &number, &mark);
        let left = frame.left + (index % EDGES_A_ROW) as f64 * column;
        let base = top + (index / EDGES_A_ROW) as f64 * EDGE_ROW;
        let number = format!("Edge {number}");
        sheet.text((left, base), &number, &heading.in_colour(ACCENT));
        let facts = format!(
            "{}, ν = {}, {:.1} dB",
            units.distance(edge.distance),
            axis::label(edge.nu, 0.01),
            edge.loss.value()
        );
        sheet.text((left + heading.width(&number) + 12.0, base), &facts, &text);
    }
}

/// What the lines are, along the lower edge within the frame.
fn key(sheet: &mut Sheet, frame: Frame, study: &PathStudy, geometry: &Geometry, units: UnitSystem) {
    let lettering = Lettering::new(19.0);
    let mut x = frame.left + 16.0;
    let y = frame.top - 17.0;
    let frequency = words::megahertz(study.budgets.talk_out.frequency_mhz);
    let rise = match units {
        UnitSystem::Metric => format!("{:.1} m", geometry.bulge(geometry.length / 2.0)),
        UnitSystem::Us => {
            format!("{:.1} ft", geometry.bulge(geometry.length / 2.0) / METRES_PER_FOOT)
        }
    };
    let entries = [
        (Pen::line(ACCENT, 3.0), "straight line".to_owned()),
        (Pen::line(ZONE_LINE, 9.0).faint(0.4), format!("first Fresnel zone at {frequency} MHz")),
        (Pen::line(ZONE_LINE, 1.8).dashed("7 6"), "0.6 of it".to_owned()),
        (
            Pen::line(GROUND, 12.0),
            format!(
                "ground, lifted by the earth's curve at k = {:.2}: {rise} in the middle",
                geometry.earth.radius().value()
                    / EffectiveEarth::from_k_factor(1.0).radius().value()
            ),
        ),
    ];
    let standing = [
        (has_houses(&walls(study)), Pen::line(HOUSES, 12.0), "houses".to_owned()),
        (study.profile.has_woods(), Pen::line(WOODS, 12.0), "trees".to_owned()),
    ];
    let standing = standing.into_iter().filter(|(there, ..)| *there);
    let entries = entries.into_iter().chain(standing.map(|(_, pen, text)| (pen, text)));
    x -= 16.0;
    for (pen, text) in entries {
        sheet.line((x, y - 6.0), (x + 34.0, y - 6.0), &pen);
        sheet.text((x + 44.0, y), &text, &lettering);
        x += 44.0 + lettering.width(&text) + 36.0;
    }
}
