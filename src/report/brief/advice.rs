//! What to do where radio does not work, and when it falls silent.

use perchline_plan::Carry;
use perchline_siting::PostScore;
use perchline_siting::direct::{DirectNet, GroupNet, PairScore};
use perchline_units::Metres;

use super::sentences::{roughly, towards};
use super::{BriefInputs, plain, words};

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
    if let Some((net, other)) = neighbour(inputs, &score.post) {
        let held =
            if is_at_the_head(net, &score.post) { ", hold the radio to your face," } else { "" };
        advice.push(format!(
            "Change to channel {}{held} and call {}, who relays it.",
            plain(&net.channel),
            plain(other)
        ));
    }
    // A better way than legs and telephones is known: they are in the steps for
    // everybody.
    if advice.is_empty() {
        advice.push(match nearest(inputs, score) {
            Some((away, name)) => {
                format!(
                    "Send somebody to {} ({} away){}.",
                    plain(name),
                    roughly(units, away),
                    telephone(inputs)
                )
            }
            None => format!("Send somebody{}.", telephone(inputs)),
        });
    }
    advice
}

/// What people in an area without radio everywhere do.
pub(super) fn area(inputs: &BriefInputs<'_>) -> Vec<String> {
    vec![format!(
        "Try the places that are light on the map, only where it is safe and allowed{}.",
        telephone(inputs)
    )]
}

/// What anybody does who hears nothing.
pub(super) fn silence(inputs: &BriefInputs<'_>) -> Vec<String> {
    steps(inputs, |_| true)
}

/// The same at one post: of the groups and of those without a path it is told what
/// concerns it.
pub(super) fn silence_at(inputs: &BriefInputs<'_>, post: &str) -> Vec<String> {
    steps(inputs, |there| there == post)
}

fn steps(inputs: &BriefInputs<'_>, concerns: impl Fn(&str) -> bool) -> Vec<String> {
    let mut steps = vec![
        "Walk a few steps where it is safe, hold the radio upright beside your face, and call again.".to_owned(),
    ];
    if let Some(first) = &inputs.fallback.first {
        let control = plain(&first.net_control);
        steps.push(format!(
            "Change to channel {} ({}) and call {control}, or the nearest post that answers.",
            plain(&first.channel),
            words::megahertz(first.frequency_mhz),
        ));
        let apart = inputs.fallback.groups.iter().filter(|group| group.channel != first.channel);
        // A group without posts concerns nobody's post, but everybody who reads all of it.
        let told = |group: &&GroupNet| {
            group.posts.iter().any(|post| concerns(post))
                || (group.posts.is_empty() && concerns(""))
        };
        steps.extend(apart.filter(told).map(group_step));
        let cut_off: Vec<String> =
            inputs.fallback.cut_off().filter(|post| concerns(post)).map(plain).collect();
        if !cut_off.is_empty() {
            steps.push(format!("At {}: no radio path to {control}.", cut_off.join(", ")));
        }
    }
    let phone = inputs.plan.contacts.iter().find_map(|c| Some((&c.name, c.phone.as_ref()?)));
    steps.push(match phone {
        Some((name, phone)) => {
            format!("Telephone {}, {}, or send somebody.", plain(name), plain(phone))
        }
        None => "Send somebody to the nearest post that answers.".to_owned(),
    });
    steps
}

/// What those of a group do after that.
fn group_step(group: &GroupNet) -> String {
    let control = group.net.as_ref().map_or(&group.head, |net| &net.net_control.post);
    format!(
        "{}: then channel {} ({}), call {}.",
        plain(&group.group),
        plain(&group.channel),
        words::megahertz(group.frequency_mhz),
        plain(control)
    )
}

/// `, or telephone NAME, NUMBER`, if the plan has a number.
fn telephone(inputs: &BriefInputs<'_>) -> String {
    inputs
        .plan
        .contacts
        .iter()
        .find_map(|contact| {
            let phone = contact.phone.as_ref()?;
            Some(format!(", or telephone {}, {}", plain(&contact.name), plain(phone)))
        })
        .unwrap_or_default()
}

/// The post that hears this one without the relay and is heard by it, and works
/// with the relay itself; of several the surest.
fn neighbour<'a>(inputs: &BriefInputs<'a>, post: &str) -> Option<(&'a DirectNet, &'a str)> {
    let on_the_relay =
        |name: &str| inputs.site.posts.iter().any(|p| p.post == name && p.outcome.works());
    let nets = inputs.fallback.nets.iter().map(std::sync::Arc::as_ref);
    let links = nets.flat_map(|net| net.pairs.iter().map(move |pair| (net, pair)));
    links
        .filter(|(_, pair)| pair.outcome.works())
        .filter_map(|(net, pair)| Some((net, pair, other_end(pair, post)?)))
        .filter(|(net, _, other)| on_the_relay(other) && net.stay.iter().any(|p| p == other))
        .max_by(|(_, a, _), (_, b, _)| {
            let spare = |pair: &PairScore| pair.spare_db.map_or(f64::MIN, |db| db.value());
            spare(a).total_cmp(&spare(b))
        })
        .map(|(net, _, other)| (net, other))
}

/// Whether a net counts with the radio of this post at the head.
fn is_at_the_head(net: &DirectNet, post: &str) -> bool {
    net.terms.held == Some(Carry::Head.words()) && net.terms.but_at.iter().all(|(at, _)| at != post)
}

fn other_end<'a>(pair: &'a PairScore, post: &str) -> Option<&'a str> {
    if pair.from == post { Some(&pair.to) } else { (pair.to == post).then_some(pair.from.as_str()) }
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
