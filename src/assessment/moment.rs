//! What holds at a moment between set-up and tear-down, read from what the plan comes to
//! for every other verb: budgets of stations and crews, hours of sites, paces on routes.
//! What the plan does not say has no place in a moment; it is told as [`NotKnown`].

use std::collections::BTreeMap;

use jiff::{SignedDuration, ZonedDateTime};
use perchline_plan::{Crew, Site};
use perchline_power::kit::settled_site;
use perchline_power::{CrewNeeds, Feed, StationBudget, Weather, after, elapsed};
use perchline_siting::Paced;
use perchline_units::{Celsius, Db, Hours, Metres, Position, Seconds};
use serde::Serialize;

use super::Assessment;

/// Most stops of an even step; the plan's own times come on top.
const MOST_STEPS: i64 = 200;
/// Steps in minutes, from the finest on.
const STEPS: [i64; 7] = [15, 30, 60, 120, 180, 360, 720];

/// A moment to stop at, with what happens then.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeStop {
    /// When.
    pub at: ZonedDateTime,
    /// What happens then; nothing at most of them.
    pub happens: Vec<Happening>,
}

/// Something that happens at a moment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Happening {
    /// The event starts.
    EventStarts,
    /// The event ends.
    EventEnds,
    /// The last radio is taken down.
    TearDown,
    /// A station is switched on.
    StationOn {
        /// Its name.
        station: String,
    },
    /// A station may be switched off.
    StationOff {
        /// Its name.
        station: String,
    },
    /// The packs of a station are to be changed by then.
    PackChange {
        /// The station.
        station: String,
        /// Which set goes in, from 2 on.
        set: usize,
    },
    /// A station dies in the poor case.
    StationDies {
        /// Its name.
        station: String,
    },
    /// A site opens.
    SiteOpens {
        /// Its name.
        site: String,
    },
    /// A site closes.
    SiteCloses {
        /// Its name.
        site: String,
    },
    /// The loss of a post that is not there all the time begins.
    LossBegins {
        /// The post.
        post: String,
    },
    /// It ends.
    LossEnds {
        /// The post.
        post: String,
    },
    /// The shift of a crew is over.
    ShiftEnds {
        /// The crew.
        crew: String,
    },
    /// The first on a route is at its end.
    FrontArrives {
        /// The route.
        route: String,
    },
    /// The last on a route is at its end.
    TailArrives {
        /// The route.
        route: String,
    },
}

/// Where the event stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// Before its start.
    SetUp,
    /// From start to end.
    Running,
    /// After its end.
    TearDown,
}

/// What holds at a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Moment {
    /// When.
    pub at: ZonedDateTime,
    /// Where the event stands.
    pub phase: Phase,
    /// The air as budgets count it; nothing without a forecast.
    pub air_c: Option<Celsius>,
    /// Stations whose budget is known, in the plan's order.
    pub stations: Vec<StationNow>,
    /// Every site, in the plan's order.
    pub sites: Vec<SiteNow>,
    /// Crews whose needs are known, in the plan's order.
    pub crews: Vec<CrewNow>,
    /// Posts of which the plan names a time, in its order.
    pub posts: Vec<PostNow>,
    /// Routes on which it tells a pace, in its order.
    pub routes: Vec<RouteNow>,
}

/// A station at a moment of the poor case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationNow {
    /// Its name.
    pub station: String,
    /// Its channel.
    pub channel: String,
    /// The site on which the plan puts it; nothing where that is open.
    pub site: Option<String>,
    /// Kind of pack.
    pub pack: String,
    /// Packs in parallel, in one set.
    pub packs: u32,
    /// Sets that there are, the first one with them.
    pub sets: u32,
    /// What feeds it.
    pub feed: Feed,
    /// When it is switched on.
    pub on: ZonedDateTime,
    /// When it may be switched off.
    pub off: ZonedDateTime,
    /// The next change of packs that is planned.
    pub next_change: Option<ZonedDateTime>,
}

/// Whether somebody gets up to a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Door {
    /// Within its hours.
    Open,
    /// Outside of them.
    Closed,
    /// The plan names no hours.
    NotStated,
    /// The plan says that it may not be used at all.
    NotAvailable,
}

/// A site at a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteNow {
    /// Its name.
    pub site: String,
    /// Whether somebody gets up.
    pub door: Door,
    /// From when on; nothing where the plan names no hour.
    pub open_from: Option<ZonedDateTime>,
    /// Until when; nothing as above.
    pub open_until: Option<ZonedDateTime>,
}

/// Where a shift stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Shift {
    /// It begins later.
    NotYet,
    /// It runs.
    On,
    /// It is over.
    Over,
}

/// A crew at a moment of the poor case.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrewNow {
    /// Its name.
    pub crew: String,
    /// Where its shift stands.
    pub shift: Shift,
    /// When that begins: with the event.
    pub from: ZonedDateTime,
    /// When it is over.
    pub until: ZonedDateTime,
    /// Until when the first pack of a hand-held runs; nothing if through the shift.
    pub first_pack_until: Option<ZonedDateTime>,
    /// Packs that each needs through the shift; nothing if no number does.
    pub packs_each: Option<u32>,
}

/// A post at a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PostNow {
    /// Its name.
    pub post: String,
    /// Where the shift of its people stands; nothing where the plan does not say whose
    /// it is.
    pub shift: Option<Shift>,
    /// The crew whose shift that is.
    pub crew: Option<String>,
    /// The loss of a time of day, and whether it is there.
    pub loss: Option<LossNow>,
}

/// A loss that a post has for some of the time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LossNow {
    /// How much.
    pub loss_db: Db,
    /// Whether it is there.
    pub is_there: bool,
    /// From when.
    pub from: ZonedDateTime,
    /// Until when.
    pub until: ZonedDateTime,
}

/// A route at a moment.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RouteNow {
    /// Its name.
    pub route: String,
    /// Its length.
    pub length_m: Metres,
    /// The fastest tracker on it.
    pub front: Underway,
    /// The slowest; nothing where all are equally fast.
    pub tail: Option<Underway>,
}

/// Somebody on a route who left its first point with the event's start.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Underway {
    /// The tracker.
    pub tracker: String,
    /// How far it is.
    pub stands: Stands,
    /// When it is at the end.
    pub arrives: ZonedDateTime,
}

/// How far somebody is.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum Stands {
    /// Not yet on the way.
    Before,
    /// On it.
    On {
        /// How far, from the first point.
        along_m: Metres,
        /// Where that is.
        #[serde(skip)]
        at: Position,
    },
    /// At its end.
    Arrived,
}

/// What a plan does not say of its hours.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum NotKnown {
    /// When posts are manned: of so many of all.
    Manning {
        /// Posts of which it is not known.
        posts: usize,
        /// Posts of the plan.
        of: usize,
    },
    /// How fast anybody is on a route.
    Pace {
        /// The route.
        route: String,
    },
    /// When anybody leaves on routes: the event's start is taken.
    Departure,
    /// The hours of sites.
    SiteHours {
        /// Their names.
        sites: Vec<String>,
    },
    /// What feeds the station of a channel.
    Supply {
        /// The channel.
        channel: String,
    },
    /// Why there are no budgets of stations or crews.
    Budgets {
        /// The reason.
        reason: String,
    },
}

impl Assessment {
    /// The moments to stop at between set-up and tear-down, in order: an even step, and
    /// every time that the plan states or that its budgets and paces come to.
    #[must_use]
    pub fn time_stops(&self) -> Vec<TimeStop> {
        let (from, to) = self.plan.day();
        let mut stops: BTreeMap<i64, TimeStop> = BTreeMap::new();
        let mut stop = |at: &ZonedDateTime, what: Option<Happening>| {
            if *at < from || *at > to {
                return;
            }
            let known = stops
                .entry(at.timestamp().as_second())
                .or_insert_with(|| TimeStop { at: at.clone(), happens: Vec::new() });
            known.happens.extend(what);
        };
        stop(&from, None);
        stop(&to, None);
        let minutes = from.duration_until(&to).as_mins();
        let step = STEPS.into_iter().find(|step| minutes / step <= MOST_STEPS);
        let step = step.unwrap_or(minutes / MOST_STEPS).max(1);
        // On the clock: full hours and their quarters.
        let into = (i64::from(from.hour()) * 60 + i64::from(from.minute())) % step;
        let ahead = |count: i64| {
            from.checked_add(SignedDuration::from_mins(count)).unwrap_or_else(|_| to.clone())
        };
        for count in 1..=minutes / step + 1 {
            let at = ahead(count * step - into);
            let seconds = SignedDuration::from_secs(i64::from(at.second()));
            stop(&at.checked_sub(seconds).unwrap_or(at), None);
        }
        for (at, what) in self.happenings() {
            stop(&at, Some(what));
        }
        stops.into_values().collect()
    }

    /// All that happens, in no order.
    fn happenings(&self) -> Vec<(ZonedDateTime, Happening)> {
        let plan = &self.plan;
        let event = &plan.event;
        let mut all = vec![
            (event.starts.clone(), Happening::EventStarts),
            (event.ends.clone(), Happening::EventEnds),
            (event.tear_down.clone(), Happening::TearDown),
        ];
        for station in &plan.power.stations {
            let name = || station.name.clone();
            all.push((station.on.clone(), Happening::StationOn { station: name() }));
            all.push((station.off.clone(), Happening::StationOff { station: name() }));
        }
        for budget in &self.energy().stations {
            let name = || budget.station.clone();
            let changes = budget.planned_changes().iter().zip(2..);
            all.extend(
                changes
                    .map(|(at, set)| (at.clone(), Happening::PackChange { station: name(), set })),
            );
            if let Feed::Dead { since, .. } = budget.feed_at(&budget.off) {
                all.push((since, Happening::StationDies { station: name() }));
            }
        }
        for crew in &plan.power.crews {
            let ends = Happening::ShiftEnds { crew: crew.name.clone() };
            all.push((self.shift_ends(crew), ends));
        }
        for site in &plan.sites {
            let name = || site.name.clone();
            let opens = site.open_from.iter().cloned();
            all.extend(opens.map(|at| (at, Happening::SiteOpens { site: name() })));
            let closes = site.open_until.iter().cloned();
            all.extend(closes.map(|at| (at, Happening::SiteCloses { site: name() })));
        }
        for post in &plan.posts {
            let name = || post.name.clone();
            let begins = post.extra_loss_from.iter().cloned();
            all.extend(begins.map(|at| (at, Happening::LossBegins { post: name() })));
            let ends = post.extra_loss_to.iter().cloned();
            all.extend(ends.map(|at| (at, Happening::LossEnds { post: name() })));
        }
        for course in self.courses() {
            let arrives = |paced: &Paced| self.arrives(paced, course.length_m);
            let route = || course.route.clone();
            let [front, tail] = [&course.fastest, &course.slowest].map(Option::as_ref);
            let front =
                front.map(|front| (arrives(front), Happening::FrontArrives { route: route() }));
            let tail = tail.filter(|tail| course.fastest.as_ref() != Some(*tail));
            let tail = tail.map(|tail| (arrives(tail), Happening::TailArrives { route: route() }));
            all.extend(front.into_iter().chain(tail));
        }
        all
    }

    /// What holds at a moment.
    #[must_use]
    pub fn moment(&self, at: &ZonedDateTime) -> Moment {
        let plan = &self.plan;
        let event = &plan.event;
        let phase = if *at < event.starts {
            Phase::SetUp
        } else if *at < event.ends {
            Phase::Running
        } else {
            Phase::TearDown
        };
        let budgets = self.energy().stations.iter();
        let crews = self.energy().crews.iter();
        Moment {
            at: at.clone(),
            phase,
            air_c: plan.power.forecast.as_ref().map(|forecast| Weather::of(forecast).at(at)),
            stations: budgets.map(|budget| self.station_now(budget, at)).collect(),
            sites: plan.sites.iter().map(|site| self.site_now(site, at)).collect(),
            crews: crews.filter_map(|needs| self.crew_now(needs, at)).collect(),
            posts: (0..plan.posts.len()).filter_map(|post| self.post_now(post, at)).collect(),
            routes: (0..plan.routes.len()).filter_map(|route| self.route_now(route, at)).collect(),
        }
    }

    /// What the plan does not say of its hours.
    #[must_use]
    pub fn hours_not_known(&self) -> Vec<NotKnown> {
        let plan = &self.plan;
        let mut lacking = Vec::new();
        let of = plan.posts.len();
        let posts = (0..of).filter(|post| self.crew_at(*post).is_none()).count();
        if posts > 0 {
            lacking.push(NotKnown::Manning { posts, of });
        }
        let (paced, unpaced): (Vec<_>, Vec<_>) =
            self.courses().iter().partition(|course| course.fastest.is_some());
        if !paced.is_empty() {
            lacking.push(NotKnown::Departure);
        }
        lacking.extend(unpaced.iter().map(|c| NotKnown::Pace { route: c.route.clone() }));
        let without =
            plan.sites.iter().filter(|site| self.door(site, &plan.event.starts) == Door::NotStated);
        let sites: Vec<String> = without.map(|site| site.name.clone()).collect();
        if !sites.is_empty() {
            lacking.push(NotKnown::SiteHours { sites });
        }
        let stations = &plan.power.stations;
        let unfed = plan.channels.iter().filter(|channel| {
            channel.has_station() && !stations.iter().any(|s| plan.is_channel(s.channel, channel))
        });
        lacking.extend(unfed.map(|c| NotKnown::Supply { channel: c.name.clone() }));
        let refused = self.energy().lacking.iter();
        lacking.extend(refused.map(|error| NotKnown::Budgets { reason: error.to_string() }));
        lacking
    }

    fn station_now(&self, budget: &StationBudget, at: &ZonedDateTime) -> StationNow {
        let plan = &self.plan;
        let station = plan.power.stations.iter().find(|station| station.name == budget.station);
        let site = station.and_then(|station| settled_site(plan, station));
        StationNow {
            station: budget.station.clone(),
            channel: budget.channel.clone(),
            site: site.map(|site| site.name.clone()),
            pack: budget.pack.clone(),
            packs: budget.packs,
            sets: budget.spares + 1,
            feed: budget.feed_at(at),
            on: budget.on.clone(),
            off: budget.off.clone(),
            next_change: budget.planned_changes().iter().find(|change| *change > at).cloned(),
        }
    }

    fn site_now(&self, site: &Site, at: &ZonedDateTime) -> SiteNow {
        SiteNow {
            site: site.name.clone(),
            door: self.door(site, at),
            open_from: site.open_from.clone(),
            open_until: site.open_until.clone(),
        }
    }

    fn door(&self, site: &Site, at: &ZonedDateTime) -> Door {
        let access = self.plan.site_access(site, None);
        match (site.available, access.has_hours()) {
            (false, _) => Door::NotAvailable,
            (true, false) => Door::NotStated,
            (true, true) if access.open_at(at) => Door::Open,
            (true, true) => Door::Closed,
        }
    }

    /// When the shift of a crew is over: it begins with the event.
    fn shift_ends(&self, crew: &Crew) -> ZonedDateTime {
        after(&self.plan.event.starts, crew.shift)
    }

    fn shift(&self, crew: &Crew, at: &ZonedDateTime) -> Shift {
        if *at < self.plan.event.starts {
            Shift::NotYet
        } else if *at < self.shift_ends(crew) {
            Shift::On
        } else {
            Shift::Over
        }
    }

    fn crew_now(&self, needs: &CrewNeeds, at: &ZonedDateTime) -> Option<CrewNow> {
        let plan = &self.plan;
        let crew = plan.power.crews.iter().find(|crew| crew.name == needs.crew)?;
        let starts = &plan.event.starts;
        let short = needs.poor_pack_lasts_h.filter(|lasts| *lasts < needs.shift_h);
        Some(CrewNow {
            crew: needs.crew.clone(),
            shift: self.shift(crew, at),
            from: starts.clone(),
            until: self.shift_ends(crew),
            first_pack_until: short.map(|lasts| after(starts, lasts)),
            packs_each: needs.packs_each,
        })
    }

    /// The crew whose kit the people of a post carry, where the plan says so.
    fn crew_at(&self, post: usize) -> Option<&Crew> {
        self.plan.power.crews.get(self.plan.group_of(post)?.carries?)
    }

    fn post_now(&self, post: usize, at: &ZonedDateTime) -> Option<PostNow> {
        let crew = self.crew_at(post);
        let post = self.plan.posts.get(post)?;
        let hours = post.extra_loss_from.as_ref().zip(post.extra_loss_to.as_ref());
        let loss = post.extra_loss.zip(hours).map(|(loss_db, (from, until))| LossNow {
            loss_db,
            is_there: from <= at && at < until,
            from: from.clone(),
            until: until.clone(),
        });
        (crew.is_some() || loss.is_some()).then(|| PostNow {
            post: post.name.clone(),
            shift: crew.map(|crew| self.shift(crew, at)),
            crew: crew.map(|crew| crew.name.clone()),
            loss,
        })
    }

    /// When somebody is at the end of a route of this length.
    fn arrives(&self, paced: &Paced, length: Metres) -> ZonedDateTime {
        let hours = length.value() / paced.speed.value() / 3600.0;
        after(&self.plan.event.starts, Hours::new(hours))
    }

    fn route_now(&self, place: usize, at: &ZonedDateTime) -> Option<RouteNow> {
        let course = self.courses().get(place)?;
        let front = course.fastest.as_ref()?;
        let tail = course.slowest.as_ref().filter(|tail| *tail != front);
        let underway = |paced: &Paced| {
            let arrives = self.arrives(paced, course.length_m);
            Underway {
                tracker: paced.tracker.clone(),
                stands: self.stands(place, paced, at, &arrives),
                arrives,
            }
        };
        Some(RouteNow {
            route: course.route.clone(),
            length_m: course.length_m,
            front: underway(front),
            tail: tail.map(underway),
        })
    }

    fn stands(
        &self,
        place: usize,
        paced: &Paced,
        at: &ZonedDateTime,
        arrives: &ZonedDateTime,
    ) -> Stands {
        let starts = &self.plan.event.starts;
        if at < starts {
            return Stands::Before;
        }
        let under_way = Seconds::new(elapsed(starts, at).value() * 3600.0);
        let along_m = paced.along(under_way);
        let pieces = self.demand().route(place);
        let mut end = 0.0;
        let piece = pieces.iter().find(|piece| {
            end += piece.weight;
            end > along_m.value()
        });
        match piece {
            Some(piece) if at < arrives => Stands::On { along_m, at: piece.at },
            _ => Stands::Arrived,
        }
    }
}
