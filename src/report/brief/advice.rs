//! What to do where radio does not work, and when it falls silent.

use perchline_plan::Carry;
use perchline_siting::PostScore;
use perchline_siting::direct::{DirectNet, GroupNet, Way, WordsWay};
use perchline_units::Metres;

use super::sentences::{roughly, towards};
use super::{BriefInputs, plain, words};
use crate::card::{calls, telephone as telephone_of};

/// What a person at a failing post can do, the best first; nothing at others.
pub(super) fn post(inputs: &BriefInputs<'_>, index: usize, score: &PostScore) -> Vec<String> {
    if score.outcome.works() {
        return Vec::new();
    }
    let units = inputs.plan.units;
    let mut advice = Vec::new();
    if let Some(aid) = inputs.aids.get(index).and_then(Option::as_ref) {
        if aid.held_at_the_head {
            advice.push(
                "Hold the radio beside your face, not on the belt: then it should work.".to_owned(),
            );
        }
        if let Some(spot) = aid.spot {
            advice.push(format!(
                "Walk {} {}, only if it is safe and allowed there: it should work from there.",
                roughly(units, spot.distance_m),
                towards(spot.bearing_degrees)
            ));
        }
    }
    advice.extend(relayed(inputs, &score.post));
    // A better way than legs and telephones is known: they are in the steps for
    // everybody.
    if advice.is_empty() {
        advice.push(match nearest(inputs, score) {
            Some((away, name)) => {
                format!(
                    "Send somebody to {} ({} away){}.",
                    plain(name),
                    roughly(units, away),
                    telephone(inputs, |name| name == score.post)
                )
            }
            None => format!("Send somebody{}.", telephone(inputs, |name| name == score.post)),
        });
    }
    advice
}

/// What people in an area without radio everywhere do.
pub(super) fn area(inputs: &BriefInputs<'_>) -> Vec<String> {
    vec![format!(
        "Try the places that are light on the map, only where it is safe and allowed{}.",
        telephone(inputs, |_| false)
    )]
}

/// What anybody does who hears nothing; whom to call at each post its slip names.
pub(super) fn silence(inputs: &BriefInputs<'_>) -> Vec<String> {
    let mut steps = vec![WALK.to_owned()];
    if let Some(first) = &inputs.fallback.first {
        let control = plain(&first.net_control);
        steps.push(format!(
            "Change to channel {} ({}) and call {control}, or the post that your slip names.",
            plain(&first.channel),
            words::megahertz(first.frequency_mhz),
        ));
        let apart = inputs.fallback.groups.iter().filter(|group| group.channel != first.channel);
        steps.extend(apart.map(|group| group_step(group, None)));
        let cut_off: Vec<String> = inputs.fallback.cut_off().map(plain).collect();
        if !cut_off.is_empty() {
            steps.push(format!("At {}: no radio path to {control}.", cut_off.join(", ")));
        }
    }
    steps.push(last_resort(inputs, |_| false));
    steps
}

/// The same at one post: whom it calls and for whom it relays, as the cards have it.
/// Nobody is told to call the post at which they stand.
pub(super) fn silence_at(inputs: &BriefInputs<'_>, post: &str) -> Vec<String> {
    let fallback = inputs.fallback;
    let Some(first) = &fallback.first else {
        return vec![WALK.to_owned(), last_resort(inputs, |name| name == post)];
    };
    let channel = format!("{} ({})", plain(&first.channel), words::megahertz(first.frequency_mhz));
    let control = plain(&first.net_control);
    let mut steps = Vec::new();
    if post == first.net_control {
        steps.push(format!(
            "Listen on channel {channel} as soon as the relay is silent, call the roll, stay there."
        ));
    } else {
        steps.push(WALK.to_owned());
    }
    let group = fallback.groups.iter().find(|group| group.posts.iter().any(|p| p == post));
    let apart = group.filter(|group| group.channel != first.channel);
    if let Some(way) = fallback.way_of(post) {
        let called = called(way, apart.is_none().then_some(first.channel.as_str()));
        let called = called.unwrap_or_else(|| {
            format!("call {control} all the same; no radio path there is expected.")
        });
        match apart {
            None => steps.push(format!("Change to channel {channel} and {called}")),
            Some(group) => {
                steps.push(format!("Change to channel {channel} and answer {control}."));
                steps.push(group_step(group, Some(post)));
                steps.push(format!("For {control}: {called}"));
            }
        }
    }
    let relayed: Vec<String> = fallback.relayed_by(post).map(plain).collect();
    if !relayed.is_empty() {
        steps.push(format!("Relay for {}.", relayed.join(", ")));
    }
    steps.push(last_resort(inputs, |name| name == post));
    steps
}

/// What everybody does first who hears nothing.
const WALK: &str =
    "Walk a few steps where it is safe, hold the radio upright beside your face, and call again.";

/// Whom a post calls and how that goes; nothing where there is no way.
fn called(way: &WordsWay, said: Option<&str>) -> Option<String> {
    let patchy = match way.way {
        Way::Works => "",
        Way::Patchy => " Patchy: move, try again.",
        Way::Nothing => return None,
    };
    Some(format!("{}.{patchy}", plain(&calls(&way.calls, said))))
}

/// Where no radio answers; nobody telephones the post at which they stand.
fn last_resort(inputs: &BriefInputs<'_>, reads: impl Fn(&str) -> bool) -> String {
    match telephone_of(inputs.plan, reads) {
        Some((name, phone)) => {
            format!("Telephone {}, {}, or send somebody.", plain(name), plain(phone))
        }
        None => "Send somebody to the nearest post that answers.".to_owned(),
    }
}

/// What those of a group do after that, of whom one may stand at `post`.
fn group_step(group: &GroupNet, post: Option<&str>) -> String {
    let control = group.net.as_ref().map_or(&group.head, |net| &net.net_control.post);
    let what = if post == Some(control.as_str()) {
        "run the net".to_owned()
    } else {
        format!("call {}", plain(control))
    };
    format!(
        "{}: then channel {} ({}), {what}.",
        plain(&group.group),
        plain(&group.channel),
        words::megahertz(group.frequency_mhz)
    )
}

/// `, or telephone NAME, NUMBER`, if the plan has a number of somebody who `reads` it not.
fn telephone(inputs: &BriefInputs<'_>, reads: impl Fn(&str) -> bool) -> String {
    telephone_of(inputs.plan, reads).map_or_else(String::new, |(name, phone)| {
        format!(", or telephone {}, {}", plain(name), plain(phone))
    })
}

/// The post that a failing post calls without the relay, where that one works with the
/// relay itself: the same that its card names. Nobody listens there unless it is agreed.
fn relayed(inputs: &BriefInputs<'_>, post: &str) -> Option<String> {
    let fallback = inputs.fallback;
    let way = fallback.way_of(post).filter(|way| way.way == Way::Works)?;
    let call = way.calls.first()?;
    let mut served = inputs.site.posts.iter().filter(|p| p.outcome.works());
    served.find(|served| served.post == call.post)?;
    let held = fallback.first_net().is_some_and(|net| is_at_the_head(net, post));
    let held = if held { ", radio at your face" } else { "" };
    Some(format!(
        "Agree with {} that it listens on channel {} too; call it there{held}.",
        plain(&call.post),
        plain(&call.channel)
    ))
}

/// Whether a net counts with the radio of this post at the head.
fn is_at_the_head(net: &DirectNet, post: &str) -> bool {
    net.terms.held == Some(Carry::Head.words()) && net.terms.but_at.iter().all(|(at, _)| at != post)
}

/// The nearest post with radio.
fn nearest<'a>(inputs: &BriefInputs<'a>, score: &PostScore) -> Option<(Metres, &'a str)> {
    inputs
        .site
        .posts
        .iter()
        .filter(|other| other.outcome.works())
        .map(|other| (score.at.distance(other.at), other.post.as_str()))
        .min_by(|a, b| a.0.value().total_cmp(&b.0.value()))
}
