//! What goes up to a station: mast, ballast, packs and the rest, by person and by
//! trip.

use serde::Serialize;

use perchline_plan::{Plan, Site, Stands, Station};
use perchline_units::{Kilograms, Metres};

use super::battery::pack_weight;
use super::fleet::{LoadingLine, item_lines};
use super::mast::{WindLoad, wind_loads};
use super::site_air::SiteAir;
use super::weather::elapsed;

/// More trips up than this for each person are said to be too many (common
/// practice, no source).
pub const MOST_TRIPS: u32 = 5;

/// The heaviest piece that two people lift together: two thirds of twice 25 kg (HSE
/// L23, guidance on lifting in teams, from memory).
pub const TWO_LIFT: Kilograms = Kilograms::new(33.0);

/// What goes up to one station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationKit {
    /// The station.
    pub station: String,
    /// Its site; nothing while that is open.
    pub site: Option<String>,
    /// People who carry.
    pub carriers: u32,
    /// What one of them carries in one trip.
    pub trip_load_kg: Kilograms,
    /// What goes up.
    pub lines: Vec<LoadingLine>,
    /// Ballast of its mast; nothing where the plan does not say that one is carried.
    pub ballast: Option<MastBallast>,
    /// Weight of all of it.
    pub weight_kg: Kilograms,
    /// Who carries what in which trip; of what is too heavy nothing.
    pub loads: Vec<CarriedLoad>,
    /// Trips up that each makes at most.
    pub trips: u32,
    /// Pieces that these people do not carry at all.
    pub too_heavy: Vec<Piece>,
    /// What the plan gives no weight of, so that it is not counted.
    pub not_counted: Vec<&'static str>,
}

/// Ballast of a station's mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MastBallast {
    /// What the plan says is carried; nothing where it does not.
    pub stated_kg: Option<Kilograms>,
    /// What the wind asks for.
    pub asked_kg: Kilograms,
    /// Height of the antenna for which it does.
    pub height_m: Metres,
}

/// What a person, or two together, carry in one trip.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CarriedLoad {
    /// The trip, from 1.
    pub trip: u32,
    /// Who of the carriers, from 1: one, or two who carry one piece together.
    pub carriers: Vec<u32>,
    /// What it is, the number first where it is more than one.
    pub what: Vec<String>,
    /// Weight of it.
    pub weight_kg: Kilograms,
}

/// Something that is carried in one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Piece {
    /// What it is.
    pub what: String,
    /// Its weight.
    pub weight_kg: Kilograms,
}

impl MastBallast {
    /// What is carried up.
    #[must_use]
    pub fn carried(&self) -> Kilograms {
        self.stated_kg.unwrap_or(self.asked_kg)
    }

    /// What the stated ballast lacks for the wind; nothing where it does not.
    #[must_use]
    pub fn short(&self) -> Option<Kilograms> {
        let short = self.asked_kg - self.stated_kg?;
        (short.value() > 0.0).then_some(short)
    }
}

impl StationKit {
    /// Whether these people get all of it up in [`MOST_TRIPS`].
    #[must_use]
    pub fn can_be_carried(&self) -> bool {
        self.too_heavy.is_empty() && self.trips <= MOST_TRIPS
    }
}

/// The kit of every station of a plan, in its order.
#[must_use]
pub fn station_kits(plan: &Plan) -> Vec<StationKit> {
    let masts = wind_loads(plan);
    plan.power.stations.iter().zip(&masts).map(|(station, wind)| kit(plan, station, wind)).collect()
}

/// The site on which the plan puts a station, with another one or alone.
#[must_use]
pub fn settled_site<'p>(plan: &'p Plan, station: &Station) -> Option<&'p Site> {
    let stands = match station.stands {
        Stands::Beside(other) => plan.power.stations.get(other)?.stands,
        own => own,
    };
    match stands {
        Stands::On(site) => plan.sites.get(site),
        Stands::Anywhere | Stands::Beside(_) => None,
    }
}

fn kit(plan: &Plan, station: &Station, wind: &WindLoad) -> StationKit {
    let supply = &station.supply;
    let mut lines = Vec::new();
    let mut pieces = Vec::new();
    if let Some(pack) = plan.power.packs.get(supply.pack) {
        let spares = supply.count * supply.spares;
        let line = LoadingLine::of(
            format!("pack, {}", pack.name),
            supply.count + spares,
            pack_weight(pack),
        );
        pieces.extend(alike(&line.what, pack_weight(pack), line.count));
        lines.push(LoadingLine { spares, ..line });
    }
    let ballast = station.mast.map(|mast| {
        let ballast = MastBallast {
            stated_kg: mast.ballast,
            asked_kg: wind.ballast_kg,
            height_m: wind.height_m,
        };
        lines.push(LoadingLine::of(MAST.to_owned(), 1, mast.weight));
        pieces.extend(alike(MAST, mast.weight, 1));
        let parts = parts(ballast.carried(), mast.piece);
        let count = u32::try_from(parts.len()).unwrap_or(u32::MAX);
        if count > 0 {
            let line = LoadingLine::of(BALLAST.to_owned(), count, Kilograms::new(0.0));
            lines.push(LoadingLine { weight_kg: ballast.carried(), ..line });
        }
        pieces.extend(
            parts.into_iter().map(|weight_kg| Piece { what: BALLAST.to_owned(), weight_kg }),
        );
        ballast
    });
    let air = SiteAir::new(plan, &station.on, None, ("station", &station.name)).ok();
    lines.extend(item_lines(&station.items, air.as_ref(), elapsed(&station.on, &station.off)));
    for item in &station.items {
        pieces.extend(alike(&item.name, item.weight, item.count + item.spares));
    }
    let shared = Shared::of(pieces, station.carriers, station.trip_load);
    let not_counted = [
        (station.mast.is_none(), "mast, guys and ballast"),
        (station.items.is_empty(), "radio, duplexer, feed line, antenna and tools"),
    ];
    StationKit {
        station: station.name.clone(),
        site: settled_site(plan, station).map(|site| site.name.clone()),
        carriers: station.carriers,
        trip_load_kg: station.trip_load,
        weight_kg: lines.iter().fold(Kilograms::new(0.0), |sum, line| sum + line.weight_kg),
        lines,
        ballast,
        trips: shared.loads.iter().map(|load| load.trip).max().unwrap_or(0),
        loads: shared.loads,
        too_heavy: shared.too_heavy,
        not_counted: not_counted.into_iter().filter(|(not, _)| *not).map(|(_, w)| w).collect(),
    }
}

/// What a mast and its ballast are called in a list.
const MAST: &str = "mast with foot and guys";
const BALLAST: &str = "ballast";

/// So many pieces that weigh the same.
fn alike(what: &str, weight_kg: Kilograms, count: u32) -> impl Iterator<Item = Piece> {
    let piece = Piece { what: what.to_owned(), weight_kg };
    std::iter::repeat_n(piece, count as usize)
}

/// A weight in pieces of this weight and, if it does not go up, a lighter one.
fn parts(whole: Kilograms, piece: Kilograms) -> Vec<Kilograms> {
    let full = (whole.value() / piece.value() + 1e-9).floor();
    let rest = whole - piece * full;
    let rest = (rest.value() > 0.05).then_some(rest);
    std::iter::repeat_n(piece, full as usize).chain(rest).collect()
}

/// Pieces shared out among carriers and trips.
struct Shared {
    loads: Vec<CarriedLoad>,
    too_heavy: Vec<Piece>,
}

impl Shared {
    /// The heaviest pieces first, each into the first load that still takes it. What
    /// is more than a load for one goes up between two.
    fn of(mut pieces: Vec<Piece>, carriers: u32, trip_load: Kilograms) -> Self {
        let heavier = |a: &Piece, b: &Piece| b.weight_kg.value().total_cmp(&a.weight_kg.value());
        pieces.sort_by(heavier);
        let two = TWO_LIFT.min(trip_load * 2.0);
        let (mut pairs, mut bins, mut too_heavy) = (Vec::new(), Vec::<Vec<Piece>>::new(), vec![]);
        let takes = |bin: &[Piece], piece: &Piece| {
            weight(bin).value() + piece.weight_kg.value() <= trip_load.value() + 1e-9
        };
        for piece in pieces {
            if takes(&[], &piece) {
                match bins.iter_mut().find(|bin| takes(bin, &piece)) {
                    Some(bin) => bin.push(piece),
                    None => bins.push(vec![piece]),
                }
            } else if piece.weight_kg <= two && carriers >= 2 {
                pairs.push(vec![piece]);
            } else {
                too_heavy.push(piece);
            }
        }
        // How many carriers of each trip have a load.
        let mut busy: Vec<u32> = Vec::new();
        let mut loads: Vec<CarriedLoad> = Vec::new();
        let both = pairs.into_iter().map(|pair| (2, pair));
        for (people, load) in both.chain(bins.into_iter().map(|bin| (1, bin))) {
            let free = busy.iter().position(|busy| busy + people <= carriers);
            let trip = free.unwrap_or_else(|| {
                busy.push(0);
                busy.len() - 1
            });
            let Some(taken) = busy.get_mut(trip) else { continue };
            loads.push(CarriedLoad {
                trip: u32::try_from(trip + 1).unwrap_or(u32::MAX),
                carriers: (*taken + 1..=*taken + people).collect(),
                what: named(&load),
                weight_kg: weight(&load),
            });
            *taken += people;
        }
        loads.sort_by(|a, b| a.trip.cmp(&b.trip).then(a.carriers.cmp(&b.carriers)));
        Self { loads, too_heavy }
    }
}

fn weight(pieces: &[Piece]) -> Kilograms {
    pieces.iter().fold(Kilograms::new(0.0), |sum, piece| sum + piece.weight_kg)
}

/// What pieces are, those of one name together.
fn named(pieces: &[Piece]) -> Vec<String> {
    let mut names: Vec<(&str, usize)> = Vec::new();
    for piece in pieces {
        match names.iter_mut().find(|(name, _)| *name == piece.what) {
            Some((_, count)) => *count += 1,
            None => names.push((&piece.what, 1)),
        }
    }
    let named = |(name, count): (&str, usize)| match count {
        1 => name.to_owned(),
        more => format!("{more} x {name}"),
    };
    names.into_iter().map(named).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(what: &str, kilograms: f64) -> Piece {
        Piece { what: what.to_owned(), weight_kg: Kilograms::new(kilograms) }
    }

    /// By hand, two people and 20 kg a trip: the cabinet of 28 kg goes up between
    /// two; 15 + 5, 15 + 2 and 15 kg are three loads. So trip 1 is the cabinet, trip
    /// 2 two loads, trip 3 one. A block of 34 kg is too much for two.
    #[test]
    fn loads_are_shared_out_by_hand() {
        let bags = std::iter::repeat_n(piece("bag", 15.0), 3);
        let others = [piece("cabinet", 28.0), piece("block", 34.0)];
        let small = [piece("pack", 5.0), piece("line", 2.0)];
        let shared = Shared::of(bags.chain(others).chain(small).collect(), 2, Kilograms::new(20.0));
        let told: Vec<_> = shared
            .loads
            .iter()
            .map(|l| (l.trip, l.carriers.clone(), l.what.join(" + "), l.weight_kg.value()))
            .collect();
        assert_eq!(
            told,
            [
                (1, vec![1, 2], "cabinet".to_owned(), 28.0),
                (2, vec![1], "bag + pack".to_owned(), 20.0),
                (2, vec![2], "bag + line".to_owned(), 17.0),
                (3, vec![1], "bag".to_owned(), 15.0),
            ]
        );
        assert_eq!(shared.too_heavy, [piece("block", 34.0)]);
        // Alone nobody lifts the cabinet either.
        let alone = Shared::of(vec![piece("cabinet", 28.0)], 1, Kilograms::new(20.0));
        assert_eq!((alone.loads.len(), alone.too_heavy.len()), (0, 1));
    }

    /// By hand: 65 kg in bags of 15 kg are four bags and one of 5 kg.
    #[test]
    fn ballast_comes_in_pieces() {
        let parts = parts(Kilograms::new(65.0), Kilograms::new(15.0));
        let weights: Vec<f64> = parts.iter().map(|part| part.value()).collect();
        assert_eq!(weights, [15.0, 15.0, 15.0, 15.0, 5.0]);
        assert_eq!(super::parts(Kilograms::new(0.0), Kilograms::new(15.0)), []);
    }
}
