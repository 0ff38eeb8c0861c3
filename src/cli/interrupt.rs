//! What an interrupt from the keyboard does: the program ends at once, nothing
//! half done stays, and the person is told what does.

use std::io::{self, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
use signal_hook::iterator::Signals;

use crate::report::outbox;

/// What there is to do when the person wants to end.
struct Wishes {
    /// What a later run can go on with, in words.
    kept: Option<String>,
    /// Ends the work gently.
    gently: Option<Arc<AtomicBool>>,
}

static WISHES: Mutex<Wishes> = Mutex::new(Wishes { kept: None, gently: None });

fn wishes() -> MutexGuard<'static, Wishes> {
    WISHES.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Ends the program when the keyboard, the terminal or the system asks for it.
///
/// # Errors
/// What the system says when it does not tell of signals.
pub(super) fn watch() -> io::Result<()> {
    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    let end = move || {
        for signal in signals.forever() {
            let wishes = wishes();
            if wishes.gently.as_ref().is_some_and(|stop| !stop.swap(true, Ordering::Relaxed)) {
                continue;
            }
            let closed = outbox::close();
            let text = last_words(closed.delivered(), wishes.kept.as_deref());
            // Nobody is left to tell if standard error is closed.
            let _ = writeln!(io::stderr(), "\n{text}");
            // Without what libraries do at an exit: other threads are at work in them.
            signal_hook::low_level::exit(128 + signal);
        }
    };
    std::thread::Builder::new().name("interrupt".to_owned()).spawn(end).map(drop)
}

/// Lets the first interrupt set `stop`, and only a second one end the program.
pub(super) fn ends_by(stop: &Arc<AtomicBool>) {
    wishes().gently = Some(Arc::clone(stop));
}

/// What to say that a later run can go on with, should it be interrupted now.
pub(super) fn keeps(kept: Option<String>) {
    wishes().kept = kept;
}

fn last_words(delivered: usize, kept: Option<&str>) -> String {
    match (delivered, kept) {
        (0, None) => "Interrupted: nothing was written or changed.".to_owned(),
        (0, Some(kept)) => format!("Interrupted: no result was written or changed. {kept}"),
        _ => "Interrupted: all results had been written, and are whole.".to_owned(),
    }
}
