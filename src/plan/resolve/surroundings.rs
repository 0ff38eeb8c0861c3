//! Buildings, land cover, and what posts and sites have to do with buildings.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use super::check::quoted;
use super::names::suggestion;
use super::{Check, Entry};
use crate::typed::{buildings, land_cover, place_names, water};
use crate::{
    BuildingInputs, ClassMapping, ClutterClass, GroundKind, GroundName, GroundNames,
    LandCoverInputs, PlaceNameInputs, Roof, WaterInputs,
};
use perchline_units::Metres;
use perchline_vector::{self as vector, NameFields, VectorError};

/// The largest mapping file that is read, in bytes.
const MAX_MAPPING_BYTES: u64 = 1024 * 1024;

impl Check<'_> {
    /// Building footprints; the outer `None` is a problem.
    pub(super) fn buildings(&mut self) -> Option<Option<BuildingInputs>> {
        if !self.has("buildings") {
            return Some(None);
        }
        let typed: buildings::Text = self.table("buildings")?;
        let entry = Entry::single("buildings");
        let read = typed.read(self, &entry, "");
        if read.files.is_empty() {
            self.problem(&entry, "files", "name at least one vector file of footprints");
        }
        let files = self.vector_files(&entry, &read.files);
        read.with(buildings::Resolved { files: Some(files) }).map(Some)
    }

    /// Open water; the outer `None` is a problem.
    pub(super) fn water(&mut self) -> Option<Option<WaterInputs>> {
        if !self.has("water") {
            return Some(None);
        }
        let typed: water::Text = self.table("water")?;
        let entry = Entry::single("water");
        let read = typed.read(self, &entry, "");
        let nothing = read.files.is_none() && read.below == Some(None);
        if nothing && !self.has("land_cover") {
            let text = "[water] says of no water where it is: name files of polygons, or the \
                        height that it lies below, or the plan's land cover";
            self.problem(&entry, "files", text);
        }
        let files = self.vector_files(&entry, read.files.as_deref().unwrap_or_default());
        read.with(water::Resolved { files: Some(files) }).map(Some)
    }

    /// Names of the ground; the outer `None` is a problem.
    pub(super) fn place_names(&mut self) -> Option<Option<PlaceNameInputs>> {
        if !self.has("place_names") {
            return Some(None);
        }
        let typed: place_names::Text = self.table("place_names")?;
        let entry = Entry::single("place_names");
        let read = typed.read(self, &entry, "");
        let fields = NameFields {
            layer: read.layer.as_ref().and_then(Option::as_deref),
            name: read.name_field.as_ref().and_then(Option::as_deref),
            kind: read.kind_field.as_ref().and_then(Option::as_deref),
        };
        let found = self.ground_names(&entry, &read.found, &fields);
        read.with(place_names::Resolved { found }).map(Some)
    }

    fn ground_names(
        &mut self,
        entry: &Entry,
        typed: &str,
        fields: &NameFields<'_>,
    ) -> Option<GroundNames> {
        let file = self.local_file(entry, "file", typed)?;
        let read = match vector::names(&file, fields) {
            Ok(read) => read,
            Err(error) => {
                let field = match &error {
                    VectorError::NoLayer { .. } => "layer",
                    VectorError::NoField { field, .. } if fields.name == Some(field) => {
                        "name_field"
                    }
                    VectorError::NoField { .. } => "kind_field",
                    _ => "file",
                };
                self.problem(entry, field, error.to_string());
                return None;
            }
        };
        if read.places.is_empty() {
            let text = format!(
                "{} has no named point, line or polygon; it has {} without a name and {} without \
                 a shape that can be read",
                file.display(),
                read.nameless,
                read.shapeless
            );
            self.problem(entry, "file", text);
            return None;
        }
        if !self.hashed(entry, "file", &file) {
            return None;
        }
        let left_out = [(read.nameless, "no name"), (read.shapeless, "no shape that can be read")];
        let left_out = left_out.into_iter().filter(|(count, _)| *count > 0);
        let left_out: Vec<String> =
            left_out.map(|(count, lacks)| format!("{count} with {lacks}")).collect();
        if !left_out.is_empty() {
            let text =
                format!("features of {} are left out: {}", file.display(), left_out.join(", "));
            self.remark(entry, "file", text);
        }
        let names = read.places.into_iter().filter_map(|place| {
            let kind = place.kind.map_or(GroundKind::Other, |kind| GroundKind::of(&kind));
            Some(GroundName { name: place.name?, kind, geometry: place.geometry })
        });
        Some(GroundNames { file, names: names.collect() })
    }

    /// A list of vector files, joined to the plan's folder and hashed.
    fn vector_files(&mut self, entry: &Entry, typed: &[String]) -> Vec<PathBuf> {
        let mut seen = HashSet::new();
        let mut files = Vec::new();
        for (index, file) in typed.iter().enumerate() {
            let field = format!("files[{index}]");
            let Some(path) = self.local_file(entry, &field, file) else { continue };
            if !seen.insert(file) {
                self.problem(entry, &field, "this file is already in the list");
            } else if self.hashed(entry, &field, &path) {
                files.push(path);
            }
        }
        files
    }

    /// The land-cover raster; the outer `None` is a problem.
    pub(super) fn land_cover(&mut self) -> Option<Option<LandCoverInputs>> {
        if !self.has("land_cover") {
            return Some(None);
        }
        let typed: land_cover::Text = self.table("land_cover")?;
        let entry = Entry::single("land_cover");
        let read = typed.read(self, &entry, "");
        let file = self.local_file(&entry, "file", &read.file);
        let mapping = self.mapping(&entry, &read.mapping);
        read.with(land_cover::Resolved { file, mapping }).map(Some)
    }

    fn mapping(&mut self, entry: &Entry, typed: &str) -> Option<ClassMapping> {
        if let Some(mapping) = ClassMapping::shipped(typed.trim()) {
            return Some(mapping);
        }
        let looks_like_a_file = typed.contains(['.', '/', '\\']);
        if !looks_like_a_file && !self.in_folder(typed).exists() {
            let names: Vec<&str> = ClassMapping::shipped_names().collect();
            let text = format!(
                "{} is neither a mapping that comes with the program ({}) nor a mapping file in \
                 the plan's folder{}",
                quoted(typed),
                names.join(", "),
                suggestion(typed, names.iter().copied()),
            );
            self.problem(entry, "classes", text);
            return None;
        }
        let path = self.local_file(entry, "classes", typed)?;
        let text = match read_mapping(&path) {
            Ok(text) => text,
            Err(text) => {
                self.problem(entry, "classes", text);
                return None;
            }
        };
        match ClassMapping::parse(&path, &text) {
            Ok(mapping) => self.hashed(entry, "classes", &path).then_some(mapping),
            Err(error) => {
                self.problem(entry, "classes", error.to_string());
                None
            }
        }
    }

    /// Takes a file's hash into the plan; false with a problem where it cannot be read.
    fn hashed(&mut self, entry: &Entry, field: &str, path: &Path) -> bool {
        if let Err(error) = self.draws_from(path) {
            self.problem(entry, field, format!("{} cannot be read: {error}", path.display()));
            return false;
        }
        true
    }

    /// Heights and widths of houses belong to a class, and a class to ground of which
    /// no file says what stands on it.
    pub(super) fn houses(
        &mut self,
        entry: &Entry,
        class: Option<Option<ClutterClass>>,
        measures: [Option<Option<Metres>>; 2],
    ) {
        // A wrong class is a problem of its own.
        let Some(class) = class else { return };
        for (field, measure) in ["roof_height", "street_width"].into_iter().zip(measures) {
            if class.is_none() && measure.flatten().is_some() {
                let text = "this belongs to a class of surroundings, and none is stated here; add \
                            surroundings = \"town\", \"suburb\" or \"village\", or delete it";
                self.problem(entry, field, text);
            }
        }
        let known = ["buildings", "land_cover"].into_iter().find(|table| self.has(table));
        if let (Some(_), Some(table)) = (class, known) {
            let text = format!(
                "[{table}] says what stands on the ground, so this counts nowhere: the same \
                 houses are not counted twice"
            );
            self.remark(entry, "surroundings", text);
        }
    }

    /// A roof that the plan leaves to the footprints.
    pub(super) fn roof_of_building(&mut self, entry: &Entry) -> Option<Roof> {
        if self.has("buildings") {
            return Some(Roof::OfBuilding);
        }
        let text = "this is missing, and every site needs it unless the plan has [buildings] with \
                    the site's footprint and its height";
        self.problem(entry, "roof", text);
        None
    }
}

fn read_mapping(path: &Path) -> Result<String, String> {
    let length = std::fs::metadata(path).map_or(0, |meta| meta.len());
    if length > MAX_MAPPING_BYTES {
        return Err(format!("{} is too long for a class mapping (over 1 MiB)", path.display()));
    }
    std::fs::read_to_string(path)
        .map_err(|error| format!("{} cannot be read as a class mapping: {error}", path.display()))
}
