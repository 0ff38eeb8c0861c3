//! `perchline brief`: what the organiser's liaison gets.

use std::fmt::Display;

use perchline_assessment::{Holds, Stood};
use perchline_plan::{Channel, Remark, Service};
use perchline_report::brief::{Brief, BriefContent, BriefInputs, Paper, brief_screen};
use perchline_report::cautions::{Output, said};
use perchline_report::map::MapContent;
use perchline_report::outputs::{BRIEFING, put_all};
use perchline_siting::direct::Held;

use super::args::{Papers, PlanArgs};
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::{Session, relay_channel};

pub(super) fn run(
    args: &PlanArgs,
    site: Option<&str>,
    channel: Option<&str>,
    paper: &[Papers],
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        let simplex = plan.channels.iter().filter(|c| !c.has_station()).count();
        let packet = plan.channels.iter().filter(is_packet).count();
        let ranked = packet + 2 * usize::from(site.is_none());
        Holds::maps(1).nets(plan, simplex).site(plan).rankings(plan, ranked)
    })?
    .with_tiles()?;
    let plan = &session.plan;
    let channel = relay_channel(&session, channel, "a briefing")?;
    let grid = session.map_grid()?;
    let progress = session.begin("the map", grid.rows(), "the briefing");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let wrong = |e: &dyn Display| Failure::Input(format!("{}: {e}", plan.file.display()));
    let named = site.map(|site| session.site(site)).transpose()?;
    let chosen = session.stood(&inputs, channel, named).map_err(|e| wrong(&e))?;
    let (site, coverage) = chosen
        .parts()
        .ok_or_else(|| Failure::Input(format!("{}: the plan has no site", plan.file.display())))?;
    let aids = session.aids(&inputs, channel, site, coverage).map_err(|e| wrong(&e))?;
    let digipeaters = plan
        .channels
        .iter()
        .filter(is_packet)
        .map(|packet| session.digipeater_site(&inputs, packet, channel, &site.site))
        .filter_map(Result::transpose)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| wrong(&e))?;
    let linked = session.linked_sites(channel, &site.site, &session.stop);
    let linked = linked.map_err(|e| wrong(&e))?;
    session.begin("posts without the relay", 0, "the briefing");
    let fallback = session.fallback(Held::Fallback).map_err(|e| wrong(&e))?;
    let energy = session.energy();
    let remarks = fallback.remarks.iter().chain(&session.remarks).cloned();
    let remarks: Vec<Remark> = remarks.chain(energy.remarks()).collect();
    let places: Vec<_> = plan.sites.iter().map(|site| session.site_place(channel, site)).collect();
    let settled = session.settled_places();
    let ranking = match &chosen {
        Stood::Named(_) => None,
        Stood::Best(ranked) => Some(&ranked.ranking),
    };
    let reserve = ranking.map(|ranking| session.reserve(ranking, channel, &site.site));
    let briefed = BriefInputs {
        plan,
        channel,
        site,
        courses: session.courses(),
        aids: &aids,
        ranking,
        reserve: reserve.as_ref(),
        digipeaters: &digipeaters,
        linked: linked.as_ref(),
        fallback: &fallback,
        exposure: &session.cosite().exposure,
        power: &energy.stations,
        crews: &energy.crews,
        kits: &energy.kits,
        places: &places,
        settled: &settled,
        remarks: &remarks,
        provenance: &session.provenance,
    };
    let brief = Brief::of(&briefed);
    let cautions = [said(plan, Output::Liaison), said(plan, Output::Crew)].concat();
    let document =
        Document { provenance: &session.provenance, remarks: &remarks, cautions, result: &brief };
    let text = brief_screen(plan, &brief);
    tell(
        &session,
        args,
        "brief",
        Told { document: &document, text: &text, by: By::Said },
        |outbox| {
            let relief = session.relief()?;
            let map = MapContent {
                remarks: &remarks,
                ..MapContent::of(&session, &relief, &channel.name, site, coverage)
            };
            let papers = paper.iter().flat_map(|paper| paper.sizes(plan.units));
            let papers: Vec<Paper> = papers.collect();
            let content =
                BriefContent { brief: &brief, inputs: &briefed, map: &map, papers: &papers };
            put_all(outbox, &BRIEFING, "", &content).map_err(Failure::output)
        },
    )
}

fn is_packet(channel: &&Channel) -> bool {
    matches!(channel.service, Service::Packet { .. })
}
