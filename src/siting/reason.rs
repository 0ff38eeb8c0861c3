//! Why a post works or does not, in one sentence.

use crate::link::{Direction, NoiseSource, Outcome, PathStudy};
use crate::plan::UnitSystem;
use crate::units::Db;

/// With less than this in hand ground close to the line is worth a word.
const AMPLE: Db = Db::new(10.0);

/// One sentence on the link of `study`.
pub(super) fn reason(study: &PathStudy, units: UnitSystem) -> String {
    let way = match study.budgets.governing {
        Direction::TalkIn => "talk-in",
        Direction::TalkOut => "talk-out",
    };
    let budget = study.budgets.governing_budget();
    let margin = budget.margin_db;
    let view = match study.clearance {
        Some(c) if !c.line_of_sight => match c.first_obstruction {
            Some((distance, _)) => format!(
                "ground {} from {} blocks the view, {} at the worst",
                units.distance(distance),
                study.from.name,
                units.height(-c.worst_clearance)
            ),
            None => "ground blocks the view".to_owned(),
        },
        Some(c) if c.worst_ratio < 0.6 && margin < AMPLE => format!(
            "in view, but the ground {} from {} comes close to the line",
            units.distance(c.worst_distance),
            study.from.name
        ),
        _ => "in clear view".to_owned(),
    };
    let noise = match budget.noise.governed_by {
        NoiseSource::Environment if budget.noise.environment_cost_db.value() >= 3.0 => {
            format!("; noise around the receiver costs {:.0}", budget.noise.environment_cost_db)
        }
        _ => String::new(),
    };
    let deaf = budget.noise.roof_cost_db;
    let noise = if deaf.value() >= 1.0 {
        format!("{noise}; transmitters on its own roof make the receiver {deaf:.0} deafer")
    } else {
        noise
    };
    match study.budgets.outcome {
        Outcome::Strong | Outcome::Clear => {
            format!("{view}; {way} is the weaker way with {margin:.1} in hand")
        }
        _ if margin >= Db::new(0.0) => format!(
            "{view}; either way alone would do, but not both in the same spot often enough: {:.1} is lacking{noise}",
            study.budgets.missing_db
        ),
        _ => format!("{view}; {way} lacks {:.1}{noise}", study.budgets.missing_db),
    }
}
