//! Forms of the plan: how they are built, and what an entry holds.

use axum::Json;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::Served;
use super::actions::act;
use crate::desk::Refused;
use crate::forms::{FormView, declarations};

/// Every table with its fields.
pub(super) async fn declared() -> Response {
    Json(declarations()).into_response()
}

#[derive(Deserialize)]
pub(super) struct Asked {
    table: String,
    name: Option<String>,
}

/// What an entry holds.
pub(super) async fn form(State(served): State<Served>, Query(asked): Query<Asked>) -> Response {
    act(served, move |desk| {
        let Asked { table, name } = &asked;
        let text = desk.lock().text().to_owned();
        FormView::of(&text, table, name.as_deref()).ok_or_else(|| {
            let name = name.as_deref().unwrap_or_default();
            Refused::Now(format!("the plan has no {table} \"{name}\" any more"))
        })
    })
    .await
}
