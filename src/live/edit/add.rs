//! New entries of a plan. What has to be stated beside name and place is taken from
//! the plan, or as it is usual, and told.

use perchline_plan::UnitSystem;
use perchline_start::{on_the_ground, short_mast};
use serde::Deserialize;
use toml_edit::{DocumentMut, Item, Value};

use super::references::alike;
use super::source::Source;
use super::{EditError, EntryKind, written};

/// An entry as a page asks for it, places in any way that a plan takes.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase", deny_unknown_fields)]
pub enum NewEntry {
    /// A place where one person with a radio stands.
    Post {
        /// Its name.
        name: String,
        /// Where it is.
        at: String,
    },
    /// A roof or hill where the relay could go.
    Site {
        /// Its name.
        name: String,
        /// Where it is.
        at: String,
    },
    /// A staging area.
    Area {
        /// Its name.
        name: String,
        /// Its corners.
        outline: Vec<String>,
    },
    /// A route.
    Route {
        /// Its name.
        name: String,
        /// Its points.
        line: Vec<String>,
    },
    /// People who work together on one simplex channel.
    Group {
        /// Its name.
        name: String,
        /// Its posts; the first of them leads it.
        posts: Vec<String>,
    },
    /// A relay or digipeater with its supply.
    Station {
        /// Its name.
        name: String,
        /// The relay or packet channel that it serves.
        channel: String,
    },
}

/// Lines `key = value` of an entry.
type Fields = Vec<(&'static str, String)>;

impl NewEntry {
    /// Its kind.
    #[must_use]
    pub const fn kind(&self) -> EntryKind {
        match self {
            Self::Post { .. } => EntryKind::Post,
            Self::Site { .. } => EntryKind::Site,
            Self::Area { .. } => EntryKind::Area,
            Self::Route { .. } => EntryKind::Route,
            Self::Group { .. } => EntryKind::Group,
            Self::Station { .. } => EntryKind::Station,
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        let (Self::Post { name, .. }
        | Self::Site { name, .. }
        | Self::Area { name, .. }
        | Self::Route { name, .. }
        | Self::Group { name, .. }
        | Self::Station { name, .. }) = self;
        name
    }

    /// What a plan that reads this text says of it, and what of that nobody has typed,
    /// in words.
    fn fields(&self, source: &Source<'_>) -> Result<(Fields, Option<String>), EditError> {
        let name = ("name", written(self.name().trim()));
        Ok(match self {
            Self::Post { at, .. } => (vec![name, ("at", written(at))], None),
            Self::Site { at, .. } => {
                let units = units(source);
                let mast =
                    usual(source, "site", "mast").unwrap_or_else(|| short_mast(units).to_owned());
                let roof = on_the_ground(units);
                let taken = format!("mast {mast}, roof {roof}; set its own");
                let fields = [("at", at.as_str()), ("roof", roof), ("mast", &mast)];
                let fields = fields.map(|(key, value)| (key, written(value)));
                (std::iter::once(name).chain(fields).collect(), Some(taken))
            }
            Self::Area { outline, .. } => (vec![name, ("outline", points(source, outline))], None),
            Self::Route { line, .. } => (vec![name, ("line", points(source, line))], None),
            Self::Group { posts, .. } => {
                let channel = usual(source, "group", "channel")
                    .or_else(|| channel_of_kind(source, "simplex"))
                    .ok_or(EditError::Lacks(
                        "a group has a simplex channel of its own or of all, and the plan has none: add a [[channel]] of kind \"simplex\"",
                    ))?;
                let head = posts.first().ok_or(EditError::Lacks(
                    "a group has one post at least: choose who is in it",
                ))?;
                let list: Vec<String> = posts.iter().map(|post| written(post)).collect();
                let taken = format!("channel \"{channel}\", led by \"{head}\": set its own");
                let fields = vec![
                    name,
                    ("posts", format!("[{}]", list.join(", "))),
                    ("channel", written(&channel)),
                    ("head", written(head)),
                ];
                (fields, Some(taken))
            }
            Self::Station { channel, .. } => {
                let (like, mut fields) = station_like(source, channel)?;
                fields.insert(0, name);
                fields.insert(1, ("channel", written(channel)));
                let taken = format!("currents, traffic and supply of \"{like}\": set its own");
                (fields, Some(taken))
            }
        })
    }
}

/// The text with these entries, each behind the last of its kind, and what was taken
/// for them that nobody has typed.
pub(super) fn add(text: &str, entries: &[NewEntry]) -> Result<(String, Vec<String>), EditError> {
    let source = Source::parse(text)?;
    let mut taken = Vec::new();
    let mut of_kinds: Vec<(EntryKind, Vec<Fields>)> = Vec::new();
    for entry in entries {
        let (fields, told) = entry.fields(&source)?;
        taken.extend(
            told.map(|told| format!("{} \"{}\": {told}", entry.kind().word(), entry.name().trim())),
        );
        match of_kinds.iter_mut().find(|(kind, _)| *kind == entry.kind()) {
            Some((_, list)) => list.push(fields),
            None => of_kinds.push((entry.kind(), vec![fields])),
        }
    }
    let cuts = of_kinds.iter().flat_map(|(kind, list)| source.insert(kind.table(), list));
    Ok((source.with(cuts.collect()), taken))
}

/// The value that most entries of a kind have in a field; the first of several.
fn usual(source: &Source<'_>, kind: &str, field: &str) -> Option<String> {
    let entries = source.entries(kind);
    let values: Vec<&str> = entries.iter().filter_map(|entry| entry.text(field)).collect();
    let count = |value: &str| values.iter().filter(|other| alike(other, value)).count();
    let most = values.iter().map(|value| count(value)).max()?;
    values.iter().find(|value| count(value) == most).map(|value| (*value).to_owned())
}

fn channel_of_kind(source: &Source<'_>, kind: &str) -> Option<String> {
    let channels = source.entries("channel").into_iter();
    let mut fitting =
        channels.filter(|channel| channel.text("kind").is_some_and(|k| alike(k, kind)));
    fitting.next()?.name().map(str::to_owned)
}

fn units(source: &Source<'_>) -> UnitSystem {
    let report = source.top("report").and_then(Item::as_table_like);
    let typed = report.and_then(|report| report.get("units")?.as_str());
    match typed {
        Some(typed) if alike(typed, UnitSystem::Us.word()) => UnitSystem::Us,
        _ => UnitSystem::Metric,
    }
}

/// Positions as a list, some a line.
pub(super) fn points(source: &Source<'_>, points: &[String]) -> String {
    const A_LINE: usize = 4;
    let end = source.line_end;
    let lines: String = points
        .chunks(A_LINE)
        .map(|line| {
            let line: Vec<String> = line.iter().map(|point| written(point)).collect();
            format!("  {},{end}", line.join(", "))
        })
        .collect();
    format!("[{end}{lines}]")
}

/// What a station on this channel has from another on a channel of the same kind, with
/// the name of that: nobody can guess currents.
fn station_like(source: &Source<'_>, channel: &str) -> Result<(String, Fields), EditError> {
    const COPIED: [&str; 3] = ["currents", "traffic", "supply"];
    let kind_of = |name: &str| {
        let channels = source.entries("channel").into_iter();
        let mut named = channels.filter(|c| c.name().is_some_and(|known| alike(known, name)));
        named.next()?.text("kind").map(str::to_lowercase)
    };
    let wanted = kind_of(channel)
        .ok_or_else(|| EditError::Gone { kind: "channel", name: channel.to_owned() })?;
    let stations = source.entries("station");
    let like = stations
        .iter()
        .find(|station| {
            station.text("channel").and_then(kind_of).is_some_and(|kind| kind == wanted)
        })
        .ok_or(EditError::Lacks(
            "currents and supply of a station are taken from one on a channel of the same kind, and the plan has none: write the first into the plan's file",
        ))?;
    // Text that is not bound to its place in the plan.
    let document: DocumentMut =
        source.text.parse().map_err(|e: toml_edit::TomlError| EditError::Toml(e.to_string()))?;
    let copy = |field: &'static str| {
        let item = match document.get("station")? {
            Item::ArrayOfTables(tables) => tables.get(like.index)?.get(field)?.clone(),
            Item::Value(Value::Array(array)) => {
                Item::Value(array.get(like.index)?.as_inline_table()?.get(field)?.clone())
            }
            _ => return None,
        };
        let mut value = item.into_value().ok()?;
        value.decor_mut().clear();
        Some((field, in_one_line(value).to_string()))
    };
    let name = like.name().unwrap_or_default().to_owned();
    Ok((name, COPIED.into_iter().filter_map(copy).collect()))
}

/// A value without the line ends and comments that its parts carry.
fn in_one_line(mut value: Value) -> Value {
    match &mut value {
        Value::InlineTable(table) => {
            let keys: Vec<String> = table.iter().map(|(key, _)| key.to_owned()).collect();
            let mut plain = toml_edit::InlineTable::new();
            for key in keys {
                if let Some(mut inner) = table.remove(&key) {
                    inner.decor_mut().clear();
                    plain.insert(&key, in_one_line(inner));
                }
            }
            Value::InlineTable(plain)
        }
        Value::Array(array) => {
            let plain: toml_edit::Array = array
                .iter()
                .map(|inner| {
                    let mut inner = inner.clone();
                    inner.decor_mut().clear();
                    in_one_line(inner)
                })
                .collect();
            Value::Array(plain)
        }
        _ => value,
    }
}
