//! From the cells of one row to its reports.

use jiff::SignedDuration;

use super::cells::Column;
use super::names::Names;
use super::{Origin, Place, Report, Said, times, values};
use perchline_link::{Direction, frequencies};
use perchline_plan::{Service, read_position};
use perchline_units::{Degrees, Megahertz, Metres, Position};

/// A position this far from the post that the row names is not that post.
const NEAR_POST: Metres = Metres::new(300.0);

/// What counts where a row says nothing.
#[derive(Debug, Clone, Default)]
pub struct Defaults {
    /// Index into [`Plan::channels`](perchline_plan::Plan::channels).
    pub channel: Option<usize>,
    /// Index into [`Plan::sites`](perchline_plan::Plan::sites): where the station stood.
    pub site: Option<usize>,
    /// What is added to every time.
    pub clock_offset: SignedDuration,
}

/// The cells of a row by what they hold; empty ones are left out.
pub(super) struct Row<'a> {
    pub cells: Vec<(Column, &'a str)>,
}

impl Row<'_> {
    fn get(&self, column: Column) -> Option<&str> {
        let found = self.cells.iter().find(|(known, _)| *known == column);
        found.map(|(_, text)| text.trim()).filter(|text| !text.is_empty())
    }

    /// The reports of this row, one a direction.
    pub(super) fn reports(
        &self,
        origin: &Origin,
        names: &mut Names<'_>,
        defaults: &Defaults,
    ) -> Result<Vec<Report>, String> {
        let plan = names.plan;
        let tracker = self.tracker(names)?;
        let channel = self.channel(names, defaults, tracker)?;
        let service = plan.channels.get(channel).map(|c| c.service);
        let between = matches!(service, Some(Service::Simplex { .. }) | None);
        let to = if between { Some(self.to(names)?) } else { None };
        let site = if between { None } else { Some(self.site(names, defaults)?) };
        let directions = if between { self.both_or_there()? } else { self.directions(tracker)? };
        let place = self.place(names)?;
        if to.as_ref() == Some(&place) {
            return Err("to: the row names the same place at both ends".to_owned());
        }
        let time = match self.get(Column::Time) {
            Some(text) => {
                Some(times::time(text, self.get(Column::Date), &plan.event, defaults.clock_offset)?)
            }
            None => None,
        };
        let carry = self.get(Column::Carry).map(values::carry).transpose()?;
        let (input, output) =
            service.as_ref().map_or((Megahertz::new(0.0), Megahertz::new(0.0)), frequencies);
        directions
            .into_iter()
            .map(|direction| {
                let frequency = match direction {
                    Direction::TalkIn => input,
                    Direction::TalkOut => output,
                };
                Ok(Report {
                    origin: origin.clone(),
                    time,
                    place: place.clone(),
                    channel,
                    site,
                    to: to.clone(),
                    tracker,
                    direction,
                    carry,
                    said: self.said(frequency, tracker.is_some())?,
                })
            })
            .collect()
    }

    fn tracker(&self, names: &Names<'_>) -> Result<Option<usize>, String> {
        let says = [Column::Heard, Column::Daq, Column::Rst, Column::Level];
        let name = match (self.get(Column::Tracker), self.get(Column::Caller)) {
            (Some(name), _) => name,
            // Whoever called in a voice log is of no concern here.
            (None, Some(caller)) if says.into_iter().any(|column| self.get(column).is_some()) => {
                return Ok(names.tracker(caller));
            }
            (None, Some(caller)) => caller,
            (None, None) => return Ok(None),
        };
        names.tracker(name).map(Some).ok_or_else(|| {
            format!(
                "tracker: the plan has no tracker \"{}\"; it has {}",
                values::short(name),
                names.known_trackers()
            )
        })
    }

    fn channel(
        &self,
        names: &mut Names<'_>,
        defaults: &Defaults,
        tracker: Option<usize>,
    ) -> Result<usize, String> {
        if let Some(name) = self.get(Column::Channel) {
            return names.channel(name);
        }
        let of_tracker = tracker.and_then(|t| names.plan.trackers.get(t)).map(|t| t.channel);
        of_tracker
            .or(defaults.channel)
            .ok_or_else(|| "channel: the row names none, and neither does --channel".to_owned())
    }

    /// The station's site.
    fn site(&self, names: &mut Names<'_>, defaults: &Defaults) -> Result<usize, String> {
        let site = match self.get(Column::Site) {
            Some(name) => Some(names.site(name)?),
            None => defaults.site,
        };
        site.ok_or_else(|| {
            "site: the row does not say where the station stood, and neither does --site".to_owned()
        })
    }

    /// The other end of a link from radio to radio.
    fn to(&self, names: &mut Names<'_>) -> Result<Place, String> {
        let name = self.get(Column::To).ok_or_else(|| {
            "to: a report from radio to radio names both ends: who spoke in the column post (or from), who listened in the column to"
                .to_owned()
        })?;
        match names.post(name) {
            Some(index) => Ok(Place::Post(index)),
            None => read_position(name)
                .map(|reading| Place::At(reading.position))
                .map_err(|_| names.no_post(name)),
        }
    }

    /// Directions from radio to radio: there, or there and back.
    fn both_or_there(&self) -> Result<Vec<Direction>, String> {
        let Some(text) = self.get(Column::Direction) else { return Ok(vec![Direction::TalkIn]) };
        match values::directions(text)?.as_slice() {
            both @ [_, _] => Ok(both.to_vec()),
            _ => Err(format!(
                "direction: \"{}\" on a channel from radio to radio, where the columns from and to say who spoke; leave it empty, or write both",
                values::short(text)
            )),
        }
    }

    fn directions(&self, tracker: Option<usize>) -> Result<Vec<Direction>, String> {
        match (self.get(Column::Direction), tracker) {
            (Some(text), _) => values::directions(text),
            // A beacon goes one way.
            (None, Some(_)) => Ok(vec![Direction::TalkIn]),
            (None, None) => Ok(vec![Direction::TalkIn, Direction::TalkOut]),
        }
    }

    fn place(&self, names: &mut Names<'_>) -> Result<Place, String> {
        let position = self.position()?;
        let Some(name) = self.get(Column::Post) else {
            return position
                .map(Place::At)
                .ok_or_else(|| "place: the row has neither a post nor a position".to_owned());
        };
        let Some(index) = names.post(name) else {
            // Some write a position where others write a name.
            return read_position(name)
                .map(|reading| Place::At(reading.position))
                .map_err(|_| names.no_post(name));
        };
        let away = position.zip(names.plan.posts.get(index)).map(|(at, p)| at.distance(p.at));
        match away.filter(|away| *away > NEAR_POST) {
            Some(away) => Err(format!(
                "post, position: the post \"{}\" is {away:.0} from the position; one of them is wrong",
                values::short(name)
            )),
            None => Ok(Place::Post(index)),
        }
    }

    /// The position that the row gives, if it gives one.
    fn position(&self) -> Result<Option<Position>, String> {
        if let (Some(latitude), Some(longitude)) =
            (self.get(Column::Latitude), self.get(Column::Longitude))
        {
            let degrees = |text: &str| text.replace(',', ".").parse::<f64>().ok();
            let at = degrees(latitude)
                .zip(degrees(longitude))
                .and_then(|(lat, lon)| Position::new(Degrees::new(lat), Degrees::new(lon)).ok());
            return at.map(Some).ok_or_else(|| {
                format!(
                    "latitude, longitude: \"{}\", \"{}\" is no place on earth in degrees",
                    values::short(latitude),
                    values::short(longitude)
                )
            });
        }
        let read = self.get(Column::Position).map(read_position).transpose();
        read.map(|r| r.map(|r| r.position)).map_err(|e| format!("position: {e}"))
    }

    fn said(&self, frequency: Megahertz, beacon: bool) -> Result<Said, String> {
        let mut said = match self.get(Column::Rst) {
            Some(text) => values::rst(text, frequency)?,
            None => Said::default(),
        };
        if let Some(text) = self.get(Column::Daq) {
            said.quality = Some(values::daq(text)?);
            said.heard = Some(true);
        }
        if let Some(text) = self.get(Column::Level) {
            said.level = Some(values::level(text, frequency)?);
            said.heard = Some(true);
        }
        if let Some(text) = self.get(Column::Heard) {
            let heard = values::heard(text)?;
            let more = said.level.is_some() || said.quality.is_some();
            if !heard && more {
                return Err(
                    "heard: the row says no, and yet gives a quality or a level; one of them is wrong"
                        .to_owned(),
                );
            }
            said.heard = Some(heard);
        }
        if said == Said::default() {
            if !beacon {
                return Err("the row says neither whether it was heard nor how well".to_owned());
            }
            // The row of a packet log is the packet that came.
            said.heard = Some(true);
        }
        Ok(said)
    }
}
