//! The checker's state: where it is and what it has found so far.

use std::path::{Path, PathBuf};

use crate::locate::Document;
use crate::{InputFile, Problem, Remark};
use perchline_units::{Position, is_unprintable, printable};
use perchline_vector::{VectorFiles, is_special_path};

/// One table of the plan, or one entry of an array of tables.
#[derive(Debug, Clone)]
pub(crate) struct Entry {
    pub(super) table: &'static str,
    pub(super) index: Option<usize>,
    label: String,
}

impl Entry {
    /// A table that occurs once.
    pub(super) fn single(table: &'static str) -> Self {
        Self { table, index: None, label: table.to_owned() }
    }

    /// The `index`th entry of an array of tables, called by its name if it has one.
    pub(super) fn of_list(table: &'static str, index: usize, name: Option<&str>) -> Self {
        let label = match name {
            Some(name) if !name.is_empty() => format!("{table} {}", quoted(name)),
            _ => format!("{table} {}", index + 1),
        };
        Self { table, index: Some(index), label }
    }

    /// The entry's name for people, such as `post "Aid 3"`.
    pub(super) fn label(&self) -> &str {
        &self.label
    }
}

/// A name in quotes, short and without anything that could upset a terminal.
pub(crate) fn quoted(name: &str) -> String {
    let short: String = name.chars().take(80).collect();
    let dots = if short.len() < name.len() { "..." } else { "" };
    let mut safe = String::new();
    for c in short.chars() {
        if is_unprintable(c) {
            safe.extend(c.escape_unicode());
        } else {
            safe.push(c);
        }
    }
    format!("\"{safe}{dots}\"")
}

/// A position that was read, kept for the checks that look at all of them.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) entry: Entry,
    pub(super) field: String,
    pub(super) at: Position,
}

/// What the checker knows and has found.
pub(crate) struct Check<'p> {
    pub(super) document: &'p Document<'p>,
    folder: PathBuf,
    pub(super) placed: Vec<Placed>,
    problems: Vec<Problem>,
    remarks: Vec<Remark>,
    vector_files: Vec<InputFile>,
    /// The vector files that lie open: a plan takes many features of one file.
    pub(super) vectors: VectorFiles,
}

impl<'p> Check<'p> {
    pub(super) fn new(file: &Path, document: &'p Document<'p>) -> Self {
        Self {
            document,
            folder: file.parent().map(Path::to_owned).unwrap_or_default(),
            placed: Vec::new(),
            problems: Vec::new(),
            remarks: Vec::new(),
            vector_files: Vec::new(),
            vectors: VectorFiles::default(),
        }
    }

    /// Notes a problem of a field; an empty field means the entry itself.
    pub(crate) fn problem(&mut self, entry: &Entry, field: &str, text: impl Into<String>) {
        let line = self.document.line(entry.table, entry.index, field);
        self.problem_at(line, entry, field, text);
    }

    /// The same where the line is already known.
    pub(super) fn problem_at(
        &mut self,
        line: Option<usize>,
        entry: &Entry,
        field: &str,
        text: impl Into<String>,
    ) {
        self.problems.push(Problem::new(line, about(entry, field), text.into()));
    }

    /// Notes a problem of the plan as a whole.
    pub(super) fn problem_of_plan(&mut self, line: Option<usize>, field: &str, text: String) {
        self.problems.push(Problem::new(line, field.to_owned(), text));
    }

    /// Notes something that is accepted but that a person should see.
    pub(super) fn remark(&mut self, entry: &Entry, field: &str, text: impl Into<String>) {
        let text = printable(&text.into());
        self.remarks.push(Remark { about: about(entry, field), text });
    }

    /// Remembers a file that the plan drew from; `Err` says why it cannot be read.
    pub(super) fn draws_from(&mut self, path: &Path) -> std::io::Result<()> {
        if self.vector_files.iter().any(|known| known.path == path) {
            return Ok(());
        }
        self.vector_files.push(InputFile::of(path)?);
        // The attributes and the coordinate system of a Shapefile lie beside it.
        if path.extension().is_some_and(|e| e.eq_ignore_ascii_case("shp")) {
            for extension in ["dbf", "shx", "prj", "cpg"] {
                let beside = path.with_extension(extension);
                if beside.is_file() {
                    self.vector_files.push(InputFile::of(&beside)?);
                }
            }
        }
        Ok(())
    }

    /// Remembers a file whose digest is known already.
    pub(super) fn drew_from(&mut self, input: InputFile) {
        self.vector_files.push(input);
    }

    /// A path as the plan means it: taken from the plan's folder.
    pub(super) fn in_folder(&self, typed: &str) -> PathBuf {
        self.folder.join(typed)
    }

    /// A file that the plan names; `None` with a problem where it is not a
    /// plain file on this machine.
    pub(super) fn local_file(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &str,
    ) -> Option<PathBuf> {
        let path = self.in_folder(typed);
        let text = if typed.trim().is_empty() {
            "the file name is empty".to_owned()
        } else if is_special_path(typed) {
            format!(
                "{} is not a plain file path; only files on this machine are read, so save a \
                 copy beside the plan",
                quoted(typed)
            )
        } else if !path.exists() {
            format!("there is no file {}; the path is taken from the plan's folder", path.display())
        } else if !path.is_file() {
            // A device or a pipe would be read without an end.
            format!("{} is a folder or a device; a file is wanted", path.display())
        } else {
            return Some(path);
        };
        self.problem(entry, field, text);
        None
    }

    /// The same where a folder will do, which ends in a slash where it is not there.
    pub(super) fn local_file_or_folder(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &str,
    ) -> Option<PathBuf> {
        let path = self.in_folder(typed);
        let is_folder = path.is_dir() || (typed.ends_with('/') && !path.exists());
        if is_folder && !typed.trim().is_empty() && !is_special_path(typed) {
            return Some(path);
        }
        self.local_file(entry, field, typed)
    }

    /// Lines of the problems that were told so far.
    pub(super) fn lines_told(&self) -> impl Iterator<Item = usize> {
        self.problems.iter().filter_map(Problem::line)
    }

    /// How many problems were told so far.
    pub(super) fn told(&self) -> usize {
        self.problems.len()
    }

    pub(super) fn finish(self) -> (Vec<Problem>, Vec<Remark>, Vec<InputFile>) {
        (self.problems, self.remarks, self.vector_files)
    }
}

fn about(entry: &Entry, field: &str) -> String {
    if field.is_empty() { entry.label.clone() } else { format!("{}: {field}", entry.label) }
}
