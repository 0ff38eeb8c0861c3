//! How busy digipeaters are with what they hear of trackers.

use perchline_plan::{Channel, Traffic};
use perchline_units::Seconds;

/// Packets of one kind of sender.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Heard {
    /// How many start in a second, repeats left out.
    pub a_second: f64,
    /// Time that one takes.
    pub packet: Seconds,
    /// Share of them that each digipeater hears at first hand, 0 to 1.
    pub by: Vec<f64>,
}

/// How busy each of so many digipeaters is that all hear each other, beside what
/// others send on `channel`, which each of them hears.
///
/// A digipeater sends what it hears at first hand once. With more than one hop it then
/// sends each copy of every other one too, until a packet has gone through as many as
/// the hops: as [`Channel::repeats`] counts where all hear the same.
pub(super) fn traffic(kinds: &[Heard], channel: &Channel, digipeaters: usize) -> Vec<Traffic> {
    let of_each = |of: &dyn Fn(&Heard) -> f64, others: f64| -> Vec<f64> {
        let sum = |place: usize| -> f64 {
            kinds.iter().map(|kind| of(kind) * kind.by.get(place).unwrap_or(&0.0)).sum()
        };
        (0..digipeaters).map(|place| sum(place) + others).collect()
    };
    let others = channel.background_rate();
    let an_hour = of_each(&|kind| kind.a_second * 3600.0, others * 3600.0);
    let first_hand = of_each(
        &|kind| kind.a_second * kind.packet.value(),
        others * Channel::USUAL_PACKET.value(),
    );
    let hops = channel.hops as usize;
    let mut keyed = vec![0.0; digipeaters];
    let copies = std::iter::successors(Some(first_hand.clone()), |sent| Some(of_others(sent)));
    for sent in copies.take(hops) {
        for (sum, sent) in keyed.iter_mut().zip(sent) {
            *sum += sent;
        }
    }
    let from_others = of_others(&keyed);
    let busy = keyed.iter().zip(first_hand.iter().zip(&from_others)).zip(an_hour);
    busy.map(|((keyed, (own, others)), an_hour)| Traffic {
        keyed: keyed.min(Traffic::MOST),
        listening: (own + others).min(Traffic::MOST),
        beacons_an_hour: Some(an_hour),
        is_counted: true,
    })
    .collect()
}

/// What all others send, by each.
fn of_others(sent: &[f64]) -> Vec<f64> {
    let all: f64 = sent.iter().sum();
    sent.iter().map(|own| all - own).collect()
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use perchline_plan::Service;
    use perchline_units::Megahertz;

    fn packet(hops: u32, background_an_hour: Option<f64>) -> Channel {
        Channel {
            name: String::new(),
            service: Service::Packet { frequency: Megahertz::new(144.8), station: 0 },
            carried: 0,
            tone: None,
            background_an_hour,
            hops,
            placeholder: false,
            function: None,
            users: None,
        }
    }

    /// By hand: 180 beacons of 0.5 s an hour, of which the digipeaters hear 80 and 40 of
    /// 100; 120 of 0.9 s, 50 and 100 of 100; 36 of others of 0.9 s. At first hand that
    /// is 144 + 60 + 36 = 240 and 72 + 120 + 36 = 228 an hour, for 72 + 54 + 32.4 =
    /// 158.4 s and 36 + 108 + 32.4 = 176.4 s. With two hops each sends its own and the
    /// other's, 334.8 s, and hears its own and what the other sends.
    #[test]
    fn a_digipeater_is_as_busy_as_its_place_hears() {
        let kinds = [
            Heard { a_second: 0.05, packet: Seconds::new(0.5), by: vec![0.8, 0.4] },
            Heard { a_second: 1.0 / 30.0, packet: Seconds::new(0.9), by: vec![0.5, 1.0] },
        ];
        let found = traffic(&kinds, &packet(2, Some(36.0)), 2);
        for (found, (an_hour, own)) in found.iter().zip([(240.0, 158.4), (228.0, 176.4)]) {
            assert_abs_diff_eq!(found.beacons_an_hour.unwrap(), an_hour, epsilon = 1e-9);
            assert_abs_diff_eq!(found.keyed * 3600.0, 334.8, epsilon = 1e-9);
            assert_abs_diff_eq!(found.listening * 3600.0, own + 334.8, epsilon = 1e-9);
        }
    }

    /// Where all is heard it is what [`Channel::repeats`] counts.
    #[test]
    fn where_all_is_heard_each_sends_what_the_plan_counts() {
        for (digipeaters, hops) in [(1, 1), (1, 3), (2, 1), (2, 3), (3, 2)] {
            let by = vec![1.0; digipeaters];
            let kinds = [Heard { a_second: 0.02, packet: Seconds::new(0.5), by }];
            let channel = packet(hops, None);
            let sent = 0.01 * channel.repeats(digipeaters);
            let neighbours = digipeaters as f64 - 1.0;
            for found in traffic(&kinds, &channel, digipeaters) {
                assert_abs_diff_eq!(found.keyed, sent, epsilon = 1e-12);
                assert_abs_diff_eq!(found.listening, 0.01 + neighbours * sent, epsilon = 1e-12);
            }
        }
    }
}
