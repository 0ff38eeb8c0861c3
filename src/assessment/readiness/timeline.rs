//! From the first station on to the last radio down.

use jiff::ZonedDateTime;
use serde::Serialize;

use super::Standing;
use crate::Assessment;

/// When what runs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Timeline {
    /// When the first of it begins.
    pub from: ZonedDateTime,
    /// When the last of it ends.
    pub to: ZonedDateTime,
    /// The event, each station, each roof with hours.
    pub bars: Vec<Bar>,
}

/// Something that begins and ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bar {
    /// What it is of.
    pub name: String,
    /// What it stands for.
    pub kind: BarKind,
    /// When it begins.
    pub from: ZonedDateTime,
    /// When it is to end.
    pub to: ZonedDateTime,
    /// Until when a station runs in the poor case; nothing if to the end, or for
    /// another kind.
    pub poor_until: Option<ZonedDateTime>,
    /// Until when a station runs as expected; nothing as above.
    pub expected_until: Option<ZonedDateTime>,
    /// By when packs are changed so that it runs to the end in the poor case.
    pub changes: Vec<ZonedDateTime>,
    /// Share of the charge left at the end of the poor case, 0 to 1; nothing for
    /// another kind.
    pub left_in_poor_case: Option<f64>,
}

/// What a bar stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum BarKind {
    /// The event, from start to end.
    Event,
    /// A station, from on to off.
    Station,
    /// The hours in which a roof can be reached.
    Roof,
}

impl Timeline {
    pub(super) fn of(assessment: &Assessment, places: &[Standing]) -> Self {
        let event = &assessment.plan.event;
        let plain = |name: &str, kind, from: &ZonedDateTime, to: &ZonedDateTime| Bar {
            name: name.to_owned(),
            kind,
            from: from.clone(),
            to: to.clone(),
            poor_until: None,
            expected_until: None,
            changes: Vec::new(),
            left_in_poor_case: None,
        };
        let mut bars = vec![plain("Event", BarKind::Event, &event.starts, &event.ends)];
        let mut budgets: Vec<_> = assessment.energy().stations.iter().collect();
        budgets.sort_by(|a, b| a.on.cmp(&b.on));
        bars.extend(budgets.into_iter().map(|budget| Bar {
            poor_until: budget.poor.dies_at.clone().filter(|_| !budget.poor.lasts()),
            expected_until: budget.expected.dies_at.clone().filter(|_| !budget.expected.lasts()),
            changes: budget.planned_changes().to_vec(),
            left_in_poor_case: Some(budget.poor.left_at_end),
            ..plain(&budget.station, BarKind::Station, &budget.on, &budget.off)
        }));
        let (event_from, event_to) = assessment.plan.day();
        let mut named: Vec<&str> = Vec::new();
        for place in places {
            let site = assessment.plan.sites.iter().find(|site| site.name == place.site);
            let hours = site.filter(|s| s.open_from.is_some() || s.open_until.is_some());
            let Some(site) = hours.filter(|site| !named.contains(&site.name.as_str())) else {
                continue;
            };
            named.push(&site.name);
            let from = site.open_from.as_ref().unwrap_or(&event_from);
            let to = site.open_until.as_ref().unwrap_or(&event_to);
            bars.push(plain(&site.name, BarKind::Roof, from, to));
        }
        Self { from: event_from, to: event_to, bars }
    }
}
