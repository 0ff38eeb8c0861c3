//! How long a file may take to be read, and how much memory.
//!
//! Work that comes back now and then asks [`Reading::check`]. Work inside a
//! library in C may never come back: a thread watches all readings, and tells the
//! program of one that overran, which then ends ([`on_overrun`]).

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, Once, OnceLock, PoisonError};
use std::time::{Duration, Instant};

/// How long opening or reading one file may take, where nothing else was said.
const TIME: Duration = Duration::from_secs(30);

/// More of it for each cell that is to be read: 20 million a second is what a
/// slow disk and a compressed file give.
const CELLS_A_SECOND: f64 = 20e6;

/// The most bytes that the program may grow by while it reads one file.
const MEMORY: u64 = 2 << 30;

/// How often readings are looked at.
const LOOK_EVERY: Duration = Duration::from_millis(20);

/// What a file went beyond.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{}: {doing} {over}; check that the file is what it should be, and its disk healthy{}",
    file.display(),
    over.remedy()
)]
pub struct Overrun {
    /// The file.
    pub file: PathBuf,
    /// What was being done with it.
    pub doing: &'static str,
    /// Which limit.
    pub over: Over,
}

/// A limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Over {
    /// Of time.
    #[error("took longer than {:.0} s and was stopped", .0.as_secs_f64())]
    Time(Duration),
    /// Of memory, bytes.
    #[error("took more than {:.1} GB of memory and was stopped", *.0 as f64 / 1e9)]
    Memory(u64),
}

impl Over {
    fn remedy(self) -> &'static str {
        match self {
            Self::Time(_) => "; a slow disk or a vast file is given longer with --file-time",
            Self::Memory(_) => "",
        }
    }
}

/// A file that is being opened or read; over when dropped.
#[derive(Debug)]
pub struct Reading {
    number: u64,
}

/// One of them, as it is watched.
#[derive(Debug)]
struct Watched {
    number: u64,
    file: PathBuf,
    doing: &'static str,
    began: Instant,
    allowed: Duration,
    /// Bytes that the program may hold.
    most: u64,
}

impl Watched {
    fn overrun(&self, now: Instant, held: Option<u64>) -> Option<Overrun> {
        let over = if now.saturating_duration_since(self.began) > self.allowed {
            Over::Time(self.allowed)
        } else if held.is_some_and(|held| held > self.most) {
            Over::Memory(MEMORY)
        } else {
            return None;
        };
        Some(Overrun { file: self.file.clone(), doing: self.doing, over })
    }
}

static WATCHED: Mutex<Vec<Watched>> = Mutex::new(Vec::new());
static BEGUN: Condvar = Condvar::new();
/// Milliseconds that a file may take; 0 where nothing was said.
static TIME_SAID: AtomicU64 = AtomicU64::new(0);
static TOLD: OnceLock<fn(&Overrun)> = OnceLock::new();

fn watched() -> MutexGuard<'static, Vec<Watched>> {
    WATCHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Sets how long opening or reading one file may take, at least a millisecond.
pub fn allow_time(time: Duration) {
    TIME_SAID.store((time.as_millis() as u64).max(1), Ordering::Relaxed);
}

/// How long opening or reading one file may take.
#[must_use]
pub fn time() -> Duration {
    match TIME_SAID.load(Ordering::Relaxed) {
        0 => TIME,
        said => Duration::from_millis(said),
    }
}

/// What a program does when a reading overran and may never come back: it has to
/// end itself. Without it the caller waits. The first call counts.
pub fn on_overrun(tell: fn(&Overrun)) {
    let _ = TOLD.set(tell);
}

impl Reading {
    /// Begins to read a file; `doing` says what, as in "opening it".
    #[must_use]
    pub fn begin(file: &Path, doing: &'static str) -> Self {
        static NUMBER: AtomicU64 = AtomicU64::new(0);
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        watch();
        watched().push(Watched {
            number,
            file: file.to_owned(),
            doing,
            began: Instant::now(),
            allowed: time(),
            most: held().unwrap_or(0).saturating_add(MEMORY),
        });
        BEGUN.notify_one();
        Self { number }
    }

    /// Allows the time that so many cells take.
    #[must_use]
    pub fn of_cells(self, cells: u64) -> Self {
        if let Some(own) = watched().iter_mut().find(|w| w.number == self.number) {
            own.allowed += Duration::from_secs_f64(cells as f64 / CELLS_A_SECOND);
        }
        self
    }

    /// Whether it is still within its limits.
    ///
    /// # Errors
    /// [`Overrun`] where it is not.
    pub fn check(&self) -> Result<(), Overrun> {
        let watched = watched();
        let own = watched.iter().find(|w| w.number == self.number);
        own.and_then(|own| own.overrun(Instant::now(), None)).map_or(Ok(()), Err)
    }
}

impl Drop for Reading {
    fn drop(&mut self) {
        watched().retain(|w| w.number != self.number);
    }
}

/// Starts the thread that watches, once.
fn watch() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let look = || loop {
            let mut watched = watched();
            while watched.is_empty() {
                watched = BEGUN.wait(watched).unwrap_or_else(PoisonError::into_inner);
            }
            let (now, held) = (Instant::now(), held());
            let overrun = watched.iter().find_map(|w| w.overrun(now, held));
            drop(watched);
            if let (Some(overrun), Some(tell)) = (overrun, TOLD.get()) {
                tell(&overrun);
            }
            std::thread::sleep(LOOK_EVERY);
        };
        // Without it a reading that comes back is still held to its limits.
        drop(std::thread::Builder::new().name("reading".to_owned()).spawn(look));
    });
}

/// The bytes that this program holds in memory now.
fn held() -> Option<u64> {
    memory_stats::memory_stats().map(|stats| stats.physical_mem as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(allowed: Duration, most: u64) -> Watched {
        Watched {
            number: 0,
            file: PathBuf::from("terrain.tif"),
            doing: "opening it",
            began: Instant::now() - Duration::from_secs(5),
            allowed,
            most,
        }
    }

    #[test]
    fn a_limit_is_passed_only_beyond_it() {
        let minute = of(Duration::from_secs(60), 10);
        assert_eq!(minute.overrun(minute.began, Some(10)), None);
        let memory = minute.overrun(minute.began, Some(11)).unwrap();
        assert_eq!(memory.over, Over::Memory(MEMORY));
        assert!(memory.to_string().contains("more than 2.1 GB"), "{memory}");
        assert_eq!(minute.overrun(minute.began + minute.allowed, None), None);
        let late = minute.began + minute.allowed + Duration::from_nanos(1);
        let time = minute.overrun(late, None).unwrap();
        assert_eq!(time.over, Over::Time(Duration::from_secs(60)));
        let text = time.to_string();
        assert!(text.starts_with("terrain.tif: opening it took longer than 60 s"), "{text}");
        assert!(text.contains("--file-time"), "{text}");
        assert!(!memory.to_string().contains("--file-time"));
    }

    #[test]
    fn one_that_overran_is_told_by_itself_and_when_asked() {
        static HEARD: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());
        on_overrun(|overrun| HEARD.lock().unwrap().push(overrun.file.clone()));
        let other = Reading::begin(Path::new("in-time"), "reading it");
        let late = Reading::begin(Path::new("too-late"), "reading it");
        let shorten = |w: &mut Watched| w.allowed = Duration::ZERO;
        watched().iter_mut().filter(|w| w.number == late.number).for_each(shorten);
        assert_eq!(late.check().unwrap_err().file, Path::new("too-late"));
        other.check().unwrap();
        let told = || HEARD.lock().unwrap().iter().any(|file| file == Path::new("too-late"));
        let until = Instant::now() + Duration::from_secs(20);
        while !told() && Instant::now() < until {
            std::thread::sleep(LOOK_EVERY);
        }
        assert!(told());
        assert!(!HEARD.lock().unwrap().iter().any(|file| file == Path::new("in-time")));
    }

    #[test]
    fn the_time_that_was_said_counts() {
        assert_eq!(time(), TIME);
        allow_time(TIME);
        assert_eq!(TIME_SAID.load(Ordering::Relaxed), 30_000);
        assert_eq!(time(), TIME);
    }

    #[test]
    fn a_reading_is_watched_until_it_is_dropped() {
        let reading = Reading::begin(Path::new("watched-until-dropped"), "reading it");
        let is_watched = || watched().iter().any(|w| w.file.ends_with("watched-until-dropped"));
        assert!(is_watched());
        reading.check().unwrap();
        let reading = reading.of_cells(2_000_000_000);
        let allowed = watched().iter().find(|w| w.number == reading.number).unwrap().allowed;
        assert_eq!(allowed, time() + Duration::from_secs(100));
        drop(reading);
        assert!(!is_watched());
    }

    #[test]
    fn what_this_program_holds_is_known() {
        assert!(held().unwrap() > 1 << 20);
    }
}
