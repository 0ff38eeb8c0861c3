//! `perchline rank`: every candidate site, best first.

use std::borrow::Cow;
use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use perchline_assessment::{Holds, Ranked, RoofConflict};
use perchline_coverage::Coverage;
use perchline_plan::{Channel, Plan, Remark, Site};
use perchline_power::place::SitePlace;
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::choose_tables::linked_lines;
use perchline_report::digest;
use perchline_report::documents::{Place, Proposed, Rankings};
use perchline_report::outbox::{KeptMaps, file_stems, forget_maps};
use perchline_report::part_file::{FoundPart, find};
use perchline_report::place_words::place_lines;
use perchline_report::power_tables::power_rows;
use perchline_report::screen::Screen;
use perchline_report::tables::{
    duplexer_table, heading, ranking_rows, ranking_title, refused_rows, remark_lines,
    roof_conflict_lines, site_tables, why_not_lines,
};
use perchline_report::words::{caveats, closing};
use perchline_siting::choose::LinkedSites;
use perchline_siting::{
    Keep, RankError, RankInputs, Ranking, map_site, map_site_on, score_in_full, sites_in_full,
};

use super::args::{Maps, PlanArgs};
use super::failure::Failure;
use super::files::{By, Document, ToDraw, Told, add_maps, rows_on_screen, tell};
use super::parts::Gathered;
use super::session::Session;
use super::{interrupt, say};

pub(super) fn run(
    args: &PlanArgs,
    channel: Option<&str>,
    maps: Maps,
    gather: Option<&Path>,
) -> Result<(), Failure> {
    let found = gather.map(find).transpose().map_err(Failure::input)?.unwrap_or_default();
    let scores: Vec<PathBuf> = found.iter().map(FoundPart::scores_file).collect();
    let files: Vec<&Path> = scores.iter().map(PathBuf::as_path).collect();
    let session = Session::open_beside(args, &files, |plan| {
        let channels = ranked_channels(plan, channel);
        let kept = match maps {
            Maps::All => plan.sites.len() * channels + 1,
            // Those of a site on all channels are made at a time.
            Maps::Best => 2 * channels,
            Maps::None => channels,
        };
        Holds::maps(kept).rankings(plan, channels).site(plan)
    })?;
    let plan = &session.plan;
    let channels = ranked(&session, channel)?;
    let grid = session.map_grid()?;
    let keep = Keep::from(maps);
    let on_screen = gather.is_none() && !args.tells_everything();
    let swept = if gather.is_some() { keep.of(plan.sites.len()) } else { plan.sites.len() };
    let steps = grid.rows() * swept * channels.len();
    let progress = if on_screen {
        session.begin("links to the sites", 0, "maps")
    } else {
        session.begin("maps of the sites", steps, "the ranking")
    };
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let mut kept = args
        .out
        .as_ref()
        .filter(|_| gather.is_none())
        .map(|out| KeptMaps::open(out, &digest(&session.provenance, &session.terrain, &grid)));
    let wrong = |e: RankError| Failure::Input(format!("{}: {e}", plan.file.display()));
    let gathered = gather.is_some().then(|| Gathered::of(&session, &channels, &grid, &found));
    let gathered = gathered.transpose()?;
    let ranked = match &gathered {
        Some(gathered) => channels
            .iter()
            .map(|channel| {
                let ranked = || gathered.ranked(&inputs, channel, keep);
                session.ranking_with(&inputs, channel, keep, ranked)
            })
            .collect::<Result<Vec<_>, _>>(),
        None if on_screen => channels
            .iter()
            .map(|channel| {
                let ranking = Ranking::clone(&*session.order(&inputs, channel)?);
                Ok(Arc::new(Ranked { ranking, coverages: Vec::new() }))
            })
            .collect::<Result<Vec<_>, _>>(),
        None => session.rankings_by_maps(&inputs, &channels, keep, |site| match &mut kept {
            Some(kept) => {
                let coverages = map_once(&inputs, &channels, site, kept)?;
                let all = plan.sites.len() * channels.len();
                interrupt::keeps((kept.held() > 0).then(|| {
                    format!(
                        "Maps of {} of {all} are kept beside the results: the same command continues from there.",
                        kept.held()
                    )
                }));
                Ok(coverages)
            }
            None => map_site_on(&inputs, &channels, site),
        }),
    }
    .map_err(wrong)?;
    if let Some(found) = kept.map(|kept| kept.found()).filter(|found| *found > 0) {
        let maps = if found == 1 { "map" } else { "maps" };
        say(&format!("Took {found} {maps} that an interrupted run had kept."));
    }
    let rankings: Vec<&Ranking> = ranked.iter().map(|ranked| &ranked.ranking).collect();

    // A ranking stands without its power lines; what they lack is told.
    let energy = session.energy();
    let conflicts = session.roof_conflicts(&rankings);
    let linked = linked(&session, &channels, &rankings).map_err(wrong)?;
    let places = places(&session, &channels, &rankings);
    let remarks: Vec<_> =
        session.remarks.iter().cloned().chain(energy.remarks()).chain(left_out(plan)).collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &remarks,
        cautions: said(plan, Output::Rank),
        result: Rankings {
            event: &plan.event.name,
            caveats: caveats(session.plan.houses()),
            rankings: &rankings,
            proposed: Proposed::all(&rankings, &conflicts),
            roof_conflicts: &conflicts,
            linked: &linked,
            power: &energy.stations,
            places: Place::all(&places, plan.units),
        },
    };
    let further = remarks.get(session.foremost().len()..).unwrap_or_default();
    let text = |rankings: &[&Ranking]| {
        text(&session, rankings, (&conflicts, &linked, &places), further)
            .both(if args.out.is_some() && maps == Maps::Best {
                maps_of(rankings, &conflicts)
            } else {
                String::new()
            })
            .and(closing(plan, Output::Rank))
    };
    let text = if on_screen {
        with_maps_shown(&session, &inputs, &channels, &rankings, text).map_err(wrong)?
    } else {
        text(&rankings)
    };
    tell(
        &session,
        args,
        "ranking",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let relief = session.relief()?;
            let proposed = |ranking: &Ranking| {
                let first = ranking.sites.first()?;
                let site = RoofConflict::proposed(&conflicts, ranking)?;
                (maps == Maps::Best && site.site != first.site).then(|| site.site.clone())
            };
            let channel_stems = file_stems(rankings.iter().map(|r| r.channel.as_str()));
            let mut maps = Vec::new();
            for ((ranked, channel), channel_stem) in
                ranked.iter().zip(&channels).zip(&channel_stems)
            {
                let Ranked { ranking, coverages } = &**ranked;
                let site_stems = file_stems(ranking.sites.iter().map(|s| s.site.as_str()));
                let instead = proposed(ranking);
                let drawn = |place: usize, name: &str| match &instead {
                    Some(instead) => instead == name,
                    None => place < coverages.len(),
                };
                for (place, (site, stem)) in ranking.sites.iter().zip(&site_stems).enumerate() {
                    if !drawn(place, &site.site) {
                        continue;
                    }
                    let stem = format!("{channel_stem}-{stem}");
                    let site = score_in_full(&inputs, channel, site).map_err(wrong)?;
                    let other = instead.as_ref().and_then(|name| named_site(plan, name));
                    let other = other.map(|site| map_site(&inputs, channel, site)).transpose();
                    let other = other.map_err(wrong)?.map(Cow::Owned);
                    let Some(coverage) =
                        other.or_else(|| Some(Cow::Borrowed(coverages.get(place)?)))
                    else {
                        continue;
                    };
                    let (channel, site) = (ranking.channel.as_str(), Cow::Owned(site));
                    maps.push(ToDraw { stem, channel, site, coverage });
                }
            }
            add_maps(outbox, &session, &relief, &maps)
        },
    )?;
    interrupt::keeps(None);
    args.out.iter().for_each(|out| forget_maps(out));
    Ok(())
}

/// The text on a screen, with the share of the map that works for the sites that it
/// shows: maps are what takes the time.
fn with_maps_shown(
    session: &Session,
    inputs: &RankInputs<'_>,
    channels: &[&Channel],
    rankings: &[&Ranking],
    text: impl Fn(&[&Ranking]) -> Screen,
) -> Result<Screen, RankError> {
    let mut told: Vec<Ranking> = rankings.iter().copied().cloned().collect();
    loop {
        let screen = text(&told.iter().collect::<Vec<_>>());
        let shown = |ranking: &Ranking| {
            let title = ranking_title(&ranking.channel);
            let rows = rows_on_screen(session, &screen, By::Prediction, &title);
            let without = ranking.sites.iter().take(rows).filter(|site| site.map_share.is_none());
            without.map(|score| score.site.clone()).collect::<Vec<_>>()
        };
        let shown: HashSet<String> = told.iter().flat_map(shown).collect();
        if shown.is_empty() {
            return Ok(screen);
        }
        let steps = inputs.grid.rows() * channels.len() * shown.len();
        let progress = session.begin("maps of the sites on the screen", steps, "the ranking");
        let row_done = || progress.inc(1);
        let inputs = RankInputs { row_done: &row_done, ..*inputs };
        for site in session.plan.sites.iter().filter(|site| shown.contains(&site.name)) {
            let coverages = map_site_on(&inputs, channels, site)?;
            for (ranking, coverage) in told.iter_mut().zip(coverages) {
                let scores = ranking.sites.iter_mut().filter(|score| score.site == site.name);
                scores.for_each(|score| score.map_share = Some(coverage.working_share()));
            }
        }
    }
}

/// The site of this name.
fn named_site<'p>(plan: &'p Plan, name: &str) -> Option<&'p Site> {
    plan.sites.iter().find(|site| site.name == name)
}

/// Which sites the maps show: those that are proposed.
fn maps_of(rankings: &[&Ranking], conflicts: &[RoofConflict]) -> String {
    let of = |ranking: &&Ranking| {
        let site = RoofConflict::proposed(conflicts, ranking)?;
        Some(format!("{} from {}", ranking.channel, site.site))
    };
    let all: Vec<String> = rankings.iter().filter_map(of).collect();
    if all.is_empty() { String::new() } else { format!("The maps show {}.\n", all.join(", ")) }
}

/// How words would get to the best site of each channel from linked relays elsewhere.
fn linked(
    session: &Session,
    channels: &[&Channel],
    rankings: &[&Ranking],
) -> Result<Vec<LinkedSites>, RankError> {
    let best = rankings.iter().map(|ranking| ranking.sites.first());
    let of = channels.iter().zip(best).filter_map(|(channel, best)| Some((channel, best?)));
    of.map(|(channel, best)| session.linked_sites(channel, &best.site, &session.stop))
        .filter_map(Result::transpose)
        .collect()
}

/// The channels that are ranked: those with a station, or the one that was named.
pub(super) fn ranked<'a>(
    session: &'a Session,
    named: Option<&str>,
) -> Result<Vec<&'a Channel>, Failure> {
    let first = session.station_channel(named)?;
    let all = session.plan.channels.iter().filter(|c| c.has_station());
    Ok(named.map_or_else(|| all.collect(), |_| vec![first]))
}

/// What `ranking.json` does not hold of very many sites.
fn left_out(plan: &Plan) -> Option<Remark> {
    let (sites, in_full) = (plan.sites.len(), sites_in_full(plan.posts.len()));
    (sites > in_full).then(|| Remark {
        about: "ranking.json".to_owned(),
        text: format!(
            "with {sites} sites and {} posts budgets are given line by line for the best {in_full} of a channel; of the others there are margins, probabilities and reasons (perchline coverage --site NAME tells all of one)",
            plan.posts.len()
        ),
    })
}

/// The sites of each ranking as places where people work, best first.
fn places(session: &Session, channels: &[&Channel], rankings: &[&Ranking]) -> Vec<SitePlace> {
    let sites = &session.plan.sites;
    let of = |(channel, ranking): (&&Channel, &&Ranking)| -> Vec<SitePlace> {
        let scored = ranking.sites.iter();
        let known = scored.filter_map(|score| sites.iter().find(|site| site.name == score.site));
        known.map(|site| session.site_place(channel, site)).collect()
    };
    channels.iter().zip(rankings).flat_map(of).collect()
}

/// How many channels are ranked: those with a station, or the one that was named.
fn ranked_channels(plan: &Plan, named: Option<&str>) -> usize {
    named.map_or_else(|| plan.channels.iter().filter(|c| c.has_station()).count(), |_| 1)
}

/// A site's maps, one a channel, as an interrupted run kept them, or computed and kept.
fn map_once(
    inputs: &RankInputs<'_>,
    channels: &[&Channel],
    site: &Site,
    kept: &mut KeptMaps,
) -> Result<Vec<Coverage>, RankError> {
    let plan = inputs.plan;
    let place = |channel: &Channel| {
        plan.channels.iter().position(|c| c.name == channel.name).unwrap_or_default()
            * plan.sites.len()
            + plan.sites.iter().position(|s| s.name == site.name).unwrap_or_default()
    };
    let mut found: Vec<Option<Coverage>> =
        channels.iter().map(|channel| kept.find(place(channel), inputs.grid)).collect();
    let at_hand = found.iter().flatten().count();
    (0..inputs.grid.rows() * at_hand).for_each(|_| (inputs.row_done)());
    let left = channels.iter().zip(&found).filter(|(_, found)| found.is_none());
    let left: Vec<&Channel> = left.map(|(channel, _)| *channel).collect();
    if !left.is_empty() {
        let empty = found.iter_mut().zip(channels).filter(|(found, _)| found.is_none());
        for ((slot, channel), coverage) in empty.zip(map_site_on(inputs, &left, site)?) {
            kept.keep(place(channel), &coverage);
            *slot = Some(coverage);
        }
    }
    Ok(found.into_iter().flatten().collect())
}

impl From<Maps> for Keep {
    fn from(maps: Maps) -> Self {
        match maps {
            Maps::Best => Self::Best,
            Maps::All => Self::All,
            Maps::None => Self::None,
        }
    }
}

fn text(
    session: &Session,
    rankings: &[&Ranking],
    (conflicts, linked, places): (&[RoofConflict], &[LinkedSites], &[SitePlace]),
    remarks: &[Remark],
) -> Screen {
    let units = session.plan.units;
    let mut text = Screen::new(answers::ranked(&session.plan, rankings, conflicts))
        .long_only("", format!("{}\n", session.plan.event.name))
        .and(heading(session))
        .both(roof_conflict_lines(conflicts))
        .both("\n");
    for (place, ranking) in rankings.iter().enumerate() {
        let proposed = RoofConflict::proposed(conflicts, ranking);
        let is_proposed = |at: &SitePlace| proposed.is_some_and(|site| site.site == at.site);
        let own: Vec<_> = places.iter().filter(|p| p.channel == ranking.channel).cloned().collect();
        let of_proposed: Vec<_> = own.iter().filter(|at| is_proposed(at)).cloned().collect();
        let of_channel = linked.iter().filter(|linked| linked.channel == ranking.channel);
        text = text
            .rows(ranking_rows(ranking, conflicts))
            .rows(refused_rows(ranking, units))
            .long_only("what the other sites lose", why_not_lines(ranking, units))
            .short_only(place_lines(&of_proposed, units, |_| false))
            .long_only("the other places", place_lines(&own, units, is_proposed))
            .long_only("links between relays", of_channel.map(linked_lines).collect::<String>())
            .long_only("duplexers", duplexer_table(ranking));
        if let Some(site) = proposed {
            let title = format!("\n{} from {}, post by post\n", ranking.channel, site.site);
            let tables = site_tables(&title, site, units);
            // The posts of the first channel are what an event is planned for.
            text = match place {
                0 => text.and(tables),
                _ => text.long_only("posts on the other channels", tables.long()),
            };
        }
        text = text.both("\n");
    }
    text.rows(power_rows(&session.energy().stations)).long_only("notes", remark_lines(remarks))
}
