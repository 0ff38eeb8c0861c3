//! What the person at a post takes along: where to stand, how to hold the radio, the
//! channel, what to do when it is silent.

use serde::Serialize;

use perchline_plan::{Carry, Post, Service};
use perchline_siting::PostScore;

use super::{BriefInputs, advice, plain, words};

/// A post's slip, in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Slip {
    /// Where to stand.
    pub stand: String,
    /// How the radio was counted on being held, and what does better.
    pub hold: String,
    /// The channel by its name.
    pub channel_name: String,
    /// The same with what the radio is set to.
    pub channel: String,
    /// What to do when it is silent, in order.
    pub silent: Vec<String>,
}

impl Slip {
    pub(super) fn of(inputs: &BriefInputs<'_>, score: &PostScore) -> Self {
        let post = inputs.plan.posts.iter().find(|post| post.name == score.post);
        Self {
            stand: stand(score, post),
            hold: hold(inputs, post).to_owned(),
            channel_name: plain(&inputs.channel.name),
            channel: channel(inputs),
            silent: advice::silence_at(inputs, &score.post),
        }
    }
}

fn stand(score: &PostScore, post: Option<&Post>) -> String {
    let (latitude, longitude) = (score.at.latitude().value(), score.at.longitude().value());
    let place = format!("{latitude:.5}, {longitude:.5}");
    match post.and_then(|post| post.indoors) {
        Some(_) => format!("{place}, inside the building. At a window it does better."),
        None => format!("{place}, in the open, away from walls and vehicles."),
    }
}

/// As the prediction counts it; a radio at the head does no worse.
fn hold(inputs: &BriefInputs<'_>, post: Option<&Post>) -> &'static str {
    let radio = post.and_then(|post| post.radio).unwrap_or(inputs.channel.carried);
    let carry = post.and_then(|post| post.carry).or(inputs.plan.radio(radio).carry);
    match carry {
        Some(Carry::Head) => "Upright beside your face. Anywhere else it does worse.",
        Some(Carry::Shoulder) => {
            "Worn at the shoulder, as predicted. Upright beside your face it does better."
        }
        Some(Carry::Hip) => {
            "Worn on the hip, as predicted. Upright beside your face it does better."
        }
        None => "Its antenna upright and in the open.",
    }
}

fn channel(inputs: &BriefInputs<'_>) -> String {
    let channel = inputs.channel;
    let name = plain(&channel.name);
    let tone = channel.tone.map_or_else(String::new, |tone| format!(", tone {tone:.1} Hz"));
    // Whoever holds the slip sees nothing else.
    let nobodys = if channel.placeholder { " PLACEHOLDER: not to be used." } else { "" };
    match channel.service {
        Service::Relay { input, output, .. } => format!(
            "{name}: transmit {}, receive {} MHz{tone}.{nobodys}",
            words::megahertz(input),
            words::megahertz(output)
        ),
        Service::Simplex { frequency } | Service::Packet { frequency, .. } => {
            format!("{name}: {} MHz{tone}.{nobodys}", words::megahertz(frequency))
        }
    }
}
