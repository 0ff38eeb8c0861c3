//! The page on which a folder gets its first plan.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use maud::{DOCTYPE, Markup, html};
use perchline_pages::BEGINNING;
use perchline_start::{elevation_in, found_in};
use serde::{Deserialize, Serialize};
use serde_json::json;
use tokio::sync::Notify;

use super::actions::{Body, refuse, sent};
use super::draw::FileName;
use super::upload::Upload;
use super::{LOOK_EVERY, Listener, MOST_BYTES, connections, guard, page};

/// From the answer that a plan is made to the end of this page: the answer is on its
/// way by then.
const REST: Duration = Duration::from_millis(300);

/// What a person has said of the plan that is wanted, as it was typed.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// What the event is called; empty where nothing was typed.
    pub name: String,
    /// The elevation.
    pub elevation: Option<PathBuf>,
    /// The middle of the event; empty where nothing was typed.
    pub centre: String,
    /// How far it reaches; empty where nothing was typed.
    pub radius: String,
    /// A file of its route and posts.
    pub places: Option<PathBuf>,
}

/// Why no plan was made.
#[derive(Debug, Clone, Default, Serialize)]
pub struct NotBegun {
    /// The field that has to change: `name`, `elevation`, `centre`, `radius` or
    /// `places`; empty where it is none of these.
    pub field: &'static str,
    /// What is wrong and what to do.
    pub text: String,
}

/// Makes a plan of what is wanted and writes it.
type Make = dyn Fn(&Wanted) -> Result<(), NotBegun> + Send + Sync;

/// A folder that has no plan yet.
pub struct Beginning {
    /// The folder.
    pub folder: PathBuf,
    /// What makes the plan in it.
    pub make: Box<Make>,
}

/// What the handlers share.
#[derive(Clone)]
struct Begun {
    beginning: Arc<Beginning>,
    /// The file of places that was sent last, with its number.
    sent: Arc<Mutex<(u64, Option<Upload>)>>,
    /// Held while a plan is made: there is one to be made.
    making: Arc<Mutex<bool>>,
    made: Arc<Notify>,
}

impl Listener {
    /// Serves the page on which `beginning` gets its plan, until it has one or `stop`
    /// is set. Tells which.
    ///
    /// # Errors
    /// [`io::Error`] when the server cannot run.
    pub fn begin(&self, beginning: Beginning, stop: &AtomicBool) -> io::Result<bool> {
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
        let begun = Begun {
            beginning: Arc::new(beginning),
            sent: Arc::default(),
            making: Arc::default(),
            made: Arc::default(),
        };
        let made = Arc::clone(&begun.made);
        let socket = self.socket.try_clone()?;
        let done = runtime.block_on(async {
            let listener = tokio::net::TcpListener::from_std(socket)?;
            let routes = routes(begun, self.door());
            tokio::select! {
                () = connections::accept(&listener, &routes) => Ok(false),
                () = made.notified() => {
                    tokio::time::sleep(REST).await;
                    Ok(true)
                }
                () = until(stop) => Ok(false),
            }
        });
        runtime.shutdown_timeout(REST);
        done
    }
}

async fn until(stop: &AtomicBool) {
    while !stop.load(Ordering::Relaxed) {
        tokio::time::sleep(LOOK_EVERY / 8).await;
    }
}

fn routes(begun: Begun, door: guard::Door) -> Router {
    Router::new()
        .route("/{token}/", get(form))
        .route("/{token}/live.css", get(page::style))
        .route("/{token}/start.js", get(script))
        .route("/{token}/start.css", get(style))
        .route("/{token}/state", get(not_yet))
        .route("/{token}/elevation", get(elevation))
        .route("/{token}/read", post(read))
        .route("/{token}/begin", post(begin))
        .layer(axum::middleware::from_fn_with_state(door, guard::guard))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .with_state(begun)
}

/// There is no desk before there is a plan.
async fn not_yet() -> StatusCode {
    StatusCode::NO_CONTENT
}

async fn script() -> Response {
    ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], BEGINNING.script).into_response()
}

async fn style() -> Response {
    ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], BEGINNING.style).into_response()
}

/// The page; nothing on it is from a file but the folder's name.
async fn form(State(begun): State<Begun>) -> Response {
    let folder = begun.beginning.folder.display().to_string();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (page::head("Perchline: a first plan", &["live.css", "start.css"]))
            body class="start" {
                noscript { p class="bar" { "This page needs JavaScript." } }
                header class="bar" {
                    h1 { "A first plan" }
                    p id="file" { (folder) " has no plan yet." }
                }
                main { (fields()) }
                script src="start.js" {}
            }
        }
    };
    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], page.into_string()).into_response()
}

fn fields() -> Markup {
    let wrong = |field: &str| {
        html! { p id=(format!("{field}-wrong")) class="wrong" role="alert" hidden {} }
    };
    html! {
        form id="start" {
            section {
                h2 { "Event" }
                label { "Name of the event"
                    input id="name" autocomplete="off" maxlength="80" aria-describedby="name-wrong";
                }
                (wrong("name"))
            }
            section {
                h2 { "Elevation" }
                fieldset id="elevation" aria-describedby="elevation-wrong" {
                    legend { "Found in the folder" }
                    p { "Looking…" }
                }
                (wrong("elevation"))
                button type="button" id="again" { "Look again" }
            }
            section {
                h2 { "Place" }
                p class="hint" { "Drop a file of the route and the posts here, or choose it: GPX, KML, GeoJSON, or CSV with columns name, lat and lon; 8 MB at most." }
                div class="buttons" {
                    label for="places" class="button" { "Choose a file" }
                    input type="file" id="places" class="away" accept=".gpx,.kml,.geojson,.json,.csv" aria-describedby="places-wrong";
                }
                p id="places-found" role="status" {}
                (wrong("places"))
                p class="hint" { "Or say where the middle is: in degrees, UTM, MGRS or as a Maidenhead locator." }
                div class="fields" {
                    label { "Centre"
                        input id="centre" autocomplete="off" spellcheck="false" aria-describedby="centre-wrong";
                    }
                    label { "Radius, such as 3 km"
                        input id="radius" autocomplete="off" spellcheck="false" aria-describedby="radius-wrong";
                    }
                }
                (wrong("centre"))
                (wrong("radius"))
            }
            section {
                p id="wrong" class="wrong" role="alert" hidden {}
                button type="submit" id="make" { "Make the plan" }
                p id="said" role="status" {}
                p class="hint" { "The plan is a text file in this folder. Nothing that is there is overwritten." }
            }
        }
    }
}

/// Elevation that lies in the folder.
async fn elevation(State(begun): State<Begun>) -> Response {
    let found = tokio::task::spawn_blocking(move || {
        let folder = &begun.beginning.folder;
        let found = elevation_in(folder);
        let names = found.iter().map(|file| name_in(folder, file)).collect::<Vec<_>>();
        json!({ "files": names })
    });
    match found.await {
        Ok(found) => Json(found).into_response(),
        Err(error) => refuse(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()),
    }
}

/// How a file of the folder is called on the page.
fn name_in(folder: &Path, file: &Path) -> String {
    let name = file.strip_prefix(folder).unwrap_or(file).display().to_string();
    if file.is_dir() { format!("{name}/") } else { name }
}

/// Keeps a file of places that was sent, and tells what it has.
async fn read(
    State(begun): State<Begun>,
    Query(FileName { name }): Query<FileName>,
    bytes: Bytes,
) -> Response {
    let read = tokio::task::spawn_blocking(move || {
        let upload = Upload::keep(&begun.beginning.folder, &name, &bytes)?;
        let found = found_in(upload.path(), []).map_err(|error| upload.told(error))?;
        let mut sent = begun.sent.lock().unwrap_or_else(PoisonError::into_inner);
        let told = json!({
            "id": sent.0 + 1,
            "file": upload.name,
            "routes": found.routes.len(),
            "areas": found.areas.len(),
            "posts": found.posts.len(),
            "sites": found.sites.len(),
            "notes": found.notes,
        });
        *sent = (sent.0 + 1, Some(upload));
        Ok::<_, String>(told)
    });
    match read.await {
        Ok(Ok(told)) => Json(told).into_response(),
        Ok(Err(text)) => refuse(StatusCode::UNPROCESSABLE_ENTITY, text),
        Err(error) => refuse(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()),
    }
}

/// What the form holds.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Form {
    name: String,
    /// As `elevation` has named it.
    elevation: Option<String>,
    centre: String,
    radius: String,
    /// Number of the file that was sent.
    places: Option<u64>,
}

/// Makes the plan.
async fn begin(State(begun): State<Begun>, body: Body<Form>) -> Response {
    let form = match sent(body) {
        Ok(form) => form,
        Err(refusal) => return *refusal,
    };
    match tokio::task::spawn_blocking(move || made(&begun, form)).await {
        Ok(Ok(())) => Json(json!({ "made": true })).into_response(),
        Ok(Err(wrong)) => (StatusCode::UNPROCESSABLE_ENTITY, Json(wrong)).into_response(),
        Err(error) => refuse(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()),
    }
}

fn made(begun: &Begun, form: Form) -> Result<(), NotBegun> {
    let wrong = |field, text: &str| NotBegun { field, text: text.to_owned() };
    // Two pages may be open: the second finds the plan made.
    let mut is_made = begun.making.lock().unwrap_or_else(PoisonError::into_inner);
    if *is_made {
        return Ok(());
    }
    let folder = &begun.beginning.folder;
    let Some(name) = form.elevation else {
        return Err(wrong(
            "elevation",
            "a plan needs elevation of its place: put a file of it into the folder, a GeoTIFF say, and press \"Look again\"",
        ));
    };
    // No other path than those that were found is read.
    let found = elevation_in(folder).into_iter().find(|file| name_in(folder, file) == name);
    let Some(elevation) = found else {
        return Err(wrong(
            "elevation",
            "this file is not there any more, or cannot be read as elevation: press \"Look again\"",
        ));
    };
    let held = begun.sent.lock().unwrap_or_else(PoisonError::into_inner);
    let places = match (form.places, &*held) {
        (None, _) => None,
        (Some(id), (number, Some(upload))) if id == *number => Some(upload),
        (Some(_), _) => {
            return Err(wrong("places", "another file was sent meanwhile: choose this one again"));
        }
    };
    let wanted = Wanted {
        name: form.name,
        elevation: Some(elevation),
        centre: form.centre,
        radius: form.radius,
        places: places.map(|upload| upload.path().to_owned()),
    };
    (begun.beginning.make)(&wanted).map_err(|wrong| match places {
        Some(upload) => NotBegun { text: upload.told(&wrong.text), ..wrong },
        None => wrong,
    })?;
    drop(held);
    *is_made = true;
    begun.made.notify_one();
    Ok(())
}
