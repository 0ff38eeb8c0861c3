//! Groups of people: who is in one, and who uses a channel.

use super::{Channel, Group, Plan};

/// The people of a group besides those at its posts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum People {
    /// Their names.
    Named(Vec<String>),
    /// How many they are.
    Counted(u32),
}

impl People {
    /// The most that a group may have.
    pub const MOST: u32 = 10_000;

    /// How many they are.
    #[must_use]
    pub fn count(&self) -> usize {
        match self {
            Self::Named(names) => names.len(),
            Self::Counted(count) => *count as usize,
        }
    }

    /// Their names, where they are known.
    #[must_use]
    pub fn names(&self) -> &[String] {
        match self {
            Self::Named(names) => names,
            Self::Counted(_) => &[],
        }
    }
}

/// Somebody of a group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Member {
    /// Whoever is at a post: an index into [`Plan::posts`].
    Post(usize),
    /// A person by name, who may be anywhere.
    Person(String),
}

impl Member {
    /// The post, where it is one.
    #[must_use]
    pub const fn post(&self) -> Option<usize> {
        match self {
            Self::Post(post) => Some(*post),
            Self::Person(_) => None,
        }
    }

    /// What they are called.
    #[must_use]
    pub fn name<'p>(&'p self, plan: &'p Plan) -> &'p str {
        match self {
            Self::Post(post) => plan.posts.get(*post).map_or("", |post| post.name.as_str()),
            Self::Person(name) => name,
        }
    }
}

/// Somebody of a group who listens to a second channel and relays messages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bridge {
    /// Who.
    pub who: Member,
    /// The second channel, an index into [`Plan::channels`]; nothing for the
    /// first channel of the fallback.
    pub to: Option<usize>,
}

/// Who a text on the users of a channel names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Users {
    /// Nobody by name: anybody may be on it.
    Anybody,
    /// These posts and nobody else, as indices into [`Plan::posts`].
    Only(Vec<usize>),
    /// Some posts or groups of the plan and something else, which is returned:
    /// whether anybody else is on it cannot be told, so anybody may be.
    AndOthers(String),
}

impl Users {
    /// Reads such a text: names of posts and groups with commas, `and` or `&`
    /// between. `posts` and `groups` are those of the plan, groups with the
    /// indices of their posts.
    #[must_use]
    pub fn read(text: &str, posts: &[&str], groups: &[(&str, &[usize])]) -> Self {
        let named = |part: &str| named(part, posts, groups);
        let mut only = Vec::new();
        let mut others: Option<&str> = None;
        for part in text.split([',', ';']).map(str::trim).filter(|part| !part.is_empty()) {
            if let Some(found) = named(part) {
                only.extend(found);
                continue;
            }
            for piece in part.split(" and ").flat_map(|piece| piece.split('&')).map(str::trim) {
                match named(piece) {
                    Some(found) => only.extend(found),
                    None if piece.is_empty() => {}
                    None => others = others.or(Some(piece)),
                }
            }
        }
        only.sort_unstable();
        only.dedup();
        match (only.is_empty(), others) {
            (true, _) => Self::Anybody,
            (false, None) => Self::Only(only),
            (false, Some(other)) => Self::AndOthers(other.to_owned()),
        }
    }
}

/// The posts that a name stands for: those of the group, or the post of this
/// name; letter case aside.
fn named(name: &str, posts: &[&str], groups: &[(&str, &[usize])]) -> Option<Vec<usize>> {
    let same = |known: &str| known.trim().to_lowercase() == name.to_lowercase();
    if let Some(post) = posts.iter().position(|post| same(post)) {
        return Some(vec![post]);
    }
    groups.iter().find(|(group, _)| same(group)).map(|(_, posts)| posts.to_vec())
}

impl Plan {
    /// Who the plan says uses `channel`.
    #[must_use]
    pub fn users_of(&self, channel: &Channel) -> Users {
        let posts: Vec<&str> = self.posts.iter().map(|post| post.name.as_str()).collect();
        let groups: Vec<(&str, &[usize])> =
            self.groups.iter().map(|g| (g.name.as_str(), g.posts.as_slice())).collect();
        channel.users.as_deref().map_or(Users::Anybody, |text| Users::read(text, &posts, &groups))
    }

    /// The group of the post with this index.
    #[must_use]
    pub fn group_of(&self, post: usize) -> Option<&Group> {
        self.groups.iter().find(|group| group.posts.contains(&post))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn users_are_whom_a_text_names() {
        let posts = ["Net Control", "Medical tent", "Start and finish"];
        let groups = [("Marshals", [2].as_slice())];
        let read = |text: &str| Users::read(text, &posts, &groups);
        assert_eq!(read("medical tent, Net Control"), Users::Only(vec![0, 1]));
        assert_eq!(read("Net Control and Medical tent"), Users::Only(vec![0, 1]));
        assert_eq!(read("Start and finish"), Users::Only(vec![2]));
        assert_eq!(read("Marshals & Medical tent;"), Users::Only(vec![1, 2]));
        assert_eq!(read("Trackers only"), Users::Anybody);
        assert_eq!(read(""), Users::Anybody);
        let others = Users::AndOthers("All posts".to_owned());
        assert_eq!(read("All posts, Net Control"), others);
    }
}
