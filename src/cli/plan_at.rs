//! Which plan is meant by a path: a file, or the only one of a folder.

use std::path::{Path, PathBuf};

use perchline_plan::MAX_PLAN_BYTES;

use super::failure::Failure;

/// The plan that somebody means.
pub(super) enum PlanIn {
    /// This file, whatever it holds.
    File(PathBuf),
    /// None: this folder has no plan.
    Nowhere(PathBuf),
}

/// The plan at a path: the file, or the one that a folder has. Of several each is named,
/// behind what is typed `before` it.
pub(super) fn plan_in(path: &Path, before: &str) -> Result<PlanIn, Failure> {
    if !path.is_dir() {
        return Ok(PlanIn::File(path.to_owned()));
    }
    let entries = std::fs::read_dir(path).map_err(|error| {
        Failure::Input(format!("{}: the folder cannot be read: {error}", path.display()))
    })?;
    let mut plans: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    plans.retain(|file| may_be_plan(file));
    plans.sort();
    // What stands in the current folder is called by its name alone.
    let own = |file: PathBuf| match (path == Path::new("."), file.file_name()) {
        (true, Some(name)) => PathBuf::from(name),
        _ => file,
    };
    let mut plans: Vec<PathBuf> = plans.into_iter().map(own).collect();
    match plans.len() {
        0 => Ok(PlanIn::Nowhere(path.to_owned())),
        1 => Ok(PlanIn::File(plans.remove(0))),
        many => {
            let list: String =
                plans.iter().map(|plan| format!("\n  {before}{}", plan.display())).collect();
            Err(Failure::Input(format!(
                "{}: the folder has {many} plans; name the one to open:{list}",
                path.display()
            )))
        }
    }
}

/// The file of a plan that is there: at a path, or in a folder that has one.
pub(super) fn plan_file(path: &Path) -> Result<PathBuf, Failure> {
    match plan_in(path, "")? {
        PlanIn::File(file) => Ok(file),
        PlanIn::Nowhere(folder) => Err(Failure::Input(format!(
            "{0}: the folder has no plan: perchline start {0} makes a first one",
            folder.display()
        ))),
    }
}

/// Whether a file is a plan, or may be one that has to be fixed: TOML with an event, or
/// TOML that cannot be read.
fn may_be_plan(file: &Path) -> bool {
    let named = file.file_name().is_some_and(|name| !name.to_string_lossy().starts_with('.'));
    let ends = file.extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    let short =
        std::fs::metadata(file).is_ok_and(|found| found.is_file() && found.len() <= MAX_PLAN_BYTES);
    named && ends && short && {
        let text = perchline_plan::read_source(file).unwrap_or_default();
        perchline_plan::has_event(&text).unwrap_or(true)
    }
}
