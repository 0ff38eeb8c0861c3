//! Every method on one path, and what sets them apart.

use perchline_propagation::free_space::FreeSpace;
use perchline_propagation::{Counted, Edge, METHODS, Model, Obstructions, PathLoss};
use perchline_units::{Db, Megahertz, Metres};

use super::{LinkModel, Outcome, PathLosses, PathStudy, Propagator};

/// What one method makes of a path.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodLosses {
    /// The method's name.
    pub method: &'static str,
    /// What it counts beyond distance.
    pub counted: Counted,
    /// Its losses in both directions.
    pub losses: PathLosses,
    /// The lower of the two margins with these losses.
    pub margin: Db,
    /// What the link comes to with them.
    pub outcome: Outcome,
    /// Edges that it counts at the talk-out frequency.
    pub edges: Vec<Edge>,
    /// The ranges of the method that the path is outside of.
    pub outside: Vec<Outside>,
}

/// A range of a method that a path is outside of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outside {
    /// The frequencies for which it is given: what is asked for, and both limits.
    Frequency(Megahertz, [Megahertz; 2]),
    /// The path lengths for which it is given, likewise.
    Distance(Metres, [Metres; 2]),
}

/// Why two methods differ on a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cause {
    /// Ridges beside the worst one.
    OtherRidges,
    /// What Bullington's construction has over the worst edge.
    Horizons,
    /// What the edges beside the worst one and a fixed allowance have over it.
    Shoulders,
    /// Smooth ground or earth under low antennas.
    SmoothEarth,
    /// Ducts, scatter and the share of time, or the model that a method which counts
    /// them has for short paths.
    Climate(Model),
}

/// What sets two methods apart that differ in one thing that they count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// What one of them counts.
    pub cause: Cause,
    /// The method that counts it.
    pub with: &'static str,
    /// The one that does not.
    pub without: &'static str,
    /// What it adds, or takes off if negative.
    pub by: Db,
}

/// Every method on one path.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Each method, in the order of [`METHODS`].
    pub methods: Vec<MethodLosses>,
    /// Those with the least and the largest talk-out loss, free space aside.
    pub extremes: [(&'static str, Db); 2],
    /// What sets the methods apart and by how much at the talk-out frequency:
    /// 1 dB or more, the largest first.
    pub causes: Vec<Difference>,
}

/// Differences below this are not told.
const TOLD_FROM: Db = Db::new(1.0);

impl Comparison {
    /// Runs every method over the path of `study`, with the earth and climate of
    /// `propagator` and the link that `model` gives for the method of a name:
    /// the location allowance may differ.
    #[must_use]
    pub fn of(
        study: &PathStudy,
        propagator: &Propagator,
        model: impl Fn(&str) -> LinkModel,
    ) -> Self {
        let propagator = propagator.between(study.from.at, study.to.at);
        let methods: Vec<_> = METHODS
            .iter()
            .map(|method| one(*method, study, &propagator, &model(method.name())))
            .collect();
        let counted = methods.iter().filter(|m| m.counted != Counted::DISTANCE);
        let total = |m: &MethodLosses| (m.method, m.losses.talk_out.total());
        let by_loss = |a: &(&str, Db), b: &(&str, Db)| a.1.value().total_cmp(&b.1.value());
        let nothing = (FreeSpace.name(), study.free_space);
        let least = counted.clone().map(total).min_by(by_loss).unwrap_or(nothing);
        let most = counted.map(total).max_by(by_loss).unwrap_or(nothing);
        Self { causes: causes(&methods), extremes: [least, most], methods }
    }

    /// How far the methods are apart in talk-out, free space aside.
    #[must_use]
    pub fn spread(&self) -> Db {
        let [(_, least), (_, most)] = self.extremes;
        most - least
    }

    /// The method of this name.
    #[must_use]
    pub fn method(&self, name: &str) -> Option<&MethodLosses> {
        self.methods.iter().find(|m| m.method == name)
    }

    /// The first method that counts these obstructions.
    #[must_use]
    pub fn that_counts(&self, obstructions: Obstructions) -> Option<&MethodLosses> {
        self.methods.iter().find(|m| m.counted.obstructions == obstructions)
    }
}

fn one(
    method: &'static dyn PathLoss,
    study: &PathStudy,
    propagator: &Propagator,
    model: &LinkModel,
) -> MethodLosses {
    let propagator = Propagator { method, ..*propagator };
    let (station, carried) = (study.from.antenna, study.to.antenna);
    let model = model.at(study.to.at);
    let (input, output) = model.frequencies();
    let losses = model.losses(&propagator, &study.profile);
    let assessment = model.assess(&losses);
    let edges = propagator.edges(&study.profile, station, carried, output, &losses);
    let (frequencies, lengths) = (method.valid_frequency(), method.valid_distance());
    let frequency = [input, output]
        .into_iter()
        .find(|f| !frequencies.contains(f))
        .map(|f| Outside::Frequency(f, [*frequencies.start(), *frequencies.end()]));
    let distance = (!lengths.contains(&study.distance))
        .then(|| Outside::Distance(study.distance, [*lengths.start(), *lengths.end()]));
    MethodLosses {
        method: method.name(),
        counted: method.counted(),
        losses,
        margin: assessment.governing_margin(),
        outcome: model.outcome(&assessment),
        edges,
        outside: frequency.into_iter().chain(distance).collect(),
    }
}

/// Each cause is the difference of two methods that differ in nothing else.
fn causes(methods: &[MethodLosses]) -> Vec<Difference> {
    let that_counts = |counted: Counted| methods.iter().find(|m| m.counted == counted);
    let differ = |cause: &dyn Fn(&MethodLosses) -> Cause, with: Counted, without: Counted| {
        let (with, without) = (that_counts(with)?, that_counts(without)?);
        let beyond = |m: &MethodLosses| m.losses.talk_out.beyond_free_space();
        Some(Difference {
            cause: cause(with),
            with: with.method,
            without: without.method,
            by: beyond(with) - beyond(without),
        })
    };
    let worst = Counted::edges(Obstructions::Worst);
    let every = Counted::edges(Obstructions::EveryRidge);
    let sides = Counted::edges(Obstructions::WorstAndSides);
    let horizons = Counted::edges(Obstructions::Horizons);
    let smooth = horizons.and_smooth_earth();
    let climate = |m: &MethodLosses| Cause::Climate(m.losses.talk_out.model);
    let mut causes: Vec<_> = [
        differ(&|_| Cause::OtherRidges, every, worst),
        differ(&|_| Cause::Horizons, horizons, worst),
        differ(&|_| Cause::Shoulders, sides, worst),
        differ(&|_| Cause::SmoothEarth, smooth, horizons),
        differ(&climate, smooth.and_climate(), smooth),
    ]
    .into_iter()
    .flatten()
    .filter(|difference| difference.by.value().abs() >= TOLD_FROM.value())
    .collect();
    causes.sort_by(|a, b| b.by.value().abs().total_cmp(&a.by.value().abs()));
    causes
}
