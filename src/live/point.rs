//! The path from the station to a point on the board.

use perchline_assessment::Assessment;
use perchline_link::{LinkModel, PathStudy, Terminal, study};
use perchline_siting::station_on;
use perchline_units::Position;

use super::desk::Look;

/// Where a path ends.
#[derive(Debug, Clone, PartialEq)]
pub enum End {
    /// At a post.
    Post(String),
    /// At a carried radio anywhere.
    Here(Position),
}

/// The link from the station that is looked at to `end`.
///
/// # Errors
/// A sentence: what is missing, or why the path has no profile.
pub fn path_to(opened: &Assessment, look: &Look, end: &End) -> Result<PathStudy, String> {
    let Assessment { plan, terrain, propagator, .. } = opened;
    let channel = plan.channels.iter().find(|c| c.name == look.channel);
    let site = plan.sites.iter().find(|s| s.name == look.site);
    let (Some(channel), Some(site)) = (channel, site) else {
        return Err("the plan has no such site or channel any more".to_owned());
    };
    let text = |e: &dyn std::fmt::Display| e.to_string();
    let station = station_on(plan, channel, site, terrain).map_err(|e| text(&e))?;
    let carried = match end {
        End::Post(name) => {
            let post = plan.posts.iter().find(|p| p.name == *name);
            let post = post.ok_or_else(|| format!("the plan has no post \"{name}\" any more"))?;
            Terminal::at_post(plan, channel, post, terrain).map_err(|e| text(&e))?
        }
        End::Here(at) => {
            Terminal::standing(plan, channel, "This spot", *at, terrain).map_err(|e| text(&e))?
        }
    };
    let model = LinkModel::new(plan, channel, &station, &carried);
    study(terrain, propagator, &model, channel).map_err(|e| text(&e))
}
