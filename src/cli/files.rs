//! The files that verbs write.

use ndarray::Array2;
use perchline_coverage::Coverage;
pub(super) use perchline_report::documents::Document;
use perchline_report::geojson;
use perchline_report::map::{MapContent, draw};
use perchline_report::outbox::Outbox;
use perchline_report::tables::remark_lines;
use perchline_siting::SiteScore;
use perchline_terrain::write_geotiff;
use serde::Serialize;

use super::args::PlanArgs;
use super::failure::Failure;
use super::session::Session;
use super::{print, print_json, prints_into_a_file, written};

/// What a verb has to tell, for machines and for people.
pub(super) struct Told<'a, T> {
    pub(super) document: &'a T,
    pub(super) text: &'a str,
}

/// Writes what a verb has to tell, as JSON and as text, and what `add` puts
/// beside them into the folder that was asked for, if one was; and prints it.
pub(super) fn tell<T: Serialize>(
    session: &Session,
    args: &PlanArgs,
    name: &str,
    Told { document, text }: Told<'_, T>,
    add: impl FnOnce(&mut Outbox) -> Result<(), Failure>,
) -> Result<(), Failure> {
    hand_out(session, args, Told { document, text }, |outbox| {
        outbox.put_json(&format!("{name}.json"), document).map_err(Failure::output)?;
        outbox.put(&format!("{name}.txt"), text.as_bytes()).map_err(Failure::output)?;
        add(outbox)
    })
}

/// Delivers what `fill` puts into the folder that was asked for, if one was, and
/// prints what there is to tell.
pub(super) fn hand_out<T: Serialize>(
    session: &Session,
    args: &PlanArgs,
    told: Told<'_, T>,
    fill: impl FnOnce(&mut Outbox) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let mut outbox = session.outbox();
    if let Some(outbox) = &mut outbox {
        fill(outbox)?;
    }
    let out = || {
        if args.json { print_json(told.document) } else { print(told.text) }
    };
    // A file takes what it is given or has no room for it, and then nothing is
    // changed in the folder. A reader may take its time; results do not wait for it.
    let before = prints_into_a_file();
    if before {
        out()?;
    }
    let delivered = outbox.map(Outbox::deliver).transpose().map_err(Failure::output)?;
    if !before {
        out()?;
    }
    if args.json { Ok(()) } else { print(&written(&delivered.unwrap_or_default())) }
}

/// Adds a site's map, drawn over `relief`, to the outbox as PNG, GeoJSON and
/// float GeoTIFFs of margin and probability.
pub(super) fn add_map(
    outbox: &mut Outbox,
    session: &Session,
    relief: &Array2<u8>,
    stem: &str,
    channel: &str,
    site: &SiteScore,
    coverage: &Coverage,
) -> Result<(), Failure> {
    let content = MapContent::of(session, relief, channel, site, coverage);
    let png = draw(&content).map_err(Failure::output)?;
    outbox.put(&format!("{stem}.png"), &png).map_err(Failure::output)?;
    let features = geojson::map_features(&content).map_err(Failure::output)?;
    outbox.put_json(&format!("{stem}.geojson"), &features).map_err(Failure::output)?;
    drop(features);
    let margin = coverage.governing_margins();
    let metadata = [
        ("PROGRAM", format!("{} {}", session.provenance.program, session.provenance.version)),
        ("METHOD", session.provenance.method.to_owned()),
        ("SITE", site.site.clone()),
        ("CHANNEL", channel.to_owned()),
        ("MADE_AT", session.provenance.made_at.clone()),
        ("PLAN_SHA256", session.plan.sha256.clone()),
        ("INPUTS", session.provenance.lines()),
        ("REMARKS", remark_lines(&session.remarks)),
    ];
    let metadata: Vec<_> = metadata.iter().map(|(k, v)| (*k, v.as_str())).collect();
    for (layer, values, what) in [
        ("margin", margin.view(), "governing margin, dB"),
        ("probability", coverage.probability.view(), "probability of both ways, 0 to 1"),
    ] {
        outbox
            .put_by(&format!("{stem}-{layer}.tif"), |file| {
                write_geotiff(file, &coverage.grid, values, what, &metadata)
            })
            .map_err(Failure::output)?;
    }
    Ok(())
}
