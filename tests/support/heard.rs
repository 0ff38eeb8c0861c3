//! Logs of an evening that did not happen: what would have been reported, were
//! the truth a known distance from the prediction.

use std::fmt::Write;
use std::path::PathBuf;

use perchline::assessment::Assessment;
use perchline::heard::compare::{Compared, compare};
use perchline::heard::log::{Log, Origin, Place, Report, Said};
use perchline::link::Direction;
use perchline::plan::{CARRIES, CarriedIn};
use perchline::units::{Degrees, Position};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};

/// By how much the truth differs from the prediction.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    /// Added to levels, in the order of `CarriedIn::ALL`.
    pub offsets: [f64; 5],
    /// Added to body losses, in the order of `CARRIES`.
    pub bodies: [f64; 3],
    /// The model's error beside the spread over places.
    pub sigma: f64,
}

impl Truth {
    /// The prediction is right but for its spread.
    pub const PUBLISHED: Self = Self { offsets: [0.0; 5], bodies: [0.0; 3], sigma: 4.0 };
}

fn share(random: &mut Pcg64) -> f64 {
    (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
}

/// One of so many.
fn pick(random: &mut Pcg64, count: usize) -> usize {
    ((share(random) * count as f64) as usize).min(count - 1)
}

/// A log of `rows` rows on the plan's first channel from this site.
pub fn log_text(opened: &Assessment, site: usize, truth: &Truth, rows: usize, seed: u64) -> String {
    let mut random = Pcg64::seed_from_u64(seed);
    let reports: Vec<Report> =
        (0..rows).map(|line| report(opened, site, line, &mut random)).collect();
    let log = Log { reports, ..Log::default() };
    let (compared, off) =
        compare(&log, &opened.plan, &opened.terrain, &opened.propagator, &opened.energy().stations);
    assert!(off.is_empty(), "{off:?}");
    let mut text = "time,post,position,direction,carry,heard,daq,level\n".to_owned();
    for (report, one) in log.reports.iter().zip(&compared) {
        let _ = writeln!(text, "{}", row(opened, report, one, truth, &mut random));
    }
    text
}

fn report(opened: &Assessment, site: usize, line: usize, random: &mut Pcg64) -> Report {
    let plan = &opened.plan;
    let place = if share(random) < 0.6 {
        Place::Post(pick(random, plan.posts.len()))
    } else {
        let points: Vec<_> = plan.routes[0].line.points().collect();
        let from = pick(random, points.len() - 1);
        let part = share(random);
        let mix = |a: f64, b: f64| Degrees::new(((a + (b - a) * part) * 1e6).round() / 1e6);
        let (a, b) = (points[from], points[from + 1]);
        Place::At(Position::new(mix(a.y(), b.y()), mix(a.x(), b.x())).unwrap())
    };
    let minutes = i64::from(pick(random, 240) as u32);
    let start = opened.plan.event.starts.timestamp();
    Report {
        origin: Origin { file: PathBuf::new().into(), line },
        time: Some(start + jiff::SignedDuration::from_mins(minutes)),
        place,
        channel: 0,
        site: Some(site),
        to: None,
        tracker: None,
        direction: [Direction::TalkIn, Direction::TalkOut][pick(random, 2)],
        carry: Some(CARRIES[pick(random, 3)]),
        said: Said { heard: Some(true), ..Said::default() },
    }
}

/// What would have been written down.
fn row(
    opened: &Assessment,
    report: &Report,
    one: &Compared,
    truth: &Truth,
    random: &mut Pcg64,
) -> String {
    let evidence = &one.evidence;
    let index = |s: CarriedIn| s.index();
    let body = evidence.carry.and_then(|c| CARRIES.iter().position(|k| *k == c));
    let z: f64 = StandardNormal.sample(random);
    let deviation = truth.sigma.hypot(evidence.local.value());
    let margin = one.predicted_margin_db.value() + truth.offsets[index(evidence.environment)]
        - body.map_or(0.0, |b| truth.bodies[b])
        + z * deviation;
    let heard_from = evidence.asked.value();
    let (mut heard, mut daq, mut level) = (String::new(), String::new(), String::new());
    match pick(random, 10) {
        0..5 => heard = if margin >= heard_from { "yes" } else { "no" }.to_owned(),
        5..8 => {
            // Steps of a 12.5 kHz channel (TIA TSB-88, from memory): 3.0 at 23 dB,
            // 3.4 at 26 dB, 4.0 at 33 dB over the noise; the plan asks for 3.4.
            daq = match margin {
                m if m >= 7.0 => "4",
                m if m >= 0.0 => "3.4",
                m if m >= -3.0 => "3",
                _ => "2",
            }
            .to_owned();
        }
        _ if margin >= heard_from => {
            let excess = margin - one.predicted_margin_db.value();
            level = format!("{:.0} dBm", one.predicted_dbm.value() + excess);
        }
        _ => heard = "no".to_owned(),
    }
    let (post, position) = match &report.place {
        Place::Post(post) => (opened.plan.posts[*post].name.clone(), String::new()),
        Place::At(at) => (
            String::new(),
            format!("\"{:.6}, {:.6}\"", at.latitude().value(), at.longitude().value()),
        ),
    };
    let time = report.time.unwrap();
    let way = match report.direction {
        Direction::TalkIn => "in",
        Direction::TalkOut => "out",
    };
    let carry = report.carry.unwrap().word();
    format!("{time},{post},{position},{way},{carry},{heard},{daq},{level}")
}
