//! Routes as somebody moves along them: the ground under them, the posts that they pass
//! at their distance from the start, and how fast the slowest on them are.

use perchline_plan::Plan;
use perchline_terrain::Terrain;
use perchline_units::{Metres, MetresPerSecond, Seconds};

use super::Stretch;
use super::demand::{Demand, PASSES, Sample};

/// A route on its ground.
#[derive(Debug, Clone, PartialEq)]
pub struct RouteCourse {
    /// Its name.
    pub route: String,
    /// Its length on the ground.
    pub length_m: Metres,
    /// Height of the ground above sea level at the middle of each of its pieces, by
    /// distance from its first point; nothing where no height is known.
    pub ground: Vec<(Metres, Option<Metres>)>,
    /// The posts that it passes, in its order; one that it passes twice is there twice.
    pub posts: Vec<PassedPost>,
    /// The slowest of the plan's trackers on it, if there is one.
    pub slowest: Option<Paced>,
    /// The fastest of them.
    pub fastest: Option<Paced>,
}

/// Where a route passes a post within [`PASSES`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassedPost {
    /// Its place in the plan.
    pub post: usize,
    /// Where it is nearest to the route, along the route from its first point.
    pub along_m: Metres,
}

/// Somebody on a route whose pace the plan tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Paced {
    /// The tracker's name.
    pub tracker: String,
    /// Its speed.
    pub speed: MetresPerSecond,
}

impl Paced {
    /// How far along a route they are after this time.
    #[must_use]
    pub fn along(&self, after: Seconds) -> Metres {
        Metres::new(self.speed.value() * after.value())
    }

    /// How long they are in a stretch.
    #[must_use]
    pub fn takes(&self, stretch: Stretch) -> Seconds {
        Seconds::new(stretch.length().value() / self.speed.value())
    }
}

impl RouteCourse {
    /// Every route of a plan, in the plan's order.
    #[must_use]
    pub fn all(plan: &Plan, terrain: &Terrain, demand: &Demand) -> Vec<Self> {
        let routes = plan.routes.iter().enumerate();
        routes
            .map(|(place, route)| {
                let pieces: Vec<(Metres, &Sample)> = middles(demand.route(place)).collect();
                let ground = |sample: &Sample| terrain.ground(sample.at).ok();
                Self {
                    route: route.name.clone(),
                    length_m: Metres::new(demand.route(place).iter().map(|s| s.weight).sum()),
                    ground: pieces.iter().map(|(along, s)| (*along, ground(s))).collect(),
                    posts: passed(plan, &pieces),
                    slowest: paced(plan, place, |speed, other| speed < other),
                    fastest: paced(plan, place, |speed, other| speed > other),
                }
            })
            .collect()
    }
}

/// The pieces of a route with the distance of their middles from its first point.
fn middles(samples: &[Sample]) -> impl Iterator<Item = (Metres, &Sample)> {
    let mut before = 0.0;
    samples.iter().map(move |sample| {
        let middle = before + sample.weight / 2.0;
        before += sample.weight;
        (Metres::new(middle), sample)
    })
}

/// The first tracker on a route whose speed comes before every other's.
fn paced(plan: &Plan, place: usize, before: fn(f64, f64) -> bool) -> Option<Paced> {
    let on_it = plan.trackers.iter().filter(|tracker| tracker.route == place);
    let first = on_it.reduce(|first, other| {
        if before(other.speed.value(), first.speed.value()) { other } else { first }
    })?;
    Some(Paced { tracker: first.name.clone(), speed: first.speed })
}

/// Where each post is passed: the nearest piece of every run of pieces within reach.
fn passed(plan: &Plan, pieces: &[(Metres, &Sample)]) -> Vec<PassedPost> {
    let mut found = Vec::new();
    for (post, stands) in plan.posts.iter().enumerate() {
        // Far-off pieces need no geodesic; twice as far, so that rounding leaves none out.
        let (_, reach) = stands.at.degrees_within(PASSES * 2.0);
        let is_near = |sample: &Sample| {
            (sample.at.latitude() - stands.at.latitude()).value().abs() <= reach.value()
        };
        let mut nearest: Option<(Metres, Metres)> = None;
        for (along, sample) in pieces {
            let away = Some(*sample)
                .filter(|sample| is_near(sample))
                .map(|sample| sample.at.distance(stands.at))
                .filter(|away| *away <= PASSES);
            match away {
                Some(away) if nearest.is_none_or(|(least, _)| away < least) => {
                    nearest = Some((away, *along));
                }
                Some(_) => {}
                None => {
                    found.extend(nearest.take().map(|(_, along_m)| PassedPost { post, along_m }))
                }
            }
        }
        found.extend(nearest.map(|(_, along_m)| PassedPost { post, along_m }));
    }
    found.sort_by(|a, b| a.along_m.value().total_cmp(&b.along_m.value()).then(a.post.cmp(&b.post)));
    found
}
