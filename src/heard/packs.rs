//! When batteries died, or what voltage they had at the end, and what that says
//! of the packs' capacity.

use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use serde::Serialize;

use super::log::{LogError, Origin, Rejected, separator_of, text_of_log, time};
use perchline_plan::Plan;
use perchline_power::{StationBudget, each_station_budget};
use perchline_units::{AmpereHours, Volts};

/// Shares of the rated capacity between which an answer is looked for.
const SHARES: (f64, f64) = (0.1, 2.0);
/// By how much a resting voltage that was read may be wrong, as a share of the
/// pack's nominal voltage: 0.1 V on a pack of 12 V (common practice, no source).
const READ_WITHIN: f64 = 0.1 / 12.0;
/// A pack that seems to hold more than this share of its rating is not believed:
/// a meter, a time or the traffic is wrong (common practice, no source).
const MOST_BELIEVED: f64 = 1.1;
/// A wider interval of the share measures too little to change a plan (common
/// practice, no source).
const WIDEST: f64 = 0.3;
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
    /// The voltage without load then; nothing if it was dead.
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
    /// Between which shares it lies, given how well a voltage is read; nothing
    /// where there is no share.
    pub interval: Option<(f64, f64)>,
    /// Why the plan's capacity is left as it is, and what to do; nothing where
    /// there is an update.
    pub advice: Option<String>,
    /// Capacity of one string as the plan has it.
    pub capacity_ah: AmpereHours,
    /// The capacity that gives what was reported.
    pub updated_ah: Option<AmpereHours>,
    /// The line for the plan's pack.
    pub line: Option<String>,
}

/// Reads a CSV file with the columns `station`, `time` and `volts`, the last a
/// voltage such as "12.9 V" or the word "died".
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
            text: "a list of batteries has the columns station, time and volts, the last a voltage such as \"12.9 V\" or the word \"died\"".to_owned(),
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
        format!("volts: \"{volts}\" is neither a voltage such as \"12.9 V\" nor the word \"died\"")
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
            let shares: Vec<Held> = own
                .iter()
                .filter_map(|report| held((plan, budgets), index, pack, report))
                .collect();
            let mean = |of: fn(&Held) -> f64| {
                let sum: f64 = shares.iter().map(|s| of(s).ln()).sum();
                (!shares.is_empty()).then(|| (sum / shares.len() as f64).exp())
            };
            let share = mean(|held| held.share);
            let interval = mean(|held| held.low).zip(mean(|held| held.high));
            let advice = share.zip(interval).and_then(|(share, between)| doubt(share, between));
            let updated = share.filter(|_| advice.is_none()).map(|share| kind.capacity * share);
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
                interval,
                advice,
                capacity_ah: kind.capacity,
                updated_ah: updated,
                line: updated.map(|ah| format!("capacity = \"{:.2} Ah\"", ah.value())),
            })
        })
        .collect()
}

/// What one report says that a pack held, as shares of the plan's capacity.
#[derive(Debug, Clone, Copy)]
struct Held {
    share: f64,
    low: f64,
    high: f64,
}

/// Why a share is not to be put into a plan, and what to do.
fn doubt(share: f64, (low, high): (f64, f64)) -> Option<String> {
    if share > MOST_BELIEVED {
        return Some(format!(
            "{:.0} % of the rating is more than a pack holds: check the meter, the time and how busy the station was",
            share * 100.0
        ));
    }
    (high - low > WIDEST).then(|| {
        "a resting voltage says little on the flat part of the curve: discharge it to cutoff at a known current"
            .to_owned()
    })
}

/// What a report says that the pack held; nothing where no capacity gives it.
fn held(
    (plan, known): (&Plan, &[StationBudget]),
    station: usize,
    pack: usize,
    report: &BatteryReport,
) -> Option<Held> {
    let found = share((plan, known), station, pack, report)?;
    let Some(volts) = report.volts else {
        return Some(Held { share: found, low: found, high: found });
    };
    let within = plan.power.packs.get(pack)?.nominal().value() * READ_WITHIN;
    let at = |off: f64| {
        let volts = Some(Volts::new(volts.value() + off));
        share((plan, known), station, pack, &BatteryReport { volts, ..report.clone() })
    };
    // Where no capacity gives the lowest or highest reading, any may be right.
    let (low, high) = (at(-within), at(within));
    Some(Held { share: found, low: low.unwrap_or(SHARES.0), high: high.unwrap_or(SHARES.1) })
}

/// The pack that a station runs on: index into the plan's packs.
fn pack(plan: &Plan, station: usize) -> Option<usize> {
    plan.power.stations.get(station).map(|s| s.supply.pack)
}

/// All budgets, each station as busy as in those `known`, with one pack's capacity
/// changed by a share.
fn budgets(
    (plan, known): (&Plan, &[StationBudget]),
    (pack, share): (usize, f64),
) -> Option<Vec<StationBudget>> {
    let expected: Vec<_> = known.iter().map(|budget| Some(budget.expected_traffic)).collect();
    let mut plan = plan.clone();
    if let Some(pack) = plan.power.packs.get_mut(pack) {
        pack.capacity = pack.capacity * share;
    }
    each_station_budget(&plan, &expected).into_iter().collect::<Result<_, _>>().ok()
}

/// The share of the capacity with which a station's expected run gives what was
/// reported; nothing where none does.
fn share(
    known: (&Plan, &[StationBudget]),
    station: usize,
    pack: usize,
    report: &BatteryReport,
) -> Option<f64> {
    // Whether the pack would have held out longer, or stood higher, than it did.
    let more = |share: f64| -> Option<bool> {
        let budgets = budgets(known, (pack, share))?;
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

/// The voltage without load at a moment, between the full hours of the run.
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
