//! `perchline debrief`: what was heard against what was predicted.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use jiff::{SignedDuration, Span, SpanRelativeTo};
use serde_json::{Value, json};

use perchline_assessment::{Holds, SiteMap};
use perchline_heard::compare::{Compared, compare};
use perchline_heard::learn::learn;
use perchline_heard::log::{self, Defaults, Log, Rejected};
use perchline_heard::packs;
use perchline_heard::routes::route_misses;
use perchline_heard::summary::{agreement, fallback_use, groups, levels};
use perchline_plan::{InputFile, Remark};
use perchline_report::cautions::{Output, said};
use perchline_report::debrief::map::{MapPicture, ReportMap};
use perchline_report::debrief::tables::debrief_screen;
use perchline_report::debrief::{Debrief, DebriefContent, DebriefDocument};
use perchline_report::documents::Findings;
use perchline_report::map::MapContent;
use perchline_report::outbox::{Outbox, file_stems};
use perchline_report::outputs::{DEBRIEF, REPORT_MAP, put_all};
use perchline_report::screen::Screen;
use perchline_report::tables::{Made, missing, remark_lines};
use perchline_report::{Provenance, answers};

use super::args::{DebriefArgs, PlanArgs};
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(args: &PlanArgs, wanted: &DebriefArgs) -> Result<(), Failure> {
    let rows = rows_at_most(&wanted.logs);
    let read = wanted.logs.iter().chain(&wanted.batteries).map(PathBuf::as_path);
    let session = Session::open_beside(args, &read.collect::<Vec<_>>(), |plan| {
        Holds::maps(1).reports(2 * rows).site(plan)
    })?;
    let plan = &session.plan;
    let clock_offset = clock_offset(wanted.clock_offset.as_deref())?;
    let index_of = |found: &str, names: Vec<&String>| names.iter().position(|n| *n == found);
    let defaults = Defaults {
        channel: {
            let channel = session.station_channel(wanted.channel.as_deref())?;
            index_of(&channel.name, plan.channels.iter().map(|c| &c.name).collect())
        },
        site: match &wanted.site {
            Some(name) => {
                let site = session.site(name)?;
                index_of(&site.name, plan.sites.iter().map(|s| &s.name).collect())
            }
            None => None,
        },
        clock_offset,
    };
    session.begin("reading the logs", 0, "what was predicted");
    let mut log = log::read(&wanted.logs, plan, &defaults).map_err(Failure::input)?;
    if log.reports.is_empty() {
        return Err(Failure::Input(none_usable(&log)));
    }
    // By their places in the plan: some without the others are of no use here.
    let energy = session.energy();
    let all = energy.stations_not_known() == 0;
    let budgets = if all { energy.stations.as_slice() } else { &[] };
    session.begin("what was predicted", 0, "what it teaches");
    let (mut compared, off) = compare(&log, plan, &session.terrain, &session.propagator, budgets);
    // All that they say is in what they were compared to.
    log.reports = Vec::new();
    session.begin("what it teaches", 0, "the pages");
    let learned = learn(&mut compared, plan).map_err(Failure::input)?;
    let mut rejected = std::mem::take(&mut log.rejected);
    rejected.extend(off);
    let (mut reports, mut remarks) = (Vec::new(), session.remarks.clone());
    for file in &wanted.batteries {
        let (more, wrong) = packs::read(file, plan, clock_offset).map_err(Failure::input)?;
        reports.extend(more);
        remarks.extend(wrong.into_iter().map(|r| Remark {
            about: format!("{}:{}", r.origin.file.display(), r.origin.line),
            text: format!("{} (row: {})", r.reason, r.text),
        }));
    }
    remarks.extend(log.remarks.iter().cloned());
    let debrief = Debrief {
        packs: packs::updates(plan, budgets, &reports),
        groups: groups(&compared, plan),
        routes: route_misses(&compared, plan),
        fallback: fallback_use(&compared, plan),
        log,
        compared,
        rejected,
        learned,
    };
    let mut provenance = session.provenance.clone();
    provenance.inputs.extend(debrief.log.files.iter().cloned());
    for file in &wanted.batteries {
        provenance.inputs.push(InputFile::of(file).map_err(Failure::input)?);
    }
    let written = DebriefDocument::of(plan, &debrief, &provenance);
    let document = Document {
        provenance: &provenance,
        remarks: &remarks,
        cautions: said(plan, Output::Debrief),
        result: Findings {
            agreement: agreement(&debrief.compared),
            changes: &written.changes,
            corrections: json!(debrief.learned.corrections()),
            cross_validation: json!({
                "gain": debrief.learned.validation.gain,
                "gain_sd": debrief.learned.validation.gain_sd,
                "worth": debrief.learned.validation.worth(),
            }),
            curve: bins(&debrief.learned.curve.bins),
            curve_corrected: bins(&debrief.learned.corrected.bins),
            fallback: &debrief.fallback,
            gross_share: debrief.learned.gross_share,
            groups: json!(debrief.groups),
            levels: levels(&debrief.compared).map(|l| {
                json!({
                    "reports": l.reports,
                    "bias_db": [l.bias.value, l.bias.low, l.bias.high],
                    "spread_db": [l.spread.value, l.spread.low, l.spread.high],
                })
            }),
            missing_beacons: debrief.log.missing_beacons,
            outlier_count: debrief.learned.outlier_count,
            outliers: &debrief.learned.outliers,
            packs: json!(debrief.packs),
            rejected: &debrief.rejected,
            reports: &debrief.compared,
            routes: &debrief.routes,
            rows: debrief.log.rows,
        },
    };
    let title = format!("{}: what was heard against what was predicted\n", plan.event.name);
    let text = Screen::new(answers::debriefed(&written) + &missing(plan) + &title)
        .and(debrief_screen(plan, &debrief))
        .long_only("notes", remark_lines(&remarks))
        .cautions(plan, Output::Debrief);
    let made = Made::with(plan, &provenance);
    tell(
        &session,
        args,
        "debrief",
        Told { document: &document, text: &text, by: By::Other(made) },
        |outbox| files(outbox, &session, &debrief, &written, &provenance),
    )
}

/// Why no row of the logs can be used: each reason once, with its first row and how many
/// more have it.
fn none_usable(log: &Log) -> String {
    const REASONS: usize = 5;
    let mut reasons: Vec<(&Rejected, usize)> = Vec::new();
    for row in &log.rejected {
        match reasons.iter_mut().find(|(first, _)| first.reason == row.reason) {
            Some((_, rows)) => *rows += 1,
            None => reasons.push((row, 1)),
        }
    }
    let told = reasons.iter().take(REASONS).map(|(first, rows)| {
        let more = match rows - 1 {
            0 => String::new(),
            1 => " (and 1 more row)".to_owned(),
            more => format!(" (and {more} more rows)"),
        };
        let origin = &first.origin;
        format!("\n{}:{}: {}{more}", origin.file.display(), origin.line, first.reason)
    });
    format!("none of {} rows can be used:{}", log.rows, told.collect::<String>())
}

/// How many rows the logs have at the most, before they are read.
fn rows_at_most(logs: &[PathBuf]) -> usize {
    let rows = logs.iter().map(|log| log::rows_at_most(log));
    rows.sum::<usize>().min(log::MOST_ROWS)
}

/// A map for each channel and site that was reported of, that of the most reports last,
/// and everything that is made of all reports.
fn files(
    outbox: &mut Outbox,
    session: &Session,
    debrief: &Debrief,
    document: &DebriefDocument,
    provenance: &Provenance,
) -> Result<(), Failure> {
    let plan = &session.plan;
    let grid = session.map_grid()?;
    let relief = session.relief()?;
    let mut pairs: BTreeMap<(&str, &str), Vec<&Compared>> = BTreeMap::new();
    for one in &debrief.compared {
        if let Some(site) = &one.site {
            pairs.entry((&one.channel, site)).or_default().push(one);
        }
    }
    let names: Vec<String> =
        pairs.keys().map(|(channel, site)| format!("{channel} {site}")).collect();
    let stems = file_stems(names.iter().map(String::as_str));
    let mut pairs: Vec<_> = pairs.into_iter().zip(stems).collect();
    pairs.sort_by_key(|((_, own), _)| own.len());
    let mut pictures = Vec::new();
    let mut last: Option<(&str, Arc<SiteMap>, Vec<&Compared>)> = None;
    for (((channel_name, site_name), own), stem) in pairs {
        // One map at a time is kept.
        drop(last.take());
        let channel = session.station_channel(Some(channel_name))?;
        let inputs = session.rank_inputs(&grid, &|| ());
        let found = session
            .site_map(&inputs, channel, session.site(site_name)?)
            .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
        let map = MapContent::of(session, &relief, channel_name, &found.score, &found.coverage);
        let picture = MapPicture::of(&ReportMap { map: &map, compared: &own });
        let picture = picture.map_err(Failure::output)?;
        put_all(outbox, &REPORT_MAP, &stem, &picture).map_err(Failure::output)?;
        pictures.push(picture);
        last = Some((channel_name, found, own));
    }
    pictures.reverse();
    let under = last.as_ref().map(|(channel, found, own)| {
        (MapContent::of(session, &relief, channel, &found.score, &found.coverage), own)
    });
    let map = under.as_ref().map(|(map, own)| ReportMap { map, compared: own });
    let content = DebriefContent {
        plan,
        debrief,
        document,
        pictures: &pictures,
        map: map.as_ref(),
        provenance,
    };
    put_all(outbox, &DEBRIEF, "", &content).map_err(Failure::output)
}

fn bins(bins: &[perchline_heard::estimate::Bin]) -> Value {
    bins.iter()
        .map(|b| {
            json!({
                "from": b.from, "to": b.to, "predicted": b.predicted, "reports": b.reports,
                "worked": b.worked, "low": b.low, "high": b.high,
            })
        })
        .collect()
}

/// What is added to every time of the logs, such as "-1 h" or "90 s".
fn clock_offset(typed: Option<&str>) -> Result<SignedDuration, Failure> {
    let Some(typed) = typed else { return Ok(SignedDuration::ZERO) };
    let span: Result<Span, _> = typed.trim().replace(' ', "").parse();
    span.and_then(|span| span.to_duration(SpanRelativeTo::days_are_24_hours())).map_err(|_| {
        Failure::Input(format!(
            "--clock-offset \"{typed}\" is no span of time; write such as \"90 s\", \"-1 h\" or \"2 min\""
        ))
    })
}
