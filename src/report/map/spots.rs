//! The map of a search: how good every cell is, and the spots that were found.

use image::{Rgb, RgbImage};
use ndarray::Array2;

use crate::basemap::Light;
use crate::cautions::{Caution, IN_A_LINE};
use crate::labels::{KeepClear, Label, place_labels};
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{self, ACCENT, INK, PAPER, QUIET, RELIEF_SWING};
use crate::sheet_layout::{Figure, Foot, Head, SheetLayout, Side};
use crate::spot_tables::stands_on;
use crate::svg_page::{Align, Lettering, Pen, Point, Sheet, outline, render};
use crate::words;
use crate::{Provenance, ReportError};
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_siting::spots::{Field, SpotSearch, StandsOn};
use perchline_terrain::Grid;

use super::georeference::MapFrame;
use super::names::{inside, square};
use super::{frame, grid_lines, inset};

/// Everything that the map of a search shows.
#[derive(Debug, Clone, Copy)]
pub struct SpotMap<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The grid of `relief`, in the coordinate system of the search's grid.
    pub ground: &'a Grid,
    /// Shaded relief, 0 dark to 255 light, on the cells of `ground`.
    pub relief: &'a Array2<u8>,
    /// What was found.
    pub search: &'a SpotSearch,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// A step of the map's scale: cells short of the best by no more than `within`
/// (weighted probability, 0 to 1), best first; what is left over is the last.
const STEPS: [(f64, Outcome); 5] = [
    (0.02, Outcome::Strong),
    (0.05, Outcome::Clear),
    (0.10, Outcome::Patchy),
    (0.25, Outcome::OneWay),
    (f64::INFINITY, Outcome::NoContact),
];

/// Ground that was not searched, and the slanted lines on it.
const BLANK: [[u8; 3]; 2] = [[0xff, 0xff, 0xff], [0xc4, 0xc4, 0xc4]];

/// Ground that was given up early, and the dots on it.
const GIVEN_UP: [[u8; 3]; 2] = [[0x44, 0x53, 0x77], [0xa6, 0xae, 0xc0]];

/// Radius of a spot's mark.
const SPOT: f64 = 19.0;

/// Writes the map as a PNG of 2480 by 1754 pixels, A4 across at 212 pixels an inch.
pub(crate) fn write_png(content: &SpotMap<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&render(&drawn(content)?)?)
}

/// The map as an SVG document. It fails where the map has no area, the relief does
/// not fit its grid, or a position cannot be projected.
fn drawn(content: &SpotMap<'_>) -> Result<String, ReportError> {
    let field = &content.search.field;
    let map = MapFrame::fit(&field.grid)?;
    let mut layout = SheetLayout::map();
    head(&mut layout, content);
    let sheet = layout.sheet();
    let frame = map.frame();
    // The frame has whole pixels, a few thousand at most.
    let picture = paint(content, frame.width as u32, frame.height as u32)?;
    sheet.image(frame, &picture)?;
    frame::border(sheet, &map)?;
    grid_lines::draw(sheet, &map, content.plan)?;
    let unnamed = on_the_ground(sheet, content, &map)?;
    let said = match unnamed {
        0 => None,
        1 => Some("1 name found no room on the map; the list has it.".to_owned()),
        more => Some(format!("{more} names found no room on the map; the list has them.")),
    };
    frame::below(sheet, &map, content.plan, said.as_deref())?;
    side(&mut layout.side(), content)?;
    layout.foot(&Foot {
        notes: &[],
        caveats: &words::foot(content.plan.houses()).join(" "),
        care: &[IN_A_LINE],
        made: Some(&content.provenance.line()),
        remark: None,
    });
    Ok(layout.into_svg())
}

/// The score of the best cell that was swept.
fn best(field: &Field) -> f64 {
    f64::from(field.score.iter().copied().filter(|s| !s.is_nan()).fold(0.0, f32::max))
}

fn step_of(short: f64) -> usize {
    STEPS.iter().position(|(within, _)| short <= *within).unwrap_or(STEPS.len() - 1)
}

fn paint(content: &SpotMap<'_>, width: u32, height: u32) -> Result<RgbImage, ReportError> {
    let SpotMap { ground, relief, search, .. } = *content;
    if relief.dim() != (ground.rows(), ground.columns()) {
        return Err(ReportError::Uneven {
            layer: "relief",
            found: relief.dim(),
            expected: (ground.rows(), ground.columns()),
        });
    }
    let field = &search.field;
    let (light, best) = (Light::new(relief), best(field));
    let ramps: Vec<_> = STEPS
        .iter()
        .map(|(_, outcome)| palette::ramp(palette::base(*outcome), RELIEF_SWING))
        .collect();
    let (columns, rows) = (field.grid.columns(), field.grid.rows());
    let across = columns as f64 / f64::from(width.max(1));
    let down = rows as f64 / f64::from(height.max(1));
    Ok(RgbImage::from_fn(width, height, |x, y| {
        let (column, row) = ((f64::from(x) + 0.5) * across, (f64::from(y) + 0.5) * down);
        // The product is within the grid, so the cut to whole cells is too.
        let score = field.score.get(row as usize * columns + column as usize);
        let Some(score) = score.copied().filter(|score| !score.is_nan()) else {
            let open = field.open.get(row as usize * columns + column as usize) == Some(&true);
            return Rgb(if open { given_up(x, y) } else { blank(x, y) });
        };
        let (ground_column, ground_row) = ground.cell_of(&field.grid, (column, row));
        let light = light.at(ground_column, ground_row);
        let ramp = ramps.get(step_of(best - f64::from(score)));
        Rgb(ramp.and_then(|ramp| ramp.get(usize::from(light))).copied().unwrap_or_default())
    }))
}

/// The colour of a pixel that no step of the scale colours.
type Colour = fn(u32, u32) -> [u8; 3];

/// Ground that was not searched: slanted lines.
fn blank(x: u32, y: u32) -> [u8; 3] {
    let [plain, line] = BLANK;
    if (x + y) % 12 < 2 { line } else { plain }
}

/// Ground that was given up early: dark, with dots.
fn given_up(x: u32, y: u32) -> [u8; 3] {
    let [plain, dot] = GIVEN_UP;
    if x % 14 < 3 && y % 14 < 3 { dot } else { plain }
}

/// Roads, routes, the searched area, sites, posts and spots; how many names
/// found no place.
fn on_the_ground(
    sheet: &mut Sheet,
    content: &SpotMap<'_>,
    map: &MapFrame,
) -> Result<usize, ReportError> {
    let (plan, frame) = (content.plan, map.frame());
    if let Some(roads) = &plan.search.roads {
        for line in &roads.lines {
            let path = outline(map.along(line)?, false);
            sheet.path_within(frame, &path, &Pen::line(PAPER, 6.0));
            sheet.path_within(frame, &path, &Pen::line(INK, 2.6));
        }
    }
    for route in &plan.routes {
        let path = outline(map.along(&route.line)?, false);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 8.0));
        sheet.path_within(frame, &path, &Pen::line(ACCENT, 4.0).dashed("14 7"));
    }
    if let Some(area) = &plan.search.inside {
        let path = outline(map.along(area.exterior())?, true);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 7.0));
        sheet.path_within(frame, &path, &Pen::line(INK, 3.4).dashed("2 8"));
    }
    let mut clear = KeepClear::default();
    let (mut labels, mut names) = (Vec::new(), Vec::new());
    let mut marks: Vec<(Point, Mark)> = Vec::new();
    let mut named = |at: Point, radius: f64, text: &str, size: f64, rank: usize| {
        clear.marks.push(square(at, radius));
        let lettering = if rank == 0 { Lettering::new(size).bold() } else { Lettering::new(size) };
        let text = lettering.fitted(text, 280.0);
        let full = (lettering.width(&text) + 12.0, size + 8.0);
        labels.push(Label { at, radius, full, short: None, rank });
        names.push((text, lettering));
    };
    for site in plan.sites.iter().filter(|s| s.available) {
        if let Some(at) = inside(map.at(site.at)?, frame) {
            marks.push((at, Mark::Site));
            named(at, 13.0, &site.name, 21.0, 1);
        }
    }
    for post in &plan.posts {
        if let Some(at) = inside(map.at(post.at)?, frame) {
            marks.push((at, Mark::Post));
            named(at, 9.0, &post.name, 18.0, 2);
        }
    }
    for (number, spot) in content.search.spots.iter().enumerate().rev() {
        if let Some(at) = inside(map.at(spot.rank.at)?, frame) {
            let on_roof = matches!(spot.stands_on, StandsOn::Roof { .. });
            marks.push((at, Mark::Spot { number: number + 1, on_roof }));
            clear.marks.push(square(at, SPOT));
        }
    }
    let places = place_labels(&labels, inset(frame, 4.0), &clear);
    for (from, to) in places.iter().flatten().filter_map(|place| place.leader) {
        sheet.line(from, to, &Pen::line(PAPER, 4.0).faint(0.85));
        sheet.line(from, to, &Pen::line(QUIET, 1.4));
    }
    for (at, mark) in &marks {
        mark.draw(sheet, *at);
    }
    for (place, (text, lettering)) in places.iter().zip(&names) {
        if let Some(place) = place {
            sheet.rectangle(place.frame, 5.0, &Pen::fill(PAPER).faint(0.82));
            let base = place.frame.top + place.frame.height / 2.0 + lettering.size * 0.36;
            sheet.text((place.frame.left + 6.0, base), text, lettering);
        }
    }
    Ok(places.iter().filter(|place| place.is_none()).count())
}

/// What stands on the map.
#[derive(Debug, Clone, Copy)]
enum Mark {
    Site,
    Post,
    /// Round on open ground, square on a roof.
    Spot {
        number: usize,
        on_roof: bool,
    },
}

impl Mark {
    fn draw(self, sheet: &mut Sheet, at: Point) {
        let (x, y) = at;
        match self {
            Self::Site => {
                let corners = [(x, y - 14.0), (x + 13.0, y + 10.0), (x - 13.0, y + 10.0)];
                sheet.path(&outline(corners, true), &Pen::line(INK, 3.0).filled(PAPER));
            }
            Self::Post => sheet.circle(at, 7.0, &Pen::line(PAPER, 2.0).filled(INK)),
            Self::Spot { number, on_roof } => {
                let rim = Pen::line(PAPER, 4.0).filled(ACCENT);
                if on_roof {
                    sheet.rectangle(square(at, SPOT - 2.0), 2.0, &rim);
                } else {
                    sheet.circle(at, SPOT, &rim);
                }
                let lettering = Lettering::new(24.0).bold().in_colour(PAPER).aligned(Align::Middle);
                sheet.text((x, y + 8.6), &number.to_string(), &lettering);
            }
        }
    }
}

fn head(layout: &mut SheetLayout, content: &SpotMap<'_>) {
    let (plan, search) = (content.plan, content.search);
    let subtitle = format!(
        "Spots that nobody listed  ·  channel {}  ·  antenna {} over ground or roof",
        search.channel,
        plan.units.height(plan.search.mast)
    );
    let listed = search.best_listed.as_ref().map_or_else(String::new, |listed| {
        format!("; best listed site {}", words::contact(listed.weighted_probability))
    });
    let caption = format!("weighted coverage from spot 1{listed}");
    let best = search.spots.first().map(|best| words::contact(best.rank.weighted_probability));
    layout.head(&Head {
        title: &plan.event.name,
        subtitle: &subtitle,
        lead: &[(
            "The lighter the ground, the better a station there; numbers are the spots of the list.",
            Lettering::new(25.0).quiet(),
        )],
        figure: best.as_ref().map(|best| Figure { figure: best, caption: &caption, warns: false }),
    });
}

fn side(side: &mut Side<'_>, content: &SpotMap<'_>) -> Result<(), ReportError> {
    let (plan, search) = (content.plan, content.search);
    side.heading("How to read the map", "");
    for (number, (within, outcome)) in STEPS.iter().enumerate() {
        let before = number.checked_sub(1).and_then(|n| STEPS.get(n)).map(|(within, _)| *within);
        let text = match before {
            None => format!("within {:.0} in 100 of the best cell", within * 100.0),
            Some(_) if within.is_finite() => format!("within {:.0}", within * 100.0),
            Some(before) => format!("more than {:.0} short of it", before * 100.0),
        };
        let colour = Rgb(palette::base(*outcome));
        side.tint(|width, height| RgbImage::from_pixel(width, height, colour), &text)?;
    }
    let field = &search.field;
    let early = field.score.iter().zip(&field.open).any(|(score, open)| *open && score.is_nan());
    let mut rest: Vec<(Colour, &str)> = vec![(blank, "not searched, or nowhere to stand")];
    if early {
        rest.insert(0, (given_up, "given up early: too poor for the list"));
    }
    for (colour, text) in rest {
        let tint = |width, height| RgbImage::from_fn(width, height, |x, y| Rgb(colour(x, y)));
        side.tint(tint, text)?;
    }
    side.marks(&[
        (&|sheet, at| Mark::Spot { number: 1, on_roof: false }.draw(sheet, at), "open ground"),
        (&|sheet, at| Mark::Spot { number: 1, on_roof: true }.draw(sheet, at), "roof"),
        (&|sheet, at| Mark::Site.draw(sheet, at), "listed site"),
        (&|sheet, at| Mark::Post.draw(sheet, at), "post"),
    ]);
    side.skip(39.0);
    side.heading("Spots", "weighted coverage; posts clear; must-have; road");
    side.skip(-6.0);
    for (number, spot) in search.spots.iter().enumerate() {
        let rank = &spot.rank;
        let must = match rank.missed_must_posts.len() {
            0 => "all".to_owned(),
            missed => format!("{missed} missed"),
        };
        let road = spot
            .to_road_m
            .map_or_else(String::new, |road| format!("; {}", plan.units.distance(road)));
        let figures = format!(
            "{}; {} of {}; {must}{road}",
            words::contact(rank.weighted_probability),
            rank.posts_covered,
            rank.posts,
        );
        side.numbered(number + 1, &stands_on(&spot.stands_on, plan.units), &figures);
    }
    side.skip(40.0);
    let bound = &search.bound;
    let searched = format!(
        "{} cells of open ground and {} roofs were searched for {} points that stand for posts, areas and routes. On these no cell is expected to beat the best spot by more than {:.2} %, by the sweep and its error as measured on {} cells.",
        search.open_cells, search.roofs, search.demand_points, bound.gap_percent, bound.compared
    );
    let note = Lettering::new(20.0).quiet();
    for text in std::iter::once(&*searched).chain([Caution::Unseen.text()]) {
        side.paragraph(text, &note, 26.0);
        side.skip(8.0);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::palette::Lab;

    #[test]
    fn steps_of_the_scale_part_on_a_grey_copy() {
        let light: Vec<f64> = STEPS
            .iter()
            .map(|(_, outcome)| Lab::from_rgb(palette::base(*outcome)).lightness)
            .collect();
        for pair in light.windows(2) {
            assert!(pair[0] - pair[1] > 2.0 * RELIEF_SWING, "{light:?}");
        }
        assert_eq!((step_of(0.0), step_of(0.03), step_of(0.9)), (0, 1, 4));
    }
}
