//! How much carrier over noise a wanted quality takes.

use perchline_plan::{AudioQuality, Bandwidth};
use perchline_units::Db;

/// What a receiver must deliver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum QualityTarget {
    /// Voice of a delivered audio quality.
    Voice(AudioQuality),
    /// Packets, this far above the 12 dB SINAD point.
    Packet(Db),
}

/// Carrier over noise of an FM receiver at 12 dB SINAD without fading: 7 dB for
/// 2.5 kHz deviation, 4 dB for 5 kHz (TIA TSB-88, table of projected channel
/// performance, from memory).
#[must_use]
pub const fn sinad_over_noise(bandwidth: Bandwidth) -> Db {
    match bandwidth {
        Bandwidth::Narrow => Db::new(7.0),
        Bandwidth::Wide => Db::new(4.0),
    }
}

/// Mean carrier over noise that a quality takes, Rayleigh fading included.
///
/// Voice: TIA TSB-88, analogue FM, faded (from memory): 23, 26 and 33 dB for
/// DAQ 3.0, 3.4 and 4.0 at 2.5 kHz deviation; 17, 20 and 27 dB at 5 kHz.
#[must_use]
pub fn required_over_noise(target: QualityTarget, bandwidth: Bandwidth) -> Db {
    match (target, bandwidth) {
        (QualityTarget::Packet(over_sinad), _) => sinad_over_noise(bandwidth) + over_sinad,
        (QualityTarget::Voice(AudioQuality::Daq30), Bandwidth::Narrow) => Db::new(23.0),
        (QualityTarget::Voice(AudioQuality::Daq34), Bandwidth::Narrow) => Db::new(26.0),
        (QualityTarget::Voice(AudioQuality::Daq40), Bandwidth::Narrow) => Db::new(33.0),
        (QualityTarget::Voice(AudioQuality::Daq30), Bandwidth::Wide) => Db::new(17.0),
        (QualityTarget::Voice(AudioQuality::Daq34), Bandwidth::Wide) => Db::new(20.0),
        (QualityTarget::Voice(AudioQuality::Daq40), Bandwidth::Wide) => Db::new(27.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn better_audio_and_narrower_channels_take_more() {
        for bandwidth in [Bandwidth::Narrow, Bandwidth::Wide] {
            let need = |q| required_over_noise(QualityTarget::Voice(q), bandwidth);
            assert!(need(AudioQuality::Daq30) < need(AudioQuality::Daq34));
            assert!(need(AudioQuality::Daq34) < need(AudioQuality::Daq40));
            assert!(need(AudioQuality::Daq30) > sinad_over_noise(bandwidth));
        }
        let need = |b| required_over_noise(QualityTarget::Voice(AudioQuality::Daq34), b);
        assert!(need(Bandwidth::Narrow) > need(Bandwidth::Wide));
    }

    /// Source: TIA TSB-88, table of projected channel performance, analogue FM:
    /// static 12 dB SINAD and faded DAQ 3.0, 3.4, 4.0 (from memory).
    #[test]
    fn the_values_are_those_of_the_table() {
        use AudioQuality::{Daq30, Daq34, Daq40};
        let rows = [
            (Bandwidth::Narrow, 7.0, [23.0, 26.0, 33.0]),
            (Bandwidth::Wide, 4.0, [17.0, 20.0, 27.0]),
        ];
        for (bandwidth, sinad, voice) in rows {
            assert_eq!(sinad_over_noise(bandwidth), Db::new(sinad));
            for (quality, wanted) in [Daq30, Daq34, Daq40].into_iter().zip(voice) {
                let need = required_over_noise(QualityTarget::Voice(quality), bandwidth);
                assert_eq!(need, Db::new(wanted), "{quality:?} {bandwidth:?}");
            }
        }
        let packet = required_over_noise(QualityTarget::Packet(Db::new(10.0)), Bandwidth::Wide);
        assert_eq!(packet, Db::new(14.0));
    }

    #[test]
    fn a_packet_is_counted_from_the_sinad_point() {
        let need = required_over_noise(QualityTarget::Packet(Db::new(10.0)), Bandwidth::Narrow);
        assert_eq!(need, Db::new(17.0));
    }
}
