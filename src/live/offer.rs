//! Unsaved text that an earlier page left beside the plan: what it is, how it
//! differs from the plan, and whether it can be continued from.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use jiff::Timestamp;

use super::file::{NoText, PlanFile, is_at, open_plain, text_of, word_for};
use super::recovery::{digest, marked, names};
use perchline_plan::{MAX_PLAN_BYTES, Problem};

/// Lines that are shown of a difference.
const MOST_LINES: usize = 8;
/// Letters that are shown of a line.
const MOST_LETTERS: usize = 120;

/// A file with unsaved text.
#[derive(Debug)]
pub struct Offer {
    /// Its number on this desk.
    pub id: usize,
    /// The file.
    pub path: PathBuf,
    /// Open and locked, so that nobody else offers it. `None` where it is no file
    /// or may not be read.
    pub(super) file: Option<File>,
    /// When it was written, where the file system says so.
    pub written: Option<SystemTime>,
    /// The text, or why there is none, in sentences.
    pub text: Result<String, String>,
    /// What the plan's reader finds wrong in it.
    pub problems: Vec<Problem>,
    /// The digest of the text that it is a change of.
    change_of: Option<String>,
    /// Whether the plan's file is younger.
    plan_is_younger: bool,
}

/// What an offer is beside the plan as its file has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// How much differs, in a sentence.
    pub text: String,
    /// The first lines that differ, with their numbers.
    pub lines: Vec<String>,
}

impl Offer {
    /// Whether it can be continued from.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.text.is_ok() && self.problems.is_empty()
    }

    /// Whether it can be discarded here.
    #[must_use]
    pub fn can_be_discarded(&self) -> bool {
        self.file.is_some()
    }

    /// Whether it changes an older text of the plan than `plan`.
    #[must_use]
    pub fn is_of_an_older_plan(&self, plan: &str) -> bool {
        match &self.change_of {
            Some(digest_then) => *digest_then != digest(plan),
            None => self.plan_is_younger,
        }
    }

    /// What there is to know of it but for the time, beside the plan's text.
    #[must_use]
    pub fn told(&self, plan: &str) -> Vec<String> {
        let text = match &self.text {
            Ok(text) => text,
            Err(why) => return vec![why.clone()],
        };
        let mut told = vec![difference(plan, text).text];
        if self.is_of_an_older_plan(plan) {
            told.push(
                "They were made in an older text of the plan: its file has changed since. Continuing from them takes those later changes back; compare before you save."
                    .to_owned(),
            );
        }
        told
    }

    /// What to do about its problems, where it has some.
    #[must_use]
    pub fn refusal(&self) -> Option<&'static str> {
        (!self.problems.is_empty()).then_some(
            "The plan would be refused with them: fix the file in an editor and start again, or discard them.",
        )
    }

    /// What the file is, in a sentence; `when` it was written.
    #[must_use]
    pub fn heading(&self, when: &str) -> String {
        let file = self.path.display();
        match self.text {
            Ok(_) => format!("Unsaved changes of an earlier page, written {when}, are in {file}."),
            Err(_) => format!("{file} stands where unsaved changes of a page are kept."),
        }
    }

    /// When it was written, in UTC, to the second.
    #[must_use]
    pub fn written_at(&self) -> Option<String> {
        let at = Timestamp::try_from(self.written?).ok()?;
        Some(at.strftime("%Y-%m-%dT%H:%M:%SZ").to_string())
    }

    /// How long ago it was written and when, in words.
    #[must_use]
    pub fn written_words(&self) -> String {
        let Some((written, at)) = self.written.zip(self.written_at()) else {
            return "at a time that is not known".to_owned();
        };
        let at = at.replace('T', " ").replace('Z', " UTC");
        match SystemTime::now().duration_since(written) {
            Ok(age) => format!("{}, at {at}", ago(age)),
            Err(_) => format!("at {at}, which is still to come by this machine's clock"),
        }
    }

    /// Removes the file, if it is still the one that was offered.
    pub(super) fn remove(&self) -> io::Result<()> {
        match &self.file {
            Some(file) if is_at(file, &self.path) => fs::remove_file(&self.path),
            // Gone already, or another by now.
            _ => Ok(()),
        }
    }
}

/// The files with unsaved text beside a plan that holds `kept`, the latest
/// first, and what else is to be told. Those that hold what the plan does are
/// removed. `check` says what is wrong with a text.
pub(super) fn find(
    file: &PlanFile,
    kept: &str,
    check: impl Fn(&str) -> Vec<Problem>,
) -> (Vec<Offer>, Vec<String>) {
    let plan_written = fs::metadata(file.place()).and_then(|found| found.modified()).ok();
    let (mut offers, mut told) = (Vec::new(), Vec::new());
    for (id, path) in names(file.place()).into_iter().enumerate() {
        let written = match fs::symlink_metadata(&path) {
            Ok(found) => found.modified().ok(),
            Err(_) => continue,
        };
        let mut offer = Offer {
            id,
            file: None,
            written,
            text: Err(String::new()),
            problems: Vec::new(),
            change_of: None,
            plan_is_younger: plan_written.zip(written).is_some_and(|(plan, this)| plan > this),
            path,
        };
        match opened(&offer.path) {
            Ok(None) => {
                told.push(format!(
                    "{} is in use by another `perchline live` and left alone",
                    offer.path.display()
                ));
                continue;
            }
            Ok(Some((file, text))) => {
                offer.change_of = marked(&file);
                offer.file = Some(file);
                offer.text = text;
            }
            Err(why) => offer.text = Err(why),
        }
        if let Ok(text) = &offer.text {
            if text == kept && offer.remove().is_ok() {
                continue;
            }
            offer.problems = check(text);
        }
        offers.push(offer);
    }
    offers.sort_by_key(|offer| std::cmp::Reverse(offer.written));
    (offers, told)
}

type Text = Result<String, String>;

/// A file and its text; nothing where another process has it.
fn opened(path: &Path) -> Result<Option<(File, Text)>, String> {
    let cannot = |why: String| {
        format!("{why}, so it cannot be read. Look at it, and move it away if it is of no use.")
    };
    let kind = fs::symlink_metadata(path).map_err(|e| cannot(format!("{e}")))?.file_type();
    if !kind.is_file() {
        return Err(cannot(format!("It is {}", word_for(kind))));
    }
    let file = open_plain(path).map_err(|e| cannot(format!("The system says: {e}")))?;
    if matches!(file.try_lock(), Err(TryLockError::WouldBlock)) {
        return Ok(None);
    }
    let text = match text_of(&file) {
        Ok(Ok(text)) => Ok(text),
        Ok(Err(NoText::TooLong)) => Err(format!(
            "It is longer than a plan may be ({} MiB), so it cannot be continued from. Look at it in an editor, or discard it.",
            MAX_PLAN_BYTES / (1024 * 1024)
        )),
        Ok(Err(NoText::Bytes)) => Err(
            "It is damaged: it holds bytes that are no text, so it cannot be continued from. Look at it in an editor, or discard it."
                .to_owned(),
        ),
        Err(error) => Err(format!("It cannot be read: {error}.")),
    };
    Ok(Some((file, text)))
}

/// How `new` differs from the plan's text, line by line.
#[must_use]
pub fn difference(plan: &str, new: &str) -> Difference {
    let (old, new): (Vec<_>, Vec<_>) = (plan.lines().collect(), new.lines().collect());
    if old.len() != new.len() {
        let first = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
        return Difference {
            text: format!(
                "They have {} lines, the plan's file has {}; line {} is the first to differ.",
                new.len(),
                old.len(),
                first + 1
            ),
            lines: new.get(first).map(|line| numbered(first, line)).into_iter().collect(),
        };
    }
    let differ: Vec<_> = old.iter().zip(&new).enumerate().filter(|(_, (a, b))| a != b).collect();
    let text = match differ.len() {
        0 => "They differ from the plan's file in the ends of lines alone.".to_owned(),
        1 => "They differ from the plan's file in one line.".to_owned(),
        count => format!("They differ from the plan's file in {count} lines."),
    };
    let lines = differ.iter().take(MOST_LINES).map(|(index, (_, new))| numbered(*index, new));
    let mut lines: Vec<_> = lines.collect();
    if differ.len() > MOST_LINES {
        lines.push(format!("and {} more", differ.len() - MOST_LINES));
    }
    Difference { text, lines }
}

fn numbered(index: usize, line: &str) -> String {
    let short: String = line.chars().take(MOST_LETTERS).collect();
    let cut = if short.len() < line.len() { "..." } else { "" };
    format!("line {}: {short}{cut}", index + 1)
}

fn ago(age: Duration) -> String {
    let seconds = age.as_secs();
    let (number, unit) = match seconds {
        0..=90 => return "a moment ago".to_owned(),
        91..=5400 => (seconds.div_ceil(60), "minutes"),
        5401..=172_800 => (seconds / 3600, "hours"),
        _ => (seconds / 86_400, "days"),
    };
    format!("{number} {unit} ago")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_differ_are_counted_and_shown() {
        let plan = "a = 1\nb = 2\nc = 3\n";
        let one = difference(plan, "a = 1\nb = 7\nc = 3\n");
        assert_eq!(one.text, "They differ from the plan's file in one line.");
        assert_eq!(one.lines, ["line 2: b = 7"]);
        let longer = difference(plan, "a = 1\nb = 2\nx = 9\nc = 3\n");
        assert!(longer.text.contains("4 lines, the plan's file has 3; line 3 is"), "{longer:?}");
        assert_eq!(longer.lines, ["line 3: x = 9"]);
        let shorter = difference(plan, "a = 1\nb = 2\n");
        assert!(shorter.text.contains("line 3 is the first"), "{shorter:?}");
        assert!(shorter.lines.is_empty());
        let ends = difference(plan, &plan.replace('\n', "\r\n"));
        assert!(ends.text.contains("ends of lines"), "{ends:?}");
        let many: String = (0..30).map(|n| format!("x = {n}\n")).collect();
        let all = difference(&many, &many.replace('x', "y"));
        assert_eq!(all.lines.len(), MOST_LINES + 1);
        assert_eq!(all.lines.last().unwrap(), "and 22 more");
        let long = difference("a\n", &format!("{}\n", "ä".repeat(500)));
        assert!(long.lines[0].chars().count() < 150, "{long:?}");
    }

    #[test]
    fn ages_are_told_in_the_unit_that_fits() {
        for (seconds, words) in [
            (3, "a moment ago"),
            (120, "2 minutes ago"),
            (7200, "2 hours ago"),
            (864_000, "10 days ago"),
        ] {
            assert_eq!(ago(Duration::from_secs(seconds)), words);
        }
    }
}
