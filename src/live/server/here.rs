//! What radio comes to where the pointer is: the map's own cell there, and the ground
//! between it and the station.

use std::sync::Arc;

use axum::extract::{Query, State};
use axum::response::Response;
use ndarray::Array2;
use perchline_coverage::Coverage;
use perchline_link::{End as LinkEnd, Outcome, PathStudy};
use perchline_plan::UnitSystem;
use perchline_report::words;
use perchline_units::Metres;
use serde::{Deserialize, Serialize};

use super::Served;
use super::actions::act;
use crate::desk::Refused;
use crate::point::{End, path_to};
use crate::together::Laid;

/// Points of the little profile at the most.
const MOST_POINTS: usize = 90;

/// A point of the board.
#[derive(Deserialize)]
pub(super) struct At {
    column: f64,
    row: f64,
}

/// What there is to say of a cell.
#[derive(Debug, Serialize)]
struct Here {
    outcome: Outcome,
    /// The class in words, then the figures.
    lines: [String; 2],
    /// Which of several sites serve it, where several are laid together.
    together: Option<String>,
    /// Whether the figures are those of a first picture's larger cell.
    coarse: bool,
    /// The station, in columns and rows.
    from: (f64, f64),
    /// The middle of the cell.
    at: (f64, f64),
    profile: Ground,
}

/// The ground along the path, over the effective earth: metres from the station, and
/// metres above sea raised by the curve of the earth.
#[derive(Debug, Serialize)]
struct Ground {
    points: Vec<(f64, f64)>,
    /// The antennas, station first, in metres above sea.
    antennas: (f64, f64),
    line_of_sight: bool,
}

/// Tells of the cell of the picture that is shown.
pub(super) async fn here(State(served): State<Served>, Query(at): Query<At>) -> Response {
    act(served, move |desk| {
        let now = |text: &str| Refused::Now(text.to_owned());
        let (opened, look, board, picture, laid) = {
            let state = desk.lock();
            let picture = state.latest.picture.clone().or_else(|| state.before.clone());
            let laid = state.together.laid().filter(|laid| Arc::ptr_eq(&laid.board, &state.board));
            let (opened, board) = (Arc::clone(&state.opened), Arc::clone(&state.board));
            (opened, state.look.clone(), board, picture, laid.cloned())
        };
        let picture = picture.ok_or_else(|| now("there is no picture yet"))?;
        let cell = Cell::under(&picture.coverage, picture.span, (at.column, at.row))
            .ok_or_else(|| now("that point is off the map"))?;
        let place = board
            .place(cell.middle.0, cell.middle.1)
            .ok_or_else(|| now("that point is off the map"))?;
        let study = path_to(&opened, &look, &End::Here(place)).map_err(Refused::Now)?;
        let projector = board.projector().map_err(|e| Refused::Now(e.to_string()))?;
        let from = projector.to_cell(study.from.at).map_err(|e| Refused::Now(e.to_string()))?;
        Ok(Here {
            outcome: cell.outcome,
            lines: cell.told(&study, opened.plan.units),
            together: laid.and_then(|laid| served_by(&laid, at.column, at.row)),
            coarse: cell.coarse,
            from,
            at: cell.middle,
            profile: Ground::along(&study),
        })
    })
    .await
}

/// Which of several sites serve a point.
fn served_by(laid: &Laid, column: f64, row: f64) -> Option<String> {
    let serving = laid.serving(column, row)?;
    let of = laid.sites.len();
    Some(match serving.len() {
        0 => format!("None of {of} sites serves here."),
        number => format!("{number} of {of} sites serve here: {}.", serving.join(", ")),
    })
}

/// A cell of a picture.
#[derive(Debug)]
struct Cell {
    middle: (f64, f64),
    coarse: bool,
    outcome: Outcome,
    probability: f64,
    /// Margins of talk-in and talk-out, dB.
    margins: [f64; 2],
}

impl Cell {
    /// The cell under a point of the board, of which the coverage spans so much.
    fn under(coverage: &Coverage, span: (f64, f64), at: (f64, f64)) -> Option<Self> {
        let (rows, columns) = coverage.outcome.dim();
        let number = |at: f64, span: f64, of: usize| {
            let cells = at / span * of as f64;
            // Not below zero and below `of`, so the cut to whole cells is safe.
            (cells >= 0.0 && cells < of as f64).then_some(cells as usize)
        };
        let (column, row) = (number(at.0, span.0, columns)?, number(at.1, span.1, rows)?);
        let middle = |number: usize, span: f64, of: usize| (number as f64 + 0.5) * span / of as f64;
        let margin = |layer: &Array2<f32>| layer.get((row, column)).map(|m| f64::from(*m));
        Some(Self {
            middle: (middle(column, span.0, columns), middle(row, span.1, rows)),
            coarse: span.0 > 1.5 * columns as f64,
            outcome: *coverage.outcome.get((row, column))?,
            probability: margin(&coverage.probability)?,
            margins: [margin(&coverage.talk_in_margin)?, margin(&coverage.talk_out_margin)?],
        })
    }

    /// The class in a sentence, and both margins with the distance.
    fn told(&self, study: &PathStudy, units: UnitSystem) -> [String; 2] {
        let away = format!("{} from {}", units.distance(study.distance), study.from.name);
        let meaning = words::meaning(self.outcome);
        if self.outcome == Outcome::Unknown || self.margins.iter().any(|m| m.is_nan()) {
            return [meaning.to_owned(), away];
        }
        let [talk_in, talk_out] = self.margins.map(|margin| {
            let side = if margin < -0.05 { "short" } else { "in hand" };
            format!("{:.1} dB {side}", margin.abs())
        });
        let spots = words::spots(self.probability);
        [
            format!("{meaning}. Should work in {spots} spots."),
            format!("Talk-in {talk_in}, talk-out {talk_out}; {away}."),
        ]
    }
}

impl Ground {
    fn along(study: &PathStudy) -> Self {
        let profile = &study.profile;
        let raised = |along: f64| study.earth.bulge(profile.length(), Metres::new(along)).value();
        // Where nothing stands on the ground there is no list of it.
        let cover = profile.cover().iter().copied().chain(std::iter::repeat(0.0));
        let tops: Vec<(f64, f64)> = profile
            .distances()
            .iter()
            .zip(profile.heights().iter().zip(cover))
            .map(|(&along, (ground, cover))| (along, ground + cover + raised(along)))
            .collect();
        // The highest of each group stays: crests are what matters.
        let group = tops.len().div_ceil(MOST_POINTS).max(1);
        let highest =
            |part: &[(f64, f64)]| part.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a });
        let antenna = |end: &LinkEnd| (end.ground + end.antenna).value();
        Self {
            points: tops.chunks(group).filter_map(highest).collect(),
            antennas: (antenna(&study.from), antenna(&study.to)),
            line_of_sight: study.clearance.as_ref().is_none_or(|clearance| clearance.line_of_sight),
        }
    }
}
