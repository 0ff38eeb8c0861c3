//! The map of reports: coverage as it was predicted, and on it what was heard
//! and how that agrees.

use std::collections::HashSet;

use crate::map::georeference::MapFrame;
use crate::map::names::{Named, Surroundings};
use crate::map::{MapContent, frame, ground, legend, names};
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, INK, PAPER};
use crate::sheet_layout::{Foot, Head, SheetLayout, Side};
use crate::svg_page::{Lettering, Pen, Point, Sheet, outline, render};
use crate::{ReportError, words};
use perchline_heard::compare::{Agreement, Compared};

/// What the map shows.
#[derive(Clone, Copy)]
pub struct ReportMap<'a> {
    /// The coverage as it was predicted, with the plan's places.
    pub map: &'a MapContent<'a>,
    /// Reports on that channel from that site.
    pub compared: &'a [&'a Compared],
}

/// The map as it was drawn.
#[derive(Debug, Clone)]
pub struct MapPicture {
    /// The channel.
    pub channel: String,
    /// The station's site.
    pub site: String,
    /// How many reports are on it or off it.
    pub reports: usize,
    /// 2480 by 1754 pixels.
    png: Vec<u8>,
}

impl MapPicture {
    /// Draws the map.
    ///
    /// # Errors
    /// [`ReportError`] when a layer does not fit its grid or a position cannot be
    /// projected.
    pub fn of(content: &ReportMap<'_>) -> Result<Self, ReportError> {
        Ok(Self {
            channel: content.map.channel.to_owned(),
            site: content.map.site.site.clone(),
            reports: content.compared.len(),
            png: render(&drawn(content)?)?,
        })
    }

    /// Its bytes.
    pub(super) fn png(&self) -> &[u8] {
        &self.png
    }
}

/// Radius of a mark.
const RADIUS: f64 = 11.0;

/// Reports against the prediction that are listed beside the map.
const LISTED: usize = 14;

/// Marks of a kind that are all drawn.
const MANY: usize = 1000;

/// A mark that is this near to another one of its kind, in pixels, is hidden by it.
const HIDES: f64 = 3.0;

/// Writes the map as a PNG of 2480 by 1754 pixels.
pub(crate) fn write_png(picture: &MapPicture, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&picture.png)
}

/// The map as an SVG document, its base picture inside.
fn drawn(content: &ReportMap<'_>) -> Result<String, ReportError> {
    let under = content.map;
    let map = MapFrame::fit(&under.coverage.grid)?;
    let mut layout = SheetLayout::map();
    layout.head(&Head {
        title: &under.plan.event.name,
        subtitle: "What was heard, against what was predicted",
        lead: &[(
            &format!("Channel {} from {}", under.channel, under.site.site),
            Lettering::new(29.0).bold(),
        )],
        figure: None,
    });
    let drawn = on_the_ground(layout.sheet(), content, &map, frame::border)?;
    let said = names::without_room(&drawn.named.unnamed);
    frame::below(layout.sheet(), &map, under.plan, said.as_deref())?;
    side(&mut layout.side(), content, &drawn);
    layout.foot(&Foot {
        notes: &[NOTE.to_owned()],
        caveats: &words::foot(under.plan.houses()).join(" "),
        care: &[],
        made: Some(&under.provenance.line()),
        remark: None,
    });
    Ok(layout.into_svg())
}

/// How to read what lies under the marks.
pub(super) const NOTE: &str = "Tints and discs: coverage and posts as predicted, in the colours and marks of their own map. A contact is likely from 80 of 100 spots on.";

/// What came of drawing the map.
pub(super) struct Drawn {
    /// Of the plan's places.
    pub named: Named,
    /// Reports that lie off it.
    pub off: usize,
}

/// Draws the coverage, the map's `border`, the plan's places with their names, and on
/// them what was heard.
pub(super) fn on_the_ground(
    sheet: &mut Sheet,
    content: &ReportMap<'_>,
    map: &MapFrame,
    border: impl FnOnce(&mut Sheet, &MapFrame) -> Result<(), ReportError>,
) -> Result<Drawn, ReportError> {
    let frame = map.frame();
    let under = content.map;
    ground(sheet, under, map, 1.0)?;
    border(sheet, map)?;
    let marks = content.compared.iter().map(|one| Ok(names::square(map.at(one.at)?, RADIUS)));
    let marks = marks.collect::<Result<Vec<_>, ReportError>>()?;
    let named =
        names::draw(sheet, under, map, Surroundings { marks: &marks, ..Surroundings::default() })?;
    // What went wrong lies on top.
    let order = [Agreement::AsPredicted, Agreement::Open, Agreement::Better, Agreement::Worse];
    let mut off = 0usize;
    for kind in order {
        let mut marks = Vec::new();
        for one in content.compared.iter().filter(|c| c.agreement == kind) {
            let at = map.at(one.at)?;
            let inside = (frame.left..=frame.right()).contains(&at.0)
                && (frame.top..=frame.bottom()).contains(&at.1);
            if inside { marks.push((at, one.heard == Some(true))) } else { off += 1 }
        }
        for (at, heard) in thinned(marks) {
            mark(sheet, at, kind, heard);
        }
    }
    Ok(Drawn { named, off })
}

/// Marks without those that later ones of their kind hide, where there are more
/// than anybody can tell apart.
fn thinned(mut marks: Vec<(Point, bool)>) -> Vec<(Point, bool)> {
    if marks.len() <= MANY {
        return marks;
    }
    let mut seen = HashSet::new();
    // Places in a picture of a few thousand pixels.
    let cell = |at: f64| (at / HIDES).round() as i32;
    marks.reverse();
    marks.retain(|((x, y), heard)| seen.insert((cell(*x), cell(*y), *heard)));
    marks.reverse();
    marks
}

/// A report: full if it was heard, empty if not; round where that was to be
/// expected, pointed where it was not.
pub(super) fn mark(sheet: &mut Sheet, (x, y): Point, kind: Agreement, heard: bool) {
    let r = RADIUS;
    let fill = if heard { INK } else { PAPER };
    let path = match kind {
        Agreement::AsPredicted => {
            sheet.circle((x, y), r, &Pen::fill(PAPER));
            sheet.circle((x, y), r - 2.0, &Pen::line(INK, 2.6).filled(fill));
            return;
        }
        Agreement::Open => vec![(x - r, y), (x, y - r), (x + r, y), (x, y + r)],
        Agreement::Better => vec![(x - r, y + r * 0.8), (x + r, y + r * 0.8), (x, y - r)],
        Agreement::Worse => vec![(x - r, y - r * 0.8), (x + r, y - r * 0.8), (x, y + r)],
    };
    let outer: Vec<Point> =
        path.iter().map(|(px, py)| (x + (px - x) * 1.3, y + (py - y) * 1.3)).collect();
    sheet.path(&outline(outer, true), &Pen::fill(PAPER));
    let pen = if kind == Agreement::Worse {
        Pen::line(ACCENT, 3.4).filled(if heard { ACCENT } else { PAPER })
    } else {
        Pen::line(INK, 2.6).filled(fill)
    };
    sheet.path(&outline(path, true), &pen);
}

/// What the marks mean.
pub(super) const LEGEND: [(Agreement, bool, &str); 6] = [
    (Agreement::AsPredicted, true, "good, as predicted"),
    (Agreement::AsPredicted, false, "not good, as predicted"),
    (Agreement::Better, true, "good, against the prediction"),
    (Agreement::Worse, false, "not good, against the prediction"),
    (Agreement::Open, true, "good; it could have gone either way"),
    (Agreement::Open, false, "not good, or open; either way"),
];

/// How many reports a mark stands for.
pub(super) fn count(content: &ReportMap<'_>, kind: Agreement, heard: bool) -> usize {
    let alike = |c: &&&Compared| c.agreement == kind && (c.heard == Some(true)) == heard;
    content.compared.iter().filter(alike).count()
}

fn side(side: &mut Side<'_>, content: &ReportMap<'_>, drawn: &Drawn) {
    side.heading("How to read the marks", "");
    for (kind, heard, text) in LEGEND {
        let text = format!("{} {text}", count(content, kind, heard));
        side.mark(|sheet, at| mark(sheet, at, kind, heard), &text);
    }
    if drawn.named.distances {
        side.mark(legend::distance_mark, legend::distance(content.map.plan.units));
    }
    side.skip(39.0);
    side.heading("Against the prediction", "");
    side.skip(-16.0);
    let mut worse: Vec<&Compared> =
        content.compared.iter().filter(|c| c.agreement == Agreement::Worse).copied().collect();
    worse.sort_by(|a, b| b.predicted_heard.total_cmp(&a.predicted_heard));
    let (line, small) = (Lettering::new(23.0), Lettering::new(19.0));
    if worse.is_empty() {
        side.line("Nothing.", &line, 38.0);
    }
    for one in worse.iter().take(LISTED) {
        let text = format!(
            "{}, {}: predicted {} %",
            one.place,
            words::way(one.direction),
            words::hundredths(one.predicted_heard)
        );
        side.line(&text, &line, 38.0);
        if let Some(reason) = one.because.first() {
            side.line(reason, &small.quiet(), 27.0);
        }
    }
    let mut text = String::new();
    let rest = worse.len().saturating_sub(LISTED);
    if rest > 0 {
        text += &format!("{rest} more in the tables. ");
    }
    if drawn.off > 0 {
        text += &format!("{} reports lie off this map.", drawn.off);
    }
    side.line(&text, &small.oblique(), 40.0);
}
