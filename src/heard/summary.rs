//! Reports together: post by post, and all of them.

use std::collections::HashMap;

use serde::Serialize;

use super::compare::{Agreement, Compared};
use super::estimate::{BiasAndSpread, bias_and_spread};
use perchline_link::Direction;
use perchline_plan::Plan;
use perchline_units::Db;

/// Reasons that a group tells at most.
const MOST_REASONS: usize = 4;

/// All reports of one place, channel and way.
#[derive(Debug, Clone, Serialize)]
pub struct Group {
    /// The post, or "away from posts".
    pub place: String,
    /// The channel.
    pub channel: String,
    /// The way.
    pub direction: Direction,
    /// Reports.
    pub reports: usize,
    /// Reports that answer their question: heard, or good enough.
    pub answered: usize,
    /// Those of them that say yes.
    pub heard: usize,
    /// Mean predicted probability of that, 0 to 1.
    pub predicted: f64,
    /// Mean of measured less predicted levels, where levels were reported.
    pub excess_db: Option<Db>,
    /// Reports that came out worse than predicted.
    pub worse: usize,
    /// Reports that came out better.
    pub better: usize,
    /// What may explain the worse ones.
    pub because: Vec<String>,
}

/// Groups in the order of the plan's posts, what is away from posts last.
#[must_use]
pub fn groups(compared: &[Compared], plan: &Plan) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut levels: Vec<Vec<f64>> = Vec::new();
    let mut known: HashMap<(&str, &str, bool), usize> = HashMap::new();
    for one in compared {
        let key = (&*one.place, &*one.channel, one.direction == Direction::TalkOut);
        let index = *known.entry(key).or_insert_with(|| {
            groups.push(Group {
                place: one.place.to_string(),
                channel: one.channel.to_string(),
                direction: one.direction,
                reports: 0,
                answered: 0,
                heard: 0,
                predicted: 0.0,
                excess_db: None,
                worse: 0,
                better: 0,
                because: Vec::new(),
            });
            levels.push(Vec::new());
            groups.len() - 1
        });
        if let Some(own) = levels.get_mut(index) {
            own.extend(one.excess_db.map(Db::value));
        }
        let Some(group) = groups.get_mut(index) else { continue };
        group.reports += 1;
        if let Some(heard) = one.heard {
            group.answered += 1;
            group.heard += usize::from(heard);
            group.predicted += one.predicted_heard;
        }
        group.worse += usize::from(one.agreement == Agreement::Worse);
        group.better += usize::from(one.agreement == Agreement::Better);
        for reason in &*one.because {
            if group.because.len() < MOST_REASONS && !group.because.contains(reason) {
                group.because.push(reason.clone());
            }
        }
    }
    for (group, levels) in groups.iter_mut().zip(levels) {
        group.predicted /= group.answered.max(1) as f64;
        if !levels.is_empty() {
            let mean = levels.iter().sum::<f64>() / levels.len() as f64;
            group.excess_db = Some(Db::new(mean));
        }
    }
    let posts: HashMap<&str, usize> =
        plan.posts.iter().enumerate().map(|(index, post)| (post.name.as_str(), index)).collect();
    let post = |name: &str| posts.get(name).copied().unwrap_or(usize::MAX);
    let talk_out = |group: &Group| group.direction == Direction::TalkOut;
    groups.sort_by_cached_key(|g| (post(&g.place), g.channel.clone(), talk_out(g)));
    groups
}

/// Bias and spread of all levels; nothing with fewer than two.
#[must_use]
pub fn levels(compared: &[Compared]) -> Option<BiasAndSpread> {
    let excesses: Vec<Db> =
        compared.iter().filter(|c| !c.evidence.dead).filter_map(|c| c.excess_db).collect();
    bias_and_spread(&excesses).ok()
}

/// How many reports agree in each way: as predicted, better, worse, open.
#[must_use]
pub fn agreement(compared: &[Compared]) -> [(Agreement, usize); 4] {
    [Agreement::AsPredicted, Agreement::Better, Agreement::Worse, Agreement::Open]
        .map(|kind| (kind, compared.iter().filter(|c| c.agreement == kind).count()))
}
