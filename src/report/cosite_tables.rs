//! Shared roofs, intermodulation products, exposure and masts as tables for a terminal.

use perchline_plan::{ExposureStandard, Plan, UnitSystem};
use perchline_power::exposure::{Distances, StationExposure, averaging_minutes};
use perchline_power::mast::{FOOT_SIDE, WindLoad};
use perchline_power::products::formula;
use perchline_power::sharing::{DuplexerNeed, Interference, Roofmates, TOLERATED};

use super::cautions::Output;
use super::place_words::both;
use super::screen::{Rows, Screen};
use super::tables::table;

pub use perchline_assessment::CositeFindings;

/// What the wind on a mast is.
const ESTIMATED: &str = "An estimate, no structural design: an exposed roof, ice or a sail of cables makes it worse. The mast comes down before the wind reaches the gust above.";

/// The findings as one text.
#[must_use]
pub fn cosite_screen(plan: &Plan, findings: &CositeFindings) -> Screen {
    let units = plan.units;
    let mut screen = Screen::new(format!("{}: sharing a roof and the air\n\n", plan.event.name));
    for roof in &findings.roofs {
        screen = screen.and(roof_screen(roof, units));
    }
    let duplexers = findings.duplexers.iter().map(duplexer_line).collect();
    screen
        .rows(Rows::lines("", duplexers, "duplexers"))
        .and(products_screen(findings))
        .and(exposure_screen(&findings.exposure, units))
        .and(mast_screen(&findings.masts, units))
        .cautions(plan, Output::Cosite)
}

fn roof_screen(roof: &Roofmates, units: UnitSystem) -> Screen {
    let names = roof.stations.join(", ");
    let title = match (&roof.site, roof.settled) {
        (Some(site), _) => format!("On {site}: {names}"),
        (None, true) => format!("Together, on whichever roof: {names}"),
        (None, false) if roof.stations.len() > 1 => format!("If they shared a roof: {names}"),
        (None, false) => format!("On a roof of its own: {names}"),
    };
    if roof.pairs.is_empty() {
        return Screen::new(format!(
            "{title}\n nothing there transmits into a receiver of another\n\n"
        ));
    }
    let mut out = table(
        ["Transmits", "Listens", "Split", "Apart", "Isolation", "Level", "Desense"],
        &[2, 4, 5, 6],
    );
    for pair in &roof.pairs {
        let split = (pair.transmit_mhz.value() - pair.receive_mhz.value()).abs();
        out.add_row([
            pair.from.clone(),
            pair.to.clone(),
            format!("{split:.3} MHz"),
            pair.separation.map_or_else(
                || "duplexer".to_owned(),
                |s| format!("{} along, {} up", units.height(s.along_m), units.height(s.height_m)),
            ),
            format!("{:.0}", pair.isolation_db),
            format!("{:.0}", pair.level_dbm),
            format!("{:.1}", pair.desense_db),
        ]);
    }
    let notes: String = roof.pairs.iter().map(pair_notes).collect();
    let to_fix = roof.pairs.iter().filter(|pair| pair.missing_db.is_some());
    let fixes = to_fix
        .clone()
        .map(|pair| format!(" To fix {} in {}: {}\n", pair.from, pair.to, fix_words(pair, units)));
    let bad = || roof.pairs.iter().map(Interference::is_too_much);
    let fixes = Rows::lines("", fixes.collect(), "")
        .failing(to_fix.map(Interference::is_too_much), "fixes")
        .only_failing();
    Screen::default()
        .rows(
            Rows::of(title + "\n", out, "pairs with nothing to fix")
                .failing(bad(), "to fix")
                .called("pairs"),
        )
        .rows(fixes)
        .long_only("what governs each pair", notes)
        .both("\n")
}

/// What would bring a pair down to the tolerated desense.
fn fix_words(pair: &Interference, units: UnitSystem) -> String {
    let Some(missing) = pair.missing_db else { return "nothing to fix".to_owned() };
    let mut ways = Vec::new();
    if let Some(along) = pair.move_along_m {
        ways.push(format!("move it {} along", units.height(along)));
    }
    if let Some(up) = pair.move_up_m {
        ways.push(format!("{} in height", units.height(up)));
    }
    let filters = match (pair.transmit_filter_db, pair.receive_filter_db) {
        _ if pair.on_channel => "another channel: no filter helps on the same one".to_owned(),
        _ if pair.separation.is_none() => format!("{missing:.0} more in the duplexer"),
        (Some(transmit), Some(receive)) => {
            format!("filters of {transmit:.0} on {} and {receive:.0} on {}", pair.from, pair.to)
        }
        (Some(transmit), None) => format!("a filter of {transmit:.0} on {}", pair.from),
        (None, Some(receive)) => format!("a filter of {receive:.0} on {}", pair.to),
        (None, None) => String::new(),
    };
    ways.push(filters);
    ways.join(", or ")
}

fn pair_notes(pair: &Interference) -> String {
    let mut notes = String::new();
    let of = format!("{} in {}", pair.from, pair.to);
    if pair.missing_db.is_some() {
        notes += &format!(
            " {of}: while it transmits, {:.0} % of the time; the greater part is {}.\n",
            (pair.keyed * 100.0).max(1.0),
            if pair.noise_dbm > pair.blocking_dbm {
                "the transmitter's own noise"
            } else {
                "what its carrier makes in the receiver"
            }
        );
    }
    if pair.overloaded {
        notes += &format!(
            " {of}: {:.0} at its input overloads the receiver: it is worse than stated.\n",
            pair.level_dbm
        );
    }
    if pair.stretched {
        notes += &format!(
            " {of}: the antennas are less than a wavelength apart, nearer than the formulas reach.\n"
        );
    }
    notes
}

fn duplexer_line(need: &DuplexerNeed) -> String {
    let stated = match need.stated_db {
        None => {
            "the plan states none (duplexer = \"80 dB\" in the station's roof table)".to_owned()
        }
        Some(stated) if stated >= need.needed_db => format!("it has {stated:.0}: meets that"),
        Some(stated) => {
            format!("it has {stated:.0}: {:.0} short", need.needed_db - stated)
        }
    };
    format!(
        "{}: over its split of {:.3} the duplexer has to isolate {:.0} for {TOLERATED:.0} of desense; {stated}.\n",
        need.station, need.split_mhz, need.needed_db
    )
}

fn products_screen(findings: &CositeFindings) -> Screen {
    let hits: Vec<_> = findings.products.iter().chain(&findings.harmonics).collect();
    if hits.is_empty() {
        return Screen::new(format!(
            "\nNo product of 2nd, 3rd or 5th order and no harmonic of {} transmit frequencies falls into any of {} channels.\n\n",
            findings.emitters.len(),
            findings.listeners.len()
        ));
    }
    let mut out = table(["Falls into", "Order", "Product", "At", "How"], &[1, 3]);
    let mut grazing = 0;
    for hit in &hits {
        if !hit.inside {
            grazing += 1;
            continue;
        }
        out.add_row([
            findings.listeners.get(hit.listener).map_or_else(String::new, |l| l.name.clone()),
            if hit.terms.len() == 1 {
                format!("{}. harmonic", hit.order)
            } else {
                hit.order.to_string()
            },
            formula(hit, &findings.emitters),
            format!("{:.4} MHz", hit.hertz as f64 / 1e6),
            "inside the channel".to_owned(),
        ]);
    }
    let edge = match grazing {
        0 => String::new(),
        n => format!(
            " {n} more only reach a channel's edge with their swing; they are in the JSON.\n"
        ),
    };
    let change = match &findings.change {
        Some(change) if change.left == 0 => format!(
            " The smallest change that clears all: {} by {:+} (ask your coordinator).\n",
            change.channel, change.shift_khz
        ),
        Some(change) => format!(
            " No change of one channel clears all; {} by {:+} leaves {} (ask your coordinator).\n",
            change.channel, change.shift_khz, change.left
        ),
        None if grazing == hits.len() => String::new(),
        None => " No change of one channel by up to 2 MHz leaves fewer.\n".to_owned(),
    };
    let title = "\nIntermodulation products and harmonics\n";
    let screen = if grazing == hits.len() {
        Screen::new(format!("{title} none lies inside a channel\n"))
    } else {
        Screen::default().rows(Rows::of(title, out, "products"))
    };
    screen.both(edge + &change + "\n")
}

fn exposure_screen(exposures: &[StationExposure], units: UnitSystem) -> Screen {
    if exposures.is_empty() {
        return Screen::default();
    }
    let mut out = table(
        [
            "Station",
            "EIRP",
            "For",
            "Limit",
            "Keyed",
            "with ground",
            "Averaged",
            "with ground",
            "Keep",
        ],
        &[1, 3, 4, 5, 6, 7, 8],
    );
    let mut row = |exposure: &StationExposure, who: &str, d: &Distances| {
        out.add_row([
            exposure.station.clone(),
            format!("{:.0} W", exposure.eirp_w),
            who.to_owned(),
            format!("{:.1} W/m²", d.limit_w_m2),
            units.height(d.keyed_free_m),
            units.height(d.keyed_reflected_m),
            units.height(d.averaged_free_m),
            units.height(d.averaged_reflected_m),
            units.height(d.keep_m),
        ]);
    };
    for exposure in exposures {
        row(exposure, "uncontrolled", &exposure.uncontrolled);
        row(exposure, "controlled", &exposure.controlled);
    }
    let standard = exposures.first().map_or(ExposureStandard::Oet65, |e| e.standard);
    let name = match standard {
        ExposureStandard::Oet65 => "FCC OET Bulletin 65",
        ExposureStandard::Icnirp2020 => "ICNIRP 2020, whole body",
    };
    let minutes = |people| averaging_minutes(standard, people);
    let title = format!(
        "Distance from each antenna in its main beam ({name}; uncontrolled: the general public, averaged over {} min; controlled: the crew, over {} min)\n",
        minutes(perchline_power::exposure::People::Uncontrolled),
        minutes(perchline_power::exposure::People::Controlled),
    );
    Screen::default().rows(Rows::of(title, out, "distances")).both("\n")
}

fn mast_screen(masts: &[WindLoad], units: UnitSystem) -> Screen {
    let Some(first) = masts.first() else { return Screen::default() };
    let mut out = table(
        ["Mast of", "Antenna at", "Area", "Force", "Ballast", "Clear of power lines by"],
        &[1, 2, 3, 4, 5],
    );
    for mast in masts {
        out.add_row([
            mast.station.clone(),
            units.height(mast.height_m),
            units.area(mast.area_m2),
            units.force(mast.force_n),
            both(mast.ballast_kg),
            format!("{} all round", units.height(mast.clear_of_lines_m)),
        ]);
    }
    let gust = if first.gust_is_forecast { "as forecast" } else { "no forecast: taken" };
    let title = format!(
        "Wind on the masts, estimated: gusts of {} ({gust}), ballast on a foot of {} square\n",
        units.wind(first.gust_m_s),
        units.height(FOOT_SIDE),
    );
    Screen::default().rows(Rows::of(title, out, "masts")).both(format!(" {ESTIMATED}\n\n"))
}
