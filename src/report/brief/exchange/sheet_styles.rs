//! How the layers of a GeoPackage look in a program for maps: colours and shapes of the
//! maps, as an open style (Styled Layer Descriptor 1.1, OGC 05-078r4, with Symbology
//! Encoding 1.1, OGC 05-077r4) and as the style document that desktop programs keep
//! beside it. Nothing in them is out of the plan.

use perchline_link::Outcome;
use perchline_vector::LayerStyle;

use crate::palette::{ACCENT, INK, PAPER, base, hex, pattern_colour};
use crate::words;

/// Styles of all layers.
pub(super) fn styles() -> Vec<LayerStyle> {
    let posts: Vec<Rule> = Outcome::ALL.into_iter().map(post).collect();
    let coverage: Vec<Rule> = Outcome::ALL.into_iter().map(class).collect();
    let sites = vec![
        Rule::new(
            "1",
            "The relay",
            Symbol::Mark { shape: "triangle", fill: ACCENT.to_owned(), size: 14 },
        ),
        Rule::new(
            "0",
            "Not in use",
            Symbol::Mark { shape: "triangle", fill: PAPER.to_owned(), size: 9 },
        ),
    ];
    let line = |width| Symbol::Line { colour: ACCENT.to_owned(), width };
    let outline = Symbol::Area { fill: None, edge: Some(INK), hatched: None };
    vec![
        style("posts", Some("outcome"), posts, Some("name")),
        style("sites", Some("in_use"), sites, Some("name")),
        style("areas", None, vec![Rule::new("", "Staging area", outline)], Some("name")),
        style("routes", None, vec![Rule::new("", "Route", line(2))], Some("name")),
        style("coverage", Some("outcome"), coverage, None),
    ]
}

/// What features of one value look like.
struct Rule {
    value: String,
    title: String,
    symbol: Symbol,
}

impl Rule {
    fn new(value: &str, title: &str, symbol: Symbol) -> Self {
        Self { value: value.to_owned(), title: title.to_owned(), symbol }
    }
}

enum Symbol {
    /// A shape by its well-known name, so many pixels large.
    Mark {
        shape: &'static str,
        fill: String,
        size: u32,
    },
    Line {
        colour: String,
        width: u32,
    },
    /// With slanted lines of a colour where a pattern tells it apart.
    Area {
        fill: Option<String>,
        edge: Option<&'static str>,
        hatched: Option<String>,
    },
}

/// A layer of a symbol in the style document: its class and its properties.
type StyledLayer = (&'static str, Vec<(&'static str, String)>);

/// A post: told apart by its shape as well as by its colour.
fn post(outcome: Outcome) -> Rule {
    let shape = match outcome {
        Outcome::Strong | Outcome::Clear => "circle",
        Outcome::Patchy => "square",
        Outcome::OneWay => "triangle",
        Outcome::NoContact => "x",
        Outcome::Unknown => "cross",
    };
    let symbol = Symbol::Mark { shape, fill: hex(base(outcome)), size: 11 };
    Rule::new(words::short(outcome), words::meaning(outcome), symbol)
}

/// A class of the coverage.
fn class(outcome: Outcome) -> Rule {
    let symbol = Symbol::Area {
        fill: Some(hex(base(outcome))),
        edge: None,
        hatched: pattern_colour(outcome).map(hex),
    };
    Rule::new(words::short(outcome), words::meaning(outcome), symbol)
}

fn style(
    layer: &'static str,
    field: Option<&str>,
    rules: Vec<Rule>,
    label: Option<&str>,
) -> LayerStyle {
    LayerStyle {
        layer,
        descriptor: descriptor(layer, field, &rules, label),
        document: document(field, &rules, label),
    }
}

/// The open style.
fn descriptor(layer: &str, field: Option<&str>, rules: &[Rule], label: Option<&str>) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<StyledLayerDescriptor version=\"1.1.0\" xmlns=\"http://www.opengis.net/sld\" xmlns:se=\"http://www.opengis.net/se\" xmlns:ogc=\"http://www.opengis.net/ogc\">\n",
    );
    text += &format!("<NamedLayer><se:Name>{layer}</se:Name><UserStyle><se:FeatureTypeStyle>\n");
    for rule in rules {
        let filter = field.map_or_else(String::new, |field| {
            format!(
                "<ogc:Filter><ogc:PropertyIsEqualTo><ogc:PropertyName>{field}</ogc:PropertyName><ogc:Literal>{}</ogc:Literal></ogc:PropertyIsEqualTo></ogc:Filter>",
                rule.value
            )
        });
        text += &format!(
            "<se:Rule><se:Name>{}</se:Name>{filter}{}{}</se:Rule>\n",
            rule.title,
            rule.symbol.encoded(),
            label.map_or_else(String::new, lettered)
        );
    }
    text + "</se:FeatureTypeStyle></UserStyle></NamedLayer></StyledLayerDescriptor>\n"
}

/// The name beside what it names, on a rim of paper.
fn lettered(field: &str) -> String {
    format!(
        "<se:TextSymbolizer><se:Label><ogc:PropertyName>{field}</ogc:PropertyName></se:Label><se:Halo><se:Radius>1</se:Radius><se:Fill>{}</se:Fill></se:Halo><se:Fill>{}</se:Fill></se:TextSymbolizer>",
        parameter("fill", PAPER),
        parameter("fill", INK)
    )
}

fn parameter(name: &str, value: &str) -> String {
    format!("<se:SvgParameter name=\"{name}\">{value}</se:SvgParameter>")
}

impl Symbol {
    fn encoded(&self) -> String {
        let stroke = |colour: &str, width: u32| {
            let width = parameter("stroke-width", &width.to_string());
            format!("<se:Stroke>{}{width}</se:Stroke>", parameter("stroke", colour))
        };
        let filled = |colour: &str| format!("<se:Fill>{}</se:Fill>", parameter("fill", colour));
        match self {
            Self::Mark { shape, fill, size } => format!(
                "<se:PointSymbolizer><se:Graphic><se:Mark><se:WellKnownName>{shape}</se:WellKnownName>{}{}</se:Mark><se:Size>{size}</se:Size></se:Graphic></se:PointSymbolizer>",
                filled(fill),
                stroke(INK, 2)
            ),
            Self::Line { colour, width } => {
                format!("<se:LineSymbolizer>{}</se:LineSymbolizer>", stroke(colour, *width))
            }
            Self::Area { fill, edge, hatched } => {
                let ground = format!(
                    "<se:PolygonSymbolizer>{}{}</se:PolygonSymbolizer>",
                    fill.as_deref().map_or_else(String::new, filled),
                    edge.map_or_else(String::new, |edge| stroke(edge, 2))
                );
                let lines = hatched.as_deref().map_or_else(String::new, |colour| {
                    format!(
                        "<se:PolygonSymbolizer><se:Fill><se:GraphicFill><se:Graphic><se:Mark><se:WellKnownName>horline</se:WellKnownName>{}</se:Mark><se:Size>8</se:Size><se:Rotation><ogc:Literal>45</ogc:Literal></se:Rotation></se:Graphic></se:GraphicFill></se:Fill></se:PolygonSymbolizer>",
                        stroke(colour, 2)
                    )
                });
                ground + &lines
            }
        }
    }

    /// The kind of symbol and its layers, each a class and its properties.
    fn layers(&self) -> (&'static str, Vec<StyledLayer>) {
        let pixels = |name, value: u32| (name, value.to_string());
        let unit = |name| (name, "Pixel".to_owned());
        match self {
            Self::Mark { shape, fill, size } => {
                let name = match *shape {
                    // What is drawn with lines alone.
                    "x" => "cross2",
                    other => other,
                };
                let layer = vec![
                    ("name", name.to_owned()),
                    ("color", channels(fill)),
                    ("outline_color", channels(INK)),
                    pixels("outline_width", 2),
                    unit("outline_width_unit"),
                    pixels("size", *size),
                    unit("size_unit"),
                ];
                ("marker", vec![("SimpleMarker", layer)])
            }
            Self::Line { colour, width } => {
                let layer = vec![
                    ("line_color", channels(colour)),
                    pixels("line_width", *width),
                    unit("line_width_unit"),
                ];
                ("line", vec![("SimpleLine", layer)])
            }
            Self::Area { fill, edge, hatched } => {
                let style = |there: bool| if there { "solid" } else { "no" }.to_owned();
                let ground = vec![
                    ("style", style(fill.is_some())),
                    ("color", channels(fill.as_deref().unwrap_or(PAPER))),
                    ("outline_style", style(edge.is_some())),
                    ("outline_color", channels(INK)),
                    pixels("outline_width", 2),
                    unit("outline_width_unit"),
                ];
                let mut layers = vec![("SimpleFill", ground)];
                if let Some(colour) = hatched {
                    let lines = vec![
                        ("style", "b_diagonal".to_owned()),
                        ("color", channels(colour)),
                        ("outline_style", "no".to_owned()),
                    ];
                    layers.push(("SimpleFill", lines));
                }
                ("fill", layers)
            }
        }
    }
}

/// A colour `#rrggbb` as red, green, blue and opacity.
fn channels(colour: &str) -> String {
    let part = |from: usize| {
        let digits = colour.get(from..from + 2).unwrap_or_default();
        u8::from_str_radix(digits, 16).unwrap_or_default()
    };
    format!("{},{},{},255", part(1), part(3), part(5))
}

/// The style document.
fn document(field: Option<&str>, rules: &[Rule], label: Option<&str>) -> String {
    let mut text = String::from("<qgis version=\"3.0\" styleCategories=\"Symbology|Labeling\"");
    text += if label.is_some() { " labelsEnabled=\"1\">\n" } else { " labelsEnabled=\"0\">\n" };
    text += &field.map_or_else(
        || "<renderer-v2 type=\"singleSymbol\">\n".to_owned(),
        |field| format!("<renderer-v2 type=\"categorizedSymbol\" attr=\"{field}\">\n"),
    );
    if field.is_some() {
        text += "<categories>\n";
        for (number, Rule { value, title, .. }) in rules.iter().enumerate() {
            text += &format!(
                "<category value=\"{value}\" symbol=\"{number}\" label=\"{title}\" render=\"true\"/>\n"
            );
        }
        text += "</categories>\n";
    }
    text += "<symbols>\n";
    for (number, rule) in rules.iter().enumerate() {
        let (kind, layers) = rule.symbol.layers();
        text += &format!("<symbol type=\"{kind}\" name=\"{number}\" alpha=\"1\">\n");
        for (class, properties) in layers {
            text += &format!("<layer class=\"{class}\" enabled=\"1\" locked=\"0\" pass=\"0\">");
            for (name, value) in properties {
                text += &format!("<prop k=\"{name}\" v=\"{value}\"/>");
            }
            text += "</layer>\n";
        }
        text += "</symbol>\n";
    }
    text += "</symbols>\n</renderer-v2>\n";
    if let Some(field) = label {
        text += &format!(
            "<labeling type=\"simple\"><settings calloutType=\"simple\"><text-style fieldName=\"{field}\" isExpression=\"0\" fontSize=\"9\" fontSizeUnit=\"Point\" textColor=\"{}\" textOpacity=\"1\"><text-buffer bufferDraw=\"1\" bufferSize=\"1\" bufferSizeUnits=\"MM\" bufferColor=\"{}\" bufferOpacity=\"1\"/></text-style></settings></labeling>\n",
            channels(INK),
            channels(PAPER)
        );
    }
    text + "</qgis>\n"
}
