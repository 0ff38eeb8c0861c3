//! When batteries died, or what tension they had at the end, and what that says
//! of the packs' capacity.

use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use serde::Serialize;

use super::log::{LogError, Origin, Rejected, separator_of, text_of_log, time};
use perchline_plan::Plan;
use perchline_power::{StationBudget, station_budgets};
use perchline_units::{AmpereHours, Volts};

/// Shares of the rated capacity between which an answer is looked for.
const SHARES: (f64, f64) = (0.1, 2.0);
/// Steps of halving: to a few millionths.
const STEPS: usize = 40;

/// What was reported of a station's battery.
#[derive(Debug, Clone, PartialEq)]
pub struct BatteryReport {
    /// The row that it is from.
    pub origin: Origin,
    /// Index into the plan's powered stations.
    pub station: usize,
    /// When.
    pub at: Timestamp,
    /// The tension without load then; nothing if it was dead.
    pub volts: Option<Volts>,
}

/// What reports say of a station's packs.
#[derive(Debug, Clone, Serialize)]
pub struct PackUpdate {
    /// The station.
    pub station: String,
    /// Kind of pack.
    pub pack: String,
    /// Reports that it rests on.
    pub reports: usize,
    /// When it was predicted to die; nothing if it was to last a day longer.
    pub predicted_death: Option<String>,
    /// What was reported, in words.
    pub reported: Vec<String>,
    /// What the packs held of the capacity in the plan, 0 to 2; nothing where no
    /// capacity would give what was reported.
    pub share: Option<f64>,
    /// Capacity of one string as the plan has it.
    pub capacity_ah: AmpereHours,
    /// The capacity that gives what was reported.
    pub updated_ah: Option<AmpereHours>,
    /// The line for the plan's pack.
    pub line: Option<String>,
}

/// Reads a CSV file with the columns `station`, `time` and `volts`, the last a
/// tension such as "12.9 V" or the word "died".
///
/// # Errors
/// [`LogError`] when the file cannot be read at all; single rows that cannot
/// come back as rejected.
pub fn read(
    file: &Path,
    plan: &Plan,
    clock_offset: SignedDuration,
) -> Result<(Vec<BatteryReport>, Vec<Rejected>), LogError> {
    let text = text_of_log(file)?;
    let format = |reason: String| LogError::Format { file: file.to_owned(), reason };
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator_of(&text))
        .flexible(true)
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let head = reader.headers().map_err(|e| format(e.to_string()))?.clone();
    let column =
        |names: &[&str]| head.iter().position(|name| names.contains(&name.to_lowercase().as_str()));
    let columns = (column(&["station"]), column(&["time"]), column(&["volts", "voltage", "end"]));
    let (Some(station), Some(when), Some(volts)) = columns else {
        return Err(LogError::Head {
            file: file.to_owned(),
            line: 1,
            text: "a list of batteries has the columns station, time and volts, the last a tension such as \"12.9 V\" or the word \"died\"".to_owned(),
        });
    };
    let (mut reports, mut rejected) = (Vec::new(), Vec::new());
    for record in reader.records() {
        let record = record.map_err(|e| format(e.to_string()))?;
        let line = record.position().map_or(0, |p| usize::try_from(p.line()).unwrap_or(0));
        let origin = Origin { file: file.into(), line };
        let cell = |column| record.get(column).unwrap_or_default();
        let made = row(plan, clock_offset, cell(station), cell(when), cell(volts));
        match made {
            Ok((station, at, volts)) => {
                reports.push(BatteryReport { origin, station, at, volts });
            }
            Err(reason) => {
                let text = record.iter().collect::<Vec<_>>().join(", ");
                rejected.push(Rejected { origin, text, reason });
            }
        }
    }
    if reports.is_empty() && rejected.is_empty() {
        return Err(LogError::Empty { file: file.to_owned() });
    }
    Ok((reports, rejected))
}

fn row(
    plan: &Plan,
    clock_offset: SignedDuration,
    station: &str,
    when: &str,
    volts: &str,
) -> Result<(usize, Timestamp, Option<Volts>), String> {
    let stations = &plan.power.stations;
    let index = stations.iter().position(|s| s.name.to_lowercase() == station.to_lowercase());
    let index = index.ok_or_else(|| {
        let names: Vec<_> = stations.iter().map(|s| format!("\"{}\"", s.name)).collect();
        format!(
            "station: the plan has no powered station \"{station}\"; it has {}",
            if names.is_empty() { "none".to_owned() } else { names.join(", ") }
        )
    })?;
    let at = time(when, None, &plan.event, clock_offset)?;
    let typed = volts.to_lowercase();
    if ["died", "dead", "empty"].contains(&typed.as_str()) {
        return Ok((index, at, None));
    }
    let number = typed.trim_end_matches('v').trim().replace(',', ".");
    let value = number.parse::<f64>().ok().filter(|v| (0.5..=100.0).contains(v));
    value.map(|v| (index, at, Some(Volts::new(v)))).ok_or_else(|| {
        format!("volts: \"{volts}\" is neither a tension such as \"12.9 V\" nor the word \"died\"")
    })
}

/// What the reports say of each station's packs, which were to do as `budgets`
/// say; nothing of a station without one.
#[must_use]
pub fn updates(
    plan: &Plan,
    budgets: &[StationBudget],
    reports: &[BatteryReport],
) -> Vec<PackUpdate> {
    plan.power
        .stations
        .iter()
        .enumerate()
        .filter_map(|(index, station)| {
            let own: Vec<_> = reports.iter().filter(|r| r.station == index).collect();
            let (pack, budget) = (pack(plan, index)?, budgets.get(index)?);
            let kind = plan.power.packs.get(pack)?;
            if own.is_empty() {
                return None;
            }
            let shares: Vec<f64> =
                own.iter().filter_map(|report| share(plan, index, pack, report)).collect();
            let share = (!shares.is_empty()).then(|| {
                let mean = shares.iter().map(|s| s.ln()).sum::<f64>() / shares.len() as f64;
                mean.exp()
            });
            let updated = share.map(|share| kind.capacity * share);
            let clock = |at: Timestamp| {
                let zone = plan.event.starts.time_zone().clone();
                at.to_zoned_datetime(zone).strftime("%H:%M").to_string()
            };
            Some(PackUpdate {
                station: station.name.clone(),
                pack: kind.name.clone(),
                reports: shares.len(),
                predicted_death: budget
                    .expected
                    .dies_at
                    .as_ref()
                    .map(|at| at.strftime("%H:%M").to_string()),
                reported: own
                    .iter()
                    .map(|report| match report.volts {
                        Some(volts) => format!("{volts:.1} at {}", clock(report.at)),
                        None => format!("dead at {}", clock(report.at)),
                    })
                    .collect(),
                share,
                capacity_ah: kind.capacity,
                updated_ah: updated,
                line: updated.map(|ah| format!("capacity = \"{:.2} Ah\"", ah.value())),
            })
        })
        .collect()
}

/// The pack that a station runs on: index into the plan's packs.
fn pack(plan: &Plan, station: usize) -> Option<usize> {
    plan.power.stations.get(station).map(|s| s.supply.pack)
}

/// All budgets, with one pack's capacity changed by a share.
fn budgets(plan: &Plan, (pack, share): (usize, f64)) -> Option<Vec<StationBudget>> {
    let mut plan = plan.clone();
    if let Some(pack) = plan.power.packs.get_mut(pack) {
        pack.capacity = pack.capacity * share;
    }
    station_budgets(&plan).ok()
}

/// The share of the capacity with which a station's expected run gives what was
/// reported; nothing where none does.
fn share(plan: &Plan, station: usize, pack: usize, report: &BatteryReport) -> Option<f64> {
    // Whether the pack would have held out longer, or stood higher, than it did.
    let more = |share: f64| -> Option<bool> {
        let budgets = budgets(plan, (pack, share))?;
        let budget = budgets.get(station)?;
        let dies = budget.expected.dies_at.as_ref().map(|at| at.timestamp());
        Some(match report.volts {
            None => dies.is_none_or(|dies| dies > report.at),
            Some(volts) => {
                dies.is_none_or(|dies| dies > report.at)
                    && resting(budget, report.at).is_some_and(|resting| resting > volts)
            }
        })
    };
    let (mut low, mut high) = SHARES;
    if more(low)? || !more(high)? {
        return None;
    }
    for _ in 0..STEPS {
        let middle = f64::midpoint(low, high);
        if more(middle)? { high = middle } else { low = middle }
    }
    Some(f64::midpoint(low, high))
}

/// The tension without load at a moment, between the full hours of the run.
fn resting(budget: &StationBudget, at: Timestamp) -> Option<Volts> {
    let hour = |state: &perchline_power::HourlyState| state.at.timestamp();
    let after = budget.hourly.iter().position(|state| hour(state) >= at);
    match after {
        Some(0) => budget.hourly.first().map(|s| s.resting_v),
        Some(index) => {
            let (before, after) = (budget.hourly.get(index - 1)?, budget.hourly.get(index)?);
            let whole = hour(after).duration_since(hour(before)).as_secs_f64();
            let part = at.duration_since(hour(before)).as_secs_f64() / whole.max(1.0);
            let (a, b) = (before.resting_v.value(), after.resting_v.value());
            Some(Volts::new(a + (b - a) * part))
        }
        None => budget.hourly.last().map(|s| s.resting_v),
    }
}
