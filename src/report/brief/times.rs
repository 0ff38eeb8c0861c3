//! When what happens, and how long the relay runs.

use jiff::ZonedDateTime;

use crate::power_tables::clock;
use perchline_assessment::{Fix, pack_fix};
use perchline_power::StationBudget;

use super::{BriefInputs, Entry};

/// The event's times and the relay's.
pub(super) fn times(inputs: &BriefInputs<'_>) -> Vec<Entry> {
    let event = &inputs.plan.event;
    let at = |moment: &ZonedDateTime| clock(moment, &event.starts);
    let mut times = vec![
        (event.starts.clone(), Entry::new("Event starts", at(&event.starts))),
        (event.ends.clone(), Entry::new("Event ends", at(&event.ends))),
    ];
    if event.tear_down > event.ends {
        times.push((
            event.tear_down.clone(),
            Entry::new("Last radio taken down", at(&event.tear_down)),
        ));
    }
    let relay = relay(inputs);
    if let Some(budget) = relay {
        times.push((budget.on.clone(), Entry::new("Relay on the air from", at(&budget.on))));
    }
    times.sort_by(|a, b| a.0.cmp(&b.0));
    let mut entries: Vec<Entry> = times.into_iter().map(|(_, entry)| entry).collect();
    entries.push(Entry::new(
        "Relay on the air until",
        relay.map_or_else(
            || "not known: the plan says nothing of its batteries".to_owned(),
            |budget| until(budget, &at),
        ),
    ));
    entries
}

/// The budget of the station on the briefing's channel.
pub(super) fn relay<'a>(inputs: &BriefInputs<'a>) -> Option<&'a StationBudget> {
    inputs.power.iter().find(|budget| budget.channel == inputs.channel.name)
}

/// Until when a station runs, for somebody who leans on it: with a tired pack on
/// a colder night, and what the crew's page has to keep it on the air.
fn until(budget: &StationBudget, at: &impl Fn(&ZonedDateTime) -> String) -> String {
    let off = at(&budget.off);
    if budget.poor.lasts() {
        return off;
    }
    let dies = budget.poor.dies_at.as_ref().map_or_else(String::new, at);
    let by = |changes: &[ZonedDateTime]| {
        let changes: Vec<String> = changes.iter().map(at).collect();
        format!("a change by {}", changes.join(" and "))
    };
    match pack_fix(budget) {
        Some(Fix::ChangePacks { at: changes, .. }) => {
            format!("{off} with {} of its battery; else {dies}", by(&changes))
        }
        Some(Fix::LargerPack { or_change_by, .. }) if or_change_by.is_empty() => {
            format!("{off} with a larger battery; else {dies}")
        }
        Some(Fix::LargerPack { or_change_by, .. }) => {
            format!("{off} with a larger battery or {}; else {dies}", by(&or_change_by))
        }
        _ => format!("{dies}; nothing known keeps it on until {off}"),
    }
}
