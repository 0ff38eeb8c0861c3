//! How long it takes, from the request of a drag to the picture in hand, for the
//! plan at hand over the sample: the first picture and the full one, as PNG over
//! HTTP. The median of twenty drags across the map. Then, in the machine's own browser
//! and on both samples, how many pictures a second follow a hand that does not rest.

use std::time::{Duration, Instant};

#[path = "../tests/support/mod.rs"]
mod support;

fn main() {
    let served = support::live::serve();
    served.settled();
    let (mut first, mut full) = (Vec::new(), Vec::new());
    for drag in 0..20 {
        let last = served.get("coverage.png").aim;
        let begun = Instant::now();
        let along = f64::from(drag) * 15.0;
        served.drag("Grain elevator", 40.0 + along, 60.0 + along * 0.6, false);
        let mut seen = false;
        loop {
            let picture = served.get("coverage.png");
            let of_this = picture.aim > last;
            if of_this && !seen && picture.stage != "begun" {
                first.push(begun.elapsed());
                seen = true;
            }
            if of_this && (picture.stage == "full" || picture.stage == "scored") {
                full.push(begun.elapsed());
                break;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
        served.settled();
    }
    for (name, times) in [("first", &mut first), ("full", &mut full)] {
        times.sort();
        let median = times[times.len() / 2].as_secs_f64() * 1e3;
        println!("figure live_{name}_picture_ms {median:.0} ms");
    }
    for (sample, figure) in [
        ("ferry-lights.toml", "drag_pictures_per_second"),
        ("ferry-lights-town.toml", "drag_pictures_per_second_town"),
    ] {
        let served = support::live::serve_copy(support::live::copy(sample, |text| text));
        support::browser::in_browser("live-drag.mjs", &[&format!("{}/", served.url), figure]);
    }
}
