//! From drawn sheets to a PDF that can be read out: each part of a sheet has its place in
//! the document's structure (ISO 32000-1:2008, section 14.8).

use std::num::NonZeroU16;

use jiff::Timestamp;
use jiff::tz::TimeZone;
use krilla::geom::Size;
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ContentTag, Identifier, ListNumbering, TableHeaderScope, Tag, TagGroup, TagTree,
};
use krilla::{Document, SerializeSettings};
use krilla_svg::{SurfaceExt, SvgSettings};

use crate::svg_page::{ReadableSheet, Role, tree};
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

/// The language in which everything is said.
const LANGUAGE: &str = "en";

/// The sheets as pages; letters stay letters, their fonts are inside. The same
/// sheets of the same time give the same bytes.
pub(crate) fn pdf(
    sheets: &[ReadableSheet],
    paper: Paper,
    about: About,
    provenance: &Provenance,
) -> Result<Vec<u8>, ReportError> {
    let (width, height) = paper.millimetres();
    // Some hundred points.
    let points = |millimetres: f64| (millimetres * POINTS_A_MILLIMETRE) as f32;
    let size = Size::from_wh(points(width), points(height))
        .ok_or_else(|| refused("paper without a size"))?;
    let settings = SerializeSettings { enable_tagging: true, ..SerializeSettings::default() };
    let mut document = Document::new_with(settings);
    let mut structure = TagTree::new().with_lang(Some(LANGUAGE.to_owned()));
    for sheet in sheets {
        let mut page = document.start_page_with(PageSettings::new(size));
        let mut surface = page.surface();
        let drawn = draw(&mut surface, sheet, size)?;
        surface.finish();
        page.finish();
        structure.push(section(&sheet.roles, drawn));
    }
    document.set_tag_tree(structure);
    document.set_metadata(metadata(about, provenance));
    document.finish().map_err(|e| refused(&format!("{e:?}")))
}

fn refused(what: &str) -> ReportError {
    ReportError::Pdf { reason: what.to_owned() }
}

/// Draws the runs of a sheet; returns what was drawn of each of its parts.
fn draw(
    surface: &mut Surface<'_>,
    sheet: &ReadableSheet,
    size: Size,
) -> Result<Vec<Vec<Identifier>>, ReportError> {
    let mut drawn = vec![Vec::new(); sheet.roles.len()];
    for (of, run) in &sheet.runs {
        let tree = tree(run)?;
        let own = of.and_then(|of| drawn.get_mut(of));
        let tag = match own {
            Some(_) => ContentTag::Other,
            None => ContentTag::Artifact(Artifact::default()),
        };
        let identifier = surface.start_tagged(tag);
        let done = surface.draw_svg(&tree, size, SvgSettings::default());
        surface.end_tagged();
        done.ok_or_else(|| refused("a sheet that could not be drawn"))?;
        if let Some(own) = own {
            own.push(identifier);
        }
    }
    Ok(drawn)
}

/// The parts of a sheet as a section: entries that follow each other in a list, rows in
/// a table. A part of which nothing was drawn is left out.
fn section(roles: &[Role], drawn: Vec<Vec<Identifier>>) -> TagGroup {
    let mut section = Within { group: TagGroup::new(Tag::Section), open: None };
    for (role, drawn) in roles.iter().zip(drawn) {
        if drawn.is_empty() {
            continue;
        }
        match role {
            Role::Heading(level) => {
                let level = NonZeroU16::new(u16::from(*level)).unwrap_or(NonZeroU16::MIN);
                section.push(holding(TagGroup::new(Tag::Hn(level, None)), drawn));
            }
            Role::Paragraph => section.push(holding(TagGroup::new(Tag::P), drawn)),
            Role::Figure(shows) => {
                let figure = TagGroup::new(Tag::Figure(Some(shows.clone())));
                section.push(holding(figure, drawn));
            }
            Role::Entry => section.entry(holding(TagGroup::new(Tag::LBody), drawn)),
            Role::RowHead => {
                let head = TagGroup::new(Tag::TH(TableHeaderScope::Row));
                section.row(holding(head, drawn));
            }
            Role::Cell => section.cell(holding(TagGroup::new(Tag::TD), drawn)),
        }
    }
    section.close();
    section.group
}

/// A group with these leaves.
fn holding(mut group: TagGroup, drawn: Vec<Identifier>) -> TagGroup {
    for identifier in drawn {
        group.push(identifier);
    }
    group
}

/// A section with the list or table at its end that may still grow.
struct Within {
    group: TagGroup,
    open: Option<Open>,
}

enum Open {
    List(TagGroup),
    /// The table and its last row.
    Table(TagGroup, TagGroup),
}

impl Within {
    fn close(&mut self) {
        match self.open.take() {
            Some(Open::List(list)) => self.group.push(list),
            Some(Open::Table(mut table, row)) => {
                table.push(row);
                self.group.push(table);
            }
            None => {}
        }
    }

    fn push(&mut self, group: TagGroup) {
        self.close();
        self.group.push(group);
    }

    fn entry(&mut self, body: TagGroup) {
        if !matches!(self.open, Some(Open::List(_))) {
            self.close();
            self.open = Some(Open::List(TagGroup::new(Tag::L(ListNumbering::None))));
        }
        if let Some(Open::List(list)) = &mut self.open {
            let mut entry = TagGroup::new(Tag::LI);
            entry.push(body);
            list.push(entry);
        }
    }

    fn row(&mut self, head: TagGroup) {
        let mut row = TagGroup::new(Tag::TR);
        row.push(head);
        if let Some(Open::Table(table, last)) = &mut self.open {
            table.push(std::mem::replace(last, row));
        } else {
            self.close();
            self.open = Some(Open::Table(TagGroup::new(Tag::Table), row));
        }
    }

    /// A cell of the last row; one that no row was begun for is text.
    fn cell(&mut self, cell: TagGroup) {
        match &mut self.open {
            Some(Open::Table(_, row)) => row.push(cell),
            _ => self.push(cell),
        }
    }
}

fn metadata(about: About, provenance: &Provenance) -> Metadata {
    let program = format!("{} {}", provenance.program, provenance.version);
    let metadata = Metadata::new()
        .title(about.title)
        .description(about.description)
        .language(LANGUAGE.to_owned())
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
