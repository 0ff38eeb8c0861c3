//! Posts, areas, routes and sites: everything that has a place.

use geo::{Geometry, LineString, Polygon, Validation};

use super::check::{Placed, quoted};
use super::{Check, Entry, if_stated};
use crate::field::AsTyped;
use crate::position::{Reading, read_position};
use crate::typed::{FeatureText, PlaceText, RoofText, ShapeText, area, post, route, site};
use crate::{Area, Event, Post, Radio, Roof, Route, Site};
use jiff::ZonedDateTime;
use toml::value::Datetime;

use perchline_units::{Db, METRES_PER_FOOT, Metres, Position};
use perchline_vector::{self as vector, MOST_CORNERS, Wanted};

/// A portable mast beyond this is questioned.
const HIGH_MAST: Metres = Metres::new(60.0);

/// An antenna this near the ground is told of.
const LOW_ANTENNA: Metres = Metres::new(2.0);

impl Check<'_> {
    /// Every post; `None` in the place of a wrong one.
    pub(super) fn posts(
        &mut self,
        radios: &[Option<Radio>],
        event: Option<&Event>,
    ) -> Vec<Option<Post>> {
        let typed = self.list::<post::Text>("post");
        self.one_net_control(&typed);
        typed.into_iter().map(|(entry, typed)| self.post(&entry, typed?, radios, event)).collect()
    }

    /// Net control sits at one post at most.
    fn one_net_control(&mut self, posts: &[(Entry, Option<post::Text>)]) {
        let mut marked = posts
            .iter()
            .filter(|(_, typed)| typed.as_ref().is_some_and(|t| t.net_control == Some(true)))
            .map(|(entry, _)| entry);
        let Some(first) = marked.next() else { return };
        for entry in marked {
            let text = format!(
                "{} says net_control = true already, and there is one net control; leave it out \
                 here or there",
                first.label()
            );
            self.problem(entry, "net_control", text);
        }
    }

    fn post(
        &mut self,
        entry: &Entry,
        typed: post::Text,
        radios: &[Option<Radio>],
        event: Option<&Event>,
    ) -> Option<Post> {
        let read = typed.read(self, entry, "");
        let at = self.at(entry, &read.at);
        let radio = if_stated(read.radio.as_ref(), |name| self.radio_of_post(entry, name, radios));
        if read.indoors.flatten().is_some() && read.street == Some(true) {
            let text = "a post is indoors or on the street, not both; leave one of the two out";
            self.problem(entry, "indoors", text);
        }
        let measures = [read.roof_height, read.street_width];
        self.houses(entry, read.surroundings, measures);
        let times = [&read.extra_loss_from, &read.extra_loss_to];
        let loss = read.extra_loss.flatten();
        let (from, to) = self.hours_of_loss(entry, times, loss, event);
        read.with(post::Resolved { at, radio, extra_loss_from: from, extra_loss_to: to })
    }

    /// From when to when a post's extra loss is there: both or neither, one after
    /// the other, during the event.
    fn hours_of_loss(
        &mut self,
        entry: &Entry,
        typed: [&Option<Datetime>; 2],
        loss: Option<Db>,
        event: Option<&Event>,
    ) -> (Option<Option<ZonedDateTime>>, Option<Option<ZonedDateTime>>) {
        const FIELDS: [&str; 2] = ["extra_loss_from", "extra_loss_to"];
        let (from, to) = match typed {
            [None, None] => return (Some(None), Some(None)),
            [Some(from), Some(to)] => (from, to),
            [from, _] => {
                let field = if from.is_some() { FIELDS[0] } else { FIELDS[1] };
                let text = "extra_loss_from and extra_loss_to go together; write both or neither";
                self.problem(entry, field, text);
                return (None, None);
            }
        };
        let Some(loss) = loss else {
            let text = "the loss itself is missing: add extra_loss = \"6 dB\", say";
            self.problem(entry, FIELDS[0], text);
            return (None, None);
        };
        let zone = event.map(|event| event.starts.time_zone().clone());
        let from = self.moment(entry, FIELDS[0], from, zone.as_ref());
        let to = self.moment(entry, FIELDS[1], to, zone.as_ref());
        let (Some(from), Some(to), Some(event)) = (from, to, event) else { return (None, None) };
        for (field, time) in FIELDS.into_iter().zip([&from, &to]) {
            if *time < event.starts || *time > event.tear_down {
                let text = format!(
                    "{} is outside the event, which runs from {} to {}",
                    time.strftime("%Y-%m-%d %H:%M"),
                    event.starts.strftime("%Y-%m-%d %H:%M"),
                    event.tear_down.strftime("%Y-%m-%d %H:%M")
                );
                self.problem(entry, field, text);
            }
        }
        if to <= from {
            let text = format!(
                "it ends at {} and begins at {}",
                to.strftime("%Y-%m-%d %H:%M"),
                from.strftime("%Y-%m-%d %H:%M")
            );
            self.problem(entry, FIELDS[1], text);
        }
        let text = format!(
            "{loss} from {} to {} count in every result: results are those of that time",
            from.strftime("%H:%M"),
            to.strftime("%H:%M")
        );
        self.remark(entry, "extra_loss", text);
        (Some(Some(from)), Some(Some(to)))
    }

    fn radio_of_post(
        &mut self,
        entry: &Entry,
        name: &str,
        radios: &[Option<Radio>],
    ) -> Option<usize> {
        let index = self.radio_named(entry, "radio", name)?;
        let unplaced = |r: &Radio| r.carry.is_none() && r.antenna_height.is_none();
        if radios.get(index).is_some_and(|r| r.as_ref().is_some_and(unplaced)) {
            let text = format!(
                "{} says neither how it is carried nor how high its antenna stands; give that \
                 radio carry or antenna_height",
                quoted(name)
            );
            self.problem(entry, "radio", text);
            return None;
        }
        Some(index)
    }

    /// Every staging area; `None` in the place of a wrong one.
    pub(super) fn areas(&mut self) -> Vec<Option<Area>> {
        self.each("area", Self::area)
    }

    fn area(&mut self, entry: &Entry, typed: area::Text) -> Option<Area> {
        let read = typed.read(self, entry, "");
        let outline = self.shape(entry, "outline", &read.outline)?;
        self.remember(entry, "outline", outline.exterior());
        self.houses(entry, read.surroundings, [read.roof_height, read.street_width]);
        read.with(area::Resolved { outline: Some(outline) })
    }

    /// An area of corners or of a vector file.
    pub(super) fn shape(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &ShapeText,
    ) -> Option<Polygon> {
        match typed {
            ShapeText::Positions(texts) => self.outline(entry, field, texts),
            ShapeText::Feature(feature) => {
                match self.feature(entry, field, feature, Wanted::Area) {
                    Some(Geometry::Polygon(polygon)) => Some(polygon),
                    _ => None,
                }
            }
        }
    }

    fn outline(&mut self, entry: &Entry, field: &str, texts: &[String]) -> Option<Polygon> {
        let points = self.points(entry, field, texts)?;
        if points.len() < 3 {
            let text = format!("an outline has three corners or more, not {}", points.len());
            self.problem(entry, field, text);
            return None;
        }
        if points.len() > MOST_CORNERS {
            let text = format!(
                "an outline has {MOST_CORNERS} corners at the most, not {}; simplify it",
                points.len()
            );
            self.problem(entry, field, text);
            return None;
        }
        let ring = LineString::from_iter(points.iter().map(|at| at.point()));
        let polygon = Polygon::new(ring, Vec::new());
        if let Err(error) = polygon.check_validation() {
            let text = format!(
                "the corners in this order make no valid area ({error}); go round it once without \
                 crossing"
            );
            self.problem(entry, field, text);
            return None;
        }
        Some(polygon)
    }

    /// Every route; `None` in the place of a wrong one.
    pub(super) fn routes(&mut self) -> Vec<Option<Route>> {
        self.each("route", Self::route)
    }

    fn route(&mut self, entry: &Entry, typed: route::Text) -> Option<Route> {
        let read = typed.read(self, entry, "");
        let line = match &read.line {
            ShapeText::Positions(texts) => self.line(entry, texts),
            ShapeText::Feature(feature) => {
                match self.feature(entry, "line", feature, Wanted::Line) {
                    Some(Geometry::LineString(line)) => Some(line),
                    _ => None,
                }
            }
        };
        let line = line?;
        self.remember(entry, "line", &line);
        read.with(route::Resolved { line: Some(line) })
    }

    fn line(&mut self, entry: &Entry, texts: &[String]) -> Option<LineString> {
        let points = self.points(entry, "line", texts)?;
        let moves = points.iter().zip(points.iter().skip(1)).any(|(from, to)| from != to);
        if !moves {
            self.problem(entry, "line", "a route has two different points or more");
            return None;
        }
        Some(LineString::from_iter(points.iter().map(|at| at.point())))
    }

    /// Every candidate site; `None` in the place of a wrong one.
    pub(super) fn sites(&mut self, event: Option<&Event>) -> Vec<Option<Site>> {
        let sites: Vec<Option<Site>> =
            self.each("site", |check, entry, typed: site::Text| check.site(entry, typed, event));
        if !sites.is_empty() && sites.iter().flatten().count() == sites.len() {
            let available = sites.iter().flatten().any(|site| site.available);
            if !available {
                let text = "no site has available = true, so there is nothing to rank";
                self.remark(&Entry::single("site"), "available", text);
            }
        }
        sites
    }

    fn site(&mut self, entry: &Entry, typed: site::Text, event: Option<&Event>) -> Option<Site> {
        let read = typed.read(self, entry, "");
        let at = self.at(entry, &read.at);
        let tall = read.tall?;
        let roof = match &read.roof {
            Some(Some(RoofText::AboveGround(height))) => {
                let usual = Roof::QUESTIONED_FROM;
                self.not_feet(entry, "roof", height, usual, tall).map(Roof::AboveGround)
            }
            Some(Some(RoofText::AboveSea(height))) => Some(Roof::AboveSea(*height)),
            Some(Some(RoofText::OfBuilding) | None) => self.roof_of_building(entry),
            None => None,
        };
        let mast = match &read.mast {
            Some(mast) => self.not_feet(entry, "mast", mast, HIGH_MAST, tall),
            None => None,
        };
        if let (Some(Roof::AboveGround(roof)), Some(mast)) = (roof, mast)
            && roof + mast < LOW_ANTENNA
        {
            let text = format!("the antenna is only {:.1} above the ground", roof + mast);
            self.remark(entry, "mast", text);
        }
        let (open_from, open_until) = self.open_hours(entry, &read, event);
        read.with(site::Resolved { at, roof, mast, open_from, open_until })
    }

    /// From when and until when somebody gets up to a site.
    fn open_hours(
        &mut self,
        entry: &Entry,
        read: &site::Read,
        event: Option<&Event>,
    ) -> (Option<Option<ZonedDateTime>>, Option<Option<ZonedDateTime>>) {
        let zone = event.map(|event| event.starts.time_zone().clone());
        let from = if_stated(read.open_from.as_ref(), |time| {
            self.moment(entry, "open_from", time, zone.as_ref())
        });
        let until = if_stated(read.open_until.as_ref(), |time| {
            self.moment(entry, "open_until", time, zone.as_ref())
        });
        if let (Some(Some(from)), Some(Some(until))) = (&from, &until)
            && until <= from
        {
            let text = format!(
                "it closes at {} and opens at {}; it must close later than it opens (over \
                 midnight, write the next day's date)",
                until.strftime("%Y-%m-%d %H:%M"),
                from.strftime("%Y-%m-%d %H:%M")
            );
            self.problem(entry, "open_until", text);
        }
        (from, until)
    }

    /// Questions a height above `usual` that is more likely feet taken for metres.
    fn not_feet(
        &mut self,
        entry: &Entry,
        field: &str,
        height: &AsTyped<Metres>,
        usual: Metres,
        tall: bool,
    ) -> Option<Metres> {
        let metres = height.value.value();
        if metres <= usual.value() {
            return Some(height.value);
        }
        if tall && metres <= 1000.0 {
            self.remark(entry, field, format!("{metres:.0} m is unusually high; taken as typed"));
            return Some(height.value);
        }
        let question = if height.unit == "m" {
            let above = if field == "roof" { " above ground" } else { "" };
            format!(
                "if feet were meant write \"{metres} ft{above}\" ({:.1} m)",
                metres * METRES_PER_FOOT
            )
        } else {
            format!("that is {metres:.0} m")
        };
        let text = format!(
            "{} is higher than {:.0} m, which few are: {question}; if it is right add tall = true \
             (up to 1000 m)",
            height.quoted,
            usual.value()
        );
        self.problem(entry, field, text);
        None
    }

    /// The position under `at`.
    fn at(&mut self, entry: &Entry, typed: &PlaceText) -> Option<Position> {
        match typed {
            PlaceText::Position(text) => self.position(entry, "at", text),
            PlaceText::Feature(feature) => {
                let Some(Geometry::Point(point)) =
                    self.feature(entry, "at", feature, Wanted::Point)
                else {
                    return None;
                };
                let at = Position::from_point(point).ok()?;
                self.placed.push(Placed { entry: entry.clone(), field: "at".to_owned(), at });
                Some(at)
            }
        }
    }

    /// Positions typed one by one; coarse ones are remarked together.
    fn points(&mut self, entry: &Entry, field: &str, texts: &[String]) -> Option<Vec<Position>> {
        let read: Vec<Option<Reading>> = texts
            .iter()
            .enumerate()
            .map(|(index, text)| self.reading(entry, &format!("{field}[{index}]"), text))
            .collect();
        let read: Vec<Reading> = read.into_iter().collect::<Option<_>>()?;
        let coarse: Vec<f64> =
            read.iter().filter_map(|reading| reading.square).map(Metres::value).collect();
        if !coarse.is_empty() {
            let text = format!(
                "{} of {} positions are only known to about {:.0} m at worst",
                coarse.len(),
                read.len(),
                coarse.iter().copied().fold(0.0, f64::max)
            );
            self.remark(entry, field, text);
        }
        Some(read.into_iter().map(|reading| reading.position).collect())
    }

    fn position(&mut self, entry: &Entry, field: &str, text: &str) -> Option<Position> {
        let reading = self.reading(entry, field, text)?;
        if let Some(side) = reading.square {
            let text = format!("{} is only known to about {:.0} m", quoted(text), side.value());
            self.remark(entry, field, text);
        }
        Some(reading.position)
    }

    fn reading(&mut self, entry: &Entry, field: &str, text: &str) -> Option<Reading> {
        match read_position(text) {
            Ok(reading) => {
                let at = reading.position;
                self.placed.push(Placed { entry: entry.clone(), field: field.to_owned(), at });
                Some(reading)
            }
            Err(error) => {
                self.problem(entry, field, error.to_string());
                None
            }
        }
    }

    /// A named feature of a vector file.
    pub(super) fn feature(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &FeatureText,
        wanted: Wanted,
    ) -> Option<Geometry> {
        if vector::is_special_path(&typed.file) {
            let error = vector::VectorError::SpecialPath { file: typed.file.clone().into() };
            self.problem(entry, &format!("{field}.file"), error.to_string());
            return None;
        }
        let path = self.in_folder(&typed.file);
        match self.vectors.find(&path, typed.layer.as_deref(), &typed.name, wanted) {
            Ok(feature) => {
                if let Some(note) = feature.note {
                    let text = format!("{} in {}: {note}", quoted(&typed.name), path.display());
                    self.remark(entry, field, text);
                }
                if let Err(error) = self.draws_from(&path) {
                    let text = format!("{} cannot be read: {error}", path.display());
                    self.problem(entry, &format!("{field}.file"), text);
                    return None;
                }
                Some(feature.geometry)
            }
            Err(error) => {
                let part = match error {
                    vector::VectorError::NoFeature { .. }
                    | vector::VectorError::Ambiguous { .. }
                    | vector::VectorError::WrongShape { .. } => "name",
                    vector::VectorError::NoLayer { .. } => "layer",
                    _ => "file",
                };
                let text = match error {
                    vector::VectorError::NoFeature { file, nearest, .. }
                        if typed.name.is_empty() =>
                    {
                        format!("this is missing here; {}: {nearest}", file.display())
                    }
                    error => error.to_string(),
                };
                self.problem(entry, &format!("{field}.{part}"), text);
                None
            }
        }
    }

    pub(super) fn remember(&mut self, entry: &Entry, field: &str, line: &LineString) {
        // Positions typed one by one are remembered already, with their own lines.
        if self.placed.last().is_some_and(|p| p.entry.label() == entry.label()) {
            return;
        }
        let points = line.points().filter_map(|point| Position::from_point(point).ok());
        self.placed.extend(points.map(|at| Placed {
            entry: entry.clone(),
            field: field.to_owned(),
            at,
        }));
    }
}
