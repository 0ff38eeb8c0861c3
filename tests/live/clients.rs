//! The plan at hand and clients that stall, flood or forge: none of them keeps the
//! page from whoever has its address.

use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::time::{Duration, Instant};

use crate::support::live::{Program, Served, serve_copy, small, wait_for};
use perchline::live::server::{ANSWER_TIME, BODY_TIME, HEAD_TIME, MOST_CONNECTIONS};
use serde_json::json;

/// What a busy machine may take beyond a limit.
const GRACE: Duration = Duration::from_secs(8);

fn connect(port: u16) -> TcpStream {
    let stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    stream.set_write_timeout(Some(Duration::from_secs(60))).unwrap();
    stream
}

/// Sends this, then waits for the server to close the connection: what it
/// answered, and how long that took.
fn until_closed(port: u16, send: &str) -> (String, Duration) {
    let mut stream = connect(port);
    let begun = Instant::now();
    stream.write_all(send.as_bytes()).unwrap();
    let mut answer = Vec::new();
    match stream.read_to_end(&mut answer) {
        Err(error) if error.kind() != ErrorKind::ConnectionReset => panic!("{error}"),
        _ => {}
    }
    (String::from_utf8_lossy(&answer).into_owned(), begun.elapsed())
}

fn within(took: Duration, bound: Duration) {
    assert!(took + Duration::from_millis(500) > bound, "{took:?} of {bound:?}");
    assert!(took < bound + GRACE, "{took:?} of {bound:?}");
}

/// Listens for revisions over a connection of its own.
fn listen(served: &Served) -> BufReader<TcpStream> {
    let mut stream = connect(served.port);
    let (path, port) = (served.path(), served.port);
    write!(stream, "GET /{path}/events HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n\r\n").unwrap();
    BufReader::new(stream)
}

/// The next line that begins so.
fn next_line(reader: &mut impl BufRead, begin: &str) -> String {
    loop {
        let mut line = String::new();
        assert!(reader.read_line(&mut line).unwrap() > 0, "no {begin:?} comes");
        if line.starts_with(begin) {
            return line;
        }
    }
}

#[test]
fn requests_that_do_not_come_whole_are_cut_and_events_stay() {
    let served = serve_copy(small());
    served.settled();
    let (path, port) = (served.path(), served.port);
    let host = format!("host: 127.0.0.1:{port}\r\n");
    let json = "content-type: application/json\r\ncontent-length: 100\r\n";
    let mut events = listen(&served);
    next_line(&mut events, "data: ");
    let begun = Instant::now();
    std::thread::scope(|threads| {
        // Nothing at all, half a head, a head that goes on for ever.
        for send in [String::new(), format!("GET /{path}/state HTTP/1.1\r\n{host}x: ")] {
            threads.spawn(move || {
                let (answer, took) = until_closed(port, &send);
                assert_eq!(answer, "");
                within(took, HEAD_TIME);
            });
        }
        threads.spawn(|| {
            let mut stream = connect(port);
            let begun = Instant::now();
            write!(stream, "GET /{path}/state HTTP/1.1\r\n{host}").unwrap();
            // A closed connection takes one more piece before it says so.
            while write!(stream, "x: y\r\n").is_ok() {
                assert!(begun.elapsed() < HEAD_TIME + GRACE);
                std::thread::sleep(Duration::from_millis(300));
            }
            within(begun.elapsed(), HEAD_TIME);
        });
        // Half a body, of a change and where none belongs.
        for method in ["POST", "GET"] {
            let send = format!("{method} /{path}/undo HTTP/1.1\r\n{host}{json}\r\n{{\"a");
            threads.spawn(move || {
                let (answer, took) = until_closed(port, &send);
                assert!(answer.starts_with("HTTP/1.1 408"), "{answer}");
                assert!(answer.contains("did not come whole within 10 seconds"), "{answer}");
                within(took, BODY_TIME);
            });
        }
        threads.spawn(|| {
            let mut stream = connect(port);
            let begun = Instant::now();
            let chunked =
                format!("{host}content-type: application/json\r\ntransfer-encoding: chunked\r\n");
            write!(stream, "POST /{path}/undo HTTP/1.1\r\n{chunked}\r\n").unwrap();
            while write!(stream, "1\r\n \r\n").is_ok() {
                assert!(begun.elapsed() < BODY_TIME + GRACE);
                std::thread::sleep(Duration::from_millis(300));
            }
            within(begun.elapsed(), BODY_TIME);
        });
        // From who has no address no body is waited for.
        let stranger = format!("POST /x/undo HTTP/1.1\r\n{host}{json}\r\n{{");
        threads.spawn(move || {
            let (answer, took) = until_closed(port, &stranger);
            assert!(answer.starts_with("HTTP/1.1 404"), "{answer}");
            assert!(took < BODY_TIME + GRACE, "{took:?}");
        });
        // Answered, and then nothing more: it rests a while and is closed.
        let good = format!("GET /{path}/state HTTP/1.1\r\n{host}\r\n");
        threads.spawn(move || {
            let (answer, took) = until_closed(port, &good);
            assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
            within(took, HEAD_TIME);
        });
    });
    // Events are no request that stalls.
    std::thread::sleep((HEAD_TIME + ANSWER_TIME).saturating_sub(begun.elapsed()));
    served.drag("Hotel", 5.0, 6.0, false);
    let last = served.settled()["revision"].as_u64().unwrap();
    while next_line(&mut events, "data: ")[6..].trim().parse::<u64>().unwrap() < last {}
}

/// Asks and asks and takes no answer: what is waiting for it is given up.
#[test]
fn who_takes_no_answer_is_cut() {
    let served = serve_copy(small());
    served.settled();
    let (path, port) = (served.path().to_owned(), served.port);
    let ask = format!("GET /{path}/live.js HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n\r\n");
    let whole = served.get("live.js").body.len();
    let most = 600;
    // One who takes nothing, and one who takes a drop now and then.
    let taken = |drops: bool| {
        let mut stream = connect(port);
        let begun = Instant::now();
        stream.write_all(ask.repeat(most).as_bytes()).unwrap();
        let mut taken = 0;
        while begun.elapsed() < ANSWER_TIME + GRACE {
            std::thread::sleep(Duration::from_millis(500));
            if drops {
                taken += stream.read(&mut [0; 64]).unwrap_or(0);
            }
        }
        let mut rest = Vec::new();
        // Cut off, with what was on its way before or without.
        let _ = stream.read_to_end(&mut rest);
        taken + rest.len()
    };
    let taken = std::thread::scope(|threads| {
        let (nothing, drops) = (threads.spawn(|| taken(false)), threads.spawn(|| taken(true)));
        [nothing.join().unwrap(), drops.join().unwrap()]
    });
    for taken in taken {
        assert!(taken < whole * most * 9 / 10, "{taken} of {} bytes came", whole * most);
    }
    assert_eq!(served.get("state").status, 200);
}

#[test]
fn a_request_names_one_host_and_means_it() {
    let served = serve_copy(small());
    let (path, port) = (served.path(), served.port);
    let own = format!("127.0.0.1:{port}");
    let ask = |target: &str, version: &str, hosts: &[&str]| {
        let hosts: String = hosts.iter().map(|host| format!("host: {host}\r\n")).collect();
        let answer =
            served.raw(&format!("GET {target} {version}\r\n{hosts}connection: close\r\n\r\n"));
        answer[9..12].parse::<u16>().unwrap_or_else(|_| panic!("{answer}"))
    };
    let state = format!("/{path}/state");
    assert_eq!(ask(&state, "HTTP/1.1", &[&own]), 200);
    assert_eq!(ask(&state, "HTTP/1.1", &[]), 400);
    assert_eq!(ask(&state, "HTTP/1.0", &[]), 400);
    for twice in [[own.as_str(); 2], [&own, "evil.example"], ["evil.example", &own]] {
        assert_eq!(ask(&state, "HTTP/1.1", &twice), 400, "{twice:?}");
    }
    let localhost = format!("localhost:{port}");
    for both in [own.as_str(), &localhost] {
        assert_eq!(ask(&format!("http://{both}{state}"), "HTTP/1.1", &[both]), 200);
    }
    for (scheme, target, host) in [
        ("http", "evil.example", own.as_str()),
        ("http", own.as_str(), "evil.example"),
        ("http", "evil.example", "evil.example"),
        ("http", localhost.as_str(), own.as_str()),
        ("http", "127.0.0.1", own.as_str()),
        ("https", own.as_str(), own.as_str()),
        ("ftp", own.as_str(), own.as_str()),
    ] {
        let status = ask(&format!("{scheme}://{target}{state}"), "HTTP/1.1", &[host]);
        assert_eq!(status, 421, "{scheme} {target} {host}");
    }
    let with_user = ask(&format!("http://a@{own}{state}"), "HTTP/1.1", &[&own]);
    assert_eq!(with_user, 421);
    assert_eq!(ask(&format!("http://{own}{state}"), "HTTP/1.1", &[]), 400);
}

/// The files and sockets that a process has open, and the memory that it holds.
#[cfg(target_os = "linux")]
fn weight(process: u32) -> (usize, f64) {
    let open = std::fs::read_dir(format!("/proc/{process}/fd")).unwrap().count();
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    (open, line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() / 1024.0)
}

/// Far more connections than there may be, held open and silent.
#[cfg(target_os = "linux")]
#[test]
fn thousands_of_idle_connections_shut_nobody_out() {
    let sample = small();
    let live = Program::start(sample.folder.path());
    let port = live.printed["port"].as_u64().unwrap() as u16;
    let (open, held) = weight(live.child.id());
    let mut events = connect(port);
    let path = live.url.splitn(4, '/').nth(3).unwrap();
    write!(events, "GET /{path}events HTTP/1.1\r\nhost: 127.0.0.1:{port}\r\n\r\n").unwrap();
    let mut events = BufReader::new(events);
    next_line(&mut events, "data: ");
    let mut idle = Vec::new();
    for number in 0..3000 {
        // Where this process may not have as many.
        let Ok(mut stream) = TcpStream::connect(("127.0.0.1", port)) else { break };
        if number % 3 == 0 {
            let _ = stream.write_all(b"GET /");
        }
        idle.push(stream);
    }
    assert!(idle.len() >= 900, "only {} connections", idle.len());
    let (open_now, held_now) = weight(live.child.id());
    assert!(open_now <= open + MOST_CONNECTIONS + 40, "{open} files before, {open_now} now");
    assert!(held_now < held + 40.0, "{held} MiB before, {held_now} now");
    let begun = Instant::now();
    live.mast("7 m");
    assert_eq!(live.get("state")["sites"][0]["mast"], "7 m");
    assert!(begun.elapsed() < Duration::from_secs(8), "{:?}", begun.elapsed());
    // And who listened before still does.
    next_line(&mut events, "data: ");
    eprintln!("{} connections: {open_now} files, {held_now:.0} MiB", idle.len());
}

#[test]
fn tabs_beyond_the_limit_are_told_and_come_in_once_others_close() {
    let served = serve_copy(small());
    // As many tabs as there are connections, all of which have shown the address.
    let mut tabs: Vec<_> = (0..MOST_CONNECTIONS)
        .map(|_| {
            let mut tab = listen(&served);
            next_line(&mut tab, "data: ");
            tab
        })
        .collect();
    let told = served.raw(&format!(
        "GET /{}/ HTTP/1.1\r\nhost: 127.0.0.1:{}\r\n\r\n",
        served.path(),
        served.port
    ));
    assert!(told.starts_with("HTTP/1.1 503"), "{told}");
    assert!(told.contains("Close some of them, then load it again."), "{told}");
    for tab in tabs.drain(..4) {
        tab.get_ref().shutdown(Shutdown::Both).unwrap();
    }
    wait_for("a tab gets in", Duration::from_secs(20), || {
        let state = format!(
            "GET /{}/state HTTP/1.1\r\nhost: 127.0.0.1:{}\r\nconnection: close\r\n\r\n",
            served.path(),
            served.port
        );
        served.raw(&state).starts_with("HTTP/1.1 200")
    });
    let change = json!({ "change": "mast", "site": "Hotel", "height": "8 m" });
    served.post("change", &change);
    for tab in &mut tabs {
        next_line(tab, "data: ");
    }
}
