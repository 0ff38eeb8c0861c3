//! Groups of people, their channels, and what everybody does without the relay.

use super::check::quoted;
use super::names::suggestion;
use super::{Check, Entry, if_stated};
use crate::typed::{PeopleText, bridge, fallback, group};
use crate::{Bridge, Channel, FallbackInputs, Group, Member, People, Post, PowerInputs, Users};

/// Who and what a group is, as far as others of its fields ask.
#[derive(Clone, Copy)]
struct Whole<'g> {
    posts: &'g [usize],
    people: &'g People,
    channel: Option<usize>,
}

impl Whole<'_> {
    /// Its posts alone.
    const fn of_posts(self) -> Self {
        Self { people: &People::Counted(0), ..self }
    }

    /// Its people alone.
    const fn of_people(self) -> Self {
        Self { posts: &[], ..self }
    }
}

/// A post or a person that groups have named so far.
struct Taken {
    /// The post; nothing for a person.
    post: Option<usize>,
    name: String,
    group: String,
    line: Option<usize>,
}

impl Check<'_> {
    /// Every group; `None` in the place of a wrong one.
    pub(super) fn groups(&mut self, channels: &[Option<Channel>]) -> Vec<Option<Group>> {
        let mut taken = Vec::new();
        self.each("group", |check, entry, typed: group::Text| {
            check.group(entry, typed, channels, &mut taken)
        })
    }

    fn group(
        &mut self,
        entry: &Entry,
        typed: group::Text,
        channels: &[Option<Channel>],
        taken: &mut Vec<Taken>,
    ) -> Option<Group> {
        let read = typed.read(self, entry, "");
        let posts = self.group_posts(entry, read.posts.as_deref().unwrap_or_default(), taken);
        let people = self.group_people(entry, read.people.as_ref(), taken);
        let channel = self.simplex(entry, "channel", &read.channel, channels);
        let carries = if_stated(read.carries.as_ref(), |name| self.kit(entry, name));
        // Who belongs to it is only known where its lists are right.
        let (posts, people) = (posts?, people?);
        if posts.is_empty() && people.count() == 0 {
            let text = "nobody is in it; name its posts with posts = [\"...\"], its people with \
                        people = [\"...\"], or say how many they are";
            self.problem(entry, "posts", text);
            return None;
        }
        let whole = Whole { posts: &posts, people: &people, channel };
        let head = self.member(entry, "head", &read.head, whole);
        let net_control = self.group_control(entry, &read, whole, head.as_ref());
        let bridges = read.bridges.clone().unwrap_or_default();
        let bridges = self.bridges(entry, bridges, whole, channels);
        let (posts, people) = (Some(posts), Some(people));
        read.with(group::Resolved { posts, people, channel, head, net_control, carries, bridges })
    }

    fn group_posts(
        &mut self,
        entry: &Entry,
        typed: &[String],
        taken: &mut Vec<Taken>,
    ) -> Option<Vec<usize>> {
        let mut posts = Vec::new();
        for (index, name) in typed.iter().enumerate() {
            let field = format!("posts[{index}]");
            let Some(post) = self.entry_named(entry, &field, "post", name) else { continue };
            if let Some(known) = taken.iter().find(|known| known.post == Some(post)) {
                let text = already(name, known, entry);
                self.problem(entry, &field, text);
            } else {
                self.take(entry, &field, name, Some(post), taken);
                posts.push(post);
            }
        }
        (posts.len() == typed.len()).then_some(posts)
    }

    fn group_people(
        &mut self,
        entry: &Entry,
        typed: Option<&PeopleText>,
        taken: &mut Vec<Taken>,
    ) -> Option<People> {
        let names = match typed {
            None => return Some(People::Counted(0)),
            Some(PeopleText::Counted(count)) => {
                let count = u32::try_from(*count).ok().filter(|n| (1..=People::MOST).contains(n));
                if count.is_none() {
                    let text = format!("1 to {} people are allowed", People::MOST);
                    self.problem(entry, "people", text);
                }
                return count.map(People::Counted);
            }
            Some(PeopleText::Named(names)) => names,
        };
        if names.is_empty() {
            self.problem(entry, "people", "the list is empty; name somebody or leave it out");
        }
        let told = self.told();
        for (index, name) in names.iter().enumerate() {
            let field = format!("people[{index}]");
            self.name(entry, &field, name);
            let same = |known: &&Taken| known.name.trim().eq_ignore_ascii_case(name.trim());
            if let Some(known) = taken.iter().find(same) {
                let text = already(name, known, entry);
                self.problem(entry, &field, text);
            }
            self.take(entry, &field, name, None, taken);
        }
        (self.told() == told).then(|| People::Named(names.clone()))
    }

    fn take(
        &self,
        entry: &Entry,
        field: &str,
        name: &str,
        post: Option<usize>,
        taken: &mut Vec<Taken>,
    ) {
        let line = self.document.line(entry.table, entry.index, field);
        let group = entry.label().to_owned();
        taken.push(Taken { post, name: name.to_owned(), group, line });
    }

    /// The post or person of a group with this name.
    fn member(
        &mut self,
        entry: &Entry,
        field: &str,
        name: &str,
        Whole { posts, people, .. }: Whole<'_>,
    ) -> Option<Member> {
        let same = |known: &str| known.trim().to_lowercase() == name.trim().to_lowercase();
        let names = self.names_of_posts(posts);
        if let Some((post, _)) = names.iter().find(|(_, known)| same(known)) {
            return Some(Member::Post(*post));
        }
        if let Some(person) = people.names().iter().find(|known| same(known)) {
            return Some(Member::Person(person.clone()));
        }
        let known: Vec<&str> = names.iter().map(|(_, name)| name.as_str()).collect();
        let known: Vec<&str> =
            known.into_iter().chain(people.names().iter().map(String::as_str)).collect();
        let listed: Vec<String> = known.iter().map(|name| quoted(name)).collect();
        let whom = match (listed.is_empty(), people) {
            (true, _) => "it has neither posts nor named people: list them".to_owned(),
            (false, People::Counted(1..)) => {
                format!(
                    "it has {}; to name one of its people, list them by name",
                    listed.join(", ")
                )
            }
            (false, _) => format!("it has {}", listed.join(", ")),
        };
        let near = suggestion(name, known);
        let text = format!("{} is not of this group; {whom}{near}", quoted(name));
        self.problem(entry, field, text);
        None
    }

    fn names_of_posts(&self, posts: &[usize]) -> Vec<(usize, String)> {
        let name = |post: &usize| {
            let entry = self.document.root().get("post")?.get_ref().get(*post)?;
            let name = crate::locate::Document::text_in(entry, "name")?;
            Some((*post, name.to_owned()))
        };
        posts.iter().filter_map(name).collect()
    }

    /// The post that runs the group's net, where the plan says so or leaves no choice.
    fn group_control(
        &mut self,
        entry: &Entry,
        read: &group::Read,
        whole: Whole<'_>,
        head: Option<&Member>,
    ) -> Option<Option<usize>> {
        if let Some(name) = &read.net_control {
            let member = self.member(entry, "net_control", name, whole.of_posts())?;
            return Some(member.post());
        }
        let only = match whole.posts {
            [only] => Some(*only),
            _ => None,
        };
        Some(head?.post().or(only))
    }

    /// The crew with this name.
    fn kit(&mut self, entry: &Entry, name: &str) -> Option<usize> {
        let is_radio = |radio: &str| radio.trim().eq_ignore_ascii_case(name.trim());
        let among = |table| self.names_in(table).iter().flatten().any(|known| is_radio(known));
        if among("radio") && !among("crew") {
            let text = format!(
                "{} is a radio; name the [[crew]] whose kit each of them carries. A radio of its \
                 own is stated at the [[post]]",
                quoted(name)
            );
            self.problem(entry, "carries", text);
            return None;
        }
        self.entry_named(entry, "carries", "crew", name)
    }

    /// The index of the simplex channel with this name.
    fn simplex(
        &mut self,
        entry: &Entry,
        field: &str,
        name: &str,
        channels: &[Option<Channel>],
    ) -> Option<usize> {
        let index = self.entry_named(entry, field, "channel", name)?;
        // A channel that was refused has its own problem.
        let channel = channels.get(index)?.as_ref()?;
        if channel.has_station() {
            let simplex: Vec<String> = channels
                .iter()
                .flatten()
                .filter(|channel| !channel.has_station())
                .map(|channel| quoted(&channel.name))
                .collect();
            let others = if simplex.is_empty() {
                "the plan has none: add a [[channel]] of kind \"simplex\"".to_owned()
            } else {
                format!("the plan has {}", simplex.join(", "))
            };
            let text = format!(
                "{} needs a station on a site and is silent without it; name a channel of kind \
                 \"simplex\"; {others}",
                quoted(name)
            );
            self.problem(entry, field, text);
            return None;
        }
        Some(index)
    }

    fn bridges(
        &mut self,
        entry: &Entry,
        typed: Vec<bridge::Text>,
        whole: Whole<'_>,
        channels: &[Option<Channel>],
    ) -> Option<Vec<Bridge>> {
        let mut bridges: Vec<Option<Bridge>> = Vec::new();
        for (index, typed) in typed.into_iter().enumerate() {
            let within = format!("bridge[{index}].");
            let bridge = self.bridge(entry, &within, typed, whole, channels);
            if bridge.is_some() && bridges.contains(&bridge) {
                let text = "this bridge is in the list already; leave one out";
                self.problem(entry, &format!("bridge[{index}]"), text);
            }
            bridges.push(bridge);
        }
        bridges.into_iter().collect()
    }

    fn bridge(
        &mut self,
        entry: &Entry,
        within: &str,
        typed: bridge::Text,
        whole: Whole<'_>,
        channels: &[Option<Channel>],
    ) -> Option<Bridge> {
        let read = typed.read(self, entry, within);
        let who = match (read.post.flatten(), read.person.flatten()) {
            (Some(post), None) => {
                self.member(entry, &format!("{within}post"), &post, whole.of_posts())
            }
            (None, Some(person)) => {
                self.member(entry, &format!("{within}person"), &person, whole.of_people())
            }
            _ => {
                let text = "a bridge is a post or a person of the group: write { post = \"...\" } \
                            or { person = \"...\" }, one or the other";
                self.problem(entry, within.trim_end_matches('.'), text);
                None
            }
        };
        let field = format!("{within}to");
        let to = if_stated(read.to.flatten().as_ref(), |name| {
            self.second_channel(entry, &field, name, channels)
        });
        if to.flatten().is_some_and(|to| whole.channel == Some(to)) {
            let text = "this is the group's own channel; name the other one to which the bridge \
                        listens as well";
            self.problem(entry, &field, text);
            return None;
        }
        Some(Bridge { who: who?, to: to? })
    }

    /// The simplex channel with this name, or that of the group with this name.
    fn second_channel(
        &mut self,
        entry: &Entry,
        field: &str,
        name: &str,
        channels: &[Option<Channel>],
    ) -> Option<usize> {
        let same = |known: &str| known.trim().to_lowercase() == name.trim().to_lowercase();
        let is_channel = self.names_in("channel").iter().flatten().any(|known| same(known));
        let group = self.names_in("group").iter().position(|known| known.is_some_and(same));
        let Some(group) = group.filter(|_| !is_channel) else {
            return self.simplex(entry, field, name, channels);
        };
        // A wrong channel of that group is told there.
        let group = self.document.root().get("group")?.get_ref().get(group)?;
        let channel = crate::locate::Document::text_in(group, "channel")?;
        let names = self.names_in("channel");
        let index = names
            .iter()
            .position(|known| known.is_some_and(|k| k.eq_ignore_ascii_case(channel)))?;
        channels.get(index)?.as_ref().filter(|channel| !channel.has_station()).map(|_| index)
    }

    /// What everybody does without the relay.
    pub(super) fn fallback(&mut self, channels: &[Option<Channel>]) -> Option<FallbackInputs> {
        let typed: fallback::Text = self.table_or_empty("fallback")?;
        let entry = Entry::single("fallback");
        let read = typed.read(self, &entry, "");
        let first =
            if_stated(read.first.as_ref(), |name| self.simplex(&entry, "first", name, channels));
        read.with(fallback::Resolved { first })
    }

    /// Remarks crews of which groups have more people than there are.
    pub(super) fn people(&mut self, groups: &[Option<Group>], power: Option<&PowerInputs>) {
        for (index, crew) in power.iter().flat_map(|power| power.crews.iter().enumerate()) {
            let carry = |group: &&Group| group.carries == Some(index);
            let carrying: Vec<&Group> = groups.iter().flatten().filter(carry).collect();
            let people: usize = carrying.iter().map(|g| g.posts.len() + g.people.count()).sum();
            if people > crew.people as usize {
                let entry = Entry::of_list("crew", index, Some(&crew.name));
                let text = format!(
                    "{people} people of groups carry its kit, and it has {}; packs are counted \
                     for those",
                    crew.people
                );
                self.remark(&entry, "people", text);
            }
        }
    }

    /// What texts on the users of simplex channels say that does not fit the rest.
    pub(super) fn users(
        &mut self,
        posts: &[Option<Post>],
        channels: &[Option<Channel>],
        groups: &[Option<Group>],
        fallback: Option<&FallbackInputs>,
    ) {
        let post = |post: &Option<Post>| post.as_ref().map_or(String::new(), |p| p.name.clone());
        let posts: Vec<String> = posts.iter().map(post).collect();
        let posts: Vec<&str> = posts.iter().map(String::as_str).collect();
        let of_groups: Vec<(&str, &[usize])> =
            groups.iter().flatten().map(|g| (g.name.as_str(), g.posts.as_slice())).collect();
        for (index, channel) in channels.iter().enumerate() {
            let Some(channel) = channel.as_ref().filter(|c| !c.has_station()) else { continue };
            let Some(text) = &channel.users else { continue };
            let entry = Entry::of_list("channel", index, Some(&channel.name));
            match Users::read(text, &posts, &of_groups) {
                Users::Anybody => {}
                Users::AndOthers(other) => {
                    let text = format!(
                        "it names posts or groups, and {}, which is none: anybody is taken to be \
                         on the channel",
                        quoted(&other)
                    );
                    self.remark(&entry, "users", text);
                }
                Users::Only(only) => {
                    let first = fallback.is_some_and(|fallback| fallback.first == Some(index));
                    self.only_users(&entry, &only, first, index, groups);
                }
            }
        }
    }

    fn only_users(
        &mut self,
        entry: &Entry,
        only: &[usize],
        first: bool,
        channel: usize,
        groups: &[Option<Group>],
    ) {
        if first {
            let text = "everybody changes to this channel first, as [fallback] says, and users \
                        names some alone; leave one of the two out";
            self.problem(entry, "users", text);
        }
        for group in groups.iter().flatten().filter(|group| group.channel == channel) {
            if group.posts.iter().any(|post| !only.contains(post)) {
                let text = format!(
                    "it does not name all of group {}, whose channel this is; all of it is taken \
                     to be on the channel",
                    quoted(&group.name)
                );
                self.remark(entry, "users", text);
            }
        }
    }
}

/// That somebody is in a group already.
fn already(name: &str, known: &Taken, entry: &Entry) -> String {
    let line = known.line.map_or(String::new(), |line| format!(" in line {line}"));
    if known.group == entry.label() {
        return format!("{} is in this group already{line}; leave one out", quoted(name));
    }
    format!(
        "{} is in {} already{line}, and nobody is in two groups; let them listen to both channels \
         with bridge = [{{ post = \"...\", to = \"...\" }}] there",
        quoted(name),
        known.group
    )
}
