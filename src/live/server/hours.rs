//! What holds at each moment between set-up and tear-down.

use std::sync::Arc;

use axum::extract::{Query, State};
use axum::response::Response;
use perchline_assessment::{RouteNow, Stands, Underway};
use perchline_report::hour_words::{self, HOURS_HOW, MomentMark, MomentWords};
use perchline_terrain::Projector;
use serde::{Deserialize, Serialize};

use super::Served;
use super::actions::act;
use crate::desk::Refused;

/// The moments to stop at.
#[derive(Serialize)]
struct Hours {
    /// Of which state.
    aim: u64,
    stops: Vec<HourStop>,
    /// What the plan does not say of its hours.
    not_known: Vec<String>,
    /// What the numbers are.
    how: &'static str,
}

#[derive(Serialize)]
struct HourStop {
    /// The moment in seconds, to find it again after a change.
    second: i64,
    /// The time, with what happens then.
    words: String,
}

/// The moments of the plan as it stands.
pub(super) async fn hours(State(served): State<Served>) -> Response {
    act(served, |desk| {
        let (opened, aim) = {
            let state = desk.lock();
            (Arc::clone(&state.opened), state.aim)
        };
        let stops = opened.time_stops();
        let stop = |stop: &perchline_assessment::TimeStop| HourStop {
            second: stop.at.timestamp().as_second(),
            words: hour_words::stop(stop, &opened.plan),
        };
        Ok(Hours {
            aim,
            stops: stops.iter().map(stop).collect(),
            not_known: hour_words::not_known(&opened.hours_not_known(), &opened.plan),
            how: HOURS_HOW,
        })
    })
    .await
}

#[derive(Deserialize)]
pub(super) struct At {
    /// A moment in seconds, one of [`HourStop`].
    second: i64,
}

/// A moment as the page shows it.
#[derive(Serialize)]
struct MomentView {
    aim: u64,
    second: i64,
    /// What happens then; empty where nothing does.
    happens: String,
    #[serde(flatten)]
    words: MomentWords,
    marks: Vec<MomentMark>,
    underway: Vec<UnderwayView>,
}

/// Somebody on a route, on the board.
#[derive(Serialize)]
struct UnderwayView {
    /// "front" or "tail"; "front and tail" where they are one.
    who: &'static str,
    words: String,
    column: f64,
    row: f64,
}

/// What holds at a moment.
pub(super) async fn moment(State(served): State<Served>, Query(at): Query<At>) -> Response {
    act(served, move |desk| {
        let (opened, look, board, aim, score) = {
            let state = desk.lock();
            let (opened, board) = (Arc::clone(&state.opened), Arc::clone(&state.board));
            (opened, state.look.clone(), board, state.aim, state.latest.score.clone())
        };
        let stops = opened.time_stops();
        let stop = stops.iter().find(|stop| stop.at.timestamp().as_second() == at.second);
        let stop = stop.ok_or_else(|| {
            Refused::Now("that moment is none of the plan's as it stands: look again".to_owned())
        })?;
        let now = opened.moment(&stop.at);
        let routes = score.as_ref().map(|score| score.routes.as_slice());
        let projector = board.projector().map_err(|e| Refused::Now(e.to_string()))?;
        let underway = now.routes.iter().flat_map(|route| underway(route, &projector)).collect();
        Ok(MomentView {
            aim,
            second: at.second,
            happens: hour_words::happenings(stop),
            words: hour_words::moment(&now, &opened.plan, routes),
            marks: hour_words::marks(&now, &look.channel, &look.site),
            underway,
        })
    })
    .await
}

/// Front and tail of a route, as far as they are on it.
fn underway(route: &RouteNow, projector: &Projector) -> Vec<UnderwayView> {
    let alone = route.tail.is_none();
    let of = |(who, one): (&'static str, &Underway)| {
        let Stands::On { at, .. } = one.stands else { return None };
        let (column, row) = projector.to_cell(at).ok()?;
        let words = format!("{who}: {}", one.tracker);
        Some(UnderwayView { who, words, column, row })
    };
    let front = (if alone { "front and tail" } else { "front" }, &route.front);
    let tail = route.tail.as_ref().map(|tail| ("tail", tail));
    [Some(front), tail].into_iter().flatten().filter_map(of).collect()
}
