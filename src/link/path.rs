//! The losses of one path in both directions.

use perchline_plan::Prediction;
use perchline_propagation::clearance::{TakeOff, take_off};
use perchline_propagation::p833::{Leaves, grazed_depth};
use perchline_propagation::streets::{self, Streets};
use perchline_propagation::{
    Climate, Edge, EffectiveEarth, Excess, Model, Path, PathLoss, Profile, default_method,
    free_space, method,
};
use perchline_units::{Db, Degrees, Megahertz, Metres, Polarization, Position};

/// Loss of a path at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Free-space part.
    pub free_space: Db,
    /// What the propagation method adds.
    pub diffraction: Db,
    /// What leaves take where the path runs through woods, by ITU-R P.833;
    /// 0 dB where it goes over them and they are obstacles to the method.
    pub leaves: Db,
    /// What rows of houses on the way take beyond even ground, where the plan states a
    /// class of houses around a low end (ITU-R P.1411); 0 dB or more.
    pub rows: Db,
    /// What waves along the streets of a town bring back where both ends are
    /// below its roofs (ITU-R P.1411); 0 dB or less.
    pub streets: Db,
    /// Which model that is from.
    pub model: Model,
}

impl Loss {
    /// All parts.
    #[must_use]
    pub fn total(self) -> Db {
        self.free_space + self.beyond_free_space()
    }

    /// All parts but free space.
    #[must_use]
    pub fn beyond_free_space(self) -> Db {
        self.diffraction + self.leaves + self.rows + self.streets
    }
}

/// Losses of a path in both directions, the station at its transmitting end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathLosses {
    /// At the frequency on which the carried radio transmits.
    pub talk_in: Loss,
    /// At the frequency on which the station transmits.
    pub talk_out: Loss,
    /// Angles at which the path leaves both antennas.
    pub take_off: TakeOff,
    /// Where talk-out goes through the woods rather than over them: how much of
    /// the line between the antennas does.
    pub woods: Option<Metres>,
    /// Where waves along streets count: how much.
    pub streets: Option<AlongStreets>,
}

/// What waves along the streets of a town are of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlongStreets {
    /// The way.
    pub way: Streets,
    /// Share of the power that comes along it, talk-in and talk-out, 0 to 1.
    pub share: [f64; 2],
    /// Standard deviation over places of what comes along it, likewise.
    pub deviation: [Db; 2],
}

/// A propagation method with the earth, the radio climate and the polarization
/// that a plan asks for.
#[derive(Clone, Copy)]
pub struct Propagator {
    /// The method.
    pub method: &'static dyn PathLoss,
    /// The effective earth.
    pub earth: EffectiveEarth,
    /// The radio climate, each value in its range ([`Climate::check`]); its
    /// latitude is that of the path where [`Propagator::between`] was asked.
    pub climate: Climate,
    /// Polarization of both antennas.
    pub polarization: Polarization,
}

impl Propagator {
    /// What the plan asks for; its method's name and the ranges of its climate
    /// were checked when it was read.
    #[must_use]
    pub fn new(prediction: &Prediction) -> Self {
        Self {
            method: method(&prediction.method).unwrap_or_else(default_method),
            earth: EffectiveEarth::from_k_factor(prediction.k_factor),
            climate: Climate {
                time: prediction.time,
                surface_refractivity: prediction.n0.value(),
                ..Climate::DEFAULT
            },
            polarization: prediction.polarization,
        }
    }

    /// The same with the climate at the latitude of the middle of a path.
    #[must_use]
    pub fn between(mut self, one: Position, other: Position) -> Self {
        // P.1812 is given up to 80 degrees; nothing of it changes beyond 70.
        let middle = (one.latitude() + other.latitude()) / 2.0;
        self.climate.latitude = Degrees::new(middle.value().clamp(-80.0, 80.0));
        self
    }

    /// The path over `profile`, the station's antenna over its first point.
    #[must_use]
    pub fn path<'a>(
        &self,
        profile: &'a Profile,
        station: Metres,
        carried: Metres,
        frequency: Megahertz,
    ) -> Path<'a> {
        Path::new(profile, station, carried, frequency)
            .with_earth(self.earth)
            .in_checked_climate(self.climate.along(profile))
            .with_polarization(self.polarization)
    }

    /// Losses over `profile` with antennas at these heights above ground, for
    /// the (talk-in, talk-out) frequencies. Loss is the same both ways at one
    /// frequency, so talk-in is computed from the station's end too.
    ///
    /// Where trees stand on the way a wave has two: over them, as over anything
    /// else that stands there, or through them as if they were not there, at
    /// the price that ITU-R P.833 puts on the depth of leaves. The better one
    /// counts, at each frequency.
    ///
    /// Where both ends are below the roofs of a town a third way goes along its
    /// streets ([`Streets`]). The powers of both together count, never more than
    /// free space gives.
    #[must_use]
    pub fn losses(
        &self,
        profile: &Profile,
        station: Metres,
        carried: Metres,
        (input, output): (Megahertz, Megahertz),
    ) -> PathLosses {
        let path = self.path(profile, station, carried, output);
        let slice = self.over_or_through(&path, input);
        match Streets::of(&path) {
            None => slice,
            Some(way) => {
                let around = self.over_or_through(&path.without_houses(), input);
                let paths = [path.with_frequency(input), path];
                with_streets(slice, [Db::new(0.0); 2], &around, way, paths)
            }
        }
    }

    /// The same in the slice of ground between the ends alone: over what stands there
    /// or through its woods, as the sweep of a map has it.
    #[must_use]
    pub fn slice(
        &self,
        profile: &Profile,
        station: Metres,
        carried: Metres,
        (input, output): (Megahertz, Megahertz),
    ) -> PathLosses {
        self.over_or_through(&self.path(profile, station, carried, output), input)
    }

    /// Losses over what stands on `path`, or through its woods.
    fn over_or_through(&self, path: &Path<'_>, input: Megahertz) -> PathLosses {
        let output = path.frequency();
        let over = self.one_way(path, input, None);
        if !path.profile().has_woods() {
            return over;
        }
        // Beyond the frequencies of P.833 trees are obstacles and no more.
        let (Ok(leaves_in), Ok(leaves_out)) = (Leaves::at(input), Leaves::at(output)) else {
            return over;
        };
        let path = &path.through_woods();
        let through = self.one_way(path, input, Some([leaves_in, leaves_out]));
        let better = |one: Loss, other: Loss| if other.total() < one.total() { other } else { one };
        let out_through = through.talk_out.total() < over.talk_out.total();
        PathLosses {
            talk_in: better(over.talk_in, through.talk_in),
            ..if out_through { through } else { over }
        }
    }

    /// Losses over everything that stands on `path`, or through its woods with
    /// leaves at the (talk-in, talk-out) frequencies.
    fn one_way(
        &self,
        path: &Path<'_>,
        input: Megahertz,
        leaves: Option<[Leaves; 2]>,
    ) -> PathLosses {
        let slant = path.slant_distance();
        let [talk_out, talk_in] = self.method.at_both(path, input);
        let woods = leaves.map(|_| grazed_depth(path));
        let [leaves_in, leaves_out] = match (leaves, woods) {
            (Some(both), Some(depth)) => both.map(|leaves| leaves.loss(depth)),
            _ => [Db::new(0.0); 2],
        };
        let loss = |frequency, Excess { loss, model }, leaves| Loss {
            free_space: free_space::loss(frequency, slant),
            diffraction: loss,
            leaves,
            streets: Db::new(0.0),
            rows: Db::new(0.0),
            model,
        };
        PathLosses {
            talk_in: loss(input, talk_in, leaves_in),
            talk_out: loss(path.frequency(), talk_out, leaves_out),
            take_off: take_off(path),
            woods,
            streets: None,
        }
    }

    /// The edges that the method counts on the talk-out path with these losses.
    #[must_use]
    pub fn edges(
        &self,
        profile: &Profile,
        station: Metres,
        carried: Metres,
        output: Megahertz,
        losses: &PathLosses,
    ) -> Vec<Edge> {
        let path = self.path(profile, station, carried, output);
        let path = if losses.woods.is_some() { path.through_woods() } else { path };
        let mut edges = Vec::new();
        self.method.diffraction(&path, &mut |edge| edges.push(edge));
        edges
    }
}

/// The losses of a slice over roofs, to which houses at the ends add `clutter`,
/// together with those along streets, which go around the houses as over `around`, on
/// the paths of (talk-in, talk-out).
pub(super) fn with_streets(
    slice: PathLosses,
    clutter: [Db; 2],
    around: &PathLosses,
    way: Streets,
    paths: [Path<'_>; 2],
) -> PathLosses {
    let pairs = [(slice.talk_in, around.talk_in), (slice.talk_out, around.talk_out)];
    let mut share = [0.0; 2];
    let mut losses = pairs.map(|(slice, _)| slice);
    for ((((loss, share), (slice, around)), path), clutter) in
        losses.iter_mut().zip(&mut share).zip(pairs).zip(&paths).zip(clutter)
    {
        let over = slice.beyond_free_space() + clutter;
        let none = around.beyond_free_space();
        let along = way.excess_around(path, none);
        loss.streets = streets::together(over, along, none, way.weight) - over;
        *share = streets::share(over, along, way.weight);
    }
    let [talk_in, talk_out] = losses;
    let deviation = paths.map(|path| Streets::deviation(path.frequency()));
    PathLosses { talk_in, talk_out, streets: Some(AlongStreets { way, share, deviation }), ..slice }
}
