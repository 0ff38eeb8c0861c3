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

/// All reports of one place, channel and direction.
#[derive(Debug, Clone, Serialize)]
pub struct Group {
    /// The post, or "away from posts"; from radio to radio both ends, who speaks first.
    pub place: String,
    /// Whether it is from radio to radio.
    #[serde(skip)]
    pub to_radio: bool,
    /// The channel.
    pub channel: String,
    /// The direction; from radio to radio always talk-in.
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
    /// Reports that nothing explains.
    pub outliers: usize,
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
    let mut known: HashMap<(&str, Option<&str>, &str, bool), usize> = HashMap::new();
    for one in compared {
        let talk_out = one.direction == Direction::TalkOut;
        let key = match &one.to {
            // There and back are two links of two radios.
            Some(to) if talk_out => (&**to, Some(&*one.place), &*one.channel, false),
            to => (&*one.place, to.as_deref(), &*one.channel, talk_out),
        };
        let index = *known.entry(key).or_insert_with(|| {
            groups.push(Group {
                place: one.link(),
                to_radio: one.to.is_some(),
                channel: one.channel.to_string(),
                direction: if one.to.is_some() { Direction::TalkIn } else { one.direction },
                reports: 0,
                answered: 0,
                heard: 0,
                predicted: 0.0,
                excess_db: None,
                outliers: 0,
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
        group.outliers += usize::from(one.outlier);
        group.worse += usize::from(one.agreement == Agreement::Worse);
        group.better += usize::from(one.agreement == Agreement::Better);
        // An outlier is named by itself: what may explain others does not explain it.
        for reason in one.because.iter().filter(|_| !one.outlier) {
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
    let post = |name: &str| {
        let first = name.split(" to ").next().unwrap_or(name);
        posts.get(name).or_else(|| posts.get(first)).copied().unwrap_or(usize::MAX)
    };
    let talk_out = |group: &Group| group.direction == Direction::TalkOut;
    groups.sort_by_cached_key(|g| (post(&g.place), g.channel.clone(), talk_out(g)));
    groups
}

/// Bias and spread of all levels but outliers; nothing with fewer than two.
#[must_use]
pub fn levels(compared: &[Compared]) -> Option<BiasAndSpread> {
    let sound = |c: &&Compared| !c.evidence.dead && !c.outlier;
    let excesses: Vec<Db> = compared.iter().filter(sound).filter_map(|c| c.excess_db).collect();
    bias_and_spread(&excesses).ok()
}

/// How many reports agree in each direction: as predicted, better, worse, open.
#[must_use]
pub fn agreement(compared: &[Compared]) -> [(Agreement, usize); 4] {
    [Agreement::AsPredicted, Agreement::Better, Agreement::Worse, Agreement::Open]
        .map(|kind| (kind, compared.iter().filter(|c| c.agreement == kind).count()))
}

/// How a channel from radio to radio was used.
#[derive(Debug, Clone, Serialize)]
pub struct FallbackUse {
    /// The channel.
    pub channel: String,
    /// Reports on it.
    pub reports: usize,
    /// Those that answer their question.
    pub answered: usize,
    /// Those of them that say yes.
    pub heard: usize,
    /// Mean predicted probability of that, 0 to 1; nothing without answers.
    pub predicted: Option<f64>,
}

/// The plan's channels from radio to radio, those without a report too: what nobody
/// tried is not known.
#[must_use]
pub fn fallback_use(compared: &[Compared], plan: &Plan) -> Vec<FallbackUse> {
    let simplex = plan.channels.iter().filter(|channel| !channel.has_station());
    simplex
        .map(|channel| {
            let own: Vec<&Compared> =
                compared.iter().filter(|c| *c.channel == channel.name).collect();
            let answered: Vec<&&Compared> = own.iter().filter(|c| c.heard.is_some()).collect();
            let sum: f64 = answered.iter().map(|c| c.predicted_heard).sum();
            FallbackUse {
                channel: channel.name.clone(),
                reports: own.len(),
                answered: answered.len(),
                heard: answered.iter().filter(|c| c.heard == Some(true)).count(),
                predicted: (!answered.is_empty()).then(|| sum / answered.len() as f64),
            }
        })
        .collect()
}
