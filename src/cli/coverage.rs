//! `perchline coverage`: one site's map.

use std::borrow::Cow;

use perchline_assessment::{Holds, SiteMap};
use perchline_link::Outcome;
use perchline_report::answers::{self, Against};
use perchline_report::cautions::{Output, said};
use perchline_report::documents::SiteCoverage;
use perchline_report::outbox::file_stems;
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, remark_lines, site_headline, site_tables};
use perchline_report::words::{self, caveats, closing};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, ToDraw, Told, add_maps, hand_out};
use super::session::Session;

pub(super) fn run(args: &PlanArgs, site: &str, channel: Option<&str>) -> Result<(), Failure> {
    let session = Session::open(args, |plan| Holds::maps(1).site(plan))?;
    let plan = &session.plan;
    let site = session.site(site)?;
    let channel = session.station_channel(channel)?;
    let grid = session.map_grid()?;
    let progress = session.begin(&format!("the map of {}", site.name), grid.rows(), "its files");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let map = session
        .site_map(&inputs, channel, site)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let against = Against::of(&session, channel, site)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let SiteMap { score: scored, coverage } = &*map;
    let shares: Vec<_> = Outcome::ALL.iter().map(|o| (*o, coverage.share(*o))).collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Coverage),
        result: SiteCoverage {
            against: &against,
            channel: &channel.name,
            site: scored,
            shares: shares.clone(),
            caveats: caveats(session.plan.houses()),
        },
    };
    let of_map = shares.iter().filter(|(_, share)| *share > 0.0).map(|(outcome, share)| {
        format!(
            "{:>6.1} % of the map: {}\n",
            share * 100.0,
            words::legend(*outcome, coverage.reliability)
        )
    });
    let title = format!("{}: {} on channel {}\n", plan.event.name, site.name, channel.name);
    let text = Screen::new(answers::covered(&channel.name, scored, &against, plan.units) + &title)
        .and(heading(&session))
        .long_only("", site_headline(scored) + "\n")
        .both(of_map.collect::<String>())
        .and(site_tables("", scored, plan.units))
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Coverage));
    hand_out(
        &session,
        args,
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let stem = file_stems([channel.name.as_str()]).concat()
                + "-"
                + &file_stems([site.name.as_str()]).concat();
            let relief = session.relief()?;
            let json = format!("{stem}.json");
            let (site, coverage) = (Cow::Borrowed(scored), Cow::Borrowed(coverage));
            let map = ToDraw { stem, channel: &channel.name, site, coverage };
            add_maps(outbox, &session, &relief, &[map])?;
            outbox.put_json(&json, &session.timed(&document)).map_err(Failure::output)
        },
    )
}
