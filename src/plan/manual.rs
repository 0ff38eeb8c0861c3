//! The reference tables of the manual, out of the declarations of the fields.

use std::fmt::Write;

use super::field::{Allowed, FieldRow};
use super::typed::{METHOD, TABLES};

/// A table of the plan with its fields, those of the tables inside it among them.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldTable {
    /// Its name in the plan, such as `masts`.
    pub table: &'static str,
    /// Whether a plan may have many, each with a name.
    pub many: bool,
    /// Its fields, in the order of the manual.
    pub fields: Vec<FieldRow>,
}

/// Every table of the plan with what its fields are, allow and default to, as the
/// manual has them: those of a table inside of two others stand once.
///
/// `methods` are the names of the propagation methods that a plan may ask
/// for, as in [`super::read()`]; the first is the default.
#[must_use]
pub fn field_tables(methods: &[&str]) -> Vec<FieldTable> {
    let mut tables = form_tables(methods);
    tables.iter_mut().for_each(|table| table.fields.retain(|row| !row.elsewhere));
    tables
}

/// The same with every field of every table, for forms.
#[must_use]
pub fn form_tables(methods: &[&str]) -> Vec<FieldTable> {
    let mut tables: Vec<FieldTable> = TABLES
        .iter()
        .map(|(table, many, rows)| FieldTable { table, many: *many, fields: rows("") })
        .collect();
    let (table, field) = METHOD;
    let rows = tables.iter_mut().filter(|found| found.table == table).flat_map(|t| &mut t.fields);
    for row in rows.filter(|row| row.field == field) {
        row.set_words(methods);
    }
    tables
}

impl FieldTable {
    /// The table as the manual shows it, in Markdown: field, what it is, what
    /// holds where it is left out, and what is allowed.
    #[must_use]
    pub fn markdown(&self) -> String {
        let mut text = "| field | what | default | allowed |\n|---|---|---|---|\n".to_owned();
        for row in &self.fields {
            let cells = [&*format!("`{}`", row.field), &row.what, &row.default, &row.allowed_words];
            for cell in cells {
                // Writing into a text never fails.
                let _ = write!(text, "|{}{}", if cell.is_empty() { "" } else { " " }, cell);
                text.push(' ');
            }
            text.push_str("|\n");
        }
        text
    }
}

impl FieldRow {
    /// Makes it a choice of these words, the first of which is the default.
    fn set_words(&mut self, words: &[&str]) {
        let code: Vec<String> = words.iter().map(|word| format!("`\"{word}\"`")).collect();
        self.default = code.first().cloned().unwrap_or_default();
        self.typed_default = words.first().map(|word| (*word).into());
        self.allowed = Allowed::Words(words.iter().map(|word| (*word).to_owned()).collect());
        self.allowed_words = code.join(", ");
    }
}
