//! What a site loses against the first of its ranking: why it is not the first.

use serde::Serialize;

use perchline_power::mast::RefusedMast;
use perchline_units::{Db, Metres};

use super::rank::margin_or_least;
use super::{PostScore, SiteScore};

/// Less than this is nobody's reason: margins are told to a tenth of a decibel (ours).
const LEAST_MARGIN: f64 = 0.05;

/// Less than this of a route is nobody's reason (ours: half of what one sample
/// stands for).
const LEAST_ROUTE: f64 = 12.5;

/// What a site loses against the first of its ranking.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Loss {
    /// The site.
    pub site: String,
    /// Whether the plan lets it be used.
    pub available: bool,
    /// Why its planned mast must not go up, where a power line is too near.
    pub refused_mast: Option<RefusedMast>,
    /// Must-have posts that the first serves and it does not.
    pub must_posts: Vec<String>,
    /// Posts that change.
    pub posts: PostsLost,
    /// By how much more of all routes is to be expected without contact; negative
    /// where it is less, nothing where it is as much.
    pub route_m: Option<Metres>,
    /// The post at which it has the least margin against the first; nothing where it
    /// is behind at none.
    pub margin: Option<MarginLoss>,
    /// By how much its weighted coverage is less.
    pub weighted_probability: f64,
}

/// Posts that one site serves and the other does not, of those that count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PostsLost {
    /// Those that the first serves and it does not, must-have ones among them.
    pub lost: Vec<String>,
    /// Those that it serves and the first does not.
    pub gained: Vec<String>,
}

/// A post at which a site is behind.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarginLoss {
    /// The post.
    pub post: String,
    /// By how much; nothing where one of the two margins is not known.
    pub behind_db: Option<Db>,
}

/// What each site but the first loses against it, in the order of `sites`; of
/// `routes` which count.
pub(super) fn losses(sites: &[SiteScore], routes: &[bool]) -> Vec<Loss> {
    let Some((first, others)) = sites.split_first() else { return Vec::new() };
    others.iter().map(|site| loss(first, site, routes)).collect()
}

fn loss(first: &SiteScore, site: &SiteScore, routes: &[bool]) -> Loss {
    let posts: Vec<(&PostScore, &PostScore)> =
        first.posts.iter().zip(&site.posts).filter(|(of_first, _)| of_first.counts).collect();
    let only = |of: &dyn Fn(&PostScore, &PostScore) -> bool| -> Vec<String> {
        posts.iter().filter(|(a, b)| of(a, b)).map(|(a, _)| a.post.clone()).collect()
    };
    let works = |post: &PostScore| post.outcome.works();
    let without = |site: &SiteScore| -> f64 {
        let counted = site.routes.iter().zip(routes).filter(|(_, counts)| **counts);
        counted.map(|(route, _)| route.expected_without_contact_m.value()).sum()
    };
    let route = without(site) - without(first);
    let behind = |(a, b): &(&PostScore, &PostScore)| margin_or_least(a) - margin_or_least(b);
    let worst = posts
        .iter()
        .filter(|pair| behind(pair) >= LEAST_MARGIN)
        .max_by(|a, b| behind(a).total_cmp(&behind(b)));
    Loss {
        site: site.site.clone(),
        available: site.available,
        refused_mast: site.refused_mast,
        must_posts: only(&|a, b| a.must && works(a) && !works(b)),
        posts: PostsLost {
            lost: only(&|a, b| works(a) && !works(b)),
            gained: only(&|a, b| !works(a) && works(b)),
        },
        route_m: (route.abs() >= LEAST_ROUTE).then(|| Metres::new(route)),
        margin: worst.map(|pair| MarginLoss {
            post: pair.0.post.clone(),
            behind_db: Some(behind(pair)).filter(|db| db.is_finite()).map(Db::new),
        }),
        weighted_probability: first.weighted_probability - site.weighted_probability,
    }
}
