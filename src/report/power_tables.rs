//! Energy budgets and loading lists as tables for a terminal.

use jiff::ZonedDateTime;

use perchline_assessment::Energy;
use perchline_plan::Plan;
use perchline_power::discharge::Stop;
use perchline_power::kit::{CarriedLoad, MOST_TRIPS, StationKit, TWO_LIFT};
use perchline_power::place::SitePlace;
use perchline_power::{
    CHANGE_AT, CrewNeeds, HEAVY, LoadingLine, ONLY_JUST, RESERVE, Recharge, Run, StationBudget,
};
use perchline_units::{Hours, Kilograms};

use super::cautions::Output;
use super::place_words::{both, mind};
use super::screen::{Rows, Screen};
use super::tables::{printed, table};

/// Stations, one a line: how long each runs, when it dies, what is left.
fn budget_rows(title: String, budgets: &[StationBudget]) -> Rows {
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
    let dies = budgets.iter().map(|budget| !budget.poor.lasts());
    Rows::of(title, out, "that should run").failing(dies, "dying").called("stations")
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
    text += &heard(budget);
    text += &format!("  {}\n", verdict(budget));
    text += &match &budget.enough {
        Some(pack) => format!(
            "  The smallest common pack of these cells that ends with {:.0} % left, new: {:.1}, about {:.1} ({:.0} % left).\n",
            RESERVE * 100.0,
            pack.capacity_ah,
            pack.weight_kg,
            pack.left_at_end * 100.0
        ),
        None => "  No common pack of these cells ends with enough left: change the cells, the converter or the low-voltage cutoff.\n".to_owned(),
    };
    if !budget.changes.is_empty() {
        let times: Vec<_> = budget.changes.iter().map(|t| clock(t, &budget.on)).collect();
        let short = match budget.sets_short() {
            0 => String::new(),
            1 => "; one set more has to be there".to_owned(),
            sets => format!("; {sets} sets more have to be there"),
        };
        text += &format!(
            "  To run through even in the poor case, change packs by {} ({:.0} % left, or a quarter of an hour to go){short}.\n",
            times.join(", "),
            CHANGE_AT * 100.0
        );
    }
    text += &format!("  Packs to carry up: {:.1}.\n", budget.weight_kg);
    text
}

/// What a digipeater is taken to hear; nothing for a voice station.
fn heard(budget: &StationBudget) -> String {
    match (budget.expected_beacons_an_hour, budget.beacons_an_hour) {
        (Some(expected), Some(all)) if expected < all => format!(
            "  It hears {expected:.0} of {all:.0} beacons an hour as expected; the poor case takes it to hear all.\n"
        ),
        (Some(_), Some(all)) => {
            format!("  It is taken to hear {all:.0} beacons an hour in every case.\n")
        }
        _ => String::new(),
    }
}

pub(super) fn verdict(budget: &StationBudget) -> String {
    let expected = &budget.expected;
    let why = match expected.why {
        Some(Stop::Sag) => "its voltage falls below the low-voltage cutoff while it transmits",
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

/// One line for each station, for the end of a ranking; on a screen for those that die.
#[must_use]
pub fn power_rows(budgets: &[StationBudget]) -> Rows {
    let line = |budget: &StationBudget| format!("power, {}: {}\n", budget.station, verdict(budget));
    let dies = budgets.iter().map(|budget| !budget.poor.lasts());
    Rows::lines("", budgets.iter().map(line).collect(), "")
        .failing(dies, "dying")
        .only_failing()
        .called("power")
}

/// Crews, one a line.
fn crew_rows(crews: &[CrewNeeds]) -> Rows {
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
            both(crew.weight_each_kg),
        ]);
    }
    Rows::of("", out, "crews")
}

fn loading_list(crew: &CrewNeeds) -> String {
    let mut out = table(["", "Each carries", "Number", "Weight", "Its own battery"], &[2, 3]);
    crew.lines.iter().for_each(|line| {
        out.add_row(loading_row(line));
    });
    let heavy = if crew.weight_each_kg > HEAVY {
        format!("; more than {HEAVY:.0} is much for somebody who walks all day")
    } else {
        String::new()
    };
    format!(
        "{}, loading list for one person ({} in all{heavy}):\n{}\n\n",
        crew.crew,
        both(crew.weight_each_kg),
        printed(&out)
    )
}

/// A line of a loading list with a box to tick.
fn loading_row(line: &LoadingLine) -> [String; 5] {
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
    let own = line.recharges.as_ref().map_or(own, recharges);
    let number = match line.spares {
        0 => line.count.to_string(),
        spares => format!("{} ({spares} spare)", line.count),
    };
    ["[ ]".to_owned(), line.what.clone(), number, weight(line.weight_kg), own]
}

fn recharges(recharge: &Recharge) -> String {
    let enough = match recharge.short_wh {
        None => "no more is needed".to_owned(),
        Some(short) => format!("{short:.1} short still"),
    };
    format!(
        "gives {:.1} in the poor case to {}: {enough}",
        recharge.gives_wh,
        recharge.items.join(", ")
    )
}

/// What goes up to a station: its list, then who carries what in which trip.
fn kit_screen(kit: &StationKit) -> Screen {
    let mut out = table(["", "Goes up", "Number", "Weight", "Its own battery"], &[2, 3]);
    kit.lines.iter().for_each(|line| {
        out.add_row(loading_row(line));
    });
    let site = kit.site.as_ref().map_or_else(String::new, |site| format!(" on {site}"));
    let title = format!(
        "{}{site}, what goes up ({} in all; {} people, {:.0} a trip):\n",
        kit.station,
        both(kit.weight_kg),
        kit.carriers,
        kit.trip_load_kg,
    );
    let mut ballast_is = String::new();
    if let Some(ballast) = &kit.ballast {
        ballast_is = match (ballast.stated_kg, ballast.short()) {
            (None, _) => format!(
                "  Ballast is not stated; {} is what the wind asks for with the antenna {:.1} up.\n",
                both(ballast.asked_kg),
                ballast.height_m
            ),
            (Some(_), Some(short)) => format!(
                "  The ballast is {} SHORT: the wind asks for {} with the antenna {:.1} up.\n",
                both(short),
                both(ballast.asked_kg),
                ballast.height_m
            ),
            (Some(_), None) => String::new(),
        };
    }
    let not_counted = if kit.not_counted.is_empty() {
        String::new()
    } else {
        format!(
            "  Not stated, so not counted: {} ([[station.item]] and [station.mast] take them).\n",
            kit.not_counted.join("; ")
        )
    };
    let refused = not_carried(kit);
    let carried = if kit.trips > MOST_TRIPS {
        String::new()
    } else {
        kit.loads.iter().map(trip_line).collect()
    };
    let list = format!("{}\n", printed(&out));
    let in_brief = format!(
        "{}{site}: {} go up, in {} {} for each of {} people.\n",
        kit.station,
        both(kit.weight_kg),
        kit.trips,
        if kit.trips == 1 { "trip" } else { "trips" },
        kit.carriers,
    );
    Screen::default()
        .short_only(in_brief)
        .long_only("what goes up, trip by trip", title + &list)
        .both(ballast_is)
        .both(refused)
        .long_only("what goes up, trip by trip", carried + &not_counted)
        .both("\n")
}

/// Why these people do not get it up, where they do not.
fn not_carried(kit: &StationKit) -> String {
    let mut text = String::new();
    for piece in &kit.too_heavy {
        text += &format!(
            "  NOBODY CARRIES {}, {}: one carries {:.0} in a trip, two lift {:.0} together. Take lighter pieces or more people.\n",
            piece.what,
            both(piece.weight_kg),
            kit.trip_load_kg,
            if kit.carriers < 2 { kit.trip_load_kg } else { TWO_LIFT.min(kit.trip_load_kg * 2.0) }
        );
    }
    if kit.trips > MOST_TRIPS {
        text += &format!(
            "  TOO MANY TRIPS: {} for each of {}, and more than {MOST_TRIPS} is too many. Take less, or more people.\n",
            kit.trips, kit.carriers
        );
    }
    text
}

fn trip_line(load: &CarriedLoad) -> String {
    let who: Vec<String> = load.carriers.iter().map(u32::to_string).collect();
    let who = match who.as_slice() {
        [one] => format!("person {one}"),
        some => format!("persons {} together", some.join(" and ")),
    };
    format!("  Trip {}, {who}: {} ({})\n", load.trip, load.what.join(" + "), both(load.weight_kg))
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
pub fn power_screen(plan: &Plan, energy: &Energy, places: &[SitePlace]) -> Screen {
    let (budgets, crews) = (energy.stations(), energy.crews());
    let title = format!("{}: staying on the air\n", plan.event.name);
    let mut screen = if budgets.is_empty() {
        Screen::new(title)
    } else {
        let told = budget_words(budgets);
        Screen::default()
            .rows(budget_rows(title, budgets))
            .both("\n")
            .long_only("what each station's budget means", told + "\n")
    };
    let minded = places.iter().filter_map(|place| {
        let told = mind(place, plan.units);
        let station = place.access.station.as_deref().unwrap_or_default();
        (!told.is_empty()).then(|| format!("{station} on {}: {}\n", place.site, told.join(" ")))
    });
    screen = screen.rows(Rows::lines("", minded.collect(), "places"));
    if !places.is_empty() {
        screen = screen.both("\n");
    }
    for kit in &energy.kits {
        screen = screen.and(kit_screen(kit));
    }
    if !crews.is_empty() {
        let lists = crews.iter().map(loading_list).collect::<String>();
        screen =
            screen.rows(crew_rows(crews)).both("\n").long_only("loading lists of the crews", lists);
    }
    screen
        .both("Run times follow from typical curves of each chemistry, not from your packs: run one down at home once.\n")
        .cautions(plan, Output::Power)
}
