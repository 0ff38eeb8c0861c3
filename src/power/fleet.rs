//! Hand-helds and the people who carry them: spare packs and weights.

use serde::Serialize;

use perchline_plan::{Chemistry, Crew, Item, Pack, Plan};
use perchline_units::{Celsius, Hours, Kilograms, Ohms, WattHours};

use super::battery::{Battery, pack_weight};
use super::chemistry::{capacity_share, traits};
use super::discharge::Rundown;
use super::error::PowerError;
use super::load::Load;
use super::site_air::SiteAir;

/// More than this on a person who walks all day is remarked (common practice,
/// no source).
pub const HEAVY: Kilograms = Kilograms::new(5.0);

/// Most packs that a shift is followed for.
const MOST_PACKS: u32 = 50;

/// One line of a person's loading list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LoadingLine {
    /// What it is.
    pub what: String,
    /// How many each person carries, or how many go up to a station.
    pub count: u32,
    /// How many of these are spare ones.
    pub spares: u32,
    /// Weight of all of these.
    pub weight_kg: Kilograms,
    /// For something with a battery of its own: how long that lasts as expected.
    pub lasts_h: Option<Hours>,
    /// For the same: how long in the poor case.
    pub poor_lasts_h: Option<Hours>,
    /// For the same: energy that is missing until the end of the shift in the
    /// poor case, of each that is in use.
    pub short_wh: Option<WattHours>,
    /// For a power bank: what it gives, and to what.
    pub recharges: Option<Recharge>,
}

/// What power banks of one kind give to what they recharge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recharge {
    /// What they recharge.
    pub items: Vec<String>,
    /// What all of them give in the poor case.
    pub gives_wh: WattHours,
    /// What these items still lack in the poor case after all power banks;
    /// nothing where they lack nothing.
    pub short_wh: Option<WattHours>,
}

impl LoadingLine {
    /// Some things without batteries of their own that are followed.
    pub(super) fn of(what: String, count: u32, each: Kilograms) -> Self {
        Self {
            what,
            count,
            spares: 0,
            weight_kg: each * f64::from(count),
            lasts_h: None,
            poor_lasts_h: None,
            short_wh: None,
            recharges: None,
        }
    }
}

/// What a crew needs for its shift.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrewNeeds {
    /// The crew.
    pub crew: String,
    /// How many they are.
    pub people: u32,
    /// Length of the shift.
    pub shift_h: Hours,
    /// Run time of the first pack as planned; nothing if it outlasts the shift by a day.
    pub pack_lasts_h: Option<Hours>,
    /// The same in the poor case.
    pub poor_pack_lasts_h: Option<Hours>,
    /// Packs that each needs to run through the shift in the poor case, the one
    /// on the radio included; nothing if no number does.
    pub packs_each: Option<u32>,
    /// Spare packs for all of them together.
    pub spares_total: Option<u32>,
    /// What each person carries.
    pub lines: Vec<LoadingLine>,
    /// Weight on each person.
    pub weight_each_kg: Kilograms,
    /// Weight of the whole crew's kit.
    pub weight_total_kg: Kilograms,
}

/// The needs of every crew of a plan, in its order.
///
/// # Errors
/// [`PowerError`] when a crew has neither a forecast nor `kept_at`.
pub fn crew_needs(plan: &Plan) -> Result<Vec<CrewNeeds>, PowerError> {
    needs_of_each_crew(plan).into_iter().collect()
}

/// The same by itself for each crew.
///
/// # Errors
/// [`PowerError`] in the place of each crew that has neither a forecast nor `kept_at`.
pub fn needs_of_each_crew(plan: &Plan) -> Vec<Result<CrewNeeds, PowerError>> {
    plan.power
        .crews
        .iter()
        // A checked plan's indices all lead somewhere.
        .filter_map(|crew| Some((crew, plan.power.packs.get(crew.pack)?)))
        .map(|(crew, pack)| needs(plan, crew, pack))
        .collect()
}

fn needs(plan: &Plan, crew: &Crew, pack: &Pack) -> Result<CrewNeeds, PowerError> {
    let air = SiteAir::new(plan, &plan.event.starts, crew.kept_at, ("crew", &crew.name))?;
    let rundown = Rundown {
        battery: Battery::of(pack, 1),
        load: Load::new(&crew.currents, &crew.traffic, &[], None),
        lead: Ohms::new(0.0),
        cutoff: crew.cutoff,
    };
    let longest = crew.shift + Hours::new(24.0);
    let first = rundown.run(&air, longest).stopped.map(|(at, _)| at);
    let poor = poor_case(&rundown);
    let poor_first = poor.run(&air.clone().warmer(POOR_WARMER), longest).stopped.map(|(at, _)| at);
    let packs_each = packs_for(&poor, &air, crew.shift);
    let carried = packs_each.unwrap_or(1);
    let mut lines = vec![
        LoadingLine::of("hand-held".to_owned(), 1, crew.radio_weight.unwrap_or(TYPICAL_RADIO)),
        LoadingLine {
            lasts_h: first,
            poor_lasts_h: poor_first,
            ..LoadingLine::of(format!("pack, {}", pack.name), carried, pack_weight(pack))
        },
    ];
    lines.extend(item_lines(&crew.items, Some(&air), crew.shift));
    let weight = lines.iter().fold(Kilograms::new(0.0), |sum, line| sum + line.weight_kg);
    Ok(CrewNeeds {
        crew: crew.name.clone(),
        people: crew.people,
        shift_h: crew.shift,
        pack_lasts_h: first,
        poor_pack_lasts_h: poor_first,
        packs_each,
        spares_total: packs_each.map(|n| (n - 1) * crew.people),
        lines,
        weight_each_kg: weight,
        weight_total_kg: weight * f64::from(crew.people),
    })
}

/// Items with their batteries over a shift; without air nothing is known of these.
pub(super) fn item_lines(items: &[Item], air: Option<&SiteAir>, shift: Hours) -> Vec<LoadingLine> {
    let own: Vec<Option<OwnBattery>> =
        items.iter().map(|item| OwnBattery::of(item, air?, shift)).collect();
    // What all of each kind lack, less what power banks have given them so far.
    let mut lacking: Vec<f64> = items
        .iter()
        .zip(&own)
        .map(|(item, own)| {
            own.and_then(|own| own.short).map_or(0.0, |s| s.value()) * f64::from(item.count)
        })
        .collect();
    let gives: Vec<Option<f64>> = items
        .iter()
        .map(|item| {
            let gives = bank_gives(item, air?, shift)?.value();
            let mut left = gives;
            for (lack, other) in lacking.iter_mut().zip(items) {
                if item.recharges.contains(&other.name) {
                    let given = lack.min(left);
                    *lack -= given;
                    left -= given;
                }
            }
            Some(gives)
        })
        .collect();
    let line = |((item, own), gives): ((&Item, &Option<OwnBattery>), &Option<f64>)| {
        let short: f64 = items
            .iter()
            .zip(&lacking)
            .filter(|(other, _)| item.recharges.contains(&other.name))
            .map(|(_, lack)| lack)
            .sum();
        LoadingLine {
            spares: item.spares,
            lasts_h: own.map(|own| own.expected),
            poor_lasts_h: own.map(|own| own.poor),
            short_wh: own.and_then(|own| own.short),
            recharges: gives.map(|gives| Recharge {
                items: item.recharges.clone(),
                gives_wh: WattHours::new(gives),
                short_wh: (short > 1e-9).then(|| WattHours::new(short)),
            }),
            ..LoadingLine::of(item.name.clone(), item.count + item.spares, item.weight)
        }
    };
    items.iter().zip(&own).zip(&gives).map(line).collect()
}

/// What all power banks of an item give in the poor case; nothing if it is none.
fn bank_gives(item: &Item, air: &SiteAir, shift: Hours) -> Option<WattHours> {
    let holds = item.holds.filter(|_| !item.recharges.is_empty())?;
    let banks = f64::from(item.count + item.spares);
    Some(holds * (aged(item) * in_the_cold(air, shift) * BANK_EFFICIENCY * banks))
}

/// What of a power bank's energy ends in the batteries that it recharges (common
/// practice, no source: its converter and the charging lose about a third).
const BANK_EFFICIENCY: f64 = 0.7;

/// Share of the capacity of an item's battery that its age has left.
fn aged(item: &Item) -> f64 {
    (1.0 - traits(Chemistry::LithiumIon).fade_a_year).powf(item.age_years)
}

/// Share of a battery's capacity that the poor case leaves at the coldest of a
/// shift, its age apart.
fn in_the_cold(air: &SiteAir, shift: Hours) -> f64 {
    let (cold, _) = air.range(shift);
    let celsius = Celsius::new(cold.value() + POOR_WARMER);
    capacity_share(Chemistry::LithiumIon, celsius) * POOR_CAPACITY
}

/// How long the battery inside something lasts.
#[derive(Debug, Clone, Copy)]
struct OwnBattery {
    expected: Hours,
    poor: Hours,
    short: Option<WattHours>,
}

impl OwnBattery {
    /// The battery of `item` over a shift, as lithium-ion of its age, and its spare
    /// ones after it: as expected at the middle of the shift's temperatures; in the
    /// poor case as a pack's, at the coldest of them. Nothing if it has none.
    fn of(item: &Item, air: &SiteAir, shift: Hours) -> Option<Self> {
        let (uses, holds) = item.uses.zip(item.holds)?;
        let (cold, warm) = air.range(shift);
        let middle = Celsius::new(f64::midpoint(cold.value(), warm.value()));
        let each = 1.0 + f64::from(item.spares) / f64::from(item.count);
        let full = holds * (aged(item) * each);
        let expected = full * capacity_share(Chemistry::LithiumIon, middle);
        let poor = full * in_the_cold(air, shift);
        let poor_uses = uses * POOR_TRAFFIC;
        let short = poor_uses * shift - poor;
        Some(Self {
            expected: Hours::new(expected.value() / uses.value()),
            poor: Hours::new(poor.value() / poor_uses.value()),
            short: (short.value() > 0.0).then_some(short),
        })
    }
}

/// The poor case of what people carry: a tenth less capacity, three degrees
/// colder, a quarter more use.
const POOR_CAPACITY: f64 = 0.9;
const POOR_WARMER: f64 = -3.0;
const POOR_TRAFFIC: f64 = 1.25;

/// Weight of a hand-held with antenna and without pack where the plan is silent
/// (typical, from memory).
const TYPICAL_RADIO: Kilograms = Kilograms::new(0.18);

/// The same packs and radios in the poor case.
fn poor_case(rundown: &Rundown) -> Rundown {
    Rundown {
        battery: rundown.battery.scaled(POOR_CAPACITY),
        load: rundown.load.busier(POOR_TRAFFIC),
        ..rundown.clone()
    }
}

/// Packs until the end of the shift in the poor case.
fn packs_for(poor: &Rundown, air: &SiteAir, shift: Hours) -> Option<u32> {
    let mut at = Hours::new(0.0);
    for packs in 1..=MOST_PACKS {
        let air = air.later(at).warmer(POOR_WARMER);
        match poor.run(&air, shift - at).stopped {
            None => return Some(packs),
            Some((lasted, _)) => at += lasted,
        }
    }
    None
}
