//! What radio comes to at any spot of the map, so that the page answers a tap: the
//! classes of the coverage that made the map, cell by cell, packed as text.

use std::fmt::Write as _;

use ndarray::Array2;
use serde_json::{Value, json};

use crate::ReportError;
use crate::map::georeference::MapFrame;
use perchline_coverage::Coverage;
use perchline_link::{Direction, Outcome};
use perchline_units::{Degrees, Position};

use super::super::sentences;
use super::{data, shown};

/// What the packed classes may weigh, bytes. A finer map is told in coarser cells.
const HEAVIEST: usize = 250_000;

/// Parts along a side of the lattice by which the page finds a position on the map:
/// on a map of 100 km its straight lines are some metres off.
const LATTICE: u32 = 8;

/// Stands for the class of the cell above.
const AS_ABOVE: u8 = b'.';

/// What a cell comes to, the poorest first: the order is what a coarse cell goes by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Spot {
    Unknown,
    NoContact,
    /// Hears the others, is not heard.
    HearsOnly,
    /// Is heard, does not hear the others.
    HeardOnly,
    Patchy,
    Clear,
    Strong,
}

impl Spot {
    const ALL: [Self; 7] = [
        Self::Strong,
        Self::Clear,
        Self::Patchy,
        Self::HeardOnly,
        Self::HearsOnly,
        Self::NoContact,
        Self::Unknown,
    ];

    fn of(coverage: &Coverage, cell: (usize, usize)) -> Self {
        match coverage.outcome.get(cell).copied().unwrap_or(Outcome::Unknown) {
            Outcome::Unknown => Self::Unknown,
            Outcome::NoContact => Self::NoContact,
            Outcome::OneWay => {
                let margin = |layer: &Array2<f32>| layer.get(cell).copied().unwrap_or(f32::NAN);
                let (talk_in, talk_out) =
                    (margin(&coverage.talk_in_margin), margin(&coverage.talk_out_margin));
                if talk_in <= talk_out { Self::HearsOnly } else { Self::HeardOnly }
            }
            Outcome::Patchy => Self::Patchy,
            Outcome::Clear => Self::Clear,
            Outcome::Strong => Self::Strong,
        }
    }

    const fn letter(self) -> u8 {
        match self {
            Self::Strong => b's',
            Self::Clear => b'c',
            Self::Patchy => b'p',
            Self::HeardOnly => b't',
            Self::HearsOnly => b'h',
            Self::NoContact => b'n',
            Self::Unknown => b'u',
        }
    }

    /// The same in words.
    fn says(self) -> String {
        let class = |outcome: Outcome| format!("{}.", shown(outcome));
        match self {
            Self::Strong => class(Outcome::Strong),
            Self::Clear => class(Outcome::Clear),
            Self::Patchy => class(Outcome::Patchy),
            Self::HeardOnly => sentences::one_way("Here", Direction::TalkOut),
            Self::HearsOnly => sentences::one_way("Here", Direction::TalkIn),
            Self::NoContact => class(Outcome::NoContact),
            Self::Unknown => sentences::UNKNOWN.to_owned(),
        }
    }

    const fn works(self) -> bool {
        matches!(self, Self::Clear | Self::Strong)
    }
}

/// The classes with what the page says of each.
pub(super) fn spots(coverage: &Coverage) -> Value {
    let packed = Packed::of(coverage, HEAVIEST);
    let says: serde_json::Map<String, Value> = Spot::ALL
        .iter()
        .map(|spot| {
            let told = json!({
                "says": spot.says(),
                "works": spot.works(),
                "reaches": !matches!(spot, Spot::NoContact | Spot::Unknown),
            });
            (char::from(spot.letter()).to_string(), told)
        })
        .collect();
    json!({
        "columns": packed.columns,
        "rows": packed.rows,
        "across": packed.across,
        "down": packed.down,
        "runs": packed.runs,
        "classes": says,
    })
}

/// Classes row by row from the top: a letter a run, then the run's length if it is more
/// than one.
#[derive(Debug, PartialEq)]
struct Packed {
    columns: usize,
    rows: usize,
    /// Columns that the map is wide: the last one may stand out over its edge.
    across: f64,
    /// The same of rows.
    down: f64,
    runs: String,
}

impl Packed {
    /// In cells as fine as `heaviest` bytes allow.
    fn of(coverage: &Coverage, heaviest: usize) -> Self {
        let (rows, columns) = coverage.outcome.dim();
        let spots = Array2::from_shape_fn((rows, columns), |cell| Spot::of(coverage, cell));
        let mut step = 1;
        loop {
            let packed = Self::in_steps(&spots, step);
            if packed.runs.len() <= heaviest || (packed.columns <= 1 && packed.rows <= 1) {
                return packed;
            }
            step *= 2;
        }
    }

    /// So many cells by as many told as one, by the poorest of them.
    fn in_steps(spots: &Array2<Spot>, step: usize) -> Self {
        let (rows, columns) = spots.dim();
        let coarse = (rows.div_ceil(step), columns.div_ceil(step));
        let letters = Array2::from_shape_fn(coarse, |(row, column)| {
            let (from, left) = (row * step, column * step);
            let part = spots.slice(ndarray::s![
                from..(from + step).min(rows),
                left..(left + step).min(columns)
            ]);
            part.iter().min().copied().unwrap_or(Spot::Unknown).letter()
        });
        Self {
            columns: coarse.1,
            rows: coarse.0,
            across: columns as f64 / step as f64,
            down: rows as f64 / step as f64,
            runs: runs(&letters),
        }
    }
}

fn runs(letters: &Array2<u8>) -> String {
    let signs = letters.indexed_iter().map(|((row, column), letter)| {
        let above = row.checked_sub(1).and_then(|row| letters.get((row, column)));
        if above == Some(letter) { AS_ABOVE } else { *letter }
    });
    let mut text = String::new();
    let mut run: Option<(u8, usize)> = None;
    let end = |text: &mut String, run: Option<(u8, usize)>| {
        if let Some((sign, count)) = run {
            text.push(char::from(sign));
            if count > 1 {
                // Writing to a String cannot fail.
                let _ = write!(text, "{count}");
            }
        }
    };
    for sign in signs {
        run = match run {
            Some((known, count)) if known == sign => Some((sign, count + 1)),
            before => {
                end(&mut text, before);
                Some((sign, 1))
            }
        };
    }
    end(&mut text, run);
    text
}

/// Where a lattice of longitudes and latitudes lies on the map, for a browser that knows
/// a position. Longitudes run on beyond 180 degrees where the map does.
pub(super) fn earth(frame: &MapFrame) -> Result<Value, ReportError> {
    let steps = || (0..=LATTICE).map(|n| f64::from(n) / f64::from(LATTICE));
    let shares: Vec<(f64, f64)> = steps().flat_map(|v| steps().map(move |u| (u, v))).collect();
    let places = frame.positions(&shares)?;
    let Some(first) = places.first().map(|at| at.longitude().value()) else {
        return Ok(Value::Null);
    };
    let near = |longitude: f64| first + (longitude - first + 540.0).rem_euclid(360.0) - 180.0;
    let span = |values: &dyn Fn(&Position) -> f64| {
        places.iter().map(values).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
    };
    let (west, east) = span(&|at| near(at.longitude().value()));
    let (south, north) = span(&|at| at.latitude().value());
    let mut lattice = Vec::new();
    for up in steps() {
        for right in steps() {
            let longitude = west + (east - west) * right;
            let wrapped = (longitude + 180.0).rem_euclid(360.0) - 180.0;
            let latitude = Degrees::new(south + (north - south) * up);
            let at = Position::new(latitude, Degrees::new(wrapped));
            lattice.push(at.ok().map(|at| data::metres(frame, at)).transpose()?);
        }
    }
    Ok(json!({
        "west": west, "east": east, "south": south, "north": north,
        "parts": LATTICE, "lattice": lattice,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the page does to read it again.
    fn unpacked(packed: &Packed) -> Vec<u8> {
        let mut cells: Vec<u8> = Vec::new();
        let mut runs = packed.runs.bytes().peekable();
        while let Some(sign) = runs.next() {
            let mut count = String::new();
            while let Some(digit) = runs.next_if(u8::is_ascii_digit) {
                count.push(char::from(digit));
            }
            for _ in 0..count.parse().unwrap_or(1) {
                let above = cells.len().checked_sub(packed.columns).map(|at| cells[at]);
                cells.push(if sign == AS_ABOVE { above.unwrap() } else { sign });
            }
        }
        cells
    }

    fn some(rows: usize, columns: usize, rough: u64) -> Array2<Spot> {
        let mut state = 7u64 + rough;
        Array2::from_shape_fn((rows, columns), |(row, column)| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            let noise = (state >> 33) % rough;
            Spot::ALL[((row / 7 + column / 5) as u64 + noise) as usize % Spot::ALL.len()]
        })
    }

    #[test]
    fn every_cell_comes_out_as_it_went_in() {
        for (rows, columns, rough) in [(1, 1, 1), (40, 33, 1), (40, 33, 7), (3, 200, 2)] {
            let spots = some(rows, columns, rough);
            let packed = Packed::in_steps(&spots, 1);
            let letters: Vec<u8> = spots.iter().map(|spot| spot.letter()).collect();
            assert_eq!(unpacked(&packed), letters, "{rows} {columns} {rough}");
        }
    }

    #[test]
    fn a_coarse_cell_is_as_poor_as_the_poorest_in_it() {
        let spots = some(41, 34, 7);
        let packed = Packed::in_steps(&spots, 4);
        assert_eq!((packed.rows, packed.columns), (11, 9));
        assert_eq!((packed.down, packed.across), (10.25, 8.5));
        let letters = unpacked(&packed);
        for ((row, column), spot) in spots.indexed_iter() {
            let told = letters[row / 4 * packed.columns + column / 4];
            let told = *Spot::ALL.iter().find(|spot| spot.letter() == told).unwrap();
            assert!(told <= *spot, "{told:?} is told where {spot:?} is at {row} {column}");
        }
        let mixed = unpacked(&packed).iter().any(|letter| *letter != Spot::Unknown.letter());
        assert!(mixed, "all are unknown: make the case easier");
    }
}
