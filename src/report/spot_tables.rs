//! Spots that a search found, as text.

use perchline_plan::{Plan, UnitSystem};
use perchline_power::mast::clear_of_lines;
use perchline_siting::spots::{Rank, Spot, SpotSearch, StandsOn};
use perchline_units::Position;

use super::cautions::{Output, lines};
use super::map::spots::SpotMap;
use super::outputs::{OutboxSlot, OutputError};
use super::screen::{Rows, Screen};
use super::tables::{made_with, table};
use super::words::contact;

/// What a search found: the list, how it compares with the plan's own sites,
/// what it rests on, and lines for the plan.
#[must_use]
pub fn spot_screen(plan: &Plan, search: &SpotSearch) -> Screen {
    let units = plan.units;
    let mut out = table(
        [
            "",
            "Where",
            "Stands on",
            "Ground",
            "Antenna over ground",
            "Coverage",
            "Must-have",
            "To road",
            "Slope",
        ],
        &[0, 3, 4, 5, 7, 8],
    );
    for (number, spot) in search.spots.iter().enumerate() {
        out.add_row([
            (number + 1).to_string(),
            position(spot.rank.at),
            match &spot.near_site {
                Some(site) => format!("{}, by {site}", stands_on(&spot.stands_on, units)),
                None => stands_on(&spot.stands_on, units),
            },
            units.height(spot.rank.ground_m),
            units.height(spot.rank.antenna_above_ground_m),
            contact(spot.rank.weighted_probability),
            must(&spot.rank),
            spot.to_road_m.map_or_else(|| "-".to_owned(), |road| units.distance(road)),
            spot.slope.map_or_else(|| "?".to_owned(), |slope| format!("{:.0} %", slope * 100.0)),
        ]);
    }
    let title = format!(
        "{}: spots for channel {}, antenna {} over the ground or roof\n",
        plan.event.name,
        search.channel,
        units.height(plan.search.mast),
    );
    let (before, after) = rests_on(plan, search);
    let mut example =
        "\nLines for the plan, one spot as an example; spots.json and spots.toml have all:\n\n"
            .to_owned();
    if let Some(first) = search.spots.first() {
        example += &site_lines(plan, first);
    }
    Screen::default()
        .rows(Rows::of(title, out, "spots"))
        .both(compared(search))
        .long_only("what the search rests on", before)
        .both(line_rule(plan, search))
        .long_only("what the search rests on", after)
        .long_only("lines for the plan", example)
}

/// Writes each spot as lines for the plan, after what made them.
pub(super) fn write_toml(content: &SpotMap<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    let SpotMap { plan, search, provenance, .. } = *content;
    let made = made_with(plan, provenance) + &lines(plan, Output::Search);
    let made: String = made.lines().map(|line| format!("# {line}\n")).collect();
    let lines: Vec<String> = search.spots.iter().map(|spot| site_lines(plan, spot)).collect();
    slot.bytes(format!("{made}\n{}", lines.join("\n")).as_bytes())
}

/// The lines that make a spot a site of the plan.
#[must_use]
pub fn site_lines(plan: &Plan, spot: &Spot) -> String {
    let roof = match &spot.stands_on {
        StandsOn::Ground => "0 m above ground",
        StandsOn::Roof { .. } => "building",
    };
    let noted = match &spot.stands_on {
        StandsOn::Ground => "open ground".to_owned(),
        StandsOn::Roof { building, .. } => format!("roof of {}", plain(building)),
    };
    let environment = plan
        .search
        .environment
        .map(|environment| format!("environment = \"{}\"\n", environment.word()))
        .unwrap_or_default();
    format!(
        "[[site]]\nname = \"{}\"\nat = \"{}\"\nroof = \"{roof}\"\nmast = \"{} m\"\n{environment}notes = \"Found by a search, {noted}; nobody has been there yet.\"\n",
        spot.rank.name,
        position(spot.rank.at),
        spot.mast_m.value(),
    )
}

/// A name that is safe within quotes.
fn plain(name: &str) -> String {
    name.chars().filter(|c| !c.is_control() && *c != '"' && *c != '\\').take(60).collect()
}

/// Decimal degrees with the digits that a search gives a spot.
pub(super) fn position(at: Position) -> String {
    format!("{:.6}, {:.6}", at.latitude().value(), at.longitude().value())
}

/// What a spot stands on, in the room of a cell.
pub(super) fn stands_on(stands: &StandsOn, units: UnitSystem) -> String {
    match stands {
        StandsOn::Ground => "open ground".to_owned(),
        StandsOn::Roof { building, height_m } => {
            let name: String = building.chars().take(24).collect();
            format!("roof of {name}, {}", units.height(*height_m))
        }
    }
}

fn must(rank: &Rank) -> String {
    if rank.missed_must_posts.is_empty() {
        "all clear".to_owned()
    } else {
        format!("misses {}", rank.missed_must_posts.join(", "))
    }
}

fn compared(search: &SpotSearch) -> String {
    let (Some(best), Some(listed)) = (search.spots.first(), &search.best_listed) else {
        return String::new();
    };
    format!(
        "The best listed site, {}, has weighted coverage {}, {} of {} posts clear, must-have {}; spot 1 has {}, {} of {}, must-have {}.\n",
        listed.name,
        contact(listed.weighted_probability),
        listed.posts_covered,
        listed.posts,
        must(listed),
        contact(best.rank.weighted_probability),
        best.rank.posts_covered,
        best.rank.posts,
        must(&best.rank),
    )
}

/// What was refused because of power lines, and what is kept from others.
pub(super) fn line_rule(plan: &Plan, search: &SpotSearch) -> String {
    let refused = match (search.cells_by_lines, search.roofs_by_lines) {
        (0, 0) => String::new(),
        (cells, roofs) => format!(
            "REFUSED: {}{}, where the mast could fall into a power line that the plan states for a site. ",
            counted(cells, "cell"),
            if roofs == 0 { String::new() } else { format!(" and {}", counted(roofs, "roof")) }
        ),
    };
    format!(
        "{refused}Other power lines are not known: a mast of {} stands farther than {} from any, all round.\n",
        plan.units.height(plan.search.mast),
        plan.units.height(clear_of_lines(plan.search.mast))
    )
}

/// So many things of a name.
fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// What the search went over, and how good its best is: before and after what power
/// lines refuse.
fn rests_on(plan: &Plan, search: &SpotSearch) -> (String, String) {
    let bound = &search.bound;
    let before = format!(
        "Searched {} cells of open ground and {} roofs; {} points stand for posts, areas and routes ({} at most for each area and route).\n",
        search.open_cells, search.roofs, search.demand_points, plan.search.samples
    );
    let mut text = String::new();
    if let Some(method) = search.screened_by {
        text += &format!(
            "Cells were screened by {method}, which is quick; the scores above are by {}.\n",
            plan.prediction.method
        );
    }
    text += &format!(
        "On those points the best spot has {}, and no cell is expected above {}: a gap of {:.2} %. That rests on {} cells scored on exact paths, {} of them compared with the sweep, which was short by {:.1} of 100 at most ({:.1} near the best): measured, not proven. Each roof was tried at one place.\n",
        contact(bound.best),
        contact(bound.upper),
        bound.gap_percent,
        bound.scored_exactly,
        bound.compared,
        bound.sweep_short_by * 100.0,
        bound.sweep_short_by_near_the_best * 100.0,
    );
    if bound.may_meet_must_posts > 0 {
        text += &format!(
            "{} cells that were not scored exactly may yet meet every must-have post.\n",
            bound.may_meet_must_posts
        );
    }
    (before, text)
}
