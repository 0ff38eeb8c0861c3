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
use perchline_terrain::Extent;
use perchline_units::Position;

use super::super::plain;
use super::overlay::{Overlay, overlay};
use super::{BriefContent, made, title, told, told_of_site};

/// Name of the coverage's picture inside the package.
const PICTURE: &str = "coverage.png";

/// Colours as KML writes them: opacity, blue, green, red. Those of the maps.
const ROUTE: &str = "ff46288a";
const AREA: &str = "ff33241d";
const AREA_FILL: &str = "2033241d";

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
    slot.bytes(&package(&kml, &png)?)
}

/// Document and picture in one file.
fn package(kml: &[u8], png: &[u8]) -> Result<Vec<u8>, ReportError> {
    let failed =
        |e: &dyn std::fmt::Display| ReportError::Exchange { format: "KMZ", reason: e.to_string() };
    let mut package = zip::ZipWriter::new(Cursor::new(Vec::new()));
    // A package's own clock would make every run another file.
    let options = SimpleFileOptions::default().last_modified_time(zip::DateTime::default());
    // The first file is the one that is opened.
    for (name, bytes) in [("doc.kml", kml), (PICTURE, png)] {
        package.start_file(name, options).map_err(|e| failed(&e))?;
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
        Kml::Element(style("route", ROUTE, "00000000", "4")),
        Kml::Element(style("area", AREA, AREA_FILL, "3")),
    ];
    elements.extend(picture.map(|extent| Kml::Element(ground_overlay(extent))));
    let posts = brief.posts.iter().map(|post| {
        placemark(
            &format!("{} {}", post.number, post.name),
            told(&post.sentence, &post.advice),
            None,
            point(post.at),
        )
    });
    let sites = plan.sites.iter().map(|site| {
        let told = told_of_site(inputs, &site.name);
        placemark(&plain(&site.name), told, None, point(site.at))
    });
    let routes = plan.routes.iter().zip(&brief.routes).map(|(route, along)| {
        placemark(
            &along.name,
            told(&along.sentence, &along.advice),
            Some("route"),
            line(&route.line),
        )
    });
    let areas = plan.areas.iter().zip(&brief.areas).map(|(area, place)| {
        placemark(
            &place.name,
            told(&place.sentence, &place.advice),
            Some("area"),
            polygon(&area.outline),
        )
    });
    elements.extend([
        folder("Posts", posts.collect()),
        folder("Places for the relay", sites.collect()),
        folder("Routes", routes.collect()),
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
fn placemark(name: &str, told: String, style: Option<&str>, geometry: Element) -> Kml {
    let style = style.map(|style| text("styleUrl", &format!("#{style}")));
    Kml::Placemark(Placemark {
        name: Some(name.to_owned()),
        description: Some(told),
        children: style.into_iter().chain([geometry]).collect(),
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
