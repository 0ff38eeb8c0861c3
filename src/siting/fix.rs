//! What would make a failing post work.

use serde::{Deserialize, Serialize};

use perchline_link::{LinkModel, PathStudy, Propagator};
use perchline_units::{Db, Metres};

/// Ways to make a failing post work from a site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Remedy {
    /// What both directions lack for the wanted share of spots to work both
    /// ways; where one is much the weaker, what that one lacks.
    pub missing_db: Db,
    /// Extra mast that closes the gap, if any height up to [`Remedy::HIGHEST_MAST`] does
    /// and the site's power line allows it.
    pub extra_mast_m: Option<Metres>,
    /// Extra mast that would close the gap and is refused: at that height it could
    /// reach the power line that the plan states for the site.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refused_by_line_m: Option<Metres>,
    /// Usable sites from which the post works as it is, best first;
    /// [`Remedy::MOST_SITES`] of them at most.
    pub other_sites: Vec<String>,
    /// How many more of them there are.
    #[serde(default, skip_serializing_if = "is_none")]
    pub more_other_sites: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes fields so")]
const fn is_none(count: &usize) -> bool {
    *count == 0
}

impl Remedy {
    /// The greatest extra mast that is tried.
    pub const HIGHEST_MAST: Metres = Metres::new(15.0);

    /// Other sites that are named: nobody weighs more of them against each other.
    pub const MOST_SITES: usize = 10;

    /// Heights are tried in steps of this: finer than a mast is set up.
    const STEP: Metres = Metres::new(0.5);

    /// Names one more site from which the post works, or counts it.
    pub(super) fn also(&mut self, site: &str) {
        if self.other_sites.len() < Self::MOST_SITES {
            self.other_sites.push(site.to_owned());
        } else {
            self.more_other_sites += 1;
        }
    }
}

/// The least extra mast at the station with which the link works both ways.
pub(super) fn extra_mast(
    study: &PathStudy,
    propagator: &Propagator,
    model: &LinkModel,
) -> Option<Metres> {
    let propagator = propagator.between(study.from.at, study.to.at);
    let steps = (Remedy::HIGHEST_MAST.value() / Remedy::STEP.value()) as u32;
    (1..=steps).map(|step| Remedy::STEP * f64::from(step)).find(|extra| {
        let model = model.at_station_height(study.from.antenna + *extra);
        let losses = model.losses(&propagator, &study.profile);
        model.outcome(&model.assess(&losses)).works()
    })
}
