//! The published schema is the one of this version, and plans agree with it.

use std::path::Path;

use perchline::plan;

const MINIMAL: &str = include_str!("../plans/minimal.toml");

/// The names of all propagation methods.
pub(crate) fn methods() -> Vec<&'static str> {
    perchline::propagation::METHODS.iter().map(|method| method.name()).collect()
}

fn validator() -> jsonschema::Validator {
    jsonschema::validator_for(&plan::schema(&methods())).unwrap()
}

/// A plan as JSON; dates and times become text.
pub(crate) fn json(text: &str) -> serde_json::Value {
    fn plain(value: toml::Value) -> serde_json::Value {
        match value {
            toml::Value::Datetime(time) => time.to_string().into(),
            toml::Value::Array(items) => items.into_iter().map(plain).collect(),
            toml::Value::Table(table) => table
                .into_iter()
                .map(|(key, value)| (key, plain(value)))
                .collect::<serde_json::Map<_, _>>()
                .into(),
            toml::Value::String(text) => text.into(),
            toml::Value::Integer(number) => number.into(),
            toml::Value::Float(number) => number.into(),
            toml::Value::Boolean(switch) => switch.into(),
        }
    }
    plain(toml::Value::Table(text.parse().unwrap()))
}

#[track_caller]
fn agrees(text: &str) {
    let errors: Vec<String> = validator()
        .iter_errors(&json(text))
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
}

/// Run with `PERCHLINE_WRITE_SCHEMA=1` to write the file anew after a change.
#[test]
fn the_published_schema_is_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/plan.schema.json");
    let now = serde_json::to_string_pretty(&plan::schema(&methods())).unwrap() + "\n";
    if std::env::var_os("PERCHLINE_WRITE_SCHEMA").is_some() {
        std::fs::write(&path, &now).unwrap();
    }
    let published = std::fs::read_to_string(&path).unwrap();
    assert!(published == now, "docs/plan.schema.json is out of date");
}

#[test]
fn good_plans_agree_with_the_schema() {
    agrees(MINIMAL);
    agrees(include_str!("../plans/full.toml"));
}

#[test]
fn the_sample_plans_agree_with_the_schema() {
    for name in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain").join(name);
        agrees(&std::fs::read_to_string(path).unwrap());
    }
}

/// What the schema alone can see is refused by it: editors mark these while typing.
#[test]
fn bad_plans_do_not_agree() {
    let validator = validator();
    for (from, to) in [
        ("power = \"5 W\"", "power = 5"),
        ("power = \"5 W\"", "power = \"5\""),
        ("power = \"5 W\"", "power = \"5 V\""),
        ("carry = \"head\"", "carry = \"hand\""),
        ("mast = \"3 m\"", "mastt = \"3 m\""),
        ("mast = \"3 m\"\n", ""),
        ("\"30 m above ground\"", "\"30 m\""),
        ("weight = 2", "weight = 0"),
        ("type = \"RG-213\", ", ""),
        ("[terrain]", "[terain]"),
        ("\"146.34 MHz\"", "\"146.34\""),
        ("2026-12-05T17:30:00", "2026-12-05"),
        ("name = \"Aid 1\"", "name = \"\""),
        ("[terrain]", "[prediction]\nmethod = \"no-such\"\n[terrain]"),
    ] {
        assert!(MINIMAL.contains(from), "{from}");
        assert!(!validator.is_valid(&json(&MINIMAL.replacen(from, to, 1))), "{to}");
    }
}

/// Every table and field of the schema has its row in the manual, and every
/// cable that may be named is listed there.
#[test]
fn the_manual_names_every_field() {
    fn fields(schema: &serde_json::Value, found: &mut Vec<String>) {
        if let Some(properties) = schema.get("properties").and_then(|p| p.as_object()) {
            found.extend(properties.keys().cloned());
        }
        if let Some(definitions) = schema.get("$defs").and_then(|d| d.as_object()) {
            definitions.values().for_each(|inner| fields(inner, found));
        }
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/plan-file.md");
    let manual = std::fs::read_to_string(path).unwrap();
    let mut found = Vec::new();
    fields(&plan::schema(&methods()), &mut found);
    assert!(found.len() > 60, "{found:?}");
    found.extend(plan::CABLES.iter().map(|cable| format!("\"{}\"", cable.name)));
    let told = |field: &str| {
        [format!("`{field}`"), format!(".{field}`"), format!("[{field}]"), format!("{{ {field}")]
            .iter()
            .any(|form| manual.contains(form))
            || (["file", "layer"].contains(&field) && manual.contains("`{ file, name, layer }`"))
    };
    let missing: Vec<_> = found.iter().filter(|field| !told(field)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}
