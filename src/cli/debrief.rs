//! `perchline debrief`: what was heard against what was predicted.

use std::collections::BTreeSet;
use std::path::PathBuf;

use jiff::{SignedDuration, Span, SpanRelativeTo};
use serde_json::{Value, json};

use perchline_assessment::Holds;
use perchline_heard::compare::compare;
use perchline_heard::learn::learn;
use perchline_heard::log::{self, Defaults};
use perchline_heard::packs;
use perchline_heard::summary::{agreement, groups, levels};
use perchline_link::LinkModel;
use perchline_plan::{InputFile, Remark};
use perchline_report::Provenance;
use perchline_report::debrief::map::ReportMap;
use perchline_report::debrief::tables::debrief_tables;
use perchline_report::debrief::{Debrief, DebriefContent};
use perchline_report::documents::Findings;
use perchline_report::outbox::{Outbox, file_stems};
use perchline_report::outputs::{DEBRIEF, REPORT_MAP, put_all};
use perchline_report::tables::{made_with, remark_lines};

use super::args::{DebriefArgs, PlanArgs};
use super::failure::Failure;
use super::files::{Document, Told, tell};
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
    let mut log = log::read(&wanted.logs, plan, &defaults).map_err(Failure::input)?;
    if log.reports.is_empty() {
        let reasons: Vec<String> = log
            .rejected
            .iter()
            .take(5)
            .map(|r| format!("{}:{}: {}", r.origin.file.display(), r.origin.line, r.reason))
            .collect();
        return Err(Failure::Input(format!(
            "none of {} rows can be used:\n{}",
            log.rows,
            reasons.join("\n")
        )));
    }
    let budgets = session.energy().stations();
    let (compared, off) = compare(&log, plan, &session.terrain, &session.propagator, budgets);
    // All that they say is in what they were compared to.
    log.reports = Vec::new();
    let learned = learn(&compared, plan).map_err(Failure::input)?;
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
    let document = Document {
        provenance: &provenance,
        remarks: &remarks,
        result: Findings {
            agreement: agreement(&debrief.compared),
            corrections: json!(debrief.learned.corrections()),
            cross_validation: json!({
                "gain": debrief.learned.validation.gain,
                "gain_sd": debrief.learned.validation.gain_sd,
                "worth": debrief.learned.validation.worth(),
            }),
            curve: bins(&debrief.learned.curve.bins),
            curve_corrected: bins(&debrief.learned.corrected.bins),
            groups: json!(groups(&debrief.compared, plan)),
            levels: levels(&debrief.compared).map(|l| {
                json!({
                    "reports": l.reports,
                    "bias_db": [l.bias.value, l.bias.low, l.bias.high],
                    "spread_db": [l.spread.value, l.spread.low, l.spread.high],
                })
            }),
            missing_beacons: debrief.log.missing_beacons,
            packs: json!(debrief.packs),
            rejected: &debrief.rejected,
            reports: &debrief.compared,
            rows: debrief.log.rows,
        },
    };
    let text = format!(
        "{}\n{}: what was heard against what was predicted\n{}{}",
        made_with(plan, &provenance),
        plan.event.name,
        debrief_tables(plan, &debrief),
        remark_lines(&remarks)
    );
    tell(&session, args, "debrief", Told { document: &document, text: &text }, |outbox| {
        let content = DebriefContent { plan, debrief: &debrief, provenance: &provenance };
        put_all(outbox, &DEBRIEF, "", &content).map_err(Failure::output)?;
        maps(outbox, &session, &debrief, &provenance)
    })
}

/// How many rows the logs have at the most, before they are read.
fn rows_at_most(logs: &[PathBuf]) -> usize {
    let rows = logs.iter().map(|log| log::rows_at_most(log));
    rows.sum::<usize>().min(log::MOST_ROWS)
}

/// One map for each channel and site that was reported of.
fn maps(
    outbox: &mut Outbox,
    session: &Session,
    debrief: &Debrief,
    provenance: &Provenance,
) -> Result<(), Failure> {
    let plan = &session.plan;
    let grid = session.map_grid()?;
    let relief = session.terrain.hillshade().map_err(Failure::output)?;
    let pairs: BTreeSet<(&str, &str)> =
        debrief.compared.iter().map(|c| (&*c.channel, &*c.site)).collect();
    let names: Vec<String> =
        pairs.iter().map(|(channel, site)| format!("{channel} {site}")).collect();
    let stems = file_stems(names.iter().map(String::as_str));
    for ((channel_name, site_name), stem) in pairs.into_iter().zip(stems) {
        let (Ok(channel), Ok(site)) =
            (session.station_channel(Some(channel_name)), session.site(site_name))
        else {
            continue;
        };
        let model: LinkModel = perchline_siting::map_model(plan, &session.terrain, channel, site)
            .map_err(Failure::input)?;
        let coverage = perchline_coverage::cover(
            &session.terrain,
            &grid,
            &model,
            &session.propagator,
            &|| (),
            &session.stop,
        )
        .map_err(Failure::input)?;
        let own: Vec<_> = debrief
            .compared
            .iter()
            .filter(|c| &*c.channel == channel_name && &*c.site == site_name)
            .collect();
        let content = ReportMap {
            plan,
            terrain: &session.terrain,
            relief: &relief,
            coverage: &coverage,
            channel: channel_name,
            site: site_name,
            compared: &own,
            provenance,
        };
        put_all(outbox, &REPORT_MAP, &stem, &content).map_err(Failure::output)?;
    }
    Ok(())
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
