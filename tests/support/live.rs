//! The plan at hand, served from a copy of the sample.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use perchline::live::desk::{Desk, first_look};
use perchline::live::server::Listener;
use perchline::opened::{self, Opened};
use serde_json::{Value, json};

/// A copy of the sample in a folder of its own.
pub struct Copy {
    /// The folder, gone with this.
    pub folder: tempfile::TempDir,
    /// The plan in it.
    pub plan: PathBuf,
}

/// Copies the sample's files, its plan as `edit` makes it.
pub fn copy(name: &str, edit: impl Fn(String) -> String) -> Copy {
    let folder = tempfile::tempdir().unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    for entry in fs::read_dir(&sample).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|x| x == "tif" || x == "geojson") {
            fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
        }
    }
    let plan = folder.path().join("plan.toml");
    fs::write(&plan, edit(fs::read_to_string(sample.join(name)).unwrap())).unwrap();
    Copy { folder, plan }
}

/// A desk with its server in a thread, ended with this.
pub struct Served {
    /// The copy of the sample that is served.
    pub copy: Copy,
    /// The desk.
    pub desk: Arc<Desk>,
    /// The page's address, without the slash at its end.
    pub url: String,
    /// The port.
    pub port: u16,
    stop: Arc<AtomicBool>,
    server: Option<JoinHandle<()>>,
    agent: ureq::Agent,
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(server) = self.server.take() {
            let _ = server.join();
        }
    }
}

/// Serves the sample as it is.
pub fn serve() -> Served {
    serve_copy(copy("ferry-lights.toml", |text| text))
}

/// Serves a copy of it.
pub fn serve_copy(copy: Copy) -> Served {
    serve_with(copy, None)
}

/// The same with the corrections in this file.
pub fn serve_with(copy: Copy, calibration: Option<PathBuf>) -> Served {
    let mut plan = opened::read(&copy.plan).unwrap();
    if let Some(file) = &calibration {
        plan.calibrate(file).unwrap();
    }
    let opened = Opened::new(plan, &[]).unwrap();
    let look = first_look(&opened).unwrap();
    let desk = Desk::open(opened, look, calibration).unwrap();
    let listener = Listener::bind(0).unwrap();
    let address = listener.address().clone();
    let stop = Arc::new(AtomicBool::new(false));
    let server = {
        let (desk, stop) = (Arc::clone(&desk), Arc::clone(&stop));
        std::thread::spawn(move || listener.serve(&desk, &stop).unwrap())
    };
    let agent = ureq::Agent::config_builder().http_status_as_error(false).build().into();
    Served {
        copy,
        desk,
        url: address.url.trim_end_matches('/').to_owned(),
        port: address.port,
        stop,
        server: Some(server),
        agent,
    }
}

/// An answer: its status, what its head says of the coverage, its body.
#[derive(Debug)]
pub struct Answer {
    /// The HTTP status.
    pub status: u16,
    /// Number of the state that a picture is of.
    pub aim: u64,
    /// How far that picture has come.
    pub stage: String,
    /// The body.
    pub body: Vec<u8>,
}

impl Answer {
    /// The body as JSON.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&self.body)))
    }
}

impl Served {
    /// Fetches something.
    pub fn get(&self, what: &str) -> Answer {
        let mut answer = self.agent.get(format!("{}/{what}", self.url)).call().unwrap();
        let head = |name: &str| {
            let value = answer.headers().get(name);
            value.map_or("", |v| v.to_str().unwrap()).to_owned()
        };
        let (aim, stage) = (head("x-aim").parse().unwrap_or(0), head("x-stage"));
        let status = answer.status().as_u16();
        let body = answer.body_mut().with_config().limit(64 << 20).read_to_vec().unwrap();
        Answer { status, aim, stage, body }
    }

    /// Asks for a change, in JSON.
    pub fn post(&self, what: &str, body: &Value) -> Answer {
        self.post_text(what, &body.to_string())
    }

    /// Sends whatever this is, as JSON.
    pub fn post_text(&self, what: &str, body: &str) -> Answer {
        let mut answer = self
            .agent
            .post(format!("{}/{what}", self.url))
            .header("content-type", "application/json")
            .send(body)
            .unwrap();
        let status = answer.status().as_u16();
        let body = answer.body_mut().read_to_vec().unwrap();
        Answer { status, aim: 0, stage: String::new(), body }
    }

    /// The state once its picture and its posts are complete.
    pub fn settled(&self) -> Value {
        let begun = Instant::now();
        loop {
            let state = self.get("state").json();
            if state["stage"] == "scored" {
                return state;
            }
            assert!(state["trouble"].is_null(), "{}", state["trouble"]);
            assert!(begun.elapsed() < Duration::from_secs(120), "{}", state["stage"]);
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Moves a site to a point of the board.
    pub fn drag(&self, site: &str, column: f64, row: f64, passing: bool) {
        let to = json!({
            "kind": "site", "name": site, "column": column, "row": row, "passing": passing,
        });
        let answer = self.post("drag", &to);
        assert_eq!(answer.status, 200, "{}", answer.json());
    }

    /// Sends a request as it stands and returns the answer's head and body.
    pub fn raw(&self, request: &str) -> String {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// The path of the page, with its token.
    pub fn path(&self) -> &str {
        self.url.splitn(4, '/').nth(3).unwrap()
    }
}
