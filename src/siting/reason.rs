//! Why a post works or does not, in one sentence.

use perchline_link::{Direction, NoiseSource, Outcome, PathStudy};
use perchline_plan::UnitSystem;
use perchline_profile::Profile;
use perchline_units::{Db, Metres};

/// With less than this in hand ground close to the line is worth a word.
const AMPLE: Db = Db::new(10.0);

/// Links shorter than this are told of: the methods hold from some wavelengths on
/// (ours).
const NEAREST: Metres = Metres::new(10.0);

/// What a ridge seems to give is told from here on: more than what a person moves
/// between good spots and bad (ours).
const GIVEN_BY_A_RIDGE: Db = Db::new(10.0);

/// One sentence on the link of `study`.
#[must_use]
pub fn reason(study: &PathStudy, units: UnitSystem) -> String {
    let way = match study.budgets.governing {
        Direction::TalkIn => "talk-in",
        Direction::TalkOut => "talk-out",
    };
    let budget = study.budgets.governing_budget();
    let margin = budget.margin_db;
    let view = match study.clearance {
        Some(c) if !c.line_of_sight => match c.first_obstruction {
            Some((distance, _)) => format!(
                "{} {} from {} blocks line of sight, by {} at the worst",
                standing(&study.profile, distance),
                units.distance(distance),
                study.from.name,
                units.height(-c.worst_clearance)
            ),
            None => "ground blocks line of sight".to_owned(),
        },
        Some(c) if c.worst_ratio < 0.6 && margin < AMPLE => format!(
            "line of sight, but {} {} from {} comes close to it",
            standing(&study.profile, c.worst_distance),
            units.distance(c.worst_distance),
            study.from.name
        ),
        _ => "clear line of sight".to_owned(),
    };
    let noise = match budget.noise.governed_by {
        NoiseSource::Environment if budget.noise.environment_cost_db.value() >= 3.0 => {
            format!("; noise around the receiver costs {:.0}", budget.noise.environment_cost_db)
        }
        _ => String::new(),
    };
    let deaf = budget.noise.roof_cost_db;
    let noise = if deaf.value() >= 1.0 {
        format!("{noise}; transmitters on its own roof desense the receiver by {deaf:.0}")
    } else {
        noise
    };
    let seldom = match budget.noise.desense_at_times {
        Some(d) if d.cost_db.value() >= 1.0 => format!(
            "; {:.0} of desense comes on top while the roof's own transmitters send",
            d.cost_db
        ),
        _ => String::new(),
    };
    let noise = noise + &seldom;
    let near = if study.distance < NEAREST {
        format!(
            "; {} is nearer than {}, where antennas and bodies couple and the loss is a guess",
            units.distance(study.distance),
            units.distance(NEAREST)
        )
    } else {
        String::new()
    };
    let ridge = match (study.obstacle_gain, study.clearance) {
        (Some(gain), Some(clearance)) if gain >= GIVEN_BY_A_RIDGE => format!(
            "; it lives on the crest {} from {}, without which it would have {gain:.0} less (obstacle gain): beside the path there may be less",
            units.distance(clearance.worst_distance),
            study.from.name
        ),
        _ => String::new(),
    };
    let near = ridge + &near;
    match study.budgets.outcome {
        Outcome::Strong | Outcome::Clear => {
            format!("{view}; {way} is the limiting direction with {margin:.1} in hand{near}")
        }
        _ if margin >= Db::new(0.0) => {
            format!(
                "{view}; either way alone would do, but not both in the same spot often enough: {:.1} is lacking{noise}",
                study.budgets.missing_db
            ) + &near
        }
        _ => {
            let both = at_once(study);
            let both = both.map_or_else(String::new, |b| format!(", both ways at once {b}"));
            format!("{view}; {way} lacks {:.1}{both}{noise}{near}", -margin)
        }
    }
}

/// What both ways at once lack, where that reads as more than the limiting direction
/// lacks by itself.
#[must_use]
pub fn at_once(study: &PathStudy) -> Option<String> {
    let alone = format!("{:.1}", -study.budgets.governing_budget().margin_db);
    Some(format!("{:.1}", study.budgets.missing_db)).filter(|both| *both != alone)
}

/// What the point of a profile at this distance is made of.
fn standing(profile: &Profile, distance: Metres) -> &'static str {
    let at = profile.distances().partition_point(|d| *d < distance.value());
    let covered = profile.cover().get(at).is_some_and(|cover| *cover > 0.0);
    if covered { "a roof or a tree" } else { "ground" }
}
