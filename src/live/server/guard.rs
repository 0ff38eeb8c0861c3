//! Who is answered.

use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, FromRequest, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::actions::refuse;
use super::connections::Caller;
use super::upload::{MOST_FILE_BYTES, SENT_AS, SENT_TO};
use super::{BODY_TIME, MOST_BYTES, draw};

/// What a page may load and do: its own scripts, styles and pictures.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
    img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; \
    frame-ancestors 'none'";

/// Who is answered: whoever knows the token, at this port.
#[derive(Debug, Clone)]
pub(super) struct Door {
    pub token: Arc<str>,
    pub port: u16,
}

/// Lets through what comes from a page of this server, and nothing else.
pub(super) async fn guard(State(door): State<Door>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&door, &request) {
        Some(refusal) => refusal.into_response(),
        None => {
            if let Some(caller) = request.extensions().get::<Caller>() {
                caller.has_shown_the_address();
            }
            match whole(request).await {
                Ok(request) => next.run(request).await,
                Err(refusal) => *refusal,
            }
        }
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::CACHE_CONTROL, "no-store"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.insert("cross-origin-resource-policy", HeaderValue::from_static("same-origin"));
    headers.insert("cross-origin-opener-policy", HeaderValue::from_static("same-origin"));
    response
}

/// The request with all of its body, if that comes in time.
async fn whole(request: Request) -> Result<Request, Box<Response>> {
    let mut request = request;
    let is_file = is_file(&request);
    if is_file {
        DefaultBodyLimit::max(MOST_FILE_BYTES).apply(&mut request);
    }
    let (head, body) = request.into_parts();
    let body = Bytes::from_request(Request::from_parts(head.clone(), body), &());
    match tokio::time::timeout(BODY_TIME, body).await {
        Ok(Ok(body)) => Ok(Request::from_parts(head, Body::from(body))),
        Ok(Err(error)) if error.status() == StatusCode::PAYLOAD_TOO_LARGE => Err(Box::new(refuse(
            error.status(),
            if is_file {
                draw::too_large(MOST_FILE_BYTES)
            } else {
                format!("the request is too long: {} KiB are the most", MOST_BYTES / 1024)
            },
        ))),
        Ok(Err(error)) => Err(Box::new(refuse(error.status(), error.body_text()))),
        Err(_) => Err(Box::new(refuse(
            StatusCode::REQUEST_TIMEOUT,
            format!("the request did not come whole within {} seconds", BODY_TIME.as_secs()),
        ))),
    }
}

/// Why a request is not answered.
fn refusal(door: &Door, request: &Request) -> Option<(StatusCode, &'static str)> {
    let headers = request.headers();
    let elsewhere = (StatusCode::MISDIRECTED_REQUEST, "this address is for this machine only\n");
    let mut hosts = headers.get_all(header::HOST).iter();
    let (Some(host), None) = (hosts.next(), hosts.next()) else {
        return Some((StatusCode::BAD_REQUEST, "a request names its host once\n"));
    };
    // A name that another site has pointed at this machine gets nothing.
    if !is_own(Some(host), "", door.port) {
        return Some(elsewhere);
    }
    // Written out as to a proxy: for this host, and no other than the header's.
    let target = (request.uri().scheme_str(), request.uri().authority());
    match target {
        (None, None) => {}
        (Some("http"), Some(authority)) if authority.as_str().as_bytes() == host.as_bytes() => {}
        _ => return Some(elsewhere),
    }
    let token = request.uri().path().split('/').nth(1).unwrap_or_default();
    if token != &*door.token {
        return Some((
            StatusCode::NOT_FOUND,
            "nothing here: use the whole address that perchline printed\n",
        ));
    }
    let kind = if is_file(request) { SENT_AS } else { "application/json" };
    (request.method() != Method::GET && !sent_from_here(headers, kind, door.port)).then_some((
        StatusCode::FORBIDDEN,
        "changes are taken from this machine's own page alone, as application/json\n",
    ))
}

/// Whether a file is sent.
fn is_file(request: &Request) -> bool {
    request.uri().path().ends_with(SENT_TO)
}

/// Whether a change was sent by a page of this server, or by no page at all. Pages of
/// other sites may not send this `kind` of content without asking first.
fn sent_from_here(headers: &HeaderMap, kind: &str, port: u16) -> bool {
    let origin = headers.get(header::ORIGIN);
    let as_asked = headers
        .get(header::CONTENT_TYPE)
        .and_then(|found| found.to_str().ok())
        .is_some_and(|found| found.split(';').next().map(str::trim) == Some(kind));
    as_asked && (origin.is_none() || is_own(origin, "http://", port))
}

fn is_own(value: Option<&HeaderValue>, scheme: &str, port: u16) -> bool {
    let value = value.and_then(|v| v.to_str().ok()).and_then(|v| v.strip_prefix(scheme));
    value.is_some_and(|host| {
        host == format!("127.0.0.1:{port}") || host == format!("localhost:{port}")
    })
}
