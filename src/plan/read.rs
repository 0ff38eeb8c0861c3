//! From a file on disk to a checked plan.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::input_file::sha256;
use super::locate::Document;
use super::resolve::resolve;
use super::{Plan, PlanError, Problem};
use perchline_confine::Reading;
use perchline_units::listed;

/// The largest plan that is read, in bytes (4 MiB). Routes belong into vector files.
pub const MAX_PLAN_BYTES: u64 = 4 * 1024 * 1024;

/// Reads a plan and makes every check that needs no terrain.
///
/// `methods` are the names of the propagation methods that a plan may ask
/// for; the first is what a plan gets that names none.
///
/// # Errors
/// [`PlanError`] with every problem found, each with its line and field.
///
/// ```no_run
/// let plan = perchline_plan::read("event.toml".as_ref(), &["delta-bullington"])?;
/// println!("{} posts", plan.posts.len());
/// # Ok::<(), perchline_plan::PlanError>(())
/// ```
pub fn read(path: &Path, methods: &[&str]) -> Result<Plan, PlanError> {
    let bytes = bytes(path).map_err(|text| PlanError::whole(path, text))?;
    read_bytes(path, &bytes, methods)
}

/// The same for the text of a plan that is, or may be, kept in `path`: files
/// that it names are looked for beside it.
///
/// # Errors
/// [`PlanError`] as for [`read`].
pub fn read_text(path: &Path, text: &str, methods: &[&str]) -> Result<Plan, PlanError> {
    let length = text.len() as u64;
    if length > MAX_PLAN_BYTES {
        return Err(PlanError::whole(path, too_long(length)));
    }
    read_bytes(path, text.as_bytes(), methods)
}

/// The files that a plan names, those that are there: whatever text of it leads to
/// one. Nothing of them is read.
#[must_use]
pub fn files_named(path: &Path) -> Vec<PathBuf> {
    fn gather(value: &toml::Value, folder: &Path, into: &mut Vec<PathBuf>) {
        match value {
            toml::Value::String(text) => {
                let file = folder.join(text);
                if file.is_file() {
                    into.push(file);
                }
            }
            toml::Value::Array(values) => values.iter().for_each(|v| gather(v, folder, into)),
            toml::Value::Table(table) => table.iter().for_each(|(_, v)| gather(v, folder, into)),
            _ => {}
        }
    }
    let mut files = Vec::new();
    if let Some(table) = table_of(path) {
        let folder = path.parent().unwrap_or(Path::new(""));
        gather(&toml::Value::Table(table), folder, &mut files);
    }
    files.sort();
    files.dedup();
    files
}

/// The folders of elevation that a plan names, those that are there. Nothing of
/// them is read.
#[must_use]
pub fn folders_named(path: &Path) -> Vec<PathBuf> {
    let table = table_of(path).unwrap_or_default();
    let files = table.get("terrain").and_then(|terrain| terrain.get("files")?.as_array());
    let names = files.into_iter().flatten().filter_map(toml::Value::as_str);
    let folder = path.parent().unwrap_or(Path::new(""));
    names
        .filter(|name| !name.is_empty())
        .map(|name| folder.join(name))
        .filter(|f| f.is_dir())
        .collect()
}

/// Whether a text says of an event, as every plan does; `None` where it is not TOML.
#[must_use]
pub fn has_event(text: &str) -> Option<bool> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    text.parse::<toml::Table>().ok().map(|table| table.contains_key("event"))
}

/// What a plan says as far as it is TOML; what is wrong with it is told when it is
/// read.
fn table_of(path: &Path) -> Option<toml::Table> {
    let source = read_source(path).ok()?;
    source.strip_prefix('\u{feff}').unwrap_or(&source).parse().ok()
}

/// The text of a plan's file, whatever it says.
///
/// # Errors
/// [`PlanError`] when the file cannot be read, is too long or is no text.
pub fn read_source(path: &Path) -> Result<String, PlanError> {
    let bytes = bytes(path).map_err(|text| PlanError::whole(path, text))?;
    text_of(path, &bytes).map(str::to_owned)
}

fn text_of<'b>(path: &Path, bytes: &'b [u8]) -> Result<&'b str, PlanError> {
    std::str::from_utf8(bytes).map_err(|error| {
        let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let line = 1 + good.iter().filter(|b| **b == b'\n').count();
        let text = "a plan is text in UTF-8, and this line holds bytes that are not; save the \
                    file again as UTF-8";
        PlanError::new(path, vec![Problem::new(Some(line), String::new(), text.to_owned())])
    })
}

fn read_bytes(path: &Path, bytes: &[u8], methods: &[&str]) -> Result<Plan, PlanError> {
    let source = text_of(path, bytes)?;
    // Editors on some systems put a mark of three bytes in front.
    let source = source.strip_prefix('\u{feff}').unwrap_or(source);
    let document = Document::parse(source).map_err(|(line, message)| {
        let text = format!("this is not TOML: {}", listed(&message));
        PlanError::new(path, vec![Problem::new(line, String::new(), text)])
    })?;
    if document.root().is_empty() {
        return Err(PlanError::whole(
            path,
            "the plan is empty; it needs [event], [terrain], and at least one each of [[radio]], \
             [[channel]], [[post]] and [[site]]. sample-terrain/ferry-lights.toml is a complete \
             plan to start from"
                .to_owned(),
        ));
    }
    resolve(path, &document, methods, sha256(bytes))
        .map_err(|problems| PlanError::new(path, problems))
}

fn too_long(found: u64) -> String {
    format!(
        "the plan has {:.1} MiB, and {} MiB is the most that is read; keep long routes in a \
         vector file and name it with {{ file = \"...\", name = \"...\" }}",
        found as f64 / 1_048_576.0,
        MAX_PLAN_BYTES / 1_048_576,
    )
}

/// The file's bytes, never more than a plan may have.
fn bytes(path: &Path) -> Result<Vec<u8>, String> {
    let reading = Reading::begin(path, "reading it");
    let meta = std::fs::metadata(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => {
            "there is no such file; check the spelling and the folder".to_owned()
        }
        _ => format!("the plan cannot be read: {error}"),
    })?;
    if meta.is_dir() {
        return Err("this is a folder; name the plan file in it".to_owned());
    }
    if meta.len() > MAX_PLAN_BYTES {
        return Err(too_long(meta.len()));
    }
    let mut bytes = Vec::new();
    // A pipe has no length beforehand, so the limit is kept while reading too.
    File::open(path)
        .and_then(|file| file.take(MAX_PLAN_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| format!("the plan cannot be read: {error}"))?;
    drop(reading);
    let length = bytes.len() as u64;
    if length > MAX_PLAN_BYTES { Err(too_long(length)) } else { Ok(bytes) }
}
