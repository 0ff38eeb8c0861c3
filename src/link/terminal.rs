//! A radio where it stands: on a site's mast or on a person at a post.

use perchline_plan::{
    CarriedIn, Carry, Channel, Clutter, Environment, Indoors, Plan, Post, Radio, Roof, Service,
    Site, Tracker,
};
use perchline_terrain::{PlaceError, Terrain};
use perchline_units::{Db, Dbm, Megahertz, Metres, Position};

use super::body::carry_height;
use super::noise::RoofNoise;

/// A radio where it stands.
#[derive(Debug, Clone)]
pub struct Terminal {
    /// Name of the site or post.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// Ground above sea level.
    pub ground: Metres,
    /// Antenna above that ground.
    pub antenna: Metres,
    /// The radio.
    pub radio: Radio,
    /// How it is carried, if a person carries it.
    pub carry: Option<Carry>,
    /// The kind of building around it, if it is indoors; `at` is then a place
    /// outside, from which the loss into the building counts.
    pub indoors: Option<Indoors>,
    /// The houses that the plan states around it; nothing where files say what stands
    /// there, or nothing does.
    pub clutter: Option<Clutter>,
    /// Whether it may be anywhere: houses are then those of the place.
    pub roams: bool,
    /// Noise around it.
    pub environment: Environment,
    /// What transmitters on the same roof make at its receiver's input.
    pub roof_noise: RoofNoise,
    /// The noise floor at its receiver's input, where the plan states what was
    /// measured.
    pub measured_noise: Option<Dbm>,
    /// Loss besides all else that the plan states for it, with its words.
    pub extra_loss: Option<(String, Db)>,
    /// Side of the terrain's cells around it; zero where no terrain was asked.
    pub cell: Metres,
}

/// A site or post that does not fit the terrain.
#[derive(Debug, thiserror::Error)]
#[error("{kind} \"{name}\": {}: {misfit}", misfit.field())]
pub struct TerminalError {
    /// `site` or `post`.
    pub kind: &'static str,
    /// Its name.
    pub name: String,
    /// What does not fit.
    #[source]
    pub misfit: Misfit,
}

/// How a site or post does not fit the terrain.
#[derive(Debug, thiserror::Error)]
pub enum Misfit {
    /// The terrain has no height there.
    #[error(transparent)]
    Place(#[from] PlaceError),
    /// A roof height above sea level that is far above the ground.
    #[error(
        "{roof:.1} above sea is {above:.1} above the ground there, which few roofs are{}; if it is right add tall = true to the site",
        as_feet(*roof, *above)
    )]
    TooHigh {
        /// The roof above sea level.
        roof: Metres,
        /// The roof above the ground.
        above: Metres,
    },
    /// A roof height above sea level that lies below the ground.
    #[error(
        "{roof:.1} above sea is below the ground there, which is at {ground:.1}; check the height and its unit, or say \"above ground\" if that is meant"
    )]
    Underground {
        /// The roof above sea level.
        roof: Metres,
        /// The ground above sea level.
        ground: Metres,
    },
    /// A roof that the plan leaves to a footprint where there is none.
    #[error(
        "no building's footprint holds the site, so its roof has no height; write it, such as \"14 m above ground\", or move the site into its building"
    )]
    NoBuilding,
}

impl Misfit {
    /// The plan's field that is to be fixed.
    #[must_use]
    pub const fn field(&self) -> &'static str {
        match self {
            Self::Place(_) => "at",
            Self::TooHigh { .. } | Self::Underground { .. } | Self::NoBuilding => "roof",
        }
    }
}

impl Terminal {
    /// What stands around it, as far as corrections tell that apart.
    #[must_use]
    pub const fn carried_in(&self) -> CarriedIn {
        match self.indoors {
            Some(_) => CarriedIn::Indoors,
            None => CarriedIn::Open(self.environment),
        }
    }

    /// The station of `channel` on the mast of `site`; on a simplex channel the
    /// radio that posts carry, without a body beside it.
    ///
    /// # Errors
    /// [`TerminalError`] when the site is off the terrain or in a gap, or its
    /// roof does not fit the ground.
    pub fn at_site(
        plan: &Plan,
        channel: &Channel,
        site: &Site,
        terrain: &Terrain,
    ) -> Result<Self, TerminalError> {
        let radio = match channel.service {
            Service::Relay { station, .. } | Service::Packet { station, .. } => station,
            Service::Simplex { .. } => channel.carried,
        };
        Self::on_mast(plan, plan.radio(radio), site, terrain)
    }

    /// `radio` on the mast of `site`.
    ///
    /// # Errors
    /// [`TerminalError`] when the site is off the terrain or in a gap, or its
    /// roof lies below the ground.
    pub fn on_mast(
        plan: &Plan,
        radio: &Radio,
        site: &Site,
        terrain: &Terrain,
    ) -> Result<Self, TerminalError> {
        let ground = ground_at(terrain, "site", &site.name, site.at)?;
        let roof = match site.roof {
            Roof::AboveGround(height) => height,
            Roof::AboveSea(roof) if roof < ground - ROOF_TOLERANCE => {
                return Err(TerminalError {
                    kind: "site",
                    name: site.name.clone(),
                    misfit: Misfit::Underground { roof, ground },
                });
            }
            Roof::AboveSea(roof) if roof - ground > Roof::QUESTIONED_FROM && !site.tall => {
                return Err(TerminalError {
                    kind: "site",
                    name: site.name.clone(),
                    misfit: Misfit::TooHigh { roof, above: roof - ground },
                });
            }
            Roof::AboveSea(roof) => (roof - ground).max(Metres::new(0.0)),
            Roof::OfBuilding => match terrain.building(site.at) {
                Some(building) => building.height,
                None => {
                    return Err(TerminalError {
                        kind: "site",
                        name: site.name.clone(),
                        misfit: Misfit::NoBuilding,
                    });
                }
            },
        };
        Ok(Self {
            name: site.name.clone(),
            at: site.at,
            ground,
            cell: terrain.spacing(),
            antenna: roof + site.mast,
            carry: None,
            indoors: None,
            clutter: plan.clutter_at(site.at),
            roams: false,
            environment: site.environment.unwrap_or(plan.prediction.environment),
            radio: radio.clone(),
            roof_noise: RoofNoise::default(),
            measured_noise: None,
            extra_loss: None,
        })
    }

    /// The same with noise from transmitters on its own roof.
    #[must_use]
    pub fn with_roof_noise(self, noise: RoofNoise) -> Self {
        Self { roof_noise: noise, ..self }
    }

    /// The same with a noise floor that was measured.
    #[must_use]
    pub fn with_measured_noise(self, noise: Option<Dbm>) -> Self {
        Self { measured_noise: noise, ..self }
    }

    /// The radio that `post` carries on `channel`. A post that a building's
    /// footprint holds stands on the street beside it, indoors or not.
    ///
    /// # Errors
    /// [`TerminalError`] when the post is off the terrain or in a gap.
    pub fn at_post(
        plan: &Plan,
        channel: &Channel,
        post: &Post,
        terrain: &Terrain,
    ) -> Result<Self, TerminalError> {
        let radio = plan.radio(post.radio.unwrap_or(channel.carried));
        let at = street(post, terrain).unwrap_or(post.at);
        Ok(Self {
            name: post.name.clone(),
            ground: ground_at(terrain, "post", &post.name, at)?,
            cell: terrain.spacing(),
            indoors: post.indoors,
            clutter: plan.clutter_of(post),
            extra_loss: extra_loss(post),
            environment: post.environment.unwrap_or(plan.prediction.environment),
            ..Self::carried(plan, radio, post.carry.or(radio.carry), at)
        })
    }

    /// A carried radio of `channel` anywhere: at every cell of a map, along a
    /// route, over an area. Its ground height is left at zero.
    #[must_use]
    pub fn anywhere(
        plan: &Plan,
        channel: &Channel,
        environment: Option<Environment>,
        at: Position,
    ) -> Self {
        let radio = plan.radio(channel.carried);
        Self {
            environment: environment.unwrap_or(plan.prediction.environment),
            clutter: plan.clutter(),
            roams: true,
            ..Self::carried(plan, radio, radio.carry, at)
        }
    }

    /// A carried radio of `channel` at a place in the open, under this name.
    ///
    /// # Errors
    /// [`PlaceError`] when the place is off the terrain or in a gap.
    pub fn standing(
        plan: &Plan,
        channel: &Channel,
        name: &str,
        at: Position,
        terrain: &Terrain,
    ) -> Result<Self, PlaceError> {
        let ground = terrain.ground(at)?;
        let anywhere = Self::anywhere(plan, channel, None, at);
        let clutter = plan.clutter_at(at);
        Ok(Self { name: name.to_owned(), ground, clutter, roams: false, ..anywhere })
    }

    /// The radio of `tracker` on its way, at `at`; nothing if the plan has no such
    /// radio. Its ground height is left at zero.
    #[must_use]
    pub fn on_tracker(plan: &Plan, tracker: &Tracker, at: Position) -> Option<Self> {
        let radio = plan.radios.get(tracker.radio)?;
        let carried = Self::carried(plan, radio, tracker.mount.carry(), at);
        Some(Self { name: tracker.name.clone(), ..carried })
    }

    /// How it is worn, where the table's body loss counts at `frequency`: nobody
    /// wears it, or the plan states a loss of its own, otherwise.
    #[must_use]
    pub fn table_carry(&self, frequency: Megahertz) -> Option<Carry> {
        self.carry.filter(|_| self.radio.body_loss_at(frequency).is_none())
    }

    /// The same radio worn elsewhere; its antenna is then at that height,
    /// unless the plan states one.
    #[must_use]
    pub fn worn(self, carry: Carry) -> Self {
        let antenna = self.radio.antenna_height.unwrap_or(carry_height(carry));
        Self { carry: Some(carry), antenna, ..self }
    }

    fn carried(plan: &Plan, radio: &Radio, carry: Option<Carry>, at: Position) -> Self {
        let worn = carry.map_or(STANDING_HEIGHT, carry_height);
        Self {
            name: radio.name.clone(),
            at,
            ground: Metres::new(0.0),
            antenna: radio.antenna_height.unwrap_or(worn),
            carry,
            indoors: None,
            clutter: plan.clutter_at(at),
            roams: false,
            environment: plan.prediction.environment,
            cell: Metres::new(0.0),
            radio: radio.clone(),
            roof_noise: RoofNoise::default(),
            measured_noise: None,
            extra_loss: None,
        }
    }
}

/// The loss that a post states besides all else, with its hours.
fn extra_loss(post: &Post) -> Option<(String, Db)> {
    let loss = post.extra_loss?;
    let words = match (&post.extra_loss_from, &post.extra_loss_to) {
        (Some(from), Some(to)) => {
            format!("extra loss, {} to {}", from.strftime("%H:%M"), to.strftime("%H:%M"))
        }
        _ => "extra loss".to_owned(),
    };
    Some((words, loss))
}

/// The street beside the building whose footprint holds the post; `None`
/// where none does or no street is near.
pub(super) fn street(post: &Post, terrain: &Terrain) -> Option<Position> {
    terrain.building(post.at)?;
    terrain.beside(post.at)
}

/// What a roof above sea would be if its number were feet, where that is plausible.
fn as_feet(roof: Metres, above: Metres) -> String {
    let ground = roof - above;
    let meant = Metres::from_feet(roof.value());
    if meant >= ground && meant - ground <= Roof::QUESTIONED_FROM {
        let (feet, height) = (roof.value(), meant - ground);
        format!(": is it {feet:.0} ft, {meant:.1} above sea and {height:.1} above the ground?")
    } else {
        String::new()
    }
}

/// A roof given above sea level may come out this far below the raster's
/// ground before it is called wrong: rasters are no better.
const ROOF_TOLERANCE: Metres = Metres::new(2.0);

/// Antenna height of a radio that nobody wears and whose height the plan does
/// not state: on a table, or on a car's roof (common practice, no source).
const STANDING_HEIGHT: Metres = Metres::new(1.5);

fn ground_at(
    terrain: &Terrain,
    kind: &'static str,
    name: &str,
    at: Position,
) -> Result<Metres, TerminalError> {
    terrain.ground(at).map_err(|source| TerminalError {
        kind,
        name: name.to_owned(),
        misfit: source.into(),
    })
}
