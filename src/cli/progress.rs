//! Progress on a terminal, none when piped.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar of `steps` steps on standard error, drawn only on a terminal.
pub(super) fn bar(steps: u64, what: &str) -> ProgressBar {
    let style = ProgressStyle::with_template("{msg} {wide_bar} {percent} % {eta}")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(steps).with_style(style).with_message(what.to_owned())
}
