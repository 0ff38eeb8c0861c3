//! "5 W", "1.2 km", "146.94 MHz": a case is a line of units and a line of text.

use perchline::units::parse_quantity;

use super::harness::{Reader, Seen, must, of_text, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

/// Sets of units as fields have them.
const SETS: &[&[&str]] = &[
    &["W", "dBm"],
    &["m", "ft"],
    &["m", "km", "ft", "mi"],
    &["MHz", "kHz", "GHz"],
    &["uV", "dBm"],
    &["dB"],
    &["Wh", "mWh", "MWh"],
    &["Ah", "mAh"],
    &["%"],
    &["min/km", "min/mi"],
    &[],
];

const TOKENS: &[&str] = &[
    "W", "dBm", "m", "km", "ft", "mi", "MHz", "kHz", "GHz", "µV", "μV", "uV", "dB", "%", "e", "E",
    "e-", "+", "-", ".", ",", " ", "\u{a0}", "Wh", "mWh", "MWh", "min/km", "µ", "k", "1e3", "°C",
];

pub fn reader() -> Reader<'static> {
    let seeds = [
        "0\n5 W",
        "1\n10 ft",
        "2\n1.2 km",
        "3\n146.94 MHz",
        "4\n0.25 µV",
        "5\n-3.2dB",
        "6\n7.5 MWh",
        "7\n2200 mAh",
        "8\n95%",
        "9\n6 min/km",
        "0\n1e-1 w",
        "4\n-116dBm",
    ];
    Reader {
        name: "quantities",
        seeds: seeds.map(|seed| seed.as_bytes().to_vec()).to_vec(),
        tokens: TOKENS,
        fresh,
        strict: true,
        check: of_text(check),
    }
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let set = random.below(SETS.len());
    let number = match random.below(3) {
        0 => random.pick(NUMBERS).to_owned(),
        1 => random.number(-1e4, 1e4).to_string(),
        _ => f64::from_bits(random.word()).to_string(),
    };
    let space = random.pick(&["", " ", "  ", "\u{a0}", "\t"]);
    let unit = match random.below(4) {
        0 => random.pick(TOKENS),
        1 => random.pick(HOSTILE),
        _ if SETS[set].is_empty() => "",
        _ => random.pick(SETS[set]),
    };
    format!("{set}\n{number}{space}{unit}").into_bytes()
}

fn check(case: &str) -> Result<Seen, String> {
    let (set, text) = case.split_once('\n').unwrap_or(("0", case));
    let units = SETS[set.trim().parse::<usize>().unwrap_or(0) % SETS.len()];
    match parse_quantity(text, units) {
        Ok((value, index)) => {
            must(value.is_finite(), || format!("{text:?} is {value}"))?;
            let unit = units.get(index).ok_or_else(|| format!("{text:?} is in unit {index}"))?;
            let again = parse_quantity(&format!("{value} {unit}"), units);
            must(again == Ok((value, index)), || format!("{value} {unit} is read as {again:?}"))?;
            Ok(Seen::Accepted)
        }
        Err(error) => words(&error.to_string()).map(|()| Seen::Refused),
    }
}
