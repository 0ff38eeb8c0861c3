//! What a plan says of the houses around a place where no file does.

use geo::Contains;

use super::{Plan, Post};
use perchline_units::{Db, Metres, Position};

/// Class of what stands around a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClutterClass {
    /// Fields, a beach, a sports ground: nothing near that counts.
    Open,
    /// A village, houses with gardens.
    Village,
    /// A suburb, houses along streets.
    Suburb,
    /// A town of blocks along streets.
    Town,
}

impl ClutterClass {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Village => "village",
            Self::Suburb => "suburb",
            Self::Town => "town",
        }
    }

    /// The next class of denser and higher houses; nothing above a town.
    #[must_use]
    pub const fn denser(self) -> Option<Self> {
        match self {
            Self::Open => Some(Self::Village),
            Self::Village => Some(Self::Suburb),
            Self::Suburb => Some(Self::Town),
            Self::Town => None,
        }
    }

    /// Height of its roofs where the plan states none: ITU-R P.2108 section 3.1 has
    /// 10 m for suburban and 15 m for urban, P.452 5 m for a village centre (from
    /// memory); zero in the open.
    #[must_use]
    pub const fn roof_height(self) -> Metres {
        Metres::new(match self {
            Self::Open => 0.0,
            Self::Village => 5.0,
            Self::Suburb => 10.0,
            Self::Town => 15.0,
        })
    }
}

/// The houses around a place as the plan states them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clutter {
    /// Their class.
    pub class: ClutterClass,
    /// Height of their roofs above the ground, 0 m in the open.
    pub roof_height: Metres,
    /// Width of the streets between them.
    pub street_width: Metres,
}

impl Clutter {
    /// Width of streets where the plan states none (ITU-R P.2108 section 3.1, from
    /// memory).
    pub const STREET_WIDTH: Metres = Metres::new(27.0);

    /// A class with the heights and widths that are stated, else its own.
    #[must_use]
    pub fn new(
        class: ClutterClass,
        roof_height: Option<Metres>,
        street_width: Option<Metres>,
    ) -> Self {
        let stated = roof_height.filter(|_| class != ClutterClass::Open);
        Self {
            class,
            roof_height: stated.unwrap_or(class.roof_height()),
            street_width: street_width.unwrap_or(Self::STREET_WIDTH),
        }
    }
}

impl Plan {
    /// The houses that the plan states for a place: those of the last area that
    /// holds it and states some, else those of the whole plan. Nothing where files of
    /// buildings or land cover say what stands there.
    #[must_use]
    pub fn clutter_at(&self, at: Position) -> Option<Clutter> {
        self.clutter_areas()
            .rev()
            .find(|(outline, _)| outline.contains(&at.point()))
            .map(|(_, clutter)| clutter)
            .or_else(|| self.clutter())
    }

    /// The same for a post, which may state its own.
    #[must_use]
    pub fn clutter_of(&self, post: &Post) -> Option<Clutter> {
        let stated = |class| Clutter::new(class, post.roof_height, post.street_width);
        let own = post.surroundings.filter(|_| !self.is_covered()).map(stated);
        own.or_else(|| self.clutter_at(post.at))
    }

    /// The houses of the whole plan, without its areas' own.
    #[must_use]
    pub fn clutter(&self) -> Option<Clutter> {
        let Self { prediction, .. } = self;
        let stated = |class| Clutter::new(class, prediction.roof_height, prediction.street_width);
        prediction.surroundings.filter(|_| !self.is_covered()).map(stated)
    }

    /// The outlines of the areas that state houses of their own, in the plan's order.
    pub fn clutter_areas(&self) -> impl DoubleEndedIterator<Item = (&geo::Polygon, Clutter)> {
        self.areas.iter().filter(|_| !self.is_covered()).filter_map(|area| {
            let class = area.surroundings?;
            Some((&area.outline, Clutter::new(class, area.roof_height, area.street_width)))
        })
    }

    /// What it knows of the houses on its ground.
    #[must_use]
    pub const fn houses(&self) -> Houses {
        if self.is_covered() {
            Houses::OnFile
        } else if self.prediction.surroundings.is_some() {
            Houses::Stated
        } else {
            Houses::Unknown
        }
    }
}

/// What houses and trees of a town take where a plan knows none (common practice, no
/// source): told wherever one is missing them.
pub const TOWN_LOSS: &str = "15 to 25 dB";

/// The upper end of [`TOWN_LOSS`].
pub const MOST_TOWN_LOSS: Db = Db::new(25.0);

/// What a plan knows of the houses on its ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Houses {
    /// Nothing, at least not for all of it.
    Unknown,
    /// A class.
    Stated,
    /// Files of buildings or land cover.
    OnFile,
}
