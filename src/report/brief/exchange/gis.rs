//! The briefing as tables of features for programs that work on maps.

use geo::{Geometry, LineString, Polygon};

use crate::geojson::coverage_polygons;
use crate::outputs::{OutboxSlot, OutputError};
use crate::{ReportError, words};
use perchline_coverage::Coverage;
use perchline_siting::ShareScore;
use perchline_vector::{FieldKind, FieldValue, Shape, Table};

use super::super::plain;
use super::{Brief, BriefContent, BriefInputs, made, sheet_styles, told, told_of_site};

use FieldKind::{Number, Text, Whole};

/// Writes posts, sites, areas, routes and the dissolved classes of the coverage,
/// and what made them, as a GeoPackage.
pub(crate) fn write_geopackage(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, inputs, map, .. } = *content;
    let tables = [
        posts(brief, inputs),
        sites(inputs),
        areas(brief, inputs),
        routes(brief, inputs),
        classes(brief, inputs, map.coverage)?,
    ];
    let made_at = &inputs.provenance.made_at;
    let styles = sheet_styles::styles();
    slot.by(|file| perchline_vector::write_geopackage(file, &tables, &styles, made_at))
}

fn posts(brief: &Brief, inputs: &BriefInputs<'_>) -> Table {
    let features = brief.posts.iter().zip(&inputs.site.posts).map(|(post, score)| {
        let values = vec![
            whole(post.number),
            post.name.clone().into(),
            words::short(post.outcome).to_owned().into(),
            score.probability.into(),
            score.governing_margin_db.map(|margin| margin.value()).into(),
            told(&post.sentence, &post.advice).into(),
        ];
        (post.at.point().into(), values)
    });
    Table {
        name: "posts",
        shape: Shape::Points,
        fields: vec![
            ("number", Whole),
            ("name", Text),
            ("outcome", Text),
            ("probability", Number),
            ("margin_db", Number),
            ("told", Text),
        ],
        features: features.collect(),
    }
}

fn sites(inputs: &BriefInputs<'_>) -> Table {
    let features = inputs.plan.sites.iter().map(|site| {
        let used = site.name == inputs.site.site;
        let above = used.then(|| inputs.site.antenna_above_ground_m.value());
        let values = vec![
            plain(&site.name).into(),
            whole(usize::from(used)),
            whole(usize::from(site.available)),
            above.into(),
            told_of_site(inputs, &site.name).into(),
        ];
        (site.at.point().into(), values)
    });
    Table {
        name: "sites",
        shape: Shape::Points,
        fields: vec![
            ("name", Text),
            ("in_use", Whole),
            ("available", Whole),
            ("antenna_above_ground_m", Number),
            ("told", Text),
        ],
        features: features.collect(),
    }
}

fn areas(brief: &Brief, inputs: &BriefInputs<'_>) -> Table {
    let scored = inputs.plan.areas.iter().zip(&brief.areas).zip(&inputs.site.areas);
    let features = scored.map(|((area, line), score)| {
        let outline: Polygon = area.outline.clone();
        (Geometry::from(outline), share(&line.name, score, told(&line.sentence, &line.advice)))
    });
    Table {
        name: "areas",
        shape: Shape::Areas,
        fields: share_fields(),
        features: features.collect(),
    }
}

fn routes(brief: &Brief, inputs: &BriefInputs<'_>) -> Table {
    let scored = inputs.plan.routes.iter().zip(&brief.routes).zip(&inputs.site.routes);
    let features = scored.map(|((route, line), score)| {
        let along: LineString = route.line.clone();
        (Geometry::from(along), share(&line.name, &score.share, told(&line.sentence, &line.advice)))
    });
    Table {
        name: "routes",
        shape: Shape::Lines,
        fields: share_fields(),
        features: features.collect(),
    }
}

fn classes(
    brief: &Brief,
    inputs: &BriefInputs<'_>,
    coverage: &Coverage,
) -> Result<Table, ReportError> {
    let made = made(brief, inputs.plan);
    let features = coverage_polygons(coverage)?.into_iter().map(|(outcome, ground)| {
        let values = vec![
            words::short(outcome).to_owned().into(),
            words::legend(outcome, coverage.reliability).into(),
            FieldValue::Number(coverage.share(outcome)),
            plain(&inputs.site.site).into(),
            plain(&inputs.channel.name).into(),
            made.clone().into(),
        ];
        (Geometry::from(ground), values)
    });
    Ok(Table {
        name: "coverage",
        shape: Shape::ManyAreas,
        fields: vec![
            ("outcome", Text),
            ("meaning", Text),
            ("share_of_map", Number),
            ("site", Text),
            ("channel", Text),
            ("made", Text),
        ],
        features: features.collect(),
    })
}

fn share_fields() -> Vec<(&'static str, FieldKind)> {
    vec![("name", Text), ("share", Number), ("probability", Number), ("told", Text)]
}

fn share(name: &str, score: &ShareScore, told: String) -> Vec<FieldValue> {
    vec![
        name.to_owned().into(),
        FieldValue::Number(score.share),
        FieldValue::Number(score.probability),
        told.into(),
    ]
}

fn whole(number: usize) -> FieldValue {
    // Numbers of posts and switches.
    FieldValue::Whole(i64::try_from(number).unwrap_or(i64::MAX))
}
