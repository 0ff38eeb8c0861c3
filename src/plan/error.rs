//! What is wrong with a plan: every problem found, each with its place.

use std::collections::HashMap;
use std::fmt;
use std::path::{Path, PathBuf};

use perchline_units::{listed, printable};

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

    /// The table and the field without names and numbers, such as `post: radio`.
    fn kind(&self) -> String {
        // A name is in quotes and may hold anything.
        let (table, field) = match (self.field.find('"'), self.field.rfind('"')) {
            (Some(open), Some(close)) if open < close => {
                (self.field.get(..open), self.field.get(close + 1..))
            }
            _ => match self.field.split_once(':') {
                Some((entry, field)) => (Some(entry), Some(field)),
                None => (Some(self.field.as_str()), None),
            },
        };
        let table = table.unwrap_or_default().split_whitespace().next().unwrap_or("the plan");
        let field = field.unwrap_or_default().trim_start_matches([':', ' ']);
        match field.split('[').next().unwrap_or_default() {
            "" => table.to_owned(),
            field => format!("{table}: {field}"),
        }
    }

    /// What was found, what is allowed and what to do.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

/// Problems that are printed; nobody fixes more of them in one go.
const MOST_PRINTED: usize = 40;

/// Kinds of problems that are counted one by one in the line after them.
const MOST_KINDS: usize = 8;

/// Everything that is wrong with a plan, in the order of its lines; never empty.
///
/// It prints as one block for each problem: `file:line: entry: field: text`. Of
/// very many the first are printed, and how many more there are of which kinds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError {
    file: PathBuf,
    problems: Vec<Problem>,
}

impl PlanError {
    /// Problems of the plan in `file`, at least one.
    #[must_use]
    pub fn new(file: &Path, mut problems: Vec<Problem>) -> Self {
        problems.sort_by_key(|p| p.line);
        problems.dedup();
        Self { file: file.to_owned(), problems }
    }

    /// A problem of the plan in `file` as a whole.
    #[must_use]
    pub fn whole(file: &Path, text: String) -> Self {
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
        for (index, problem) in self.problems.iter().take(MOST_PRINTED).enumerate() {
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
        let rest = self.problems.get(MOST_PRINTED..).unwrap_or_default();
        if rest.is_empty() {
            Ok(())
        } else {
            write!(f, "\n{}: {}", self.file.display(), more(rest))
        }
    }
}

impl std::error::Error for PlanError {}

/// How many problems there are beside those that are printed, and of what.
fn more(rest: &[Problem]) -> String {
    let mut kinds: Vec<(String, usize)> = Vec::new();
    let mut places: HashMap<String, usize> = HashMap::new();
    for problem in rest {
        let kind = problem.kind();
        let at = *places.entry(kind.clone()).or_insert(kinds.len());
        match kinds.get_mut(at) {
            Some((_, count)) => *count += 1,
            None => kinds.push((kind, 1)),
        }
    }
    // Of as many the one that comes first in the plan.
    kinds.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let listed: Vec<String> =
        kinds.iter().take(MOST_KINDS).map(|(kind, count)| format!("{count} of {kind}")).collect();
    let others: usize = kinds.iter().skip(MOST_KINDS).map(|(_, count)| count).sum();
    let others = if others > 0 { format!(", {others} of others") } else { String::new() };
    format!(
        "and {} more problems: {}{others}. Fix those above first; many may go with them",
        rest.len(),
        listed.join(", ")
    )
}
