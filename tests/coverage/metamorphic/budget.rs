//! Relations of coverage to radios, noise and what is asked of the link.

use std::sync::LazyLock;
use std::sync::atomic::AtomicBool;

use ndarray::Array2;
use perchline::coverage::{Coverage, cover};
use perchline::link::{LinkModel, Propagator, Terminal};

use crate::support::land::cells_around;
use crate::support::{PLAN, open_plan, write_plan_raster};

/// Coverage of the plan's first site over hills, the plan's text changed, as far
/// as paths are sampled whole. Farther away, which cells are looked at on their
/// own paths hangs on where classes begin, and so on the budget.
fn coverage(edit: impl Fn(&str) -> String) -> Coverage {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |column, row| {
        let (x, y) = (f64::from(column as u32), f64::from(row as u32));
        (380.0 + 250.0 * (x / 6.0).sin() * (y / 8.0).cos()) as f32
    });
    let file = folder.path().join("plan.toml");
    // Weak, so that every outcome there is comes up.
    let weak = PLAN.replace("power = \"5 W\"", "power = \"5 dBm\"");
    let weak = weak.replace("power = \"25 W\"", "power = \"15 dBm\"");
    std::fs::write(&file, edit(&weak)).unwrap();
    let (plan, terrain) = open_plan(&file);
    let (channel, site) = (&plan.channels[0], &plan.sites[0]);
    let station = Terminal::at_site(&plan, channel, site, &terrain).unwrap();
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let (with, stop) = (Propagator::new(&plan.prediction), AtomicBool::new(false));
    let near = cells_around(terrain.grid(), site.at, 22);
    cover(&terrain, &near, &model, &with, &|| (), &stop).unwrap()
}

/// One replacement in a plan that has it.
fn swap(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "no {from}");
    text.replacen(from, to, 1)
}

/// As it is, once for all tests.
static BEFORE: LazyLock<Coverage> = LazyLock::new(|| coverage(str::to_owned));

/// How much more a margin became, at least and at most over all cells.
fn gain(before: &Array2<f32>, after: &Array2<f32>) -> (f64, f64) {
    let known = before.iter().zip(after).filter(|(b, _)| !b.is_nan());
    known.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (b, a)| {
        let more = f64::from(*a) - f64::from(*b);
        (low.min(more), high.max(more))
    })
}

/// Margins are single-precision numbers of some hundred decibels.
const ROUNDING: f64 = 1e-4;

/// Changes the plan and holds both margins to these bounds on what they gain,
/// and every cell to no worse an outcome.
fn helps(what: &str, edit: impl Fn(&str) -> String, talk_in: (f64, f64), talk_out: (f64, f64)) {
    let (before, after) = (&*BEFORE, coverage(edit));
    for (way, before, after, (least, most)) in [
        ("in", &before.talk_in_margin, &after.talk_in_margin, talk_in),
        ("out", &before.talk_out_margin, &after.talk_out_margin, talk_out),
    ] {
        let (low, high) = gain(before, after);
        assert!(
            low > least - ROUNDING && high < most + ROUNDING,
            "{what}: talk-{way} gains {low} to {high}, not {least} to {most}"
        );
    }
    assert_eq!(before.unknown_cells, after.unknown_cells);
    assert!(before.outcome.iter().zip(&after.outcome).all(|(b, a)| a >= b), "{what}");
    let probabilities = before.probability.iter().zip(&after.probability);
    assert!(probabilities.clone().all(|(b, a)| b.is_nan() || *a >= *b - 1e-6), "{what}");
    assert!(probabilities.filter(|(b, a)| a > b).count() > 100, "{what} changed nothing");
}

const NONE: (f64, f64) = (0.0, 0.0);

fn exactly(db: f64) -> (f64, f64) {
    (db, db)
}

/// A decibel of power is a decibel of margin that way, and none the other way.
#[test]
fn power_is_margin_one_way() {
    helps(
        "station's power",
        |t| swap(t, "power = \"15 dBm\"", "power = \"18.5 dBm\""),
        NONE,
        exactly(3.5),
    );
    helps(
        "carried power",
        |t| swap(t, "power = \"5 dBm\"", "power = \"12 dBm\""),
        exactly(7.0),
        NONE,
    );
}

/// A decibel of gain is one of margin both ways, as long as the pattern stays the
/// same and the antenna wastes nothing. The carried whip wastes 5 dB: of the
/// noise around it too, so that where it hears, a better whip brings in more
/// noise with the signal and helps by less (ITU-R P.372 section 2).
#[test]
fn gain_is_margin_both_ways() {
    // A dipole's pattern does not hang on its gain.
    let dipole =
        |t: &str, gain: &str| swap(t, "{ gain = \"3 dBd\", pattern = \"collinear\" }", gain);
    let low = coverage(|t| dipole(t, "{ gain = \"2 dBd\", pattern = \"dipole\" }"));
    let high = coverage(|t| dipole(t, "{ gain = \"6 dBd\", pattern = \"dipole\" }"));
    for (low, high) in
        [(&low.talk_in_margin, &high.talk_in_margin), (&low.talk_out_margin, &high.talk_out_margin)]
    {
        let (least, most) = gain(low, high);
        assert!((least - 4.0).abs() < ROUNDING && (most - 4.0).abs() < ROUNDING, "{least} {most}");
    }
    assert!(low.outcome.iter().zip(&high.outcome).all(|(low, high)| high >= low));
    helps("carried gain", |t| swap(t, "\"-5 dBd\"", "\"-2 dBd\""), exactly(3.0), (0.0, 3.0));
}

/// Losses at the body count the same both ways; a filter's once each way, and
/// where it hears it keeps out noise as well.
#[test]
fn losses_count_both_ways() {
    let worn = "carry = \"shoulder\"";
    // 7 dB at the shoulder, from the table.
    helps(
        "body",
        |t| swap(t, worn, "carry = \"shoulder\"\nbody_loss = \"2 dB\""),
        exactly(5.0),
        exactly(5.0),
    );
    helps("filter", |t| swap(t, "\"1.5 dB\"", "\"0.5 dB\""), (0.0, 1.0), exactly(1.0));
}

/// Less noise helps where it is heard, and quieter surroundings both ways.
#[test]
fn less_noise_never_hurts() {
    // The hand-held's line is the first. A quarter less is 2.5 dB.
    helps("sensitivity", |t| swap(t, "\"0.25 uV\"", "\"0.1875 uV\""), NONE, (0.0, 2.5));
    let quiet = |t: &str| swap(t, "[map]", "[prediction]\nenvironment = \"rural\"\n\n[map]");
    // 72.5 dB less 67.2 dB: P.372, residential and rural.
    helps("surroundings", quiet, (0.0, 5.3), (0.0, 5.3));
}

/// What is asked counts by decibels too: 26 dB against 23 dB of carrier over
/// noise (TIA TSB-88, from memory), and 1.645 against 1.282 deviations of 7.5 dB
/// (5.6 over places, 5 of model error) for 95 % and 90 % of the spots (any table of the normal distribution).
#[test]
fn asking_for_less_never_hurts() {
    let ask = |line: &'static str| {
        move |t: &str| swap(t, "[map]", &format!("[prediction]\n{line}\n\n[map]"))
    };
    helps("quality", ask("audio_quality = \"3.0\""), exactly(3.0), exactly(3.0));
    let (before, after) = (&*BEFORE, coverage(ask("reliability = \"90 %\"")));
    for (before, after) in [
        (&before.talk_in_margin, &after.talk_in_margin),
        (&before.talk_out_margin, &after.talk_out_margin),
    ] {
        let (low, high) = gain(before, after);
        let expected = (1.644_854 - 1.281_552) * 5.6f64.hypot(5.0);
        assert!((low - expected).abs() < 1e-3 && (high - expected).abs() < 1e-3, "{low} {high}");
    }
    // As many spots work as before, and fewer of them are enough.
    let spots = before.probability.iter().zip(&after.probability);
    assert!(spots.into_iter().all(|(b, a)| (b - a).abs() < 1e-5));
    assert!(before.outcome.iter().zip(&after.outcome).all(|(b, a)| a >= b));
}
