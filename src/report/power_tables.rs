//! Energy budgets and loading lists as tables for a terminal.

use jiff::ZonedDateTime;

use perchline_plan::Plan;
use perchline_power::discharge::Stop;
use perchline_power::{CHANGE_AT, CrewNeeds, HEAVY, ONLY_JUST, RESERVE, Run, StationBudget};
use perchline_units::{Hours, Kilograms};

use super::tables::table;
use super::words;

/// Said before somebody climbs to change a pack.
pub const BEFORE_A_CHANGE: &str = "Every change is another climb: two people, behind the parapet or tied on, none with thunder about; the owner knows when.";

/// Said where packs are handled.
pub const WITH_PACKS: &str =
    "Packs dry and their terminals covered; a wet, swollen or dented one is not used.";

/// Stations, one a line: how long each runs, when it dies, what is left.
#[must_use]
pub fn budget_table(budgets: &[StationBudget]) -> String {
    let mut out = table(
        ["Station", "Packs", "Wanted", "Runs", "From poor to good", "Dies at", "Margin", "Left"],
        &[2, 3, 4, 6, 7],
    );
    for budget in budgets {
        out.add_row([
            budget.station.clone(),
            format!("{} x {}, {:.1} in all", budget.packs, budget.pack, budget.rated_ah),
            budget.wanted_h.clock(),
            runs(&budget.expected, budget),
            format!("{} to {}", runs(&budget.poor, budget), runs(&budget.good, budget)),
            budget
                .expected
                .dies_at
                .as_ref()
                .map_or_else(|| "runs on".to_owned(), |t| clock(t, &budget.on)),
            margin(&budget.expected),
            format!("{:.0} %", budget.expected.left_at_end * 100.0),
        ]);
    }
    format!("{}\n", out.trim_fmt())
}

/// What each station's budget means, in sentences.
fn budget_words(budgets: &[StationBudget]) -> String {
    budgets.iter().map(of_station).collect()
}

fn of_station(budget: &StationBudget) -> String {
    let (cold, warm) = budget.temperatures_c;
    let off = clock(&budget.off, &budget.on);
    let mut text = format!(
        "{}: {:.2} on average at {:.0} to {:.0} °C; wanted from {} to {off}.\n",
        budget.station,
        budget.average_a,
        cold.value(),
        warm.value(),
        budget.on.strftime("%H:%M"),
    );
    text += &format!("  {}\n", verdict(budget));
    text += &match &budget.enough {
        Some(pack) => format!(
            "  The smallest common pack of these cells that ends with {:.0} % left, new: {:.1}, about {:.1} ({:.0} % left).\n",
            RESERVE * 100.0,
            pack.capacity_ah,
            pack.weight_kg,
            pack.left_at_end * 100.0
        ),
        None => "  No common pack of these cells ends with enough left: change the cells, the converter or the cut-out.\n".to_owned(),
    };
    if !budget.changes.is_empty() {
        let times: Vec<_> = budget.changes.iter().map(|t| clock(t, &budget.on)).collect();
        let short = match budget.sets_short() {
            0 => String::new(),
            1 => "; one set more has to be there".to_owned(),
            sets => format!("; {sets} sets more have to be there"),
        };
        text += &format!(
            "  To run through even in the poor case, change packs by {} ({:.0} % left, or a quarter of an hour to go){short}.\n  {BEFORE_A_CHANGE}\n",
            times.join(", "),
            CHANGE_AT * 100.0
        );
    }
    text += &format!("  Packs to carry up: {:.1}.\n", budget.weight_kg);
    text
}

pub(super) fn verdict(budget: &StationBudget) -> String {
    let expected = &budget.expected;
    let why = match expected.why {
        Some(Stop::Sag) => "its tension falls below the cut-out while it transmits",
        Some(Stop::Empty) => "the pack is empty",
        None => "",
    };
    let poor = &budget.poor;
    let poor_dies = poor.dies_at.as_ref().filter(|_| !poor.lasts());
    let hand = expected.margin_h.map_or_else(|| "more than a day".to_owned(), Hours::clock);
    let left = |run: &Run| format!("{:.0} %", run.left_at_end * 100.0);
    match (&expected.dies_at, expected.margin_h, poor_dies) {
        (Some(dies), Some(margin), poor) if margin.value() < 0.0 => {
            let poor = poor.unwrap_or(dies);
            format!(
                "DIES at {} in the poor case and at {} as expected, {} before it may be switched off: {why}.",
                clock(poor, &budget.on),
                clock(dies, &budget.on),
                (-margin).clock()
            )
        }
        (_, _, Some(dies)) => format!(
            "MAY DIE at {}: with a tired pack, a colder night and more traffic; as expected it runs on with {hand} in hand and {} left.",
            clock(dies, &budget.on),
            left(expected)
        ),
        _ if poor.left_at_end < ONLY_JUST => format!(
            "Only just: the poor case ends with {} left; as expected it is {}, with {hand} in hand.",
            left(poor),
            left(expected)
        ),
        _ => format!(
            "Runs to the end in the poor case too, with {} left then; as expected it is {}, with {hand} in hand.",
            left(poor),
            left(expected)
        ),
    }
}

/// One line for each station, for the end of a ranking.
#[must_use]
pub fn power_lines(budgets: &[StationBudget]) -> String {
    budgets
        .iter()
        .map(|budget| format!("power, {}: {}\n", budget.station, verdict(budget)))
        .collect()
}

/// Crews, one a line, and the loading list of a person of each.
fn crew_tables(crews: &[CrewNeeds]) -> String {
    let mut out = table(
        ["Crew", "People", "Shift", "A pack lasts", "Packs each", "Spares in all", "Weight each"],
        &[1, 2, 3, 4, 5, 6],
    );
    for crew in crews {
        let number =
            |n: Option<u32>| n.map_or_else(|| "no number does".to_owned(), |n| n.to_string());
        out.add_row([
            crew.crew.clone(),
            crew.people.to_string(),
            crew.shift_h.clock(),
            crew.pack_lasts_h.map_or_else(|| "a day more".to_owned(), Hours::clock),
            number(crew.packs_each),
            number(crew.spares_total),
            weight(crew.weight_each_kg),
        ]);
    }
    let lists: String = crews.iter().map(loading_list).collect();
    format!("{}\n\n{lists}", out.trim_fmt())
}

fn loading_list(crew: &CrewNeeds) -> String {
    let mut out = table(["", "Each carries", "Number", "Weight", "Its own battery"], &[2, 3]);
    for line in &crew.lines {
        let own = match (line.lasts_h, line.poor_lasts_h) {
            (Some(lasts), Some(poor)) => {
                let short = line.short_wh.map(|short| format!(", {short:.1} short of the shift"));
                format!(
                    "{} in the poor case{}; {} as expected",
                    poor.clock(),
                    short.unwrap_or_default(),
                    lasts.clock()
                )
            }
            (Some(lasts), None) => format!("{} as expected", lasts.clock()),
            (None, _) => String::new(),
        };
        out.add_row([
            "[ ]".to_owned(),
            line.what.clone(),
            line.count.to_string(),
            weight(line.weight_kg),
            own,
        ]);
    }
    let heavy = if crew.weight_each_kg > HEAVY {
        format!("; more than {HEAVY:.0} is much for somebody who walks all day")
    } else {
        String::new()
    };
    format!(
        "{}, loading list for one person ({} in all{heavy}):\n{}\n\n",
        crew.crew,
        weight(crew.weight_each_kg),
        out.trim_fmt()
    )
}

fn weight(kilograms: Kilograms) -> String {
    if kilograms.value() < 1.0 {
        format!("{:.0} g", kilograms.value() * 1e3)
    } else {
        format!("{kilograms:.1}")
    }
}

fn runs(run: &Run, budget: &StationBudget) -> String {
    run.run_time_h.map_or_else(
        || format!("over {}", (budget.wanted_h + Hours::new(24.0)).clock()),
        Hours::clock,
    )
}

fn margin(run: &Run) -> String {
    run.margin_h.map_or_else(
        || "over a day".to_owned(),
        |margin| {
            let plus = if margin.value() >= 0.0 { "+" } else { "" };
            format!("{plus}{}", margin.clock())
        },
    )
}

/// A time as on a clock; with the date where it is another day than `day`, and
/// with the offset where the clocks have changed since.
pub(super) fn clock(moment: &ZonedDateTime, day: &ZonedDateTime) -> String {
    let date = if moment.date() == day.date() { "" } else { "%a %d %b " };
    let offset = if moment.offset() == day.offset() { "" } else { " (UTC%:z)" };
    moment.strftime(&format!("{date}%H:%M{offset}")).to_string()
}

/// Everything of a plan's energy as one text.
#[must_use]
pub fn power_text(plan: &Plan, budgets: &[StationBudget], crews: &[CrewNeeds]) -> String {
    let mut text = format!("{}: staying on the air\n", plan.event.name);
    if !budgets.is_empty() {
        text += &format!("{}\n{}\n", budget_table(budgets), budget_words(budgets));
    }
    if !crews.is_empty() {
        text += &crew_tables(crews);
    }
    text += &format!(
        "Run times follow from typical curves of each chemistry, not from your packs: run one down at home once.\n{WITH_PACKS}\n{}\n",
        words::LOCAL_CODES
    );
    text
}
