//! Transmitters and receivers on one roof: who desenses whom, and what fixes it.

use serde::Serialize;

use perchline_link::{NoiseAtTimes, RoofNoise, feed_loss, frequencies, noise_floor};
use perchline_plan::{
    Bandwidth, Channel, OnRoof, Plan, Radio, RelayLink, Service, Site, Stands, Station,
};
use perchline_units::{Db, Dbm, Kilohertz, Megahertz, Metres};

use super::isolation::{Separation, is_stretched, slant};

/// Desense that is accepted (common practice, no source).
pub const TOLERATED: Db = Db::new(1.0);

/// Above this at its input a receiver's front end is driven into its limits and
/// no figure here holds (common practice, no source).
pub const OVERLOAD: Dbm = Dbm::new(-10.0);

/// Transmitter noise below the carrier in 1 Hz, by offset in kHz: FM
/// transmitters of the land-mobile service (typical, from memory).
const NOISE_A_HERTZ: [(f64, f64); 8] = [
    (12.5, 105.0),
    (25.0, 115.0),
    (100.0, 130.0),
    (600.0, 145.0),
    (1000.0, 148.0),
    (3000.0, 153.0),
    (10_000.0, 160.0),
    (30_000.0, 165.0),
];

/// How far a signal off the channel may be above a wanted one at the limit of
/// sensitivity, by offset in kHz: ETSI EN 300 086 limits for adjacent-channel
/// selectivity (12.5 kHz: 60 dB, 25 kHz: 70 dB) and blocking (84 dB from 1 MHz),
/// from memory; beyond 10 MHz typical of front-end filters, from memory.
const REJECTION: [(f64, f64); 6] = [
    (12.5, 60.0),
    (25.0, 70.0),
    (1000.0, 84.0),
    (10_000.0, 90.0),
    (30_000.0, 100.0),
    (100_000.0, 120.0),
];

/// Transmitter noise in a receiver of this bandwidth below the carrier, where
/// nothing better is known.
#[must_use]
pub fn typical_noise_below_carrier(offset: Kilohertz, bandwidth: Bandwidth) -> Db {
    let hertz = perchline_link::noise_bandwidth(bandwidth).value() * 1e3;
    Db::new(by_offset(&NOISE_A_HERTZ, offset) - 10.0 * hertz.log10())
}

/// By how much the noise that it then makes lies below that wanted signal: the
/// co-channel rejection of ETSI EN 300 086, 8 dB (from memory).
const CO_CHANNEL: f64 = 8.0;

/// How far a signal off the channel is above the noise that it makes in the
/// receiver, where nothing better is known.
#[must_use]
pub fn typical_rejection(offset: Kilohertz) -> Db {
    Db::new(by_offset(&REJECTION, offset) + CO_CHANNEL)
}

/// A value straight between points over the logarithm of the offset; nothing
/// inside the first point, the last one's beyond it.
fn by_offset(points: &[(f64, f64)], offset: Kilohertz) -> f64 {
    let x = offset.value();
    let after = points.partition_point(|(at, _)| *at <= x);
    match (after.checked_sub(1).and_then(|i| points.get(i)), points.get(after)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * (x / x0).ln() / (x1 / x0).ln(),
        (Some((_, y)), None) => *y,
        _ => 0.0,
    }
}

/// One transmitter heard in one receiver of the same roof.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Interference {
    /// The station that transmits.
    pub from: String,
    /// Where it transmits.
    pub transmit_mhz: Megahertz,
    /// The station that listens.
    pub to: String,
    /// Where it listens.
    pub receive_mhz: Megahertz,
    /// Share of time for which the transmitter is keyed.
    pub keyed: f64,
    /// How far the antennas are apart; nothing for a relay's own duplexer.
    pub separation: Option<Separation>,
    /// Whether the antennas are nearer than the isolation formulas reach.
    pub stretched: bool,
    /// Loss between the antennas, or of the duplexer.
    pub isolation_db: Db,
    /// The transmitter's level at the receiver's input.
    pub level_dbm: Dbm,
    /// The transmitter's noise on the receiver's channel.
    pub noise_dbm: Dbm,
    /// The noise that the carrier makes in the receiver.
    pub blocking_dbm: Dbm,
    /// What the receiver has without them.
    pub quiet_dbm: Dbm,
    /// Desense of the receiver.
    pub desense_db: Db,
    /// Whether the front end is overloaded, so that it is worse than stated.
    pub overloaded: bool,
    /// Loss that is missing for [`TOLERATED`]; nothing if it is kept.
    pub missing_db: Option<Db>,
    /// Filter that the transmitter lacks against its noise, so that with the
    /// receiver's filter [`TOLERATED`] is kept.
    pub transmit_filter_db: Option<Db>,
    /// Filter that the receiver lacks against the carrier, likewise.
    pub receive_filter_db: Option<Db>,
    /// Whether it transmits on the receiver's own channel, where no filter helps.
    pub on_channel: bool,
    /// How much farther apart along the roof would do, up to 200 m.
    pub move_along_m: Option<Metres>,
    /// How much more difference in height would do, up to 30 m.
    pub move_up_m: Option<Metres>,
}

/// Stations of one roof and what they do to each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Roofmates {
    /// The site; nothing while it is open.
    pub site: Option<String>,
    /// Whether the plan says that they share a roof, or it is only asked what if.
    pub settled: bool,
    /// The stations.
    pub stations: Vec<String>,
    /// Every transmitter in every receiver.
    pub pairs: Vec<Interference>,
}

/// A station on a roof with its radio.
#[derive(Clone, Copy)]
struct Placed<'p> {
    name: &'p str,
    roof: OnRoof,
    /// Share of time for which it is keyed.
    keyed: f64,
    /// Where it receives and where it transmits.
    frequencies: (Megahertz, Megahertz),
    radio: &'p Radio,
    mast: Metres,
}

/// What the roofs of a plan hold: each site with the stations that the plan puts
/// there, each group that stays together on a site still open, and, if several
/// stations are wholly open, these together as if they shared a roof.
#[must_use]
pub fn roofs(plan: &Plan) -> Vec<Roofmates> {
    let stations = &plan.power.stations;
    let root = |station: usize| match stations.get(station).map(|s| s.stands) {
        Some(Stands::Beside(other)) => other,
        _ => station,
    };
    let mut groups: Vec<(Option<usize>, bool, Vec<usize>)> = Vec::new();
    for index in 0..stations.len() {
        let leads = stations.get(root(index)).map(|s| s.stands);
        let site = match leads {
            Some(Stands::On(site)) => Some(site),
            _ => None,
        };
        let leaned_on = (0..stations.len()).any(|i| i != root(index) && root(i) == root(index));
        let settled = site.is_some() || leaned_on;
        let mates = groups.iter_mut().find(|(s, was, members)| match site {
            Some(_) => *s == site,
            None if leaned_on => members.iter().any(|m| root(*m) == root(index)),
            None => s.is_none() && !*was,
        });
        match mates {
            Some((_, _, members)) => members.push(index),
            None => groups.push((site, settled, vec![index])),
        }
    }
    groups
        .into_iter()
        .map(|(site, settled, members)| {
            let site = site.and_then(|s| plan.sites.get(s));
            let placed: Vec<_> =
                members.iter().filter_map(|i| placed(plan, stations.get(*i)?, site)).collect();
            Roofmates {
                site: site.map(|s| s.name.clone()),
                settled,
                stations: placed.iter().map(|p| p.name.to_owned()).collect(),
                pairs: pairs(plan, &placed, site),
            }
        })
        .collect()
}

/// What the stations of two channels do to each other if both stand on the roof
/// of the site with this place in the plan, wherever the plan puts them; nothing
/// if it has no station for one of them.
#[must_use]
pub fn on_one_roof(plan: &Plan, channels: [&Channel; 2], site: usize) -> Option<Vec<Interference>> {
    let place = |channel: &Channel| {
        plan.power.stations.iter().position(|s| plan.is_channel(s.channel, channel))
    };
    let [one, other] = channels;
    let both = [place(one)?, place(other)?];
    let mut plan = plan.clone();
    for index in both {
        plan.power.stations.get_mut(index)?.stands = Stands::On(site);
    }
    let names = both.map(|index| plan.power.stations.get(index).map(|s| s.name.clone()));
    let is_one = |name: &String| names.iter().flatten().any(|known| known == name);
    let pairs = roofs(&plan).into_iter().flat_map(|roof| roof.pairs);
    Some(pairs.filter(|p| is_one(&p.from) && is_one(&p.to) && p.from != p.to).collect())
}

/// Whether the plan keeps the stations of two channels beside each other,
/// whichever site that is.
#[must_use]
pub fn kept_together(plan: &Plan, channels: [&Channel; 2]) -> bool {
    let stations = &plan.power.stations;
    let place =
        |channel: &Channel| stations.iter().position(|s| plan.is_channel(s.channel, channel));
    let [Some(one), Some(other)] = channels.map(place) else { return false };
    let leads = |index: usize| match stations.get(index).map(|s| s.stands) {
        Some(Stands::Beside(lead)) => lead,
        _ => index,
    };
    leads(one) == leads(other)
}

/// A neighbour that is on the air for less than this share of the time does not
/// set margins and outcomes: they are those of the rest of the time (ours).
pub const SELDOM_BELOW: f64 = 0.1;

/// What the stations of two channels do to each other at the worst if both stand on
/// the roof of the site with this place in the plan; nothing where that is accepted.
#[must_use]
pub fn worst_on_one_roof(
    plan: &Plan,
    channels: [&Channel; 2],
    site: usize,
) -> Option<Interference> {
    on_one_roof(plan, channels, site)?
        .into_iter()
        .filter(Interference::is_too_much)
        .max_by(|a, b| a.desense_db.value().total_cmp(&b.desense_db.value()))
}

impl Interference {
    /// Whether it is more than is accepted.
    #[must_use]
    pub const fn is_too_much(&self) -> bool {
        self.missing_db.is_some() || self.overloaded
    }

    /// Whether the transmitter is on the air so seldom that margins and outcomes
    /// leave it out. A relay's own counts: it transmits whenever it receives.
    #[must_use]
    pub fn is_seldom(&self) -> bool {
        self.separation.is_some() && self.keyed < SELDOM_BELOW
    }

    /// What it makes at the receiver's input while it transmits.
    #[must_use]
    pub fn added(&self) -> Dbm {
        self.noise_dbm.power_sum(self.blocking_dbm)
    }
}

/// Noise at the input of the receiver of `channel`'s station on `site` from
/// transmitters that the plan puts on the same roof, its own through the
/// duplexer included.
///
/// Of several that are seldom on the air the noise is that of all together, for
/// as long as any of them transmits.
#[must_use]
pub fn roof_noise(plan: &Plan, channel: &Channel, site: &Site) -> RoofNoise {
    let heard = heard_on(plan, channel, site).unwrap_or_default();
    let sum = |seldom: bool| {
        let some = heard.iter().filter(|pair| pair.is_seldom() == seldom);
        some.map(Interference::added).reduce(Dbm::power_sum)
    };
    let seldom = heard.iter().filter(|pair| pair.is_seldom());
    let quiet: f64 = seldom.map(|pair| 1.0 - pair.keyed).product();
    RoofNoise {
        always: sum(false),
        at_times: sum(true).map(|level| NoiseAtTimes { level, share: 1.0 - quiet }),
    }
}

/// What the receiver of `channel`'s station hears on `site` of each transmitter
/// that the plan puts on the same roof; nothing if the plan has no such station.
#[must_use]
pub fn heard_on(plan: &Plan, channel: &Channel, site: &Site) -> Option<Vec<Interference>> {
    let stations = &plan.power.stations;
    let own = stations.iter().position(|s| plan.is_channel(s.channel, channel))?;
    let root = |index: usize| match stations.get(index).map(|s| s.stands) {
        Some(Stands::Beside(other)) => other,
        _ => index,
    };
    let here = plan.sites.iter().position(|s| s.name == site.name)?;
    let is_here = |index: usize| {
        root(index) == root(own)
            || stations.get(root(index)).is_some_and(|s| s.stands == Stands::On(here))
    };
    let placed: Vec<_> = (0..stations.len())
        .filter(|i| *i == own || is_here(*i))
        .filter_map(|i| placed(plan, stations.get(i)?, Some(site)))
        .collect();
    let name = &stations.get(own)?.name;
    let all = pairs(plan, &placed, Some(site)).into_iter();
    Some(all.filter(|pair| &pair.to == name).collect())
}

fn placed<'p>(plan: &'p Plan, station: &'p Station, site: Option<&Site>) -> Option<Placed<'p>> {
    let channel = plan.channels.get(station.channel)?;
    let (Service::Relay { station: radio, .. } | Service::Packet { station: radio, .. }) =
        channel.service
    else {
        return None;
    };
    let mast = site.map_or_else(|| super::mast::antenna_height(plan, station), |s| s.mast);
    Some(Placed {
        name: &station.name,
        roof: station.roof,
        keyed: station.traffic.keyed,
        frequencies: frequencies(&channel.service),
        radio: plan.radios.get(radio)?,
        mast: station.roof.antenna.unwrap_or(mast),
    })
}

/// What the relay of a channel and the radio that links it to other roofs are called
/// where the plan has no station for them.
const RELAY: &str = "the relay";
const LINK: &str = "the link's radio";

/// What the relay of `channel` and the radio of `link` do to each other on a site, the
/// relay's own duplexer left out; nothing where the plan does not say how far their
/// antennas are apart. Each transmits while the other receives: what comes in on one
/// goes out on the other.
#[must_use]
pub fn link_on_roof(
    plan: &Plan,
    channel: &Channel,
    link: &RelayLink,
    site: &Site,
) -> Option<Vec<Interference>> {
    if link.along.is_none() && link.above.is_none() {
        return None;
    }
    let Service::Relay { station: radio, .. } = channel.service else { return None };
    let known = plan.power.stations.iter().find(|s| plan.is_channel(s.channel, channel));
    let roof = known.map(|station| station.roof).unwrap_or_default();
    let mast = roof.antenna.unwrap_or(site.mast);
    let relay = Placed {
        name: known.map_or(RELAY, |station| &station.name),
        roof,
        // Without a station nobody says how busy it is.
        keyed: known.map_or(1.0, |station| station.traffic.keyed),
        frequencies: frequencies(&channel.service),
        radio: plan.radios.get(radio)?,
        mast,
    };
    let none = Metres::new(0.0);
    let beside = Placed {
        name: LINK,
        roof: OnRoof {
            east: roof.east + link.along.unwrap_or(none),
            north: roof.north,
            ..OnRoof::default()
        },
        keyed: relay.keyed,
        frequencies: (link.frequency, link.frequency),
        radio: plan.radios.get(link.radio)?,
        mast: mast + link.above.unwrap_or(none),
    };
    let both = [(relay, beside), (beside, relay)];
    Some(
        both.into_iter().filter_map(|(from, to)| pair(plan, false, from, to, Some(site))).collect(),
    )
}

fn pairs(plan: &Plan, placed: &[Placed<'_>], site: Option<&Site>) -> Vec<Interference> {
    placed
        .iter()
        .enumerate()
        .flat_map(|(i, from)| placed.iter().enumerate().map(move |(j, to)| (i == j, *from, *to)))
        .filter_map(|(same, from, to)| pair(plan, same, from, to, site))
        .collect()
}

/// One transmitter in one receiver; nothing where there is nothing to say: a
/// packet station in its own receiver, a relay whose duplexer is not stated.
fn pair(
    plan: &Plan,
    same: bool,
    from: Placed<'_>,
    to: Placed<'_>,
    site: Option<&Site>,
) -> Option<Interference> {
    let (_, transmit) = from.frequencies;
    let (receive, _) = to.frequencies;
    if same && (transmit == receive || from.roof.duplexer.is_none()) {
        return None;
    }
    let separation = (!same).then(|| Separation {
        along_m: Metres::new(
            (from.roof.east - to.roof.east)
                .value()
                .hypot((from.roof.north - to.roof.north).value()),
        ),
        height_m: Metres::new((from.mast - to.mast).value().abs()),
    });
    let gains = (from.radio.antenna_at(transmit).gain, to.radio.antenna_at(receive).gain);
    let isolation = match separation {
        None => from.roof.duplexer?,
        Some(separation) => slant(separation, transmit, gains),
    };
    // A duplexer's isolation is from connector to connector: no line in between.
    let lines = if same {
        Db::new(0.0)
    } else {
        feed_loss(from.radio, transmit)
            + from.radio.filter_loss
            + feed_loss(to.radio, receive)
            + to.radio.filter_loss
    };
    let offset = Kilohertz::new((transmit.value() - receive.value()).abs() * 1e3);
    let bandwidth = to.radio.bandwidth;
    let at_receiver = from.radio.power - lines - isolation;
    // Between two stations their filters help too; a duplexer's are in its isolation.
    let filter =
        |filter: Option<Db>| if same { Db::new(0.0) } else { filter.unwrap_or(Db::new(0.0)) };
    let level = at_receiver - filter(to.roof.receive_filter);
    let below = from
        .roof
        .noise_below_carrier
        .unwrap_or_else(|| typical_noise_below_carrier(offset, bandwidth));
    let noise = at_receiver - filter(from.roof.transmit_filter) - below;
    let rejection = to.roof.rejection.unwrap_or_else(|| typical_rejection(offset));
    let on_channel = offset < bandwidth.channel();
    let blocking = if on_channel { level } else { level - rejection };
    let circuit = feed_loss(to.radio, receive)
        + to.radio.filter_loss
        + (-to.radio.antenna_at(receive).gain.over_dipole()).max(Db::new(0.0));
    let environment = site.and_then(|s| s.environment).unwrap_or(plan.prediction.environment);
    let quiet =
        noise_floor(to.radio.sensitivity, bandwidth, environment, receive, circuit).total_dbm;
    let added = noise.power_sum(blocking);
    let desense = quiet.power_sum(added) - quiet;
    // Noise that may be added: as much as makes the tolerated difference.
    let allowed = quiet + Db::new(10.0 * (10f64.powf(TOLERATED.value() / 10.0) - 1.0).log10());
    let missing = (desense > TOLERATED).then(|| added - allowed);
    // Each of the two may make half of it.
    let half = allowed - Db::new(10.0 * 2f64.log10());
    let filter_for = |part: Dbm| (missing.is_some() && part > half).then(|| part - half);
    let fixed = |along: f64, up: f64| {
        let moved = separation.map(|s| Separation {
            along_m: s.along_m + Metres::new(along),
            height_m: s.height_m + Metres::new(up),
        });
        let more = moved.map(|moved| slant(moved, transmit, gains) - isolation);
        more.zip(missing).is_some_and(|(more, missing)| more >= missing)
    };
    let least = |most: u32, works: &dyn Fn(f64) -> bool| {
        (missing.is_some() && !same)
            .then(|| (1..=most).map(|half| f64::from(half) / 2.0).find(|m| works(*m)))
            .flatten()
            .map(Metres::new)
    };
    Some(Interference {
        from: from.name.to_owned(),
        transmit_mhz: transmit,
        to: to.name.to_owned(),
        receive_mhz: receive,
        keyed: from.keyed,
        separation,
        stretched: separation.is_some_and(|s| is_stretched(s, transmit)),
        isolation_db: isolation,
        level_dbm: level,
        noise_dbm: noise,
        blocking_dbm: blocking,
        quiet_dbm: quiet,
        desense_db: desense,
        overloaded: level > OVERLOAD,
        missing_db: missing,
        transmit_filter_db: filter_for(noise),
        receive_filter_db: filter_for(blocking),
        on_channel,
        move_along_m: least(400, &|m| fixed(m, 0.0)),
        move_up_m: least(60, &|m| fixed(0.0, m)),
    })
}

/// Isolation that a relay's duplexer needs so that its own transmitter costs its
/// receiver no more than [`TOLERATED`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuplexerNeed {
    /// The station.
    pub station: String,
    /// Split between transmitter and receiver.
    pub split_mhz: Megahertz,
    /// What is needed at least, for the transmitter's noise on the receiver's
    /// frequency and for its carrier.
    pub needed_db: Db,
    /// What the plan states.
    pub stated_db: Option<Db>,
}

/// Isolations of a duplexer that results are shown with where the plan states
/// none: a small mobile one and a good one (common practice, no source).
pub const DUPLEXERS_TRIED: [Db; 2] = [Db::new(70.0), Db::new(85.0)];

/// Whether results take the duplexer of a channel's relay as perfect, because
/// the plan states none.
#[must_use]
pub fn duplexer_is_assumed(plan: &Plan, channel: &Channel) -> bool {
    let (receive, transmit) = frequencies(&channel.service);
    let stations = &plan.power.stations;
    let own = stations.iter().find(|s| plan.is_channel(s.channel, channel));
    matches!(channel.service, Service::Relay { .. })
        && receive != transmit
        && own.is_none_or(|station| station.roof.duplexer.is_none())
}

/// What the transmitter of a channel's relay makes at its receiver's input
/// through a duplexer of this isolation; nothing where it has none.
#[must_use]
pub fn through_duplexer(plan: &Plan, channel: &Channel, isolation: Db) -> Option<Dbm> {
    let Service::Relay { station, .. } = channel.service else { return None };
    let radio = plan.radios.get(station)?;
    let (receive, transmit) = frequencies(&channel.service);
    let stations = &plan.power.stations;
    let own = stations.iter().find(|s| plan.is_channel(s.channel, channel));
    let roof = own.map(|station| station.roof).unwrap_or_default();
    let offset = Kilohertz::new((transmit.value() - receive.value()).abs() * 1e3);
    let level = radio.power - isolation;
    let below = roof
        .noise_below_carrier
        .unwrap_or_else(|| typical_noise_below_carrier(offset, radio.bandwidth));
    let rejection = roof.rejection.unwrap_or_else(|| typical_rejection(offset));
    let blocking = if offset < radio.bandwidth.channel() { level } else { level - rejection };
    Some((level - below).power_sum(blocking))
}

/// What each relay of a plan needs of its duplexer.
#[must_use]
pub fn duplexer_needs(plan: &Plan) -> Vec<DuplexerNeed> {
    plan.power
        .stations
        .iter()
        .filter_map(|station| {
            let stated = station.roof.duplexer;
            // With no isolation at all, what is missing is what is needed.
            let mut bare = station.clone();
            bare.roof.duplexer = Some(Db::new(0.0));
            let site = match station.stands {
                Stands::On(site) => plan.sites.get(site),
                _ => None,
            };
            let placed = placed(plan, &bare, site)?;
            let pair = pair(plan, true, placed, placed, site)?;
            Some(DuplexerNeed {
                station: station.name.clone(),
                split_mhz: Megahertz::new(
                    (pair.transmit_mhz.value() - pair.receive_mhz.value()).abs(),
                ),
                needed_db: pair.missing_db.unwrap_or(Db::new(0.0)),
                stated_db: stated,
            })
        })
        .collect()
}
