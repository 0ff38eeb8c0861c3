//! How many packets of senders that do not listen to each other survive.
//!
//! A packet is lost when another overlaps it in time. Packets that start at
//! random, a load of G packets in the time that one takes, leave a packet whole
//! with the probability e^-2G; packets that start at random in common time
//! slots, e^-G (N. Abramson, "The ALOHA System", AFIPS Fall Joint Computer
//! Conference 1970, and every textbook on networks; the slots are of L. G.
//! Roberts, 1972; both from memory). What gets through, G e^-2G, is 1/(2e) of
//! the time at the most, 18.4 %, at a load of one half.

use serde::Serialize;

use perchline_units::Seconds;

/// Probability that a packet which starts at random stays whole under a load
/// of `load` packets of its length in the time of one.
#[must_use]
pub fn unslotted_success(load: f64) -> f64 {
    (-2.0 * load).exp()
}

/// The same where all packets start on common slots of a packet's length.
#[must_use]
pub fn slotted_success(load: f64) -> f64 {
    (-load).exp()
}

/// Senders of one kind on a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Senders {
    /// How many there are.
    pub count: u32,
    /// Time from one packet of a sender to its next; above zero.
    pub every: Seconds,
    /// Time that a packet takes; above zero.
    pub packet: Seconds,
    /// How often a packet is on the air: once, and once more for each digipeater
    /// that hears it.
    pub copies: f64,
}

/// Packets that others send at random times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Background {
    /// How many start in a second, repeats left out.
    pub a_second: f64,
    /// Time that one takes.
    pub packet: Seconds,
    /// How often each is on the air.
    pub copies: f64,
}

impl Background {
    /// Nobody else sends.
    pub const NONE: Self = Self { a_second: 0.0, packet: Seconds::new(0.9), copies: 1.0 };

    /// How many are sent in a second, repeats among them.
    fn sent(self) -> f64 {
        self.a_second * self.copies
    }

    /// One of them.
    fn as_senders(self) -> Senders {
        Senders { count: 1, every: Seconds::new(1.0), packet: self.packet, copies: self.copies }
    }
}

/// How busy a channel is and what that costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChannelLoad {
    /// Senders in all.
    pub senders: u32,
    /// How often a packet is on the air, over all senders' packets.
    pub copies: f64,
    /// Packets an hour that the senders and others start, repeats left out.
    pub packets_an_hour: f64,
    /// Share of time for which somebody would be on the air if nothing
    /// overlapped, repeats included: the load G, from 0 up.
    pub load: f64,
    /// For each kind of sender the share of its packets that others overlap, 0
    /// to 1, when packets start at random.
    pub lost: Vec<f64>,
    /// The same when all start on common slots as long as the longest packet.
    pub lost_slotted: Vec<f64>,
    /// The interval that keeps the share lost to [`ChannelLoad::TOLERATED`] if
    /// all senders use it with the longest packet; nothing for a single sender.
    pub least_interval_s: Option<Seconds>,
    /// The same with common slots.
    pub least_interval_slotted_s: Option<Seconds>,
}

impl ChannelLoad {
    /// Share of packets lost to collisions that is accepted (common practice, no
    /// source).
    pub const TOLERATED: f64 = 0.1;

    /// The load of these kinds of senders. A sender does not overlap itself.
    /// Repeats count in full: digipeaters that repeat a packet at the same time
    /// make it less.
    #[must_use]
    pub fn of(kinds: &[Senders]) -> Self {
        Self::beside(kinds, Background::NONE)
    }

    /// The same beside packets of others.
    #[must_use]
    pub fn beside(kinds: &[Senders], background: Background) -> Self {
        // Copies a second of all senders of a kind but, for its own kind, one.
        let others = |of: usize, kind: usize, senders: &Senders| {
            let count = senders.count.saturating_sub(u32::from(of == kind));
            senders.copies * f64::from(count) / senders.every.value()
        };
        let shortest =
            if background.a_second > 0.0 { background.packet } else { Seconds::new(0.0) };
        let longest = kinds.iter().map(|s| s.packet).fold(shortest, Seconds::max);
        let lost_of = |of: usize, alone: &dyn Fn(&Senders) -> f64| {
            let overlapping: f64 = kinds
                .iter()
                .enumerate()
                .map(|(kind, senders)| others(of, kind, senders) * alone(senders))
                .sum();
            let background = background.sent() * alone(&background.as_senders());
            1.0 - (-overlapping - background).exp()
        };
        let senders: u32 = kinds.iter().map(|s| s.count).fold(0, u32::saturating_add);
        // Copies that others start for each of a sender's packets, of the sender
        // with the fewest copies of its own.
        let all: f64 = kinds.iter().map(|s| f64::from(s.count) * s.copies).sum();
        let rest = all - kinds.iter().map(|s| s.copies).fold(f64::INFINITY, f64::min);
        let rate = |s: &Senders| f64::from(s.count) / s.every.value();
        let rates: f64 = kinds.iter().map(rate).sum();
        // 1 - e^-x is what is accepted; what others send takes its part of it.
        let tolerated = -(-Self::TOLERATED).ln_1p();
        let interval = |packets: f64| {
            let left = tolerated - packets * longest.value() * background.sent();
            (senders > 1 && left > 0.0).then(|| longest * (packets * rest / left))
        };
        Self {
            senders,
            copies: if rates > 0.0 {
                kinds.iter().map(|s| rate(s) * s.copies).sum::<f64>() / rates
            } else {
                1.0
            },
            packets_an_hour: (rates + background.a_second) * 3600.0,
            load: kinds.iter().map(|s| s.copies * rate(s) * s.packet.value()).sum::<f64>()
                + background.sent() * background.packet.value(),
            // A packet is overlapped by one that starts less than that one's
            // length before it or less than its own after it.
            lost: kinds
                .iter()
                .enumerate()
                .map(|(of, own)| lost_of(of, &|s| (own.packet + s.packet).value()))
                .collect(),
            lost_slotted: (0..kinds.len()).map(|of| lost_of(of, &|_| longest.value())).collect(),
            least_interval_s: interval(2.0),
            least_interval_slotted_s: interval(1.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn equal(count: u32, every: f64) -> Senders {
        Senders { count, every: Seconds::new(every), packet: Seconds::new(0.9), copies: 1.0 }
    }

    /// Source: N. Abramson 1970 and textbooks: at most 1/(2e) of the time is
    /// used well, at G = 1/2; with slots 1/e, at G = 1.
    #[test]
    fn throughput_peaks_where_the_textbook_says() {
        for (success, peak_at, peak) in [
            (unslotted_success as fn(f64) -> f64, 0.5, 0.5 / std::f64::consts::E),
            (slotted_success, 1.0, 1.0 / std::f64::consts::E),
        ] {
            let (at, most) = (1..=20_000)
                .map(|step| f64::from(step) * 1e-4)
                .map(|load| (load, load * success(load)))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .unwrap();
            assert_abs_diff_eq!(at, peak_at, epsilon = 1e-3);
            assert_abs_diff_eq!(most, peak, epsilon = 1e-9);
        }
    }

    /// Many senders of one kind are the textbook's: the load of all.
    #[test]
    fn many_senders_come_to_the_textbook_s_formula() {
        let load = ChannelLoad::of(&[equal(100_000, 1_000_000.0)]);
        assert_abs_diff_eq!(load.load, 0.09, epsilon = 1e-12);
        assert_abs_diff_eq!(1.0 - load.lost[0], unslotted_success(0.09), epsilon = 1e-5);
        assert_abs_diff_eq!(1.0 - load.lost_slotted[0], slotted_success(0.09), epsilon = 1e-5);
    }

    #[test]
    fn the_least_interval_loses_what_is_put_up_with() {
        for copies in [1.0, 1.7, 3.0] {
            let kind = Senders { copies, ..equal(12, 60.0) };
            let least = ChannelLoad::of(&[kind]).least_interval_s.unwrap();
            let then = ChannelLoad::of(&[Senders { every: least, ..kind }]);
            assert_abs_diff_eq!(then.lost[0], ChannelLoad::TOLERATED, epsilon = 1e-12);
            let slotted = then.least_interval_slotted_s.unwrap();
            assert_abs_diff_eq!(slotted.value() * 2.0, least.value(), epsilon = 1e-9);
        }
    }

    #[test]
    fn one_sender_has_the_channel_to_itself() {
        let load = ChannelLoad::of(&[Senders { copies: 2.0, ..equal(1, 30.0) }]);
        assert_eq!((load.lost.as_slice(), load.least_interval_s), ([0.0].as_slice(), None));
        assert_abs_diff_eq!(load.load, 0.06, epsilon = 1e-12);
    }

    /// By hand: one sender, and 360 packets an hour of others, 0.1 a second, each on the
    /// air twice for 0.9 s: 0.2 x 1.8 overlap it; the load is 0.9 / 60 + 0.2 x 0.9.
    #[test]
    fn what_others_send_overlaps_too() {
        let others = Background { a_second: 0.1, copies: 2.0, ..Background::NONE };
        let load = ChannelLoad::beside(&[equal(1, 60.0)], others);
        assert_abs_diff_eq!(load.lost[0], 1.0 - f64::exp(-0.36), epsilon = 1e-12);
        assert_abs_diff_eq!(load.load, 0.015 + 0.18, epsilon = 1e-12);
        assert_abs_diff_eq!(load.packets_an_hour, 420.0, epsilon = 1e-9);
        // They alone are more than is accepted: no interval helps.
        assert_eq!(ChannelLoad::beside(&[equal(5, 60.0)], others).least_interval_s, None);
    }

    /// A long packet among short ones is overlapped more often than they are.
    #[test]
    fn long_packets_are_lost_more_often() {
        let long = Senders { packet: Seconds::new(2.0), ..equal(5, 60.0) };
        let load = ChannelLoad::of(&[equal(5, 60.0), long]);
        assert!(load.lost[1] > load.lost[0]);
        // By hand: 4 x (0.9 + 0.9) / 60 + 5 x (0.9 + 2) / 60.
        assert_abs_diff_eq!(load.lost[0], 1.0 - f64::exp(-(7.2 + 14.5) / 60.0), epsilon = 1e-12);
    }
}
