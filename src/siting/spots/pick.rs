//! The best spots, spread out.

use std::cmp::Ordering;

use super::exact::{Spot, Worth};
use perchline_units::Metres;

/// A spot with what it is worth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub place: Spot,
    pub worth: Worth,
}

/// The best `count` of them, each at least `apart` from the better ones.
pub(super) fn spread(found: &[Found], apart: Metres, count: usize) -> Vec<Found> {
    let mut sorted: Vec<&Found> = found.iter().collect();
    sorted.sort_by(|a, b| better_first(a, b));
    let mut chosen: Vec<Found> = Vec::with_capacity(count);
    for one in sorted {
        if chosen.len() == count {
            break;
        }
        if chosen.iter().all(|other| other.place.at.distance(one.place.at) >= apart) {
            chosen.push(*one);
        }
    }
    chosen
}

/// By value; of equals the one that was numbered first.
fn better_first(a: &Found, b: &Found) -> Ordering {
    b.worth.value().total_cmp(&a.worth.value()).then(a.place.stands.cmp(&b.place.stands))
}

#[cfg(test)]
mod tests {
    use super::super::exact::Stands;
    use super::*;
    use perchline_units::{Degrees, Position};

    fn found(number: usize, east: f64, probability: f64, must_met: bool) -> Found {
        let start = Position::new(Degrees::new(47.0), Degrees::new(-34.9)).unwrap();
        let at = start.destination(Degrees::new(90.0), Metres::new(east));
        let place = Spot { at, antenna: Metres::new(6.0), stands: Stands::Cell(number) };
        Found { place, worth: Worth { probability, must_met } }
    }

    #[test]
    fn the_best_stand_apart_and_must_have_posts_come_first() {
        let all = [
            found(0, 0.0, 0.90, false),
            found(1, 100.0, 0.80, true),
            found(2, 150.0, 0.81, true),
            found(3, 600.0, 0.95, false),
            found(4, 900.0, 0.95, false),
        ];
        let chosen = spread(&all, Metres::new(200.0), 3);
        let numbers: Vec<Stands> = chosen.iter().map(|f| f.place.stands).collect();
        assert_eq!(numbers, [Stands::Cell(2), Stands::Cell(3), Stands::Cell(4)]);
    }
}
