//! The map of a search: how good every cell is, and the spots that were found.

use image::{Rgb, RgbImage};
use ndarray::Array2;

use crate::basemap::Light;
use crate::cautions::{Caution, IN_A_LINE};
use crate::layers::Layers;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{self, ACCENT, INK, PAPER, RELIEF_SWING};
use crate::sheet_layout::{Figure, Foot, Head, SheetLayout, Side};
use crate::spot_tables::stands_on;
use crate::svg_page::{Align, Lettering, Pen, Point, Sheet, outline, render};
use crate::words;
use crate::{Provenance, ReportError};
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_siting::spots::{Field, SpotSearch, StandsOn};
use perchline_terrain::Terrain;

use super::georeference::MapFrame;
use super::ground_names::NameSizes;
use super::names::{inside, square, without_room};
use super::place_names::PlaceNames;
use super::{frame, land};

/// Everything that the map of a search shows.
#[derive(Debug, Clone, Copy)]
pub struct SpotMap<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Its terrain, in the coordinate system of the search's grid.
    pub terrain: &'a Terrain,
    /// Shaded relief, 0 dark to 255 light, on the terrain's cells.
    pub relief: &'a Array2<u8>,
    /// What was found.
    pub search: &'a SpotSearch,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

impl<'a> SpotMap<'a> {
    /// The land under it.
    const fn layers(&self) -> Layers<'a> {
        let grid = &self.search.field.grid;
        Layers { plan: self.plan, terrain: self.terrain, relief: self.relief, grid }
    }
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
    land::draw(sheet, &content.layers(), &map)?;
    frame::border(sheet, &map)?;
    let unnamed = on_the_ground(sheet, content, &map)?;
    frame::below(sheet, &map, content.plan, without_room(&unnamed).as_deref())?;
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
    let SpotMap { terrain, relief, search, .. } = *content;
    let ground = terrain.grid();
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

/// Routes, the searched area, sites, posts and spots; returns the names that found no
/// place.
fn on_the_ground(
    sheet: &mut Sheet,
    content: &SpotMap<'_>,
    map: &MapFrame,
) -> Result<Vec<String>, ReportError> {
    let (plan, frame) = (content.plan, map.frame());
    let mut names = PlaceNames::on_grid(sheet, map, plan)?;
    for route in &plan.routes {
        let line = map.along(&route.line)?;
        let path = outline(line.iter().copied(), false);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 8.0));
        sheet.path_within(frame, &path, &Pen::line(ACCENT, 4.0).dashed("14 7"));
    }
    if let Some(area) = &plan.search.inside {
        let path = outline(map.along(area.exterior())?, true);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 7.0));
        sheet.path_within(frame, &path, &Pen::line(INK, 3.4).dashed("2 8"));
    }
    let mut marks: Vec<(Point, Mark)> = Vec::new();
    for site in plan.sites.iter().filter(|s| s.available) {
        if let Some(at) = inside(map.at(site.at)?, frame) {
            marks.push((at, Mark::Site));
            names.add(at, 13.0, (None, &site.name), Lettering::new(21.0), 1);
        }
    }
    for post in &plan.posts {
        if let Some(at) = inside(map.at(post.at)?, frame) {
            marks.push((at, Mark::Post));
            names.add(at, 9.0, (None, &post.name), Lettering::new(18.0), 2);
        }
    }
    for (number, spot) in content.search.spots.iter().enumerate().rev() {
        if let Some(at) = inside(map.at(spot.rank.at)?, frame) {
            let on_roof = matches!(spot.stands_on, StandsOn::Roof { .. });
            marks.push((at, Mark::Spot { number: number + 1, on_roof }));
            names.keep_off(square(at, SPOT));
        }
    }
    names.add_ground(&content.layers(), map, NameSizes::SHEET)?;
    let placed = names.placed(frame);
    placed.draw_ground(sheet);
    placed.draw_leaders(sheet);
    for (at, mark) in &marks {
        mark.draw(sheet, *at);
    }
    Ok(placed.draw(sheet))
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
    let listed = search.best_listed.as_ref();
    let caption = listed.map_or_else(
        || "weighted coverage from spot 1".to_owned(),
        |listed| {
            let listed = words::contact(listed.weighted_probability);
            format!("from spot 1; best listed site {listed}")
        },
    );
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
    land::legend(side, &content.layers());
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
