//! Every declared field: what the reader takes, what the schema takes, what holds
//! where it is left out, and what the manual says.
//!
//! The tests walk over the declarations, so that a new field is tried as well.

use std::path::Path;

use perchline::plan::{self, Allowed, FieldRow, Plan, PlanError};
use toml::{Table, Value};

const FULL: &str = include_str!("../plans/full.toml");
const MANUAL: &str = "docs/plan-file.md";

/// Fields whose greatest value another field of the full plan forbids.
const TIED: &[(&str, &str)] = &[
    ("station", "supply.cutoff"),
    ("crew", "cutoff"),
    ("station", "traffic.repeated"),
    ("radio", "band.from"),
    ("radio", "band.to"),
];

/// The full plan in a folder with its files, and what its schema says.
struct Bench {
    folder: tempfile::TempDir,
    methods: Vec<&'static str>,
    schema: jsonschema::Validator,
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
        for file in ["hill.asc", "places.geojson"] {
            std::fs::copy(beside.join(file), folder.path().join(file)).unwrap();
        }
        let methods = crate::schema::methods();
        let schema = jsonschema::validator_for(&plan::schema(&methods)).unwrap();
        Self { folder, methods, schema }
    }

    /// Every field of every table.
    fn fields(&self) -> Vec<(&'static str, FieldRow)> {
        let tables = plan::field_tables(&self.methods);
        tables.into_iter().flat_map(|t| t.fields.into_iter().map(move |f| (t.table, f))).collect()
    }

    fn read(&self, plan: &Table) -> Result<Plan, PlanError> {
        let text = toml::to_string(plan).unwrap();
        plan::read_text(&self.folder.path().join("plan.toml"), &text, &self.methods)
    }

    /// What the reader says of the field, which is none of its other problems.
    fn told(&self, plan: &Table, field: &str) -> Option<String> {
        let error = self.read(plan).err()?;
        let of_field = |told: &str| {
            let field_told = told.rsplit_once(": ").map_or("", |(_, field)| field);
            let mut bare = String::new();
            for part in field_told.split('[') {
                bare.push_str(part.split_once(']').map_or(part, |(_, rest)| rest));
            }
            bare == field
        };
        let problem = error.problems().iter().find(|problem| of_field(problem.field()))?;
        Some(problem.text().to_owned())
    }

    fn schema_takes(&self, plan: &Table) -> bool {
        self.schema.is_valid(&crate::schema::json(&toml::to_string(plan).unwrap()))
    }
}

/// The full plan with every table that may be there. The fall of refractivity
/// may be stated, for the factor that it stands in place of is not.
fn full() -> Table {
    let mut plan: Table = FULL.parse().unwrap();
    plan["prediction"].as_table_mut().unwrap().remove("k_factor").unwrap();
    let buildings: Table = "files = [\"places.geojson\"]".parse().unwrap();
    plan.insert("buildings".to_owned(), buildings.into());
    plan
}

/// The table in which the field stands: of several entries the first for which
/// `wanted` says so of the field, else the first that has such a table.
fn holder<'t>(
    plan: &'t mut Table,
    table: &str,
    field: &str,
    wanted: impl Fn(Option<&Value>) -> bool,
) -> (&'t mut Table, String) {
    let (path, last) = field.rsplit_once('.').map_or(("", field), |(path, last)| (path, last));
    let steps: Vec<&str> = path.split('.').filter(|step| !step.is_empty()).collect();
    let entry = plan.entry(table).or_insert_with(|| Table::new().into());
    let inside = |mut value: &Value| {
        for step in &steps {
            value = first(value.get(step)?);
        }
        Some(value.get(last).cloned())
    };
    let index = entry.as_array().map(|entries| {
        let found: Vec<_> = entries.iter().map(inside).collect();
        let fits = found.iter().position(|f| f.as_ref().is_some_and(|f| wanted(f.as_ref())));
        fits.or_else(|| found.iter().position(Option::is_some)).unwrap_or(0)
    });
    let mut value = match index {
        Some(index) => entry.get_mut(index).unwrap(),
        None => entry,
    };
    for step in steps {
        let table = value.as_table_mut().unwrap();
        value = table.entry(step).or_insert_with(|| Table::new().into());
        if value.is_array() {
            value = value.get_mut(0).unwrap();
        }
    }
    (value.as_table_mut().unwrap(), last.to_owned())
}

fn first(value: &Value) -> &Value {
    value.as_array().map_or(value, |entries| &entries[0])
}

/// The full plan with this in the field.
fn with(table: &str, field: &str, value: &Value) -> Table {
    let mut plan = full();
    let (holder, last) = holder(&mut plan, table, field, |there| there.is_some());
    holder.insert(last, value.clone());
    plan
}

/// What the plan means, without how it was typed.
fn meaning(mut plan: Plan) -> String {
    plan.text.clear();
    plan.sha256.clear();
    plan.remarks.clear();
    format!("{plan:?}")
}

/// Values on the edges of what is allowed, and just outside.
fn edges(allowed: &Allowed) -> (Vec<Value>, Vec<Value>) {
    let numbers = |least: f64, most: f64, open: bool| {
        let step = (most - least) * 1e-4;
        let inside = vec![if open { least + step } else { least }, most];
        (inside, vec![if open { least } else { least - step }, most + step])
    };
    match allowed {
        Allowed::Quantity { unit, least, most, open, .. } => {
            let typed = |values: Vec<f64>| {
                values.into_iter().map(|v| Value::from(format!("{v} {unit}"))).collect()
            };
            let (inside, outside) = numbers(*least, *most, *open);
            (typed(inside), typed(outside))
        }
        Allowed::Number { least, most, open } => {
            let (inside, outside) = numbers(*least, *most, *open);
            let typed = |values: Vec<f64>| values.into_iter().map(Value::from).collect();
            (typed(inside), typed(outside))
        }
        Allowed::Whole { least, most } => {
            let (least, most) = (i64::from(*least), i64::from(*most));
            (vec![least.into(), most.into()], vec![(least - 1).into(), (most + 1).into()])
        }
        Allowed::Words(words) => (
            words.iter().map(|word| Value::from(word.as_str())).collect(),
            vec!["no such word".into(), "".into()],
        ),
        Allowed::Flag => (vec![true.into(), false.into()], vec!["true".into(), 1.into()]),
        Allowed::Other => (Vec::new(), Vec::new()),
    }
}

#[test]
fn the_plan_that_is_changed_is_good() {
    let bench = Bench::new();
    assert!(bench.schema_takes(&full()));
    if let Err(error) = bench.read(&full()) {
        panic!("{error}");
    }
}

#[test]
fn edges_are_taken_and_what_lies_outside_is_refused() {
    let bench = Bench::new();
    let mut tried = 0;
    for (table, row) in bench.fields() {
        let (inside, outside) = edges(&row.allowed);
        let tied = TIED.contains(&(table, &row.field));
        for value in &inside {
            let told = bench.told(&with(table, &row.field, value), &row.field);
            let refused = told.filter(|text| !tied || text.contains("out of range"));
            assert_eq!(refused, None, "{table} {} = {value}", row.field);
            tried += 1;
        }
        for value in &outside {
            let told = bench.told(&with(table, &row.field, value), &row.field);
            assert!(told.is_some(), "{table} {} = {value}", row.field);
        }
    }
    assert!(tried > 200, "{tried}");
}

/// A field that no part of the plan's meaning follows is declared but not used.
#[test]
fn different_values_mean_different_plans() {
    let bench = Bench::new();
    let mut compared = 0;
    for (table, row) in bench.fields() {
        let (inside, _) = edges(&row.allowed);
        let read = |value: &Value| bench.read(&with(table, &row.field, value)).ok().map(meaning);
        let plans: Vec<String> = inside.iter().filter_map(read).collect();
        for (one, other) in plans.iter().zip(plans.iter().skip(1)) {
            assert!(one != other, "{table} {} changes nothing", row.field);
            compared += 1;
        }
    }
    assert!(compared > 80, "{compared}");
}

#[test]
fn a_default_that_is_typed_means_the_same() {
    let bench = Bench::new();
    let mut tried = 0;
    for (table, row) in bench.fields() {
        let Some(default) = &row.typed_default else { continue };
        assert!(!row.required, "{table} {}", row.field);
        let mut silent = full();
        let (fields, last) = holder(&mut silent, table, &row.field, |there| there.is_none());
        fields.remove(&last);
        let mut typed = silent.clone();
        let (fields, last) = holder(&mut typed, table, &row.field, |there| there.is_none());
        fields.insert(last, Value::try_from(default).unwrap());
        let [silent, typed] = [silent, typed].map(|plan| match bench.read(&plan) {
            Ok(plan) => meaning(plan),
            Err(error) => panic!("{table} {} = {default}: {error}", row.field),
        });
        assert!(silent == typed, "{table} {} = {default}", row.field);
        tried += 1;
    }
    assert!(tried > 40, "{tried}");
}

/// What an editor marks is what the reader refuses, save that a schema cannot see
/// whether a number with a unit is inside its range.
#[test]
fn schema_and_reader_agree() {
    let bench = Bench::new();
    for (table, row) in bench.fields() {
        let (mut good, mut bad) = edges(&row.allowed);
        if let Allowed::Quantity { units, least, .. } = &row.allowed {
            bad = vec![1.into(), "1".into(), "1 parsec".into(), units[0].into()];
            let middle = |unit: &&str| Value::from(format!("{} {}", least + 1e-3, unit));
            let upper = |unit: &&str| Value::from(format!(" 1{} ", unit.to_uppercase()));
            let others = units.iter().map(middle).chain(units.iter().map(upper));
            // Whether one of the unit is inside the range is not asked here.
            let known = |value: &Value| {
                let told = bench.told(&with(table, &row.field, value), &row.field);
                told.is_none_or(|text| !text.contains("not a unit"))
            };
            for value in others {
                assert!(known(&value), "{table} {} = {value}", row.field);
                good.push(value);
            }
        }
        for value in &good {
            assert!(
                bench.schema_takes(&with(table, &row.field, value)),
                "the schema refuses {table} {} = {value}",
                row.field
            );
        }
        for value in &bad {
            let plan = with(table, &row.field, value);
            assert!(!bench.schema_takes(&plan), "the schema takes {table} {} = {value}", row.field);
            assert!(
                bench.told(&plan, &row.field).is_some(),
                "the reader takes {table} {} = {value}",
                row.field
            );
        }
    }
}

/// Where fields are required, and which tables there are, is said once as well.
#[test]
fn what_is_required_is_missed_by_schema_and_reader() {
    let bench = Bench::new();
    let mut tried = 0;
    for (table, row) in bench.fields().into_iter().filter(|(_, row)| row.required) {
        let mut plan = full();
        if !plan.contains_key(table) {
            continue;
        }
        let (fields, last) = holder(&mut plan, table, &row.field, |there| there.is_some());
        if fields.remove(&last).is_none() {
            continue;
        }
        assert!(!bench.schema_takes(&plan), "the schema does not miss {table} {}", row.field);
        let error = bench.read(&plan).unwrap_err().to_string();
        assert!(error.contains("missing"), "{table} {}: {error}", row.field);
        tried += 1;
    }
    assert!(tried > 40, "{tried}");
    let schema = plan::schema(&bench.methods);
    let mut tables: Vec<&str> =
        plan::field_tables(&bench.methods).iter().map(|table| table.table).collect();
    let mut in_schema: Vec<&str> =
        schema["properties"].as_object().unwrap().keys().map(String::as_str).collect();
    tables.sort_unstable();
    in_schema.sort_unstable();
    assert_eq!(tables, in_schema);
}

/// `PERCHLINE_WRITE_DOCS=1 cargo test --test plan up_to_date` writes the tables anew.
#[test]
fn the_tables_of_the_manual_are_up_to_date() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(MANUAL);
    let found = std::fs::read_to_string(&path).unwrap();
    let mut wanted = found.clone();
    for table in plan::field_tables(&crate::schema::methods()) {
        let begin = format!("<!-- fields: {} -->\n", table.table);
        let (before, rest) =
            wanted.split_once(&begin).unwrap_or_else(|| panic!("{MANUAL} has no line {begin}"));
        let (_, after) = rest.split_once("<!-- end -->").unwrap();
        wanted = format!("{before}{begin}{}<!-- end -->{after}", table.markdown());
    }
    if std::env::var_os("PERCHLINE_WRITE_DOCS").is_some() {
        std::fs::write(&path, &wanted).unwrap();
    } else {
        assert!(
            found == wanted,
            "the tables of {MANUAL} are not those of the declared fields; \
             PERCHLINE_WRITE_DOCS=1 cargo test --test plan up_to_date writes them anew"
        );
    }
}
