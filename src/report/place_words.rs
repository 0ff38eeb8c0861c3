//! A site as a place where people work, and what goes up to it, in sentences: the
//! same in every table and on the crew's page.

use jiff::ZonedDateTime;

use perchline_plan::{Hindrance, SitePower, UnitSystem};
use perchline_power::mast::RefusedMast;
use perchline_power::place::{GUARDRAIL, RoofLoad, SiteFact, SitePlace};
use perchline_units::Kilograms;

use super::power_tables::clock;

/// What is in the way there, a sentence each: its hours first, then what can hurt.
#[must_use]
pub fn mind(place: &SitePlace, units: UnitSystem) -> Vec<String> {
    let mut told: Vec<String> =
        place.access.hindrances.iter().filter_map(|h| hindrance(place, *h)).collect();
    if !place.changes_missed.is_empty() {
        let day = &place.access.on;
        let times: Vec<String> = place.changes_missed.iter().map(|at| clock(at, day)).collect();
        told.push(format!(
            "Nobody gets up for the change of packs due by {}: bring packs that last, or take another site.",
            times.join(" and ")
        ));
    }
    let rail = place.guardrail_m.filter(|_| place.guardrail_is_low);
    told.extend(rail.map(|rail| {
        let what = if rail.value() > 0.0 {
            format!("Its rail or parapet is {} high, lower than", height(rail.value(), units))
        } else {
            "No rail or parapet, where codes ask for".to_owned()
        };
        format!(
            "{what} {} (42 in; the local code decides): with fall protection by a trained person, or off that roof.",
            height(GUARDRAIL.value(), units)
        )
    }));
    let line = place.power_line_m.filter(|_| place.line_is_near);
    told.extend(line.map(|away| {
        format!(
            "A power line {} away, and the mast has to stand {} from any: no mast there.",
            units.height(away),
            units.height(place.clear_of_lines_m)
        )
    }));
    told.extend(place.roof.as_ref().and_then(roof_load));
    told
}

/// Why a power line forbids the planned mast of a site, and which lower one it does not.
#[must_use]
pub fn refused_mast(mast: &RefusedMast, units: UnitSystem) -> String {
    format!(
        "a power line {} away forbids its mast of {}, which has to stand farther than {} from any; {}",
        units.height(mast.power_line_m),
        units.height(mast.planned_m),
        units.height(mast.clear_of_lines_m),
        lower_mast(mast, units)
    )
}

/// The lower mast that a power line does not forbid.
pub(super) fn lower_mast(mast: &RefusedMast, units: UnitSystem) -> String {
    match mast.allowed_m {
        Some(lower) if lower.value() > 0.0 => {
            format!("one of {} or less would do", units.height(lower))
        }
        Some(_) => "the antenna on the roof itself would do".to_owned(),
        None => "no lower one would do".to_owned(),
    }
}

/// A height to a tenth of a metre, or in whole inches where that is a height of feet.
fn height(metres: f64, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric => format!("{metres:.2} m"),
        UnitSystem::Us => format!("{:.0} in", metres / 0.0254),
    }
}

fn hindrance(place: &SitePlace, hindrance: Hindrance) -> Option<String> {
    let access = &place.access;
    let station = access.station.as_deref().unwrap_or("the station");
    let at = |moment: &ZonedDateTime| clock(moment, &access.on);
    let (on, off, down) = (at(&access.on), at(&access.off), at(&access.tear_down));
    Some(match hindrance {
        Hindrance::OpensLate => format!(
            "OPENS LATE: at {}, and {station} is to be on at {on}.",
            at(access.open_from.as_ref()?)
        ),
        Hindrance::ClosedWhenSwitchedOn => format!(
            "CLOSED from {} on, and {station} is to be on at {on}: set up before, and nobody gets up at tear-down, {down}.",
            at(access.open_until.as_ref()?)
        ),
        Hindrance::ClosesWhileOn => format!(
            "CLOSED at tear-down: it closes at {}, and {station} is on until {off}. After that nobody changes packs there or takes the mast down; do not count on it as a reserve.",
            at(access.open_until.as_ref()?)
        ),
        Hindrance::ClosedAtTearDown => format!(
            "CLOSED at tear-down, {down}: it closes at {}, and {station} may be switched off at {off}. The mast comes down between the two.",
            at(access.open_until.as_ref()?)
        ),
    })
}

/// That the roof bears less than the mast asks, or that ballast is short for the wind;
/// nothing where neither is known to be so.
fn roof_load(roof: &RoofLoad) -> Option<String> {
    let pressed = format!(
        "{}, on {:.2} m², press with {:.0} ({:.2} kPa)",
        loads(roof),
        roof.footprint_m2,
        roof.load,
        roof.kilopascals()
    );
    let over = roof.bears.filter(|_| roof.is_too_much).map(|bears| {
        format!(
            "{pressed}, and the roof bears {bears:.0}: spread it on boards, or take another roof."
        )
    });
    let short = (roof.ballast_is_stated && roof.asked_kg > roof.ballast_kg).then(|| {
        format!(
            "{} of ballast are stated, and the wind asks for {}.",
            both(roof.ballast_kg),
            both(roof.asked_kg)
        )
    });
    match (over, short) {
        (Some(over), Some(short)) => Some(format!("{short} {over}")),
        (one, other) => one.or(other),
    }
}

fn loads(roof: &RoofLoad) -> String {
    let ballast = format!("{} of ballast", both(roof.ballast_kg));
    match roof.mast_kg {
        Some(mast) => format!("{ballast} and a mast of {}", both(mast)),
        None => ballast,
    }
}

/// What the plan does not say of it, in a sentence; nothing where it says all.
#[must_use]
pub fn not_stated(place: &SitePlace) -> Option<String> {
    let what = asked(&place.not_stated);
    (!what.is_empty()).then(|| format!("Not stated, so not known: {what}."))
}

/// What is asked of a site, in a list.
pub(super) fn asked(facts: &[SiteFact]) -> String {
    facts.iter().map(|fact| fact.words()).collect::<Vec<_>>().join(", ")
}

/// When it is open, who opens it and whether there is power, as far as the plan says.
#[must_use]
pub fn facts(place: &SitePlace) -> Vec<String> {
    let access = &place.access;
    let at = |moment: &ZonedDateTime| clock(moment, &access.on);
    let hours = match (&access.open_from, &access.open_until) {
        (Some(from), Some(until)) => Some(format!("open {} to {}", at(from), at(until))),
        (Some(from), None) => Some(format!("open from {}", at(from))),
        (None, Some(until)) => Some(format!("open until {}", at(until))),
        (None, None) => None,
    };
    let opens = match (&access.key_holder, &access.phone) {
        (Some(who), Some(phone)) => Some(format!("{who} opens it, {phone}")),
        (Some(who), None) => Some(format!("{who} opens it")),
        (None, Some(phone)) => Some(format!("to have it opened: {phone}")),
        (None, None) => None,
    };
    let power = place.power.map(|power| match power {
        SitePower::Mains => "mains power there".to_owned(),
        SitePower::Nothing => "no power there".to_owned(),
    });
    hours.into_iter().chain(opens).chain(power).collect()
}

/// Lines for below a table: what to mind on each of these sites, and, of those for
/// which `in_full` says so, what is known of their doors and what is not known.
#[must_use]
pub fn place_lines(
    places: &[SitePlace],
    units: UnitSystem,
    in_full: impl Fn(&SitePlace) -> bool,
) -> String {
    let mut text = String::new();
    for place in places {
        let mind = mind(place, units);
        let full = in_full(place);
        let facts = if full { facts(place) } else { Vec::new() };
        let facts = (!facts.is_empty()).then(|| format!("{}.", facts.join("; ")));
        let unknown = not_stated(place).filter(|_| full);
        let all: Vec<String> = facts.into_iter().chain(mind).chain(unknown).collect();
        if !all.is_empty() {
            text += &format!("  {}: {}\n", place.site, all.join(" "));
        }
    }
    if text.is_empty() { text } else { format!("The places themselves\n{text}") }
}

/// A weight in kilograms and in pounds.
pub(super) fn both(kilograms: Kilograms) -> String {
    format!("{kilograms:.1} / {:.1} lb", kilograms.pounds())
}
