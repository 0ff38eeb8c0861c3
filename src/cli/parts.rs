//! `perchline rank --part` and `--gather`: a ranking of very many sites, cut into parts
//! that several machines work on, and put together again.

use std::collections::BTreeMap;

use perchline_assessment::{Holds, Ranked};
use perchline_plan::{Channel, Site};
use perchline_report::digest_of_parts;
use perchline_report::part_file::{FoundPart, KeptScore, PartOf, Share, pack};
use perchline_report::screen::Screen;
use perchline_siting::{
    Keep, RankError, RankInputs, SiteScore, map_site_on, rank_scored, score_without_map,
};
use perchline_terrain::Grid;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, hand_out};
use super::rank::ranked;
use super::session::Session;

/// Scores the sites of one part and keeps the scores.
pub(super) fn run(args: &PlanArgs, channel: Option<&str>, share: Share) -> Result<(), Failure> {
    let session = Session::open(args, |plan| Holds::maps(1).site(plan))?;
    let plan = &session.plan;
    let channels = ranked(&session, channel)?;
    let grid = session.map_grid()?;
    let own = || plan.sites.iter().enumerate().filter(|(place, _)| share.holds(*place));
    let steps = grid.rows() * own().count() * channels.len();
    let progress = session.begin("maps of the sites", steps, "the scores");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let scored = |(place, site): (usize, &Site)| {
        let maps = map_site_on(&inputs, &channels, site)?;
        let scores = channels.iter().zip(maps).map(|(channel, map)| {
            let share = Some(map.working_share());
            let score = score_without_map(&inputs, channel, site, share)?;
            Ok(KeptScore { channel: channel.name.clone(), place, score })
        });
        scores.collect::<Result<Vec<_>, RankError>>()
    };
    let mut scores = own()
        .map(scored)
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?
        .concat();
    // Channel by channel.
    scores.sort_by_key(|score| channels.iter().position(|c| c.name == score.channel));
    session.end();
    let (bytes, sha256) = pack(&scores).map_err(Failure::output)?;
    let part = PartOf {
        share,
        run: digest_of_parts(&session.provenance, &session.terrain, &grid),
        version: session.provenance.version.to_owned(),
        channels: channels.iter().map(|channel| channel.name.clone()).collect(),
        sites: own().count(),
        sha256,
    };
    let text = format!(
        "Part {} of {}: {} of {} sites scored. When all parts are done: perchline rank {} --gather DIR --out RESULTS, DIR being the folder that holds the parts or their folders.\n",
        share.part,
        share.of,
        part.sites,
        plan.sites.len(),
        args.plan.display(),
    );
    let text = Screen::new(text).remarks(&session.remarks);
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: Vec::new(),
        result: &part,
    };
    hand_out(&session, args, Told { document: &document, text: &text, by: By::Said }, |outbox| {
        let stem = share.stem();
        outbox.put(&format!("{stem}.parquet"), &bytes).map_err(Failure::output)?;
        outbox.put_json(&format!("{stem}.json"), &part).map_err(Failure::output)
    })
}

/// The scores of all parts, by channel.
pub(super) struct Gathered(BTreeMap<String, Vec<SiteScore>>);

impl Gathered {
    /// Reads the parts of a ranking of these channels.
    pub(super) fn of(
        session: &Session,
        channels: &[&Channel],
        grid: &Grid,
        parts: &[FoundPart],
    ) -> Result<Self, Failure> {
        let run = digest_of_parts(&session.provenance, &session.terrain, grid);
        let mut by_channel: BTreeMap<String, Vec<(usize, SiteScore)>> = BTreeMap::new();
        for part in parts {
            for KeptScore { channel, place, score } in part.scores(&run).map_err(Failure::input)? {
                by_channel.entry(channel).or_default().push((place, score));
            }
        }
        let sites = session.plan.sites.len();
        let mut gathered = BTreeMap::new();
        for channel in channels {
            let mut scores = by_channel.remove(&channel.name).unwrap_or_default();
            scores.sort_by_key(|(place, _)| *place);
            if !scores.iter().map(|(place, _)| *place).eq(0..sites) {
                return Err(Failure::Input(format!(
                    "the parts do not hold every site on channel \"{}\": they were made for other channels; rank them again with the same --channel, or without",
                    channel.name
                )));
            }
            let scores = scores.into_iter().map(|(_, score)| score).collect();
            gathered.insert(channel.name.clone(), scores);
        }
        Ok(Self(gathered))
    }

    /// The ranking of a channel, with the maps that are to be kept.
    pub(super) fn ranked(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        keep: Keep,
    ) -> Result<Ranked, RankError> {
        let scores = self.0.get(&channel.name).cloned().unwrap_or_default();
        let (ranking, coverages) = rank_scored(inputs, channel, keep, scores)?;
        Ok(Ranked { ranking, coverages })
    }
}
