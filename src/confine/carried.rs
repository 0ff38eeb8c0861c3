//! Data of GDAL and PROJ that lie beside the program, where it is carried about
//! together with its libraries.
//!
//! The libraries look for their data where they were built to be installed. In an
//! archive that is unpacked anywhere nothing lies there, or the data of another
//! version, which they refuse.

use std::ffi::CString;
use std::path::{Path, PathBuf};

/// Where the data are, from the folder above the program's own.
const DATA: &str = "share/perchline";

/// Variables that name folders of PROJ's data, the older name last.
const NAMED: [&str; 2] = ["PROJ_DATA", "PROJ_LIB"];

/// The data beside a program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Carried {
    /// GDAL's tables.
    pub(crate) gdal: PathBuf,
    /// PROJ's data base and grids.
    pub(crate) proj: PathBuf,
}

/// What lies beside this program; `None` where the libraries are the system's and
/// find their own.
pub(crate) fn carried() -> Option<Carried> {
    beside(&std::env::current_exe().ok()?)
}

fn beside(program: &Path) -> Option<Carried> {
    let data = program.parent()?.parent()?.join(DATA);
    let carried = Carried { gdal: data.join("gdal"), proj: data.join("proj") };
    (carried.gdal.is_dir() && carried.proj.join("proj.db").is_file()).then_some(carried)
}

impl Carried {
    /// Where PROJ looks: its data base here first, then, for grids, where a person
    /// keeps more of them.
    pub(crate) fn proj_paths(&self) -> Vec<CString> {
        let named = NAMED.into_iter().filter_map(std::env::var_os);
        let named = named.flat_map(|value| std::env::split_paths(&value).collect::<Vec<_>>());
        let home = std::env::var_os("HOME").map(|home| Path::new(&home).join(".local/share/proj"));
        let all = std::iter::once(self.proj.clone()).chain(named).chain(home);
        all.filter_map(|path| CString::new(path.to_string_lossy().as_bytes()).ok()).collect()
    }
}

/// Why coordinate systems cannot be looked up on this machine, in sentences with what
/// to do; `None` where they can.
#[must_use]
pub fn without_coordinate_systems() -> Option<String> {
    super::drivers::ensure();
    let why = gdal::spatial_ref::SpatialRef::from_epsg(4326).err()?;
    let named = NAMED.into_iter().filter_map(|name| {
        let value = std::env::var_os(name)?;
        Some(format!("{name} names {}", value.to_string_lossy().escape_debug()))
    });
    let named: Vec<_> = named.collect();
    let remedy = if named.is_empty() {
        "Install PROJ's data (Debian and Ubuntu: proj-data), or unpack the whole archive again"
            .to_owned()
    } else {
        format!(
            "{}: unset it, or name the folder of the data that this PROJ was installed with (Debian and Ubuntu: /usr/share/proj)",
            named.join(", ")
        )
    };
    Some(format!(
        "PROJ finds no data base of coordinate systems (proj.db), or one of another version ({why}). {remedy}."
    ))
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    #[test]
    fn data_are_taken_only_where_both_libraries_have_theirs() {
        let folder = tempfile::tempdir().unwrap();
        let program = folder.path().join("bin/perchline");
        let data = folder.path().join("share/perchline");
        assert_eq!(beside(&program), None);
        fs::create_dir_all(data.join("gdal")).unwrap();
        fs::create_dir_all(data.join("proj")).unwrap();
        assert_eq!(beside(&program), None);
        fs::write(data.join("proj/proj.db"), "").unwrap();
        let found = beside(&program).unwrap();
        assert_eq!(found, Carried { gdal: data.join("gdal"), proj: data.join("proj") });
        let first = found.proj_paths().into_iter().next().unwrap();
        assert_eq!(first.to_str().unwrap(), data.join("proj").to_str().unwrap());
        fs::remove_dir(data.join("gdal")).unwrap();
        assert_eq!(beside(&program), None);
    }
}
