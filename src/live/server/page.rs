//! The page itself.

use axum::http::header;
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, html};

use crate::pages::LIVE;

/// The page; what is in it comes from `state`.
pub(super) async fn page() -> Response {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Coverage at the desk" }
                link rel="stylesheet" href="live.css";
                link rel="icon" href="data:,";
            }
            body {
                noscript { p { "This page needs JavaScript: it moves things about." } }
                main id="desk" {}
                script src="live.js" {}
            }
        }
    };
    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], page.into_string()).into_response()
}

/// Its script.
pub(super) async fn script() -> Response {
    let kind = [(header::CONTENT_TYPE, "text/javascript; charset=utf-8")];
    (kind, LIVE.script).into_response()
}

/// Its style sheet.
pub(super) async fn style() -> Response {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], LIVE.style).into_response()
}
