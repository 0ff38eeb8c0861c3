//! `perchline brief`: what the organiser's liaison gets.

use std::sync::Arc;

use perchline_assessment::{Holds, Ranked, SiteMap};
use perchline_coverage::Coverage;
use perchline_plan::{Channel, Remark, Service};
use perchline_report::brief::{Brief, BriefContent, BriefInputs, Paper, brief_text};
use perchline_report::map::MapContent;
use perchline_report::outputs::{BRIEFING, put_all};
use perchline_siting::direct::DirectNet;
use perchline_siting::{Aid, Keep, RankInputs, SiteScore, aid};

use super::args::{Papers, PlanArgs};
use super::failure::Failure;
use super::files::{Document, Told, tell};
use super::progress::bar;
use super::session::Session;

pub(super) fn run(
    args: &PlanArgs,
    site: Option<&str>,
    channel: Option<&str>,
    paper: Papers,
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        let simplex = plan.channels.iter().filter(|c| !c.has_station()).count();
        let holds = Holds::maps(1).nets(plan, simplex).site(plan);
        if site.is_some() { holds } else { holds.rankings(plan, 1) }
    })?
    .with_tiles()?;
    let plan = &session.plan;
    let channel = relay_channel(&session, channel)?;
    let grid = session.map_grid()?;
    let maps = if site.is_some() { 1 } else { plan.sites.len() };
    let progress = bar((grid.rows() * maps) as u64, "sites");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let chosen = Briefed::of(&session, &inputs, channel, site)?;
    let (site, coverage) = chosen
        .parts()
        .ok_or_else(|| Failure::Input(format!("{}: the plan has no site", plan.file.display())))?;
    let aids = aids(&session, &inputs, channel, site, coverage)?;
    progress.finish_and_clear();
    let nets =
        session.fallback().map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let nets: Vec<&DirectNet> = nets.iter().map(Arc::as_ref).collect();
    let energy = session.energy();
    let remarks: Vec<Remark> = session.remarks.iter().cloned().chain(energy.remarks()).collect();
    let places: Vec<_> = plan.sites.iter().map(|site| session.site_place(channel, site)).collect();
    let settled = session.settled_places();
    let briefed = BriefInputs {
        plan,
        channel,
        site,
        aids: &aids,
        ranking: match &chosen {
            Briefed::Named(_) => None,
            Briefed::Best(ranked) => Some(&ranked.ranking),
        },
        nets: &nets,
        exposure: &session.cosite().exposure,
        power: energy.stations(),
        crews: energy.crews(),
        kits: &energy.kits,
        places: &places,
        settled: &settled,
        remarks: &remarks,
        provenance: &session.provenance,
    };
    let brief = Brief::of(&briefed);
    let document = Document { provenance: &session.provenance, remarks: &remarks, result: &brief };
    let text = brief_text(&brief);
    tell(&session, args, "brief", Told { document: &document, text: &text }, |outbox| {
        let relief = session.terrain.hillshade().map_err(Failure::output)?;
        let map = MapContent {
            remarks: &remarks,
            ..MapContent::of(&session, &relief, &channel.name, site, coverage)
        };
        let papers: &[Paper] = match paper {
            Papers::A4 => &[Paper::A4],
            Papers::Letter => &[Paper::Letter],
            Papers::Both => &[Paper::A4, Paper::Letter],
        };
        let content = BriefContent {
            brief: &brief,
            inputs: &briefed,
            map: &map,
            terrain: &session.terrain,
            papers,
        };
        put_all(outbox, &BRIEFING, "", &content).map_err(Failure::output)
    })
}

/// The voice relay's channel of this name, or the plan's first.
fn relay_channel<'a>(session: &'a Session, name: Option<&str>) -> Result<&'a Channel, Failure> {
    let is_relay = |channel: &&Channel| matches!(channel.service, Service::Relay { .. });
    if let Some(name) = name {
        let channel = session.station_channel(Some(name))?;
        return Some(channel).filter(is_relay).ok_or_else(|| {
            Failure::Input(format!(
                "channel \"{name}\" carries position beacons; a briefing is about voice: name a relay channel"
            ))
        });
    }
    session.plan.channels.iter().find(is_relay).ok_or_else(|| {
        Failure::Input(format!(
            "{}: no channel runs through a relay: add a [[channel]] of kind \"relay\"",
            session.plan.file.display()
        ))
    })
}

/// A site with its map, and the ranking that it is the best of, if it is.
enum Briefed {
    Named(Arc<SiteMap>),
    Best(Arc<Ranked>),
}

impl Briefed {
    /// The site of this name, or the best.
    fn of(
        session: &Session,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        site: Option<&str>,
    ) -> Result<Self, Failure> {
        let wrong = |e| Failure::Input(format!("{}: {e}", session.plan.file.display()));
        match site {
            Some(name) => {
                let map = session.site_map(inputs, channel, session.site(name)?);
                Ok(Self::Named(map.map_err(wrong)?))
            }
            None => Ok(Self::Best(session.ranking(inputs, channel, Keep::Best).map_err(wrong)?)),
        }
    }

    fn parts(&self) -> Option<(&SiteScore, &Coverage)> {
        match self {
            Self::Named(map) => Some((&map.score, &map.coverage)),
            Self::Best(ranked) => ranked.ranking.sites.first().zip(ranked.coverages.first()),
        }
    }
}

/// What helps at each post that fails.
fn aids(
    session: &Session,
    inputs: &RankInputs<'_>,
    channel: &Channel,
    scored: &SiteScore,
    coverage: &Coverage,
) -> Result<Vec<Option<Aid>>, Failure> {
    let plan = &session.plan;
    let site = session.site(&scored.site)?;
    let helped = |(post, score): (_, &perchline_siting::PostScore)| {
        if score.outcome.works() {
            return Ok(None);
        }
        aid(inputs, channel, site, coverage, post)
            .map(Some)
            .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))
    };
    plan.posts.iter().zip(&scored.posts).map(helped).collect()
}
