//! Energy budgets and loading lists as tables for a terminal.

use jiff::ZonedDateTime;

use perchline_assessment::{Energy, Fix, pack_fix};
use perchline_plan::{Plan, UnitSystem};
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
use super::words::percent;

/// Stations, one a line: when each pack dies, or what is left at the end.
fn budget_rows(title: String, budgets: &[StationBudget]) -> Rows {
    let mut out =
        table(["Station", "Packs", "Wanted", "Poor case", "As expected", "Good case"], &[]);
    for budget in budgets {
        out.add_row([
            budget.station.clone(),
            format!("{} x {}, {:.1}", budget.packs, budget.pack, budget.rated_ah),
            format!("{} from {}", budget.wanted_h.clock(), budget.on.strftime("%H:%M")),
            ends(&budget.poor, budget),
            ends(&budget.expected, budget),
            ends(&budget.good, budget),
        ]);
    }
    let dies = budgets.iter().map(|budget| !budget.poor.lasts());
    Rows::of(title, out, "that should run").failing(dies, "dying").called("stations")
}

/// What run times rest on.
pub(super) const TYPICAL: &str = "Run times follow from typical curves of each chemistry, not from your packs: run one down at home once.";

/// What the poor case is, in a line.
pub(super) const POOR_CASE: &str = "Poor case: a tired pack, a colder night, more traffic.";

/// What each station's budget means, in sentences.
fn budget_words(budgets: &[StationBudget], units: UnitSystem) -> String {
    budgets.iter().map(|budget| of_station(budget, units)).collect()
}

fn of_station(budget: &StationBudget, units: UnitSystem) -> String {
    let off = clock(&budget.off, &budget.on);
    let mut text = format!(
        "{}: {:.2} on average at {}; wanted from {} to {off}.\n",
        budget.station,
        budget.average_a,
        units.temperatures(budget.temperatures_c),
        budget.on.strftime("%H:%M"),
    );
    text += &heard(budget);
    text += &format!("  {}\n", capital(&verdict(budget)));
    if let Some(why) = budget.poor.why.filter(|_| !budget.poor.lasts()) {
        text += match why {
            Stop::Sag => {
                "  It dies when its voltage falls below the low-voltage cutoff while it transmits.\n"
            }
            Stop::Empty => "  It dies when the pack is empty.\n",
        };
    }
    if let Some(fix) = remedy(budget) {
        text += &format!("  {fix}\n");
    }
    match &budget.enough {
        // Then the remedy names it.
        Some(_) if matches!(pack_fix(budget), Some(Fix::LargerPack { .. })) => {}
        Some(pack) => {
            text += &format!(
                "  Smallest common pack of these cells, new, that ends with {:.0} % left as expected: {:.1}, about {}; it ends with {}.\n",
                RESERVE * 100.0,
                pack.capacity_ah,
                both(pack.weight_kg),
                percent(pack.left_at_end)
            );
        }
        None => {
            text += "  No common pack of these cells ends with enough left: change the cells, the converter or the low-voltage cutoff.\n";
        }
    }
    if !budget.changes.is_empty() {
        text += &format!(
            "  A pack is changed with {:.0} % left, or a quarter of an hour before it dies.\n",
            CHANGE_AT * 100.0
        );
    }
    text += &format!("  Weight of the packs that go up: {}.\n", both(budget.weight_kg));
    text
}

/// What keeps a station on the air to the end, in a sentence: the same on every page.
pub(super) fn remedy(budget: &StationBudget) -> Option<String> {
    pack_fix(budget).and_then(|fix| pack_words(&fix, &budget.on))
}

/// A fix of a station's pack in words; nothing for any other fix.
pub(super) fn pack_words(fix: &Fix, day: &ZonedDateTime) -> Option<String> {
    let by = |at: &[ZonedDateTime]| -> String {
        at.iter().map(|at| clock(at, day)).collect::<Vec<_>>().join(" and ")
    };
    let sets = |count: u32| match count {
        1 => "1 more set".to_owned(),
        more => format!("{more} more sets"),
    };
    match fix {
        Fix::ChangePacks { at, sets_short: 0, .. } => {
            Some(format!("Charge the spare packs tonight and change by {}.", by(at)))
        }
        Fix::ChangePacks { at, sets_short, .. } => {
            Some(format!("Bring {}, charged, and change by {}.", sets(*sets_short), by(at)))
        }
        Fix::LargerPack {
            capacity_ah,
            weight_kg,
            left_in_poor_case,
            or_change_by,
            sets_short,
            ..
        } => {
            let change = if or_change_by.is_empty() {
                String::new()
            } else {
                format!(", or {}, charged, to change in by {}", sets(*sets_short), by(or_change_by))
            };
            Some(format!(
                "Bring a pack of at least {capacity_ah:.1} (same cells, about {}; {} left in the poor case){change}.",
                both(*weight_kg),
                percent(*left_in_poor_case)
            ))
        }
        _ => None,
    }
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

/// How a station's battery does, in a sentence that may follow its name: the poor case
/// first. The same on every page.
pub(super) fn verdict(budget: &StationBudget) -> String {
    let (expected, poor) = (&budget.expected, &budget.poor);
    let left = |run: &Run| percent(run.left_at_end);
    if let (Some(dies), Some(margin)) = (&poor.dies_at, poor.margin_h.filter(|_| !poor.lasts())) {
        let as_expected = expected.dies_at.as_ref().filter(|_| !expected.lasts());
        return dies_words(dies, (-margin, &budget.off), as_expected, &budget.on);
    }
    let hand = expected.margin_h.map_or_else(|| "more than a day".to_owned(), Hours::clock);
    if poor.left_at_end < ONLY_JUST {
        return format!(
            "only just: the poor case ends with {} left; as expected it is {}, with {hand} in hand.",
            left(poor),
            left(expected)
        );
    }
    format!(
        "should run to the end in the poor case too, with {} left then; as expected it is {}, with {hand} in hand.",
        left(poor),
        left(expected)
    )
}

/// That a pack dies in the poor case, how long before it may be switched off, and how
/// that is as expected.
pub(super) fn dies_words(
    dies: &ZonedDateTime,
    (early, off): (Hours, &ZonedDateTime),
    as_expected: Option<&ZonedDateTime>,
    day: &ZonedDateTime,
) -> String {
    let expected = as_expected.map_or_else(
        || "as expected it should run to the end".to_owned(),
        |at| format!("as expected at {}", clock(at, day)),
    );
    format!(
        "its pack DIES at {} in the poor case, {} before it may be switched off at {}; {expected}.",
        clock(dies, day),
        early.clock(),
        clock(off, day)
    )
}

/// A sentence with its first letter large.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
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
        [
            "Crew",
            "People",
            "Shift",
            "A pack runs, poor case",
            "As expected",
            "Packs each",
            "Spares in all",
            "Weight each",
        ],
        &[1, 2, 3, 4, 5, 6, 7],
    );
    for crew in crews {
        let number =
            |n: Option<u32>| n.map_or_else(|| "no number does".to_owned(), |n| n.to_string());
        out.add_row([
            crew.crew.clone(),
            crew.people.to_string(),
            crew.shift_h.clock(),
            lasts(crew.poor_pack_lasts_h),
            lasts(crew.pack_lasts_h),
            number(crew.packs_each),
            number(crew.spares_total),
            both(crew.weight_each_kg),
        ]);
    }
    Rows::of("", out, "crews")
}

/// How long a pack runs.
pub(super) fn lasts(run: Option<Hours>) -> String {
    run.map_or_else(|| "more than a day".to_owned(), Hours::clock)
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
        "{}{site}, what goes up ({} in all; {} people, {} a trip):\n",
        kit.station,
        both(kit.weight_kg),
        kit.carriers,
        both(kit.trip_load_kg),
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
    let not_counted = not_counted(kit).map_or_else(String::new, |told| {
        format!("  {told} [[station.item]] and [station.mast] take them.\n")
    });
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

/// What goes up too and is in no sum, in a sentence; nothing where all is stated.
pub(super) fn not_counted(kit: &StationKit) -> Option<String> {
    let what = kit.not_counted.join("; ");
    (!what.is_empty()).then(|| format!("Not stated, so not counted: {what}."))
}

/// Why these people do not get it up, where they do not.
fn not_carried(kit: &StationKit) -> String {
    let mut text = String::new();
    for piece in &kit.too_heavy {
        text += &format!(
            "  NOBODY CARRIES {}, {}: one carries {} in a trip, two lift {} together. Take lighter pieces or more people.\n",
            piece.what,
            both(piece.weight_kg),
            both(kit.trip_load_kg),
            both(if kit.carriers < 2 {
                kit.trip_load_kg
            } else {
                TWO_LIFT.min(kit.trip_load_kg * 2.0)
            })
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
        format!("{:.0} g / {:.1} lb", kilograms.value() * 1e3, kilograms.pounds())
    } else {
        both(kilograms)
    }
}

/// When a run dies, or what it has left when it may be switched off.
fn ends(run: &Run, budget: &StationBudget) -> String {
    match run.dies_at.as_ref().filter(|_| !run.lasts()) {
        Some(dies) => format!("dies {}", clock(dies, &budget.on)),
        None => format!("{} left", percent(run.left_at_end)),
    }
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
    let (budgets, crews) = (&energy.stations, &energy.crews);
    let title = format!("{}: staying on the air\n{POOR_CASE}\n", plan.event.name);
    let mut screen = if budgets.is_empty() {
        Screen::new(title)
    } else {
        let told = budget_words(budgets, plan.units);
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
    screen.both(format!("{TYPICAL}\n")).cautions(plan, Output::Power)
}
