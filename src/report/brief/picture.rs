//! The pictures of the briefing's map: land, classes, lines and names, one over
//! the other.

use base64::Engine as _;
use geo::{LineString, Simplify};

use crate::layers::{Packing, png};
use crate::map::frame::grid_told;
use crate::map::georeference::MapFrame;
use crate::map::land;
use crate::map::legend::{Reader, explained};
use crate::map::names::Named;
use crate::map::{MapContent, draw_for_print, marks, names};
use crate::outputs::{OutboxSlot, OutputError};
use crate::svg_page::{Frame, Sheet, render_clear};
use crate::{ReportError, words};
use perchline_link::Outcome;
use perchline_units::Position;

use super::{BriefContent, plain};

/// Writes the map of the relay's site to print, or to show.
pub(crate) fn write_png(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&draw_for_print(content.map)?)
}

/// Longer sides in pixels that are tried: 200 an inch on a sheet, and a phone may
/// zoom in.
const LONGEST: [u32; 4] = [1500, 1200, 900, 600];

/// What all pictures together may weigh, bytes: a page holds them in base64, a
/// third longer, beside the classes of all cells, and is to stay under 5 MB.
const HEAVIEST: usize = 3_300_000;

/// The map's pictures and places, ready for a page.
pub struct Pictures {
    /// Pixels across and down.
    pub(super) size: (u32, u32),
    /// Metres across and down.
    pub(super) ground: (f64, f64),
    /// Where places lie on the pictures.
    pub(super) frame: MapFrame,
    /// `metric` or `us`, for the scale bar.
    pub(super) units: &'static str,
    /// The site's name.
    pub(super) site_name: String,
    /// Where it is.
    pub(super) site_at: Position,
    /// Its mark, as an address.
    pub(super) site_mark: String,
    /// Outlines of the areas, without detail finer than a pixel.
    pub(super) areas: Vec<Vec<LineString>>,
    /// Lines of the routes, the same.
    pub(super) routes: Vec<Vec<LineString>>,
    /// The lines and marks that are no class of radio: each as an address, and what it
    /// means.
    pub(super) explained: Vec<(String, String)>,
    /// Classes that occur on the map.
    pub(super) classes_there: Vec<Outcome>,
    /// Spots of a hundred that are wanted.
    pub(super) wanted: String,
    drawn: Drawn,
    marks: Vec<(Outcome, String)>,
}

/// The pictures of one size, as PNG.
struct Drawn {
    size: (u32, u32),
    land: Vec<u8>,
    classes: Vec<u8>,
    lines: Vec<u8>,
    names: Vec<u8>,
    /// What came of the names.
    named: Named,
    /// What is said of the grid.
    grid: Option<String>,
}

impl Drawn {
    fn of(content: &MapContent<'_>, longest: u32) -> Result<Self, ReportError> {
        let layers = content.layers();
        let size = layers.size(longest)?;
        let land = || png(&layers.land(size)?, Packing::Small);
        let classes = || png(&layers.classes(content.coverage, size)?, Packing::Small);
        // The page shows posts by marks of its own, so the land has its names by itself.
        let lines_and_names = || -> Result<_, ReportError> {
            let mut lines = Sheet::clear(size.0, size.1);
            let mut names = Sheet::clear(size.0, size.1);
            let frame = MapFrame::filling(layers.grid, lines.whole())?;
            land::draw(&mut lines, &layers, &frame)?;
            let around = names::Surroundings::default();
            let both = (&mut names, Some(&mut lines));
            let named = names::draw_over(both, content, &frame, around)?;
            let (lines, names) = (lines.into_svg(), names.into_svg());
            let (lines, names) = rayon::join(|| render_clear(&lines), || render_clear(&names));
            let grid = grid_told(&frame, content.plan.map.grid)?;
            Ok((lines?, names?, named, grid))
        };
        let ((land, classes), lines_and_names) =
            rayon::join(|| rayon::join(land, classes), lines_and_names);
        let (lines, names, named, grid) = lines_and_names?;
        Ok(Self { size, land: land?, classes: classes?, lines, names, named, grid })
    }

    fn bytes(&self) -> usize {
        self.land.len() + self.classes.len() + self.lines.len() + self.names.len()
    }
}

impl Pictures {
    /// The pictures of a map.
    ///
    /// # Errors
    /// [`ReportError`] when a layer does not fit its grid or cannot be drawn.
    pub fn of(content: &MapContent<'_>) -> Result<Self, ReportError> {
        let grid = &content.coverage.grid;
        let mut drawn = Drawn::of(content, LONGEST[0])?;
        for longest in LONGEST.into_iter().skip(1) {
            // A person's own map under it may be a photograph, which packs badly.
            if drawn.bytes() > HEAVIEST {
                drawn = Drawn::of(content, longest)?;
            }
        }
        let size = drawn.size;
        let whole =
            Frame { left: 0.0, top: 0.0, width: f64::from(size.0), height: f64::from(size.1) };
        let frame = MapFrame::filling(grid, whole)?;
        let scale = frame.pixels_per_metre();
        let fine = 0.5 / scale / METRES_A_DEGREE;
        let plan = content.plan;
        let classes = &content.coverage.outcome;
        Ok(Self {
            size,
            ground: (f64::from(size.0) / scale, f64::from(size.1) / scale),
            units: plan.units.word(),
            site_name: plain(&content.site.site),
            site_at: content.site.at,
            site_mark: as_address(marks::site_alone()),
            areas: plan
                .areas
                .iter()
                .map(|area| {
                    let outline = area.outline.simplify(fine);
                    let rings = std::iter::once(outline.exterior()).chain(outline.interiors());
                    rings.cloned().collect()
                })
                .collect(),
            routes: plan.routes.iter().map(|route| vec![route.line.simplify(fine)]).collect(),
            explained: explained(content, &drawn.named, Reader::Liaison)
                .into_iter()
                .map(|mark| (as_address(marks::explained_alone(mark.draw)), mark.text))
                .collect(),
            classes_there: Outcome::ALL
                .into_iter()
                .filter(|outcome| classes.iter().any(|there| there == outcome))
                .collect(),
            wanted: words::hundredths(content.coverage.reliability),
            drawn,
            marks: Outcome::ALL
                .into_iter()
                .map(|o| (o, as_address(marks::post_alone(o))))
                .collect(),
            frame,
        })
    }

    /// The pictures from the lowest to the uppermost: a name for the script, what
    /// it shows in words, and its bytes as PNG.
    pub(super) fn stack(&self) -> [(&'static str, &'static str, &[u8]); 4] {
        [
            ("land", "Map of the ground", &self.drawn.land),
            (
                "classes",
                "Where radio should work; the lists below say the same",
                &self.drawn.classes,
            ),
            ("lines", "", &self.drawn.lines),
            ("names", "", &self.drawn.names),
        ]
    }

    /// What is said of names that found no place on the picture.
    pub(super) fn unnamed(&self) -> Option<String> {
        names::without_room(&self.drawn.named.unnamed)
    }

    /// What is said of the grid on the picture.
    pub(super) fn grid(&self) -> Option<&str> {
        self.drawn.grid.as_deref()
    }

    /// The mark of a post, as an address.
    pub(super) fn mark(&self, outcome: Outcome) -> Option<&str> {
        self.marks.iter().find(|(o, _)| *o == outcome).map(|(_, mark)| mark.as_str())
    }
}

/// Metres in a degree of latitude, near enough for leaving out detail.
const METRES_A_DEGREE: f64 = 111_320.0;

/// A mark as an address.
fn as_address(mark: Sheet) -> String {
    data_url("image/svg+xml", mark.into_svg().as_bytes())
}

/// A picture inside an address (RFC 2397).
pub(crate) fn data_url(kind: &str, bytes: &[u8]) -> String {
    format!("data:{kind};base64,{}", base64::engine::general_purpose::STANDARD.encode(bytes))
}
