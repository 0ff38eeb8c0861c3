//! The cells of a map as float GeoTIFFs.

use ndarray::Array2;
use perchline_terrain::write_geotiff;

use crate::outputs::{OutboxSlot, OutputError};
use crate::tables::remark_lines;

use super::MapContent;

/// Steps a decibel in which margins are written, and steps from 0 to 1 of probabilities:
/// powers of two. What is finer than that no prediction knows, and does not pack.
const MARGIN_STEPS: f32 = 64.0;
const PROBABILITY_STEPS: f32 = 16_384.0;

/// Rounds down, so that nothing is told to be better than it is.
fn down_to(steps: f32, mut values: Array2<f32>) -> Array2<f32> {
    values.par_mapv_inplace(|value| (value * steps).floor() / steps);
    values
}

/// Writes the governing margin of each cell, dB.
pub fn write_margin(content: &MapContent<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    let margin = content.coverage.governing_margins();
    write(content, down_to(MARGIN_STEPS, margin), "governing margin, dB", slot)
}

/// Writes the probability of both ways in each cell.
pub fn write_probability(
    content: &MapContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let probability = content.coverage.probability.clone();
    let probability = down_to(PROBABILITY_STEPS, probability);
    write(content, probability, "probability of both ways, 0 to 1", slot)
}

/// Writes a layer on the map's grid with what made it.
fn write(
    content: &MapContent<'_>,
    values: Array2<f32>,
    what: &str,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let provenance = content.provenance;
    let metadata = [
        ("PROGRAM", format!("{} {}", provenance.program, provenance.version)),
        ("METHOD", provenance.method.to_owned()),
        ("SITE", content.site.site.clone()),
        ("CHANNEL", content.channel.to_owned()),
        ("MADE_AT", provenance.made_at.clone()),
        ("PLAN_SHA256", content.plan.sha256.clone()),
        ("INPUTS", provenance.lines()),
        ("REMARKS", remark_lines(content.remarks)),
    ];
    let metadata: Vec<_> = metadata.iter().map(|(k, v)| (*k, v.as_str())).collect();
    slot.by(|file| write_geotiff(file, &content.coverage.grid, values.view(), what, &metadata))
}
