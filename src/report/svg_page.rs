//! A sheet to draw on: SVG elements with one lettering, and the way from SVG
//! to PNG.

use std::fmt::Write as _;
use std::io::Cursor;

use base64::Engine as _;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder as _, ImageFormat, RgbImage};
use resvg::{tiny_skia, usvg};
use svg::Node as _;
use svg::node::element::{
    Circle, ClipPath, Definitions, Group, Image, Line, Path, Rectangle, Text,
};

use super::ReportError;
use super::palette;
use super::print_size::{SHEET_DOTS, with_print_size};
use super::typeface::{self, Cut};

/// A point on the sheet, pixels from its top left corner.
pub type Point = (f64, f64);

/// An upright rectangle on the sheet, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Frame {
    /// The right edge.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// The lower edge.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Whether the insides of both have a point in common.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right()
            && other.left < self.right()
            && self.top < other.bottom()
            && other.top < self.bottom()
    }

    /// Whether `other` lies within, edges included.
    #[must_use]
    pub fn holds(&self, other: &Self) -> bool {
        other.left >= self.left
            && other.top >= self.top
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }

    /// The frame moved out by `by` on every side.
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            top: self.top - by,
            width: self.width + 2.0 * by,
            height: self.height + 2.0 * by,
        }
    }
}

/// Where a text stands against its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// The point is at its left end.
    Left,
    /// The point is at its middle.
    Middle,
    /// The point is at its right end.
    Right,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lettering {
    /// Size in pixels.
    pub size: f64,
    /// Cut of the typeface.
    pub cut: Cut,
    /// Colour as SVG writes it.
    pub colour: &'static str,
    /// Alignment.
    pub align: Align,
    /// Whether a rim of paper parts it from what it lies on.
    pub halo: bool,
}

/// Width of the line whose outer half is the rim of lettering, against its size.
const HALO: f64 = 0.22;

impl Lettering {
    /// Upright, in ink, from its left end.
    #[must_use]
    pub const fn new(size: f64) -> Self {
        Self { size, cut: Cut::Regular, colour: palette::INK, align: Align::Left, halo: false }
    }

    /// The same, heavy.
    #[must_use]
    pub const fn bold(mut self) -> Self {
        self.cut = Cut::Bold;
        self
    }

    /// The same, slanted.
    #[must_use]
    pub const fn oblique(mut self) -> Self {
        self.cut = Cut::Oblique;
        self
    }

    /// The same in the colour of second rank.
    #[must_use]
    pub const fn quiet(mut self) -> Self {
        self.colour = palette::QUIET;
        self
    }

    /// The same in another colour.
    #[must_use]
    pub const fn in_colour(mut self, colour: &'static str) -> Self {
        self.colour = colour;
        self
    }

    /// The same with a rim of paper around it.
    #[must_use]
    pub const fn haloed(mut self) -> Self {
        self.halo = true;
        self
    }

    /// The same with another alignment.
    #[must_use]
    pub const fn aligned(mut self, align: Align) -> Self {
        self.align = align;
        self
    }

    /// `text` made printable, and cut where it is wider than `room` pixels set so.
    #[must_use]
    pub fn fitted(&self, text: &str, room: f64) -> String {
        typeface::fitted(&typeface::printable(text), self.size, self.cut, room)
    }

    /// Width of `text` set so, in pixels.
    #[must_use]
    pub fn width(&self, text: &str) -> f64 {
        typeface::width(text, self.size, self.cut)
    }
}

/// Outline and filling of a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pen {
    /// Filling.
    pub fill: &'static str,
    /// Outline.
    pub stroke: &'static str,
    /// Width of the outline in pixels.
    pub width: f64,
    /// Dashes as SVG writes them; empty for a solid line.
    pub dash: &'static str,
    /// How much shows, 0 to 1.
    pub opacity: f64,
}

impl Pen {
    /// An outline alone.
    #[must_use]
    pub const fn line(stroke: &'static str, width: f64) -> Self {
        Self { fill: "none", stroke, width, dash: "", opacity: 1.0 }
    }

    /// A filling alone.
    #[must_use]
    pub const fn fill(fill: &'static str) -> Self {
        Self { fill, stroke: "none", width: 0.0, dash: "", opacity: 1.0 }
    }

    /// The same with a filling.
    #[must_use]
    pub const fn filled(mut self, fill: &'static str) -> Self {
        self.fill = fill;
        self
    }

    /// The same, dashed.
    #[must_use]
    pub const fn dashed(mut self, dash: &'static str) -> Self {
        self.dash = dash;
        self
    }

    /// The same, seen through.
    #[must_use]
    pub const fn faint(mut self, opacity: f64) -> Self {
        self.opacity = opacity;
        self
    }
}

/// What a part of a sheet is to somebody who has the sheet read out (ISO 32000-1:2008,
/// section 14.8.4).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Role {
    /// A heading, 1 the highest.
    Heading(u8),
    /// Running text.
    Paragraph,
    /// An entry of a list; those that follow each other are one list.
    Entry,
    /// What a row of a table is about; rows that follow each other are one table.
    RowHead,
    /// The rest of the row.
    Cell,
    /// A drawing, and what it shows in words.
    Figure(String),
}

/// What is drawn in a row for one thing.
struct Run {
    /// The place of what it belongs to in the sheet's roles; nothing for decoration.
    of: Option<usize>,
    definitions: Vec<Box<dyn svg::Node>>,
    nodes: Vec<Box<dyn svg::Node>>,
}

impl Run {
    const fn of(of: Option<usize>) -> Self {
        Self { of, definitions: Vec::new(), nodes: Vec::new() }
    }
}

/// A sheet being drawn; later shapes lie over earlier ones.
pub struct Sheet {
    width: u32,
    height: u32,
    /// What its parts are, in the order in which they are read.
    roles: Vec<Role>,
    runs: Vec<Run>,
    clips: usize,
}

/// A finished sheet in runs, one over the other, each with what it is part of.
#[derive(Debug)]
pub struct ReadableSheet {
    /// What its parts are, in the order in which they are read.
    pub roles: Vec<Role>,
    /// The place in `roles` of what a run belongs to, nothing for decoration; and the
    /// run as an SVG document of the whole sheet's size.
    pub runs: Vec<(Option<usize>, String)>,
}

macro_rules! with_pen {
    ($element:expr, $pen:expr) => {{
        let mut element = $element.set("fill", $pen.fill);
        if $pen.stroke != "none" {
            element = element
                .set("stroke", $pen.stroke)
                .set("stroke-width", px($pen.width))
                .set("stroke-linejoin", "round")
                .set("stroke-linecap", if $pen.dash.is_empty() { "round" } else { "butt" });
        }
        if !$pen.dash.is_empty() {
            element = element.set("stroke-dasharray", $pen.dash);
        }
        if $pen.opacity < 1.0 {
            // A shape of one colour needs no layer of its own to be seen through.
            let part = match ($pen.fill, $pen.stroke) {
                ("none", _) => "stroke-opacity",
                (_, "none") => "fill-opacity",
                _ => "opacity",
            };
            element = element.set(part, $pen.opacity);
        }
        element
    }};
}

impl Sheet {
    /// An empty white sheet of a size in pixels.
    #[must_use]
    pub fn new(width: u32, height: u32) -> Self {
        let mut sheet = Self::clear(width, height);
        sheet.rectangle(sheet.whole(), 0.0, &Pen::fill(palette::PAPER));
        sheet
    }

    /// A sheet of glass, to lie over something else.
    #[must_use]
    pub fn clear(width: u32, height: u32) -> Self {
        Self { width, height, roles: Vec::new(), runs: Vec::new(), clips: 0 }
    }

    /// Begins a part: all text that follows belongs to it, and with a figure the shapes
    /// and pictures too. Shapes outside of figures are decoration.
    pub fn begin(&mut self, role: Role) {
        self.roles.push(role);
    }

    /// Puts a text into the part that was begun last: a paragraph if none was.
    fn put_text(&mut self, text: Text) {
        if self.roles.is_empty() {
            self.begin(Role::Paragraph);
        }
        let of = self.roles.len().checked_sub(1);
        self.put_into(of, |run| run.nodes.push(Box::new(text)));
    }

    /// Puts a shape into the figure that was begun last, or among the decoration.
    fn put(&mut self, shape: impl svg::Node) {
        let of = self.figure();
        self.put_into(of, |run| run.nodes.push(Box::new(shape)));
    }

    /// The part that was begun last if it is a figure.
    fn figure(&self) -> Option<usize> {
        let last = self.roles.len().checked_sub(1)?;
        self.roles.get(last).filter(|role| matches!(role, Role::Figure(_))).map(|_| last)
    }

    /// Puts something into the run of this part: the last if it is of the same.
    fn put_into(&mut self, of: Option<usize>, put: impl FnOnce(&mut Run)) {
        if let Some(run) = self.runs.last_mut().filter(|run| run.of == of) {
            return put(run);
        }
        let mut run = Run::of(of);
        put(&mut run);
        self.runs.push(run);
    }

    /// All of it.
    #[must_use]
    pub fn whole(&self) -> Frame {
        let (width, height) = (f64::from(self.width), f64::from(self.height));
        Frame { left: 0.0, top: 0.0, width, height }
    }

    /// One line of text with its base line at `at`. The text is made printable first.
    pub fn text(&mut self, at: Point, text: &str, lettering: &Lettering) {
        if text.is_empty() {
            return;
        }
        let mut element = Text::new(typeface::printable(text))
            .set("x", px(at.0))
            .set("y", px(at.1))
            .set("font-size", px(lettering.size))
            .set("fill", lettering.colour);
        if lettering.halo {
            element = element
                .set("stroke", palette::PAPER)
                .set("stroke-width", px(lettering.size * HALO))
                .set("stroke-linejoin", "round")
                .set("paint-order", "stroke");
        }
        match lettering.cut {
            Cut::Regular => {}
            Cut::Bold => element = element.set("font-weight", "bold"),
            Cut::Oblique => element = element.set("font-style", "oblique"),
        }
        match lettering.align {
            Align::Left => {}
            Align::Middle => element = element.set("text-anchor", "middle"),
            Align::Right => element = element.set("text-anchor", "end"),
        }
        self.put_text(element);
    }

    /// The same, cut where it is wider than `room` pixels.
    pub fn text_within(&mut self, at: Point, text: &str, lettering: &Lettering, room: f64) {
        self.text(at, &lettering.fitted(text, room), lettering);
    }

    /// One line, set smaller down to the share `smallest` where it is wider than `room`
    /// pixels, and cut where it still is; returns how wide it came out.
    pub fn text_shrunk(
        &mut self,
        at: Point,
        text: &str,
        lettering: &Lettering,
        room: f64,
        smallest: f64,
    ) -> f64 {
        let text = typeface::printable(text);
        let shrink = (room / lettering.width(&text).max(room)).max(smallest);
        let lettering = Lettering { size: lettering.size * shrink, ..*lettering };
        let text = lettering.fitted(&text, room);
        self.text(at, &text, &lettering);
        lettering.width(&text)
    }

    /// One line of text centred on `at` that reads upwards.
    pub fn text_upwards(&mut self, at: Point, text: &str, lettering: &Lettering) {
        self.put_text(
            Text::new(typeface::printable(text))
                .set("font-size", px(lettering.size))
                .set("fill", lettering.colour)
                .set("text-anchor", "middle")
                .set("transform", format!("translate({} {}) rotate(-90)", px(at.0), px(at.1))),
        );
    }

    /// A text in lines no wider than `room`; returns the base line after the last.
    pub fn paragraph(
        &mut self,
        at: Point,
        text: &str,
        lettering: &Lettering,
        room: f64,
        leading: f64,
    ) -> f64 {
        let text = typeface::printable(text);
        let mut y = at.1;
        for line in typeface::wrapped(&text, lettering.size, lettering.cut, room) {
            self.text((at.0, y), &line, lettering);
            y += leading;
        }
        y
    }

    /// A straight line.
    pub fn line(&mut self, from: Point, to: Point, pen: &Pen) {
        let line = Line::new()
            .set("x1", px(from.0))
            .set("y1", px(from.1))
            .set("x2", px(to.0))
            .set("y2", px(to.1));
        self.put(with_pen!(line, pen));
    }

    /// A rectangle with corners rounded by `radius`.
    pub fn rectangle(&mut self, frame: Frame, radius: f64, pen: &Pen) {
        let mut rectangle = Rectangle::new()
            .set("x", px(frame.left))
            .set("y", px(frame.top))
            .set("width", px(frame.width))
            .set("height", px(frame.height));
        if radius > 0.0 {
            rectangle = rectangle.set("rx", px(radius));
        }
        self.put(with_pen!(rectangle, pen));
    }

    /// A circle.
    pub fn circle(&mut self, centre: Point, radius: f64, pen: &Pen) {
        let circle =
            Circle::new().set("cx", px(centre.0)).set("cy", px(centre.1)).set("r", px(radius));
        self.put(with_pen!(circle, pen));
    }

    /// A path in SVG's own notation, as [`outline`] makes it.
    pub fn path(&mut self, path: &str, pen: &Pen) {
        self.put(with_pen!(Path::new().set("d", path), pen));
    }

    /// A path of which only the part within `frame` shows.
    pub fn path_within(&mut self, frame: Frame, path: &str, pen: &Pen) {
        self.paths_within(frame, &[(path, *pen)]);
    }

    /// Paths, one over the other, of which only the parts within `frame` show.
    pub fn paths_within(&mut self, frame: Frame, paths: &[(&str, Pen)]) {
        self.clips += 1;
        let name = format!("within-{}", self.clips);
        let window = Rectangle::new()
            .set("x", px(frame.left))
            .set("y", px(frame.top))
            .set("width", px(frame.width))
            .set("height", px(frame.height));
        let of = self.figure();
        let clip = ClipPath::new().set("id", name.as_str()).add(window);
        self.put_into(of, |run| run.definitions.push(Box::new(clip)));
        let mut group = Group::new().set("clip-path", format!("url(#{name})"));
        for (path, pen) in paths {
            group.append(with_pen!(Path::new().set("d", *path), pen));
        }
        self.put(group);
    }

    /// A picture, its pixels kept sharp.
    ///
    /// # Errors
    /// [`ReportError::Image`] when it cannot be packed as PNG.
    pub fn image(&mut self, frame: Frame, image: &RgbImage) -> Result<(), ReportError> {
        let mut png = Cursor::new(Vec::new());
        image.write_to(&mut png, ImageFormat::Png)?;
        let data = base64::engine::general_purpose::STANDARD.encode(png.into_inner());
        self.put(
            Image::new()
                .set("x", px(frame.left))
                .set("y", px(frame.top))
                .set("width", px(frame.width))
                .set("height", px(frame.height))
                .set("preserveAspectRatio", "none")
                .set("image-rendering", "optimizeSpeed")
                .set("href", format!("data:image/png;base64,{data}")),
        );
        Ok(())
    }

    /// The drawing as an SVG document.
    #[must_use]
    pub fn into_svg(self) -> String {
        let size = (self.width, self.height);
        let mut all = Run::of(None);
        for run in self.runs {
            all.definitions.extend(run.definitions);
            all.nodes.extend(run.nodes);
        }
        document(size, all)
    }

    /// The drawing in parts, for a document that is read out too.
    #[must_use]
    pub fn into_readable(self) -> ReadableSheet {
        let size = (self.width, self.height);
        let runs = self.runs.into_iter().map(|run| (run.of, document(size, run))).collect();
        ReadableSheet { roles: self.roles, runs }
    }
}

/// A run as an SVG document.
fn document((width, height): (u32, u32), run: Run) -> String {
    let mut definitions = Definitions::new();
    for definition in run.definitions {
        definitions.append(definition);
    }
    let mut root =
        Group::new().set("font-family", typeface::FAMILY).set("font-stretch", "condensed");
    for node in run.nodes {
        root.append(node);
    }
    svg::Document::new()
        .set("width", width)
        .set("height", height)
        .set("viewBox", (0, 0, width, height))
        .add(definitions)
        .add(root)
        .to_string()
}

/// A length as SVG writes it: a tenth of a pixel is finer than any printer.
fn px(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A line through `points` in SVG's path notation, closed if asked for.
#[must_use]
pub fn outline(points: impl IntoIterator<Item = Point>, closed: bool) -> String {
    let mut path = String::new();
    let mut last = String::new();
    for (x, y) in points {
        let step = format!("{} {}", px(x), px(y));
        if step != last {
            // Writing to a String cannot fail.
            let _ = write!(path, "{}{step}", if path.is_empty() { "M" } else { "L" });
            last = step;
        }
    }
    if closed && !path.is_empty() {
        path.push('Z');
    }
    path
}

/// Renders an SVG document to PNG with the program's own fonts.
///
/// # Errors
/// [`ReportError`] when the document cannot be read or the picture not be made.
pub fn render(document: &str) -> Result<Vec<u8>, ReportError> {
    with_print_size(&picture(document, None)?, SHEET_DOTS)
}

/// A picture of a sheet in its own size in pixels or stretched to another.
///
/// # Errors
/// [`ReportError`] as for [`render`].
pub fn picture(document: &str, size: Option<(u32, u32)>) -> Result<RgbImage, ReportError> {
    let pixmap = pixels(document, size)?;
    // The sheet is opaque, so three channels hold everything.
    let rgb: Vec<u8> =
        pixmap.pixels().iter().flat_map(|p| [p.red(), p.green(), p.blue()]).collect();
    let size = ReportError::Size { width: pixmap.width(), height: pixmap.height() };
    RgbImage::from_raw(pixmap.width(), pixmap.height(), rgb).ok_or(size)
}

/// The same as [`render`] for a [`Sheet::clear`], which stays clear where nothing is drawn.
///
/// # Errors
/// [`ReportError`] as for [`render`].
pub fn render_clear(document: &str) -> Result<Vec<u8>, ReportError> {
    let pixmap = pixels(document, None)?;
    let rgba: Vec<u8> = pixmap
        .pixels()
        .iter()
        .map(|p| p.demultiply())
        .flat_map(|p| [p.red(), p.green(), p.blue(), p.alpha()])
        .collect();
    let mut png = Cursor::new(Vec::new());
    // Clear ground packs to a fraction in no time.
    PngEncoder::new_with_quality(&mut png, CompressionType::Level(6), FilterType::Adaptive)
        .write_image(&rgba, pixmap.width(), pixmap.height(), ExtendedColorType::Rgba8)?;
    Ok(png.into_inner())
}

/// An SVG document, read with the program's own fonts.
///
/// # Errors
/// [`ReportError::Drawing`] when it cannot be read.
pub fn tree(document: &str) -> Result<usvg::Tree, ReportError> {
    let options = usvg::Options {
        fontdb: typeface::fonts(),
        font_family: "DejaVu Sans".to_owned(),
        ..usvg::Options::default()
    };
    Ok(usvg::Tree::from_str(document, &options)?)
}

/// The document's picture in its own size or stretched to another.
fn pixels(document: &str, size: Option<(u32, u32)>) -> Result<tiny_skia::Pixmap, ReportError> {
    let tree = tree(document)?;
    let own = tree.size();
    let (width, height) = size.unwrap_or((own.to_int_size().width(), own.to_int_size().height()));
    let mut pixmap =
        tiny_skia::Pixmap::new(width, height).ok_or(ReportError::Size { width, height })?;
    // A few thousand pixels, which the renderer's numbers hold exactly.
    let stretch = |to: u32, from: f32| if size.is_some() { to as f32 / from } else { 1.0 };
    let transform = tiny_skia::Transform::from_scale(
        stretch(width, own.width()),
        stretch(height, own.height()),
    );
    resvg::render(&tree, transform, &mut pixmap.as_mut());
    Ok(pixmap)
}
