//! What somebody may have meant.

/// How alike two names are at the least for one to be offered for the other
/// (Jaro-Winkler, 0 to 1).
const ALIKE: f64 = 0.8;

/// Longest text, in bytes, that may be a slip for a name: comparing takes the
/// product of the lengths.
const LONGEST: usize = 400;

/// "Did you mean": the name that comes nearest to what was typed, if any is
/// near at all.
pub fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    if typed.len() > LONGEST {
        return None;
    }
    names
        .map(|name| (strsim::jaro_winkler(name, typed), name))
        .filter(|(alike, _)| *alike > ALIKE)
        .max_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, name)| name)
}
