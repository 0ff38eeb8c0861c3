//! What is put on the map: drawn by hand, or out of a file.

use std::sync::{Arc, PoisonError};

use axum::body::Bytes;
use axum::extract::{Query, State};
use axum::response::Response;
use geo::{Coord, LineString, SimplifyIdx};
use perchline_start::{Found, StartError, found_in};
use perchline_units::{Position, shown};
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::Served;
use super::actions::{Body, act, sent};
use super::upload::Upload;
use crate::board::Board;
use crate::desk::{Desk, Refused};
use crate::edit::{Change, Corner, EntryKind, NewEntry};
use crate::view::degrees;

/// Points of a line beyond which it is thinned: they stand in the plan as text.
const MOST_POINTS: usize = 500;
/// How far a thinned line may lie off, in metres.
const OFF: f64 = 2.0;

/// An entry as it is drawn, its points in columns and rows of the board.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Drawn {
    kind: EntryKind,
    name: String,
    points: Vec<(f64, f64)>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Add {
    entries: Vec<Drawn>,
}

impl Drawn {
    fn on(&self, board: &Board) -> Result<NewEntry, Refused> {
        let name = self.name.clone();
        let place = |&(column, row): &(f64, f64)| {
            let at = board.place(column, row).map(degrees);
            at.ok_or_else(|| Refused::Now("that point is off the map".to_owned()))
        };
        let points: Vec<String> = self.points.iter().map(place).collect::<Result<_, _>>()?;
        let least = |least: usize| {
            if points.len() >= least {
                return Ok(());
            }
            let (kind, found) = (self.kind.word(), points.len());
            let text = format!("{kind} \"{name}\" has {found} points; {least} are the least");
            Err(Refused::Now(text))
        };
        let one = || match points.as_slice() {
            [at] => Ok(at.clone()),
            _ => Err(Refused::Now(format!("a {} has one place", self.kind.word()))),
        };
        Ok(match self.kind {
            EntryKind::Post => NewEntry::Post { at: one()?, name },
            EntryKind::Site => NewEntry::Site { at: one()?, name },
            EntryKind::Area => {
                least(3)?;
                NewEntry::Area { name, outline: points }
            }
            EntryKind::Route => {
                least(2)?;
                NewEntry::Route { name, line: points }
            }
            other => {
                let text = format!("a {} is not drawn on the map", other.word());
                return Err(Refused::Now(text));
            }
        })
    }
}

/// Adds what was drawn.
pub(super) async fn add(State(served): State<Served>, body: Body<Add>) -> Response {
    let Add { entries } = match sent(body) {
        Ok(add) => add,
        Err(refusal) => return *refusal,
    };
    act(served, move |desk| {
        let board = Arc::clone(&desk.lock().board);
        let entries: Vec<NewEntry> =
            entries.iter().map(|drawn| drawn.on(&board)).collect::<Result<_, _>>()?;
        made(desk, entries)
    })
    .await
}

/// A point of a shape: one of those that it has, or another place on the board.
#[derive(Deserialize)]
#[serde(untagged)]
enum Point {
    Kept(usize),
    At(f64, f64),
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reshape {
    kind: EntryKind,
    name: String,
    points: Vec<Point>,
}

/// Gives an area or a route other points.
pub(super) async fn reshape(State(served): State<Served>, body: Body<Reshape>) -> Response {
    match sent(body) {
        Ok(asked) => act(served, move |desk| desk.change(&asked.change(desk)?, false)).await,
        Err(refusal) => *refusal,
    }
}

impl Reshape {
    fn change(self, desk: &Desk) -> Result<Change, Refused> {
        let Self { kind, name, points } = self;
        let (opened, board) = {
            let state = desk.lock();
            (Arc::clone(&state.opened), Arc::clone(&state.board))
        };
        let now = |text: &str| Refused::Now(format!("{} \"{}\" {text}", kind.word(), shown(&name)));
        let plan = &opened.plan;
        let (least, line) = match kind {
            EntryKind::Area => {
                let area = plan.areas.iter().find(|area| area.name == name);
                let outline = area.map(|area| &area.outline);
                if outline.is_some_and(|outline| !outline.interiors().is_empty()) {
                    return Err(now(
                        "has a hole, which a list of points cannot hold: change it in its file",
                    ));
                }
                (3, outline.map(geo::Polygon::exterior))
            }
            EntryKind::Route => {
                (2, plan.routes.iter().find(|route| route.name == name).map(|route| &route.line))
            }
            _ => return Err(now("has no points to move")),
        };
        let line = line.ok_or_else(|| now("is not in the plan any more"))?;
        if points.len() < least {
            return Err(now(&format!("has {least} points at least")));
        }
        let corner = |point: &Point| {
            let (kept, at) = match *point {
                Point::Kept(index) => {
                    let there = line.0.get(index).map(|at| Position::from_point((*at).into()));
                    (Some(index), there.and_then(Result::ok))
                }
                Point::At(column, row) => (None, board.place(column, row)),
            };
            let at = at.map(degrees).ok_or_else(|| now("would have a point off the map"))?;
            Ok(Corner { kept, at })
        };
        let corners = points.iter().map(corner).collect::<Result<_, Refused>>()?;
        Ok(Change::Reshape { kind, name: name.clone(), corners })
    }
}

/// Makes the entries part of the plan; what was taken for them that nobody has typed.
fn made(desk: &Arc<Desk>, entries: Vec<NewEntry>) -> Result<serde_json::Value, Refused> {
    let change = Change::Add { entries };
    let taken = change.taken(desk.lock().text());
    desk.change(&change, false)?;
    Ok(json!({ "told": taken }))
}

/// What was found in the last file that was sent.
#[derive(Default)]
pub(super) struct FoundEntries {
    number: u64,
    entries: Vec<NewEntry>,
}

#[derive(Deserialize)]
pub(super) struct FileName {
    pub name: String,
}

/// Something that a file has, for a page.
#[derive(Serialize)]
struct Item {
    kind: &'static str,
    name: String,
    points: usize,
}

/// Reads a file of places that was sent; nothing is changed.
pub(super) async fn read(
    State(served): State<Served>,
    Query(FileName { name }): Query<FileName>,
    bytes: Bytes,
) -> Response {
    let place = Arc::clone(&served.found);
    act(served, move |desk| {
        let (folder, taken) = {
            let state = desk.lock();
            (state.file.folder().to_owned(), names(&state.opened.plan))
        };
        let upload = Upload::keep(&folder, &name, &bytes).map_err(Refused::Now)?;
        let found = found_in(upload.path(), taken.iter().map(String::as_str))
            .map_err(|error| Refused::Now(upload.told(in_place(&error))))?;
        let mut notes = found.notes.clone();
        let entries = entries_of(found, &mut notes);
        let items: Vec<Item> = entries.iter().map(item).collect();
        let mut place = place.lock().unwrap_or_else(PoisonError::into_inner);
        place.number += 1;
        place.entries = entries;
        Ok(json!({ "id": place.number, "file": upload.name, "items": items, "notes": notes }))
    })
    .await
}

/// The words of `start`, but where these lead to flags.
fn in_place(error: &StartError) -> String {
    match error {
        StartError::TooMany { file, found, most } => format!(
            "{}: it has {found} points, and {most} is the most that become posts; keep those at which somebody stands with a radio",
            file.display()
        ),
        other => other.to_string(),
    }
}

/// Every name that a new place may not have.
fn names(plan: &perchline_plan::Plan) -> Vec<String> {
    let posts = plan.posts.iter().map(|post| &post.name);
    let areas = plan.areas.iter().map(|area| &area.name);
    let routes = plan.routes.iter().map(|route| &route.name);
    let sites = plan.sites.iter().map(|site| &site.name);
    posts.chain(areas).chain(routes).chain(sites).cloned().collect()
}

fn entries_of(found: Found, notes: &mut Vec<String>) -> Vec<NewEntry> {
    let mut entries = Vec::new();
    for (name, line) in found.routes {
        let all = line.0.len();
        let line = thinned(line);
        if line.0.len() < all {
            notes.push(format!(
                "\"{name}\" has {all} points; the {} that matter are taken, and the line is nowhere more than {OFF:.0} m off",
                line.0.len()
            ));
        }
        entries.push(NewEntry::Route { name, line: positions(&line) });
    }
    for (name, outline) in found.areas {
        if !outline.interiors().is_empty() {
            notes.push(format!(
                "the area \"{name}\" has holes, which corners in a plan cannot say, and is left out; name its file in the plan instead"
            ));
            continue;
        }
        let mut corners = positions(outline.exterior());
        // The ring's last corner is its first once more.
        corners.pop();
        entries.push(NewEntry::Area { name, outline: corners });
    }
    for (name, at) in found.sites {
        entries.push(NewEntry::Site { name, at: degrees(at) });
    }
    for (name, at) in found.posts {
        entries.push(NewEntry::Post { name, at: degrees(at) });
    }
    entries
}

fn positions(line: &LineString) -> Vec<String> {
    line.points().filter_map(|point| Position::from_point(point).ok()).map(degrees).collect()
}

/// A line without the points that lie on the way between others.
fn thinned(line: LineString) -> LineString {
    if line.0.len() <= MOST_POINTS {
        return line;
    }
    const METRES_PER_DEGREE: f64 = 111_320.0;
    let narrow = line.0.first().map_or(1.0, |first| first.y.to_radians().cos());
    let flat =
        |c: &Coord| Coord { x: c.x * narrow * METRES_PER_DEGREE, y: c.y * METRES_PER_DEGREE };
    let plane: LineString = line.0.iter().map(flat).collect();
    plane.simplify_idx(OFF).into_iter().filter_map(|index| line.0.get(index).copied()).collect()
}

fn item(entry: &NewEntry) -> Item {
    let points = match entry {
        NewEntry::Area { outline: points, .. } | NewEntry::Route { line: points, .. } => {
            points.len()
        }
        _ => 1,
    };
    Item { kind: entry.kind().word(), name: entry.name().to_owned(), points }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Take {
    id: u64,
    /// Places in the list that was answered.
    chosen: Vec<usize>,
    /// Whether points become sites.
    #[serde(default)]
    as_sites: bool,
}

/// Adds what was chosen of a file's places, as one change.
pub(super) async fn take(State(served): State<Served>, body: Body<Take>) -> Response {
    let Take { id, chosen, as_sites } = match sent(body) {
        Ok(take) => take,
        Err(refusal) => return *refusal,
    };
    let place = Arc::clone(&served.found);
    act(served, move |desk| {
        let entries: Vec<NewEntry> = {
            let place = place.lock().unwrap_or_else(PoisonError::into_inner);
            if place.number != id {
                return Err(Refused::Now(
                    "another file was read meanwhile: add this one again".to_owned(),
                ));
            }
            chosen.iter().filter_map(|index| place.entries.get(*index).cloned()).collect()
        };
        if entries.is_empty() {
            return Err(Refused::Now(
                "nothing is chosen: tick what the plan should have".to_owned(),
            ));
        }
        let as_wanted = |entry| match entry {
            NewEntry::Post { name, at } if as_sites => NewEntry::Site { name, at },
            other => other,
        };
        made(desk, entries.into_iter().map(as_wanted).collect())
    })
    .await
}

/// The answer where a file has more bytes than are taken.
pub(super) fn too_large(most: usize) -> String {
    format!(
        "the file has more than {} MB, the most that is taken: save the route and the places alone, without photos or a day's other tracks",
        most / (1024 * 1024)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_line_is_thinned_and_stays_where_it_is() {
        let zigzag: LineString = (0..5_000)
            .map(|n| {
                let bend = if (n / 500) % 2 == 0 { n % 500 } else { 500 - n % 500 };
                Coord { x: -34.9 + f64::from(n) * 1e-5, y: 47.0 + f64::from(bend) * 1e-5 }
            })
            .collect();
        let thin = thinned(zigzag.clone());
        assert!((5..50).contains(&thin.0.len()), "{}", thin.0.len());
        assert_eq!((thin.0.first(), thin.0.last()), (zigzag.0.first(), zigzag.0.last()));
        let short: LineString = zigzag.0.iter().take(MOST_POINTS).copied().collect();
        assert_eq!(thinned(short.clone()), short);
    }

    #[test]
    fn holes_are_told_and_left_out() {
        let ring = |from: f64, to: f64| -> LineString {
            [(from, from), (to, from), (to, to), (from, to), (from, from)]
                .map(|(x, y)| Coord { x, y })
                .into_iter()
                .collect()
        };
        let whole = geo::Polygon::new(ring(1.0, 2.0), vec![]);
        let holed = geo::Polygon::new(ring(3.0, 4.0), vec![ring(3.2, 3.4)]);
        let areas = vec![("Field".to_owned(), whole), ("Ring".to_owned(), holed)];
        let mut notes = Vec::new();
        let entries = entries_of(Found { areas, ..Found::default() }, &mut notes);
        assert_eq!(entries.len(), 1);
        let NewEntry::Area { outline, .. } = &entries[0] else { panic!("{entries:?}") };
        assert_eq!(outline.len(), 4);
        assert!(notes[0].contains("\"Ring\" has holes"), "{notes:?}");
    }
}
