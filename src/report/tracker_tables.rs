//! Trackers along their routes, as text.

use comfy_table::Table;
use perchline_plan::UnitSystem;
use perchline_siting::trackers::{
    AlongRoute, ChannelLoad, Digipeater, OneMore, Silence, TrackerScore, TrackerStudy,
};
use perchline_units::Seconds;

use super::screen::{Rows, Screen};
use super::tables::table;
use super::words::{percent, spots};

/// Everything about one packet channel's trackers.
#[must_use]
pub fn tracker_screen(event: &str, study: &TrackerStudy, units: UnitSystem) -> Screen {
    let sites: Vec<_> = study.digipeaters.iter().map(|d| d.site.as_str()).collect();
    let title = format!(
        "{event}: trackers on channel {}, digipeater on {}\n",
        study.channel,
        sites.join(" and ")
    );
    let heard: Vec<String> = study.digipeaters.iter().map(heard).collect();
    let silent = |score: &TrackerScore| score.along.longest_silence().is_some();
    let silences = study.trackers.iter().map(|score| silence(score, units)).collect();
    Screen::new(title)
        .rows(Rows::lines("", heard, "digipeaters"))
        .rows(Rows::of("", scores(&study.trackers), "trackers"))
        .rows(
            Rows::lines("", silences, "trackers without a silent stretch")
                .failing(study.trackers.iter().map(silent), "with silent stretches")
                .called("silent stretches"),
        )
        .and(one_more(&study.one_more, units))
        .long_only("the channel's load", load(&study.load, &study.trackers))
}

/// What one digipeater hears, and who hears it.
fn heard(digipeater: &Digipeater) -> String {
    let mut text = String::new();
    if !digipeater.available {
        text += &format!("{} is not available, the plan says.\n", digipeater.site);
    }
    let often = match digipeater.repeats {
        once if once <= 1.0 => "once".to_owned(),
        more => format!("{more:.0} times, as digipeaters repeat each other's"),
    };
    text += &format!(
        "{} should hear about {:.0} of the trackers' beacons an hour and sends each {often}. perchline power counts so many for a station that the plan puts there, and all that are sent in the poor case.\n",
        digipeater.site, digipeater.heard_an_hour
    );
    if let Some(told) = net_control_hears(digipeater) {
        text += &format!("{told}\n");
    }
    text
}

/// Who reads positions, and how likely the digipeater is heard there.
pub(super) fn net_control_hears(digipeater: &Digipeater) -> Option<String> {
    let heard = digipeater.to_net_control.as_ref()?;
    Some(match heard.share {
        Some(share) => format!(
            "{} should hear the digipeater on {} in {} spots.",
            heard.post,
            digipeater.site,
            spots(share)
        ),
        None => format!(
            "Whether {} hears {} is not known: terrain is missing on the way.",
            heard.post, digipeater.site
        ),
    })
}

fn scores(trackers: &[TrackerScore]) -> Table {
    let mut out = table(
        [
            "Tracker",
            "Route",
            "Heard",
            "Lost to collisions",
            "Get through",
            "Unknown",
            "Longest silence",
        ],
        &[2, 3, 4, 5, 6],
    );
    for score in trackers {
        let heard = percent(score.along.heard);
        let most = percent(score.heard_at_most);
        out.add_row([
            score.tracker.clone(),
            score.route.clone(),
            if heard == most { heard } else { format!("{heard} to {most}") },
            percent(score.lost_to_others),
            percent(score.through),
            percent(score.along.unknown),
            score.along.longest_silence().map_or_else(|| "none".to_owned(), |s| minutes(s.lasts_s)),
        ]);
    }
    out
}

/// Where a tracker is not heard, and how long nobody knows where it is.
fn silence(score: &TrackerScore, units: UnitSystem) -> String {
    let Some(longest) = score.along.longest_silence() else {
        return format!("{}: no silent stretch on {}.\n", score.tracker, score.route);
    };
    let stretch =
        |s: &Silence| format!("{} to {}", units.distance(s.from_m), units.distance(s.to_m));
    let others: Vec<String> =
        score.along.silences.iter().filter(|s| *s != longest).map(stretch).collect();
    let others = match others.as_slice() {
        [] => String::new(),
        some => format!(" Shorter ones: {}.", some.join(", ")),
    };
    format!(
        "{}: silent for {} of {} of {}, from {}: {}, up to {} from one position to the next.{others}\n",
        score.tracker,
        units.distance(longest.length()),
        units.distance(score.route_m),
        score.route,
        stretch(longest),
        minutes(longest.lasts_s),
        minutes(longest.lasts_s + score.every_s),
    )
}

fn one_more(others: &[OneMore], units: UnitSystem) -> Screen {
    if others.is_empty() {
        return Screen::new("\nNo other site may be used for one more digipeater.\n");
    }
    let mut out = table(
        ["One more digipeater on", "More heard", "More get through", "Longest silence", "Where"],
        &[1, 2, 3],
    );
    for other in others {
        let worst = other
            .trackers
            .iter()
            .filter_map(|t| Some((t, t.along.longest_silence()?)))
            .reduce(|a, b| if b.1.lasts_s > a.1.lasts_s { b } else { a });
        out.add_row([
            other.site.clone(),
            format!("{:+.1} %", other.heard_gain * 100.0),
            format!("{:+.1} %", other.gain * 100.0),
            worst.map_or_else(|| "none".to_owned(), |(_, s)| minutes(s.lasts_s)),
            worst.map_or_else(String::new, |(t, s)| {
                let (from, to) = (units.distance(s.from_m), units.distance(s.to_m));
                format!("{}, {from} to {to}", t.tracker)
            }),
        ]);
    }
    Screen::default().rows(Rows::of("\n", out, "sites"))
}

fn load(load: &ChannelLoad, trackers: &[TrackerScore]) -> String {
    let worst = trackers
        .iter()
        .zip(load.lost.iter().zip(&load.lost_slotted))
        .max_by(|a, b| a.1.0.total_cmp(b.1.0));
    let lost = worst.map_or_else(String::new, |(tracker, (lost, slotted))| {
        format!(
            "Of the beacons of {} {:.1} % are lost to collisions; {:.1} % in satellite-timed slots.\n",
            tracker.tracker,
            lost * 100.0,
            slotted * 100.0
        )
    });
    let (tolerated, least) = (
        ChannelLoad::TOLERATED * 100.0,
        load.least_interval_s.map_or_else(String::new, |s| {
            let slotted = load.least_interval_slotted_s.unwrap_or(s);
            format!(", {:.0} s with slots", slotted.value().ceil())
        }),
    );
    let rate = match load.least_interval_s {
        Some(interval) => format!(
            "To lose {tolerated:.0} % at the most, every tracker beacons once in {:.0} s or less often{least}.\n",
            interval.value().ceil()
        ),
        None => String::new(),
    };
    format!(
        "\nChannel load: {} trackers, {:.0} beacons an hour, each on the air {:.1} times with its repeats; G = {:.3}.\n{lost}{rate}Silent: fewer than {:.0} % of beacons from there are heard.\n",
        load.senders,
        load.packets_an_hour,
        load.copies,
        load.load,
        AlongRoute::SILENT_UNDER * 100.0
    )
}

/// A stretch of time in minutes, in seconds when it is short.
pub(super) fn minutes(time: Seconds) -> String {
    if time.value() < 90.0 {
        format!("{:.0} s", time.value().ceil())
    } else {
        format!("{:.0} min", time.minutes().ceil())
    }
}
