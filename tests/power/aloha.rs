//! The formula for packets that overlap against a simulation of trackers that
//! beacon at a fixed interval from a random moment on.

use perchline::siting::trackers::{ChannelLoad, Senders, slotted_success, unslotted_success};
use perchline::units::Seconds;

/// SplitMix64 (G. Steele, D. Lea, C. Flood, OOPSLA 2014): the same numbers on
/// every machine.
struct Random(u64);

impl Random {
    /// A number from 0 to 1, 1 left out.
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// Share of packets lost when `kinds` beacon with an interval of their own each
/// from a random moment on; with `slot` every start waits for the next slot.
fn simulated(kinds: &[Senders], slot: Option<f64>, random: &mut Random) -> Vec<f64> {
    let mut sent = vec![0_u32; kinds.len()];
    let mut lost = vec![0_u32; kinds.len()];
    for _ in 0..400 {
        // An hour; the first and the last minutes overlap with nothing outside.
        let mut packets: Vec<(f64, f64, usize)> = Vec::new();
        for (kind, senders) in kinds.iter().enumerate() {
            for _ in 0..senders.count {
                // Nobody's clock keeps an interval to the second: a twentieth
                // more or less, drawn for each beacon.
                let every = senders.every.value();
                let mut next = random.share() * every;
                while next < 3600.0 {
                    let start = slot.map_or(next, |slot| (next / slot).ceil() * slot);
                    packets.push((start, start + senders.packet.value(), kind));
                    next += every * (0.95 + 0.1 * random.share());
                }
            }
        }
        packets.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (index, (start, end, kind)) in packets.iter().enumerate() {
            // Packets are shorter than three seconds, so few before can reach here.
            let near = packets[..index].iter().rev().take_while(|p| p.0 > start - 3.0);
            let after = packets[index + 1..].iter().take_while(|p| p.0 < *end);
            // Slots that touch do not overlap, whatever the last bit says.
            let hit = near.chain(after).any(|p| p.0 < end - 1e-6 && p.1 > start + 1e-6);
            sent[*kind] += 1;
            lost[*kind] += u32::from(hit);
        }
    }
    sent.iter().zip(&lost).map(|(sent, lost)| f64::from(*lost) / f64::from(*sent)).collect()
}

fn senders(count: u32, every: f64, packet: f64) -> Senders {
    Senders { count, every: Seconds::new(every), packet: Seconds::new(packet), copies: 1.0 }
}

#[test]
fn the_formula_is_what_trackers_meet() {
    let mut random = Random(5);
    let mut worst = 0.0_f64;
    for kinds in [
        vec![senders(2, 60.0, 0.9)],
        vec![senders(12, 60.0, 0.9)],
        vec![senders(30, 60.0, 0.9)],
        vec![senders(40, 120.0, 0.6)],
        vec![senders(6, 30.0, 0.5), senders(10, 120.0, 1.4)],
    ] {
        let load = ChannelLoad::of(&kinds);
        let met = simulated(&kinds, None, &mut random);
        let slot = kinds.iter().map(|s| s.packet.value()).fold(0.0, f64::max);
        let met_slotted = simulated(&kinds, Some(slot), &mut random);
        for (told, met) in
            load.lost.iter().zip(&met).chain(load.lost_slotted.iter().zip(&met_slotted))
        {
            worst = worst.max((told - met).abs() * 100.0);
        }
    }
    println!("figure aloha_simulation_worst_points {worst:.1} %");
    assert!(worst < 2.0, "{worst}");
}

/// Source: N. Abramson 1970 and textbooks: no load gets more through than 1/(2e)
/// of the time, with slots 1/e; a channel that is loaded to a half does.
#[test]
fn no_load_gets_more_through_than_the_textbook_allows() {
    let most = |success: fn(f64) -> f64| {
        (0..5000).map(|n| f64::from(n) * 1e-3).map(|g| g * success(g)).fold(0.0, f64::max)
    };
    let peak = most(unslotted_success);
    assert!((peak - 1.0 / (2.0 * std::f64::consts::E)).abs() < 1e-12, "{peak}");
    assert!((most(slotted_success) - 1.0 / std::f64::consts::E).abs() < 1e-12);
    println!("figure aloha_peak_percent {:.2} %", peak * 100.0);
    // Many small senders at that load.
    let load = ChannelLoad::of(&[senders(10_000, 20_000.0, 1.0)]);
    assert!((load.load * (1.0 - load.lost[0]) - peak).abs() < 1e-4);
}
