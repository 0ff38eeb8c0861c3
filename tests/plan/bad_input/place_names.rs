//! A file of names for the maps: what is read of it, and what is told of one that does not
//! serve.

use super::*;
use perchline::plan::GroundKind;

const NAMES: &str = r#"{"type": "FeatureCollection", "name": "names", "features": [
{"type": "Feature", "properties": {"name": "Staithe", "kind": "town", "alt": ""}, "geometry": {"type": "Point", "coordinates": [-35.23, 47.12]}},
{"type": "Feature", "properties": {"name": "Brook", "kind": "stream", "alt": "Beck"}, "geometry": {"type": "LineString", "coordinates": [[-35.24, 47.12], [-35.23, 47.13]]}},
{"type": "Feature", "properties": {"name": "Old Town", "kind": "Quarter"}, "geometry": {"type": "MultiPolygon", "coordinates": [[[[-35.24, 47.12], [-35.23, 47.12], [-35.23, 47.125], [-35.24, 47.12]]]]}},
{"type": "Feature", "properties": {"name": "", "kind": "street"}, "geometry": {"type": "Point", "coordinates": [-35.23, 47.12]}},
{"type": "Feature", "properties": {"name": "Nowhere"}, "geometry": null}
]}"#;

/// What the minimal plan with this table comes to beside a file of this text.
fn read_with(names: &str, table: &str) -> Result<Plan, PlanError> {
    let (folder, path) = folder(format!("{MINIMAL}\n[place_names]\n{table}\n"));
    std::fs::write(folder.path().join("names.geojson"), names).unwrap();
    plan::read(&path, METHODS)
}

#[track_caller]
fn refused_names(names: &str, table: &str, on: &str, field: &str, parts: &[&str]) {
    let text = format!("{MINIMAL}\n[place_names]\n{table}\n");
    let at = text.lines().enumerate().filter(|(_, line)| line.contains(on)).last();
    let line = 1 + at.unwrap().0;
    let error = read_with(names, table).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    let field = format!("place_names: {field}");
    assert_eq!((problem.line(), problem.field()), (Some(line), &*field), "{error}");
    for part in parts {
        assert!(problem.text().contains(part), "{part:?} is not in: {error}");
    }
}

#[test]
fn points_lines_and_polygons_have_names() {
    assert!(read(MINIMAL).unwrap().place_names.is_none());
    let plan = read_with(NAMES, "file = \"names.geojson\"").unwrap();
    let names = &plan.place_names.unwrap().found;
    assert!(names.file.ends_with("names.geojson"));
    let found: Vec<_> = names.names.iter().map(|name| (name.name.as_str(), name.kind)).collect();
    let wanted = [
        ("Staithe", GroundKind::Settlement),
        ("Brook", GroundKind::Water),
        ("Old Town", GroundKind::Quarter),
    ];
    assert_eq!(found, wanted);
    assert!(plan.vector_files.iter().any(|file| file.path == names.file), "not among the inputs");
    let remark = plan.remarks.iter().find(|remark| remark.about == "place_names: file").unwrap();
    for part in ["left out", "1 with no name", "1 with no shape"] {
        assert!(remark.text.contains(part), "{}", remark.text);
    }
}

#[test]
fn layer_and_fields_are_named() {
    let table =
        "file = \"names.geojson\"\nlayer = \"names\"\nname_field = \"alt\"\nkind_field = \"name\"";
    let plan = read_with(NAMES, table).unwrap();
    let found = plan.place_names.unwrap().found.names;
    // The one that has such a name; its kind is told by the word "Brook".
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].name.as_str(), found[0].kind), ("Beck", GroundKind::Water));
}

#[test]
fn what_does_not_serve_is_told() {
    let file = "file = \"names.geojson\"";
    let all = ["name", "kind", "alt"];
    let there = |more: &str| format!("{file}\n{more}");
    refused_names(NAMES, &there("layer = \"towns\""), "layer", "layer", &["towns", "names"]);
    let fields = ["has no field \"label\"", all[0], all[1], all[2]];
    refused_names(NAMES, &there("name_field = \"label\""), "name_field", "name_field", &fields);
    refused_names(NAMES, &there("kind_field = \"class\""), "kind_field", "kind_field", &["class"]);
    let unnamed = NAMES.replace("\"name\": \"", "\"call\": \"").replacen("call", "name", 1);
    refused_names(&unnamed, file, "names.geojson", "file", &["no field is called name", "call"]);
    let blank = r#"{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "Staithe"}, "geometry": null}]}"#;
    refused_names(
        blank,
        file,
        "names.geojson",
        "file",
        &["no named point, line or polygon", "1 without a shape"],
    );
    refused_names("no vectors", file, "names.geojson", "file", &["not a vector file"]);
    refused_names(NAMES, "file = \"gone.geojson\"", "gone", "file", &["there is no file"]);
    refused_names(NAMES, "file = \"https://x/n.gpx\"", "https", "file", &["not a plain file"]);
    refused_names(NAMES, "file = \"\"", "file = \"\"", "file", &["the file name is empty"]);
    let missing = read_with(NAMES, "layer = \"names\"").unwrap_err().to_string();
    assert!(missing.contains("place_names: file") && missing.contains("missing"), "{missing}");
}
