//! What there is to know of a plan, each remark with the field that it is about.

use serde::Serialize;

use perchline_assessment::Assessment;
use perchline_plan::{FieldTable, Misplaced, Written};

use super::values::{self, Step, path, row};

/// A remark on the plan as a page shows it.
#[derive(Debug, Serialize)]
pub struct Finding {
    about: String,
    text: String,
    line: Option<usize>,
    place: Option<Place>,
}

/// A field of a form, or the form where no field is meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Place {
    table: &'static str,
    /// The entry; empty for a table of which there is one.
    name: String,
    /// The field; empty for the entry as a whole.
    field: String,
}

/// Everything that `check` says of a plan without problems, in its order.
#[must_use]
pub fn findings(opened: &Assessment) -> Vec<Finding> {
    let plan = &opened.plan;
    let places: Vec<Option<Place>> =
        opened.remarks.iter().map(|remark| Place::told(&remark.about)).collect();
    let misplaced = places.iter().flatten().map(|place| Misplaced {
        kind: place.table,
        name: &place.name,
        field: &place.field,
        text: String::new(),
    });
    let mut lines = plan.problems(misplaced).into_iter().map(|problem| problem.line());
    let found = opened.remarks.iter().zip(places);
    found
        .map(|(remark, place)| {
            let of_entry = place.as_ref().and_then(|_| lines.next().flatten());
            let of_table = || {
                let place = place.as_ref().filter(|place| place.name.is_empty())?;
                plan.table_problem(place.table, &place.field, String::new()).line()
            };
            Finding {
                line: of_entry.or_else(of_table),
                about: remark.about.clone(),
                text: remark.text.clone(),
                place,
            }
        })
        .collect()
}

impl Place {
    /// The place that a remark or a problem is about, where it is one of the plan:
    /// `radio "Desk": antenna.gain`, `event: starts`.
    #[must_use]
    pub fn told(about: &str) -> Option<Self> {
        let end = about.find(|c: char| !(c.is_ascii_lowercase() || c == '_'));
        let (word, rest) = about.split_at_checked(end.unwrap_or(about.len()))?;
        let declared = values::table(word)?;
        let (name, field) = if declared.many {
            // A name may hold anything, a field's name may not.
            let rest = rest.strip_prefix(" \"")?;
            match rest.rsplit_once("\": ").filter(|(_, field)| is_field(field)) {
                Some(found) => found,
                None => (rest.strip_suffix('"')?, ""),
            }
        } else {
            ("", if rest.is_empty() { "" } else { rest.strip_prefix(": ")? })
        };
        let (name, field) = (name.to_owned(), of_form(declared, field));
        Some(Self { table: declared.table, name, field })
    }
}

fn is_field(text: &str) -> bool {
    let may = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "_.[]".contains(c);
    !text.is_empty() && text.chars().all(may)
}

/// The field of the form that holds a field, such as `posts` for `posts[2]`.
fn of_form(declared: &'static FieldTable, field: &str) -> String {
    let mut steps = path(field).unwrap_or_default();
    while !steps.is_empty() {
        if let Some(row) = row(declared, &steps) {
            if row.written != Written::Tables
                && let Some(last) = steps.last_mut()
            {
                last.index = None;
            }
            break;
        }
        steps.pop();
    }
    let step = |step: &Step| match step.index {
        Some(index) => format!("{}[{index}]", step.key),
        None => step.key.clone(),
    };
    steps.iter().map(step).collect::<Vec<_>>().join(".")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_leads_to_its_field() {
        let told = |about: &str| {
            let place = Place::told(about)?;
            Some((place.table, place.name, place.field))
        };
        let at = |table, name: &str, field: &str| Some((table, name.to_owned(), field.to_owned()));
        assert_eq!(told("radio \"Desk\": antenna.gain"), at("radio", "Desk", "antenna.gain"));
        assert_eq!(told("site \"A\": b\": roof"), at("site", "A\": b", "roof"));
        assert_eq!(told("post \"A\": b\""), at("post", "A\": b", ""));
        assert_eq!(told("group \"Aid\": posts[2]"), at("group", "Aid", "posts"));
        assert_eq!(told("radio \"x\": band[1].from"), at("radio", "x", "band[1].from"));
        assert_eq!(told("radio \"x\": band[1].nothing"), at("radio", "x", "band[1]"));
        assert_eq!(told("event: starts"), at("event", "", "starts"));
        assert_eq!(told("terrain: files[0]"), at("terrain", "", "files"));
        assert_eq!(told("prediction"), at("prediction", "", ""));
        for other in ["", "hill.asc", "radio 3: power", "post", "event starts", "\"post\""] {
            assert_eq!(told(other), None, "{other}");
        }
    }
}
