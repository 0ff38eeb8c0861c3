//! What was found, in direct sentences: the number, then the fix.

use jiff::ZonedDateTime;

use perchline_assessment::{
    Decided, FallbackReach, Finding, Fix, Gravity, Matter, Readiness, Standing, Step, TrackerHeard,
    Unknown, UnknownMatter, Verdict,
};
use perchline_link::{Direction, Outcome};
use perchline_plan::Plan;
use perchline_siting::Stretch;

use super::{Line, Speech};
use crate::brief::{lower, roughly, towards};
use crate::cautions::{Caution, Output, cautions};
use crate::place_words::{asked, mind};
use crate::power_tables::{clock, dies_words, pack_words};
use crate::words as trade;

/// The verdict in a sentence; a no with its first reason.
pub(super) fn headline(readiness: &Readiness, reasons: &[Line]) -> String {
    let conditions = readiness.of(Gravity::Condition).count();
    let stops = readiness.of(Gravity::Stops).count();
    match readiness.verdict {
        Verdict::Go => match readiness.unknowns.iter().filter(|u| u.could_turn).count() {
            0 => "GO: nothing stands against it in the poor case.".to_owned(),
            1 => "GO: nothing known stands against it in the poor case; one thing not known could turn it.".to_owned(),
            many => format!(
                "GO: nothing known stands against it in the poor case; {many} things not known could turn it."
            ),
        },
        Verdict::GoIf if conditions == 1 => "GO, IF this one thing is done.".to_owned(),
        Verdict::GoIf => format!("GO, IF these {conditions} things are done."),
        Verdict::No => {
            let first = reasons.first().map_or("", |line| line.says.as_str());
            match stops {
                0 | 1 => format!("NO: {first}"),
                2 => format!("NO: {first} One more thing stands against it."),
                more => format!("NO: {first} {} more things stand against it.", more - 1),
            }
        }
    }
}

/// At which posts radio should not be counted on, of how many: must-have posts decide on
/// the verdict, others do not.
pub(super) fn without(readiness: &Readiness) -> Option<String> {
    let (works, of) = readiness.places.iter().find_map(|place| place.posts)?;
    let failing = of.checked_sub(works).filter(|failing| *failing > 0)?;
    let name = |finding: &Finding| match &finding.matter {
        Matter::Post { post, .. } => Some(post.clone()),
        _ => None,
    };
    let names: Vec<String> = readiness.findings.iter().filter_map(name).collect();
    Some(format!("Do not count on radio at {failing} of {of} posts: {}.", few(&names)))
}

/// What can hurt somebody who follows the fixes, and nothing else.
pub fn to_mind(plan: &Plan, readiness: &Readiness) -> Vec<Caution> {
    let any = |of: fn(&Fix) -> bool| readiness.next.iter().any(|step| of(&step.act));
    let on_foot =
        any(|fix| matches!(fix, Fix::MovePost { .. } | Fix::Runner | Fix::Rehearse { .. }));
    let changes = any(|fix| match fix {
        Fix::ChangePacks { .. } => true,
        Fix::LargerPack { or_change_by, .. } => !or_change_by.is_empty(),
        _ => false,
    });
    let climbs = changes
        || any(|fix| {
            matches!(
                fix,
                Fix::MoreMast { .. }
                    | Fix::Separate { .. }
                    | Fix::MoreRelays { .. }
                    | Fix::OtherSite { .. }
            )
        });
    let masts = any(|fix| {
        matches!(fix, Fix::MoreMast { .. } | Fix::MoreRelays { .. } | Fix::OtherSite { .. })
    });
    let packs = any(|fix| {
        matches!(
            fix,
            Fix::LargerPack { .. }
                | Fix::SparePacks { .. }
                | Fix::PowerBank { .. }
                | Fix::ChangePacks { .. }
        )
    });
    let is_due = |caution: &Caution| match caution {
        Caution::Walking | Caution::Traffic => on_foot,
        Caution::Edge | Caution::Ice | Caution::Antenna => climbs,
        Caution::PowerLine | Caution::Mast | Caution::Load => masts,
        Caution::Climb => changes,
        Caution::Pack | Caution::Charging | Caution::LeadAcid => packs,
        Caution::HandHeld => any(|fix| matches!(fix, Fix::HoldAtHead { .. })),
        // A relay stands on a roof or a ridge whatever is done.
        Caution::Emergency | Caution::Thunder | Caution::LocalCodes => true,
        _ => false,
    };
    cautions(plan, Output::Ready).into_iter().filter(is_due).collect()
}

impl Speech<'_> {
    pub(super) fn line(&self, finding: &Finding) -> Line {
        Line {
            says: self.matter(&finding.matter),
            fix: finding.fix.as_ref().map(|fix| self.fix(fix)),
            verb: finding.verb,
            stops: finding.gravity == Gravity::Stops,
        }
    }

    /// A time on the day of the event.
    fn at(&self, moment: &ZonedDateTime) -> String {
        clock(moment, &self.plan.event.starts)
    }

    fn stretch(&self, gap: Stretch) -> String {
        format!(
            "the longest gap is {}, from {} to {} along it",
            self.units.distance(gap.length()),
            self.units.distance(gap.from_m),
            self.units.distance(gap.to_m)
        )
    }

    fn matter(&self, matter: &Matter) -> String {
        match matter {
            Matter::NoSite => "No site of the plan may be used.".to_owned(),
            Matter::NoMustPosts => "No must-have post is named, so none was judged.".to_owned(),
            Matter::SiteUnavailable { site } => {
                format!("{site} may not be used: the plan marks it as not available.")
            }
            Matter::Post { post, must, outcome, probability, short_db, limiting, .. } => {
                let name = if *must { format!("{post} (must have)") } else { post.clone() };
                let spots = probability.map_or_else(String::new, |p| {
                    format!(", should work both ways in {} spots", trade::spots(p))
                });
                let lacks =
                    short_db.map_or_else(String::new, |short| format!("; {short:.1} short"));
                format!("{name}: {}{spots}{lacks}.", outcome_words(*outcome, *limiting))
            }
            Matter::Area { area, share } => {
                format!("{area}: radio should work in {} of the area.", trade::percent(*share))
            }
            Matter::Route { route, share, gap } => {
                let gap = gap.map_or_else(String::new, |gap| format!("; {}", self.stretch(gap)));
                format!("{route}: radio should work along {} of it{gap}.", trade::percent(*share))
            }
            Matter::Pack { station, dies_at, early_h, off, expected_dies_at } => {
                let told = dies_words(
                    dies_at,
                    (*early_h, off),
                    expected_dies_at.as_ref(),
                    &self.plan.event.starts,
                );
                format!("{station}: {told}")
            }
            Matter::OnlyJust { station, left } => format!(
                "{station}: only just: the poor case ends with {} left.",
                trade::percent(*left)
            ),
            Matter::NoSupply { channel } => format!(
                "{channel}: the plan says nothing of its station's battery, so nobody knows how long it runs."
            ),
            Matter::NoTemperature { name } => format!(
                "{name}: the plan does not say how cold its pack gets, so nobody knows how long it runs."
            ),
            Matter::Placeholders { channels } => format!(
                "{}: the frequencies are placeholders; nothing printed with them may be handed out.",
                few(channels)
            ),
            Matter::Spares { crew, people, packs_each: Some(packs) } => format!(
                "{crew}: in the poor case each of {people} people needs {packs} {}.",
                if *packs == 1 { "pack" } else { "packs" }
            ),
            Matter::Spares { crew, packs_each: None, .. } => {
                format!("{crew}: in the poor case no number of packs lasts the shift.")
            }
            Matter::OwnBattery { crew, what, lasts_h, .. } => format!(
                "{crew}: in the poor case the {what} runs {}, less than the shift.",
                lasts_h.clock()
            ),
            Matter::Desense { from, to, desense_db, overloaded } => format!(
                "{from} desenses {to} by {desense_db:.0}{} on the roof that the plan gives both.",
                if *overloaded { " or more (its front end is overloaded)" } else { "" }
            ),
            Matter::SharedRoof { site, channel, desense_db, instead } => {
                let place = instead.as_ref().map_or_else(
                    || "No other site may be used.".to_owned(),
                    |other| format!("The station of channel {channel} is counted on {other}."),
                );
                format!(
                    "{site} is the best site for channel {channel} too, but both stations there would cost {desense_db:.0} of desense. {place}"
                )
            }
            Matter::Duplexer { isolation_db, posts_covered, perfect_posts, .. } => format!(
                "The relay's duplexer is not stated. With {isolation_db:.0} of isolation must-have posts fail: {posts_covered} posts work in place of {perfect_posts}."
            ),
            Matter::NoFallback { channels } if channels.is_empty() => {
                "If the relay dies nobody hears anybody: the plan has no simplex channel."
                    .to_owned()
            }
            Matter::NoFallback { channels } => format!(
                "If the relay dies nobody reaches net control on {}.",
                channels.join(" or ")
            ),
            Matter::DeafBridge { group, who, on } => format!(
                "{who} is to relay for {group}, but nobody hears it on {}.",
                on.join(" or ")
            ),
            Matter::TwoRadios { group, who, desense_db, overloaded } => format!(
                "{who} ({group}) has two radios; the one that sends desenses the other by {desense_db:.0}{}. Listen on both, transmit on one at a time.",
                if *overloaded { " or more (its front end is overloaded)" } else { "" }
            ),
            Matter::CutOff { channel, net_control, must, others } => {
                let mut named = must.clone();
                named.extend(others.iter().cloned());
                format!(
                    "If the relay dies, no radio path to {net_control} on {channel}: {}.",
                    few(&named)
                )
            }
            Matter::Place { place } => {
                format!("{} ({}): {}", place.site, place.channel, mind(place, self.units).join(" "))
            }
            Matter::Kit { station, weight_kg, carriers, trips, too_heavy } => {
                let pieces = match too_heavy.as_slice() {
                    [] => format!("{trips} trips each"),
                    pieces => format!("too heavy for two: {}", pieces.join(", ")),
                };
                format!("{station}: {weight_kg:.0} go up with {carriers} people, {pieces}.")
            }
            Matter::Trackers { site, trackers } => {
                let heard: Vec<String> = trackers.iter().map(|t| self.tracker(t)).collect();
                format!("Beacons that the digipeater on {site} should get: {}.", heard.join(", "))
            }
        }
    }

    fn tracker(&self, heard: &TrackerHeard) -> String {
        let silence = heard.silence.map_or_else(String::new, |silence| {
            format!(
                " (silent for {} from {})",
                self.units.distance(silence.length()),
                self.units.distance(silence.from_m)
            )
        });
        format!("{} {}{silence}", heard.tracker, trade::percent(heard.through))
    }

    pub(super) fn fix(&self, fix: &Fix) -> String {
        match fix {
            Fix::HoldAtHead { .. } => "Hold the radio beside the face, not on the belt.".to_owned(),
            Fix::MovePost { distance_m, bearing_degrees, .. } => format!(
                "Stand {} {} of it, if that is safe and allowed.",
                roughly(self.units, *distance_m),
                towards(*bearing_degrees)
            ),
            Fix::Telephone { contact, phone } => {
                format!("Give everybody the telephone number of {contact}, {phone}.")
            }
            Fix::Runner => "Agree on somebody who carries messages.".to_owned(),
            Fix::SparePacks { spares, .. } => {
                format!("Bring {spares} charged spare packs, kept warm.")
            }
            Fix::PowerBank { what, short_wh, .. } => format!(
                "{short_wh:.1} more for each {what}, from a power bank in an inner pocket."
            ),
            Fix::ChangePacks { .. } | Fix::LargerPack { .. } => {
                pack_words(fix, &self.plan.event.starts).unwrap_or_default()
            }
            Fix::Opened { site, key_holder, phone, from, until } => {
                let who = match (key_holder, phone) {
                    (Some(who), Some(phone)) => format!("with {who} ({phone})"),
                    (Some(who), None) => format!("with {who}"),
                    (None, Some(phone)) => format!("on the telephone ({phone})"),
                    (None, None) => "with the owner".to_owned(),
                };
                format!(
                    "Agree {who} that you get up to {site} before {} and stay until after {}.",
                    self.at(from),
                    self.at(until)
                )
            }
            Fix::MoreCarriers { .. } => {
                "Send more people, or take it up in smaller pieces.".to_owned()
            }
            Fix::MoreMast { site, extra_m } => {
                format!("{} more mast on {site}.", self.units.height(*extra_m))
            }
            Fix::Separate { from, to, along_m, up_m } => {
                let along = along_m.map(|m| format!("{} farther along", self.units.height(m)));
                let up = up_m.map(|m| format!("{} higher or lower", self.units.height(m)));
                let apart: Vec<String> = along.into_iter().chain(up).collect();
                if apart.is_empty() {
                    format!("Put {from} and {to} on two roofs, or filter both.")
                } else {
                    format!("Move {from} {} from {to}, or filter both.", apart.join(" or "))
                }
            }
            Fix::OtherSite { channel, site } => {
                format!("Put the station of channel {channel} on {site}.")
            }
            Fix::MoreRelays { sites } => {
                format!("Put a relay on each of {}, if you have as many.", sites.join(" and "))
            }
            Fix::MeasureDuplexer { least_db, .. } => {
                let least = least_db
                    .map_or_else(String::new, |least| format!("; it has to be {least:.0} or more"));
                format!("Measure the duplexer's isolation and state it in the plan{least}.")
            }
            Fix::StateSupply { channel } => {
                format!("Add a [[station]] for channel {channel} with its pack to the plan.")
            }
            Fix::StateTemperature => {
                "Add a [forecast] with from and hourly to the plan, or kept_at = \"20 °C\" for a pack that is kept indoors.".to_owned()
            }
            Fix::SetFrequencies { .. } => {
                "Set the frequencies that your coordinator gives you, then delete placeholder = true.".to_owned()
            }
            Fix::StateCrews => {
                "Add a [[crew]] with its people, radio, pack and shift to the plan.".to_owned()
            }
            Fix::NameMustPosts => {
                "Say must = true at the posts that the event leans on.".to_owned()
            }
            Fix::StateHouses => {
                "Say surroundings = \"town\", \"suburb\", \"village\" or \"open\" under [prediction], or name a file of buildings.".to_owned()
            }
            Fix::NameBuildings => {
                "Name a file of buildings ([buildings]), or state surroundings at the posts and areas that differ.".to_owned()
            }
            Fix::AskAbout { site, what } => {
                format!("Ask whoever knows {site} {}, and put it into the plan.", asked(what))
            }
            Fix::Rehearse { posts } => {
                format!("Make test calls with the real radios: {}.", few(posts))
            }
        }
    }

    pub(super) fn place(&self, place: &Standing) -> String {
        let why = match place.decided {
            Decided::Asked => "the site asked about",
            Decided::Plan => "by the plan",
            Decided::Best => "the best site",
            Decided::Apart => "the best site away from the relay",
        };
        let posts = place.posts.map_or_else(String::new, |(works, all)| {
            let worn = place.worn.map_or_else(String::new, |worn| format!(", radio {worn}"));
            format!("; {works} of {all} posts should work{worn}")
        });
        let next =
            place.next_best.as_ref().map_or_else(String::new, |next| format!("; next best {next}"));
        format!(
            "{}: {}, {why}, antenna {} above the ground{posts}{next}.",
            place.channel,
            place.site,
            self.units.height(place.antenna_above_ground_m)
        )
    }

    pub(super) fn must(&self, readiness: &Readiness) -> Vec<String> {
        let Readiness { must_posts: all, must_posts_met: met, thinnest, .. } = readiness;
        if *all == 0 {
            return vec!["No must-have post is named.".to_owned()];
        }
        let mut lines = vec![format!("{met} of {all} must-have posts should work.")];
        if let Some(thin) = thinnest {
            let margin = thin.margin_db.map_or_else(String::new, |db| format!(", {db:.1} in hand"));
            let wanted = trade::per_hundred(self.plan.prediction.reliability);
            let sure = thin.sure.map_or_else(
                || format!(" ({wanted} wanted)"),
                |sure| format!("; {} sure that the {wanted} wanted do", trade::sure(sure)),
            );
            lines.push(format!(
                "Least to spare: {}{margin}; should work in {} spots{sure}.",
                thin.post,
                trade::spots(thin.probability)
            ));
        }
        lines
    }

    pub(super) fn fallback(&self, reach: Option<&FallbackReach>) -> Vec<String> {
        let Some(reach) = reach else {
            return vec!["Nobody reaches net control by radio.".to_owned()];
        };
        let held = reach.held.map_or_else(String::new, |held| format!(", radio {held}"));
        let mut lines = vec![format!(
            "Everybody changes to {} ({} MHz){held}: {} of {} posts should reach {}.",
            reach.channel,
            trade::megahertz(reach.frequency_mhz),
            reach.reaching,
            reach.posts,
            reach.net_control
        )];
        if !reach.through_others.is_empty() {
            lines.push(format!("Only through another post: {}.", few(&reach.through_others)));
        }
        if !reach.patchy.is_empty() {
            lines.push(format!("From some spots only: {}.", few(&reach.patchy)));
        }
        if !reach.cut_off.is_empty() {
            lines.push(format!("No radio path: {}.", few(&reach.cut_off)));
        }
        lines.extend(self.spare());
        lines
    }

    /// Where a spare relay lies.
    fn spare(&self) -> Option<String> {
        let (at, _) = self.plan.spare_relay()?;
        Some(format!("A spare relay lies ready, switched off, at {at}."))
    }

    pub(super) fn unknown(&self, unknown: &Unknown) -> String {
        let said = match &unknown.matter {
            UnknownMatter::NotWalked { calibrated: false } => {
                "Nobody has walked it: every number is a prediction.".to_owned()
            }
            UnknownMatter::NotWalked { calibrated: true } => {
                "Corrected by reports of an earlier event, not walked for this one.".to_owned()
            }
            UnknownMatter::Houses { must_posts, cost_db } => {
                let thin = if must_posts.is_empty() {
                    format!("every must-have post has {cost_db:.0} in hand or more")
                } else {
                    format!("less than {cost_db:.0} in hand at {}", few(must_posts))
                };
                format!("No buildings in the plan; in a town they cost up to {cost_db:.0}: {thin}.")
            }
            UnknownMatter::Class { class, denser: None, .. } => format!(
                "One class of surroundings, \"{class}\", stands for all of the plan: no single building is in it."
            ),
            UnknownMatter::Class { class, denser: Some(denser), lost } => {
                let then = if lost.is_empty() {
                    "what works still would".to_owned()
                } else {
                    format!("{} would not work", few(lost))
                };
                format!(
                    "One class of surroundings, \"{class}\", stands for all of the plan. Were it \"{denser}\", {then}."
                )
            }
            UnknownMatter::Site { site, what } => format!("{site}: nobody has said {}.", asked(what)),
            UnknownMatter::Duplexer { tried, perfect_posts } => {
                let tried: Vec<String> = tried
                    .iter()
                    .map(|(isolation, posts)| format!("{posts} with {isolation:.0}"))
                    .collect();
                format!(
                    "The duplexer is not stated: {perfect_posts} posts work with a perfect one, {}.",
                    tried.join(", ")
                )
            }
            UnknownMatter::Gap { post } => {
                format!("{post}: the terrain file has a gap on the way.")
            }
            UnknownMatter::Remark { about, text } => format!("{about}: {text}."),
            UnknownMatter::HandHelds => {
                "Hand-held batteries: the plan has no [[crew]], so nobody knows whether they last the shift.".to_owned()
            }
            UnknownMatter::OtherChannels { channels } => {
                format!("Not judged here: channel {} (--channel).", channels.join(", "))
            }
        };
        if unknown.could_turn { format!("{said} It could turn the verdict.") } else { said }
    }

    pub(super) fn step(&self, step: &Step) -> String {
        let gain = match (step.conditions, step.posts) {
            (0, 0) if step.settles => " (settles what could turn the verdict)".to_owned(),
            (0, 0) => String::new(),
            (0, 1) => " (one more post)".to_owned(),
            (0, posts) => format!(" ({posts} more posts)"),
            (1, _) => " (meets a condition)".to_owned(),
            (conditions, _) => format!(" (meets {conditions} conditions)"),
        };
        let said = self.fix(&step.act);
        let said = said.trim_end_matches('.');
        match subject(&step.act) {
            Some(subject) => format!("{subject}: {}{gain}.", lower(said)),
            None => format!("{said}{gain}."),
        }
    }
}

/// Whom or what a fix is about, where its sentence does not say.
fn subject(fix: &Fix) -> Option<String> {
    match fix {
        Fix::HoldAtHead { posts } => Some(few(posts)),
        Fix::MovePost { post, .. } => Some(post.clone()),
        Fix::SparePacks { crew, .. } | Fix::PowerBank { crew, .. } => Some(crew.clone()),
        Fix::ChangePacks { station, .. }
        | Fix::LargerPack { station, .. }
        | Fix::MoreCarriers { station } => Some(station.clone()),
        _ => None,
    }
}

/// What a post comes to; of a single direction, which.
const fn outcome_words(outcome: Outcome, limiting: Option<Direction>) -> &'static str {
    match (outcome, limiting) {
        (Outcome::Strong | Outcome::Clear, _) => "works",
        (Outcome::Patchy, _) => "patchy",
        (Outcome::OneWay, Some(Direction::TalkIn)) => {
            "hears the relay, is not heard in enough spots"
        }
        (Outcome::OneWay, Some(Direction::TalkOut)) => {
            "is heard, does not hear the relay in enough spots"
        }
        (Outcome::OneWay, None) => "one direction only",
        (Outcome::NoContact, _) => "no contact expected",
        (Outcome::Unknown, _) => "not known: the terrain file has a gap on the way",
    }
}

/// A list that a person reads at a glance: the first few, and how many more.
fn few(names: &[String]) -> String {
    /// So many names are read, the rest is counted.
    const MOST: usize = 12;
    trade::first_of(names, MOST)
}
