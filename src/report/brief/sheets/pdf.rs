//! From two drawn sheets to a PDF.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use krilla::geom::Size;
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::{Document, SerializeSettings};
use krilla_svg::{SurfaceExt, SvgSettings};

use crate::svg_page::tree;
use crate::{Provenance, ReportError};

use super::Paper;

/// Points in a millimetre (exact by definition: 72 to the inch of 25.4 mm).
const POINTS_A_MILLIMETRE: f64 = 72.0 / 25.4;

/// What a document says of itself.
#[derive(Debug)]
pub(crate) struct About {
    pub(crate) title: String,
    pub(crate) description: String,
}

/// The sheets as pages; letters stay letters, their fonts are inside. The same
/// sheets of the same time give the same bytes.
pub(crate) fn pdf(
    sheets: &[String],
    paper: Paper,
    about: About,
    provenance: &Provenance,
) -> Result<Vec<u8>, ReportError> {
    let (width, height) = paper.millimetres();
    // Some hundred points.
    let points = |millimetres: f64| (millimetres * POINTS_A_MILLIMETRE) as f32;
    let refused = |what: &str| ReportError::Pdf { reason: what.to_owned() };
    let size = Size::from_wh(points(width), points(height))
        .ok_or_else(|| refused("paper without a size"))?;
    let mut document = Document::new_with(SerializeSettings::default());
    for sheet in sheets {
        let tree = tree(sheet)?;
        let mut page = document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        surface
            .draw_svg(&tree, size, SvgSettings::default())
            .ok_or_else(|| refused("a sheet that could not be drawn"))?;
        surface.finish();
        page.finish();
    }
    document.set_metadata(metadata(about, provenance));
    document.finish().map_err(|e| refused(&format!("{e:?}")))
}

fn metadata(about: About, provenance: &Provenance) -> Metadata {
    let program = format!("{} {}", provenance.program, provenance.version);
    let metadata = Metadata::new()
        .title(about.title)
        .description(about.description)
        .language("en".to_owned())
        .creator(program);
    match provenance.made_at.parse::<Timestamp>() {
        Ok(made) => metadata.creation_date(date(made)),
        // The provenance writes it, so this does not happen; without it no date is told.
        Err(_) => metadata,
    }
}

fn date(made: Timestamp) -> DateTime {
    let at = TimeZone::UTC.to_datetime(made);
    // Parts of a time of the day; a year before 0 has none here.
    let part = |value: i8| u8::try_from(value).unwrap_or_default();
    DateTime::new(u16::try_from(at.year()).unwrap_or_default())
        .month(part(at.month()))
        .day(part(at.day()))
        .hour(part(at.hour()))
        .minute(part(at.minute()))
        .second(part(at.second()))
        .utc_offset_hour(0)
        .utc_offset_minute(0)
}
