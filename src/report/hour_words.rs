//! What holds at a moment between set-up and tear-down, in words; the numbers are those of
//! `power`, of the hours of sites and of the routes' strips.

use jiff::ZonedDateTime;
use perchline_assessment::{
    CrewNow, Door, Happening, Moment, NotKnown, Phase, PostNow, RouteNow, Shift, SiteNow, Stands,
    StationNow, TimeStop, Underway,
};
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_power::Feed;
use perchline_siting::RouteScore;
use perchline_units::Metres;
use serde::Serialize;

use super::power_tables::{POOR_CASE, clock};
use super::words;

/// A moment as a page tells it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MomentWords {
    /// The time, and where the event stands.
    pub time: String,
    /// The answer in a line: stations, then sites.
    pub headline: String,
    /// The air as budgets count it; nothing without a forecast.
    pub air: Option<String>,
    /// A line a station.
    pub stations: Vec<Told>,
    /// A line a site.
    pub sites: Vec<Told>,
    /// A line a crew, and a line a post with a loss of a time of day.
    pub people: Vec<Told>,
    /// A line a route.
    pub routes: Vec<Told>,
}

/// A line about something.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// Whether it is there for the event at this moment; nothing where that is not known.
    pub holds: Option<bool>,
    /// What there is to say of it.
    pub words: String,
}

/// What the numbers of stations and crews are.
pub const HOURS_HOW: &str = POOR_CASE;

/// A moment to stop at: the time, with what happens then.
#[must_use]
pub fn stop(stop: &TimeStop, plan: &Plan) -> String {
    let time = clock(&stop.at, &plan.event.starts);
    let happens = happenings(stop);
    if happens.is_empty() { time } else { format!("{time}, {happens}") }
}

/// What happens at a moment, in a line; empty where nothing does.
#[must_use]
pub fn happenings(stop: &TimeStop) -> String {
    stop.happens.iter().map(happening).collect::<Vec<_>>().join(", ")
}

fn happening(happening: &Happening) -> String {
    match happening {
        Happening::EventStarts => "event starts".to_owned(),
        Happening::EventEnds => "event ends".to_owned(),
        Happening::TearDown => "last radio down".to_owned(),
        Happening::StationOn { station } => format!("{station} switched on"),
        Happening::StationOff { station } => format!("{station} may be switched off"),
        Happening::PackChange { station, set } => {
            format!("{station}: packs changed, set {set} goes in")
        }
        Happening::StationDies { station } => format!("{station} dies in the poor case"),
        Happening::SiteOpens { site } => format!("{site} opens"),
        Happening::SiteCloses { site } => format!("{site} closes"),
        Happening::LossBegins { post } => format!("extra loss begins at {post}"),
        Happening::LossEnds { post } => format!("extra loss ends at {post}"),
        Happening::ShiftEnds { crew } => format!("shift of {crew} ends"),
        Happening::FrontArrives { route } => format!("front at the end of {route}"),
        Happening::TailArrives { route } => format!("tail at the end of {route}"),
    }
}

/// A moment in words, with what radio comes to at a place of a route out of the `routes`
/// of the site that is shown; nothing is said of that where they are not worked out.
#[must_use]
pub fn moment(moment: &Moment, plan: &Plan, routes: Option<&[RouteScore]>) -> MomentWords {
    let at = |time: &ZonedDateTime| clock(time, &plan.event.starts);
    let phase = match moment.phase {
        Phase::SetUp => "set-up",
        Phase::Running => "event under way",
        Phase::TearDown => "tear-down",
    };
    let crews = moment.crews.iter().map(|now| crew(now, &moment.posts, &at));
    let posts = moment.posts.iter().filter_map(|now| loss(now, &at));
    MomentWords {
        time: format!("{}, {phase}", at(&moment.at)),
        headline: headline(moment),
        air: moment
            .air_c
            .map(|air| format!("{} in the air, as forecast", plan.units.temperature(air))),
        stations: moment.stations.iter().map(|now| station(now, &at)).collect(),
        sites: moment.sites.iter().map(|now| site(now, &moment.at, &at)).collect(),
        people: crews.chain(posts).collect(),
        routes: moment.routes.iter().map(|now| route(now, plan, routes, &at)).collect(),
    }
}

fn headline(moment: &Moment) -> String {
    let stations = &moment.stations;
    let on = stations.iter().filter(|now| now.feed.is_on_the_air()).count();
    let stations = match stations.len() {
        0 => "no station of which the power is known".to_owned(),
        1 if on == 1 => "the station on the air".to_owned(),
        1 => "the station off the air".to_owned(),
        all => format!("{on} of {all} stations on the air"),
    };
    let stated = moment.sites.iter().filter(|now| matches!(now.door, Door::Open | Door::Closed));
    let (open, stated) = stated.fold((0, 0), |(open, stated), now| {
        (open + usize::from(now.door == Door::Open), stated + 1)
    });
    match stated {
        0 => stations,
        _ => format!("{stations}; {open} of {stated} sites with stated hours open"),
    }
}

fn station(now: &StationNow, at: &impl Fn(&ZonedDateTime) -> String) -> Told {
    let sets = match now.sets {
        1 => String::new(),
        _ => format!(" of {}", now.sets),
    };
    let words = match &now.feed {
        Feed::NotYetOn => format!("off: switched on at {}", at(&now.on)),
        Feed::Off => format!("off: not needed after {}", at(&now.off)),
        Feed::Set { set, left } => {
            let which = if now.sets == 1 { String::new() } else { format!(", set {set}{sets}") };
            let change = now.next_change.as_ref();
            let change =
                change.map_or_else(String::new, |by| format!("; change packs by {}", at(by)));
            format!(
                "on the air from {} x {}{which}: {} left in the poor case{change}",
                now.packs,
                now.pack,
                words::percent(*left)
            )
        }
        Feed::Dead { set, since } => {
            let which = if now.sets == 1 { String::new() } else { format!(" (set {set}{sets})") };
            format!(
                "OFF THE AIR since {} in the poor case: its {} x {}{which} has died; needed until {}",
                at(since),
                now.packs,
                now.pack,
                at(&now.off)
            )
        }
    };
    Told { name: now.station.clone(), holds: Some(now.feed.is_on_the_air()), words }
}

fn site(now: &SiteNow, moment: &ZonedDateTime, at: &impl Fn(&ZonedDateTime) -> String) -> Told {
    let until = now.open_until.as_ref();
    let (holds, words) = match now.door {
        Door::Open => (
            Some(true),
            until.map_or_else(|| "open".to_owned(), |until| format!("open until {}", at(until))),
        ),
        Door::Closed => {
            let words = match now.open_from.as_ref().filter(|from| *from > moment) {
                Some(from) => format!("CLOSED: opens at {}", at(from)),
                None => until.map_or_else(
                    || "CLOSED".to_owned(),
                    |until| format!("CLOSED since {}: nobody gets up", at(until)),
                ),
            };
            (Some(false), words)
        }
        Door::NotStated => (None, "hours not stated".to_owned()),
        Door::NotAvailable => (Some(false), "may not be used, as the plan says".to_owned()),
    };
    Told { name: now.site.clone(), holds, words }
}

fn crew(now: &CrewNow, posts: &[PostNow], at: &impl Fn(&ZonedDateTime) -> String) -> Told {
    let own = posts.iter().filter(|post| post.crew.as_ref() == Some(&now.crew));
    let own: Vec<&str> = own.map(|post| post.post.as_str()).collect();
    let posts = match own.as_slice() {
        [] => String::new(),
        names => format!("; of the posts: {}", names.join(", ")),
    };
    let words = match now.shift {
        Shift::NotYet => format!("shift begins at {}", at(&now.from)),
        Shift::Over => format!("SHIFT OVER since {}", at(&now.until)),
        Shift::On => {
            let pack = match (&now.first_pack_until, now.packs_each) {
                (None, _) => "the first pack of a hand-held runs through".to_owned(),
                (Some(until), Some(each)) => {
                    format!("{each} packs each in the poor case, the first until {}", at(until))
                }
                (Some(until), None) => format!(
                    "the first pack of a hand-held until {} in the poor case; no number of packs runs through",
                    at(until)
                ),
            };
            format!("on shift until {}; {pack}", at(&now.until))
        }
    };
    Told {
        name: format!("Crew {}", now.crew),
        holds: Some(now.shift == Shift::On),
        words: words + &posts,
    }
}

fn loss(now: &PostNow, at: &impl Fn(&ZonedDateTime) -> String) -> Option<Told> {
    let loss = now.loss.as_ref()?;
    let (from, until) = (at(&loss.from), at(&loss.until));
    let words = if loss.is_there {
        format!("{} of extra loss until {until}, which every result counts", loss.loss_db)
    } else {
        format!(
            "no extra loss now; every result counts its {}, there from {from} to {until}",
            loss.loss_db
        )
    };
    Some(Told { name: now.post.clone(), holds: None, words })
}

fn route(
    now: &RouteNow,
    plan: &Plan,
    routes: Option<&[RouteScore]>,
    at: &impl Fn(&ZonedDateTime) -> String,
) -> Told {
    let score = routes.and_then(|all| all.iter().find(|score| score.share.name == now.route));
    let where_is = |who: &Underway| match &who.stands {
        Stands::Before => "at the start".to_owned(),
        Stands::Arrived => format!("at the end since {}", at(&who.arrives)),
        Stands::On { along_m, .. } => {
            let radio = score.and_then(|score| radio_at(score, *along_m));
            let radio = radio.map_or_else(String::new, |outcome| {
                format!(" ({} there)", words::short(outcome).to_lowercase())
            });
            let arrives = at(&who.arrives);
            format!("{} along{radio}, at the end {arrives}", plan.units.distance(*along_m))
        }
    };
    let front = format!("front, {}: {}", now.front.tracker, where_is(&now.front));
    let words = match &now.tail {
        None => front,
        Some(tail) => format!("{front}; tail, {}: {}", tail.tracker, where_is(tail)),
    };
    let all = [Some(&now.front), now.tail.as_ref()];
    let holds = all.into_iter().flatten().any(|who| matches!(who.stands, Stands::On { .. }));
    Told { name: now.route.clone(), holds: Some(holds), words }
}

/// What a mark on a map shows of a moment, by shape and in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MomentMark {
    /// What it marks: a site or a post.
    pub kind: &'static str,
    /// Its name.
    pub name: String,
    /// What is drawn on it: `off-air`, `shut`, `unmanned`.
    pub states: Vec<&'static str>,
    /// The same in words, beside its name.
    pub words: String,
}

/// The marks that a moment changes, with the station of `channel` on `site`, where a map
/// shows it; other stations stand where the plan puts them.
#[must_use]
pub fn marks(moment: &Moment, channel: &str, site: &str) -> Vec<MomentMark> {
    let stands = |now: &StationNow| match now.channel == channel {
        true => Some(site.to_owned()),
        false => now.site.clone(),
    };
    let of_site = |place: &SiteNow| {
        let here = moment.stations.iter().filter(|now| stands(now).as_ref() == Some(&place.site));
        let silent = here.filter(|now| !now.feed.is_on_the_air());
        let silent: Vec<String> = silent
            .map(|now| match now.feed {
                Feed::Dead { .. } => format!("{} dead", now.station),
                _ => format!("{} off", now.station),
            })
            .collect();
        let shut = place.door == Door::Closed;
        let states = [(!silent.is_empty(), "off-air"), (shut, "shut")];
        let states: Vec<_> = states.into_iter().filter(|s| s.0).map(|s| s.1).collect();
        let words = silent.into_iter().chain(shut.then(|| "closed".to_owned()));
        let words = words.collect::<Vec<_>>().join(", ");
        (!states.is_empty()).then(|| MomentMark {
            kind: "site",
            name: place.site.clone(),
            states,
            words,
        })
    };
    let of_post = |now: &PostNow| {
        let words = match now.shift? {
            Shift::On => return None,
            Shift::NotYet => "not on shift yet",
            Shift::Over => "shift over",
        };
        let (name, words) = (now.post.clone(), words.to_owned());
        Some(MomentMark { kind: "post", name, states: vec!["unmanned"], words })
    };
    let sites = moment.sites.iter().filter_map(of_site);
    sites.chain(moment.posts.iter().filter_map(of_post)).collect()
}

/// What radio comes to both ways so far along a route.
#[must_use]
pub fn radio_at(score: &RouteScore, along: Metres) -> Option<Outcome> {
    score.classes.iter().find(|class| class.stretch.to_m > along).map(|class| class.outcome)
}

/// What the plan does not say of its hours, a sentence each.
#[must_use]
pub fn not_known(lacking: &[NotKnown], plan: &Plan) -> Vec<String> {
    let starts = clock(&plan.event.starts, &plan.event.starts);
    let sentence = |lacking: &NotKnown| {
        match lacking {
        NotKnown::Manning { posts, of } if posts == of => {
            "When posts are manned the plan does not say: a crew has a shift, and a group says whose kit it carries."
                .to_owned()
        }
        NotKnown::Manning { posts, of } => format!(
            "When {posts} of {of} posts are manned the plan does not say: they are in no group that carries a crew's kit."
        ),
        NotKnown::Pace { route } => {
            format!("How fast anybody is on {route} the plan does not say: it has no tracker there.")
        }
        NotKnown::Departure => format!(
            "When anybody leaves on a route the plan does not say: all are taken to leave at its start at {starts}, each at an even pace."
        ),
        NotKnown::SiteHours { sites } => {
            format!("Hours are not stated for {}.", sites.join(", "))
        }
        NotKnown::Supply { channel } => {
            format!("What feeds the station of {channel} the plan does not say.")
        }
        NotKnown::Budgets { reason } => format!("Power is not known: {reason}."),
    }
    };
    lacking.iter().map(sentence).collect()
}
