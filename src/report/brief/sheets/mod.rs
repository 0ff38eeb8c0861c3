//! The briefing on two sheets of paper: the liaison's and the crew's. They keep a
//! layout of their own, apart from that of maps and plots: their text decides where
//! columns begin and how large they are set, while a drawing has fixed places.

mod crew;
pub(crate) mod flow;
pub(crate) mod liaison;
pub(crate) mod pdf;
mod poster;
mod slips;

use crate::outputs::{OutboxSlot, OutputError};
use crate::svg_page::{Frame, Lettering, Pen, Role, Sheet};
use crate::{Provenance, palette};
use perchline_plan::UnitSystem;

use super::{Brief, BriefContent};

pub(crate) use slips::write_slips;

/// Paper to print on, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8.5 by 11 inches (ANSI A).
    Letter,
    /// 297 by 420 mm (ISO 216).
    A3,
    /// 11 by 17 inches (ANSI B).
    Tabloid,
    /// 420 by 594 mm (ISO 216), for a wall.
    A2,
    /// 18 by 24 inches (Arch C), for a wall.
    ArchC,
}

impl Paper {
    /// Width and height in millimetres.
    #[must_use]
    pub const fn millimetres(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
            Self::A3 => (297.0, 420.0),
            Self::Tabloid => (279.4, 431.8),
            Self::A2 => (420.0, 594.0),
            Self::ArchC => (457.2, 609.6),
        }
    }

    /// The paper to read in the hand where sheets have these units.
    #[must_use]
    pub const fn in_the_hand(units: UnitSystem) -> Self {
        match units {
            UnitSystem::Metric => Self::A4,
            UnitSystem::Us => Self::Letter,
        }
    }

    /// The paper for a wall where sheets have these units.
    #[must_use]
    pub const fn for_a_wall(units: UnitSystem) -> Self {
        match units {
            UnitSystem::Metric => Self::A2,
            UnitSystem::Us => Self::ArchC,
        }
    }

    /// Pixels of a sheet in a millimetre, which say how large lettering comes out: names
    /// of the map at 8 points on what is read in the hand, a sixth larger on a table, and
    /// on a wall so that capitals subtend 10 minutes of arc at 3 m, which whoever may
    /// drive a car can read (6/12 on a chart of ISO 8596).
    pub(crate) const fn pixels_a_millimetre(self) -> f64 {
        match self {
            Self::A4 | Self::Letter => 8.0,
            Self::A3 | Self::Tabloid => 6.8,
            Self::A2 | Self::ArchC => 1.83,
        }
    }
}

/// A heading is set smaller, down to this share of its size, before it is cut.
pub(crate) const SMALLEST: f64 = 0.4;

/// Free border: printers leave 4 to 6 mm blank, a hole punch needs 11.
const BORDER_MILLIMETRES: f64 = 11.0;

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

/// Writes the sheets for A3, if they are wanted.
pub(crate) fn write_a3(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write_pdf(content, Paper::A3, slot)
}

/// Writes the sheets for Tabloid, if they are wanted.
pub(crate) fn write_tabloid(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write_pdf(content, Paper::Tabloid, slot)
}

/// Writes the poster for the wall, if it is wanted.
pub(crate) fn write_poster(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, map, papers, .. } = *content;
    let paper = Paper::for_a_wall(map.plan.units);
    if !papers.contains(&paper) {
        return Ok(());
    }
    let sheet = poster::draw(brief, map, paper)?;
    let about = pdf::About {
        title: format!("{}: are we covered?", brief.event),
        description: brief.made.join(" "),
    };
    slot.bytes(&pdf::pdf(&[sheet], paper, about, map.provenance)?)
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
    let pixels = paper.pixels_a_millimetre();
    let (width, height) = (width * pixels, height * pixels);
    // Some two thousand pixels.
    let sheet = Sheet::new(width.round() as u32, height.round() as u32);
    (sheet, Frame { left: 0.0, top: 0.0, width, height }.grown(-BORDER_MILLIMETRES * pixels))
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
    sheet.begin(Role::Paragraph);
    let text = format!("Page {page} of {pages}, {about}. {}.", provenance.made_from_plan());
    sheet.text_within((room.left, room.bottom()), &text, &Lettering::new(17.0), room.width);
}
