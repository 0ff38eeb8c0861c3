//! The plan at hand, served from a copy of the sample.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use perchline::assessment::{self, Assessment};
use perchline::live::desk::{Desk, first_look};
use perchline::live::file::PlanFile;
use perchline::live::opening::Opening;
use perchline::live::server::Listener;
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

/// A small plan on plain ground, whose picture takes no time.
pub fn small() -> Copy {
    let folder = tempfile::tempdir().unwrap();
    super::write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 20.0);
    let plan = folder.path().join("plan.toml");
    fs::write(&plan, super::PLAN.replace("[map]\n", "[map]\ncell = \"120 m\"\n")).unwrap();
    Copy { folder, plan }
}

/// `perchline live` as a person starts it, killed with this.
pub struct Program {
    /// The process.
    pub child: Child,
    /// What it printed first.
    pub printed: Value,
    /// The page's address, with the slash at its end.
    pub url: String,
    said: Arc<Mutex<String>>,
    reader: Option<JoinHandle<()>>,
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Program {
    /// Starts it on `plan.toml` in this folder.
    pub fn start(folder: &Path) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
        command.args(["live", "plan.toml", "--port", "0", "--json"]).current_dir(folder);
        Self::run(command)
    }

    /// Starts it on a folder.
    pub fn start_in(folder: &Path) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
        command.arg("live").arg(folder).args(["--port", "0", "--json"]);
        // The time by which other runs say what is tomorrow.
        command.env("SOURCE_DATE_EPOCH", "1790000000");
        Self::run(command)
    }

    /// Sends a file as a page does; the answer's status and what it says.
    pub fn send_file(&self, what: &str, name: &str, bytes: &[u8]) -> (u16, Value) {
        let request = agent().post(format!("{}{what}?name={name}", self.url));
        let mut answer =
            request.header("content-type", "application/octet-stream").send(bytes).unwrap();
        let said = answer.body_mut().read_to_vec().unwrap();
        (answer.status().as_u16(), serde_json::from_slice(&said).unwrap())
    }

    /// Runs a command that becomes it, with `--json`.
    pub fn run(mut command: Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let said = Arc::new(Mutex::new(String::new()));
        let mut errors = BufReader::new(child.stderr.take().unwrap());
        let reader = {
            let said = Arc::clone(&said);
            std::thread::spawn(move || {
                let mut line = String::new();
                while errors.read_line(&mut line).unwrap_or(0) > 0 {
                    said.lock().unwrap().push_str(&line);
                    line.clear();
                }
            })
        };
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let printed: Value = serde_json::from_str(&line)
            .unwrap_or_else(|e| panic!("{e}: {line:?} {}", said.lock().unwrap()));
        let url = printed["address"].as_str().unwrap().to_owned();
        Self { child, printed, url, said, reader: Some(reader) }
    }

    /// What it has said aside so far.
    pub fn said(&self) -> String {
        self.said.lock().unwrap().clone()
    }

    /// Asks for something.
    pub fn get(&self, what: &str) -> Value {
        let mut answer = agent().get(format!("{}{what}", self.url)).call().unwrap();
        serde_json::from_slice(&answer.body_mut().read_to_vec().unwrap()).unwrap()
    }

    /// Asks for a change; the answer's status and what it says.
    pub fn post(&self, what: &str, body: &Value) -> (u16, Value) {
        let request = agent().post(format!("{}{what}", self.url));
        let mut answer =
            request.header("content-type", "application/json").send(body.to_string()).unwrap();
        let said = answer.body_mut().read_to_vec().unwrap();
        (answer.status().as_u16(), serde_json::from_slice(&said).unwrap())
    }

    /// Gives the hotel's mast another height.
    pub fn mast(&self, height: &str) {
        let change = json!({ "change": "mast", "site": "Hotel", "height": height });
        let (status, said) = self.post("change", &change);
        assert_eq!(status, 200, "{said}");
    }

    /// Ends it as a kill does, without notice.
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Ends it as the keyboard does; how it ended and all that it said.
    pub fn interrupt(mut self) -> (ExitStatus, String) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
        let status = self.child.wait().unwrap();
        self.reader.take().unwrap().join().unwrap();
        (status, self.said())
    }
}

fn agent() -> ureq::Agent {
    ureq::Agent::config_builder()
        .http_status_as_error(false)
        .timeout_global(Some(Duration::from_secs(60)))
        .build()
        .into()
}

/// Waits until something holds.
pub fn wait_for(what: &str, within: Duration, mut holds: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !holds() {
        assert!(begun.elapsed() < within, "{what}: not within {within:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
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
        self.desk.end();
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
    let file = PlanFile::open(&copy.plan).unwrap();
    let mut plan = assessment::read(&copy.plan).unwrap();
    if let Some(file) = &calibration {
        plan.calibrate(file).unwrap();
    }
    let opened = Assessment::new(plan, &[]).unwrap();
    let opening = Opening::asked(first_look(&opened).unwrap());
    let desk = Desk::open(file, opened, opening, calibration).unwrap();
    let listener = Listener::bind(0).unwrap();
    let address = listener.address().clone();
    let stop = Arc::new(AtomicBool::new(false));
    let server = {
        let (desk, stop) = (Arc::clone(&desk), Arc::clone(&stop));
        std::thread::spawn(move || listener.serve(&desk, &stop, |_| ()).unwrap())
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
        self.send(what, "application/json", body.as_bytes())
    }

    /// Sends a file as a page does.
    pub fn send_file(&self, what: &str, name: &str, bytes: &[u8]) -> Answer {
        self.send(&format!("{what}?name={name}"), "application/octet-stream", bytes)
    }

    fn send(&self, what: &str, kind: &str, bytes: &[u8]) -> Answer {
        let mut answer = self
            .agent
            .post(format!("{}/{what}", self.url))
            .header("content-type", kind)
            .send(bytes)
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
