//! Intermodulation products and harmonics of all transmitters, against all receivers.
//!
//! A product of order n is a sum of signals with whole coefficients whose
//! magnitudes add up to n. Frequencies are whole hertz here, so that no product
//! is missed or found by rounding.

use std::collections::BTreeMap;

use serde::Serialize;

use perchline_plan::{Bandwidth, Plan, Service};
use perchline_units::{Kilohertz, Megahertz};

/// Orders of the products that are looked for.
pub const ORDERS: [u32; 3] = [2, 3, 5];

/// Highest harmonic that is looked for.
pub const HIGHEST_HARMONIC: u32 = 7;

/// A signal that somebody transmits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Emitter {
    /// Who transmits, such as `Relay output`.
    pub name: String,
    /// Its carrier in hertz.
    pub hertz: i64,
    /// Its peak deviation in hertz.
    pub deviation: i64,
}

/// A channel on which somebody listens.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Listener {
    /// Who listens, such as `Relay input`.
    pub name: String,
    /// Middle of the channel in hertz.
    pub hertz: i64,
    /// Its width in hertz.
    pub width: i64,
}

/// A product that falls into a channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Hit {
    /// Order: magnitudes of the coefficients together.
    pub order: u32,
    /// Coefficient and index of each signal in it, in the signals' order.
    pub terms: Vec<(i64, usize)>,
    /// Index of the channel that it falls into.
    pub listener: usize,
    /// Where the product falls, hertz.
    pub hertz: i64,
    /// Whether it lies inside the channel at rest; otherwise its swing reaches it.
    pub inside: bool,
}

/// Every emitter of a plan; several on one frequency are one signal.
#[must_use]
pub fn emitters(plan: &Plan) -> Vec<Emitter> {
    let mut found: BTreeMap<i64, Emitter> = BTreeMap::new();
    let mut add = |name: String, frequency: Megahertz, bandwidth: Bandwidth| {
        let hertz = hertz(frequency);
        let deviation = deviation(bandwidth);
        found
            .entry(hertz)
            .and_modify(|known| {
                known.name = format!("{}, {name}", known.name);
                known.deviation = known.deviation.max(deviation);
            })
            .or_insert(Emitter { name, hertz, deviation });
    };
    for channel in &plan.channels {
        let of =
            |radio: usize| plan.radios.get(radio).map_or(Bandwidth::Wide, |radio| radio.bandwidth);
        match channel.service {
            Service::Relay { input, output, station } => {
                add(format!("{} output", channel.name), output, of(station));
                add(format!("{} input", channel.name), input, of(channel.carried));
            }
            Service::Simplex { frequency } | Service::Packet { frequency, .. } => {
                add(channel.name.clone(), frequency, of(channel.carried));
            }
        }
    }
    for other in &plan.power.other_channels {
        if let Some(transmit) = other.transmit {
            let wide = other.bandwidth > Kilohertz::new(15.0);
            add(
                other.name.clone(),
                transmit,
                if wide { Bandwidth::Wide } else { Bandwidth::Narrow },
            );
        }
    }
    found.into_values().collect()
}

/// Every channel on which somebody of a plan listens.
#[must_use]
pub fn listeners(plan: &Plan) -> Vec<Listener> {
    let event = plan.channels.iter().flat_map(|channel| {
        let width = |radio: usize| {
            let bandwidth = plan.radios.get(radio).map_or(Bandwidth::Wide, |r| r.bandwidth);
            (bandwidth.channel().value() * 1e3).round() as i64
        };
        let listens = |name: String, frequency: Megahertz, radio: usize| Listener {
            name,
            hertz: hertz(frequency),
            width: width(radio),
        };
        match channel.service {
            Service::Relay { input, output, station } => vec![
                listens(format!("{} input", channel.name), input, station),
                listens(format!("{} output", channel.name), output, channel.carried),
            ],
            Service::Simplex { frequency } | Service::Packet { frequency, .. } => {
                vec![listens(channel.name.clone(), frequency, channel.carried)]
            }
        }
    });
    let others = plan.power.other_channels.iter().map(|other| Listener {
        name: other.name.clone(),
        hertz: hertz(other.receive),
        width: (other.bandwidth.value() * 1e3).round() as i64,
    });
    event.chain(others).collect()
}

/// Every product of two or three signals of the orders in [`ORDERS`] that falls
/// into a channel or swings into it, lowest order first.
#[must_use]
pub fn products(emitters: &[Emitter], listeners: &[Listener]) -> Vec<Hit> {
    let mut hits = Vec::new();
    for order in ORDERS {
        let mut terms = Vec::new();
        spend(order, emitters, 0, &mut terms, &mut |terms| {
            if (2..=3).contains(&terms.len()) {
                meet(order, terms, emitters, listeners, &mut hits);
            }
        });
    }
    hits.sort();
    hits
}

/// Every harmonic up to [`HIGHEST_HARMONIC`] that falls into a channel or swings
/// into it.
#[must_use]
pub fn harmonics(emitters: &[Emitter], listeners: &[Listener]) -> Vec<Hit> {
    let mut hits = Vec::new();
    for order in 2..=HIGHEST_HARMONIC {
        for index in 0..emitters.len() {
            meet(order, &[(i64::from(order), index)], emitters, listeners, &mut hits);
        }
    }
    hits.sort();
    hits
}

/// Hands each way to spend `left` of an order on the signals from `from` on to
/// `done`. At most three signals take part, and the first has a positive
/// coefficient: the other half is the same products with all signs turned.
fn spend(
    left: u32,
    emitters: &[Emitter],
    from: usize,
    terms: &mut Vec<(i64, usize)>,
    done: &mut impl FnMut(&[(i64, usize)]),
) {
    if left == 0 {
        done(terms);
        return;
    }
    if terms.len() == 3 {
        return;
    }
    for index in from..emitters.len() {
        for size in 1..=left {
            let size_signed = i64::from(size);
            let signs: &[i64] = if terms.is_empty() { &[1] } else { &[1, -1] };
            for sign in signs {
                terms.push((sign * size_signed, index));
                spend(left - size, emitters, index + 1, terms, done);
                terms.pop();
            }
        }
    }
}

fn meet(
    order: u32,
    terms: &[(i64, usize)],
    emitters: &[Emitter],
    listeners: &[Listener],
    hits: &mut Vec<Hit>,
) {
    let of = |field: fn(&Emitter) -> i64| {
        terms.iter().filter_map(move |(c, i)| Some((*c, field(emitters.get(*i)?))))
    };
    // A negative frequency is the positive one.
    let frequency = of(|e| e.hertz).map(|(c, f)| c * f).sum::<i64>().abs();
    let swing: i64 = of(|e| e.deviation).map(|(c, d)| c.abs() * d).sum();
    for (listener, channel) in listeners.iter().enumerate() {
        let apart = (frequency - channel.hertz).abs();
        let half = channel.width / 2;
        if apart <= half + swing {
            hits.push(Hit {
                order,
                terms: terms.to_vec(),
                listener,
                hertz: frequency,
                inside: apart <= half,
            });
        }
    }
}

/// A product as people write it, such as `2 x Relay output - Packet`.
#[must_use]
pub fn formula(hit: &Hit, emitters: &[Emitter]) -> String {
    // A sum that came out negative is turned.
    let sum: i64 = hit.terms.iter().filter_map(|(c, i)| Some(c * emitters.get(*i)?.hertz)).sum();
    let mut terms: Vec<_> =
        hit.terms.iter().map(|(c, i)| (if sum < 0 { -c } else { *c }, *i)).collect();
    terms.sort_by_key(|(c, i)| (*c < 0, *i));
    let mut text = String::new();
    for (coefficient, index) in terms {
        let name = emitters.get(index).map_or("?", |e| e.name.as_str());
        let sign = if coefficient < 0 { " - " } else { " + " };
        text += if text.is_empty() && coefficient > 0 { "" } else { sign };
        if coefficient.abs() != 1 {
            text += &format!("{} x ", coefficient.abs());
        }
        text += name;
    }
    text
}

/// A change of one channel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelChange {
    /// The channel.
    pub channel: String,
    /// By how much all of its frequencies move.
    pub shift_khz: Kilohertz,
    /// Hits inside a channel that are left after it.
    pub left: usize,
}

/// Steps in which a channel is moved, and how far it may be.
const STEP: f64 = 12.5;
const FARTHEST_STEPS: i32 = 160;

/// The smallest change of one channel after which no product or harmonic lies
/// inside a channel; if none does that, the smallest of those that leave the
/// fewest. Nothing if there are none to clear or no change helps.
#[must_use]
pub fn smallest_change(plan: &Plan) -> Option<ChannelChange> {
    let now = inside(plan);
    if now == 0 {
        return None;
    }
    let mut best: Option<ChannelChange> = None;
    for steps in 1..=FARTHEST_STEPS {
        for (index, channel) in plan.channels.iter().enumerate() {
            for shift in [f64::from(steps) * STEP, f64::from(-steps) * STEP] {
                let Some(moved) = shifted(plan, index, shift) else { continue };
                let left = inside(&moved);
                if left < best.as_ref().map_or(now, |b| b.left) {
                    best = Some(ChannelChange {
                        channel: channel.name.clone(),
                        shift_khz: Kilohertz::new(shift),
                        left,
                    });
                }
            }
        }
        if best.as_ref().is_some_and(|b| b.left == 0) {
            break;
        }
    }
    best
}

/// Products and harmonics that lie inside a channel.
fn inside(plan: &Plan) -> usize {
    let (emitters, listeners) = (emitters(plan), listeners(plan));
    let hits = products(&emitters, &listeners);
    hits.iter().chain(&harmonics(&emitters, &listeners)).filter(|hit| hit.inside).count()
}

/// The plan with one channel moved by so many kilohertz; nothing if it would
/// then overlap another channel.
fn shifted(plan: &Plan, index: usize, kilohertz: f64) -> Option<Plan> {
    let mut moved = plan.clone();
    let by = |f: Megahertz| Megahertz::new(f.value() + kilohertz / 1e3);
    let channel = moved.channels.get_mut(index)?;
    match &mut channel.service {
        Service::Relay { input, output, .. } => {
            *input = by(*input);
            *output = by(*output);
        }
        Service::Simplex { frequency } | Service::Packet { frequency, .. } => {
            *frequency = by(*frequency);
        }
    }
    let name = channel.name.clone();
    let all = listeners(&moved);
    let is_own = |l: &Listener| {
        l.name == name
            || l.name.strip_prefix(&name).is_some_and(|r| r == " input" || r == " output")
    };
    let overlaps = |a: &Listener, b: &Listener| (a.hertz - b.hertz).abs() < (a.width + b.width) / 2;
    let clash = all
        .iter()
        .filter(|l| is_own(l))
        .any(|own| all.iter().filter(|l| !is_own(l)).any(|other| overlaps(own, other)));
    (!clash).then_some(moved)
}

fn hertz(frequency: Megahertz) -> i64 {
    (frequency.value() * 1e6).round() as i64
}

/// Peak deviation of FM: 2.5 kHz on 12.5 kHz channels, 5 kHz on 25 kHz channels.
const fn deviation(bandwidth: Bandwidth) -> i64 {
    match bandwidth {
        Bandwidth::Narrow => 2500,
        Bandwidth::Wide => 5000,
    }
}
