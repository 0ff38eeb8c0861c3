//! The points of an area or a route. Those that stay keep their text, with the
//! comments beside them, as far as only single points change.

use toml_edit::{Array, Item};

use super::source::{Cut, Source};
use super::{EditError, EntryKind, written};

/// A point of a shape as it is to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Corner {
    /// The place that it has among the points of before, where it is one of them.
    pub kept: Option<usize>,
    /// Where it is, in any way that a plan takes.
    pub at: String,
}

/// The field that holds the points of a kind of shape.
pub(super) const fn field(kind: EntryKind) -> Option<&'static str> {
    match kind {
        EntryKind::Area => Some("outline"),
        EntryKind::Route => Some("line"),
        _ => None,
    }
}

/// The text with other points for a shape.
pub(super) fn reshape(
    text: &str,
    kind: EntryKind,
    name: &str,
    corners: &[Corner],
) -> Result<String, EditError> {
    let source = Source::parse(text)?;
    let gone = || EditError::Gone { kind: kind.table(), name: name.to_owned() };
    let field = field(kind).ok_or_else(gone)?;
    let entry = source.entry(kind.table(), name)?;
    let value = entry.fields.get(field).and_then(Item::as_value).ok_or_else(gone)?;
    let single = value.as_array().and_then(|array| single_change(&source, array, corners));
    let cuts = match (single, value.span()) {
        (Some(cuts), _) => cuts,
        (None, Some(from)) => {
            let at: Vec<String> = corners.iter().map(|corner| corner.at.clone()).collect();
            vec![Cut { from, new: super::add::points(&source, &at) }]
        }
        (None, None) => return Err(gone()),
    };
    Ok(source.with(cuts))
}

/// The cuts where points have moved, or one has come or gone; nothing where more has
/// changed or the points do not stand in this list.
fn single_change(source: &Source<'_>, array: &Array, corners: &[Corner]) -> Option<Vec<Cut>> {
    let span = |index: usize| array.get(index).filter(|value| value.is_str())?.span();
    let kept: Vec<usize> = corners.iter().filter_map(|corner| corner.kept).collect();
    let in_order = kept.iter().zip(kept.iter().skip(1)).all(|(a, b)| a < b);
    let all = (0..array.len()).all(|index| span(index).is_some());
    if kept.is_empty() || !in_order || !all || kept.last().is_some_and(|k| *k >= array.len()) {
        return None;
    }
    if corners.len() == array.len() {
        // Whatever has another place takes that of the one that stood there.
        let in_place = |(index, corner): (usize, &Corner)| corner.kept.is_none_or(|k| k == index);
        if !corners.iter().enumerate().all(in_place) {
            return None;
        }
        let moved = corners.iter().enumerate().filter(|(_, corner)| corner.kept.is_none());
        return moved
            .map(|(index, corner)| Some(Cut { from: span(index)?, new: written(&corner.at) }))
            .collect();
    }
    let places = corners.iter().enumerate();
    let new: Vec<usize> =
        places.filter(|(_, corner)| corner.kept.is_none()).map(|(at, _)| at).collect();
    match new.as_slice() {
        [] if kept.len() + 1 == array.len() => {
            let gone = (0..array.len()).find(|index| kept.get(*index) != Some(index))?;
            Some(source.remove_from(array, gone))
        }
        [at] if kept.len() == array.len() => {
            let text = written(&corners.get(*at)?.at);
            Some(vec![match at.checked_sub(1) {
                Some(before) => Cut::insert(span(before)?.end, format!(", {text}")),
                None => Cut::insert(span(0)?.start, format!("{text}, ")),
            }])
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = "\
[[route]]
name = \"Run\" # two laps
line = [
  \"47.0, -34.9\", \"47.1, -34.9\", # the bridge
  \"47.2, -34.9\", # turn
]

[[area]]
name = \"Field\"
outline = { file = \"places.geojson\", name = \"Field\" } # surveyed
";

    /// Corners out of a list such as `0 2 +47.5, -34.9`.
    fn corners(list: &[&str]) -> Vec<Corner> {
        list.iter()
            .map(|text| match text.strip_prefix('+') {
                Some(at) => Corner { kept: None, at: at.to_owned() },
                None => Corner { kept: text.parse().ok(), at: format!("old {text}") },
            })
            .collect()
    }

    fn route(list: &[&str]) -> String {
        reshape(PLAN, EntryKind::Route, "Run", &corners(list)).unwrap()
    }

    #[test]
    fn a_point_moves_comes_and_goes_and_the_rest_stays() {
        let moved = route(&["0", "+47.5, -34.8", "2"]);
        assert_eq!(moved, PLAN.replace("47.1, -34.9", "47.5, -34.8"));
        let more = route(&["0", "1", "+47.15, -34.9", "2"]);
        assert_eq!(more, PLAN.replace("\"47.1, -34.9\",", "\"47.1, -34.9\", \"47.15, -34.9\","));
        let first = route(&["+46.9, -34.9", "0", "1", "2"]);
        assert_eq!(first, PLAN.replace("\"47.0,", "\"46.9, -34.9\", \"47.0,"));
        let last = route(&["0", "1", "2", "+47.3, -34.9"]);
        assert_eq!(last, PLAN.replace("\"47.2, -34.9\",", "\"47.2, -34.9\", \"47.3, -34.9\","));
        let less = route(&["0", "2"]);
        assert_eq!(less, PLAN.replace(" \"47.1, -34.9\",", ""));
    }

    #[test]
    fn another_shape_takes_the_place_of_the_whole_value() {
        let anew = route(&["+47.5, -34.8", "+47.6, -34.8"]);
        let whole: String = anew.lines().skip(2).take(3).collect();
        assert_eq!(whole, "line = [  \"47.5, -34.8\", \"47.6, -34.8\",]");
        assert!(anew.starts_with("[[route]]\nname = \"Run\" # two laps\n"), "{anew}");
        let turned = route(&["2", "1", "0"]);
        assert!(turned.contains("\"old 2\", \"old 1\", \"old 0\""), "{turned}");
        let kept = corners(&["0", "1", "+47.4, -34.8"]);
        let area = reshape(PLAN, EntryKind::Area, "Field", &kept).unwrap();
        assert!(area.contains("\"old 0\", \"old 1\", \"47.4, -34.8\",\n] # surveyed"), "{area}");
        let error = reshape(PLAN, EntryKind::Area, "Meadow", &kept).unwrap_err();
        assert_eq!(error.to_string(), "the plan has no area \"Meadow\" any more");
    }
}
