//! What a plan has of places: out of a vector file, and what is put where there is
//! none.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use geo::{Coord, CoordsIter, Geometry, LineString, MultiLineString, Polygon, Validation};
use perchline_terrain::Extent;
use perchline_units::{Metres, Position, is_unprintable, shown};
use perchline_vector::{MOST_CORNERS, NamedPlace};
use serde_json::{Value, json};

use super::{Asked, StartError, USUAL_RADIUS, circle};

/// The most bytes of a file of places: a day's track with a point each second has 20
/// MB.
pub const MOST_BYTES: u64 = 50_000_000;

/// The most points that become posts.
pub const MOST_POSTS: usize = 500;

/// The longest name of a plan, characters.
const LONGEST_NAME: usize = 80;

/// Parts of a line no farther apart than this follow each other: a receiver that lost
/// its fix for a while. Common practice, no source.
const GAP: Metres = Metres::new(100.0);

/// A start and a finish no farther apart than this are one place: common practice, no
/// source.
const LOOP: Metres = Metres::new(50.0);

/// A post.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Post {
    pub name: String,
    pub at: Position,
}

/// A place for a relay.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Site {
    pub name: String,
    pub at: Position,
    pub origin: Origin,
}

/// Where a site comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Origin {
    /// The file of places.
    Given,
    /// A height of the terrain, so much above sea level.
    Suggested(Metres),
    /// Nowhere: a plan has to have one.
    Placeholder,
}

/// All places of a plan.
#[derive(Debug, Clone, Default)]
pub(super) struct Places {
    file: Option<PathBuf>,
    pub posts: Vec<Post>,
    /// Whether the posts are the plan's own and stand for those that nobody gave.
    pub placeholder_posts: bool,
    pub routes: Vec<(String, LineString)>,
    pub areas: Vec<(String, Polygon)>,
    pub sites: Vec<Site>,
    /// What a person should know of how the file was read.
    pub notes: Vec<String>,
    /// Places that lay farther off than was asked for.
    outside: usize,
}

impl Places {
    /// Those of a vector file: points become posts, or sites where the file says
    /// `kind = "site"`, lines routes, and polygons areas.
    pub fn read(file: &Path) -> Result<Self, StartError> {
        let found = std::fs::metadata(file).map_or(0, |found| found.len());
        if found > MOST_BYTES {
            return Err(StartError::TooLarge { file: file.to_owned(), found, most: MOST_BYTES });
        }
        let (list, without) = perchline_vector::places(file)?;
        let mut places = Self { file: Some(file.to_owned()), ..Self::default() };
        if without > 0 {
            places
                .notes
                .push(format!("{without} features of the file have no place and are left out"));
        }
        for NamedPlace { name, kind, geometry } in list {
            let is_site = kind.is_some_and(|kind| kind.eq_ignore_ascii_case("site"));
            places.take(name.as_deref(), is_site, geometry);
        }
        let nothing =
            places.posts.is_empty() && places.routes.is_empty() && places.areas.is_empty();
        if nothing && places.sites.is_empty() {
            let reason = "it has no point, line or polygon that can be used".to_owned();
            return Err(StartError::NoPlaces { file: file.to_owned(), reason });
        }
        if places.posts.len() > MOST_POSTS {
            let found = places.posts.len();
            return Err(StartError::TooMany { file: file.to_owned(), found, most: MOST_POSTS });
        }
        Ok(places)
    }

    fn take(&mut self, name: Option<&str>, is_site: bool, geometry: Geometry) {
        let named = |usual: &str, count: usize| {
            name.map_or_else(|| format!("{usual} {}", count + 1), str::to_owned)
        };
        match geometry {
            Geometry::Point(point) => {
                let Ok(at) = Position::from_point(point) else { return };
                if is_site {
                    let name = named("Site", self.sites.len());
                    self.sites.push(Site { name, at, origin: Origin::Given });
                } else {
                    let name = named("Post", self.posts.len());
                    self.posts.push(Post { name, at });
                }
            }
            Geometry::LineString(line) => {
                let name = named("Route", self.routes.len());
                self.take_lines(name, &MultiLineString::new(vec![line]));
            }
            Geometry::MultiLineString(lines) => {
                let name = named("Route", self.routes.len());
                self.take_lines(name, &lines);
            }
            Geometry::Polygon(polygon) => {
                let name = named("Area", self.areas.len());
                self.take_area(name, polygon);
            }
            Geometry::MultiPoint(many) => {
                many.into_iter().for_each(|part| self.take(name, is_site, part.into()));
            }
            Geometry::MultiPolygon(many) => {
                many.into_iter().for_each(|part| self.take(name, is_site, part.into()));
            }
            Geometry::GeometryCollection(many) => {
                many.into_iter().for_each(|part| self.take(name, is_site, part));
            }
            // What files hold comes as none of these.
            Geometry::Line(_) | Geometry::Rect(_) | Geometry::Triangle(_) => {}
        }
    }

    /// A line's parts, those that follow each other as one route.
    fn take_lines(&mut self, name: String, parts: &MultiLineString) {
        let mut whole: Vec<Vec<Coord>> = Vec::new();
        for part in parts {
            let follows = whole.last().and_then(|line| line.last()).zip(part.0.first());
            let near = follows.is_some_and(|(end, start)| distance(*end, *start) <= GAP);
            match whole.last_mut().filter(|_| near) {
                Some(line) => line.extend(part.0.iter().copied()),
                None => whole.push(part.0.clone()),
            }
        }
        let mut lines: Vec<LineString> = whole.into_iter().map(without_repeats).collect();
        let all = lines.len();
        lines.retain(|line| line.0.len() > 1);
        if lines.is_empty() {
            self.notes.push(format!("\"{}\" has no length and is left out", shown(&name)));
        } else if all > 1 {
            self.notes.push(format!(
                "\"{}\" is broken into {} parts more than {GAP:.0} apart, a route each",
                shown(&name),
                lines.len()
            ));
        }
        self.routes.extend(lines.into_iter().map(|line| (name.clone(), line)));
    }

    fn take_area(&mut self, name: String, polygon: Polygon) {
        let corners = polygon.coords_count();
        if corners > MOST_CORNERS {
            let text = format!("has {corners} corners, more than {MOST_CORNERS}, and is left out");
            self.notes.push(format!("the area \"{}\" {text}", shown(&name)));
        } else if let Err(error) = polygon.check_validation() {
            self.notes.push(format!(
                "the area \"{}\" is left out: its outline is not valid ({error})",
                shown(&name)
            ));
        } else {
            self.areas.push((name, polygon));
        }
    }

    /// Leaves out what lies farther off; of lines and outlines, those of which no
    /// corner lies within.
    pub fn keep_within(&mut self, centre: Position, radius: Metres) {
        let before = self.count();
        let near = |at: Position| at.distance(centre) <= radius;
        let any = |line: &LineString| positions_of(line).any(near);
        self.posts.retain(|post| near(post.at));
        self.sites.retain(|site| near(site.at));
        self.routes.retain(|(_, line)| any(line));
        self.areas.retain(|(_, outline)| any(outline.exterior()));
        self.outside = before - self.count();
        if self.outside > 0 {
            self.notes.push(format!(
                "{} of {before} places lie more than {radius:.0} from the centre and are left out",
                self.outside
            ));
        }
    }

    fn count(&self) -> usize {
        self.posts.len() + self.sites.len() + self.routes.len() + self.areas.len()
    }

    /// Every position.
    pub fn positions(&self) -> impl Iterator<Item = Position> {
        let posts = self.posts.iter().map(|post| post.at);
        let sites = self.sites.iter().map(|site| site.at);
        let lines = self.routes.iter().map(|(_, line)| line);
        let lines = lines.chain(self.areas.iter().map(|(_, outline)| outline.exterior()));
        posts.chain(sites).chain(lines.flat_map(positions_of))
    }

    /// The middle of the rectangle around all of them; `None` where there are none.
    pub fn middle(&self) -> Option<Position> {
        middle_of(Extent::around(self.positions(), Metres::new(0.0))?)
    }

    /// Puts what a plan has to have where nothing is given, and makes all names
    /// differ.
    pub fn settle(
        &mut self,
        asked: &Asked<'_>,
        middle: Position,
        reach: Option<Metres>,
    ) -> Result<(), StartError> {
        if let (Some(file), Some(radius), 0) = (&self.file, asked.radius, self.count()) {
            let (file, places) = (file.clone(), self.outside);
            return Err(StartError::AllOutside { file, places, radius });
        }
        if self.count() == 0 {
            let usual = reach.map_or(USUAL_RADIUS, |reach| USUAL_RADIUS.min(reach));
            let corners = circle(middle, asked.radius.unwrap_or(usual));
            let ring: LineString = corners.iter().map(|at| at.point()).collect();
            self.areas.push(("Event area".to_owned(), Polygon::new(ring, Vec::new())));
        }
        if self.posts.is_empty() {
            self.posts = self.ends_of_routes();
        }
        if self.posts.is_empty() {
            self.posts.push(Post { name: "Net Control".to_owned(), at: middle });
            self.placeholder_posts = true;
        }
        self.name_all(HashSet::new());
        Ok(())
    }

    /// Where the routes start and finish.
    fn ends_of_routes(&self) -> Vec<Post> {
        let only = self.routes.len() == 1;
        let mut posts = Vec::new();
        for (name, line) in &self.routes {
            let called = |end: &str| match only {
                true => end.to_owned(),
                false => format!("{name}: {}", end.to_lowercase()),
            };
            let ends = (positions_of(line).next(), positions_of(line).last());
            let (Some(start), Some(finish)) = ends else { continue };
            if start.distance(finish) <= LOOP {
                posts.push(Post { name: called("Start and finish"), at: start });
            } else {
                posts.push(Post { name: called("Start"), at: start });
                posts.push(Post { name: called("Finish"), at: finish });
            }
        }
        posts
    }

    /// Names that a plan can hold, no two alike and none of those in `taken`, which are
    /// in small letters; what was changed is told.
    pub fn name_all(&mut self, mut taken: HashSet<String>) {
        let mut changed = Vec::new();
        let posts = self.posts.iter_mut().map(|post| &mut post.name);
        let sites = self.sites.iter_mut().map(|site| &mut site.name);
        let areas = self.areas.iter_mut().map(|(name, _)| name);
        let routes = self.routes.iter_mut().map(|(name, _)| name);
        for name in posts.chain(sites).chain(areas).chain(routes) {
            let own = differing(name, &mut taken);
            if own != *name {
                changed.push(format!("\"{}\" is \"{own}\" in the plan", shown(name)));
                *name = own;
            }
        }
        let more = changed.len().saturating_sub(MOST_TOLD);
        changed.truncate(MOST_TOLD);
        self.notes.append(&mut changed);
        if more > 0 {
            self.notes.push(format!("{more} more names were changed so that all differ"));
        }
    }

    /// Takes heights of the terrain for sites where none are given, or a placeholder
    /// in the middle.
    pub fn take_suggested(&mut self, heights: &[(Position, Metres)], middle: Position) {
        if !self.sites.is_empty() {
            return;
        }
        let mut names: HashSet<String> = self.names().map(str::to_lowercase).collect();
        for (index, (at, height)) in heights.iter().enumerate() {
            let name = differing(&format!("High ground {}", index + 1), &mut names);
            self.sites.push(Site { name, at: *at, origin: Origin::Suggested(*height) });
        }
        if self.sites.is_empty() {
            let name = differing("Site to be found", &mut names);
            self.sites.push(Site { name, at: middle, origin: Origin::Placeholder });
        }
    }

    fn names(&self) -> impl Iterator<Item = &str> {
        let posts = self.posts.iter().map(|post| post.name.as_str());
        let lines = self.routes.iter().map(|(name, _)| name.as_str());
        posts.chain(lines).chain(self.areas.iter().map(|(name, _)| name.as_str()))
    }

    /// The post at which net control sits, as its name says.
    pub fn net_control(&self) -> Option<usize> {
        self.posts.iter().position(|post| {
            let name = post.name.to_lowercase();
            name.contains("net control") || name == "control" || name == "ncs"
        })
    }

    /// The file of routes and areas; `None` where there are none.
    pub fn shapes(&self) -> Option<Vec<u8>> {
        if self.routes.is_empty() && self.areas.is_empty() {
            return None;
        }
        let feature = |name: &str, kind: &str, coordinates: Value| {
            json!({
                "type": "Feature",
                "properties": { "name": name },
                "geometry": { "type": kind, "coordinates": coordinates },
            })
        };
        let routes =
            self.routes.iter().map(|(name, line)| feature(name, "LineString", corners(line)));
        let areas = self.areas.iter().map(|(name, outline)| {
            let rings: Vec<Value> = std::iter::once(outline.exterior())
                .chain(outline.interiors())
                .map(corners)
                .collect();
            feature(name, "Polygon", rings.into())
        });
        // A feature a line, so that a person finds one.
        let lines: Vec<String> = routes.chain(areas).map(|feature| feature.to_string()).collect();
        let text = format!(
            "{{\"type\": \"FeatureCollection\", \"features\": [\n{}\n]}}\n",
            lines.join(",\n")
        );
        Some(text.into_bytes())
    }
}

/// Names whose changes are told one by one.
const MOST_TOLD: usize = 10;

/// The middle of a rectangle.
pub(super) fn middle_of(extent: Extent) -> Option<Position> {
    extent.south_west.on_the_way(extent.north_east, 0.5).ok()
}

/// A name that a plan can hold and that is not taken, letter case aside.
fn differing(name: &str, taken: &mut HashSet<String>) -> String {
    let cleaned: String = name.chars().map(|c| if is_unprintable(c) { ' ' } else { c }).collect();
    let words: Vec<&str> = cleaned.split_whitespace().collect();
    let words = if words.is_empty() { "Unnamed".to_owned() } else { words.join(" ") };
    let short = |most: usize| words.chars().take(most).collect::<String>().trim_end().to_owned();
    let mut own = short(LONGEST_NAME);
    for number in 2.. {
        if taken.insert(own.to_lowercase()) {
            break;
        }
        let end = format!(" ({number})");
        own = short(LONGEST_NAME - end.len()) + &end;
    }
    own
}

fn positions_of(line: &LineString) -> impl Iterator<Item = Position> {
    // The reader has checked every coordinate, so none is dropped here.
    line.points().filter_map(|point| Position::from_point(point).ok())
}

fn distance(a: Coord, b: Coord) -> Metres {
    let position = |c: Coord| Position::from_point(c.into()).ok();
    position(a).zip(position(b)).map_or(Metres::new(f64::INFINITY), |(a, b)| a.distance(b))
}

/// A line in which no point follows itself.
fn without_repeats(mut points: Vec<Coord>) -> LineString {
    points.dedup();
    LineString::new(points)
}

/// The corners of a line in degrees, to a centimetre.
fn corners(line: &LineString) -> Value {
    let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
    line.0.iter().map(|c| json!([rounded(c.x), rounded(c.y)])).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, text: &str) -> (tempfile::TempDir, PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(name);
        std::fs::write(&file, text).unwrap();
        (folder, file)
    }

    fn gpx(inside: &str) -> String {
        format!(
            "<gpx version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\">{inside}</gpx>"
        )
    }

    #[test]
    fn a_track_is_one_route_whatever_its_segments() {
        let point = |lat: f64| format!("<trkpt lat=\"{lat}\" lon=\"-34.9\"/>");
        let segment = |from: f64| {
            format!("<trkseg>{}{}{}</trkseg>", point(from), point(from), point(from + 0.001))
        };
        // The second begins 55 m after the first ends, the third far off.
        let text = gpx(&format!(
            "<trk><name>Run</name>{}{}{}</trk>",
            segment(47.0),
            segment(47.0015),
            segment(47.02)
        ));
        let (_folder, file) = file("run.gpx", &text);
        let places = Places::read(&file).unwrap();
        let lengths: Vec<_> = places.routes.iter().map(|(_, line)| line.0.len()).collect();
        assert_eq!(lengths, [4, 2]);
        assert!(places.notes[0].contains("broken into 2 parts"), "{:?}", places.notes);
        // Its points are no posts.
        assert!(places.posts.is_empty());
        let ends = places.ends_of_routes();
        assert_eq!(ends.len(), 4);
        assert_eq!(ends[0].name, "Run: start");
    }

    #[test]
    fn a_loop_has_one_post() {
        let text = gpx(
            "<rte><name>Round</name><rtept lat=\"47\" lon=\"-34.9\"/><rtept lat=\"47.01\" lon=\"-34.9\"/><rtept lat=\"47.0001\" lon=\"-34.9\"/></rte>",
        );
        let (_folder, file) = file("round.gpx", &text);
        let posts = Places::read(&file).unwrap().ends_of_routes();
        assert_eq!(posts.len(), 1);
        assert_eq!(posts[0].name, "Start and finish");
    }

    #[test]
    fn names_stay_as_they_are_and_differ() {
        let mut taken = HashSet::new();
        for (name, own) in [
            ("補給所 1", "補給所 1"),
            ("Пункт питания", "Пункт питания"),
            ("مركز", "مركز"),
            ("Aid 1", "Aid 1"),
            ("aid 1", "aid 1 (2)"),
            ("AID 1", "AID 1 (3)"),
            ("two\nlines\u{7}", "two lines"),
            ("", "Unnamed"),
            (" \u{202e} ", "Unnamed (2)"),
        ] {
            assert_eq!(differing(name, &mut taken), own);
        }
        let long = "ß".repeat(100);
        assert_eq!(differing(&long, &mut taken).chars().count(), LONGEST_NAME);
        assert_eq!(differing(&long, &mut taken).chars().count(), LONGEST_NAME);
        assert!(taken.contains(&("ß".repeat(76) + " (2)")));
    }

    #[test]
    fn points_are_posts_or_sites_as_the_file_says() {
        let (_folder, file) = file(
            "places.csv",
            "name,kind,lat,lon\nAid 1,,47.0,-34.9\nHill,Site,47.01,-34.91\n,,47.002,-34.9\n",
        );
        let places = Places::read(&file).unwrap();
        let names: Vec<_> = places.posts.iter().map(|post| post.name.as_str()).collect();
        assert_eq!(names, ["Aid 1", "Post 2"]);
        assert_eq!(places.sites[0].name, "Hill");
        assert_eq!(places.sites[0].origin, Origin::Given);
    }

    #[test]
    fn a_file_without_places_says_so() {
        let (_folder, empty) = file("empty.gpx", &gpx(""));
        let error = Places::read(&empty).unwrap_err().to_string();
        assert!(error.contains("no point, line or polygon"), "{error}");
        let (_folder, many) = file("many.csv", &{
            let rows: String =
                (0..=MOST_POSTS).map(|n| format!("p{n},47,{}\n", n as f64 / 1e4)).collect();
            format!("name,lat,lon\n{rows}")
        });
        let error = Places::read(&many).unwrap_err().to_string();
        assert!(error.contains("501 points") && error.contains("500 is the most"), "{error}");
    }

    #[test]
    fn a_file_has_so_many_bytes_and_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("track.gpx");
        let sparse = std::fs::File::create(&path).unwrap();
        sparse.set_len(MOST_BYTES + 1).unwrap();
        let error = Places::read(&path).unwrap_err();
        assert!(matches!(error, StartError::TooLarge { .. }), "{error}");
        sparse.set_len(200_000_000).unwrap();
        let error = Places::read(&path).unwrap_err().to_string();
        assert!(error.contains("it has 200 MB, and 50 MB is the most"), "{error}");
        // The largest is read, and is no GPX.
        sparse.set_len(MOST_BYTES).unwrap();
        assert!(matches!(Places::read(&path), Err(StartError::Vector(_))));
    }

    #[test]
    fn what_lies_far_off_is_left_out_and_told() {
        let (_folder, file) = file("places.csv", "name,lat,lon\nNear,47.0,-34.9\nFar,48.0,-34.9\n");
        let centre = Position::new(
            perchline_units::Degrees::new(47.0),
            perchline_units::Degrees::new(-34.9),
        )
        .unwrap();
        let mut places = Places::read(&file).unwrap();
        places.keep_within(centre, Metres::new(3000.0));
        assert_eq!(places.posts.len(), 1);
        assert!(
            places.notes[0].starts_with("1 of 2 places lie more than 3000 m"),
            "{:?}",
            places.notes
        );
    }

    #[test]
    fn shapes_are_found_again_by_their_names() {
        let (_folder, from) = file(
            "in.geojson",
            r#"{"type":"FeatureCollection","features":[
            {"type":"Feature","properties":{"name":"Route \"A\""},"geometry":{"type":"LineString","coordinates":[[-34.9,47.0],[-34.91,47.01]]}},
            {"type":"Feature","properties":{"name":"Field"},"geometry":{"type":"Polygon","coordinates":[[[-34.9,47.0],[-34.91,47.0],[-34.91,47.01],[-34.9,47.0]]]}}]}"#,
        );
        let places = Places::read(&from).unwrap();
        let (_folder, to) =
            file("out.geojson", &String::from_utf8(places.shapes().unwrap()).unwrap());
        let line = perchline_vector::find(&to, None, "Route \"A\"", perchline_vector::Wanted::Line);
        assert_eq!(line.unwrap().geometry, places.routes[0].1.clone().into());
        let area = perchline_vector::find(&to, None, "Field", perchline_vector::Wanted::Area);
        assert_eq!(area.unwrap().geometry, places.areas[0].1.clone().into());
    }
}
