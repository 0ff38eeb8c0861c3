//! Requests to the page's server. A case is one request in bytes, with `{TOKEN}`,
//! `{PORT}` and, for the body's, `{LENGTH}`. One that is whole goes over a connection that
//! stays; any other over one of its own, which is then shut for writing.

use std::fmt::Write as _;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::time::Duration;

use super::harness::{Reader, Seen, must, scratch, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;
use super::support::live::{Copy, Served, serve_copy};
use super::support::{PLAN, write_plan_raster};

const TOKENS: &[&str] = &[
    "GET ",
    "POST ",
    "PUT ",
    "OPTIONS ",
    "HEAD ",
    "CONNECT ",
    "TRACE ",
    "PRI * HTTP/2.0",
    "/{TOKEN}/",
    "/{TOKEN}",
    "{TOKEN}",
    "{PORT}",
    "state",
    "events",
    "change",
    "drag",
    "look",
    "undo",
    "redo",
    "keep",
    "drop",
    "take-up",
    "recover",
    "discard",
    "save",
    "reload",
    "path?",
    "variant.png?id=",
    "difference.png?from=",
    "&to=",
    "land.png",
    "lines.png",
    "coverage.png",
    "live.js",
    "live.css",
    "post=",
    "column=",
    "row=",
    " HTTP/1.1\r\n",
    " HTTP/1.0\r\n",
    " HTTP/9.9\r\n",
    "\r\n",
    "\r\n\r\n",
    "host: ",
    "127.0.0.1:{PORT}",
    "localhost:{PORT}",
    "evil.example",
    "origin: ",
    "http://127.0.0.1:{PORT}",
    "null",
    "content-type: application/json",
    "content-type: text/plain",
    "content-length: {LENGTH}\r\n",
    "content-length: ",
    "transfer-encoding: chunked\r\n",
    "connection: close\r\n",
    "upgrade: h2c\r\n",
    "expect: 100-continue\r\n",
    "x: y\r\n",
    "5\r\nhello\r\n0\r\n\r\n",
    "%2e%2e",
    "%00",
    "%",
    "//",
    "..",
    "?",
    "#",
    "{\"change\":\"place\"",
    "\"kind\":\"site\"",
    "\"kind\":\"post\"",
    "\"name\":",
    "\"at\":",
    "\"site\":",
    "\"channel\":",
    "\"mast\"",
    "\"height\":",
    "\"power\"",
    "\"radio\":",
    "\"carry\"",
    "\"method\"",
    "\"passing\":true",
    "\"column\":",
    "\"row\":",
    "\"id\":",
    "\"over\":true",
    "\"Hotel\"",
    "\"Silo\"",
    "\"Aid 1\"",
    "\"Event\"",
    "{",
    "}",
    "[",
    "]",
    ",",
    ":",
    "\"",
    "\\u0000",
    "\\ud800",
    "1e999",
];

/// What takes a body, with one that is good.
const CHANGES: &[(&str, &str)] = &[
    (
        "change",
        "{\"change\":\"place\",\"kind\":\"post\",\"name\":\"Aid 1\",\"at\":\"47.001, -34.899\"}",
    ),
    ("change", "{\"change\":\"mast\",\"site\":\"Hotel\",\"height\":\"6 m\"}"),
    ("change", "{\"change\":\"power\",\"radio\":\"relay\",\"power\":\"10 W\"}"),
    ("change", "{\"change\":\"carry\",\"radio\":\"hand-held\",\"carry\":\"hip\"}"),
    ("change", "{\"change\":\"method\",\"method\":\"free-space\"}"),
    ("drag", "{\"kind\":\"site\",\"name\":\"Silo\",\"column\":3.5,\"row\":2,\"passing\":true}"),
    ("look", "{\"site\":\"Silo\",\"channel\":\"Event\"}"),
    ("undo", "{}"),
    ("redo", "{}"),
    ("keep", "{\"name\":\"as it was\"}"),
    ("drop", "{\"id\":1}"),
    ("take-up", "{\"id\":1}"),
    ("recover", "{\"id\":0}"),
    ("discard", "{\"id\":0}"),
    ("save", "{\"over\":true}"),
    ("reload", "{}"),
];

const LOOKS: &[&str] = &[
    "",
    "live.js",
    "live.css",
    "state",
    "land.png",
    "lines.png",
    "coverage.png",
    "variant.png?id=1",
    "difference.png?from=0&to=1",
    "path?post=Aid%201",
    "path?column=3&row=4",
    "events",
];

/// Cases on one desk: its history does not run on for ever.
const CASES_OF_A_DESK: u32 = 2000;

pub fn reader() -> Reader<'static> {
    let mut seeds: Vec<Vec<u8>> = CHANGES.iter().map(|(what, body)| post(what, body)).collect();
    seeds.extend(LOOKS.iter().map(|what| get(what)));
    let mut server = Server::new();
    Reader {
        name: "requests",
        seeds,
        tokens: TOKENS,
        fresh,
        strict: false,
        check: Box::new(move |case| server.check(case)),
    }
}

fn get(what: &str) -> Vec<u8> {
    format!("GET /{{TOKEN}}/{what} HTTP/1.1\r\nhost: 127.0.0.1:{{PORT}}\r\n\r\n").into_bytes()
}

fn post(what: &str, body: &str) -> Vec<u8> {
    format!(
        "POST /{{TOKEN}}/{what} HTTP/1.1\r\nhost: 127.0.0.1:{{PORT}}\r\ncontent-type: application/json\r\n\
         content-length: {{LENGTH}}\r\n\r\n{body}"
    )
    .into_bytes()
}

fn json(random: &mut Random, depth: usize) -> String {
    match random.below(9) {
        0 => random.pick(NUMBERS).to_owned(),
        1 => serde_json::to_string(random.pick(HOSTILE)).unwrap(),
        2 if depth > 0 => format!("[{}]", json(random, depth - 1)),
        3 if depth > 0 => format!("{{\"name\":{}}}", json(random, depth - 1)),
        4 => (random.pick(&["null", "true", "false", "\"\"", "{}", "[]"])).to_owned(),
        5 => format!("{:.3}", random.number(-1e3, 1e3)),
        _ => {
            let known =
                ["Aid 1", "Hotel", "Silo", "Event", "relay", "hand-held", "hip", "5 W", "9 m"];
            format!("\"{}\"", random.pick(&known))
        }
    }
}

/// A request whose frame is sound and whose body, path or head is not quite.
fn fresh(random: &mut Random) -> Vec<u8> {
    match random.below(5) {
        0 => {
            let query = random.pick(&["id", "from", "to", "post", "column", "row"]);
            let value = random.pick(&[
                "0",
                "1",
                "-1",
                "1e9",
                "nan",
                "inf",
                "",
                "%ff",
                "Aid%201",
                "9999999999999999999999",
            ]);
            let what = random.pick(&[
                "variant.png",
                "difference.png",
                "path",
                "state",
                "%73tate",
                "nothing",
                "../state",
            ]);
            get(&format!("{what}?{query}={value}&row=3"))
        }
        1 => {
            let (what, body) = random.pick(CHANGES);
            let cut = body.split(':').nth(random.below(4)).unwrap_or("").to_owned();
            let value = json(random, 3);
            post(what, &body.replacen(&cut, &value, 1))
        }
        2 => {
            let (what, body) = random.pick(CHANGES);
            let heads = [
                "origin: http://127.0.0.1:{PORT}",
                "origin: null",
                "origin: http://evil.example",
                "cookie: a=b",
                "accept-encoding: gzip",
                "if-none-match: *",
                "range: bytes=0-",
                "x-forwarded-host: evil.example",
                "content-type: text/plain",
            ];
            let mut text = format!("POST /{{TOKEN}}/{what} HTTP/1.1\r\n");
            let host =
                random.pick(&["127.0.0.1:{PORT}", "localhost:{PORT}", "evil.example", "127.0.0.1"]);
            let _ = write!(text, "host: {host}\r\n{}\r\n", random.pick(&heads));
            if random.one_in(2) {
                text.push_str("content-type: application/json; charset=utf-8\r\n");
            }
            let _ = write!(text, "content-length: {{LENGTH}}\r\n\r\n{body}");
            text.into_bytes()
        }
        3 => {
            // Only one field of the body differs from a good one.
            let values = [
                "47.002, -34.89",
                "91, 0",
                "",
                "0 m",
                "9 ft",
                "-1 W",
                "1e9 W",
                "5 W",
                "hip",
                "p1812",
                "free-space",
                "\\u001b[31m",
            ];
            let value = random.pick(&values);
            let body = match random.below(5) {
                0 => format!(
                    "{{\"change\":\"place\",\"kind\":\"site\",\"name\":\"Silo\",\"at\":\"{value}\"}}"
                ),
                1 => format!("{{\"change\":\"mast\",\"site\":\"Hotel\",\"height\":\"{value}\"}}"),
                2 => format!("{{\"change\":\"power\",\"radio\":\"relay\",\"power\":\"{value}\"}}"),
                3 => format!("{{\"change\":\"method\",\"method\":\"{value}\"}}"),
                _ => format!(
                    "{{\"kind\":\"post\",\"name\":\"Aid 2\",\"column\":{},\"row\":{}}}",
                    random.pick(NUMBERS),
                    random.below(60)
                ),
            };
            post(if body.contains("column") { "drag" } else { "change" }, &body)
        }
        _ => {
            let mut text = String::new();
            for _ in 0..random.between(1, 9) {
                text.push_str(if random.one_in(4) {
                    random.pick(HOSTILE)
                } else {
                    random.pick(TOKENS)
                });
            }
            text.into_bytes()
        }
    }
}

/// What a server says to a client that asks before it sends a body.
const CONTINUE: &[u8] = b"HTTP/1.1 100 Continue\r\n\r\n";

struct Server {
    served: Served,
    stream: Option<TcpStream>,
    cases: u32,
}

fn serve() -> Served {
    let folder = scratch();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 20.0);
    let plan = folder.path().join("plan.toml");
    // Few cells: the work behind an answer is not what is looked at here.
    std::fs::write(&plan, PLAN.replace("[map]\n", "[map]\ncell = \"120 m\"\n")).unwrap();
    serve_copy(Copy { folder, plan })
}

/// An answer in full.
struct Answer {
    status: u16,
    head: String,
    body: Vec<u8>,
}

impl Server {
    fn new() -> Self {
        Self { served: serve(), stream: None, cases: 0 }
    }

    fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.served.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.set_write_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.set_nodelay(true).unwrap();
        stream
    }

    fn check(&mut self, case: &[u8]) -> Result<Seen, String> {
        self.cases += 1;
        if self.cases > CASES_OF_A_DESK {
            *self = Self::new();
        }
        let token = self.served.path().trim_end_matches('/').to_owned();
        let port = self.served.port.to_string();
        let request =
            replaced(&replaced(case, b"{TOKEN}", token.as_bytes()), b"{PORT}", port.as_bytes());
        // A body that was changed is of another length.
        let body = head_end(&request).map_or(0, |end| request.len() - end);
        let request = replaced(&request, b"{LENGTH}", body.to_string().as_bytes());
        // The sheet is drawn on terrain read anew: seconds, and not what this is for.
        if request.windows(7).any(|w| w == b"map.png")
            || request.windows(8).any(|w| w == b"path.png")
        {
            return Ok(Seen::Refused);
        }
        let answer =
            if whole(&request) { Some(self.asked(&request)?) } else { self.alone(&request)? };
        // Still there, for whoever asks as one should.
        let state = self.asked(&get_state(&token, &port))?;
        must(state.status == 200, || format!("the state is answered {}", state.status))?;
        let Some(answer) = answer else { return Ok(Seen::Refused) };
        self.sound(&request, &token, &answer)?;
        // Kept for whoever asks why a good request was refused.
        words(&format!(
            "answered {}: {:?}",
            answer.status,
            String::from_utf8_lossy(&answer.body).chars().take(300).collect::<String>()
        ))?;
        Ok(if answer.status < 400 { Seen::Accepted } else { Seen::Refused })
    }

    fn sound(&self, request: &[u8], token: &str, answer: &Answer) -> Result<(), String> {
        let status = answer.status;
        must((200..500).contains(&status), || format!("answered {status}"))?;
        let head = answer.head.to_ascii_lowercase();
        // Bytes that are no HTTP are answered before anything of Perchline is asked.
        let routed = head.contains("content-security-policy: default-src 'none'");
        must(routed || matches!(status, 400 | 414 | 431), || {
            format!("{status} without its policy: {}", answer.head)
        })?;
        must(!head.contains("access-control"), || {
            format!("may be read elsewhere: {}", answer.head)
        })?;
        let named = request.windows(token.len()).any(|w| w == token.as_bytes());
        let plan = answer.body.windows(8).any(|w| w == b"Test run") && status != 200;
        must(!plan && (named || status >= 400), || format!("answered {status} without the token"))?;
        if head.contains("application/json") && !answer.body.is_empty() {
            let value: serde_json::Value = serde_json::from_slice(&answer.body)
                .map_err(|e| format!("no JSON: {e}: {}", String::from_utf8_lossy(&answer.body)))?;
            if status >= 400 {
                let text = value["text"].as_str().ok_or_else(|| format!("no words: {value}"))?;
                must(text.len() > 7, || format!("no words: {value}"))?;
                for problem in value["problems"].as_array().into_iter().flatten() {
                    if let Some(text) = problem["text"].as_str() {
                        words(text)?;
                    }
                }
            }
        }
        Ok(())
    }

    /// Over the connection that stays; again over a new one where it had ended.
    fn asked(&mut self, request: &[u8]) -> Result<Answer, String> {
        for _ in 0..2 {
            let fresh = self.stream.is_none();
            let mut stream = match self.stream.take() {
                Some(stream) => stream,
                None => self.connect(),
            };
            let done = stream.write_all(request).and_then(|()| one_answer(&mut stream));
            match done {
                Ok((answer, stays)) => {
                    if stays {
                        self.stream = Some(stream);
                    }
                    return Ok(answer);
                }
                Err(error) if fresh => {
                    return Err(format!("a sound request gets no answer: {error}"));
                }
                Err(_) => {}
            }
        }
        Err("a sound request gets no answer".to_owned())
    }

    /// Over a connection of its own; nothing where there is no answer at all.
    fn alone(&self, request: &[u8]) -> Result<Option<Answer>, String> {
        let mut stream = self.connect();
        // It may be refused before all of it is there.
        let _ = stream.write_all(request);
        let _ = stream.shutdown(Shutdown::Write);
        let mut bytes = Vec::new();
        let mut part = [0u8; 16_384];
        loop {
            match stream.read(&mut part) {
                Ok(0) => break,
                Ok(read) => bytes.extend_from_slice(&part[..read]),
                Err(e) if e.kind() == std::io::ErrorKind::ConnectionReset => break,
                Err(e) => return Err(format!("the server neither answers nor ends: {e}")),
            }
            // Events come for as long as somebody listens.
            if bytes.windows(17).any(|w| w == b"text/event-stream") {
                return Ok(None);
            }
        }
        // That the body may come is no answer yet.
        let bytes = bytes.strip_prefix(CONTINUE).unwrap_or(&bytes);
        let Some(end) = head_end(bytes) else { return Ok(None) };
        let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
        let status = status(&head)?;
        let length = value(&head, "content-length").and_then(|v| v.parse().ok());
        let body = &bytes[end..];
        let body = &body[..body.len().min(length.unwrap_or(body.len()))];
        // Whatever came after a first answer is not looked at.
        let head_alone = request.starts_with(b"HEAD");
        let body = if head_alone { Vec::new() } else { body.to_vec() };
        Ok(Some(Answer { status, head, body }))
    }
}

fn get_state(token: &str, port: &str) -> Vec<u8> {
    format!("GET /{token}/live.css HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n\r\n").into_bytes()
}

fn replaced(text: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len() + 64);
    let mut at = 0;
    while at < text.len() {
        if text[at..].starts_with(from) {
            out.extend_from_slice(to);
            at += from.len();
        } else {
            out.push(text[at]);
            at += 1;
        }
    }
    out
}

fn head_end(bytes: &[u8]) -> Option<usize> {
    bytes.windows(4).position(|w| w == b"\r\n\r\n").map(|at| at + 4)
}

fn value<'h>(head: &'h str, name: &str) -> Option<&'h str> {
    head.lines().find_map(|line| {
        let (known, value) = line.split_once(':')?;
        known.eq_ignore_ascii_case(name).then(|| value.trim())
    })
}

fn status(head: &str) -> Result<u16, String> {
    let status = head.strip_prefix("HTTP/1.").and_then(|rest| rest.get(2..5)?.parse().ok());
    status.ok_or_else(|| format!("no answer in HTTP: {head:?}"))
}

/// Whether this is a request that any server reads as this one and no more.
fn whole(request: &[u8]) -> bool {
    let Some(end) = head_end(request) else { return false };
    let Ok(head) = std::str::from_utf8(&request[..end]) else { return false };
    let mut lines = head[..end - 4].split("\r\n");
    let first = lines.next().unwrap_or("");
    let parts: Vec<&str> = first.split(' ').collect();
    let [method, path, "HTTP/1.1"] = parts.as_slice() else { return false };
    let plain = |text: &str| text.bytes().all(|b| b.is_ascii_graphic());
    if !matches!(*method, "GET" | "POST")
        || !path.starts_with('/')
        || !plain(path)
        || path.len() > 2000
    {
        return false;
    }
    let mut length = None;
    let mut count = 0;
    for line in lines {
        let Some((name, value)) = line.split_once(": ") else { return false };
        let token =
            !name.is_empty() && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        if !token || !value.bytes().all(|b| (b' '..=b'~').contains(&b)) {
            return false;
        }
        count += 1;
        match name.to_ascii_lowercase().as_str() {
            "transfer-encoding" | "connection" | "upgrade" | "expect" | "trailer" | "te" => {
                return false;
            }
            "content-length" => {
                let digits = value.len() < 7 && value.bytes().all(|b| b.is_ascii_digit());
                if length.is_some() || !digits {
                    return false;
                }
                length = value.parse::<usize>().ok();
            }
            _ => {}
        }
    }
    count < 50 && length.unwrap_or(0) == request.len() - end && !path.contains("events")
}

/// Reads one answer with its length in its head; whether the connection stays.
fn one_answer(stream: &mut TcpStream) -> std::io::Result<(Answer, bool)> {
    let broken = |text: String| std::io::Error::other(text);
    let mut bytes = Vec::new();
    let mut part = [0u8; 16_384];
    let end = loop {
        if let Some(end) = head_end(&bytes) {
            break end;
        }
        let read = stream.read(&mut part)?;
        if read == 0 {
            return Err(broken(format!("ended after {} bytes", bytes.len())));
        }
        bytes.extend_from_slice(&part[..read]);
    };
    let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
    let status = status(&head).map_err(broken)?;
    let length: usize = value(&head, "content-length").and_then(|v| v.parse().ok()).unwrap_or(0);
    while bytes.len() < end + length {
        let read = stream.read(&mut part)?;
        if read == 0 {
            return Err(broken("ended in the middle".to_owned()));
        }
        bytes.extend_from_slice(&part[..read]);
    }
    let stays = !value(&head, "connection").is_some_and(|v| v.eq_ignore_ascii_case("close"));
    Ok((Answer { status, head, body: bytes[end..end + length].to_vec() }, stays))
}
