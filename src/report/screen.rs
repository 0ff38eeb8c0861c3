//! The text of a verb: all of it, and what of it a screen holds.

use comfy_table::Table;
use perchline_plan::{Plan, Remark};

use super::cautions::{Caution, Output, cautions, in_brief, listed};
use super::tables::{emptied, printed};
use super::text_lines::{COLUMNS, folded};

/// Lines of a screen, with what made it.
pub const LINES: usize = 40;

/// So many remarks are on a screen before anything else has room: what a result assumes.
const FOREMOST: usize = 2;

/// A text in parts, of which the less important give way on a screen.
#[derive(Debug, Clone, Default)]
pub struct Screen {
    parts: Vec<Part>,
}

#[derive(Debug, Clone)]
enum Part {
    /// In both forms.
    Both(String),
    /// In the long form alone, with the words that say what is left out.
    Long { what: &'static str, text: String },
    /// In the short form alone: in place of what the long one tells at length.
    Short(String),
    /// Rows, as many as there is room for.
    Rows(Rows),
    /// The same, for the short form alone.
    ShortRows(Rows),
    /// What can hurt.
    Cautions(Vec<Caution>),
    /// In the short form alone: what made it, which stands last.
    Made(String),
}

/// Rows of a table, or lines, of which a screen shows those that matter most.
#[derive(Debug, Clone)]
pub struct Rows {
    title: String,
    kind: Kind,
    /// Which of them fail, where any can.
    failing: Vec<bool>,
    /// What those are that fail, and the others: "failing", "that should work".
    named: [&'static str; 2],
    /// What all of them are together.
    all: &'static str,
    /// Whether a screen has no use for those that do not fail.
    only_failing: bool,
    /// How many are shown before other rows get room.
    least: usize,
}

#[derive(Debug, Clone)]
enum Kind {
    Table(Box<Table>),
    Lines(Vec<String>),
}

impl Rows {
    /// Rows of a table under a title of whole lines, which may be empty; `name` says
    /// what those are that are left out.
    pub(super) fn of(title: impl Into<String>, table: Table, name: &'static str) -> Self {
        Self::new(title.into(), Kind::Table(Box::new(table)), name)
    }

    /// The same of lines, each with its end.
    pub(super) fn lines(title: impl Into<String>, lines: Vec<String>, name: &'static str) -> Self {
        Self::new(title.into(), Kind::Lines(lines), name)
    }

    fn new(title: String, kind: Kind, name: &'static str) -> Self {
        let (failing, named) = (Vec::new(), [name; 2]);
        Self { title, kind, failing, named, all: name, only_failing: false, least: 0 }
    }

    /// Shows these first, whose name is `name`.
    pub(super) fn failing(
        mut self,
        failing: impl IntoIterator<Item = bool>,
        name: &'static str,
    ) -> Self {
        self.failing = failing.into_iter().collect();
        self.named[0] = name;
        self
    }

    /// Names them where a screen has no room for any.
    pub(super) const fn called(mut self, all: &'static str) -> Self {
        self.all = all;
        self
    }

    /// Leaves the others to the long form.
    pub(super) const fn only_failing(mut self) -> Self {
        self.only_failing = true;
        self
    }

    /// Shows so many before other rows get room: they are what was asked for.
    pub(super) const fn at_least(mut self, rows: usize) -> Self {
        self.least = rows;
        self
    }

    fn count(&self) -> usize {
        match &self.kind {
            Kind::Table(table) => table.row_count(),
            Kind::Lines(lines) => lines.len(),
        }
    }

    fn fails(&self, row: usize) -> bool {
        self.failing.get(row).copied().unwrap_or(false)
    }

    /// Rows in the order in which a screen shows them.
    fn by_weight(&self) -> Vec<usize> {
        let all = 0..self.count();
        let (failing, others): (Vec<usize>, Vec<usize>) = all.partition(|row| self.fails(*row));
        if self.only_failing { failing } else { [failing, others].concat() }
    }

    /// How many rows fail.
    fn bad(&self) -> usize {
        (0..self.count()).filter(|row| self.fails(*row)).count()
    }

    fn written(&self, rows: &[usize]) -> String {
        match &self.kind {
            Kind::Table(table) => {
                let mut out = emptied(table);
                out.add_rows(rows.iter().filter_map(|row| table.row(*row)).cloned());
                format!("{}\n", printed(&out))
            }
            Kind::Lines(lines) => {
                rows.iter().filter_map(|row| lines.get(*row)).map(String::as_str).collect()
            }
        }
    }

    fn long(&self) -> String {
        if self.count() == 0 {
            return String::new();
        }
        self.title.clone() + &self.written(&(0..self.count()).collect::<Vec<_>>())
    }

    /// The `most` rows that matter most, and how many more there are.
    fn short(&self, most: usize) -> String {
        let order = self.by_weight();
        if order.is_empty() || most == 0 {
            return String::new();
        }
        let (shown, left) = order.split_at(most.min(order.len()));
        let text = self.title.clone() + &self.written(shown);
        let [fail, work] = self.named;
        let is_bad = |row: &&usize| fail != work && self.fails(**row);
        let bad = left.iter().filter(is_bad).count();
        let good = left.len() - bad;
        match (bad, good) {
            (0, 0) => text,
            (0, n) => format!("{text} … and {n} more {}: --long\n", counted(n, work)),
            (n, 0) => format!("{text} … and {n} more {}: --long\n", counted(n, fail)),
            (bad, good) => format!(
                "{text} … and {bad} more {}, {good} {}: --long\n",
                counted(bad, fail),
                counted(good, work)
            ),
        }
    }
}

impl Screen {
    /// A text that begins with this.
    #[must_use]
    pub fn new(text: impl Into<String>) -> Self {
        Self::default().both(text)
    }

    /// Adds what stands in both forms.
    #[must_use]
    pub fn both(self, text: impl Into<String>) -> Self {
        self.with(Part::Both(text.into()))
    }

    /// Adds what the long form alone has; `what` names it where it is left out.
    #[must_use]
    pub fn long_only(self, what: &'static str, text: impl Into<String>) -> Self {
        self.with(Part::Long { what, text: text.into() })
    }

    /// Adds what the short form has in place of a longer text.
    #[must_use]
    pub fn short_only(self, text: impl Into<String>) -> Self {
        self.with(Part::Short(text.into()))
    }

    /// Adds rows.
    #[must_use]
    pub fn rows(self, rows: Rows) -> Self {
        self.with(Part::Rows(rows))
    }

    /// Adds rows that the long form has elsewhere.
    #[must_use]
    pub fn short_rows(self, rows: Rows) -> Self {
        self.with(Part::ShortRows(rows))
    }

    /// Adds all parts of another text.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.parts.extend(other.parts);
        self
    }

    /// Adds remarks, one a line; they come before other rows.
    #[must_use]
    pub fn remarks(self, remarks: &[Remark]) -> Self {
        let line = |r: &Remark| format!("note: {}: {}\n", r.about, r.text);
        let lines = remarks.iter().map(line).collect();
        let all = remarks.iter().map(|_| true);
        self.rows(Rows::lines("", lines, "notes").failing(all, "notes").at_least(FOREMOST))
    }

    /// Adds what can hurt whoever does what `output` of this plan says.
    #[must_use]
    pub fn cautions(self, plan: &Plan, output: Output) -> Self {
        self.with(Part::Cautions(cautions(plan, output)))
    }

    /// Adds what made it, of which the long form tells more elsewhere: it stands last.
    #[must_use]
    pub fn short_made(self, text: impl Into<String>) -> Self {
        self.with(Part::Made(text.into()))
    }

    fn with(mut self, part: Part) -> Self {
        self.parts.push(part);
        self
    }

    /// All of it.
    #[must_use]
    pub fn long(&self) -> String {
        let text = |part: &Part| match part {
            Part::Both(text) | Part::Long { text, .. } => text.clone(),
            Part::Rows(rows) => rows.long(),
            Part::Cautions(cautions) => listed(cautions),
            Part::Short(_) | Part::ShortRows(_) | Part::Made(_) => String::new(),
        };
        self.parts.iter().map(text).collect()
    }

    /// What of it a screen holds under which `below` stands too: what fails first, and
    /// how much more there is.
    #[must_use]
    pub fn short(&self, below: &str) -> String {
        self.written(&self.shown(below))
    }

    /// How many of the rows under this title that short form has.
    #[must_use]
    pub fn rows_under(&self, title: &str, below: &str) -> usize {
        let shown = self.shown(below);
        let under = self.all_rows().zip(shown).filter(|(rows, _)| rows.title == title);
        under.map(|(_, shown)| shown).sum()
    }

    /// All that a screen may show a part of, in their order.
    fn all_rows(&self) -> impl Iterator<Item = &Rows> {
        self.parts.iter().filter_map(|part| match part {
            Part::Rows(rows) | Part::ShortRows(rows) => Some(rows),
            _ => None,
        })
    }

    /// How many rows of each a screen has room for.
    fn shown(&self, below: &str) -> Vec<usize> {
        let rows: Vec<&Rows> = self.all_rows().collect();
        let all: Vec<usize> = rows.iter().map(|rows| rows.by_weight().len()).collect();
        let bad: Vec<usize> = rows.iter().map(|rows| rows.bad()).collect();
        let room = LINES.saturating_sub(lines(below));
        let fits = |shown: &[usize]| lines(&self.written(shown)) <= room;
        let mut shown = vec![0; all.len()];
        for (place, rows) in rows.iter().enumerate() {
            let least = rows.least.min(rows.count());
            let most = (1..=least).rev().map(|rows| set(&shown, place, rows)).find(|m| fits(m));
            shown = most.unwrap_or(shown);
        }
        // A row for each in turn of those that fail, as long as there is room.
        for row in 0..bad.iter().copied().max().unwrap_or(0).min(LINES) {
            for place in 0..shown.len() {
                let more = set(&shown, place, row + 1);
                let is_next = shown.get(place) == Some(&row) && bad.get(place) > Some(&row);
                if is_next && fits(&more) {
                    shown = more;
                }
            }
        }
        // What is left is for the others, those of the first parts first.
        for (place, most) in all.iter().copied().enumerate() {
            let begun = shown.get(place).copied().unwrap_or(0);
            if bad.get(place).is_some_and(|bad| begun < *bad) {
                continue;
            }
            let few = most.min(begun + LINES);
            // The last row takes the place of the line that counts it.
            if let Some(more) =
                (begun + 1..=few).rev().map(|rows| set(&shown, place, rows)).find(|more| fits(more))
            {
                shown = more;
            }
        }
        shown
    }

    /// The short form with so many rows of each.
    fn written(&self, shown: &[usize]) -> String {
        let mut most = shown.iter().copied();
        let (mut left_out, mut text, mut made) = (Vec::<&str>::new(), String::new(), "");
        let mut leave_out = |what: &'static str| {
            if !what.is_empty() && !left_out.contains(&what) {
                left_out.push(what);
            }
        };
        for part in &self.parts {
            match part {
                Part::Both(more) | Part::Short(more) => text += more,
                Part::Rows(rows) | Part::ShortRows(rows) => {
                    let shown = rows.short(most.next().unwrap_or(0));
                    if shown.is_empty() && !rows.by_weight().is_empty() {
                        leave_out(rows.all);
                    }
                    text += &shown;
                }
                Part::Cautions(cautions) => text += &in_brief(cautions),
                Part::Made(last) => made = last,
                Part::Long { text, .. } if text.is_empty() => {}
                Part::Long { what, .. } => leave_out(what),
            }
        }
        if !left_out.is_empty() {
            text += &format!("More with --long: {}.\n", left_out.join(", "));
        }
        without_gaps(&(text + made))
    }
}

/// The same with so many rows in this place.
fn set(shown: &[usize], place: usize, rows: usize) -> Vec<usize> {
    shown.iter().enumerate().map(|(n, known)| if n == place { rows } else { *known }).collect()
}

/// A name of things for so many of them: "note" for one of the "notes".
fn counted(count: usize, name: &str) -> &str {
    let one = name.strip_suffix('s').filter(|_| count == 1 && !name.contains(' '));
    one.unwrap_or(name)
}

/// How many lines a text takes on a terminal.
fn lines(text: &str) -> usize {
    folded(text, COLUMNS).lines().count()
}

/// Where parts are left out, one empty line stands for those around them.
fn without_gaps(text: &str) -> String {
    let mut out = String::new();
    for line in text.split_inclusive('\n') {
        if line == "\n" && (out.is_empty() || out.ends_with("\n\n")) {
            continue;
        }
        out += line;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::tables::table;
    use super::*;

    fn posts(count: usize, fails: impl Fn(usize) -> bool) -> Rows {
        let mut out = table(["Post", "Outcome"], &[]);
        for post in 0..count {
            let outcome = if fails(post) { "No contact" } else { "Clear" };
            out.add_row([format!("Post {post}"), outcome.to_owned()]);
        }
        Rows::of("By post\n", out, "that should work").failing((0..count).map(fails), "failing")
    }

    #[test]
    fn a_screen_shows_what_fails_first_and_counts_the_rest() {
        let screen = Screen::new("Answer.\n\n")
            .rows(posts(100, |post| post % 30 == 29))
            .long_only("why", "Why\n".repeat(100));
        let short = screen.short("made\n");
        assert!(short.lines().count() < LINES, "{short}");
        let at = |what: &str| short.find(what).unwrap_or_else(|| panic!("{what}: {short}"));
        assert!(at("Post 89") < at("Post 0"), "{short}");
        assert!(short.ends_with("more that should work: --long\nMore with --long: why.\n"));
        let rows = short.matches("  Clear").count();
        assert!(short.contains(&format!("and {} more that", 97 - rows)), "{short}");
        assert_eq!(short.matches("No contact").count(), 3);
        let long = screen.long();
        assert_eq!(long.matches("Post ").count() + long.matches("Post\n").count(), 101);
        assert!(long.find("Post 0 ") < long.find("Post 29 ") && long.contains("Why"));
    }

    #[test]
    fn rows_are_counted_as_they_are_shown() {
        let screen = Screen::new("Answer.\n").rows(posts(50, |_| false)).both("More.\n".repeat(9));
        let (shown, short) = (screen.rows_under("By post\n", "made\n"), screen.short("made\n"));
        assert!(shown > 20 && shown == short.matches("  Clear").count(), "{shown}: {short}");
        assert_eq!(screen.rows_under("Others\n", ""), 0);
    }

    #[test]
    fn more_that_fail_than_fit_are_counted_as_failing() {
        let short = Screen::new("Answer.\n").rows(posts(100, |post| post >= 20)).short("");
        assert!(short.lines().count() <= LINES, "{short}");
        assert!(!short.contains("  Clear"), "{short}");
        let shown = short.matches("No contact").count();
        assert!(short.contains(&format!("… and {} more failing, 20 that should work", 80 - shown)));
    }

    #[test]
    fn what_fits_is_shown_whole() {
        let screen = Screen::new("Answer.\n").rows(posts(5, |_| false)).rows(posts(0, |_| false));
        assert_eq!(screen.short(""), screen.long());
        let lines = vec!["one\n".to_owned(), "two\n".to_owned()];
        let rows = Rows::lines("", lines, "lines").failing([false, true], "bad").only_failing();
        let screen = Screen::new("").rows(rows);
        assert_eq!(
            (screen.short(""), screen.long()),
            ("two\n".to_owned(), "one\ntwo\n".to_owned())
        );
    }
}
