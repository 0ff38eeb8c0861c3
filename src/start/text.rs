//! The text of a first plan.

use perchline_plan::{TOWN_LOSS, UnitSystem};
use perchline_units::{Metres, Position, printable};

use super::places::{Origin, Places, Site};
use super::region::{Region, on_the_ground, short_mast};
use super::{Asked, RelayKind, SHAPES_FILE, Times};

/// What a plan is written from.
pub(super) struct Draft<'a> {
    pub asked: &'a Asked<'a>,
    pub places: &'a Places,
    pub region: &'a Region,
    pub times: &'a Times,
    /// How the plan names its elevation, where there is any.
    pub elevation: Option<String>,
    /// The side of a cell that the plan states.
    pub cell: Option<Metres>,
    /// The side of a cell of its maps that it states.
    pub map_cell: Option<Metres>,
    /// Whether roofs and trees seem to be in the heights already.
    pub built: bool,
}

/// The folder of elevation that a plan names where none is given.
const NO_ELEVATION: &str = "terrain/";

/// Column in which the notes beside fields begin.
const NOTES_AT: usize = 44;

impl Draft<'_> {
    /// The plan.
    pub fn text(&self) -> String {
        [
            self.head(),
            self.event(),
            self.ground(),
            self.posts(),
            self.shapes(),
            self.sites(),
            self.radios(),
            self.channels(),
            self.power(),
        ]
        .concat()
    }

    /// What the event is called: as asked, or as its only route is, or as the folder is.
    pub fn event_name(&self) -> String {
        let route = match self.places.routes.as_slice() {
            [(name, _)] => Some(name.clone()),
            _ => None,
        };
        let folder = || {
            let folder = std::path::absolute(self.asked.folder).ok()?;
            folder.file_name().map(|name| printable(&name.to_string_lossy()))
        };
        let name = self.asked.name.map(str::to_owned).or(route).or_else(folder);
        name.filter(|name| !name.trim().is_empty()).unwrap_or_else(|| "Event".to_owned())
    }

    fn head(&self) -> String {
        "\
# A first plan, made by \"perchline start\". SET marks what only you know.
# Then: perchline check plan.toml. All fields: docs/plan-file.md.

"
        .to_owned()
    }

    fn event(&self) -> String {
        let Times { starts, ends, tear_down, given } = self.times;
        let (name, starts_note) = (
            if self.asked.name.is_some() { "" } else { "SET: as the organiser calls it" },
            if *given { "local time" } else { "SET: a placeholder, tomorrow evening; local time" },
        );
        [
            noted(&format!("event.name = {}", quoted(&self.event_name())), name),
            noted(&format!("event.starts = {starts}"), starts_note),
            noted(&format!("event.ends = {ends}"), ""),
            noted(
                &format!("event.tear_down = {tear_down}"),
                "the last radio comes down: batteries last until then",
            ),
            noted(
                &format!("event.time_zone = {}", quoted(&self.region.zone_name)),
                "from the place (borders: OpenStreetMap contributors, ODbL)",
            ),
            noted(
                &format!("report.units = \"{}\"", self.region.units.word()),
                "\"metric\", or \"us\" for feet and miles",
            ),
        ]
        .concat()
    }

    fn ground(&self) -> String {
        let (files, note) = match &self.elevation {
            Some(files) => (files.as_str(), "elevation: files, or folders of them"),
            None => (NO_ELEVATION, "SET: put elevation of the place there (docs/data.md)"),
        };
        let cell = self.cell.map_or_else(String::new, |cell| {
            noted(
                &format!("terrain.cell = \"{cell:.0}\""),
                "the files' own are too many for a first look; finer is truer",
            )
        });
        let map_cell = self.map_cell.map_or_else(String::new, |cell| {
            noted(
                &format!("map.cell = \"{cell:.0}\""),
                "a first map in seconds; leave it out for the terrain's own cells",
            )
        });
        noted(&format!("terrain.files = [{}]", quoted(files)), note)
            + &cell
            + &map_cell
            + &match self.built {
                true => noted(
                    "prediction.surroundings = \"open\"",
                    "SET: roofs and trees seem to be in the elevation, and count once",
                ),
                false => noted(
                    "prediction.surroundings = \"suburb\"",
                    &format!(
                        "SET: \"town\", \"suburb\", \"village\" or \"open\"; a town takes {TOWN_LOSS}"
                    ),
                ),
            }
    }

    fn posts(&self) -> String {
        let grid = match &self.region.utm {
            Some(zone) => format!("UTM (zone {zone}), MGRS"),
            None => "MGRS".to_owned(),
        };
        let placeholder = if self.places.placeholder_posts {
            "# SET: nobody gave posts; this one is a placeholder in the middle.\n"
        } else {
            ""
        };
        let net_control = self.places.net_control();
        let posts = self.places.posts.iter().enumerate().map(|(index, post)| {
            let control = match net_control {
                Some(own) if own == index => ", must = true, net_control = true",
                _ => "",
            };
            format!("{{ name = {}, at = \"{}\"{control} }}", quoted(&post.name), degrees(post.at))
        });
        format!(
            "
# Posts: one person with a radio each. Places in degrees, {grid} or a Maidenhead locator.
# must = true: a site that misses it is no good. net_control = true at one of them. weight = 2.
{placeholder}{}",
            list("post", posts)
        )
    }

    fn shapes(&self) -> String {
        let of = |key: &str, name: &str| {
            let name = quoted(name);
            format!("{{ name = {name}, {key} = {{ file = \"{SHAPES_FILE}\", name = {name} }} }}")
        };
        let routes = self.places.routes.iter().map(|(name, _)| of("line", name));
        let areas = self.places.areas.iter().map(|(name, _)| of("outline", name));
        let mut text = String::new();
        if routes.len() > 0 {
            text += "# Routes that are followed with a radio; weight = 3 counts threefold.\n";
            text += &list("route", routes);
        }
        if areas.len() > 0 {
            text += "# Areas in which radios work: every spot in them counts.\n";
            text += &list("area", areas);
        }
        text
    }

    fn sites(&self) -> String {
        let origin = self.places.sites.first().map(|site| site.origin);
        let note = match origin {
            Some(Origin::Suggested(_)) => {
                "# SET: suggested from the terrain alone, not seen. Ask who owns it; add roofs that you may use."
            }
            Some(Origin::Placeholder) => {
                "# SET: a placeholder in the middle. Roofs and hills that you may use go here."
            }
            Some(Origin::Given) | None => "# SET: how high each roof is, and who opens it.",
        };
        let sites = self.places.sites.iter().map(|site| self.site(site));
        format!(
            "\n# Where the relay could stand. roof: what the mast stands on. mast: antenna over that.\n{note}\n{}",
            list("site", sites)
        )
    }

    fn site(&self, site: &Site) -> String {
        let notes = match site.origin {
            Origin::Given => String::new(),
            Origin::Suggested(height) => format!(
                ", notes = \"suggested, {} above sea, not seen: ask who owns it\"",
                self.region.units.height(height)
            ),
            Origin::Placeholder => ", notes = \"placeholder: no place was given\"".to_owned(),
        };
        format!(
            "{{ name = {}, at = \"{}\", roof = \"{}\", mast = \"{}\"{notes} }}",
            quoted(&site.name),
            degrees(site.at),
            on_the_ground(self.region.units),
            short_mast(self.region.units)
        )
    }

    fn radios(&self) -> String {
        let (line, high) = match self.region.units {
            UnitSystem::Metric => ("10 m", "2 m"),
            UnitSystem::Us => ("30 ft", "6 ft"),
        };
        let relay = match self.asked.relay {
            RelayKind::Duplexer => {
                "  # Portable relay, one antenna behind a duplexer, which costs 1.5 dB each way.\n"
            }
            RelayKind::TwoAntennas => {
                "  # Portable relay without a duplexer: two antennas apart; \"perchline cosite\" says how far.\n"
            }
        };
        let filter = match self.asked.relay {
            RelayKind::Duplexer => "filter_loss = \"1.5 dB\", ",
            RelayKind::TwoAntennas => "",
        };
        format!(
            "
# Radios, as is usual of their kind: set what yours have. 0.25 uV is the receiver's sensitivity at 12 dB SINAD.
radio = [
  # Hand-held with its short antenna on the hip, the poor case; carry = \"shoulder\" or \"head\" are better.
  {{ name = \"hand-held\", power = \"5 W\", antenna = {{ gain = \"-5 dBd\", pattern = \"dipole\" }}, {RECEIVER}, carry = \"hip\" }},
{relay}  {{ name = \"portable relay\", power = \"25 W\", antenna = {{ gain = \"3 dBd\", pattern = \"collinear\" }}, feed_line = {{ type = \"RG-8X\", length = \"{line}\" }}, {filter}{RECEIVER} }},
  # Mobile radio of 50 W in a car: a post has it with radio = \"mobile\".
  {{ name = \"mobile\", power = \"50 W\", antenna = {{ gain = \"0 dBd\", pattern = \"dipole\" }}, {RECEIVER}, antenna_height = \"{high}\" }},
  # Packet tracker, worn; without the # where you have trackers.
  # {{ name = \"tracker\", power = \"5 W\", antenna = {{ gain = \"-5 dBd\", pattern = \"dipole\" }}, {RECEIVER}, carry = \"hip\" }},
]
"
        )
    }

    fn channels(&self) -> String {
        "
# SET: these frequencies are placeholders and nobody's. Write your coordinator's, and delete placeholder = true. input: where the relay receives.
channel = [
  { name = \"Relay\", kind = \"relay\", placeholder = true, input = \"146.0 MHz\", output = \"146.6 MHz\", carried = \"hand-held\", station = \"portable relay\" },
  # Without the relay, from radio to radio.
  { name = \"Simplex\", kind = \"simplex\", placeholder = true, frequency = \"146.5 MHz\", carried = \"hand-held\" },
  # Trackers and their digipeater, which is another station on a site.
  # { name = \"Packet\", kind = \"packet\", placeholder = true, frequency = \"144.5 MHz\", carried = \"tracker\", station = \"portable relay\" },
]
"
        .to_owned()
    }

    /// Batteries and cold, to be taken up once they are known.
    fn power(&self) -> String {
        let from = self.times.starts;
        let cold = match self.region.units {
            UnitSystem::Metric => "6 °C",
            UnitSystem::Us => "43 °F",
        };
        let hours = format!("\"{cold}\", ").repeat(8);
        format!(
            "
# SET: cold and batteries; take the # away and set yours, then \"perchline power\" tells how long they run.
# forecast = {{ from = {from}, hourly = [{}] }}
# pack = [{{ name = \"relay pack\", chemistry = \"lifepo4\", cells = 4, capacity = \"20 Ah\" }}, {{ name = \"hand-held pack\", chemistry = \"li-ion\", cells = 2, capacity = \"2 Ah\" }}]
# {POWER}
",
            hours.trim_end_matches(", ")
        )
    }
}

/// What batteries last is worked out once a person says what there is: lines to take up.
const POWER: &str = "station = [{ name = \"Relay\", channel = \"Relay\", currents = { transmit = \"6 A\", receive = \"0.5 A\", standby = \"0.4 A\" }, traffic = { keyed = \"25 %\", listening = \"10 %\" }, supply = { pack = \"relay pack\", cutoff = \"11.0 V\" }, roof = { duplexer = \"85 dB\" } }]
# crew = [{ name = \"Posts\", people = 8, pack = \"hand-held pack\", cutoff = \"6.4 V\", currents = { transmit = \"1.5 A\", receive = \"0.25 A\", standby = \"0.07 A\" }, traffic = { keyed = \"5 %\", listening = \"20 %\" } }]";

/// A receiver as is usual.
const RECEIVER: &str = "sensitivity = \"0.25 uV\", bandwidth = \"12.5 kHz\"";

/// A field with a note beside it.
fn noted(field: &str, note: &str) -> String {
    if note.is_empty() { format!("{field}\n") } else { format!("{field:<NOTES_AT$} # {note}\n") }
}

/// An array of tables, a line each.
fn list(name: &str, entries: impl Iterator<Item = String>) -> String {
    let lines: String = entries.map(|entry| format!("  {entry},\n")).collect();
    format!("{name} = [\n{lines}]\n")
}

/// A text as TOML has it.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// A position in degrees, to a metre.
fn degrees(at: Position) -> String {
    format!("{:.5}, {:.5}", at.latitude().value(), at.longitude().value())
}
