//! The document as one file of HTML that loads nothing and runs nothing.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::brief::page::policy::policy;
use crate::brief::picture::data_url;
use crate::brief::{Entry, Section};
use crate::outputs::{OutboxSlot, OutputError};

use super::changes::Change;
use super::map::{MapPicture, NOTE};
use super::{DebriefContent, DebriefDocument};

/// How it looks, on a screen and on paper.
const STYLE: &str = include_str!("page.css");

/// Writes the page.
pub(crate) fn write_page(
    content: &DebriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(page(content.document, content.pictures).as_bytes())
}

fn page(document: &DebriefDocument, pictures: &[MapPicture]) -> String {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy("", STYLE));
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="referrer" content="no-referrer";
                title { (document.event) ": debrief" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (document.event) ": debrief" }
                    p {
                        (document.date)
                        @if let Some(agency) = &document.agency { " · " (agency) }
                    }
                    p class="headline" { (document.headline) }
                    @if let Some(missing) = document.missing { p { strong { (missing) } } }
                }
                main {
                    @if !document.changes.is_empty() {
                        section class="changes" {
                            h2 { "Changes for the next plan" }
                            ol { @for change in &document.changes { (change_line(change)) } }
                        }
                    }
                    section class="maps" {
                        h2 { "What was heard where" }
                        @for picture in pictures { (map(picture)) }
                        @if pictures.is_empty() { p { (NO_MAP) } } @else { p class="note" { (NOTE) } }
                    }
                    div class="columns" {
                        @for part in &document.sections { (section(part)) }
                    }
                    section class="made" {
                        p { strong { (document.caveats.join(" ")) } }
                        @for line in &document.made { p { (line) } }
                    }
                }
            }
        }
    };
    markup.into_string()
}

/// What stands in place of a map.
pub(super) const NO_MAP: &str =
    "No map: every report is from radio to radio, and a map is of a station.";

fn map(picture: &MapPicture) -> Markup {
    let of =
        format!("Channel {} from {}, {} reports", picture.channel, picture.site, picture.reports);
    html! {
        figure {
            img alt={ "Map. " (of) "; the lists below say the same" } width="2480" height="1754"
                src=(data_url("image/png", picture.png()));
            figcaption { (of) }
        }
    }
}

fn change_line(change: &Change) -> Markup {
    html! {
        li {
            p { (change.why) @if change.lines.is_empty() { "." } @else { ":" } }
            @if !change.lines.is_empty() { pre { (change.text()) } }
        }
    }
}

fn section(part: &Section) -> Markup {
    html! {
        section {
            h2 { (part.title) }
            dl { @for entry in &part.entries { (line(entry)) } }
        }
    }
}

fn line(entry: &Entry) -> Markup {
    html! {
        div {
            @if !entry.head.is_empty() { dt { (entry.head) ": " } }
            dd { (entry.body) }
        }
    }
}
