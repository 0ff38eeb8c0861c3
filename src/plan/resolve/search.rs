//! Mast heights and the search for spots.

use super::{Check, Entry, if_stated};
use crate::field::Part;
use crate::typed::{masts, search};
use crate::{MastInputs, Roads, SearchInputs};
use perchline_vector as vector;

impl Check<'_> {
    /// Mast heights to try.
    pub(super) fn mast_inputs(&mut self) -> Option<MastInputs> {
        let typed: masts::Text = self.table_or_empty("masts")?;
        typed.part(self, &Entry::single("masts"), "")
    }

    /// Where to search for spots.
    pub(super) fn search_inputs(&mut self) -> Option<SearchInputs> {
        let typed: search::Text = self.table_or_empty("search")?;
        let entry = Entry::single("search");
        let read = typed.read(self, &entry, "");
        let inside = if_stated(read.inside.as_ref(), |shape| self.shape(&entry, "inside", shape));
        if let Some(Some(outline)) = &inside {
            self.remember(&entry, "inside", outline.exterior());
        }
        let roads = if_stated(read.roads.as_ref(), |file| self.roads(&entry, file));
        read.with(search::Resolved { inside, roads })
    }

    fn roads(&mut self, entry: &Entry, typed: &str) -> Option<Roads> {
        let file = self.local_file(entry, "roads", typed)?;
        let lines = match vector::lines(&file) {
            Ok(lines) => lines,
            Err(error) => {
                self.problem(entry, "roads", error.to_string());
                return None;
            }
        };
        if lines.is_empty() {
            let text = format!("{} has no line in it; roads are lines", file.display());
            self.problem(entry, "roads", text);
            return None;
        }
        if let Err(error) = self.draws_from(&file) {
            self.problem(entry, "roads", format!("{} cannot be read: {error}", file.display()));
            return None;
        }
        Some(Roads { file, lines })
    }
}
