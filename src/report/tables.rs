//! Results as tables for a terminal.

use comfy_table::{
    Cell, CellAlignment, Column, ColumnConstraint, ContentArrangement, LineStyle, Row, Table,
    TableStyle, Width,
};

use perchline_assessment::{Assessment, RoofConflict};
use perchline_link::{Budget, PathStudy};
use perchline_plan::{Plan, Remark, UnitSystem};
use perchline_propagation::method;
use perchline_siting::{Loss, PostScore, Ranking, Remedy, RouteScore, SiteScore, Stretch};
use perchline_units::Metres;

use super::place_words::refused_mast;
use super::screen::{Rows, Screen};
use super::text_lines::{COLUMNS, columns, wrapped};
use super::{Provenance, words};

/// A rule under the header and nothing else.
const STYLE: TableStyle =
    TableStyle::new().header_separator(LineStyle::none().fill('─').junction('─'));

pub(super) fn table<T: Into<Cell>>(header: impl IntoIterator<Item = T>, right: &[usize]) -> Table {
    let mut table = laid_out(Row::from(header.into_iter().collect::<Vec<T>>()));
    for index in right {
        if let Some(column) = table.column_mut(*index) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table
}

/// A table on a terminal: where it would be wider, long cells go on in a second line.
fn laid_out(header: Row) -> Table {
    const WIDTH: u16 = COLUMNS as u16;
    let mut table = Table::new();
    table
        .load_style(STYLE)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH)
        .set_header(header);
    table
}

/// A table as it is printed. One that is too wide has one blank between its columns, and
/// words and numbers stay whole while there is room for them.
pub(super) fn printed(table: &Table) -> String {
    let mut table = table.clone();
    let is_hidden = |column: &Column| matches!(column.constraint(), Some(ColumnConstraint::Hidden));
    let hidden: Vec<bool> = table.column_iter().map(is_hidden).collect();
    let wide = |padding: usize, all: &[usize]| {
        let shown = all.iter().zip(&hidden).filter(|(_, hidden)| !**hidden);
        shown.map(|(wide, _)| wide + padding).sum::<usize>()
    };
    let natural: Vec<usize> =
        table.column_max_content_widths().into_iter().map(usize::from).collect();
    // A blank on both sides, and one between columns.
    if wide(3, &natural) > COLUMNS {
        let of_row = |row: &Row, index: usize| {
            row.cell_iter().nth(index).map_or(0, |cell| longest_word(&cell.content()))
        };
        let least: Vec<usize> = (0..natural.len())
            .map(|index| {
                let rows = table.row_iter().chain(table.header());
                rows.map(|row| of_row(row, index)).max().unwrap_or(0)
            })
            .collect();
        let before = u16::from(wide(2, &least) <= COLUMNS);
        let is_room = wide(1 + usize::from(before), &least) <= COLUMNS;
        for ((column, least), hidden) in table.column_iter_mut().zip(least).zip(&hidden) {
            column.set_padding((before, 0));
            if is_room && !hidden {
                let least = u16::try_from(least).unwrap_or(u16::MAX).saturating_add(before);
                column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(least)));
            }
        }
    }
    table.trim_fmt()
}

/// The columns of the longest part of a cell that stays in one line: a word, or a number
/// with what belongs to it.
fn longest_word(cell: &str) -> usize {
    const NUMBER: usize = 14;
    let is_number = cell.starts_with(|c: char| c.is_ascii_digit() || "+-−±".contains(c));
    if is_number && columns(cell) <= NUMBER {
        return columns(cell);
    }
    cell.split([' ', '\n']).map(columns).max().unwrap_or(0)
}

/// The same table without its rows.
pub(super) fn emptied(table: &Table) -> Table {
    let mut out = laid_out(table.header().cloned().unwrap_or_default());
    for (column, from) in out.column_iter_mut().zip(table.column_iter()) {
        *column = from.clone();
    }
    out
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
        wrapped(&self.by, COLUMNS, 2).iter().map(|line| format!("{line}\n")).collect()
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
    let available = match (site.available, &site.refused_mast) {
        (false, _) => "NOT AVAILABLE; ",
        (true, Some(_)) => "POWER LINE TOO NEAR FOR ITS MAST; ",
        (true, None) => "",
    };
    format!(
        "{available}{} of {} posts clear both ways, weighted coverage {}{must}",
        site.posts_covered,
        site.counted_posts().count(),
        words::contact(site.weighted_probability)
    )
}

/// What stands above a channel's ranking.
#[must_use]
pub fn ranking_title(channel: &str) -> String {
    format!("Sites for channel {channel}, best first; posts and map: share clear both ways\n")
}

/// The ranking, one line a site, best first, under its title; the site on which the
/// station of another channel is in the way is marked.
#[must_use]
pub fn ranking_rows(ranking: &Ranking, conflicts: &[RoofConflict]) -> Rows {
    let mut out = table(
        ["", "Site", "Posts", "Must-have", "Coverage", "Map", "Worst post", "Margin"],
        &[0, 2, 4, 5, 7],
    );
    let conflict = RoofConflict::of(conflicts, ranking);
    for (place, site) in ranking.sites.iter().enumerate() {
        let worst =
            site.worst_post.as_deref().and_then(|w| site.posts.iter().find(|p| p.post == w));
        out.add_row([
            (place + 1).to_string(),
            match (site.available, &site.refused_mast) {
                (false, _) => format!("{} (not available)", site.site),
                (true, Some(_)) => format!("{} (POWER LINE)", site.site),
                (true, None) if conflict.is_some_and(|c| c.site == site.site) => {
                    format!("{} (ROOF TAKEN)", site.site)
                }
                (true, None) => site.site.clone(),
            },
            format!("{} of {}", site.posts_covered, site.counted_posts().count()),
            must_haves(site).to_owned(),
            words::contact(site.weighted_probability),
            site.map_share.map_or_else(|| "-".to_owned(), words::percent),
            worst.map_or_else(String::new, |p| p.post.clone()),
            worst.map_or_else(String::new, margin),
        ]);
    }
    // Without the best of them the rest says little.
    let best = (0..ranking.sites.len()).map(|place| place < BEST);
    Rows::of(ranking_title(&ranking.channel), out, "sites").failing(best, "sites").at_least(BEST)
}

/// Whether a site reaches the must-have posts, where there are any.
fn must_haves(site: &SiteScore) -> &'static str {
    match site.posts.iter().any(|post| post.must) {
        false => "none named",
        true if site.must_posts_met => "all",
        true => "MISSED",
    }
}

/// The sites that a ranking does not propose for a power line, and why.
#[must_use]
pub fn refused_rows(ranking: &Ranking, units: UnitSystem) -> Rows {
    let line = |site: &SiteScore| {
        let why = refused_mast(site.refused_mast.as_ref()?, units);
        Some(format!("Not proposed, {}: {why}.\n", site.site))
    };
    let open = ranking.sites.iter().filter(|site| site.available);
    let lines: Vec<String> = open.filter_map(line).collect();
    let all = vec![true; lines.len()];
    let name = "sites that power lines forbid";
    Rows::lines("", lines, name).failing(all, name)
}

/// Sites that a screen shows before anything else of them.
const BEST: usize = 3;

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
    let may_not = match (loss.available, loss.refused_mast) {
        (false, _) => Some("may not be used".to_owned()),
        (true, Some(_)) => Some("a power line forbids its mast".to_owned()),
        (true, None) => None,
    };
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
    let contact = (loss.weighted_probability.abs() >= 5e-4).then(|| {
        let lower = if loss.weighted_probability > 0.0 { "lower" } else { "higher" };
        let points = loss.weighted_probability.abs() * 100.0;
        format!("weighted coverage {points:.1} points {lower}")
    });
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
    format!("\nPlace and weighted coverage by the duplexer's isolation\n{}\n", printed(&out))
}

/// Posts, areas and routes of one site under a title: a line each, then for each post
/// why it works or not and what would fix it.
#[must_use]
pub fn site_tables(title: &str, site: &SiteScore, units: UnitSystem) -> Screen {
    let fails = || site.posts.iter().map(|post| !post.outcome.works());
    let mut posts = table(
        ["Post", "Outcome", "Spots", "Sure", "Margin", "Limiting", "Distance", "Sight"],
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
    let starred = if site.posts.iter().any(|p| p.must) { " * Must work.\n" } else { "" };
    let legend = format!(
        "{starred} Spots: how many of 100 around the post should work both ways. Sure: how sure it is that the wanted share does. Margin: of the limiting direction.\n"
    );
    let why: Vec<String> = site.posts.iter().map(|post| why(post, units)).collect();
    Screen::default()
        .rows(
            Rows::of(title, posts, "that should work").failing(fails(), "failing").called("posts"),
        )
        .long_only("what the columns mean", legend)
        .rows(Rows::of("\n", shares, "areas and routes"))
        .long_only("routes", route_table(&site.routes, units))
        .rows(
            Rows::lines("\n Why:\n", why, "")
                .failing(fails(), "reasons")
                .only_failing()
                .called("why"),
        )
}

/// What somebody who walks each route has to expect.
fn route_table(routes: &[RouteScore], units: UnitSystem) -> String {
    if routes.is_empty() {
        return String::new();
    }
    let mut out =
        table(["Route", "Length", "All gaps", "Longest gap", "from", "to"], &[1, 2, 3, 4, 5]);
    for route in routes {
        let gap = |value: fn(Stretch) -> Metres| {
            route.longest_gap.map_or_else(|| "none".to_owned(), |gap| units.distance(value(gap)))
        };
        let all = route.gaps.iter().fold(Metres::new(0.0), |sum, gap| sum + gap.length());
        out.add_row([
            route.share.name.clone(),
            units.distance(route.length_m),
            if route.gaps.is_empty() { "none".to_owned() } else { units.distance(all) },
            gap(Stretch::length),
            gap(|g| g.from_m),
            gap(|g| g.to_m),
        ]);
    }
    format!(
        "\n{}\n A gap: there radio works both ways in fewer spots than wanted.\n",
        printed(&out)
    )
}

fn margin(post: &PostScore) -> String {
    post.governing_margin_db.map_or_else(|| "?".to_owned(), |margin| format!("{margin:.1}"))
}

fn why(post: &PostScore, units: UnitSystem) -> String {
    let fix = post
        .remedy
        .as_ref()
        .map_or_else(String::new, |r| format!("   To fix it: {}\n", remedy_words(r, units)));
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
            "{:.1} more. The mast would have to be {} higher, and the power line there refuses that",
            remedy.missing_db,
            units.height(extra)
        ),
        (None, None) => format!(
            "{:.1} more. Not even {} more mast gives that",
            remedy.missing_db,
            units.height(Remedy::HIGHEST_MAST)
        ),
    };
    match remedy.other_sites.as_slice() {
        [] => format!("{mast}. No other site reaches it."),
        sites => {
            let more = match remedy.more_other_sites {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            format!("{mast}. Sites that reach it: {}{more}.", sites.join(", "))
        }
    }
}

/// The length of a link, where it points, and what the ground leaves of its line of
/// sight.
pub(super) fn path_headline(study: &PathStudy, units: UnitSystem) -> String {
    let view = match study.clearance {
        Some(c) if c.line_of_sight => format!(
            "line of sight, with {:.2} of the first Fresnel radius clear {} from {}",
            c.worst_ratio,
            units.distance(c.worst_distance),
            study.from.name
        ),
        Some(c) => format!(
            "no line of sight: first blocked {} from {}, at the worst point by {}",
            c.first_obstruction.map_or_else(String::new, |(d, _)| units.distance(d)),
            study.from.name,
            units.height(-c.worst_clearance)
        ),
        None => "too short for any ground between".to_owned(),
    };
    format!(
        "{} away, bearing {:.0}° true; {view}",
        units.distance(study.distance),
        study.bearing.value()
    )
}

/// Both budgets of one link, line by line.
#[must_use]
pub fn path_tables(study: &PathStudy, units: UnitSystem) -> Screen {
    let budgets = &study.budgets;
    let limiting = budget_table(study, budgets.governing_budget());
    let both = budget_table(study, &budgets.talk_in) + &budget_table(study, &budgets.talk_out);
    let edges: Vec<String> = study
        .edges
        .iter()
        .map(|e| {
            format!(
                "  edge {} from {}, {} above sea: costs {:.1} (nu {:.2})\n",
                units.distance(e.distance),
                study.from.name,
                units.height(e.height),
                e.loss,
                e.nu
            )
        })
        .collect();
    let head = format!(
        "{}.\nPropagation method {}.\n",
        path_headline(study, units),
        words::method_of(study)
    );
    let sure = format!(
        "\n{}: {} spots should work both ways; {} sure that the wanted {} do.\n",
        words::short(budgets.outcome),
        words::spots(budgets.probability),
        words::sure(budgets.sure),
        words::per_hundred(budgets.wanted),
    );
    Screen::new(head)
        .rows(Rows::lines("", edges, "edges"))
        .short_only(limiting)
        .long_only("the other direction's budget", both)
        .long_only("how sure it is", sure)
}

fn budget_table(study: &PathStudy, budget: &Budget) -> String {
    let way = words::way_of(study, budget.direction);
    let title = format!("{way} at {} MHz", words::megahertz(budget.frequency_mhz));
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
    row(
        format!(
            "noise{}: receiver {:.1}, from outside {:.1}, which costs {:.1}",
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
    format!("{}\n", printed(&out))
}

/// What stands above a result that rests on a prediction: what the plan lacks, and the
/// remarks that may turn it over.
#[must_use]
pub fn heading(assessment: &Assessment) -> Screen {
    Screen::new(missing(&assessment.plan)).remarks(assessment.foremost())
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
        let RoofConflict { site, channel, instead, .. } = conflict;
        let instead = match instead {
            Some(other) => format!("{channel} goes to {other} (more: perchline cosite)."),
            None if conflict.kept_together => {
                "The plan keeps the two beside each other: filter them, or separate them."
                    .to_owned()
            }
            None => format!("No other site for {channel} may be used."),
        };
        format!("Not both on {site}: there {}. {instead}\n", words::desenses(conflict))
    };
    conflicts.iter().map(line).collect()
}
