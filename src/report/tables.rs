//! Results as tables for a terminal.

use comfy_table::{Cell, CellAlignment, LineStyle, Table, TableStyle};

use perchline_assessment::{Assessment, RoofConflict};
use perchline_link::{Budget, NoiseSource, PathStudy};
use perchline_plan::{Plan, Remark, UnitSystem};
use perchline_propagation::method;
use perchline_siting::{Loss, PostScore, Ranking, Remedy, RouteScore, SiteScore, Stretch};
use perchline_units::Metres;

use super::text_lines::wrapped;
use super::{Provenance, words};

/// A rule under the header and nothing else.
const STYLE: TableStyle =
    TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─'));

pub(super) fn table<T: Into<Cell>>(header: impl IntoIterator<Item = T>, right: &[usize]) -> Table {
    let mut table = Table::new();
    table.load_style(STYLE).set_header(header.into_iter().collect::<Vec<T>>());
    for index in right {
        if let Some(column) = table.column_mut(*index) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// What a result rests on: a line for people, and the files for whoever checks it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Made {
    by: String,
    from: String,
}

impl Made {
    /// Of a result that rests on a prediction.
    #[must_use]
    pub fn with(plan: &Plan, provenance: &Provenance) -> Self {
        let prediction = &plan.prediction;
        let quality = prediction.audio_quality.word();
        let model_error = match provenance.model_error_db {
            error if error.value() > 0.0 => format!(", model error {error:.1}"),
            _ => String::new(),
        };
        let counts_climate = method(provenance.method).is_some_and(|m| m.counted().climate);
        let climate = if counts_climate {
            format!(", {} of the time, {}", provenance.time_percent, provenance.n0)
        } else {
            String::new()
        };
        let [program, from] = made_parts(provenance);
        let by = format!(
            "{program}; method {}, k {:.2}{climate}; voice at DAQ {quality} in {:.1} % of locations, spread {:.1}{model_error}",
            provenance.method,
            provenance.k_factor,
            prediction.reliability * 100.0,
            provenance.location_spread_db,
        );
        Self { by, from }
    }

    /// The same without a relay, at the audio quality of the fallback.
    #[must_use]
    pub fn without_relay(plan: &Plan, provenance: &Provenance) -> Self {
        let mut plan = plan.clone();
        plan.prediction.audio_quality = plan.fallback.audio_quality;
        Self::with(&plan, provenance)
    }

    /// Of a result that rests on no prediction.
    #[must_use]
    pub fn from(provenance: &Provenance) -> Self {
        let [by, from] = made_parts(provenance);
        Self { by, from }
    }

    /// For a terminal: lines of 80 letters at most.
    #[must_use]
    pub fn on_screen(&self) -> String {
        wrapped(&self.by, 80, 2).iter().map(|line| format!("{line}\n")).collect()
    }

    /// For a file: with the digests of the files that it is from.
    #[must_use]
    pub fn in_file(&self) -> String {
        format!("{}\n{}\n", self.by, self.from)
    }
}

/// What a result rests on, in a few lines: for a file that has room for no more.
#[must_use]
pub fn made_with(plan: &Plan, provenance: &Provenance) -> String {
    missing(plan) + &Made::with(plan, provenance).in_file()
}

/// What the plan lacks that every prediction suffers from, in a line, if anything.
#[must_use]
pub fn missing(plan: &Plan) -> String {
    words::heading(plan.houses()).map(|line| format!("{line}\n")).unwrap_or_default()
}

/// Who made it and when, and from what.
fn made_parts(provenance: &Provenance) -> [String; 2] {
    let inputs: Vec<_> = provenance
        .inputs
        .iter()
        .map(|i| {
            let digest: String = i.sha256.chars().take(12).collect();
            format!("{} ({digest})", i.name())
        })
        .collect();
    [
        format!("made {} by {} {}", provenance.made_at, provenance.program, provenance.version),
        format!("from {}", inputs.join(", ")),
    ]
}

/// How one site does, in a line.
#[must_use]
pub fn site_headline(site: &SiteScore) -> String {
    let missed = site.missed_must_posts();
    let must = match missed.as_slice() {
        [] => String::new(),
        posts => format!("; must-have posts missed: {}", posts.join(", ")),
    };
    let available = if site.available { "" } else { "NOT AVAILABLE; " };
    format!(
        "{available}{} of {} posts clear both ways, weighted coverage {}{must}",
        site.posts_covered,
        site.counted_posts().count(),
        words::contact(site.weighted_probability)
    )
}

/// The ranking, one line a site, best first.
#[must_use]
pub fn ranking_table(ranking: &Ranking, units: UnitSystem) -> String {
    let mut out = table(
        [
            "",
            "Site",
            "Posts clear",
            "Must-have",
            "Coverage",
            "Map",
            "Antenna",
            "Worst post",
            "Margin",
        ],
        &[0, 2, 4, 5, 6, 8],
    );
    for (place, site) in ranking.sites.iter().enumerate() {
        let worst =
            site.worst_post.as_deref().and_then(|w| site.posts.iter().find(|p| p.post == w));
        out.add_row([
            (place + 1).to_string(),
            if site.available {
                site.site.clone()
            } else {
                format!("{} (not available)", site.site)
            },
            format!("{} of {}", site.posts_covered, site.counted_posts().count()),
            if site.must_posts_met { "all clear" } else { "missed" }.to_owned(),
            words::contact(site.weighted_probability),
            site.map_share.map_or_else(|| "-".to_owned(), words::percent),
            units.height(site.antenna_above_ground_m),
            worst.map_or_else(String::new, |p| p.post.clone()),
            worst.map_or_else(String::new, margin),
        ]);
    }
    format!("{}\n", out.trim_fmt())
}

/// Names of posts that a line lists at most.
const MOST_NAMED: usize = 4;

/// Why each other site is not the first: what it loses against it, one a line.
#[must_use]
pub fn why_not_lines(ranking: &Ranking, units: UnitSystem) -> String {
    let Some(first) = ranking.sites.first().filter(|_| !ranking.losses.is_empty()) else {
        return String::new();
    };
    let aside = match first.posts.len() - first.counted_posts().count() {
        0 => String::new(),
        n => format!(" ({n} posts that no tracker passes do not count)"),
    };
    let lines: String = ranking.losses.iter().map(|loss| why_not(loss, units)).collect();
    format!("What the others lose against {}{aside}\n{lines}", first.site)
}

fn why_not(loss: &Loss, units: UnitSystem) -> String {
    let may_not = (!loss.available).then(|| "may not be used".to_owned());
    let must = (!loss.must_posts.is_empty())
        .then(|| format!("misses must-have {}", named(&loss.must_posts)));
    let lost: Vec<String> =
        loss.posts.lost.iter().filter(|post| !loss.must_posts.contains(post)).cloned().collect();
    let posts = |names: &[String], other: &str| {
        let posts = if names.len() == 1 { "post" } else { "posts" };
        format!("{}{other} {posts} ({})", names.len(), named(names))
    };
    let other = if must.is_some() { " other" } else { "" };
    let lost = (!lost.is_empty()).then(|| format!("loses {}", posts(&lost, other)));
    let gained =
        (!loss.posts.gained.is_empty()).then(|| format!("gains {}", posts(&loss.posts.gained, "")));
    let route = loss.route_m.map(|route| {
        let more = if route.value() > 0.0 { "more" } else { "less" };
        let length = Metres::new(route.value().abs());
        format!("{} {more} of route without contact", units.distance(length))
    });
    let margin = loss.margin.as_ref().map(|margin| match margin.behind_db {
        Some(db) => format!("{db:.1} less margin at {}", margin.post),
        None => format!("not known at {}", margin.post),
    });
    let contact = (loss.weighted_probability.abs() >= 5e-4)
        .then(|| format!("{:+.1} % of weighted coverage", -loss.weighted_probability * 100.0));
    let all = [may_not, must, lost, gained, route, margin, contact];
    let all: Vec<String> = all.into_iter().flatten().collect();
    let all = if all.is_empty() { "as good".to_owned() } else { all.join("; ") };
    format!("  {}: {all}\n", loss.site)
}

/// The first few of some names.
fn named(names: &[String]) -> String {
    words::first_of(names, MOST_NAMED)
}

/// The places of the sites with duplexers of a stated isolation, where the plan
/// states none; nothing otherwise.
#[must_use]
pub fn duplexer_table(ranking: &Ranking) -> String {
    let tried = &ranking.with_duplexers;
    if tried.is_empty() {
        return String::new();
    }
    let headers = tried.iter().map(|with| format!("With {:.0}", with.isolation_db));
    let header = ["Site".to_owned(), "Perfect duplexer".to_owned()].into_iter().chain(headers);
    let right: Vec<usize> = (1..=1 + tried.len()).collect();
    let mut out = table(header, &right);
    let entry = |place: usize, probability: f64, met: bool| {
        let missed = if met { "" } else { ", must-have missed" };
        format!("{place}: {}{missed}", words::contact(probability))
    };
    for (place, site) in ranking.sites.iter().enumerate() {
        let perfect = entry(place + 1, site.weighted_probability, site.must_posts_met);
        let with = tried.iter().map(|with| {
            let found = with.sites.iter().find(|s| s.site == site.site);
            found.map_or_else(String::new, |s| {
                entry(s.position, s.weighted_probability, s.must_posts_met)
            })
        });
        out.add_row([site.site.clone(), perfect].into_iter().chain(with));
    }
    format!("\nPlace and weighted coverage by the duplexer's isolation\n{}\n", out.trim_fmt())
}

/// Posts, areas and routes of one site: a line each, then for each post why it
/// works or not and what would fix it.
#[must_use]
pub fn site_tables(site: &SiteScore, units: UnitSystem) -> String {
    let mut posts = table(
        [
            "Post",
            "Outcome",
            "Works in spots",
            "Sure",
            "Margin",
            "Limiting",
            "Distance",
            "Line of sight",
        ],
        &[2, 3, 4, 6],
    );
    for post in &site.posts {
        posts.add_row([
            if post.must { format!("{} *", post.post) } else { post.post.clone() },
            words::short(post.outcome).to_owned(),
            post.probability.map_or_else(|| "?".to_owned(), words::spots),
            post.sure.map_or_else(|| "?".to_owned(), words::sure),
            margin(post),
            post.budgets.as_ref().map_or("", |b| words::way(b.governing)).to_owned(),
            units.distance(post.distance_m),
            post.line_of_sight.map_or("?", |seen| if seen { "yes" } else { "no" }).to_owned(),
        ]);
    }
    let mut shares = table(
        ["Area or route", "Clear both ways", "Coverage", "Points sampled", "Unknown"],
        &[1, 2, 3, 4],
    );
    for share in site.areas.iter().chain(site.routes.iter().map(|r| &r.share)) {
        shares.add_row([
            share.name.clone(),
            words::percent(share.share),
            words::contact(share.probability),
            share.samples.to_string(),
            share.unknown.to_string(),
        ]);
    }
    let shares = if site.areas.is_empty() && site.routes.is_empty() {
        String::new()
    } else {
        format!("\n{}\n{}", shares.trim_fmt(), route_table(&site.routes, units))
    };
    let starred = if site.posts.iter().any(|p| p.must) { " * must work\n" } else { "" };
    let why: String = site.posts.iter().map(|post| why(post, units)).collect();
    format!("{}\n{starred}{shares}\n Why:\n{why}", posts.trim_fmt())
}

/// What somebody who walks each route has to expect.
fn route_table(routes: &[RouteScore], units: UnitSystem) -> String {
    if routes.is_empty() {
        return String::new();
    }
    let mut out = table(
        ["Route", "Length", "Without contact", "Longest gap", "from", "to"],
        &[1, 2, 3, 4, 5],
    );
    for route in routes {
        let gap = |value: fn(Stretch) -> Metres| {
            route.longest_gap.map_or_else(|| "none".to_owned(), |gap| units.distance(value(gap)))
        };
        out.add_row([
            route.share.name.clone(),
            units.distance(route.length_m),
            units.distance(route.expected_without_contact_m),
            gap(Stretch::length),
            gap(|g| g.from_m),
            gap(|g| g.to_m),
        ]);
    }
    format!("\n{}\n", out.trim_fmt())
}

fn margin(post: &PostScore) -> String {
    post.governing_margin_db.map_or_else(|| "?".to_owned(), |margin| format!("{margin:.1}"))
}

fn why(post: &PostScore, units: UnitSystem) -> String {
    let fix = post
        .remedy
        .as_ref()
        .map_or_else(String::new, |r| format!("   to fix it: {}\n", remedy_words(r, units)));
    let model = post
        .budgets
        .as_ref()
        .map(|budgets| budgets.governing_budget().model)
        .filter(|model| !model.is_the_method())
        .map_or_else(String::new, |model| format!("; a short path: method {model}"));
    format!(" {}: {}{model}\n{fix}", post.post, post.reason)
}

/// What would make a failing post work, in words.
fn remedy_words(remedy: &Remedy, units: UnitSystem) -> String {
    let mast = match (remedy.extra_mast_m, remedy.refused_by_line_m) {
        (Some(extra), _) => {
            format!("{} more mast, or {:.1} from elsewhere", units.height(extra), remedy.missing_db)
        }
        (None, Some(extra)) => format!(
            "{:.1} more: no mast, the power line there refuses the {} more that it takes",
            remedy.missing_db,
            units.height(extra)
        ),
        (None, None) => format!(
            "{:.1} more: no mast up to {} does it",
            remedy.missing_db,
            units.height(Remedy::HIGHEST_MAST)
        ),
    };
    match remedy.other_sites.as_slice() {
        [] => format!("{mast}; no other site reaches it"),
        sites => {
            let more = match remedy.more_other_sites {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            format!("{mast}; reached from {}{more}", sites.join(", "))
        }
    }
}

/// The ends of a link, its length, and what the ground leaves of the view.
pub(super) fn path_headline(study: &PathStudy, units: UnitSystem) -> String {
    let view = match study.clearance {
        Some(c) if c.line_of_sight => format!(
            "in view; least clearance {:.2} of the first Fresnel radius, {} from {}",
            c.worst_ratio,
            units.distance(c.worst_distance),
            study.from.name
        ),
        Some(c) => format!(
            "out of view: ground first blocks it {} from {}; at the worst point it blocks line of sight by {}",
            c.first_obstruction.map_or_else(String::new, |(d, _)| units.distance(d)),
            study.from.name,
            units.height(-c.worst_clearance)
        ),
        None => "too short for any ground between".to_owned(),
    };
    format!(
        "{} to {} on {}: {}, bearing {:.0}° true, {view}",
        study.from.name,
        study.to.name,
        study.channel,
        units.distance(study.distance),
        study.bearing.value()
    )
}

/// Both budgets of one link, line by line.
#[must_use]
pub fn path_tables(study: &PathStudy, units: UnitSystem) -> String {
    let budgets = [&study.budgets.talk_in, &study.budgets.talk_out];
    let edges: String = study
        .edges
        .iter()
        .map(|e| {
            format!(
                "  edge {} from {}, {} above sea: nu {:.2}, {:.1}\n",
                units.distance(e.distance),
                study.from.name,
                units.height(e.height),
                e.nu,
                e.loss
            )
        })
        .collect();
    format!(
        "{}\npropagation method {}\n{edges}{}{}\n{}: works both ways in {} spots; {} sure that {} do. The limiting direction, {}, has a margin of {:.1}.\n",
        path_headline(study, units),
        words::method_of(study),
        budget_table(study, budgets[0]),
        budget_table(study, budgets[1]),
        words::short(study.budgets.outcome),
        words::spots(study.budgets.probability),
        words::sure(study.budgets.sure),
        words::per_hundred(study.budgets.wanted),
        words::way_of(study, study.budgets.governing),
        study.budgets.governing_budget().margin_db,
    )
}

fn budget_table(study: &PathStudy, budget: &Budget) -> String {
    let way = words::way_of(study, budget.direction);
    let title = format!("{way} at {:.3}", budget.frequency_mhz);
    let mut out = table([title.as_str(), "Change", "Level"], &[1, 2]);
    let mut row = |label: String, change: String, level: String| {
        out.add_row([label, change, level]);
    };
    row("transmitter output".into(), String::new(), format!("{:.1}", budget.power_dbm));
    for line in &budget.lines {
        row(
            line.label.clone(),
            format!("{:+.1}", line.change_db),
            format!("{:.1}", line.level_dbm),
        );
    }
    let noise = budget.noise;
    let source = match noise.governed_by {
        NoiseSource::Receiver => "the receiver's own governs",
        NoiseSource::Environment => "the surroundings govern",
    };
    row(
        format!(
            "noise{}: receiver {:.1}, surroundings {:.1} ({source}, cost {:.1})",
            if noise.measured { " as measured" } else { "" },
            noise.receiver_dbm,
            noise.environment_dbm,
            noise.environment_cost_db
        ),
        String::new(),
        format!("{:.1}", noise.total_dbm),
    );
    if let Some(roof) = noise.roof_dbm {
        row(
            format!("in it, transmitters on the same roof: {roof:.1}"),
            format!("{:+.1}", noise.roof_cost_db),
            String::new(),
        );
    }
    if let Some(desense) = noise.desense_at_times {
        row(
            format!(
                "not in it: {:.1} of desense while the roof's own transmitters send, {} of the time",
                desense.cost_db,
                words::share_of_time(desense.share)
            ),
            String::new(),
            String::new(),
        );
    }
    row(
        "level needed for the wanted quality".into(),
        format!("{:+.1}", budget.required_over_noise_db),
        format!("{:.1}", budget.required_dbm),
    );
    row(
        "location allowance".into(),
        format!("{:+.1}", -budget.reliability_allowance_db),
        String::new(),
    );
    row(
        format!("margin (works in {} spots)", words::spots(budget.share_of_locations)),
        String::new(),
        format!("{:+.1}", budget.margin_db),
    );
    format!("{}\n", out.trim_fmt())
}

/// What stands above a result that rests on a prediction: what the plan lacks, and the
/// remarks that may turn it over.
#[must_use]
pub fn heading(assessment: &Assessment) -> String {
    missing(&assessment.plan) + &remark_lines(assessment.foremost())
}

/// Remarks, one a line.
#[must_use]
pub fn remark_lines(remarks: &[Remark]) -> String {
    remarks.iter().map(|r| format!("note: {}: {}\n", r.about, r.text)).collect()
}

/// What a plan holds, for `check`.
#[must_use]
pub fn plan_summary(plan: &Plan) -> String {
    let count =
        |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
    format!(
        "{}: {} to {}, tear-down {} ({})\n{}, {}, {}, {}, {}, {}\n",
        plan.event.name,
        plan.event.starts.strftime("%Y-%m-%d %H:%M"),
        plan.event.ends.strftime("%H:%M"),
        plan.event.tear_down.strftime("%H:%M"),
        plan.event.starts.time_zone().iana_name().unwrap_or("fixed offset"),
        count(plan.sites.len(), "candidate site", "candidate sites"),
        count(plan.posts.len(), "post", "posts"),
        count(plan.areas.len(), "staging area", "staging areas"),
        count(plan.routes.len(), "route", "routes"),
        count(plan.radios.len(), "radio", "radios"),
        count(plan.channels.len(), "channel", "channels"),
    )
}

/// Where channels lead on one roof and disturb each other there, a sentence each.
#[must_use]
pub fn roof_conflict_lines(conflicts: &[RoofConflict]) -> String {
    let line = |conflict: &RoofConflict| {
        let RoofConflict { site, from, to, desense_db, channel, instead, .. } = conflict;
        let overloaded = if conflict.overloaded { " or more (front end overloaded)" } else { "" };
        let instead = match instead {
            Some(other) => {
                format!("Put channel {channel} on another site; {other} is its next best.")
            }
            None if conflict.kept_together => {
                "The plan keeps the two beside each other: filter them, or separate them."
                    .to_owned()
            }
            None => format!("No other site for channel {channel} may be used."),
        };
        format!(
            "Not both on {site}: there {from} desenses {to} by {desense_db:.1}{overloaded}. {instead} perchline cosite and perchline choose tell more.\n"
        )
    };
    conflicts.iter().map(line).collect()
}
