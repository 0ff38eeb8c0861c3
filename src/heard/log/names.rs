//! Names of the plan as the rows of a log write them.

use std::collections::HashMap;

use super::values::short;
use perchline_plan::{Plan, nearest};

/// Names that a message lists at most.
const MOST_LISTED: usize = 40;

/// Unknown names for which a likely one is looked for: each is compared with all
/// of the plan's, and a log of another plan has as many as rows.
const MOST_GUESSED: usize = 1000;

/// Longest text, in bytes, that may be a slip for a name.
const LONGEST_GUESSED: usize = 400;

/// Names of one kind, letter case aside, with their places in the plan.
struct Kind {
    word: &'static str,
    known: HashMap<String, usize>,
}

impl Kind {
    fn of<'p>(word: &'static str, names: impl Iterator<Item = &'p str>) -> Self {
        let mut known = HashMap::new();
        for (index, name) in names.enumerate() {
            known.entry(name.to_lowercase()).or_insert(index);
        }
        Self { word, known }
    }

    fn find(&self, name: &str) -> Option<usize> {
        self.known.get(&name.trim().to_lowercase()).copied()
    }
}

/// The plan's names, put up once for all rows.
pub(super) struct Names<'p> {
    pub(super) plan: &'p Plan,
    posts: Kind,
    channels: Kind,
    sites: Kind,
    trackers: Vec<String>,
    /// What was said of names that the plan does not have.
    unknown: HashMap<(&'static str, String), String>,
}

impl<'p> Names<'p> {
    pub(super) fn of(plan: &'p Plan) -> Self {
        Self {
            plan,
            posts: Kind::of("post", plan.posts.iter().map(|p| p.name.as_str())),
            channels: Kind::of("channel", plan.channels.iter().map(|c| c.name.as_str())),
            sites: Kind::of("site", plan.sites.iter().map(|s| s.name.as_str())),
            trackers: plan.trackers.iter().map(|t| t.name.to_lowercase()).collect(),
            unknown: HashMap::new(),
        }
    }

    /// Index of the post of this name, letter case aside.
    pub(super) fn post(&self, name: &str) -> Option<usize> {
        self.posts.find(name)
    }

    /// What to say of a post that the plan does not have.
    pub(super) fn no_post(&mut self, name: &str) -> String {
        let plan = self.plan;
        self.unknown(self.posts.word, name, plan.posts.iter().map(|p| p.name.as_str()))
    }

    /// Index of the channel of this name.
    pub(super) fn channel(&mut self, name: &str) -> Result<usize, String> {
        let plan = self.plan;
        let found = self.channels.find(name);
        found.ok_or_else(|| {
            self.unknown(self.channels.word, name, plan.channels.iter().map(|c| c.name.as_str()))
        })
    }

    /// Index of the site of this name.
    pub(super) fn site(&mut self, name: &str) -> Result<usize, String> {
        let plan = self.plan;
        let found = self.sites.find(name);
        found.ok_or_else(|| {
            self.unknown(self.sites.word, name, plan.sites.iter().map(|s| s.name.as_str()))
        })
    }

    /// Index of the tracker of this name; "Last runners 2" is one of "Last runners".
    pub(super) fn tracker(&self, name: &str) -> Option<usize> {
        let plain = name.to_lowercase();
        self.trackers.iter().position(|known| {
            plain.strip_prefix(known.as_str()).is_some_and(|rest| {
                rest.trim_start_matches([' ', '-', '#']).chars().all(|c| c.is_ascii_digit())
            })
        })
    }

    /// The plan's trackers, for a message.
    pub(super) fn known_trackers(&self) -> String {
        let trackers = &self.plan.trackers;
        let mut names: Vec<_> =
            trackers.iter().take(MOST_LISTED).map(|t| format!("\"{}\"", t.name)).collect();
        if trackers.len() > MOST_LISTED {
            names.push(format!("and {} more", trackers.len() - MOST_LISTED));
        }
        if names.is_empty() { "none".to_owned() } else { names.join(", ") }
    }

    /// What to say of a name that the plan does not have.
    fn unknown<'n>(
        &mut self,
        kind: &'static str,
        name: &str,
        names: impl Iterator<Item = &'n str>,
    ) -> String {
        let shown = short(name);
        let plain = |near: Option<&str>| {
            let near = near.map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"));
            format!("{kind}: the plan has no {kind} \"{shown}\"{near}")
        };
        let key = (kind, name.to_owned());
        if let Some(said) = self.unknown.get(&key) {
            return said.clone();
        }
        if self.unknown.len() >= MOST_GUESSED || name.len() > LONGEST_GUESSED {
            return plain(None);
        }
        let said = plain(nearest(name, names));
        self.unknown.insert(key, said.clone());
        said
    }
}
