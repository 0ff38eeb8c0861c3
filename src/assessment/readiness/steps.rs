//! What to do next, in the order of what it gains.

use std::cmp::Reverse;

use serde::Serialize;

use super::{Finding, Fix, Gravity, Matter, Thinnest, Unknown};

/// Something to do.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// What.
    pub act: Fix,
    /// How many conditions of the verdict it meets.
    pub conditions: usize,
    /// Posts that then work.
    pub posts: usize,
    /// Whether it settles something that could turn the verdict.
    pub settles: bool,
}

/// Every fix once, then what settles the unknowns. What meets more conditions
/// comes first; of those alike what settles an unknown that could turn the
/// verdict, then what serves more posts, then what was found first.
pub(super) fn steps(
    findings: &[Finding],
    unknowns: &[Unknown],
    thinnest: Option<&Thinnest>,
) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let fixes = findings.iter().filter_map(|finding| Some((finding, finding.fix.as_ref()?)));
    for (finding, fix) in fixes {
        let step = Step {
            act: fix.clone(),
            conditions: usize::from(finding.gravity == Gravity::Condition),
            posts: usize::from(matches!(finding.matter, Matter::Post { .. })),
            settles: false,
        };
        add(&mut steps, step);
    }
    for unknown in unknowns {
        let Some(act) = unknown.settled_by.clone() else { continue };
        // Without a post that works there is nothing to try.
        if matches!(act, Fix::Rehearse { .. }) && thinnest.is_none() {
            continue;
        }
        add(&mut steps, Step { act, conditions: 0, posts: 0, settles: unknown.could_turn });
    }
    steps
        .sort_by_key(|step| (Reverse(step.conditions), Reverse(step.settles), Reverse(step.posts)));
    steps
}

/// Adds a step, or counts it with the one that does the same.
fn add(steps: &mut Vec<Step>, step: Step) {
    let Some(known) = steps.iter_mut().find(|known| known.act.covers(&step.act)) else {
        steps.push(step);
        return;
    };
    known.act = known.act.clone().and(step.act);
    known.conditions += step.conditions;
    known.posts += step.posts;
    known.settles |= step.settles;
}

impl Fix {
    /// Whether both are one thing to do.
    fn covers(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::MoreMast { site: one, .. }, Self::MoreMast { site: other, .. }) => one == other,
            (
                Self::MeasureDuplexer { channel: one, .. },
                Self::MeasureDuplexer { channel: other, .. },
            ) => one == other,
            (Self::HoldAtHead { .. }, Self::HoldAtHead { .. }) => true,
            _ => self == other,
        }
    }

    /// Both together, where they are one thing to do.
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::MoreMast { site, extra_m }, Self::MoreMast { extra_m: more, .. }) => {
                Self::MoreMast { site, extra_m: extra_m.max(more) }
            }
            (
                Self::MeasureDuplexer { channel, least_db },
                Self::MeasureDuplexer { least_db: other, .. },
            ) => Self::MeasureDuplexer { channel, least_db: least_db.or(other) },
            (Self::HoldAtHead { mut posts }, Self::HoldAtHead { posts: more }) => {
                posts.extend(more);
                Self::HoldAtHead { posts }
            }
            (one, _) => one,
        }
    }
}
