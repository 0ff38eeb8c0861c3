//! The file of corrections that an earlier event has taught.

use std::fmt::Write;
use std::path::Path;

use perchline::plan::{CARRIES, Calibration, CarriedIn};

use super::harness::{Reader, Seen, line_within, must, of_text, seeds, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

const TOKENS: &[&str] = &[
    "[made]",
    "[model_error]",
    "[[offset]]",
    "[[body]]",
    "deviation",
    "environment",
    "add",
    "carry",
    "more_loss",
    "low",
    "high",
    "reports",
    "by",
    " = ",
    "\"",
    "\"3 dB\"",
    "dB",
    "city",
    "residential",
    "rural",
    "quiet-rural",
    "indoors",
    "head",
    "shoulder",
    "hip",
    "\n",
    "[",
    "]",
    "{",
    "}",
    "#",
    "1979-05-27",
    "true",
    "inf",
    "'",
    "\"\"\"",
    "offset = []",
    ".",
    "\\",
];

pub fn reader() -> Reader<'static> {
    Reader {
        name: "calibrations",
        seeds: seeds("calibrations"),
        tokens: TOKENS,
        fresh,
        strict: true,
        check: of_text(check),
    }
}

fn decibels(random: &mut Random) -> String {
    match random.below(5) {
        0 => format!("{} dB", random.pick(NUMBERS)),
        1 => random.pick(HOSTILE).to_owned(),
        _ => format!("{:.1} dB", random.number(-32.0, 32.0)),
    }
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let mut text = String::new();
    if random.one_in(3) {
        let _ = writeln!(text, "[model_error]\ndeviation = \"{}\"", decibels(random));
    }
    for _ in 0..random.below(6) {
        let word = random.pick(&["city", "residential", "rural", "quiet-rural", "indoors", "x"]);
        let add = decibels(random);
        let _ = writeln!(text, "[[offset]]\nenvironment = \"{word}\"\nadd = \"{add}\"");
        if random.one_in(4) {
            let _ = writeln!(text, "reports = {}", random.pick(NUMBERS));
        }
    }
    for _ in 0..random.below(4) {
        let word = random.pick(&["head", "shoulder", "hip", "x"]);
        let _ =
            writeln!(text, "[[body]]\ncarry = \"{word}\"\nmore_loss = \"{}\"", decibels(random));
    }
    text.into_bytes()
}

fn check(text: &str) -> Result<Seen, String> {
    let read = |text: &str| Calibration::parse(Path::new("cal.toml"), text);
    let calibration = match read(text) {
        Ok(calibration) => calibration,
        Err(error) => {
            let said = error.to_string();
            words(&said)?;
            return line_within(&said, "cal.toml", text.as_bytes()).map(|()| Seen::Refused);
        }
    };
    let within = |values: &[perchline::units::Db], most: f64| {
        values.iter().all(|v| (-most..=most).contains(&v.value()))
    };
    must(
        within(&calibration.offsets, 30.0)
            && within(&calibration.bodies, 20.0)
            && calibration.model_error.is_none_or(|e| (0.0..=20.0).contains(&e.value())),
        || format!("{calibration:?}"),
    )?;
    // Written out in full it is the same.
    let mut full = String::new();
    for (environment, offset) in CarriedIn::ALL.iter().zip(calibration.offsets) {
        let word = environment.word();
        let _ =
            writeln!(full, "[[offset]]\nenvironment = \"{word}\"\nadd = \"{} dB\"", offset.value());
    }
    for (carry, loss) in CARRIES.iter().zip(calibration.bodies) {
        let word = carry.word();
        let _ = writeln!(full, "[[body]]\ncarry = \"{word}\"\nmore_loss = \"{} dB\"", loss.value());
    }
    if let Some(error) = calibration.model_error {
        let _ = writeln!(full, "[model_error]\ndeviation = \"{} dB\"", error.value());
    }
    let again = read(&full);
    must(again.as_ref() == Ok(&calibration), || format!("{calibration:?} again: {again:?}"))?;
    Ok(Seen::Accepted)
}
