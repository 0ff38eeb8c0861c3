//! What is wrong with a plan: every problem found, each with its place.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::units::{listed, printable};

/// Longest text of a problem, in bytes: what it repeats may be the whole file.
const LONGEST: usize = 4000;

/// One thing that is wrong with a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    line: Option<usize>,
    field: String,
    text: String,
}

impl Problem {
    /// A problem of the field named `field`, seen on `line` of the plan.
    ///
    /// What it repeats of files and of the plan is made printable here.
    #[must_use]
    pub(crate) fn new(line: Option<usize>, field: String, text: String) -> Self {
        let mut text = printable(&text);
        if text.len() > LONGEST {
            text.truncate(text.floor_char_boundary(LONGEST));
            text.push_str("...");
        }
        Self { line, field: listed(&field), text }
    }

    /// A problem of the file as a whole.
    #[must_use]
    pub(crate) fn whole(text: String) -> Self {
        Self::new(None, String::new(), text)
    }

    /// The line of the plan, counted from 1; `None` for the file as a whole.
    #[must_use]
    pub fn line(&self) -> Option<usize> {
        self.line
    }

    /// The entry and field, such as `post "Aid 3": radio`; empty for the file as a whole.
    #[must_use]
    pub fn field(&self) -> &str {
        &self.field
    }

    /// What was found, what is allowed and what to do.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

/// Everything that is wrong with a plan, in the order of its lines; never empty.
///
/// It prints as one block for each problem: `file:line: entry: field: text`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError {
    file: PathBuf,
    problems: Vec<Problem>,
}

impl PlanError {
    /// Problems of the plan in `file`, at least one.
    pub(crate) fn new(file: &Path, mut problems: Vec<Problem>) -> Self {
        problems.sort_by_key(|p| p.line);
        problems.dedup();
        Self { file: file.to_owned(), problems }
    }

    pub(crate) fn whole(file: &Path, text: String) -> Self {
        Self::new(file, vec![Problem::whole(text)])
    }

    /// The plan file.
    #[must_use]
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// All problems, in the order of their lines.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{}", self.file.display())?;
            if let Some(line) = problem.line {
                write!(f, ":{line}")?;
            }
            if !problem.field.is_empty() {
                write!(f, ": {}", problem.field)?;
            }
            write!(f, ": {}", problem.text)?;
        }
        Ok(())
    }
}

impl std::error::Error for PlanError {}
