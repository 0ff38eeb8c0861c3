//! Finding the line of a field in the plan's source.

use std::collections::HashMap;

use super::{Plan, PlanError, Problem};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The parsed source: values with their places.
pub(super) struct Document<'s> {
    source: &'s str,
    root: DeTable<'s>,
    /// Bytes of the source that end a line.
    ends: Vec<usize>,
}

impl<'s> Document<'s> {
    /// Parses TOML.
    ///
    /// # Errors
    /// The parser's first complaint with its line.
    pub(super) fn parse(source: &'s str) -> Result<Self, (Option<usize>, String)> {
        match DeTable::parse(source) {
            Ok(root) => {
                let bytes = source.bytes().enumerate();
                let ends = bytes.filter(|(_, b)| *b == b'\n').map(|(at, _)| at).collect();
                Ok(Self { source, root: root.into_inner(), ends })
            }
            Err(error) => Err((
                error.span().map(|span| line_of(source, span.start)),
                error.message().replace('\n', "; "),
            )),
        }
    }

    /// The text that was parsed.
    pub(super) fn source(&self) -> &'s str {
        self.source
    }

    /// The tables and values at the top of the plan.
    pub(super) fn root(&self) -> &DeTable<'s> {
        &self.root
    }

    /// The line, counted from 1, of a byte of the source.
    pub(super) fn line_at(&self, byte: usize) -> usize {
        // Asked for every name and every problem: not counted anew each time.
        1 + self.ends.partition_point(|end| *end < byte)
    }

    /// The line of a field of the table `table`, or of its `index`th entry.
    ///
    /// `field` may go deeper, as in `antenna.gain` or `outline[2]`. Where it is
    /// not in the source the nearest thing around it that is gives the line.
    pub(super) fn line(&self, table: &str, index: Option<usize>, field: &str) -> Option<usize> {
        let mut node = self.root.get(table)?;
        if let Some(index) = index {
            node = node.get_ref().get(index)?;
        }
        for step in field.split(['.', '[']).filter(|step| !step.is_empty()) {
            let next = match step.strip_suffix(']').map(str::parse::<usize>) {
                Some(Ok(index)) => node.get_ref().get(index),
                _ => node.get_ref().get(step),
            };
            match next {
                Some(next) => node = next,
                None => break,
            }
        }
        Some(self.line_at(node.span().start))
    }

    /// The line of a key at the top of the plan.
    pub(super) fn key_line(&self, key: &str) -> Option<usize> {
        let (key, _) = self.root.get_key_value(key)?;
        Some(self.line_at(key.span().start))
    }

    /// The text under `name` in an entry of an array of tables, where it is text.
    pub(super) fn text_in<'v>(entry: &'v Spanned<DeValue<'s>>, name: &str) -> Option<&'v str> {
        entry.get_ref().get(name)?.get_ref().as_str()
    }
}

impl Plan {
    /// A problem with a field of an entry that only showed later, on the
    /// terrain for example, at the field's line of the plan.
    ///
    /// `kind` is the entry's table, such as `site`.
    #[must_use]
    pub fn problem(&self, kind: &str, name: &str, field: &str, text: String) -> Problem {
        let found = Misplaced { kind, name, field, text };
        let problem = self.problems([found]).pop();
        // There is one for each.
        problem.unwrap_or_else(|| Problem::whole(String::new()))
    }

    /// The same for many, in their order.
    #[must_use]
    pub fn problems<'n>(&self, found: impl IntoIterator<Item = Misplaced<'n>>) -> Vec<Problem> {
        let document = Document::parse(&self.text).ok();
        let mut places: HashMap<&str, HashMap<&str, usize>> = HashMap::new();
        let entries = |kind: &str| {
            let entries = document.as_ref()?.root().get(kind)?.get_ref().as_array()?;
            let names = entries.iter().map(|e| Document::text_in(e, "name").map(str::trim));
            let mut places = HashMap::new();
            for (index, name) in names.enumerate() {
                if let Some(name) = name {
                    places.entry(name).or_insert(index);
                }
            }
            Some(places)
        };
        found
            .into_iter()
            .map(|Misplaced { kind, name, field, text }| {
                let places =
                    places.entry(kind).or_insert_with(|| entries(kind).unwrap_or_default());
                let line = places
                    .get(name.trim())
                    .and_then(|index| document.as_ref()?.line(kind, Some(*index), field));
                Problem::new(line, format!("{kind} \"{name}\": {field}"), text)
            })
            .collect()
    }
}

/// What is wrong with a field of an entry of the plan.
#[derive(Debug, Clone)]
pub struct Misplaced<'n> {
    /// The entry's table, such as `site`.
    pub kind: &'n str,
    /// Its name.
    pub name: &'n str,
    /// The field.
    pub field: &'n str,
    /// What is wrong with it.
    pub text: String,
}

impl Plan {
    /// A problem with a field of a table that occurs once, which only showed
    /// later, at the field's line of the plan.
    #[must_use]
    pub fn table_problem(&self, table: &str, field: &str, text: String) -> Problem {
        let document = Document::parse(&self.text).ok();
        let line = document.and_then(|document| document.line(table, None, field));
        Problem::new(line, format!("{table}: {field}"), text)
    }

    /// What is wrong with the elevation files, at the line of the file that
    /// `text` names, or of the list of files.
    #[must_use]
    pub fn terrain_error(&self, text: String) -> PlanError {
        let index = self.terrain.files.iter().position(|f| text.contains(&*f.to_string_lossy()));
        let field = index.map_or_else(|| "files".to_owned(), |i| format!("files[{i}]"));
        let line = Document::parse(&self.text)
            .ok()
            .and_then(|document| document.line("terrain", None, &field));
        let problem = Problem::new(line, format!("terrain: {field}"), text);
        PlanError::new(&self.file, vec![problem])
    }
}

/// The line, counted from 1, of a byte of `source`.
pub(super) fn line_of(source: &str, byte: usize) -> usize {
    let before = source.as_bytes().get(..byte).unwrap_or(source.as_bytes());
    1 + before.iter().filter(|b| **b == b'\n').count()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOURCE: &str = "\
[event]
name = \"Lights\"

[[site]]
name = \"Elevator\"
roof = \"30 m above ground\"

[[site]]
# a comment between
name = \"Hotel\"
antenna = { gain = \"3 dBd\",
            pattern = \"dipole\" }
outline = [
  \"1, 2\",
  \"3, 4\",
]
";

    #[test]
    fn fields_are_found_on_the_lines_a_person_counts() {
        let document = Document::parse(SOURCE).unwrap();
        assert_eq!(document.line("event", None, "name"), Some(2));
        assert_eq!(document.line("site", Some(0), "roof"), Some(6));
        assert_eq!(document.line("site", Some(1), "name"), Some(10));
        assert_eq!(document.line("site", Some(1), "antenna.pattern"), Some(12));
        assert_eq!(document.line("site", Some(1), "outline[1]"), Some(15));
    }

    #[test]
    fn a_missing_field_is_put_at_the_head_of_its_table() {
        let document = Document::parse(SOURCE).unwrap();
        assert_eq!(document.line("site", Some(1), "roof"), Some(8));
        assert_eq!(document.line("event", None, "starts"), Some(1));
        assert_eq!(document.line("post", Some(0), "at"), None);
    }

    #[test]
    fn windows_line_ends_count_once() {
        let source = SOURCE.replace('\n', "\r\n");
        let document = Document::parse(&source).unwrap();
        assert_eq!(document.line("site", Some(0), "roof"), Some(6));
    }

    #[test]
    fn a_syntax_error_has_its_line() {
        let error = Document::parse("[event]\nname = \"a\"\nstarts = = 3\n").err().unwrap();
        assert_eq!(error.0, Some(3));
    }
}
