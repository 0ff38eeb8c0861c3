//! The files that verbs write.

use ndarray::Array2;
use serde::Serialize;

use crate::coverage::Coverage;
use crate::plan::Remark;
use crate::report::Provenance;
use crate::report::geojson;
use crate::report::map::draw;
use crate::report::outbox::Outbox;
use crate::report::tables::remark_lines;
use crate::siting::SiteScore;
use crate::terrain::write_geotiff;

use super::args::PlanArgs;
use super::failure::Failure;
use super::session::Session;
use super::{print, written};

/// Writes what a verb has to tell, as JSON and as text, and what `add` puts
/// beside them into the folder that was asked for, if one was; and prints it.
pub(super) fn tell(
    session: &Session,
    args: &PlanArgs,
    name: &str,
    (json, text): (&str, &str),
    add: impl FnOnce(&mut Outbox) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let mut delivered = Vec::new();
    if let Some(out) = &args.out {
        let mut outbox = session.outbox(out)?;
        outbox.put(&format!("{name}.json"), json.as_bytes()).map_err(Failure::output)?;
        outbox.put(&format!("{name}.txt"), text.as_bytes()).map_err(Failure::output)?;
        add(&mut outbox)?;
        delivered = outbox.deliver().map_err(Failure::output)?;
    }
    if args.json { print(json) } else { print(&format!("{text}{}", written(&delivered))) }
}

/// A result as JSON: what made it, what to know about it, and the result.
#[derive(Serialize)]
pub(super) struct Document<'a, T> {
    pub(super) provenance: &'a Provenance,
    pub(super) remarks: &'a [Remark],
    pub(super) result: T,
}

/// Pretty JSON with a final newline.
pub(super) fn to_json(value: &impl Serialize) -> Result<String, Failure> {
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(Failure::output)
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
    let content = session.map_content(relief, channel, site, coverage);
    let png = draw(&content).map_err(Failure::output)?;
    outbox.put(&format!("{stem}.png"), &png).map_err(Failure::output)?;
    let features = geojson::map_features(&content).map_err(Failure::output)?;
    outbox
        .put(&format!("{stem}.geojson"), to_json(&features)?.as_bytes())
        .map_err(Failure::output)?;
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
        let file = outbox.reserve(&format!("{stem}-{layer}.tif"));
        write_geotiff(&file, &coverage.grid, values, what, &metadata).map_err(Failure::output)?;
    }
    Ok(())
}
