//! What the tints and marks mean.

use maud::{Markup, html};

use crate::ReportError;
use crate::basemap::swatch;
use crate::layers::{Packing, png};
use perchline_link::Outcome;

use super::super::Brief;
use super::super::picture::Pictures;
use super::{data_url, shown};

/// The legend, of the classes that occur.
pub(super) fn legend(brief: &Brief, pictures: &Pictures) -> Result<Markup, ReportError> {
    let mut rows = Vec::new();
    for outcome in Outcome::ALL {
        let occurs = pictures.classes_there.contains(&outcome)
            || brief.posts.iter().any(|post| post.outcome == outcome);
        if occurs {
            let patch = png(&swatch(outcome, 48, 32), Packing::Small)?;
            rows.push((data_url(&patch), pictures.mark(outcome), shown(outcome)));
        }
    }
    Ok(html! {
        ul class="legend" aria-label="What the map shows" {
            @for (patch, mark, meaning) in &rows {
                li {
                    img class="patch" alt="" src=(patch);
                    @if let Some(mark) = mark { img class="mark" alt="" src=(mark); }
                    span { (meaning) }
                }
            }
            li {
                img class="mark" alt="" src=(pictures.site_mark);
                span { "The relay" }
            }
            // The map that moves tells of its lines where they are touched.
            @for (mark, meaning) in &pictures.explained {
                li class="of-picture" {
                    img class="mark" alt="" src=(mark);
                    span { (meaning) }
                }
            }
        }
        p class="note" {
            "Tint: a radio carried as usual, in the open. Mark: the post itself. "
            "It is a prediction: a place counts as working from "
            (pictures.wanted) " of 100 spots on."
        }
    })
}
