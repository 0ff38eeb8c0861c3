//! Routes from end to end, and several sites at once.

use std::sync::Arc;

use axum::extract::{Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

use super::Served;
use super::actions::{Body, act, sent};
use super::pictures::picture;
use crate::desk::Refused;
use crate::together::How;
use perchline_report::layers::{Packing, png};
use perchline_report::route_strip::{self, Routes, StripPicture, StripWords};

/// Pixels across a drawing, at the least and at the most.
const ACROSS: (u32, u32) = (480, 2000);

#[derive(Deserialize)]
pub(super) struct Wide {
    /// Pixels across the drawings; none are made where it is left out.
    across: Option<u32>,
}

/// Every route as a page shows it.
#[derive(Serialize)]
struct Strips {
    /// Of which state.
    aim: u64,
    /// Where the station stands, and on which channel.
    on: String,
    /// The answer in a line.
    headline: String,
    /// How a drawing is read.
    how: &'static str,
    /// What the bars say.
    ways: [&'static str; 3],
    strips: Vec<Strip>,
}

#[derive(Serialize)]
struct Strip {
    #[serde(flatten)]
    words: StripWords,
    picture: Option<Drawing>,
}

#[derive(Serialize)]
struct Drawing {
    width: u32,
    height: u32,
    address: String,
}

impl From<StripPicture> for Strip {
    fn from(strip: StripPicture) -> Self {
        let (width, height) = strip.size;
        let picture = Some(Drawing { width, height, address: strip.address() });
        Self { words: strip.words, picture }
    }
}

/// The routes of the plan as it stands, from end to end.
pub(super) async fn strips(State(served): State<Served>, Query(wide): Query<Wide>) -> Response {
    act(served, move |desk| {
        let (opened, look, aim, latest) = {
            let state = desk.lock();
            let latest = state.latest.score.clone().zip(state.latest.picture.clone());
            (Arc::clone(&state.opened), state.look.clone(), state.aim, latest)
        };
        let (score, picture) =
            latest.ok_or_else(|| Refused::Now("the routes are not worked out yet".to_owned()))?;
        let reliability = picture.coverage.reliability;
        let routes = Routes::of(&opened, &look.channel, &score, reliability);
        let strips = match wide.across {
            Some(across) => {
                let drawn = route_strip::for_page(&routes, across.clamp(ACROSS.0, ACROSS.1));
                let drawn = drawn.map_err(|e| Refused::Now(e.to_string()))?;
                drawn.into_iter().map(Strip::from).collect()
            }
            None => {
                let told = route_strip::told(&routes).into_iter();
                told.map(|words| Strip { words, picture: None }).collect()
            }
        };
        Ok(Strips {
            aim,
            on: format!("{} on {}", look.site, look.channel),
            headline: routes.headline(),
            how: route_strip::HOW,
            ways: StripWords::WAYS,
            strips,
        })
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sites {
    sites: Vec<String>,
}

/// Lays the coverages of several sites together.
pub(super) async fn lay(State(served): State<Served>, body: Body<Sites>) -> Response {
    match sent(body) {
        Ok(Sites { sites }) => act(served, move |desk| desk.lay_together(&sites)).await,
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
pub(super) struct Wanted {
    how: How,
}

/// Several sites in one picture, as far as they have come.
pub(super) async fn together(
    State(served): State<Served>,
    Query(Wanted { how }): Query<Wanted>,
) -> Response {
    let asked = served.clone();
    // The desk may be held while terrain is read: waited for off the server's own threads.
    let found = tokio::task::spawn_blocking(move || {
        let state = asked.desk.lock();
        (Arc::clone(&state.opened), state.together.laid().cloned(), state.together.number())
    });
    let (opened, laid, number) = match found.await {
        Ok((opened, Some(laid), number)) => (opened, laid, number),
        _ => return Refused::Now("no site is laid together yet".to_owned()).into_response(),
    };
    let drawn = picture(served, move |_| {
        let (layers, size) = (laid.board.layers(&opened), laid.board.size);
        let image = match how {
            How::Best => layers.laid(&laid.best, size),
            How::Count => layers.counts(&laid.count, size),
        };
        let image = image.map_err(|e| Refused::Now(e.to_string()))?;
        png(&image, Packing::Fast).map_err(|e| Refused::Now(e.to_string()))
    })
    .await;
    let head = [(header::HeaderName::from_static("x-picture"), number.to_string())];
    (head, drawn).into_response()
}
