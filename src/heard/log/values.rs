//! What people write in a report, and what it means.

use super::{Level, Quality, Said};
use perchline_link::Direction;
use perchline_plan::{AudioQuality, Carry};
use perchline_units::{Db, Dbm, Megahertz, is_unprintable};

/// Level of S9 at a receiver's input below 30 MHz and above it (IARU Region 1
/// Technical Recommendation R.1, Brighton 1981 and Torremolinos 1990: -73 dBm
/// and -93 dBm, from memory).
const S9: (Dbm, Dbm) = (Dbm::new(-73.0), Dbm::new(-93.0));
/// Decibels from one S unit to the next (the same Recommendation).
const S_UNIT: f64 = 6.0;
/// No receiver of a channel of 12.5 kHz hears less, dBm: the thermal noise of
/// 9 kHz at 290 K is -134 dBm.
const BELOW_NOISE: f64 = -135.0;
/// Standard deviation of a level that was measured in dBm (common practice, no
/// source).
const LEVEL_SPREAD: Db = Db::new(2.0);

/// The level of `units` S units and `over` decibels at `frequency`, by the IARU
/// Region 1 recommendation; `units` from 0 to 9.
///
/// ```
/// use perchline_heard::log::level_of_s_units;
/// use perchline_units::{Db, Dbm, Megahertz};
///
/// let two_metres = Megahertz::new(145.0);
/// assert_eq!(level_of_s_units(9.0, Db::new(0.0), two_metres), Dbm::new(-93.0));
/// assert_eq!(level_of_s_units(1.0, Db::new(0.0), two_metres), Dbm::new(-141.0));
/// ```
#[must_use]
pub fn level_of_s_units(units: f64, over: Db, frequency: Megahertz) -> Dbm {
    let s9 = if frequency < Megahertz::new(30.0) { S9.0 } else { S9.1 };
    s9 + Db::new((units - 9.0) * S_UNIT) + over
}

/// The audio quality that a readability from 1 to 5 stands for: 1 and 2 are
/// below DAQ 3.0, 3 below 3.4, 4 at least 3.0 and below 4.0, 5 at least 3.4
/// (common practice, no source).
#[must_use]
pub fn quality_of_readability(readability: u8) -> Option<Quality> {
    use AudioQuality::{Daq30, Daq34, Daq40};
    let (at_least, below) = match readability {
        1 | 2 => (None, Some(Daq30)),
        3 => (None, Some(Daq34)),
        4 => (Some(Daq30), Some(Daq40)),
        5 => (Some(Daq34), None),
        _ => return None,
    };
    Some(Quality { at_least, below })
}

/// A DAQ step from 1 to 5 (TIA TSB-88) as a range of those that a plan can ask for.
fn quality_of_daq(daq: f64) -> Option<Quality> {
    use AudioQuality::{Daq30, Daq34, Daq40};
    let at_least = [(4.0, Daq40), (3.4, Daq34), (3.0, Daq30)]
        .into_iter()
        .find(|(from, _)| daq >= *from)
        .map(|(_, quality)| quality);
    let below = [(3.0, Daq30), (3.4, Daq34), (4.0, Daq40)]
        .into_iter()
        .find(|(from, _)| daq < *from)
        .map(|(_, quality)| quality);
    (1.0..=5.0).contains(&daq).then_some(Quality { at_least, below })
}

/// A number with a point or a comma.
fn number(text: &str) -> Option<f64> {
    let plain = text.trim().replace(',', ".").replace('\u{2212}', "-");
    plain.parse::<f64>().ok().filter(|n| n.is_finite())
}

/// Whether it was heard: yes, no and what people write for them.
pub(super) fn heard(text: &str) -> Result<bool, String> {
    match text.trim().to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" | "ok" | "heard" | "x" => Ok(true),
        "no" | "n" | "false" | "0" | "nil" | "none" | "not heard" | "-" => Ok(false),
        _ => Err(format!("heard: \"{}\" is neither yes nor no", short(text))),
    }
}

/// A DAQ step.
pub(super) fn daq(text: &str) -> Result<Quality, String> {
    let typed = text.trim().to_lowercase();
    let digits = typed.trim_start_matches("daq").trim();
    number(digits)
        .and_then(quality_of_daq)
        .ok_or_else(|| format!("daq: \"{}\" is no step from 1 to 5, such as 3.4", short(text)))
}

/// A readability and strength report such as "59", "5/9", "5x9", "5 by 9", "R5 S9"
/// or "599"; the tone of a third digit is left aside.
pub(super) fn rst(text: &str, frequency: Megahertz) -> Result<Said, String> {
    let digits: Vec<u8> = text
        .to_lowercase()
        .replace("by", " ")
        .chars()
        .filter_map(|c| c.to_digit(10))
        .filter_map(|d| u8::try_from(d).ok())
        .collect();
    let known = text
        .to_lowercase()
        .replace("by", "")
        .chars()
        .all(|c| c.is_ascii_digit() || " /xrs-+".contains(c));
    let quality = digits.first().and_then(|r| quality_of_readability(*r));
    let strength = digits.get(1).copied();
    let fits = known && (1..=3).contains(&digits.len()) && strength.is_none_or(|s| s >= 1);
    match quality {
        Some(quality) if fits => Ok(Said {
            heard: Some(true),
            quality: Some(quality),
            level: strength.map(|s| Level {
                level: level_of_s_units(f64::from(s), Db::new(0.0), frequency),
                spread: None,
            }),
        }),
        _ => Err(format!(
            "rst: \"{}\" is no report of readability 1 to 5 and strength 1 to 9, such as 57; a quality such as 3.4 goes into a column daq",
            short(text)
        )),
    }
}

/// A level: "S7", "S9+10", "S9 + 10 dB", "-97 dBm" or "-97".
pub(super) fn level(text: &str, frequency: Megahertz) -> Result<Level, String> {
    let typed = text.trim().to_lowercase();
    let wrong = || {
        format!(
            "level: \"{}\" is neither S units, such as S7 or S9+10, nor a level such as -97 dBm",
            short(text)
        )
    };
    if let Some(units) = typed.strip_prefix('s') {
        let (units, over) = match units.split_once('+') {
            Some((units, over)) => {
                let over = over.trim().trim_end_matches("db").trim();
                (units, number(over).filter(|o| (0.0..=60.0).contains(o)).ok_or_else(wrong)?)
            }
            None => (units, 0.0),
        };
        let units = number(units).filter(|u| (0.0..=9.0).contains(u)).ok_or_else(wrong)?;
        if over > 0.0 && units < 9.0 {
            return Err(wrong());
        }
        let level = level_of_s_units(units, Db::new(over), frequency);
        return Ok(Level { level, spread: None });
    }
    let digits = typed.trim_end_matches("dbm").trim();
    let value = number(digits).filter(|v| (-200.0..=30.0).contains(v)).ok_or_else(wrong)?;
    if value < BELOW_NOISE {
        return Err(format!(
            "level: \"{}\" is below the noise of any receiver on such a channel",
            short(text)
        ));
    }
    if value > 0.0 && !typed.ends_with("dbm") {
        return Err(wrong());
    }
    Ok(Level { level: Dbm::new(value), spread: Some(LEVEL_SPREAD) })
}

/// Which direction, or both.
pub(super) fn directions(text: &str) -> Result<Vec<Direction>, String> {
    use Direction::{TalkIn, TalkOut};
    let typed = text.trim().to_lowercase().replace(['_', ' '], "-");
    match typed.as_str() {
        "in" | "talk-in" | "to-relay" | "to-station" | "uplink" | "up" | "tx" => Ok(vec![TalkIn]),
        "out" | "talk-out" | "from-relay" | "from-station" | "downlink" | "down" | "rx" => {
            Ok(vec![TalkOut])
        }
        "both" | "both-ways" | "" => Ok(vec![TalkIn, TalkOut]),
        _ => Err(format!(
            "direction: \"{}\" is not known; write in (the station hears the radio), out (the radio hears the station) or both",
            short(text)
        )),
    }
}

/// Where a radio was worn.
pub(super) fn carry(text: &str) -> Result<Carry, String> {
    match text.trim().to_lowercase().as_str() {
        "head" | "hand" | "at the head" => Ok(Carry::Head),
        "shoulder" | "speaker mic" | "chest" => Ok(Carry::Shoulder),
        "hip" | "belt" | "waist" => Ok(Carry::Hip),
        _ => Err(format!("carry: \"{}\" is none of head, shoulder, hip", short(text))),
    }
}

/// A text for a message: not too long, on one line.
pub(super) fn short(text: &str) -> String {
    let line: String =
        text.trim().chars().map(|c| if is_unprintable(c) { ' ' } else { c }).take(120).collect();
    if line.chars().count() < text.trim().chars().count() { line + "…" } else { line }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO_METRES: Megahertz = Megahertz::new(145.0);

    /// Source: IARU Region 1 Technical Recommendation R.1, its table of S units
    /// (from memory): S9 -93 dBm above 30 MHz and -73 dBm below, 6 dB a unit.
    #[test]
    fn s_units_are_those_of_the_table() {
        let above = [-141.0, -135.0, -129.0, -123.0, -117.0, -111.0, -105.0, -99.0, -93.0];
        let below = [-121.0, -115.0, -109.0, -103.0, -97.0, -91.0, -85.0, -79.0, -73.0];
        for (units, (vhf, hf)) in (1..).zip(above.into_iter().zip(below)) {
            let text = format!("S{units}");
            assert_eq!(level(&text, TWO_METRES).unwrap().level, Dbm::new(vhf));
            assert_eq!(level(&text, Megahertz::new(14.0)).unwrap().level, Dbm::new(hf));
        }
        for text in ["S9+10", "s9 + 10 dB", "S9+10dB"] {
            assert_eq!(level(text, TWO_METRES).unwrap().level, Dbm::new(-83.0), "{text}");
        }
    }

    #[test]
    fn levels_are_read_as_people_write_them() {
        for text in ["-97", "-97 dBm", "-97dbm", "\u{2212}97", " -97,0 dBm"] {
            assert_eq!(level(text, TWO_METRES).unwrap().level, Dbm::new(-97.0), "{text}");
        }
        for text in
            ["97", "S10", "S7+10", "S9+99", "strong", "", "-300 dBm", "-140 dBm", "NaN", "s"]
        {
            assert!(level(text, TWO_METRES).is_err(), "{text}");
        }
    }

    #[test]
    fn reports_of_readability_and_strength_are_read() {
        for text in ["59", "5/9", "5x9", "5 by 9", "R5 S9", "599", " 5-9 "] {
            let said = rst(text, TWO_METRES).unwrap();
            assert_eq!(said.level.unwrap().level, Dbm::new(-93.0), "{text}");
            assert_eq!(said.quality, quality_of_readability(5), "{text}");
        }
        assert!(rst("3", TWO_METRES).unwrap().level.is_none());
        for text in ["", "69", "50", "5999", "good", "-57 dBm", "0", "3.4", "4.0"] {
            assert!(rst(text, TWO_METRES).is_err(), "{text}");
        }
    }

    #[test]
    fn daq_steps_are_ranges() {
        use AudioQuality::{Daq30, Daq34, Daq40};
        for (text, at_least, below) in [
            ("DAQ 3.4", Some(Daq34), Some(Daq40)),
            ("3", Some(Daq30), Some(Daq34)),
            ("2", None, Some(Daq30)),
            ("4,5", Some(Daq40), None),
            ("5", Some(Daq40), None),
        ] {
            assert_eq!(daq(text).unwrap(), Quality { at_least, below }, "{text}");
        }
        assert!(daq("0").is_err() && daq("6").is_err() && daq("loud").is_err());
    }
}
