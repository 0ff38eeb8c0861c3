//! What is not known, and whether it could turn the verdict.

use perchline_link::Propagator;
use perchline_plan::{Clutter, ClutterClass, Houses, MOST_TOWN_LOSS, Plan, Post, Remark};
use perchline_power::place::{SiteFact, SitePlace};
use perchline_siting::{RankError, RankInputs, SiteScore, score_some_posts};
use perchline_units::Db;
use serde::Serialize;

use super::{Fix, Gravity, Judged, Matter};
use crate::contradictions;

/// Something that is not known.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unknown {
    /// What it is.
    pub matter: UnknownMatter,
    /// Whether it could turn the verdict to the worse.
    pub could_turn: bool,
    /// What would settle it.
    pub settled_by: Option<Fix>,
}

/// What is not known.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum UnknownMatter {
    /// Nobody has tried it on the ground.
    NotWalked {
        /// Whether corrections of an earlier event are counted.
        calibrated: bool,
    },
    /// The plan knows no houses.
    Houses {
        /// Must-have posts that work with less in hand than houses may cost.
        must_posts: Vec<String>,
        /// What they may cost.
        cost_db: Db,
    },
    /// One class of surroundings stands for all of the plan.
    Class {
        /// Its word.
        class: &'static str,
        /// The word of the next denser one; nothing for the densest.
        denser: Option<&'static str>,
        /// Posts that work, and would not among those.
        lost: Vec<String>,
    },
    /// What the plan does not say of a site where a station stands.
    Site {
        /// The site.
        site: String,
        /// What that is.
        what: Vec<SiteFact>,
    },
    /// The relay's duplexer is not stated and counts as perfect.
    Duplexer {
        /// Each isolation that was tried, and the posts that then work.
        tried: Vec<(Db, usize)>,
        /// Posts that work with a perfect one.
        perfect_posts: usize,
    },
    /// A post behind a gap of the terrain.
    Gap {
        /// The post.
        post: String,
    },
    /// What is remarked above every result.
    Remark {
        /// What it is about.
        about: String,
        /// What it says.
        text: String,
    },
    /// The plan has no crew: whether hand-helds last the shift was not looked at.
    HandHelds,
    /// Voice channels with a relay of their own that were not judged.
    OtherChannels {
        /// Their names.
        channels: Vec<String>,
    },
}

impl Judged<'_> {
    pub(super) fn unknowns(&self, score: &SiteScore) -> Result<Vec<Unknown>, RankError> {
        let plan = &self.assessment.plan;
        let mut unknowns = vec![self.not_walked(score)];
        match plan.houses() {
            Houses::Unknown => unknowns.push(houses(score)),
            Houses::Stated => unknowns.extend(self.class(score)?),
            Houses::OnFile => {}
        }
        if !score.duplexers.is_empty() {
            unknowns.push(self.duplexers(score));
        }
        let contradictions = contradictions::zone_remark(plan)
            .into_iter()
            .chain(contradictions::cell_remark(plan, &self.assessment.terrain));
        unknowns.extend(contradictions.map(remarked));
        let gaps = score.posts.iter().filter(|post| post.probability.is_none());
        unknowns.extend(gaps.map(|post| Unknown {
            matter: UnknownMatter::Gap { post: post.post.clone() },
            could_turn: false,
            settled_by: None,
        }));
        let others: Vec<String> = plan
            .channels
            .iter()
            .filter(|channel| channel.is_relay() && channel.name != self.channel.name)
            .map(|channel| channel.name.clone())
            .collect();
        if !others.is_empty() {
            unknowns.push(Unknown {
                matter: UnknownMatter::OtherChannels { channels: others },
                could_turn: false,
                settled_by: None,
            });
        }
        // Why a budget is missing is a condition, and said there.
        unknowns.extend(self.assessment.energy().gaps.iter().cloned().map(remarked));
        if plan.power.crews.is_empty() {
            unknowns.push(Unknown {
                matter: UnknownMatter::HandHelds,
                could_turn: true,
                settled_by: Some(Fix::StateCrews),
            });
        }
        unknowns.extend(self.sites_where_stations_stand().into_iter().filter_map(site));
        Ok(unknowns)
    }

    /// What the class of surroundings decides that stands for all of the plan: which
    /// posts that work would not, were the houses of the next denser class.
    fn class(&self, score: &SiteScore) -> Result<Option<Unknown>, RankError> {
        let plan = &self.assessment.plan;
        let Some(stated) = plan.clutter() else { return Ok(None) };
        let denser = stated.class.denser();
        let at = plan.sites.iter().find(|site| site.name == score.site);
        let lost = match (denser, at) {
            (Some(class), Some(site)) => {
                let dense = among(plan, stated, class);
                let propagator = Propagator::new(&dense.prediction);
                let inputs = RankInputs { plan: &dense, propagator: &propagator, ..*self.inputs };
                let of = dense.posts.iter().zip(&score.posts);
                let works: Vec<&Post> =
                    of.filter(|(_, known)| known.outcome.works()).map(|(post, _)| post).collect();
                score_some_posts(&inputs, self.channel, site, &works)?
            }
            _ => Vec::new(),
        };
        let lost: Vec<_> = lost.into_iter().filter(|post| !post.outcome.works()).collect();
        let could_turn = lost.iter().any(|post| post.must);
        Ok(Some(Unknown {
            matter: UnknownMatter::Class {
                class: stated.class.word(),
                denser: denser.map(ClutterClass::word),
                lost: lost.into_iter().map(|post| post.post).collect(),
            },
            could_turn,
            settled_by: could_turn.then_some(Fix::NameBuildings),
        }))
    }

    fn not_walked(&self, score: &SiteScore) -> Unknown {
        let mut must: Vec<_> = score
            .posts
            .iter()
            .filter(|post| post.must && post.outcome.works())
            .filter_map(|post| Some((post.probability?, &post.post)))
            .collect();
        must.sort_by(|a, b| a.0.total_cmp(&b.0));
        let posts: Vec<String> = must.into_iter().map(|(_, post)| post.clone()).collect();
        let calibrated = self.assessment.plan.prediction.calibration.is_some();
        Unknown {
            matter: UnknownMatter::NotWalked { calibrated },
            could_turn: true,
            settled_by: (!posts.is_empty()).then_some(Fix::Rehearse { posts }),
        }
    }

    fn duplexers(&self, score: &SiteScore) -> Unknown {
        let tried = score.duplexers.iter().map(|d| (d.isolation, d.posts_covered)).collect();
        let channel = self.channel.name.clone();
        let counted = self.findings.iter().any(|finding| {
            finding.gravity == Gravity::Condition
                && matches!(finding.matter, Matter::Duplexer { .. })
        });
        Unknown {
            matter: UnknownMatter::Duplexer { tried, perfect_posts: score.posts_covered },
            // Where it costs a must-have post, the verdict says so already.
            could_turn: counted,
            settled_by: Some(Fix::MeasureDuplexer { channel, least_db: None }),
        }
    }
}

/// Something that is remarked elsewhere and leaves a verdict open.
fn remarked(remark: Remark) -> Unknown {
    Unknown {
        matter: UnknownMatter::Remark { about: remark.about, text: remark.text },
        could_turn: true,
        settled_by: None,
    }
}

/// The plan with the houses of this class where it states none of an area or a post,
/// their roofs no lower than those it states.
fn among(plan: &Plan, stated: Clutter, class: ClutterClass) -> Plan {
    let mut dense = plan.clone();
    dense.prediction.surroundings = Some(class);
    dense.prediction.roof_height =
        Some(stated.roof_height).filter(|height| *height > class.roof_height());
    dense
}

/// What the plan does not say of a site; nothing where it says all.
fn site(place: SitePlace) -> Option<Unknown> {
    let SitePlace { site, not_stated: what, .. } = place;
    let could_turn = what.iter().any(|fact| fact.may_forbid());
    let settled_by = could_turn.then(|| Fix::AskAbout { site: site.clone(), what: what.clone() });
    (!what.is_empty()).then(|| Unknown {
        matter: UnknownMatter::Site { site, what },
        could_turn,
        settled_by,
    })
}

fn houses(score: &SiteScore) -> Unknown {
    let must_posts: Vec<String> = score
        .posts
        .iter()
        .filter(|post| post.must && post.outcome.works())
        .filter(|post| post.governing_margin_db.is_none_or(|margin| margin < MOST_TOWN_LOSS))
        .map(|post| post.post.clone())
        .collect();
    Unknown {
        could_turn: !must_posts.is_empty(),
        matter: UnknownMatter::Houses { must_posts, cost_db: MOST_TOWN_LOSS },
        settled_by: Some(Fix::StateHouses),
    }
}
