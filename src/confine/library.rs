//! The library that opens rasters and vectors: its version, and what is known to be
//! wrong with old ones.

/// A hole in versions before one, in a format that is read here.
struct Hole {
    /// The first version without it: major, minor, revision.
    fixed_in: (u32, u32, u32),
    /// What it is, with its number in the public list.
    what: &'static str,
}

/// From memory: the public lists of holes (CVE) are to be checked by whoever ships
/// this (see docs/trust.md).
const HOLES: &[Hole] = &[Hole {
    fixed_in: (3, 0, 2),
    what: "memory freed twice while KML or GPX is read (CVE-2019-17545)",
}];

/// The version of GDAL that this program runs with, such as "3.6.2".
#[must_use]
pub fn gdal_version() -> String {
    gdal::version::VersionInfo::release_name()
}

/// What is known to be wrong with the version of GDAL that this runs with, in a
/// sentence; `None` where nothing is.
#[must_use]
pub fn known_holes() -> Option<String> {
    let version = gdal_version();
    let found = holes_of(&version);
    (!found.is_empty()).then(|| {
        format!("GDAL {version} has known holes: {}. Install a newer one.", found.join("; "))
    })
}

fn holes_of(version: &str) -> Vec<&'static str> {
    let mut numbers =
        version.split(['.', '-', 'b', 'r', 'd']).map(|part| part.parse().unwrap_or(0));
    let mut next = || numbers.next().unwrap_or(0);
    let version = (next(), next(), next());
    HOLES.iter().filter(|hole| version < hole.fixed_in).map(|hole| hole.what).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_are_compared_by_number() {
        for (version, holes) in [
            ("3.0.1", 1),
            ("3.0.2", 0),
            ("3.0.10", 0),
            ("2.4.9", 1),
            ("3.10.0", 0),
            ("3.0.1beta1", 1),
        ] {
            assert_eq!(holes_of(version).len(), holes, "{version}");
        }
        assert!(holes_of(&gdal_version()).is_empty(), "{}", gdal_version());
    }
}
