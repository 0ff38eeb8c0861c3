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
    /// How many each person carries.
    pub count: u32,
    /// Weight of all of these.
    pub weight_kg: Kilograms,
    /// For something with a battery of its own: how long that lasts as expected.
    pub lasts_h: Option<Hours>,
    /// For the same: how long in the poor case; nothing for the radio's packs.
    pub poor_lasts_h: Option<Hours>,
    /// For the same: energy that is missing until the end of the shift in the
    /// poor case.
    pub short_wh: Option<WattHours>,
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
        cut_out: crew.cut_out,
    };
    let longest = crew.shift + Hours::new(24.0);
    let first = rundown.run(&air, longest).stopped.map(|(at, _)| at);
    let packs_each = packs_for(&rundown, &air, crew.shift);
    let carried = packs_each.unwrap_or(1);
    let mut lines = vec![
        LoadingLine {
            what: "hand-held".to_owned(),
            count: 1,
            weight_kg: crew.radio_weight.unwrap_or(TYPICAL_RADIO),
            lasts_h: None,
            poor_lasts_h: None,
            short_wh: None,
        },
        LoadingLine {
            what: format!("pack, {}", pack.name),
            count: carried,
            weight_kg: pack_weight(pack) * f64::from(carried),
            lasts_h: first,
            poor_lasts_h: None,
            short_wh: None,
        },
    ];
    lines.extend(crew.items.iter().map(|item| {
        let own = OwnBattery::of(item, &air, crew.shift);
        LoadingLine {
            what: item.name.clone(),
            count: item.count,
            weight_kg: item.weight * f64::from(item.count),
            lasts_h: own.map(|own| own.expected),
            poor_lasts_h: own.map(|own| own.poor),
            short_wh: own.and_then(|own| own.short),
        }
    }));
    let weight = lines.iter().fold(Kilograms::new(0.0), |sum, line| sum + line.weight_kg);
    Ok(CrewNeeds {
        crew: crew.name.clone(),
        people: crew.people,
        shift_h: crew.shift,
        pack_lasts_h: first,
        packs_each,
        spares_total: packs_each.map(|n| (n - 1) * crew.people),
        lines,
        weight_each_kg: weight,
        weight_total_kg: weight * f64::from(crew.people),
    })
}

/// How long the battery inside something lasts.
#[derive(Debug, Clone, Copy)]
struct OwnBattery {
    expected: Hours,
    poor: Hours,
    short: Option<WattHours>,
}

impl OwnBattery {
    /// The battery of `item` over a shift, as lithium-ion of its age: as expected
    /// at the middle of the shift's temperatures; in the poor case as a pack's,
    /// at the coldest of them. Nothing if it has none.
    fn of(item: &Item, air: &SiteAir, shift: Hours) -> Option<Self> {
        let (uses, holds) = item.uses.zip(item.holds)?;
        let aged = (1.0 - traits(Chemistry::LithiumIon).fade_a_year).powf(item.age_years);
        let (cold, warm) = air.range(shift);
        let middle = Celsius::new(f64::midpoint(cold.value(), warm.value()));
        let at = |celsius| holds * (aged * capacity_share(Chemistry::LithiumIon, celsius));
        let poor = at(Celsius::new(cold.value() + POOR_WARMER)) * POOR_CAPACITY;
        let poor_uses = uses * POOR_TRAFFIC;
        let short = poor_uses * shift - poor;
        Some(Self {
            expected: Hours::new(at(middle).value() / uses.value()),
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

/// Packs until the end of the shift in the poor case.
fn packs_for(rundown: &Rundown, air: &SiteAir, shift: Hours) -> Option<u32> {
    let poor = Rundown {
        battery: rundown.battery.scaled(POOR_CAPACITY),
        load: rundown.load.busier(POOR_TRAFFIC),
        ..rundown.clone()
    };
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
