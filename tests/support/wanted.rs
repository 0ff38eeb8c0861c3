//! What tests want of the machine beside the program. A test that lacks it fails
//! in words, unless `PERCHLINE_SKIP` says that it is not there: a list with
//! commas between, such as `PERCHLINE_SKIP=browser,mount`.

use std::io::Write;
use std::process::Command;

/// A thing that a machine may lack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// The pieces of real elevation.
    Elevation,
    /// The programs that come with GDAL.
    Gdal,
    /// A browser, and what drives it.
    Browser,
    /// What bundles the scripts of the pages.
    Pages,
    /// The right to mount a disk of one's own.
    Mount,
    /// The right to trace a process, and what does it.
    Trace,
    /// A kernel that keeps a process shut in.
    Box,
    /// What only Linux tells of a process, and its full device.
    Linux,
    /// The right to give a file to somebody else.
    Owner,
    /// Measured levels of hand-helds.
    Measured,
}

impl Wanted {
    /// All of them.
    pub const ALL: [Self; 10] = [
        Self::Elevation,
        Self::Gdal,
        Self::Browser,
        Self::Pages,
        Self::Mount,
        Self::Trace,
        Self::Box,
        Self::Linux,
        Self::Owner,
        Self::Measured,
    ];

    /// The word in `PERCHLINE_SKIP`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Elevation => "elevation",
            Self::Gdal => "gdal",
            Self::Browser => "browser",
            Self::Pages => "pages",
            Self::Mount => "mount",
            Self::Trace => "trace",
            Self::Box => "box",
            Self::Linux => "linux",
            Self::Owner => "owner",
            Self::Measured => "measured",
        }
    }

    /// How to get it.
    const fn remedy(self) -> &'static str {
        match self {
            Self::Elevation => "sh tests/fetch-real-elevation.sh fetches it",
            Self::Gdal => "install GDAL's programs (Debian: apt install gdal-bin)",
            Self::Browser => {
                "install Chromium and Node.js with npm, then run sh tests/browser/fetch.sh"
            }
            Self::Pages => "install Node.js with npm, then run sh src/pages/fetch.sh",
            Self::Mount => "allow user namespaces (unshare --user --mount) or run as root",
            Self::Trace => "install strace, and allow it to trace (in a container: SYS_PTRACE)",
            Self::Box => "use a Linux kernel with Landlock (5.13 or newer) and seccomp",
            Self::Linux => "run the tests on Linux",
            Self::Owner => "run the tests as root",
            Self::Measured => {
                "put readings.csv and receivers.csv of tests/heard/handheld.rs into handheld-462 of a folder that PERCHLINE_VALIDATION names"
            }
        }
    }

    /// Whether such a list names it.
    ///
    /// # Panics
    /// If the list names what is not known.
    pub fn is_in(self, list: &str) -> bool {
        let words = || list.split(',').map(str::trim).filter(|word| !word.is_empty());
        for word in words() {
            let known = Self::ALL.map(Self::word);
            assert!(
                known.contains(&word),
                "PERCHLINE_SKIP names {word:?}; known are {}",
                known.join(", ")
            );
        }
        words().any(|word| word == self.word())
    }

    /// Says that a test, or the part of it that is not reached, checks nothing
    /// since this is missing, and `why`.
    ///
    /// # Panics
    /// Unless `PERCHLINE_SKIP` names it.
    pub fn is_missing(self, why: &str) {
        let (word, remedy) = (self.word(), self.remedy());
        let list = std::env::var("PERCHLINE_SKIP").unwrap_or_default();
        assert!(
            self.is_in(&list),
            "{why}. To check this: {remedy}. To go without: PERCHLINE_SKIP={word}"
        );
        let thread = std::thread::current();
        let test = thread.name().unwrap_or("a test");
        // Past the harness, which keeps what a test prints that passes.
        let mut terminal = std::io::stderr().lock();
        writeln!(terminal, "{test} CHECKED NOTHING without {word}: {why}").unwrap();
    }
}

/// Whether all of these programs of GDAL run here; otherwise as
/// [`Wanted::is_missing`].
pub fn has_gdal(programs: &[&str]) -> bool {
    let lacks = |program: &&&str| Command::new(program).arg("--version").output().is_err();
    let lacking = programs.iter().find(lacks);
    if let Some(program) = lacking {
        Wanted::Gdal.is_missing(&format!("{program} does not run here"));
    }
    lacking.is_none()
}
