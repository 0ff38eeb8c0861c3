//! Everybody without the relay: the first channel, each group on its own, who
//! bridges them, and how words get to the event's net control.

use std::sync::Arc;

use serde::Serialize;

use super::links::DirectLinks;
use super::net::{OnChannel, works, works_or_patchy};
use super::words_way::{Layers, WordsWay};
use super::{DirectNet, Way};
use perchline_link::frequencies;
use perchline_plan::{Bridge, Group, Member, Plan, Remark, Users};
use perchline_power::two_radios::{TwoRadios, two_radios};
use perchline_units::Megahertz;

/// What everybody does without the relay, and what that comes to.
#[derive(Debug, Clone)]
pub struct Fallback {
    /// The channel that everybody changes to first; nothing where no simplex channel
    /// brings any post to net control.
    pub first: Option<FirstChannel>,
    /// The nets of simplex channels that are no group's own, and that of the first
    /// channel, in the plan's order.
    pub nets: Vec<Arc<DirectNet>>,
    /// Each group on its channel, in the plan's order.
    pub groups: Vec<GroupNet>,
    /// How each post's words get to the event's net control, in the plan's order,
    /// net control left out; none where there is no first channel.
    pub ways: Vec<WordsWay>,
    /// What a person should know before trusting it.
    pub remarks: Vec<Remark>,
}

/// The channel that everybody changes to first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FirstChannel {
    /// Its name.
    pub channel: String,
    /// Its frequency.
    pub frequency_mhz: Megahertz,
    /// The event's net control, which listens there as soon as the relay is silent.
    pub net_control: String,
    /// Whether the plan says so; otherwise it is the one on which most posts reach
    /// net control.
    pub stated: bool,
}

/// A group on its channel.
#[derive(Debug, Clone, Serialize)]
pub struct GroupNet {
    /// The group.
    pub group: String,
    /// Its channel.
    pub channel: String,
    /// The channel's frequency.
    pub frequency_mhz: Megahertz,
    /// Who leads it.
    pub head: String,
    /// Its posts, in the plan's order.
    pub posts: Vec<String>,
    /// Its people who are at no post: where they are is not known.
    pub people: usize,
    /// The crew whose kit they carry.
    pub carries: Option<String>,
    /// Everybody on its channel whose place is known: its posts, those of groups
    /// that share the channel, and bridges of others; nothing where it has no post.
    pub net: Option<DirectNet>,
    /// Who bridges it to other channels.
    pub bridges: Vec<BridgeScore>,
}

/// Somebody of a group who listens to a second channel.
#[derive(Debug, Clone, Serialize)]
pub struct BridgeScore {
    /// Who.
    pub who: String,
    /// Whether that is a post, so that its place is known.
    pub at_post: bool,
    /// What it reaches of its group, on the group's channel; nothing where its place
    /// is not known, or the group has no other post.
    pub own: Option<BridgeSide>,
    /// What it reaches on the second channel; nothing where its place is not known,
    /// or nobody stays there.
    pub other: Option<BridgeSide>,
    /// The second channel; nothing where it is the first channel and there is none.
    pub to: Option<String>,
    /// What two radios at the post do to each other, where that is more than is
    /// accepted.
    pub two_radios: Option<TwoRadios>,
}

impl BridgeScore {
    /// Whether it is known that nobody hears it on one of its sides.
    #[must_use]
    pub fn is_deaf(&self) -> bool {
        [&self.own, &self.other].into_iter().flatten().any(|side| side.reaches_nobody())
    }
}

/// Whom a bridge reaches on one of its channels, both ways.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BridgeSide {
    /// The channel.
    pub channel: String,
    /// Posts whose link works.
    pub works: Vec<String>,
    /// Posts whose link is patchy.
    pub patchy: Vec<String>,
}

impl BridgeSide {
    /// Whether it reaches nobody, not even over a patchy link.
    #[must_use]
    pub const fn reaches_nobody(&self) -> bool {
        self.works.is_empty() && self.patchy.is_empty()
    }
}

impl Fallback {
    /// What the plan's fallback comes to with this channel as the first one, by its
    /// place in the plan. `links` are of its simplex channels, in its order.
    #[must_use]
    pub fn of(plan: &Plan, links: &[Arc<DirectLinks>], first: Option<usize>) -> Self {
        let everybody = everybody_on_each(plan, links);
        let control = control(plan, first, &everybody);
        let channels = simplex(plan, links).collect();
        let board = Board { plan, channels, first, control };
        let nets: Vec<Arc<DirectNet>> = everybody
            .into_iter()
            .filter(|(index, _)| Some(*index) == first || !is_a_groups(plan, *index))
            .map(|(index, net)| {
                let of_first = (Some(index) == first).then(|| board.first_net()).flatten();
                Arc::new(of_first.unwrap_or(net))
            })
            .collect();
        let groups: Vec<GroupNet> = plan.groups.iter().map(|group| board.group(group)).collect();
        let named = |index: usize| plan.channels.get(index).map(|channel| channel.name.as_str());
        let of_first = nets.iter().find(|net| first.and_then(named) == Some(&*net.channel));
        let first_channel = of_first.map(|net| FirstChannel {
            channel: net.channel.clone(),
            frequency_mhz: net.frequency_mhz,
            net_control: net.net_control.post.clone(),
            stated: plan.fallback.first.is_some(),
        });
        let ways = of_first.map_or_else(Vec::new, |net| board.ways(net));
        let remarks = board.remarks(&groups);
        Self { first: first_channel, nets, groups, ways, remarks }
    }

    /// How a post's words get to net control: every page has them go this way. Nothing
    /// for net control itself, and where there is no first channel.
    #[must_use]
    pub fn way_of(&self, post: &str) -> Option<&WordsWay> {
        self.ways.iter().find(|way| way.post == post)
    }

    /// The posts whose words another one relays, in the plan's order.
    pub fn relayed_by<'a>(&'a self, post: &'a str) -> impl Iterator<Item = &'a str> {
        let through = move |way: &&WordsWay| way.through().any(|between| between == post);
        self.ways.iter().filter(through).map(|way| way.post.as_str())
    }

    /// The place in the plan of the channel that everybody changes to first: the
    /// plan's own, else the one on which most posts reach net control, over links
    /// that work, then over patchy ones, then the first of the plan. A channel that
    /// is a group's own, or that only some use, is taken if there is no other on
    /// which any post does; nothing where there is none at all. `links` are of its
    /// simplex channels, in its order.
    #[must_use]
    pub fn first_channel(plan: &Plan, links: &[Arc<DirectLinks>]) -> Option<usize> {
        plan.fallback.first.or_else(|| most_reached(plan, &everybody_on_each(plan, links)))
    }

    /// The net of the first channel.
    #[must_use]
    pub fn first_net(&self) -> Option<&Arc<DirectNet>> {
        let first = self.first.as_ref()?;
        self.nets.iter().find(|net| net.channel == first.channel)
    }

    /// How many posts' words get to the event's net control over links that work,
    /// net control itself left out.
    #[must_use]
    pub fn reaching(&self) -> usize {
        self.ways.iter().filter(|way| way.way == Way::Works).count()
    }

    /// Posts without any way to the event's net control.
    pub fn cut_off(&self) -> impl Iterator<Item = &str> {
        self.ways.iter().filter(|way| way.way == Way::Nothing).map(|way| way.post.as_str())
    }
}

/// Whether a channel is a group's own.
fn is_a_groups(plan: &Plan, channel: usize) -> bool {
    plan.groups.iter().any(|group| group.channel == channel)
}

/// Everybody who may be on a channel, as if they all were: those whom its users
/// name with the groups whose channel it is, where they name anybody, else all.
fn everybody(plan: &Plan, channel: usize) -> OnChannel {
    let all = OnChannel::everybody(&plan.posts);
    let users = plan.channels.get(channel).map_or(Users::Anybody, |c| plan.users_of(c));
    let Users::Only(only) = users else { return all };
    let groups = plan.groups.iter().filter(|group| group.channel == channel);
    let mut posts = only;
    posts.extend(groups.flat_map(|group| &group.posts));
    posts.sort_unstable();
    posts.dedup();
    let control = all.control.filter(|control| posts.contains(control));
    OnChannel::alone(posts, control)
}

/// The simplex channels, each with its place in the plan.
fn simplex<'a>(
    plan: &'a Plan,
    links: &'a [Arc<DirectLinks>],
) -> impl Iterator<Item = (usize, &'a DirectLinks)> {
    let channels = plan.channels.iter().enumerate().filter(|(_, channel)| !channel.has_station());
    channels.map(|(index, _)| index).zip(links.iter().map(Arc::as_ref))
}

/// The net of each simplex channel as if everybody who may be were on it.
fn everybody_on_each(plan: &Plan, links: &[Arc<DirectLinks>]) -> Vec<(usize, DirectNet)> {
    simplex(plan, links)
        .map(|(index, links)| (index, DirectNet::of(links, &everybody(plan, index))))
        .collect()
}

/// The channel on which most posts reach net control, among those that are for
/// everybody if there are any.
fn most_reached(plan: &Plan, nets: &[(usize, DirectNet)]) -> Option<usize> {
    let limited = |index: usize| {
        let channel = plan.channels.get(index);
        channel.is_some_and(|channel| matches!(plan.users_of(channel), Users::Only(_)))
    };
    let rank = |index: usize| (limited(index), is_a_groups(plan, index));
    let reached = |net: &DirectNet| (net.with(Way::Works), net.with(Way::Patchy));
    let control = plan.posts.iter().find(|post| post.net_control);
    let useful = |(_, net): &&(usize, DirectNet)| {
        let has_control = control.is_none_or(|control| net.posts.contains(&control.name));
        has_control && reached(net) != (0, 0)
    };
    let candidates: Vec<_> = nets.iter().filter(useful).collect();
    let best_rank = candidates.iter().map(|(index, _)| rank(*index)).min()?;
    let candidates = candidates.into_iter().filter(|(index, _)| rank(*index) == best_rank);
    // Of several as good as each other the first of the plan.
    let best = candidates.reduce(
        |best, next| {
            if reached(&next.1) > reached(&best.1) { next } else { best }
        },
    );
    best.map(|(index, _)| *index)
}

/// The post that is the event's net control: the plan's, else the one that is
/// proposed on the first channel.
fn control(plan: &Plan, first: Option<usize>, nets: &[(usize, DirectNet)]) -> Option<usize> {
    let stated = plan.posts.iter().position(|post| post.net_control);
    stated.or_else(|| {
        let (_, net) = nets.iter().find(|(index, _)| Some(*index) == first)?;
        plan.posts.iter().position(|post| post.name == net.net_control.post)
    })
}

/// Who is where without the relay.
struct Board<'a> {
    plan: &'a Plan,
    /// The simplex channels: each its place in the plan and its links.
    channels: Vec<(usize, &'a DirectLinks)>,
    /// The first channel's place in the plan.
    first: Option<usize>,
    /// The event's net control.
    control: Option<usize>,
}

impl Board<'_> {
    fn links(&self, channel: usize) -> Option<&DirectLinks> {
        self.channels.iter().find(|(index, _)| *index == channel).map(|(_, links)| *links)
    }

    /// Where a bridge leads.
    fn leads_to(&self, bridge: &Bridge) -> Option<usize> {
        bridge.to.or(self.first)
    }

    /// Whether a post listens to this channel as a bridge of its group.
    fn bridges_to(&self, post: usize, channel: usize) -> bool {
        let bridges = self.plan.groups.iter().flat_map(|group| &group.bridges);
        let is_it = |bridge: &&Bridge| bridge.who == Member::Post(post);
        bridges.filter(is_it).any(|bridge| self.leads_to(bridge) == Some(channel))
    }

    /// Whether a post stays on a channel once everybody is where they work: a group
    /// on its own, the others and net control on the first, bridges on both of theirs.
    fn stays(&self, post: usize, channel: usize) -> bool {
        let home = self.plan.group_of(post).map(|group| group.channel).or(self.first);
        let is_control = self.control == Some(post) && self.first == Some(channel);
        home == Some(channel) || is_control || self.bridges_to(post, channel)
    }

    /// The posts that stay on a channel, in the plan's order.
    fn staying(&self, channel: usize) -> Vec<usize> {
        (0..self.plan.posts.len()).filter(|post| self.stays(*post, channel)).collect()
    }

    /// The net of the first channel: everybody may call there, and those that stay
    /// relay messages.
    fn first_net(&self) -> Option<DirectNet> {
        let first = self.first?;
        let all = everybody(self.plan, first);
        let mut posts = all.posts;
        let stay = self.staying(first);
        posts.extend(&stay);
        posts.sort_unstable();
        posts.dedup();
        // What is proposed is told as a proposal.
        let control = all.control.or(self.control);
        let mut net = DirectNet::of(self.links(first)?, &OnChannel { posts, stay, control });
        net.net_control.stated = all.control.is_some();
        Some(net)
    }

    fn group(&self, group: &Group) -> GroupNet {
        let plan = self.plan;
        let channel = plan.channels.get(group.channel);
        let names = |posts: &[usize]| {
            posts.iter().filter_map(|post| plan.posts.get(*post)).map(|p| p.name.clone()).collect()
        };
        let carries = group.carries.and_then(|crew| plan.power.crews.get(crew));
        GroupNet {
            group: group.name.clone(),
            channel: channel.map_or_else(String::new, |channel| channel.name.clone()),
            frequency_mhz: channel.map_or(Megahertz::new(0.0), |c| frequencies(&c.service).0),
            head: group.head.name(plan).to_owned(),
            posts: names(&group.posts),
            people: group.people.count(),
            carries: carries.map(|crew| crew.name.clone()),
            net: self.group_net(group),
            bridges: group.bridges.iter().map(|bridge| self.bridge(group, bridge)).collect(),
        }
    }

    /// The net of a group's channel, with the group's own net control.
    fn group_net(&self, group: &Group) -> Option<DirectNet> {
        let links = self.links(group.channel)?;
        if group.posts.is_empty() {
            return None;
        }
        let mut own = group.posts.clone();
        own.sort_unstable();
        // Nobody but the group's own posts runs its net.
        let proposed = || {
            let net = DirectNet::of(links, &OnChannel::alone(own.clone(), None));
            self.plan.posts.iter().position(|post| post.name == net.net_control.post)
        };
        let control = group.net_control.or_else(proposed);
        let on = OnChannel::alone(self.staying(group.channel), control);
        let mut net = DirectNet::of(links, &on);
        net.net_control.stated = group.net_control.is_some();
        Some(net)
    }

    fn bridge(&self, group: &Group, bridge: &Bridge) -> BridgeScore {
        let to = self.leads_to(bridge);
        let side = |channel: usize, others: &[usize]| {
            let post = bridge.who.post()?;
            let others: Vec<usize> =
                others.iter().copied().filter(|other| *other != post).collect();
            let links = self.links(channel).filter(|_| !others.is_empty())?;
            let reached = |least| -> Vec<usize> {
                let heard = |other: &&usize| links.spare(post, **other, least).is_some();
                others.iter().filter(heard).copied().collect()
            };
            let good = reached(works);
            let mut patchy = reached(works_or_patchy);
            patchy.retain(|other| !good.contains(other));
            Some(BridgeSide {
                channel: links.channel.clone(),
                works: links.names(&good),
                patchy: links.names(&patchy),
            })
        };
        let name = |channel: usize| self.plan.channels.get(channel).map(|c| c.name.clone());
        BridgeScore {
            who: bridge.who.name(self.plan).to_owned(),
            at_post: bridge.who.post().is_some(),
            own: side(group.channel, &group.posts),
            other: to.and_then(|to| side(to, &self.staying(to))),
            to: to.and_then(name),
            two_radios: to.and_then(|to| self.two_radios(bridge, [group.channel, to])),
        }
    }

    /// What two radios of a bridge do to each other, where it is too much.
    fn two_radios(&self, bridge: &Bridge, channels: [usize; 2]) -> Option<TwoRadios> {
        let plan = self.plan;
        let post = bridge.who.post().and_then(|post| plan.posts.get(post));
        let [own, other] = channels.map(|channel| plan.channels.get(channel));
        let (own, other) = (own?, other?);
        let radio = |carried: usize| plan.radio(post.and_then(|p| p.radio).unwrap_or(carried));
        let (one, second) = (radio(own.carried), radio(other.carried));
        let on = [own, other].map(|channel| frequencies(&channel.service).0);
        let environment = post.and_then(|post| post.environment);
        let environment = environment.unwrap_or(plan.prediction.environment);
        Some(two_radios([one, second], on, environment)).filter(TwoRadios::matters)
    }

    /// How each post's words get to net control: called on the first channel, or
    /// on the group's and over a bridge, whichever is better.
    fn ways(&self, net: &DirectNet) -> Vec<WordsWay> {
        let staying: Vec<Vec<usize>> =
            self.channels.iter().map(|(channel, _)| self.staying(*channel)).collect();
        let place = |channel: usize| self.channels.iter().position(|(index, _)| *index == channel);
        let to = self.first.and_then(place).zip(self.control);
        // Without groups everybody is on the first channel.
        let layers = to.filter(|_| !self.plan.groups.is_empty()).map(|to| {
            let channels = self.channels.iter().zip(&staying);
            let channels: Vec<(&DirectLinks, &[usize])> =
                channels.map(|((_, links), posts)| (*links, posts.as_slice())).collect();
            Layers::of(&channels, to)
        });
        let bridged = |post: &str| {
            let post = self.plan.posts.iter().position(|known| known.name == post)?;
            let home = place(self.plan.group_of(post)?.channel)?;
            layers.as_ref()?.way(home, post)
        };
        net.ways()
            .map(|way| {
                let other = bridged(&way.post);
                way.or_better(other)
            })
            .collect()
    }

    /// What a person should know before trusting any of it.
    fn remarks(&self, groups: &[GroupNet]) -> Vec<Remark> {
        let plan = self.plan;
        let deaf = groups.iter().flat_map(|group| {
            let deaf = group.bridges.iter().filter(|bridge| bridge.is_deaf());
            deaf.map(|bridge| Remark {
                about: format!("group \"{}\": bridge", group.group),
                text: deaf_words(bridge),
            })
        });
        let control = self.control.and_then(|control| {
            let group = plan.group_of(control)?;
            let first = self.first.and_then(|first| plan.channels.get(first))?;
            let own = plan.channels.get(group.channel)?;
            let told = own.name == first.name || self.bridges_to(control, self.first?);
            (!told).then(|| Remark {
                about: format!("group \"{}\"", group.name),
                text: format!(
                    "net control is in it and stays on {} for everybody: it needs a second radio \
                     on {}, and is counted on both",
                    first.name, own.name
                ),
            })
        });
        let lost = (self.first.is_none() && !plan.groups.is_empty()).then(|| Remark {
            about: "fallback".to_owned(),
            text: "no simplex channel for everybody brings any post to net control: groups are \
                   alone. Say [fallback] first = \"...\" if one is meant all the same"
                .to_owned(),
        });
        deaf.chain(control).chain(lost).collect()
    }
}

/// What a bridge that nobody hears is told with.
fn deaf_words(bridge: &BridgeScore) -> String {
    let side = |side: &Option<BridgeSide>, whom: &str| {
        let side = side.as_ref().filter(|side| side.reaches_nobody())?;
        Some(format!("{whom} on {}", side.channel))
    };
    let sides = [side(&bridge.own, "nobody of its group"), side(&bridge.other, "nobody")];
    let sides: Vec<String> = sides.into_iter().flatten().collect();
    format!(
        "{} reaches {}, not even over a patchy link: it bridges nothing. Let another post do it",
        bridge.who,
        sides.join(" and ")
    )
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::super::{Call, Held, PairScore, Terms};
    use super::*;
    use perchline_link::Outcome;
    use perchline_units::{Db, Metres};

    /// Names of posts are one letter; net control is N.
    const POSTS: &str = "NABCDE";

    const CHANNELS: &str = r#"
[[channel]]
name = "Own"
kind = "simplex"
frequency = "146.58 MHz"
carried = "hand-held"
[[channel]]
name = "First"
kind = "simplex"
frequency = "146.55 MHz"
carried = "hand-held"
[[channel]]
name = "Other"
kind = "simplex"
frequency = "446.1 MHz"
carried = "hand-held"
"#;

    fn plan(more: &str) -> Plan {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/plans");
        let minimal = std::fs::read_to_string(folder.join("minimal.toml")).unwrap();
        let (before, rest) = minimal.split_once("[[post]]").unwrap();
        let (_, after) = rest.split_once("[[area]]").unwrap();
        let posts: String = POSTS
            .chars()
            .map(|post| {
                let control = if post == 'N' { "net_control = true\n" } else { "" };
                format!("[[post]]\nname = \"{post}\"\nat = \"47.1234, -35.2345\"\n{control}")
            })
            .collect();
        let text = format!("{before}{posts}[[area]]{after}{CHANNELS}{more}");
        perchline_plan::read_text(&folder.join("groups.toml"), &text, &["free-space"]).unwrap()
    }

    /// The links of a channel: those listed are clear, those with a small letter at
    /// the end are patchy, and there are no others.
    fn links(plan: &Plan, channel: &str, listed: &str) -> Arc<DirectLinks> {
        let channel = plan.channels.iter().find(|known| known.name == channel).unwrap();
        let posts: Vec<String> = POSTS.chars().map(String::from).collect();
        let pairs = (0..posts.len()).flat_map(|a| (a + 1..posts.len()).map(move |b| (a, b)));
        let pairs = pairs.map(|(a, b)| {
            let both = format!("{}{}", posts[a], posts[b]);
            let half = format!("{}{}", posts[a], posts[b].to_lowercase());
            let has = |pair: &str| listed.split(' ').any(|known| known == pair);
            let (outcome, spare) = match (has(&both), has(&half)) {
                (true, _) => (Outcome::Clear, 3.0),
                (_, true) => (Outcome::Patchy, -3.0),
                _ => (Outcome::NoContact, -40.0),
            };
            PairScore {
                from: posts[a].clone(),
                to: posts[b].clone(),
                distance_m: Metres::new(1.0),
                outcome,
                probability: Some(0.5),
                spare_db: Some(Db::new(spare)),
                forth_margin_db: None,
                back_margin_db: None,
            }
        });
        let pairs = pairs.collect();
        let terms = Terms::of(plan, channel, Held::Fallback);
        Arc::new(DirectLinks::by_hand(channel, terms, posts, pairs))
    }

    /// What a plan with these tables comes to, with the links of its channels.
    fn fallback(more: &str, own: &str, first: &str, other: &str) -> Fallback {
        let plan = plan(more);
        let links =
            [("Own", own), ("First", first), ("Other", other)].map(|(c, l)| links(&plan, c, l));
        let channel = Fallback::first_channel(&plan, &links);
        Fallback::of(&plan, &links, channel)
    }

    fn way(fallback: &Fallback, post: &str) -> (Way, String) {
        let way = fallback.ways.iter().find(|way| way.post == post).unwrap();
        let call = |call: &Call| format!("{} on {}", call.post, call.channel);
        (way.way, way.calls.iter().map(call).collect::<Vec<_>>().join(", "))
    }

    fn told(way: Way, calls: &str) -> (Way, String) {
        (way, calls.to_owned())
    }

    const GROUP: &str = r#"
[fallback]
first = "First"
[[group]]
name = "Group"
posts = ["A", "B"]
channel = "Own"
head = "A"
"#;

    /// A reaches net control and B on the first channel; but it is on its own.
    #[test]
    fn who_is_on_another_channel_relays_nothing() {
        let alone = fallback("[fallback]\nfirst = \"First\"\n", "", "NA AC", "");
        assert_eq!(way(&alone, "C"), told(Way::Works, "A on First, N on First"));
        let grouped = fallback(GROUP, "", "NA AC", "");
        assert_eq!(way(&grouped, "A"), told(Way::Works, "N on First"));
        assert_eq!(way(&grouped, "C"), told(Way::Nothing, ""));
        assert_eq!(grouped.cut_off().collect::<Vec<_>>(), ["B", "C", "D", "E"]);
        let bridged = format!("{GROUP}bridge = [{{ post = \"A\" }}]\n");
        let bridged = fallback(&bridged, "AB", "NA AC", "");
        assert_eq!(way(&bridged, "C"), told(Way::Works, "A on First, N on First"));
        let net = bridged.first_net().unwrap();
        assert_eq!(net.stay, ["N", "A", "C", "D", "E"]);
        assert_eq!(net.parts.first().unwrap(), &["N", "A", "C"]);
    }

    #[test]
    fn words_go_over_a_bridge_where_that_is_better() {
        let bridged = format!("{GROUP}bridge = [{{ post = \"A\", to = \"First\" }}]\n");
        let over = |own: &str, first: &str| way(&fallback(&bridged, own, first, ""), "B");
        assert_eq!(over("AB", "NA"), told(Way::Works, "A on Own, N on First"));
        assert_eq!(over("Ab", "NA"), told(Way::Patchy, "A on Own, N on First"));
        assert_eq!(over("AB", "NA NB"), told(Way::Works, "N on First"));
        assert_eq!(over("AB", "NA Nb"), told(Way::Works, "A on Own, N on First"));
        assert_eq!(over("Ab", "NA Nb"), told(Way::Patchy, "N on First"));
        assert_eq!(over("AB", "NC AC"), told(Way::Works, "A on Own, C on First, N on First"));
        assert_eq!(over("AB", "NB"), told(Way::Works, "N on First"));
    }

    #[test]
    fn words_go_over_two_bridges() {
        let two = format!(
            "{GROUP}bridge = [{{ post = \"A\", to = \"Second\" }}]\n[[group]]\nname = \"Second\"\n\
             posts = [\"C\", \"D\"]\nchannel = \"Other\"\nhead = \"D\"\nbridge = [{{ post = \"D\" }}]\n"
        );
        let over = fallback(&two, "AB", "ND", "AC CD");
        let calls = "A on Own, C on Other, D on Other, N on First";
        assert_eq!(way(&over, "B"), told(Way::Works, calls));
        // Bridges are on both of their channels.
        let (_, rest) = calls.split_once(", ").unwrap();
        assert_eq!(way(&over, "A"), told(Way::Works, rest));
        assert_eq!(way(&over, "C"), told(Way::Works, "D on Other, N on First"));
        assert_eq!(way(&over, "E"), told(Way::Nothing, ""));
    }

    #[test]
    fn the_first_channel_is_the_plans_or_the_best_for_everybody() {
        let first = |more: &str, own: &str, first: &str, other: &str| {
            let found = fallback(more, own, first, other).first;
            found.map(|found| (found.channel, found.stated))
        };
        let named = |channel: &str, stated| Some((channel.to_owned(), stated));
        assert_eq!(first("", "NA", "NA NB", "NA NB"), named("First", false));
        assert_eq!(first("", "NA Nb", "NA", "NA Nb Nc"), named("Other", false));
        assert_eq!(first("", "", "", ""), None);
        assert_eq!(first(GROUP, "NA NB", "", ""), named("First", true));
        // A group's own channel is for everybody only if there is no other.
        let (_, group) = GROUP.split_once("first = \"First\"\n").unwrap();
        assert_eq!(first(group, "NA NB NC", "NA", ""), named("First", false));
        assert_eq!(first(group, "NA NB NC", "", ""), named("Own", false));
    }

    #[test]
    fn a_bridge_that_nobody_hears_is_told() {
        let bridged = format!("{GROUP}bridge = [{{ post = \"A\" }}]\n");
        let remarks = |own: &str, first: &str| {
            let remarks = fallback(&bridged, own, first, "").remarks;
            remarks.into_iter().map(|remark| remark.text).collect::<Vec<_>>()
        };
        assert_eq!(remarks("Ab", "Na"), Vec::<String>::new(), "patchy is not nothing");
        let [deaf] = &remarks("AB", "NB")[..] else { panic!() };
        assert!(deaf.starts_with("A reaches nobody on First, not even"), "{deaf}");
        let [deaf] = &remarks("", "NA")[..] else { panic!() };
        assert!(deaf.starts_with("A reaches nobody of its group on Own, not"), "{deaf}");
        let score = fallback(&bridged, "Ab", "NA Ac", "").groups[0].bridges[0].clone();
        let other = score.other.as_ref().unwrap();
        assert_eq!(
            (other.works.as_slice(), other.patchy.as_slice()),
            (&["N".to_owned()][..], &["C".to_owned()][..])
        );
        assert!(score.two_radios.is_some() && !score.is_deaf());
    }

    #[test]
    fn a_group_runs_its_own_net() {
        let group = GROUP.replace("head = \"A\"", "people = [\"Lead\"]\nhead = \"Lead\"");
        let group = group.replace("\"A\", \"B\"", "\"A\", \"B\", \"C\"");
        let other = "[[group]]\nname = \"Guests\"\nposts = [\"D\"]\nchannel = \"Other\"\nhead = \"D\"\n\
                     bridge = [{ post = \"D\", to = \"Group\" }]\n";
        let own = "AB BC Ad Bd Cd";
        let found = fallback(&format!("{group}{other}"), own, "NA", "");
        let net = found.groups[0].net.as_ref().unwrap();
        // D has the most links of all, but is of another group.
        assert_eq!((net.net_control.post.as_str(), net.net_control.stated), ("B", false));
        assert_eq!(net.posts, ["A", "B", "C", "D"]);
        let chain = |post: &str| net.chains.iter().find(|chain| chain.post == post).unwrap();
        assert_eq!((chain("A").way, chain("D").way), (Way::Works, Way::Patchy));
    }

    #[test]
    fn only_those_named_use_a_channel() {
        let mut plan = plan("");
        plan.channels[3].users = Some("N, A and B".to_owned());
        let links = ["Own", "First", "Other"].map(|channel| links(&plan, channel, "NA AC NC"));
        // On all as many reach net control; Other is for some alone.
        assert_eq!(Fallback::first_channel(&plan, &links), Some(1));
        let found = Fallback::of(&plan, &links, Some(1));
        assert_eq!(found.nets[2].posts, ["N", "A", "B"]);
        assert_eq!(found.nets[2].chains.len(), 2);
    }

    #[test]
    fn net_control_in_a_group_is_on_two_channels() {
        let group = GROUP.replace("\"A\", \"B\"", "\"A\", \"N\"");
        let found = fallback(&group, "NA", "NC", "");
        assert_eq!(way(&found, "A"), told(Way::Works, "N on Own"));
        let [remark] = found.remarks.as_slice() else { panic!("{:?}", found.remarks) };
        assert!(remark.text.contains("second radio on Own"), "{}", remark.text);
    }
}
