//! Pictures as PNG.

use std::sync::atomic::AtomicBool;
use std::sync::{Arc, PoisonError};

use axum::extract::{Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::Served;
use super::actions::PathEnd;
use crate::desk::{self, Desk, Refused};
use crate::point::path_to;
use crate::work::{Picture, Stage};
use perchline_assessment::Assessment;
use perchline_report::answers::Against;
use perchline_report::layers::{Packing, difference as differ, png};
use perchline_report::signature::signed;
use perchline_report::{map, path_plot};
use perchline_siting::RankError;

/// Makes a picture off the server's own threads.
pub(super) async fn picture(
    served: Served,
    make: impl FnOnce(&Arc<Desk>) -> Result<Vec<u8>, Refused> + Send + 'static,
) -> Response {
    match tokio::task::spawn_blocking(move || make(&served.desk)).await {
        Ok(Ok(png)) => ([(header::CONTENT_TYPE, "image/png")], png).into_response(),
        Ok(Err(refused)) => refused.into_response(),
        Err(error) => (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response(),
    }
}

fn now(error: impl ToString) -> Refused {
    Refused::Now(error.to_string())
}

/// The land under everything.
pub(super) async fn land(State(served): State<Served>) -> Response {
    picture(served, |desk| Ok(Arc::clone(&desk.lock().board).land.clone())).await
}

/// Water, contours, roads, houses and names of the ground over everything.
pub(super) async fn lines(State(served): State<Served>) -> Response {
    picture(served, |desk| Ok(Arc::clone(&desk.lock().board).lines.clone())).await
}

/// The latest coverage, or the one before it until there is one. Which it is,
/// and how much of the board it spans, stands in the answer's head.
pub(super) async fn coverage(State(served): State<Served>) -> Response {
    // The desk may be held while terrain is read: waited for off the server's
    // own threads.
    let found = tokio::task::spawn_blocking(move || {
        let state = served.desk.lock();
        let picture = state.latest.picture.clone().or_else(|| state.before.clone());
        (state.aim, state.latest.stage, state.pictures, picture)
    });
    let (aim, stage, number, picture) = match found.await {
        Ok((aim, stage, number, Some(picture))) => (aim, stage, number, picture),
        Ok(_) => return now("there is no picture yet").into_response(),
        Err(error) => {
            return (StatusCode::INTERNAL_SERVER_ERROR, error.to_string()).into_response();
        }
    };
    let (columns, rows) = picture.span;
    let head = [
        (header::CONTENT_TYPE, "image/png".to_owned()),
        (header::HeaderName::from_static("x-span"), format!("{columns} {rows}")),
        (header::HeaderName::from_static("x-aim"), aim.to_string()),
        (header::HeaderName::from_static("x-picture"), number.to_string()),
        (header::HeaderName::from_static("x-stage"), stage.map_or("", Stage::word).to_owned()),
    ];
    (head, picture.png.clone()).into_response()
}

#[derive(Deserialize)]
pub(super) struct Number {
    id: u64,
}

/// A variant's coverage.
pub(super) async fn variant(
    State(served): State<Served>,
    Query(number): Query<Number>,
) -> Response {
    picture(served, move |desk| Ok(kept(desk, number.id)?.png.clone())).await
}

#[derive(Deserialize)]
pub(super) struct TwoStates {
    from: u64,
    to: u64,
}

/// Where two states differ; number 0 is the present one.
pub(super) async fn difference(
    State(served): State<Served>,
    Query(pair): Query<TwoStates>,
) -> Response {
    picture(served, move |desk| {
        let (from, to) = (kept(desk, pair.from)?, kept(desk, pair.to)?);
        let size = desk.lock().board.size;
        let image = differ(&from.coverage, &to.coverage, size)
            .map_err(|_| now("the two are not of one piece of ground yet"))?;
        png(&image, Packing::Fast).map_err(now)
    })
    .await
}

/// A variant's picture, or the present one for number 0.
fn kept(desk: &Desk, id: u64) -> Result<Arc<Picture>, Refused> {
    let state = desk.lock();
    let picture = match id {
        0 => state.latest.picture.clone(),
        _ => state.variants.iter().find(|v| v.id == id).map(|v| Arc::clone(&v.picture)),
    };
    picture.ok_or_else(|| now("that picture is gone, or not there yet"))
}

/// The profile and the budgets of the path from the station to a point.
pub(super) async fn path(State(served): State<Served>, Query(end): Query<PathEnd>) -> Response {
    picture(served, move |desk| {
        let end = end.on(desk)?;
        let (opened, look) = present(desk);
        let study = path_to(&opened, &look, &end).map_err(Refused::Now)?;
        let against = against(&opened, &look).map_err(now)?;
        let content = path_plot::PathPlot {
            study: &study,
            against: &against,
            units: opened.plan.units,
            provenance: &opened.provenance,
        };
        path_plot::draw(&content).map_err(now)
    })
    .await
}

/// What keeps the station that is looked at off its site; nothing where there is none.
fn against(opened: &Assessment, look: &desk::Look) -> Result<Against, RankError> {
    let plan = &opened.plan;
    let channel = plan.channels.iter().find(|channel| channel.name == look.channel);
    let site = plan.sites.iter().find(|site| site.name == look.site);
    match (channel.filter(|channel| channel.has_station()), site) {
        (Some(channel), Some(site)) => Against::of(opened, channel, site),
        _ => Ok(Against::default()),
    }
}

fn present(desk: &Desk) -> (Arc<Assessment>, desk::Look) {
    let state = desk.lock();
    (Arc::clone(&state.opened), state.look.clone())
}

/// The sheet that the verb `coverage` makes of this state of the plan: on
/// terrain read anew, as that verb would.
pub(super) async fn map(State(served): State<Served>) -> Response {
    let one = Arc::clone(&served.sheet);
    picture(served, move |desk| {
        let _one = one.lock().unwrap_or_else(PoisonError::into_inner);
        let (opened, look) = present(desk);
        let opened = Assessment::new(opened.plan.clone(), &[])?;
        let channel = opened.plan.channels.iter().find(|c| c.name == look.channel);
        let site = opened.plan.sites.iter().find(|s| s.name == look.site);
        let (Some(channel), Some(site)) = (channel, site) else {
            return Err(now("the plan has no such site or channel any more"));
        };
        let grid = opened.map_grid().map_err(now)?;
        let never = AtomicBool::new(false);
        let inputs = opened.rank_inputs(&grid, &|| (), &never);
        let made = opened.site_map(&inputs, channel, site).map_err(now)?;
        let relief = opened.terrain.hillshade().map_err(now)?;
        let sheet = map::draw(&map::MapContent::of(
            &opened,
            &relief,
            &channel.name,
            &made.score,
            &made.coverage,
        ));
        sheet.map(|sheet| signed(&sheet, &opened.provenance)).map_err(now)
    })
    .await
}
