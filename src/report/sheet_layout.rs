//! The layout that every map and plot shares: a head with a title, the drawing,
//! a column beside it, and a foot that tells what to know of it and what made it.

mod side;

use super::palette::{ACCENT, HAIRLINE, INK};
use super::svg_page::{Frame, Lettering, Pen, Sheet};
use super::typeface::{printable, wrapped};

pub use side::{Marked, Side};

/// A title is set smaller, down to this share of its size, before it is cut.
const SMALLEST: f64 = 0.65;
/// Free width between two texts in one line.
const APART: f64 = 24.0;

/// Where the parts of a kind of sheet stand, in pixels.
#[derive(Debug, Clone, Copy)]
struct Measures {
    /// Left edge of everything.
    left: f64,
    /// Right edge of everything.
    right: f64,
    /// Left edge of the column beside the drawing, if there is one.
    side_left: Option<f64>,
    /// Base lines of title, subtitle and lead.
    bases: [f64; 3],
    /// Their sizes; a lead brings its own.
    sizes: [f64; 2],
    /// Where a line parts the title from the rest.
    rule: Option<f64>,
}

/// A map: A4 across at 212 pixels an inch.
const MAP: Measures = Measures {
    left: 100.0,
    right: 2380.0,
    side_left: Some(1790.0),
    bases: [150.0, 203.0, 286.0],
    sizes: [62.0, 29.0],
    rule: Some(236.0),
};
/// Width and height of a map's sheet in pixels.
pub const MAP_SIZE: (u32, u32) = (2480, 1754);
/// The room for the map: what is beside and below it stands outside.
pub const MAP_ROOM: Frame = Frame { left: 136.0, top: 318.0, width: 1584.0, height: 1150.0 };
/// Where a map's foot begins.
const MAP_FOOT: f64 = 1588.0;

/// Left and right border of a plot.
pub const PLOT_BORDER: f64 = 80.0;

/// What stands over a drawing.
#[derive(Debug, Clone, Copy)]
pub struct Head<'a> {
    /// What it is of.
    pub title: &'a str,
    /// What else there is to know of that.
    pub subtitle: &'a str,
    /// The line next to the drawing; of several texts each but the last gets at
    /// most half of the room.
    pub lead: &'a [(&'a str, Lettering)],
    /// The figure over the column beside the drawing.
    pub figure: Option<Figure<'a>>,
}

/// The one figure that a map comes to.
#[derive(Debug, Clone, Copy)]
pub struct Figure<'a> {
    /// The figure.
    pub figure: &'a str,
    /// What it counts.
    pub caption: &'a str,
    /// Whether the caption is a warning.
    pub warns: bool,
}

/// What stands under a drawing.
#[derive(Debug, Clone, Copy)]
pub struct Foot<'a> {
    /// How to read the drawing.
    pub notes: &'a [String],
    /// What to know of any prediction; empty where nothing is predicted.
    pub caveats: &'a str,
    /// What to take care of.
    pub care: &'a [&'a str],
    /// What made it, in a line.
    pub made: Option<&'a str>,
    /// What is odd about the plan or its ground.
    pub remark: Option<&'a str>,
}

impl<'a> Foot<'a> {
    /// The height that it takes below its first base line on a plot of this
    /// width, in pixels.
    #[must_use]
    pub fn height_on_plot(&self, width: u32) -> f64 {
        let room = f64::from(width) - 2.0 * PLOT_BORDER;
        let paragraphs = self.paragraphs().map(|(text, set)| {
            let lines = wrapped(&printable(text), set.size, set.cut, room).len();
            lines as f64 * FOOT_LEADING + FOOT_GAP
        });
        let made = self.made_lines(room).len() as f64 * MADE_LEADING;
        paragraphs.sum::<f64>() + made + BELOW_FOOT
    }

    /// What a plot says in paragraphs, and how it is set.
    fn paragraphs(&self) -> impl Iterator<Item = (&'a str, Lettering)> {
        let (read, quiet) = (Lettering::new(21.0), Lettering::new(20.0).quiet());
        let notes = self.notes.iter().map(move |text| (text.as_str(), read));
        let care = self.care.iter().map(move |text| (*text, read));
        let all = notes.chain([(self.caveats, quiet)]).chain(care);
        all.filter(|(text, _)| !text.is_empty())
    }

    /// What made it and what is odd, in lines no wider than `room` pixels.
    fn made_lines(&self, room: f64) -> Vec<String> {
        let texts = [self.made, self.remark].into_iter().flatten();
        texts.flat_map(|text| wrapped(&printable(text), MADE.size, MADE.cut, room)).collect()
    }
}

/// How what made a drawing is set.
const MADE: Lettering = Lettering::new(17.0).quiet();
/// From one of its lines to the next, in pixels.
const MADE_LEADING: f64 = 22.0;
/// From one line of a plot's paragraphs to the next, in pixels.
const FOOT_LEADING: f64 = 28.0;
/// Free height between paragraphs, in pixels.
const FOOT_GAP: f64 = 4.0;
/// From the last base line of a plot to its lower edge, in pixels.
const BELOW_FOOT: f64 = 30.0;

/// A sheet with the places of its parts.
pub struct SheetLayout {
    sheet: Sheet,
    measures: Measures,
}

impl SheetLayout {
    /// The sheet of a map, with a column beside it.
    #[must_use]
    pub fn map() -> Self {
        Self { sheet: Sheet::new(MAP_SIZE.0, MAP_SIZE.1), measures: MAP }
    }

    /// The sheet of a plot of this width and height in pixels.
    #[must_use]
    pub fn plot(width: u32, height: f64) -> Self {
        let measures = Measures {
            left: PLOT_BORDER,
            right: f64::from(width) - PLOT_BORDER,
            side_left: None,
            bases: [104.0, 148.0, 206.0],
            sizes: [48.0, 25.0],
            rule: None,
        };
        // A drawing of some thousand pixels: the cut to whole pixels is safe.
        Self { sheet: Sheet::new(width, height.ceil().clamp(1.0, 20_000.0) as u32), measures }
    }

    /// What is drawn on.
    pub fn sheet(&mut self) -> &mut Sheet {
        &mut self.sheet
    }

    /// The column beside the drawing, from its top; all of the width where there
    /// is none.
    pub fn side(&mut self) -> Side<'_> {
        let left = self.measures.side_left.unwrap_or(self.measures.left);
        Side::new(&mut self.sheet, left, self.measures.right, self.measures.bases[2])
    }

    /// Draws the head.
    pub fn head(&mut self, head: &Head<'_>) {
        let Measures { left, right, side_left, bases, sizes, rule } = self.measures;
        let room = side_left.map_or(right, |side| side - 60.0) - left;
        let title = Lettering::new(sizes[0]).bold();
        self.line((left, bases[0]), head.title, &title, room, SMALLEST);
        let subtitle = Lettering::new(sizes[1]).quiet();
        self.line((left, bases[1]), head.subtitle, &subtitle, room, 1.0);
        if let (Some(side), Some(figure)) = (side_left, head.figure) {
            let accent = |lettering: Lettering| lettering.bold().in_colour(ACCENT);
            let large = accent(Lettering::new(sizes[0]));
            self.line((side, bases[0]), figure.figure, &large, right - side, SMALLEST);
            let plain = Lettering::new(sizes[1]);
            let caption = if figure.warns { accent(plain) } else { plain };
            self.line((side, bases[1]), figure.caption, &caption, right - side, 1.0);
        }
        if let Some(y) = rule {
            self.sheet.line((left, y), (right, y), &Pen::line(INK, 2.0));
        }
        let mut x = left;
        for (index, (text, lettering)) in head.lead.iter().enumerate() {
            let last = index + 1 == head.lead.len();
            let free = left + room - x;
            let room = if last { free } else { free.min(room * 0.5) };
            // Alone it is set as small as it takes; beside others it is cut.
            let smallest = if head.lead.len() == 1 { 0.0 } else { 1.0 };
            x += self.line((x, bases[2]), text, lettering, room, smallest) + APART;
        }
    }

    /// One line, smaller down to the share `smallest` where it is wider than
    /// `room`, and cut where it still is; returns how wide it came out.
    fn line(
        &mut self,
        at: (f64, f64),
        text: &str,
        lettering: &Lettering,
        room: f64,
        smallest: f64,
    ) -> f64 {
        self.sheet.text_shrunk(at, text, lettering, room, smallest)
    }

    /// Draws the foot of a map: single lines, cut where they are too long.
    pub fn foot(&mut self, foot: &Foot<'_>) {
        let (left, right) = (self.measures.left, self.measures.right);
        let hairline = Pen::line(HAIRLINE, 2.0);
        self.sheet.line((left, MAP_FOOT), (right, MAP_FOOT), &hairline);
        let said: Vec<&str> =
            foot.notes.iter().map(String::as_str).chain(foot.care.iter().copied()).collect();
        let lines = [
            (42.0, Some(foot.caveats), Lettering::new(28.0).bold()),
            (78.0, Some(&*said.join(" ")), Lettering::new(23.0)),
            (112.0, foot.made, MADE),
            (138.0, foot.remark, MADE),
        ];
        for (below, text, lettering) in lines {
            let at = (left, MAP_FOOT + below);
            self.line(at, text.unwrap_or_default(), &lettering, right - left, 1.0);
        }
    }

    /// Draws the foot of a plot: paragraphs from the base line `top` on, in pixels,
    /// and what made it at the lower edge.
    pub fn foot_from(&mut self, top: f64, foot: &Foot<'_>) {
        let (left, room) = (self.measures.left, self.measures.right - self.measures.left);
        let mut y = top;
        for (text, lettering) in foot.paragraphs() {
            let below = self.sheet.paragraph((left, y), text, &lettering, room, FOOT_LEADING);
            y = below + FOOT_GAP;
        }
        let bottom = self.sheet.whole().bottom() - BELOW_FOOT;
        for (line, above) in foot.made_lines(room).iter().rev().zip(0u8..) {
            self.sheet.text((left, bottom - MADE_LEADING * f64::from(above)), line, &MADE);
        }
    }

    /// The sheet as an SVG document.
    #[must_use]
    pub fn into_svg(self) -> String {
        self.sheet.into_svg()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head<'a>(title: &'a str, lead: &'a [(&'a str, Lettering)]) -> Head<'a> {
        Head { title, subtitle: "Saturday", lead, figure: None }
    }

    /// Every text of a drawing: where it starts, its size, and what it says.
    fn texts(svg: &str) -> Vec<(f64, f64, String)> {
        let document = resvg::usvg::roxmltree::Document::parse(svg).unwrap();
        let number = |node: &resvg::usvg::roxmltree::Node<'_, '_>, name: &str| {
            node.attribute(name).unwrap().parse::<f64>().unwrap()
        };
        let nodes = document.descendants().filter(|node| node.has_tag_name("text"));
        nodes
            .map(|node| {
                let text = node.text().unwrap_or_default();
                (number(&node, "x"), number(&node, "font-size"), text.trim().to_owned())
            })
            .collect()
    }

    #[test]
    fn a_long_title_is_set_smaller_before_it_is_cut() {
        let size = |title: &str| {
            let mut map = SheetLayout::map();
            map.head(&head(title, &[]));
            let (_, size, text) = texts(&map.into_svg()).remove(0);
            (size, text.ends_with('…'))
        };
        assert_eq!(size("Run"), (62.0, false));
        let (smaller, cut) = size(&"Run ".repeat(14));
        assert!((62.0 * SMALLEST..62.0).contains(&smaller) && !cut, "{smaller}");
        let (smallest, cut) = size(&"Run ".repeat(80));
        assert!((smallest - 62.0 * SMALLEST).abs() < 0.06 && cut, "{smallest}");
    }

    #[test]
    fn texts_of_a_lead_keep_apart_and_left_of_the_column() {
        let lettering = Lettering::new(29.0);
        let (long, other) = ("Relay on a hill ".repeat(20), "antenna of 8 m ".repeat(20));
        let mut map = SheetLayout::map();
        map.head(&head("Run", &[(&long, lettering), (&other, lettering)]));
        let lead = texts(&map.into_svg()).split_off(2);
        let ends: Vec<f64> =
            lead.iter().map(|(x, size, text)| x + Lettering::new(*size).width(text)).collect();
        assert!(lead[1].0 >= ends[0] + APART - 0.1 && ends[1] <= 1790.0, "{lead:?}");
        assert!(ends[0] <= 100.0 + (1790.0 - 60.0 - 100.0) / 2.0 + 0.1, "{lead:?}");
    }

    #[test]
    fn what_made_a_plot_stands_below_its_foot() {
        let mut plot = SheetLayout::plot(1400, 900.0);
        let foot = Foot {
            notes: &["How to read it.".to_owned()],
            caveats: "A prediction.",
            care: &["Keep off.", ""],
            made: Some("Made today"),
            remark: None,
        };
        plot.foot_from(700.0, &foot);
        let said: Vec<String> =
            texts(&plot.into_svg()).into_iter().map(|(.., text)| text).collect();
        assert_eq!(said, ["How to read it.", "A prediction.", "Keep off.", "Made today"]);
    }
}
