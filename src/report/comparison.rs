//! Every method on one path side by side, and the spread in a sentence.

use comfy_table::ColumnConstraint;
use serde_json::{Value, json};

use perchline_link::{Cause, Comparison, Difference, Direction, MethodLosses, Outside, PathStudy};
use perchline_plan::{Service, UnitSystem};
use perchline_propagation::{Model, Obstructions};
use perchline_units::Db;

use super::screen::{Rows, Screen};
use super::tables::{path_headline, table};
use super::words;

/// Methods closer than this may as well be one.
const ALIKE: Db = Db::new(3.0);

/// How many causes of a spread are told.
const CAUSES_TOLD: usize = 3;

/// The head of the link, a line for each method, and what sets them apart.
#[must_use]
pub fn comparison_table(study: &PathStudy, compared: &Comparison, units: UnitSystem) -> Screen {
    let budgets = &study.budgets;
    let ways = [&budgets.talk_in, &budgets.talk_out].map(|budget| {
        let way = match study.service {
            Service::Simplex { .. } => "either way",
            _ => words::way(budget.direction),
        };
        format!("{way}, {} MHz", words::megahertz(budget.frequency_mhz))
    });
    let [inward, outward] = &ways;
    let header =
        ["Method", inward, outward, "Over free space", "Margin", "Model", "Outside its range"];
    let mut out = table(header, &[1, 2, 3, 4]);
    for method in &compared.methods {
        let losses = &method.losses;
        out.add_row([
            method.method.to_owned(),
            format!("{:.1}", losses.talk_in.total()),
            format!("{:.1}", losses.talk_out.total()),
            format!("{:+.1}", losses.talk_out.beyond_free_space()),
            format!("{:+.1}", method.margin),
            models(method),
            method.outside.iter().map(|o| outside(o, units)).collect::<Vec<_>>().join("; "),
        ]);
    }
    if inward == outward
        && let Some(column) = out.column_mut(1)
    {
        column.set_constraint(ColumnConstraint::Hidden);
    }
    // A column that tells nothing is left out.
    let stand_in = compared.methods.iter().any(|method| models(method) != method.method);
    let is_outside = compared.methods.iter().any(|method| !method.outside.is_empty());
    for (index, told) in [(5, stand_in), (6, is_outside)] {
        if let Some(column) = out.column_mut(index).filter(|_| !told) {
            column.set_constraint(ColumnConstraint::Hidden);
        }
    }
    Screen::default()
        .rows(Rows::of(path_headline(study, units) + ".\n", out, "methods"))
        .both(explanation(study, compared, units) + "\n")
}

/// The models behind both losses of a method, once if they are alike.
fn models(method: &MethodLosses) -> String {
    let (inward, outward) = (method.losses.talk_in.model, method.losses.talk_out.model);
    if inward == outward {
        return outward.to_string();
    }
    let [way_in, way_out] = [Direction::TalkIn, Direction::TalkOut].map(words::way);
    format!("{way_in} {inward}, {way_out} {outward}")
}

/// The same for programs.
#[must_use]
pub fn comparison_json(study: &PathStudy, compared: &Comparison, units: UnitSystem) -> Value {
    let method = |m: &MethodLosses| {
        json!({
            "method": m.method,
            "talk_in_loss_db": m.losses.talk_in.total(),
            "talk_out_loss_db": m.losses.talk_out.total(),
            "talk_in_over_free_space_db": m.losses.talk_in.beyond_free_space(),
            "talk_out_over_free_space_db": m.losses.talk_out.beyond_free_space(),
            "talk_in_model": m.losses.talk_in.model,
            "talk_out_model": m.losses.talk_out.model,
            "governing_margin_db": m.margin,
            "outcome": m.outcome,
            "edges": m.edges.len(),
            "outside": m.outside.iter().map(|o| outside(o, units)).collect::<Vec<_>>(),
        })
    };
    json!({
        "methods": compared.methods.iter().map(method).collect::<Vec<_>>(),
        "spread_db": compared.spread(),
        "explanation": explanation(study, compared, units),
    })
}

fn outside(outside: &Outside, units: UnitSystem) -> String {
    match *outside {
        Outside::Frequency(at, [from, to]) => format!("{at}: given for {from} to {to}"),
        Outside::Distance(length, [from, to]) => format!(
            "{}: given for {} to {}",
            units.distance(length),
            units.distance(from),
            units.distance(to)
        ),
    }
}

/// One sentence on how far the methods are apart, and why.
fn explanation(study: &PathStudy, compared: &Comparison, units: UnitSystem) -> String {
    let spread = compared.spread();
    let [(lowest, least), (highest, most)] = compared.extremes;
    let causes: String = compared
        .causes
        .iter()
        .take(CAUSES_TOLD)
        .map(|difference| format!("; {}", words_for(difference, compared)))
        .collect();
    let seen = ridges(study, compared, units);
    if spread >= ALIKE {
        format!(
            "Free space aside, they differ by {spread:.0}, from {lowest} ({least:.0}) to {highest} ({most:.0}): {seen}{causes}. Plan for the worst."
        )
    } else {
        format!("Free space aside, they agree within {spread:.1}: {seen}{causes}.")
    }
}

/// What the knife-edge methods see on the way.
fn ridges(study: &PathStudy, compared: &Comparison, units: UnitSystem) -> String {
    let edges = compared.that_counts(Obstructions::EveryRidge).map_or(&[][..], |m| &m.edges);
    let from = &study.from.name;
    let worst = edges.iter().max_by(|a, b| a.nu.total_cmp(&b.nu));
    match (edges.len(), worst) {
        (1, Some(edge)) => format!(
            "the knife-edge methods see one ridge, {} from {from}",
            units.distance(edge.distance)
        ),
        (count, Some(edge)) => format!(
            "the knife-edge methods see {count} ridges, the worst {} from {from}",
            units.distance(edge.distance)
        ),
        (_, None) => "no ridge comes near the line".to_owned(),
    }
}

/// What sets two methods apart, in words.
fn words_for(difference: &Difference, compared: &Comparison) -> String {
    let Difference { cause, with, without, by } = *difference;
    let amount = Db::new(by.value().abs());
    let less = by.value() < 0.0;
    let change = if less { "takes off" } else { "adds" };
    let change_of_many = if less { "take off" } else { "add" };
    match cause {
        Cause::OtherRidges => {
            format!("the ridges beside the worst {change_of_many} {amount:.0} ({with})")
        }
        Cause::Horizons => format!(
            "{with} {change} {amount:.0} over that edge alone, for its horizons and a fixed allowance"
        ),
        Cause::Shoulders => format!(
            "{with} {change} {amount:.0} over that edge alone, for its shoulders and a fixed allowance"
        ),
        Cause::SmoothEarth => {
            let counting = compared.methods.iter().filter(|m| m.counted.smooth_earth);
            let names: Vec<_> = counting.map(|m| m.method).collect();
            let names = names.join(" and ");
            format!("smooth ground under low antennas {change} {amount:.0}, which {names} count")
        }
        Cause::Climate(Model::Method(_)) if less => {
            format!("scatter, ducts and the share of time take off {amount:.0} in {with}")
        }
        Cause::Climate(Model::Method(_)) => format!("{with} has {amount:.0} more than {without}"),
        Cause::Climate(model) => {
            format!("on so short a path {with} hands over ({model}), which {change} {amount:.0}")
        }
    }
}
