//! Posts, sites, areas and routes for programs that show a globe (KML 2.2, OGC
//! 07-147r2), alone or packed with the picture of the coverage.

use std::collections::HashMap;
use std::io::{Cursor, Write as _};

use geo::{LineString, Polygon};
use kml::types::{Element, Folder, KmlDocument, Placemark};
use kml::{Kml, KmlVersion, KmlWriter};
use zip::write::SimpleFileOptions;

use crate::ReportError;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::base;
use perchline_link::Outcome;
use perchline_terrain::Extent;
use perchline_units::Position;

use super::super::plain;
use super::overlay::{Overlay, overlay};
use super::{BriefContent, made, part_of, styles, title, told, told_of_site};

/// Name of the coverage's picture inside the package.
const PICTURE: &str = "coverage.png";

/// Colours as KML writes them: opacity, blue, green, red. Those of the maps.
const ROUTE: &str = "ff46288a";
const INK: &str = "ff33241d";
const AREA_FILL: &str = "2033241d";
const NO_FILL: &str = "00000000";

/// Writes the file without a picture, which one file cannot hold.
pub(crate) fn write_kml(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&document(content, None)?)
}

/// Writes the same with the coverage laid on the ground, as one package (KMZ).
pub(crate) fn write_kmz(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let Overlay { png, extent } = overlay(content.map.coverage)?;
    let kml = document(content, Some(extent))?;
    let mut files = vec![("doc.kml".to_owned(), kml), (PICTURE.to_owned(), png)];
    files.extend(styles::pictures()?);
    slot.bytes(&package(&files)?)
}

/// Document and pictures in one file, of which the first is the one that is opened.
fn package(files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, ReportError> {
    let failed =
        |e: &dyn std::fmt::Display| ReportError::Exchange { format: "KMZ", reason: e.to_string() };
    let mut package = zip::ZipWriter::new(Cursor::new(Vec::new()));
    // A package's own clock would make every run another file.
    let options = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
    for (name, bytes) in files {
        package.start_file(name.as_str(), options).map_err(|e| failed(&e))?;
        package.write_all(bytes).map_err(|e| failed(&e))?;
    }
    Ok(package.finish().map_err(|e| failed(&e))?.into_inner())
}

fn document(content: &BriefContent<'_>, picture: Option<Extent>) -> Result<Vec<u8>, ReportError> {
    let BriefContent { brief, inputs, .. } = *content;
    let plan = inputs.plan;
    let mut elements = vec![
        Kml::Element(text("name", &title(brief))),
        Kml::Element(text("open", "1")),
        Kml::Element(text("description", &made(brief, plan))),
        Kml::Element(style("route", ROUTE, NO_FILL, "4")),
        Kml::Element(style("gap", INK, NO_FILL, "9")),
        Kml::Element(style("area", INK, AREA_FILL, "3")),
    ];
    // Pictures of marks are in the package alone: without them the program's own pins
    // have the colours of the map.
    let packed = picture.is_some();
    elements.extend(Outcome::ALL.into_iter().map(|outcome| {
        let picture = packed.then(|| styles::picture_of(outcome));
        Kml::Element(icon(&styles::post_id(outcome), &tint(outcome), picture, "0.9"))
    }));
    let site = |id: &str, picture: &str, scale: &str| {
        Kml::Element(icon(id, ROUTE, packed.then(|| picture.to_owned()), scale))
    };
    elements.push(site("relay", styles::RELAY_PICTURE, "1.4"));
    elements.push(site("site", styles::SITE_PICTURE, "0.8"));
    elements.extend(picture.map(|extent| Kml::Element(ground_overlay(extent))));
    let posts = brief.posts.iter().map(|post| {
        placemark(
            &format!("{} {}", post.number, post.name),
            told(&post.sentence, &post.advice),
            &styles::post_id(post.outcome),
            point(post.at),
        )
    });
    let sites = plan.sites.iter().map(|site| {
        let told = told_of_site(inputs, &site.name);
        let style = if site.name == inputs.site.site { "relay" } else { "site" };
        placemark(&plain(&site.name), told, style, point(site.at))
    });
    let routes = plan.routes.iter().zip(&brief.routes).map(|(route, along)| {
        placemark(&along.name, told(&along.sentence, &along.advice), "route", line(&route.line))
    });
    let gaps = plan.routes.iter().zip(&inputs.site.routes).flat_map(|(route, score)| {
        score.gaps.iter().map(|gap| {
            let (from, to) = (gap.from_m, gap.to_m);
            let units = plan.units;
            let told = format!(
                "Radio should not work all along here: from {} to {} along {}.",
                units.distance(from),
                units.distance(to),
                plain(&route.name)
            );
            let name = format!("Gap of {}", units.distance(to - from));
            placemark(&name, told, "gap", line(&part_of(&route.line, gap)))
        })
    });
    let areas = plan.areas.iter().zip(&brief.areas).map(|(area, place)| {
        placemark(&place.name, told(&place.sentence, &place.advice), "area", polygon(&area.outline))
    });
    elements.extend([
        folder("Posts", posts.collect()),
        folder("Places for the relay", sites.collect()),
        folder("Routes", routes.collect()),
        folder("Gaps on routes", gaps.collect()),
        folder("Areas", areas.collect()),
    ]);
    let root = Kml::KmlDocument(KmlDocument {
        version: KmlVersion::V22,
        attrs: HashMap::from([("xmlns".to_owned(), "http://www.opengis.net/kml/2.2".to_owned())]),
        elements: vec![Kml::Document { attrs: HashMap::new(), elements }],
    });
    let mut bytes = b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n".to_vec();
    KmlWriter::<_, f64>::from_writer(&mut bytes)
        .write(&root)
        .map_err(|e| ReportError::Exchange { format: "KML", reason: e.to_string() })?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn folder(name: &str, elements: Vec<Kml>) -> Kml {
    Kml::Folder(Folder { name: Some(name.to_owned()), elements, ..Folder::default() })
}

/// A place; what is not the name stands in the order that the standard wants.
fn placemark(name: &str, told: String, style: &str, geometry: Element) -> Kml {
    let style = text("styleUrl", &format!("#{style}"));
    Kml::Placemark(Placemark {
        name: Some(name.to_owned()),
        description: Some(told),
        children: vec![style, geometry],
        ..Placemark::default()
    })
}

fn text(name: &str, content: &str) -> Element {
    Element { name: name.to_owned(), content: Some(content.to_owned()), ..Element::default() }
}

fn parent(name: &str, children: Vec<Element>) -> Element {
    Element { name: name.to_owned(), children, ..Element::default() }
}

fn style(id: &str, colour: &str, fill: &str, width: &str) -> Element {
    Element {
        attrs: HashMap::from([("id".to_owned(), id.to_owned())]),
        ..parent(
            "Style",
            vec![
                parent("LineStyle", vec![text("color", colour), text("width", width)]),
                parent("PolyStyle", vec![text("color", fill)]),
            ],
        )
    }
}

/// The colour of an outcome on the maps.
fn tint(outcome: Outcome) -> String {
    let [red, green, blue] = base(outcome);
    format!("ff{blue:02x}{green:02x}{red:02x}")
}

/// How a point looks: as in this picture, or as a pin of this colour.
fn icon(id: &str, colour: &str, picture: Option<String>, scale: &str) -> Element {
    // A colour tints a picture, which has its own.
    let colour = picture.is_none().then(|| text("color", colour));
    let picture = picture.map(|file| parent("Icon", vec![text("href", &file)]));
    let parts = colour.into_iter().chain([text("scale", scale)]).chain(picture);
    Element {
        attrs: HashMap::from([("id".to_owned(), id.to_owned())]),
        ..parent("Style", vec![parent("IconStyle", parts.collect())])
    }
}

fn point(at: Position) -> Element {
    parent("Point", vec![text("coordinates", &coordinates([at.point()]))])
}

fn line(line: &LineString) -> Element {
    let along = coordinates(line.points());
    parent("LineString", vec![text("tessellate", "1"), text("coordinates", &along)])
}

fn polygon(outline: &Polygon) -> Element {
    let ring = |side: &str, ring: &LineString| {
        let around = text("coordinates", &coordinates(ring.points()));
        parent(side, vec![parent("LinearRing", vec![around])])
    };
    let holes = outline.interiors().iter().map(|hole| ring("innerBoundaryIs", hole));
    let sides = [text("tessellate", "1"), ring("outerBoundaryIs", outline.exterior())];
    parent("Polygon", sides.into_iter().chain(holes).collect())
}

/// Longitude and latitude to seven decimals, about a centimetre.
fn coordinates(points: impl IntoIterator<Item = geo::Point>) -> String {
    let pairs = points.into_iter().map(|at| format!("{:.7},{:.7}", at.x(), at.y()));
    pairs.collect::<Vec<_>>().join(" ")
}

fn ground_overlay(extent: Extent) -> Element {
    let degrees = |name: &str, value: f64| text(name, &format!("{value:.9}"));
    let (south_west, north_east) = (extent.south_west, extent.north_east);
    parent(
        "GroundOverlay",
        vec![
            text("name", "Where radio should work"),
            parent("Icon", vec![text("href", PICTURE)]),
            parent(
                "LatLonBox",
                vec![
                    degrees("north", north_east.latitude().value()),
                    degrees("south", south_west.latitude().value()),
                    degrees("east", north_east.longitude().value()),
                    degrees("west", south_west.longitude().value()),
                ],
            ),
        ],
    )
}
