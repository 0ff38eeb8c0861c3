//! Runs a reader over cases, counts, and makes what fails small.

use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::os::unix::fs::FileExt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, AtomicUsize, Ordering};
use std::sync::{Mutex, Once};
use std::time::{Duration, Instant};

use super::memory;
use super::mutate::mutated;
use super::random::Random;

/// Cases for each reader where nothing else is said.
const CASES: u64 = 6_000;
/// The seed where nothing else is said.
const SEED: u64 = 20_261_128;
/// The longest that a case may take, on a machine that does other things too.
const LONGEST: Duration = Duration::from_secs(3);
/// The most that a case may hold at once.
const MOST_BYTES: usize = 256 << 20;
/// Readers; the last to end prints the figures.
const READERS: usize = 9;
/// Failures that are told, each of another kind.
const TOLD: usize = 20;

/// What a reader made of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    Accepted,
    Refused,
}

pub type Check<'r> = Box<dyn FnMut(&[u8]) -> Result<Seen, String> + 'r>;

pub struct Reader<'r> {
    pub name: &'static str,
    /// Good ones.
    pub seeds: Vec<Vec<u8>>,
    /// What the format is made of.
    pub tokens: &'static [&'static str],
    /// One made from nothing.
    pub fresh: fn(&mut Random) -> Vec<u8>,
    /// Whether each of the seeds is accepted, whatever came before it.
    pub strict: bool,
    /// An error says which promise was broken.
    pub check: Check<'r>,
}

/// Checks texts, whatever bytes a case has.
pub fn of_text(check: fn(&str) -> Result<Seen, String>) -> Check<'static> {
    Box::new(move |case| check(&String::from_utf8_lossy(case)))
}

impl Reader<'_> {
    fn case(&self, seed: u64, number: u64) -> Vec<u8> {
        let mut random = Random::of(seed, self.name, number);
        if random.one_in(4) {
            let fresh = (self.fresh)(&mut random);
            if random.one_in(3) {
                return mutated(&fresh, &self.seeds, self.tokens, &mut random);
            }
            return fresh;
        }
        let seed = random.below(self.seeds.len());
        mutated(&self.seeds[seed], &self.seeds, self.tokens, &mut random)
    }
}

thread_local! {
    /// The last refusal.
    static SAID: RefCell<String> = const { RefCell::new(String::new()) };
    static OWN: Cell<bool> = const { Cell::new(false) };
    static LAST: RefCell<String> = const { RefCell::new(String::new()) };
}

/// Panics on threads that no case runs on: of servers and pools.
static ELSEWHERE: AtomicU64 = AtomicU64::new(0);
static ELSEWHERE_TEXT: Mutex<String> = Mutex::new(String::new());
static PANICS: AtomicU64 = AtomicU64::new(0);
static ENDED: AtomicUsize = AtomicUsize::new(0);
static LEAST: AtomicU64 = AtomicU64::new(u64::MAX);
static TABLE: Mutex<Vec<String>> = Mutex::new(Vec::new());

fn hook() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if OWN.get() {
                LAST.with(|last| *last.borrow_mut() = info.to_string());
                return;
            }
            let thread = std::thread::current();
            let tests = thread.name().is_some_and(|name| READER_TESTS.contains(&name));
            if !tests {
                ELSEWHERE.fetch_add(1, Ordering::SeqCst);
                if let Ok(mut text) = ELSEWHERE_TEXT.lock() {
                    let _ = writeln!(text, "{info}");
                }
            }
            before(info);
        }));
    });
}

/// Names of the test threads, which panic where a test fails.
const READER_TESTS: [&str; READERS] = [
    "plans",
    "logs_of_the_day",
    "positions",
    "vector_files",
    "calibrations",
    "class_mappings",
    "requests",
    "quantities",
    "map_tiles",
];

/// Why a case failed.
struct Failure {
    /// Without its numbers and names: failures of one kind are told once.
    kind: String,
    text: String,
    panicked: bool,
}

struct Measured {
    seen: Result<Seen, Failure>,
    took: Duration,
    bytes: usize,
}

fn measure(check: &mut Check<'_>, case: &[u8]) -> Measured {
    let elsewhere = ELSEWHERE.load(Ordering::SeqCst);
    memory::begin();
    OWN.set(true);
    let since = Instant::now();
    let done = catch_unwind(AssertUnwindSafe(|| check(case)));
    let took = since.elapsed();
    OWN.set(false);
    let bytes = memory::most();
    let failure = |text: String, panicked: bool| {
        // A promise, or the place of a panic, is what stands before the first particulars.
        let plain = if panicked { &text } else { text.split([':', '"']).next().unwrap_or("") };
        let plain = plain.chars().filter(|c| !c.is_ascii_digit()).take(200).collect();
        let text = text.chars().take(700).collect();
        Err(Failure { kind: plain, text, panicked })
    };
    let seen = match done {
        Err(_) => failure(LAST.with(|last| last.borrow().clone()), true),
        Ok(Err(broken)) => failure(broken, false),
        Ok(Ok(_)) if took > LONGEST => failure(format!("it took {took:?}"), false),
        Ok(Ok(_)) if bytes > MOST_BYTES => failure(format!("it held {bytes} bytes"), false),
        Ok(Ok(_)) if ELSEWHERE.load(Ordering::SeqCst) > elsewhere => {
            failure("a panic on another thread".to_owned(), true)
        }
        Ok(Ok(seen)) => Ok(seen),
    };
    Measured { seen, took, bytes }
}

/// Leaves stretches out as long as the case still fails in the same way.
fn small(check: &mut Check<'_>, case: &[u8], kind: &str) -> Vec<u8> {
    let begun = Instant::now();
    let mut case = case.to_vec();
    let mut size = case.len().div_ceil(2);
    while size > 0 {
        let mut at = 0;
        while at < case.len() {
            if begun.elapsed() > Duration::from_secs(4) {
                return case;
            }
            let mut less = case.clone();
            less.drain(at..(at + size).min(case.len()));
            match measure(check, &less).seen {
                Err(failure) if failure.kind == kind => case = less,
                _ => at += size,
            }
        }
        size /= 2;
    }
    case
}

fn setting(name: &str) -> Option<u64> {
    let text = std::env::var(name).ok()?;
    Some(text.parse().unwrap_or_else(|_| panic!("{name} is a whole number, not {text:?}")))
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz_readers")
}

/// Files of `folder/name`, in the order of their names.
pub fn kept(kind: &str, name: &str) -> Vec<(String, Vec<u8>)> {
    let Ok(entries) = std::fs::read_dir(folder().join(kind).join(name)) else {
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
        .into_iter()
        .map(|file| (file.display().to_string(), std::fs::read(file).unwrap()))
        .collect()
}

/// Contents of the seeds of a reader that are kept for this test alone.
pub fn seeds(name: &str) -> Vec<Vec<u8>> {
    kept("seeds", name).into_iter().map(|(_, content)| content).collect()
}

/// A folder in memory where the machine has one: a file is written a case.
pub fn scratch() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    match tempfile::tempdir_in(memory) {
        Ok(folder) => folder,
        Err(_) => tempfile::tempdir().unwrap(),
    }
}

/// A file of the repository.
pub fn file(name: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

/// Runs what was found once, the seeds as they are, then the cases.
pub fn run(reader: &mut Reader<'_>) {
    hook();
    let name = reader.name;
    let seed = setting("PERCHLINE_FUZZ_SEED").unwrap_or(SEED);
    if let Some(number) = setting("PERCHLINE_FUZZ_ONLY") {
        let case = reader.case(seed, number);
        println!("{name} {number}: {:?}", String::from_utf8_lossy(&case));
        println!("{:?}", (reader.check)(&case));
        return;
    }
    for (file, content) in kept("found", name) {
        if let Err(failure) = measure(&mut reader.check, &content).seen {
            panic!("{file}: {}", failure.text);
        }
    }
    for (number, content) in reader.seeds.clone().iter().enumerate() {
        match measure(&mut reader.check, content).seen {
            Ok(Seen::Accepted) => {}
            Ok(Seen::Refused) if !reader.strict => {}
            Ok(Seen::Refused) => panic!("{name}: seed {number} is refused: {}", SAID.take()),
            Err(failure) => panic!("{name}: seed {number}: {}", failure.text),
        }
    }
    let tally = cases(reader, seed);
    let row = tally.row(name);
    eprintln!("{row}");
    PANICS.fetch_add(tally.panics, Ordering::SeqCst);
    LEAST.fetch_min(tally.cases, Ordering::SeqCst);
    TABLE.lock().unwrap().push(row);
    if ENDED.fetch_add(1, Ordering::SeqCst) + 1 == READERS {
        figures();
    }
    let told: Vec<String> = tally.failures.into_values().collect();
    assert!(told.is_empty(), "{name}: {} kinds of failure, told above", told.len());
}

fn figures() {
    let mut rows = TABLE.lock().unwrap().clone();
    rows.sort();
    eprintln!("reader cases accepted panics broken slowest_ms slowest_case most_KiB seconds");
    rows.iter().for_each(|row| eprintln!("{row}"));
    let elsewhere = ELSEWHERE_TEXT.lock().unwrap();
    if !elsewhere.is_empty() {
        eprintln!("on other threads:\n{elsewhere}");
    }
    let least = LEAST.load(Ordering::SeqCst);
    // The long run is recorded; what each run of the tests does is told apart from it.
    if least > CASES {
        println!("figure fuzz_cases_per_reader {least} cases");
    } else {
        println!("figure fuzz_cases_each_run {least} cases");
    }
    let panics = PANICS.load(Ordering::SeqCst).max(ELSEWHERE.load(Ordering::SeqCst));
    println!("figure fuzz_panics {panics} panics");
}

#[derive(Default)]
struct Tally {
    cases: u64,
    accepted: u64,
    panics: u64,
    broken: u64,
    slowest: (Duration, u64),
    most: usize,
    took: Duration,
    failures: BTreeMap<String, String>,
}

impl Tally {
    fn row(&self, name: &str) -> String {
        format!(
            "{name} {} {} {} {} {:.1} {} {} {:.0}",
            self.cases,
            self.accepted,
            self.panics,
            self.broken,
            self.slowest.0.as_secs_f64() * 1e3,
            self.slowest.1,
            self.most >> 10,
            self.took.as_secs_f64()
        )
    }
}

fn cases(reader: &mut Reader<'_>, seed: u64) -> Tally {
    let count = setting("PERCHLINE_FUZZ_CASES").unwrap_or(CASES);
    let name = reader.name;
    let since = Instant::now();
    let mut tally = Tally::default();
    // Should the process die, the number of the case stands here.
    let note = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("fuzz-{name}.case"));
    let note = std::fs::File::create(note).unwrap();
    for number in 0..count {
        note.write_at(format!("{number:>12}\n").as_bytes(), 0).unwrap();
        let case = reader.case(seed, number);
        let measured = measure(&mut reader.check, &case);
        tally.cases += 1;
        tally.most = tally.most.max(measured.bytes);
        if measured.took > tally.slowest.0 {
            tally.slowest = (measured.took, number);
        }
        match measured.seen {
            Ok(Seen::Accepted) => tally.accepted += 1,
            Ok(Seen::Refused) => {}
            Err(failure) => {
                if failure.panicked {
                    tally.panics += 1;
                } else {
                    tally.broken += 1;
                }
                if tally.failures.len() < TOLD && !tally.failures.contains_key(&failure.kind) {
                    let less = small(&mut reader.check, &case, &failure.kind);
                    let text = told(name, seed, number, &failure, &less);
                    eprintln!("{text}");
                    tally.failures.insert(failure.kind, text);
                }
            }
        }
        if number % 100_000 == 99_999 {
            eprintln!("{name} {} in {:.0} s", number + 1, since.elapsed().as_secs_f64());
        }
    }
    tally.took = since.elapsed();
    tally
}

/// The failure in words, its small case left in a file.
fn told(name: &str, seed: u64, number: u64, failure: &Failure, less: &[u8]) -> String {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("fuzz-found").join(name);
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join(format!("{seed}-{number}"));
    std::fs::write(&file, less).unwrap();
    format!(
        "{name}: case {number} of seed {seed}: {}\n  small, in {}: {:?}",
        failure.text,
        file.display(),
        String::from_utf8_lossy(&less[..less.len().min(300)])
    )
}

/// What every message must be: words, and nothing that a terminal obeys.
pub fn words(text: &str) -> Result<(), String> {
    SAID.with(|said| text.clone_into(&mut said.borrow_mut()));
    if text.trim().len() < 8 {
        return Err(format!("a refusal without words: {text:?}"));
    }
    if let Some(found) = text.chars().find(|c| is_obeyed(*c)) {
        return Err(format!("a message holds what a terminal obeys: {found:?} in {text:?}"));
    }
    if text.len() > 6000 {
        return Err(format!(
            "a message of {} bytes: {:?}",
            text.len(),
            &text[..text.floor_char_boundary(100)]
        ));
    }
    Ok(())
}

/// What a terminal obeys, or what turns the direction of a line.
fn is_obeyed(c: char) -> bool {
    c.is_control() || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Lines of a text, as an editor counts them.
pub fn lines(text: &[u8]) -> usize {
    1 + text.iter().filter(|b| **b == b'\n').count()
}

/// An error that says `holds` does not hold.
pub fn must(holds: bool, what: impl FnOnce() -> String) -> Result<(), String> {
    if holds { Ok(()) } else { Err(what()) }
}

/// The line in `file:LINE: words`, where there is one, is one of the text.
pub fn line_within(message: &str, file: &str, text: &[u8]) -> Result<(), String> {
    let rest = message.strip_prefix(file).and_then(|rest| rest.strip_prefix(':'));
    let line = rest.and_then(|rest| rest.split(':').next()?.parse::<usize>().ok());
    must(line.is_none_or(|line| (1..=lines(text)).contains(&line)), || {
        format!("a line that is not there: {message:?}")
    })
}
