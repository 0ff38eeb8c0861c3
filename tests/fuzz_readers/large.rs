//! The largest that is read, of the kinds where a careless reader would look at
//! every pair: time stays one that a person waits.

use std::fmt::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use jiff::SignedDuration;
use perchline::heard::log::{self, Defaults};
use perchline::plan;
use perchline::vector::{self, Wanted};

use super::harness::scratch;
use super::memory;
use super::support::read_plan;

/// The longest wait, on a machine that does other things too.
const LONGEST: Duration = Duration::from_secs(20);

fn timed<T>(what: &str, most_bytes: usize, read: impl FnOnce() -> T) -> T {
    memory::begin();
    let since = Instant::now();
    let done = read();
    let took = since.elapsed();
    eprintln!("{what}: {took:.1?}, {} MiB", memory::most() >> 20);
    assert!(took < LONGEST, "{what} took {took:?}");
    assert!(memory::most() < most_bytes, "{what} held {} bytes", memory::most());
    done
}

const MIB: usize = 1 << 20;

#[test]
fn a_plan_of_four_mebibytes() {
    let many = |line: &dyn Fn(usize) -> String| {
        let mut text = String::new();
        let mut number = 0;
        while text.len() < 4 * MIB - 100 {
            text.push_str(&line(number));
            number += 1;
        }
        text
    };
    let cases = [
        (
            "radios and posts",
            many(&|n| format!("[[radio]]\nname=\"r{n}\"\n[[post]]\nradio=\"x{n}\"\n")),
        ),
        ("unknown fields", format!("[event]\n{}", many(&|n| format!("a{n} = {n}\n")))),
        ("unknown tables", many(&|n| format!("a{n} = {n}\n"))),
        ("one name", many(&|_| "[[site]]\nname=\"a\"\n".to_owned())),
        (
            "corners",
            format!(
                "[[area]]\nname = \"a\"\noutline = [\n{}]\n",
                many(&|n| format!(
                    "\"{:.6}, {:.6}\",\n",
                    47.0 + n as f64 / 1e6,
                    (n % 7) as f64 / 1e3
                ))
            ),
        ),
        ("brackets", format!("a = {}", "[".repeat(4 * MIB - 100))),
        ("a name", format!("[event]\nname = \"{}\"\n", "x".repeat(4 * MIB - 100))),
    ];
    for (what, text) in cases {
        let read = || plan::read_text(Path::new("plan.toml"), &text, &["free-space"]);
        let error = timed(what, 1024 * MIB, read).unwrap_err();
        assert!(error.to_string().len() < 64 * MIB, "{what}");
    }
}

#[test]
fn many_waypoints() {
    let plan =
        read_plan(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml"));
    let folder = scratch();
    let file = folder.path().join("log.gpx");
    let mut text = String::from(
        "<gpx version=\"1.1\" creator=\"x\" xmlns=\"http://www.topografix.com/GPX/1/1\">",
    );
    for number in 0..40_000 {
        let _ = write!(
            text,
            "<wpt lat=\"47.{number:06}\" lon=\"-34.9\"><desc>59; direction: in</desc></wpt>"
        );
    }
    text.push_str("</gpx>");
    std::fs::write(&file, text).unwrap();
    let defaults = Defaults { channel: Some(0), site: Some(0), clock_offset: SignedDuration::ZERO };
    let log = timed("waypoints", 512 * MIB, || log::read(&[file], &plan, &defaults)).unwrap();
    assert_eq!((log.rows, log.lost()), (40_000, 0));
}

#[test]
fn many_corners() {
    let folder = scratch();
    let file = folder.path().join("a.geojson");
    let corners: Vec<String> = (0..200_000)
        .map(|n| {
            let turn = f64::from(n % 199_999) / 199_999.0 * std::f64::consts::TAU;
            format!("[{:.9},{:.9}]", -34.9 + turn.cos() / 10.0, 47.0 + turn.sin() / 10.0)
        })
        .collect();
    let text = format!(
        "{{\"type\":\"Feature\",\"properties\":{{\"name\":\"A\"}},\"geometry\":{{\"type\":\"Polygon\",\"coordinates\":[[{}]]}}}}",
        corners.join(",")
    );
    std::fs::write(&file, text).unwrap();
    for wanted in [Wanted::Point, Wanted::Area, Wanted::Line] {
        let _ = timed("corners", 512 * MIB, || vector::find(&file, None, "A", wanted));
    }
    let earth =
        geo::Rect::new(geo::coord! { x: -180.0, y: -90.0 }, geo::coord! { x: 180.0, y: 90.0 });
    let found =
        timed("corners of a house", 512 * MIB, || vector::footprints(&file, earth)).unwrap();
    assert_eq!((found.footprints.len(), found.refused.len()), (1, 0));
}
