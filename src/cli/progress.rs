//! What a run is doing: shown on a terminal while it lasts, none when piped, and how
//! long each stage took for `--times`.

use std::fmt;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{HumanDuration, ProgressBar, ProgressState, ProgressStyle};
use serde::ser::Error as _;
use serde::{Serialize, Serializer};
use serde_json::json;

/// How often what has no steps shows that it goes on, and when first.
const TICK: Duration = Duration::from_millis(500);

/// An estimate of what is left rests on this much of the work and of time at least:
/// the first steps take longer than those that follow.
const KNOWN_AFTER: (f32, Duration) = (0.05, Duration::from_secs(1));

/// How long a stage may still take, once that can be told.
fn time_left(state: &ProgressState, to: &mut dyn fmt::Write) {
    if is_known(state.fraction(), state.elapsed()) {
        // What a bar cannot show is no reason to stop.
        let _ = write!(to, " {:#}", HumanDuration(state.eta()));
    }
}

fn is_known(done: f32, elapsed: Duration) -> bool {
    done >= KNOWN_AFTER.0 && elapsed >= KNOWN_AFTER.1
}

/// The stages of a run, one after the other.
#[derive(Debug)]
pub(super) struct Stages {
    begun: Instant,
    stages: Mutex<Known>,
}

#[derive(Debug, Default)]
struct Known {
    done: Vec<Took>,
    /// How many of them a document tells, once it is complete.
    told: Option<usize>,
    now: Option<(String, Instant, ProgressBar)>,
    /// What was made inside the last stage, at a time with other things.
    parts: Vec<Took>,
}

/// How long something took.
#[derive(Debug, Clone)]
struct Took {
    what: String,
    time: Duration,
}

impl Stages {
    pub(super) fn new() -> Self {
        Self { begun: Instant::now(), stages: Mutex::default() }
    }

    fn known(&self) -> MutexGuard<'_, Known> {
        self.stages.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Ends a stage and begins the next, of `steps` steps or of nobody knows how many
    /// where there are none; `left` says what follows it.
    pub(super) fn begin(&self, what: &str, steps: usize, left: &str) -> ProgressBar {
        self.end();
        let template = match (steps, left) {
            (0, "") => "{msg} {spinner} {elapsed}",
            (0, _) => "{msg} {spinner} {elapsed}, then {prefix}",
            (_, "") => "{msg} {wide_bar} {percent} %{left}",
            _ => "{msg} {wide_bar} {percent} %{left}, then {prefix}",
        };
        let bar =
            if steps == 0 { ProgressBar::new_spinner() } else { ProgressBar::new(steps as u64) };
        let style = ProgressStyle::with_template(template);
        let bar = bar
            .with_style(
                style.unwrap_or_else(|_| ProgressStyle::default_bar()).with_key("left", time_left),
            )
            .with_message(what.to_owned())
            .with_prefix(left.to_owned());
        // Nobody to show it to: no thread that does.
        if steps == 0 && !bar.is_hidden() {
            bar.enable_steady_tick(TICK);
        }
        self.known().now = Some((what.to_owned(), Instant::now(), bar.clone()));
        bar
    }

    /// Ends the stage that lasts, if one does.
    pub(super) fn end(&self) {
        let mut known = self.known();
        if let Some((what, begun, bar)) = known.now.take() {
            bar.finish_and_clear();
            known.done.push(Took { what, time: begun.elapsed() });
        }
    }

    /// Ends the stage that lasts; what comes later is in no document.
    pub(super) fn answered(&self) {
        self.end();
        let mut known = self.known();
        known.told = Some(known.done.len());
    }

    /// A part of the stage that lasts is done.
    pub(super) fn part(&self, what: &str, time: Duration) {
        let mut known = self.known();
        known.parts.push(Took { what: what.to_owned(), time });
        if let Some((stage, _, bar)) = &known.now {
            bar.set_message(format!("{stage}: {what} is done"));
        }
    }

    /// How long everything took, for people.
    pub(super) fn table(&self) -> String {
        let known = self.known();
        let line = |took: &Took, inset: &str| {
            format!("{inset}{:8.3} s  {}\n", took.time.as_secs_f64(), took.what)
        };
        let stages: String = known.done.iter().map(|took| line(took, "")).collect();
        let parts: String = known.parts.iter().map(|took| line(took, "  ")).collect();
        let beside = if parts.is_empty() { "" } else { "of which, some of them at a time:\n" };
        format!(
            "how long it took:\n{stages}{:8.3} s  all of it\n{beside}{parts}",
            self.begun.elapsed().as_secs_f64()
        )
    }

    /// `document` with the times of the stages that are done under `provenance`.
    pub(super) fn within<'a, T>(&'a self, document: &'a T) -> Within<'a, T> {
        Within { stages: Some(self), document }
    }
}

impl Drop for Stages {
    fn drop(&mut self) {
        self.end();
    }
}

/// A document, with times if they were asked for.
pub(super) struct Within<'a, T> {
    stages: Option<&'a Stages>,
    document: &'a T,
}

impl<'a, T> Within<'a, T> {
    /// The document as it is.
    pub(super) fn without(document: &'a T) -> Self {
        Self { stages: None, document }
    }
}

impl<T: Serialize> Serialize for Within<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Some(stages) = self.stages else { return self.document.serialize(serializer) };
        let mut value = serde_json::to_value(self.document).map_err(S::Error::custom)?;
        let known = stages.known();
        let times: Vec<_> = known
            .done
            .iter()
            .take(known.told.unwrap_or(usize::MAX))
            .map(|took| json!({ "stage": took.what, "seconds": took.time.as_secs_f64() }))
            .collect();
        if let Some(provenance) = value.get_mut("provenance").and_then(|p| p.as_object_mut()) {
            provenance.insert("times".to_owned(), times.into());
        }
        value.serialize(serializer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_estimated_from_the_first_steps() {
        let second = Duration::from_secs(1);
        assert!(!is_known(0.04, 20 * second) && !is_known(0.5, second / 2));
        assert!(is_known(0.05, second) && is_known(1.0, 2 * second));
    }

    #[test]
    fn stages_are_timed_in_order_and_told_only_where_asked_for() {
        let stages = Stages::new();
        stages.begin("reading", 0, "maps");
        let bar = stages.begin("maps", 3, "");
        bar.inc(2);
        stages.part("a.png", Duration::from_millis(1500));
        let document = json!({ "provenance": { "method": "x" }, "result": 1 });
        let told = serde_json::to_value(stages.within(&document)).unwrap();
        let times = told["provenance"]["times"].as_array().unwrap();
        assert_eq!(times.len(), 1, "the stage that lasts is not done");
        assert_eq!(times[0]["stage"], "reading");
        assert!(times[0]["seconds"].as_f64().unwrap() >= 0.0);
        assert_eq!(told["provenance"]["method"], "x");
        assert_eq!(serde_json::to_value(Within::without(&document)).unwrap(), document);
        stages.answered();
        stages.begin("files", 0, "");
        stages.end();
        let told = serde_json::to_value(stages.within(&document)).unwrap();
        assert_eq!(told["provenance"]["times"].as_array().unwrap().len(), 2);
        let table = stages.table();
        let at = |what: &str| table.find(what).unwrap_or_else(|| panic!("{what}: {table}"));
        assert!(at("reading") < at("maps") && at("maps") < at("1.500 s  a.png"));
    }
}
