//! What an interrupt from the keyboard does: the program ends at once, nothing
//! half done stays, and the person is told what does.

use std::io::{self, IsTerminal};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::channel;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::iterator::Signals;

use perchline_report::outbox;

/// What there is to do when the person wants to end.
struct Wishes {
    /// What a later run can go on with, in words.
    kept: Option<String>,
    /// Ends the work gently.
    gently: Option<Arc<AtomicBool>>,
    /// What is asked before the keyboard ends it, where there is a reason.
    question: Option<Question>,
    /// When that was asked last.
    asked: Option<Instant>,
}

/// What to ask before the end, if anything.
type Question = Arc<dyn Fn() -> Option<String> + Send + Sync>;

/// For how long an answer to the question counts.
const ANSWER_TIME: Duration = Duration::from_secs(10);
/// The most time that finding out whether to ask may take: who wants to end a
/// program that hangs can.
const QUESTION_TIME: Duration = Duration::from_millis(500);

static WISHES: Mutex<Wishes> =
    Mutex::new(Wishes { kept: None, gently: None, question: None, asked: None });

fn wishes() -> MutexGuard<'static, Wishes> {
    WISHES.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Ends the program when the keyboard or the system asks for it. A terminal that
/// closes ends it too, as a kill does, unless it was started to outlive that.
///
/// # Errors
/// What the system says when it does not tell of signals.
pub(super) fn watch() -> io::Result<()> {
    let mut signals = Signals::new([SIGINT, SIGTERM])?;
    let end = move || {
        for signal in signals.forever() {
            if let Some(question) = (signal == SIGINT).then(question).flatten() {
                tell(question);
                continue;
            }
            let wishes = wishes();
            if wishes.gently.as_ref().is_some_and(|stop| !stop.swap(true, Ordering::Relaxed)) {
                continue;
            }
            let closed = outbox::close();
            let text = last_words(closed.delivered(), wishes.kept.as_deref());
            tell(text);
            // Without what libraries do at an exit: other threads are at work in them.
            signal_hook::low_level::exit(128 + signal);
        }
    };
    std::thread::Builder::new().name("interrupt".to_owned()).spawn(end).map(drop)
}

/// Says something from aside: a terminal that takes nothing holds up no end.
fn tell(text: String) {
    let told = std::thread::spawn(move || super::say(&format!("\n{text}")));
    for _ in 0..100 {
        if told.is_finished() {
            break;
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// What to ask at this interrupt: nothing where there is no reason, where nobody at a
/// terminal would read it, and where it was asked just before.
fn question() -> Option<String> {
    let question = {
        let wishes = wishes();
        let answered = wishes.asked.is_some_and(|asked| asked.elapsed() < ANSWER_TIME);
        wishes.question.clone().filter(|_| !answered && io::stderr().is_terminal())?
    };
    let (send, found) = channel();
    std::thread::spawn(move || send.send(question()));
    let text = found.recv_timeout(QUESTION_TIME).ok().flatten()?;
    wishes().asked = Some(Instant::now());
    Some(text)
}

/// Lets the keyboard end the program only after this was asked, where it gives a
/// reason, and the key was pressed again. Whatever else ends it ends it at once.
pub(super) fn asks_first(question: impl Fn() -> Option<String> + Send + Sync + 'static) {
    wishes().question = Some(Arc::new(question));
}

/// Lets the first interrupt set `stop`, and only a second one end the program.
pub(super) fn ends_by(stop: &Arc<AtomicBool>) {
    wishes().gently = Some(Arc::clone(stop));
}

/// Ends the program as done, without what libraries do at an exit: threads that make
/// pictures may still be at work in them.
pub(super) fn end_as_done() -> ! {
    signal_hook::low_level::exit(0)
}

/// What to say that a later run can go on with, should it be interrupted now.
pub(super) fn keeps(kept: Option<String>) {
    wishes().kept = kept;
}

fn last_words(delivered: usize, kept: Option<&str>) -> String {
    match (delivered, kept) {
        (0, None) => "Interrupted: nothing was written or changed.".to_owned(),
        (0, Some(kept)) => format!("Interrupted: no result was written or changed. {kept}"),
        _ => "Interrupted: what had been written before is whole.".to_owned(),
    }
}
