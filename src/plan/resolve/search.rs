//! Mast heights and the search for spots.

use super::quantity::{DISTANCES, LENGTHS};
use super::{Check, Entry};
use crate::typed::{MastsText, SearchText};
use crate::{MastInputs, Roads, SearchInputs};
use perchline_vector as vector;

impl Check<'_> {
    /// Mast heights to try.
    pub(super) fn mast_inputs(&mut self) -> Option<MastInputs> {
        let typed = if self.has("masts") { self.table("masts")? } else { MastsText::default() };
        let (entry, usual) = (Entry::single("masts"), MastInputs::default());
        let highest = match &typed.highest {
            Some(height) => self.length_in(&entry, "highest", height, LENGTHS, 1.0..=60.0),
            None => Some(usual.highest),
        };
        let feed_line_grows = typed.feed_line_grows.unwrap_or(false);
        Some(MastInputs { highest: highest?, feed_line_grows })
    }

    /// Where to search for spots.
    pub(super) fn search_inputs(&mut self) -> Option<SearchInputs> {
        let typed = if self.has("search") { self.table("search")? } else { SearchText::default() };
        let (entry, usual) = (Entry::single("search"), SearchInputs::default());
        let inside = match &typed.inside {
            None => Some(None),
            Some(shape) => self.shape(&entry, "inside", shape).map(Some),
        };
        if let Some(Some(outline)) = &inside {
            self.remember(&entry, "inside", outline.exterior());
        }
        let mast = match &typed.mast {
            Some(mast) => self.length_in(&entry, "mast", mast, LENGTHS, 0.5..=60.0),
            None => Some(usual.mast),
        };
        let roads = match &typed.roads {
            Some(file) => self.roads(&entry, file).map(Some),
            None => Some(None),
        };
        let keep_apart = match &typed.keep_apart {
            Some(apart) => self.length_in(&entry, "keep_apart", apart, DISTANCES, 10.0..=20_000.0),
            None => Some(usual.keep_apart),
        };
        let environment = self.environment(&entry, typed.environment.as_ref());
        let samples = match typed.samples {
            Some(samples) => self.whole(&entry, "samples", samples, 1..=100).map(|s| s as usize),
            None => Some(usual.samples),
        };
        Some(SearchInputs {
            inside: inside?,
            mast: mast?,
            roads: roads?,
            keep_apart: keep_apart?,
            environment: environment?,
            samples: samples?,
        })
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
