//! Logs of the day: CSV, GPX, packets. A case is one file, or two with a line
//! of `%%%%` between.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use jiff::SignedDuration;
use perchline::heard::log::{self, Defaults, Place};
use perchline::plan::Plan;

use super::harness::{Reader, Seen, file, lines, must, scratch, seeds, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;
use super::support::read_plan;

const TOKENS: &[&str] = &[
    "time",
    "timestamp",
    "date",
    "post",
    "position",
    "lat",
    "lon",
    "channel",
    "site",
    "direction",
    "carry",
    "heard",
    "daq",
    "rst",
    "level",
    "s-meter",
    "tracker",
    "call",
    "note",
    ",",
    ";",
    "\t",
    "\n",
    "\r\n",
    "\"",
    "\"\"",
    "#",
    "17:05",
    "1705",
    "2026-12-05T19:05:00Z",
    "2026-12-05",
    "-9999-01-01T00:00:00Z",
    "9999-12-31T23:59:59.999999999Z",
    "2026-12-05T19:05:00+25:59",
    "T",
    "Z",
    "[America/New_York]",
    "24:00",
    "23:59:60",
    "Aid 3",
    "Start",
    "Relay",
    "Packet",
    "Simplex",
    "Car park",
    "Lead car",
    "Last runners 2",
    "Last runners",
    "S9+10",
    "S9+",
    "S",
    "s0",
    "-97 dBm",
    "dBm",
    "59",
    "5 by 9",
    "599",
    "DAQ 3.4",
    "daqdaq",
    "3,4",
    "yes",
    "no",
    "-",
    "x",
    "in",
    "out",
    "both",
    "hip",
    "head",
    "47.0, -34.9",
    "HN27jc48",
    "25T 412345E 5212345N",
    "\n%%%%\n",
    "<",
    ">",
    "/>",
    "<wpt",
    "</wpt>",
    "<gpx",
    "</gpx>",
    " lat=\"",
    " lon=\"",
    "<desc>",
    "</desc>",
    "<name>",
    "<time>",
    "<ele>",
    "<cmt>",
    "&a;",
    "&b;",
    "&#x1b;",
    "&#27;",
    "<!DOCTYPE gpx [",
    "<!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;\">",
    "]>",
    "<![CDATA[",
    "]]>",
    "<!--",
    "<trk>",
    "<extensions>",
    "</extensions>",
    "<?xml version=\"1.0\" encoding=\"UTF-16\"?>",
    "version=\"1.0\"",
    "xmlns:x=\"y\"",
    "heard: no; ",
    "level=",
    "rst:",
];

pub fn reader() -> Reader<'static> {
    let plan =
        read_plan(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml"));
    let folder = scratch();
    let mut all = seeds("logs");
    let heard = String::from_utf8(file("sample-terrain/heard.csv")).unwrap();
    all.push(heard.lines().take(16).collect::<Vec<_>>().join("\n").into_bytes());
    Reader {
        name: "logs",
        seeds: all,
        tokens: TOKENS,
        fresh,
        strict: true,
        check: Box::new(move |case| check(folder.path(), &plan, case)),
    }
}

fn cell(random: &mut Random) -> String {
    match random.below(12) {
        0 => random.pick(NUMBERS).to_owned(),
        1 => random.pick(HOSTILE).to_owned(),
        2 => String::new(),
        3 => format!("S{}+{}", random.below(12), random.below(80)),
        4 => format!("{:.1} dBm", random.number(-150.0, 20.0)),
        5 => format!("{:02}:{:02}", random.below(26), random.below(62)),
        6 => format!("{:.5}", random.number(-200.0, 200.0)),
        _ => random.pick(TOKENS).to_owned(),
    }
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let mut text = String::new();
    if random.one_in(3) {
        text.push_str(
            "<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n",
        );
        for _ in 0..random.between(1, 6) {
            let (lat, lon) = (random.number(-91.0, 91.0), random.number(-181.0, 181.0));
            let _ = write!(text, "<wpt lat=\"{lat:.6}\" lon=\"{lon:.6}\">");
            if random.one_in(2) {
                let year = random.pick(&["2026", "0000", "9999", "-001", "12026"]);
                let _ = write!(text, "<time>{year}-12-05T{:02}:00:00Z</time>", random.below(25));
            }
            let said = cell(random).replace(['<', '&'], "");
            let more = cell(random).replace(['<', '&'], "");
            let _ = writeln!(text, "<desc>{said}; {more}</desc></wpt>");
        }
        text.push_str("</gpx>");
        return text.into_bytes();
    }
    let separator = random.pick(&[",", ";", "\t"]);
    let head = ["time", "post", "lat", "lon", "direction", "heard", "level", "daq", "rst", "call"];
    let first = random.below(4);
    let columns: Vec<&str> = head[first..first + random.between(3, 6)].to_vec();
    text.push_str(&columns.join(separator));
    for _ in 0..random.between(1, 12) {
        text.push_str(random.pick(&["\n", "\r\n", "\r"]));
        for (number, column) in columns.iter().enumerate() {
            if number > 0 {
                text.push_str(separator);
            }
            let good = match *column {
                "time" => "17:05",
                "post" => "Aid 3",
                "lat" => "47.0",
                "lon" => "-34.9",
                "direction" => "in",
                "heard" => "yes",
                "level" => "-97",
                "daq" => "3.4",
                "rst" => "59",
                _ => "Lead car",
            };
            if random.one_in(3) {
                text.push_str(&cell(random));
            } else {
                text.push_str(good);
            }
        }
    }
    text.into_bytes()
}

fn check(folder: &Path, plan: &Plan, case: &[u8]) -> Result<Seen, String> {
    const BETWEEN: &[u8] = b"\n%%%%\n";
    let cut = case.windows(BETWEEN.len()).position(|w| w == BETWEEN);
    let parts = match cut {
        Some(at) => vec![&case[..at], &case[at + BETWEEN.len()..]],
        None => vec![case],
    };
    let files: Vec<PathBuf> =
        (0..parts.len()).map(|number| folder.join(format!("log-{number}.csv"))).collect();
    for (file, part) in files.iter().zip(&parts) {
        std::fs::write(file, part).unwrap();
    }
    let defaults = Defaults { channel: Some(0), site: Some(2), clock_offset: SignedDuration::ZERO };
    let log = match log::read(&files, plan, &defaults) {
        Ok(log) => log,
        Err(error) => return words(&error.to_string()).map(|()| Seen::Refused),
    };
    must(log.lost() == 0, || format!("{} rows are lost", log.lost()))?;
    must(log.rows == log.counted + log.rejected.len(), || {
        format!("{} rows, {} and {}", log.rows, log.counted, log.rejected.len())
    })?;
    let within = |origin: &log::Origin| {
        let most =
            files.iter().zip(&parts).find(|(f, _)| **f == *origin.file).map(|(_, p)| lines(p));
        // A lone carriage return ends a row, but no line of an editor.
        most.is_some_and(|most| {
            let returns = case.iter().filter(|b| **b == b'\r').count();
            // The waypoints of a GPX file are counted, several may be in a line.
            let waypoints = case.windows(4).filter(|w| *w == b"<wpt").count();
            (1..=most.max(waypoints) + returns).contains(&origin.line)
        })
    };
    for report in &log.reports {
        must(within(&report.origin), || format!("{:?}", report.origin))?;
        must(report.channel < plan.channels.len(), || format!("{report:?}"))?;
        must(report.site.is_none_or(|s| s < plan.sites.len()), || format!("{report:?}"))?;
        must(report.tracker.is_none_or(|t| t < plan.trackers.len()), || format!("{report:?}"))?;
        if let Place::Post(post) = report.place {
            must(post < plan.posts.len(), || format!("{report:?}"))?;
        }
        must(report.said != log::Said::default(), || format!("{report:?} says nothing"))?;
        if let Some(level) = report.said.level {
            must((-200.0..=60.0).contains(&level.level.value()), || format!("{level:?}"))?;
        }
    }
    for rejected in &log.rejected {
        must(within(&rejected.origin), || format!("{:?}", rejected.origin))?;
        words(&rejected.reason)?;
        words(&format!("rejected: {}", rejected.text))?;
    }
    for remark in &log.remarks {
        words(&format!("{}: {}", remark.about, remark.text))?;
    }
    Ok(Seen::Accepted)
}
