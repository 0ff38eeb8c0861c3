//! Scripts and styles of the pages that Perchline writes and serves, the map
//! library among them: `make pages` bundles them into `bundled`.

/// What a page runs and how it looks.
#[derive(Debug, Clone, Copy)]
pub struct Page {
    /// A script for the end of the page's body.
    pub script: &'static str,
    /// A style sheet.
    pub style: &'static str,
}

/// Takes the bundle of a page.
macro_rules! bundled {
    ($name:literal) => {
        Page {
            script: include_str!(concat!("bundled/", $name, ".js")),
            style: include_str!(concat!("bundled/", $name, ".css")),
        }
    };
}

/// The page for the organiser's liaison, one file without a network.
pub const BRIEF: Page = bundled!("brief");

/// The page on which the lead moves a relay and sees what comes of it.
pub const LIVE: Page = bundled!("live");

/// The page on which a folder gets its first plan.
pub const BEGINNING: Page = bundled!("live-start");
