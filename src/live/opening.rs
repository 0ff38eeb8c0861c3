//! The site that a page opens on, and why that one.

use std::sync::atomic::AtomicBool;

use serde::Serialize;

use perchline_assessment::Assessment;
use perchline_plan::Channel;

use super::desk::{Look, first_look};

/// Most paths from sites to posts and points of areas and routes that are looked at while
/// somebody waits for the page.
const PATHS_AT_ONCE: usize = 50_000;

/// What a page shows first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Opening {
    /// The site and the channel.
    pub look: Look,
    /// Which site that is and why, in a sentence.
    pub words: String,
}

impl Opening {
    /// The site that was asked for.
    #[must_use]
    pub fn asked(look: Look) -> Self {
        let words = format!("Opened on {}, as asked for.", look.site);
        Self { look, words }
    }

    /// The site that `rank` puts first on `channel`, or on the first channel with a
    /// station; the plan's first site where a ranking takes long or cannot be made.
    /// Nothing where the plan has no site or no such channel.
    #[must_use]
    pub fn foremost(opened: &Assessment, channel: Option<&Channel>) -> Option<Self> {
        let plan = &opened.plan;
        let first = first_look(opened)?;
        let channel = channel.or_else(|| plan.channels.iter().find(|c| c.name == first.channel))?;
        let look = |site: &str| Look { site: site.to_owned(), channel: channel.name.clone() };
        let sites = plan.sites.len();
        let instead = |why: &str| {
            let words = format!("Opened on {}, the plan's first site: {why}.", first.site);
            Self { look: look(&first.site), words }
        };
        if sites == 1 {
            let words = format!("Opened on {}, the plan's only site.", first.site);
            return Some(Self { look: look(&first.site), words });
        }
        if sites.saturating_mul(opened.demand().samples.len()) > PATHS_AT_ONCE {
            return Some(instead(&format!(
                "to rank its {sites} sites takes too long here; perchline rank does it"
            )));
        }
        let never = AtomicBool::new(false);
        let inputs = opened.rank_inputs(opened.terrain.grid(), &|| (), &never);
        Some(match opened.order(&inputs, channel) {
            Ok(order) => match order.sites.first() {
                Some(best) => {
                    let words = format!(
                        "Opened on {}: rank put it first of {sites} sites on {}.",
                        best.site, channel.name
                    );
                    Self { look: look(&best.site), words }
                }
                None => instead("no site can be ranked"),
            },
            Err(error) => instead(&format!("the sites cannot be ranked ({error})")),
        })
    }
}
