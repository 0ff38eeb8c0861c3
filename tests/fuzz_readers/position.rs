//! Positions in every notation.

use perchline::plan::read_position;

use super::harness::{Reader, Seen, must, of_text, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

const TOKENS: &[&str] = &[
    "°",
    "º",
    "˚",
    "'",
    "′",
    "’",
    "''",
    "′′",
    "\"",
    "″",
    "”",
    "N",
    "S",
    "E",
    "W",
    "n",
    "s",
    "d",
    "m",
    ",",
    ";",
    "/",
    " ",
    "+",
    "-",
    "−",
    ".",
    "UTM",
    "zone",
    "25T",
    "31U",
    "32N",
    "1C",
    "60X",
    "61N",
    "00S",
    "AA00",
    "RR99XX",
    "HN27jc48",
    "I",
    "O",
    "mE",
    "mN",
    "north",
    "south",
    "500000",
    "0000000",
    "10000000",
    "60",
    "59.999999",
    "90",
    "180",
];

pub fn reader() -> Reader<'static> {
    let seeds = [
        "47.1234, -35.2345",
        "47°07'24.3\"N 35°14'04.2\"W",
        "47.1300 N 35.2400 W",
        "N47 07.5 W35 14",
        "HN27jc48",
        "HN27",
        "HN27jd10ab",
        "25T 412345E 5212345N",
        "25T DN 12345 12345",
        "25TDN1234512345",
        "UTM zone 25 north 412345 5212345",
        "25 south 412345 5212345",
        "47d07m24s N, 35d14m04s W",
        "-12.5 / 130",
        "-90, 180",
        "90N 0E",
        "31UDQ48251194",
    ];
    Reader {
        name: "positions",
        seeds: seeds.map(|seed| seed.as_bytes().to_vec()).to_vec(),
        tokens: TOKENS,
        fresh,
        strict: true,
        check: of_text(check),
    }
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let mut text = String::new();
    match random.below(5) {
        0 => {
            for _ in 0..random.between(1, 12) {
                text.push_str(match random.below(3) {
                    0 => random.pick(NUMBERS),
                    1 => random.pick(HOSTILE),
                    _ => random.pick(TOKENS),
                });
            }
        }
        // A locator, some beyond its letters.
        1 => {
            for pair in 0..random.between(1, 6) {
                for _ in 0..2 {
                    let c = if pair % 2 == 0 {
                        b'A' + random.below(27) as u8
                    } else {
                        b'0' + random.below(11) as u8
                    };
                    text.push(char::from(if random.one_in(4) {
                        c.to_ascii_lowercase()
                    } else {
                        c
                    }));
                }
            }
        }
        // MGRS.
        2 => {
            text = random.between(0, 62).to_string();
            for _ in 0..3 {
                text.push(char::from(b'A' + random.below(26) as u8));
            }
            for _ in 0..random.between(0, 12) {
                text.push(char::from(b'0' + random.below(10) as u8));
            }
        }
        // UTM.
        3 => {
            let zone = random.between(0, 61);
            let half = random.pick(&["N", "S", "C", "T", "X", "Z", "north", "south", "I", ""]);
            let east = random.number(-1e5, 1.1e6);
            let north = random.number(-1e5, 1.1e7);
            text = format!("{zone}{half} {east:.0}mE {north:.1}mN");
        }
        _ => {
            let mut angle = |most: f64| {
                let degrees = random.number(-most, most);
                match random.below(4) {
                    0 => format!("{degrees:.6}"),
                    1 => format!("{:.0}° {:.3}'", degrees, random.number(0.0, 61.0)),
                    2 => format!(
                        "{:.0}°{:.0}'{:.2}\"",
                        degrees,
                        random.number(0.0, 61.0),
                        random.number(0.0, 61.0)
                    ),
                    _ => random.pick(NUMBERS).to_owned(),
                }
            };
            let (one, other) = (angle(95.0), angle(190.0));
            let between = random.pick(&[", ", " ", "N ", "S, ", "; ", " / ", ""]);
            let end = random.pick(&["", "E", "W", " w", "N"]);
            text = format!("{one}{between}{other}{end}");
        }
    }
    text.into_bytes()
}

fn check(text: &str) -> Result<Seen, String> {
    let reading = match read_position(text) {
        Ok(reading) => reading,
        Err(error) => return words(&error.to_string()).map(|()| Seen::Refused),
    };
    let (latitude, longitude) =
        (reading.position.latitude().value(), reading.position.longitude().value());
    must((-90.0..=90.0).contains(&latitude) && (-180.0..=180.0).contains(&longitude), || {
        format!("{text:?} is at {latitude}, {longitude}")
    })?;
    must(reading.square.is_none_or(|s| s.value().is_finite() && s.value() > 0.0), || {
        format!("{text:?} is a square of {:?}", reading.square)
    })?;
    // Written in degrees it is the same place.
    let again = read_position(&format!("{latitude:.9}, {longitude:.9}"));
    let same = again.as_ref().is_ok_and(|again| {
        (again.position.latitude().value() - latitude).abs() < 1e-8
            && (again.position.longitude().value() - longitude).abs() < 1e-8
    });
    must(same, || format!("{text:?} at {latitude}, {longitude} is read again as {again:?}"))?;
    Ok(Seen::Accepted)
}
