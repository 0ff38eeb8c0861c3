//! The briefing on two sheets of paper: the liaison's and the crew's. They keep a
//! layout of their own, apart from that of maps and plots: their text decides where
//! columns begin and how large they are set, while a drawing has fixed places.

mod crew;
pub(crate) mod flow;
pub(crate) mod liaison;
pub(crate) mod pdf;
mod slips;

use crate::outputs::{OutboxSlot, OutputError};
use crate::svg_page::{Frame, Lettering, Pen, Sheet};
use crate::{Provenance, palette};

use super::{Brief, BriefContent};

pub(crate) use slips::write_slips;

/// Paper to print on, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8.5 by 11 inches (ANSI A).
    Letter,
}

impl Paper {
    /// Width and height in millimetres.
    #[must_use]
    pub const fn millimetres(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// Pixels of a sheet in a millimetre: names of the map come out at 8 points.
const PIXELS_A_MILLIMETRE: f64 = 8.0;

/// A heading is set smaller, down to this share of its size, before it is cut.
pub(crate) const SMALLEST: f64 = 0.4;

/// Free border in pixels: printers leave 4 to 6 mm blank, a hole punch needs 11.
const BORDER: f64 = 11.0 * PIXELS_A_MILLIMETRE;

/// Writes the sheets for A4, if they are wanted.
pub(crate) fn write_a4(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write_pdf(content, Paper::A4, slot)
}

/// Writes the sheets for Letter, if they are wanted.
pub(crate) fn write_letter(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write_pdf(content, Paper::Letter, slot)
}

/// Writes the briefing as a PDF of two pages, its text as text.
fn write_pdf(
    content: &BriefContent<'_>,
    paper: Paper,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, map, papers, .. } = *content;
    if !papers.contains(&paper) {
        return Ok(());
    }
    let sheets = [liaison::draw(brief, map, paper)?, crew::draw(brief, map.provenance, paper)];
    let about = pdf::About {
        title: format!("{}: radio briefing", brief.event),
        description: brief.made.join(" "),
    };
    slot.bytes(&pdf::pdf(&sheets, paper, about, map.provenance)?)
}

/// An empty sheet and the part of it that may be drawn on.
pub(crate) fn blank(paper: Paper) -> (Sheet, Frame) {
    let (width, height) = paper.millimetres();
    let (width, height) = (width * PIXELS_A_MILLIMETRE, height * PIXELS_A_MILLIMETRE);
    // Some two thousand pixels.
    let sheet = Sheet::new(width.round() as u32, height.round() as u32);
    (sheet, Frame { left: 0.0, top: 0.0, width, height }.grown(-BORDER))
}

pub(crate) fn rule(sheet: &mut Sheet, room: Frame, y: f64) {
    sheet.line((room.left, y), (room.right(), y), &Pen::line(palette::INK, 2.0));
}

/// What stands last on every sheet: `page` of so many.
pub(crate) fn foot(
    sheet: &mut Sheet,
    room: Frame,
    provenance: &Provenance,
    (page, pages): (usize, usize),
    about: &str,
) {
    let text = format!("Page {page} of {pages}, {about}. {}.", provenance.made_from_plan());
    sheet.text_within((room.left, room.bottom()), &text, &Lettering::new(17.0), room.width);
}
