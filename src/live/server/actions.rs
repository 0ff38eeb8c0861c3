//! What a page asks for and changes.

use std::convert::Infallible;
use std::sync::Arc;

use axum::Json;
use axum::extract::{Query, State, rejection::JsonRejection};
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use serde_json::json;
use tokio_stream::wrappers::WatchStream;
use tokio_stream::{Stream, StreamExt};

use super::Served;
use crate::desk::{Desk, Look, Refused, problems_of};
use crate::edit::{Change, EditError, PlaceKind};
use crate::point::{End, path_to};
use crate::set::Crossed;
use crate::view::{ProblemView, View, degrees};
use perchline_report::tables::path_tables;

/// A refusal as a page gets it.
#[derive(Serialize)]
struct Refusal {
    text: String,
    problems: Vec<ProblemView>,
    underneath: bool,
    /// Fields that another page has changed since.
    crossed: Vec<Crossed>,
}

pub(super) fn refuse(status: StatusCode, text: String) -> Response {
    let (problems, crossed) = (Vec::new(), Vec::new());
    (status, Json(Refusal { text, problems, underneath: false, crossed })).into_response()
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let problems: Vec<_> = problems_of(&self).iter().map(ProblemView::from).collect();
        let underneath = matches!(self, Self::ChangedUnderneath(_));
        let text = self.to_string();
        let crossed = match self {
            Self::Edit(EditError::Crossed(fields)) => fields,
            _ => Vec::new(),
        };
        let status = if underneath || !crossed.is_empty() {
            StatusCode::CONFLICT
        } else {
            StatusCode::UNPROCESSABLE_ENTITY
        };
        (status, Json(Refusal { text, problems, underneath, crossed })).into_response()
    }
}

/// Does something with the desk off the server's own threads: reading a plan
/// and its terrain takes its time.
pub(super) async fn act<T: Serialize + Send + 'static>(
    served: Served,
    what: impl FnOnce(&Arc<Desk>) -> Result<T, Refused> + Send + 'static,
) -> Response {
    match tokio::task::spawn_blocking(move || what(&served.desk)).await {
        Ok(Ok(done)) => Json(done).into_response(),
        Ok(Err(refused)) => refused.into_response(),
        Err(error) => refuse(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()),
    }
}

pub(super) type Body<T> = Result<Json<T>, JsonRejection>;

/// What was sent, or the reason why it makes no sense.
pub(super) fn sent<T>(body: Body<T>) -> Result<T, Box<Response>> {
    body.map(|Json(sent)| sent).map_err(|e| Box::new(refuse(e.status(), e.body_text())))
}

/// The desk as it stands.
pub(super) async fn state(State(served): State<Served>) -> Response {
    act(served, |desk| {
        View::of(&desk.lock())
            .ok_or_else(|| Refused::Now("a place of the plan cannot be put on the map".to_owned()))
    })
    .await
}

/// The number of every revision as it comes.
pub(super) async fn events(
    State(served): State<Served>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let revisions = WatchStream::new(served.desk.watch());
    let events = revisions.map(|revision| Ok(Event::default().data(revision.to_string())));
    Sse::new(events).keep_alive(KeepAlive::default())
}

/// Changes the plan.
pub(super) async fn change(State(served): State<Served>, body: Body<Change>) -> Response {
    match sent(body) {
        Ok(change) => act(served, move |desk| desk.change(&change, false)).await,
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Drag {
    kind: PlaceKind,
    name: String,
    column: f64,
    row: f64,
    /// Whether the hand still holds it.
    #[serde(default)]
    passing: bool,
}

/// Moves a site or a post to a point of the board.
pub(super) async fn drag(State(served): State<Served>, body: Body<Drag>) -> Response {
    let Drag { kind, name, column, row, passing } = match sent(body) {
        Ok(drag) => drag,
        Err(refusal) => return *refusal,
    };
    act(served, move |desk| {
        let board = Arc::clone(&desk.lock().board);
        let at = board
            .place(column, row)
            .ok_or_else(|| Refused::Now("that point is off the map".to_owned()))?;
        desk.change(&Change::Place { kind, name, at: degrees(at) }, passing)
    })
    .await
}

/// Looks at another site or channel.
pub(super) async fn look(State(served): State<Served>, body: Body<Look>) -> Response {
    match sent(body) {
        Ok(look) => act(served, move |desk| desk.look(look)).await,
        Err(refusal) => *refusal,
    }
}

/// Goes one state back.
pub(super) async fn undo(State(served): State<Served>) -> Response {
    act(served, |desk| desk.step(-1)).await
}

/// Goes one state on again.
pub(super) async fn redo(State(served): State<Served>) -> Response {
    act(served, |desk| desk.step(1)).await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Name {
    name: String,
}

/// Keeps the state as a variant.
pub(super) async fn keep(State(served): State<Served>, body: Body<Name>) -> Response {
    match sent(body) {
        Ok(Name { name }) => act(served, move |desk| desk.keep(&name)).await,
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Number {
    id: u64,
}

/// Forgets a variant.
pub(super) async fn drop_variant(State(served): State<Served>, body: Body<Number>) -> Response {
    match sent(body) {
        Ok(Number { id }) => act(served, move |desk| desk.drop_variant(id)).await,
        Err(refusal) => *refusal,
    }
}

/// Continues from a variant.
pub(super) async fn take_up(State(served): State<Served>, body: Body<Number>) -> Response {
    match sent(body) {
        Ok(Number { id }) => act(served, move |desk| desk.take_up(id)).await,
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Over {
    over: bool,
}

/// Saves the plan to its file.
pub(super) async fn save(State(served): State<Served>, body: Body<Over>) -> Response {
    match sent(body) {
        Ok(Over { over }) => act(served, move |desk| Ok(json!({ "note": desk.save(over)? }))).await,
        Err(refusal) => *refusal,
    }
}

/// Saves the plan to a new file.
pub(super) async fn save_as(State(served): State<Served>, body: Body<Name>) -> Response {
    match sent(body) {
        Ok(Name { name }) => {
            act(served, move |desk| Ok(json!({ "note": desk.save_as(&name)? }))).await
        }
        Err(refusal) => *refusal,
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Offered {
    id: usize,
}

/// Continues from unsaved text of an earlier page.
pub(super) async fn recover(State(served): State<Served>, body: Body<Offered>) -> Response {
    match sent(body) {
        Ok(Offered { id }) => act(served, move |desk| desk.recover(id)).await,
        Err(refusal) => *refusal,
    }
}

/// Removes unsaved text of an earlier page.
pub(super) async fn discard(State(served): State<Served>, body: Body<Offered>) -> Response {
    match sent(body) {
        Ok(Offered { id }) => act(served, move |desk| desk.discard(id)).await,
        Err(refusal) => *refusal,
    }
}

/// Reloads the file.
pub(super) async fn reload(State(served): State<Served>) -> Response {
    act(served, Desk::reload).await
}

/// Where a path ends: at a post, or at a point of the board.
#[derive(Deserialize)]
pub(super) struct PathEnd {
    post: Option<String>,
    column: Option<f64>,
    row: Option<f64>,
}

impl PathEnd {
    /// The end on the desk's board.
    pub(super) fn on(self, desk: &Desk) -> Result<End, Refused> {
        if let Some(post) = self.post {
            return Ok(End::Post(post));
        }
        let place = self.column.zip(self.row);
        place
            .and_then(|(column, row)| desk.lock().board.place(column, row))
            .map(End::Here)
            .ok_or_else(|| Refused::Now("that point is off the map".to_owned()))
    }
}

/// The budgets of the path from the station to a point.
pub(super) async fn path(State(served): State<Served>, Query(end): Query<PathEnd>) -> Response {
    act(served, move |desk| {
        let end = end.on(desk)?;
        let (opened, look) = {
            let state = desk.lock();
            (Arc::clone(&state.opened), state.look.clone())
        };
        let study = path_to(&opened, &look, &end).map_err(Refused::Now)?;
        Ok(json!({
            "title": format!("{} to {} on {}", study.from.name, study.to.name, study.channel),
            "at": degrees(study.to.at),
            "text": path_tables(&study, opened.plan.units).long(),
        }))
    })
    .await
}
