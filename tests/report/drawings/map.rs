use perchline::coverage::Coverage;
use perchline::link::Outcome;
use perchline::plan::UnitSystem;
use perchline::report::route_strip::Routes;
use perchline::report::{ReportError, map, route_strip, words};

use super::town::{Town, ferry, keep, town};

/// Texts of a drawing, in the order drawn.
fn texts(town: &Town) -> Vec<String> {
    let drawing = map::draw_svg(&town.content()).unwrap();
    drawing
        .split("<text")
        .skip(1)
        .filter_map(|t| Some(t.split_once('>')?.1.split_once("</text")?.0.trim().to_owned()))
        .collect()
}

#[test]
fn the_sample_town_fills_a_sheet() {
    let town = ferry(14);
    let png = map::draw(&town.content()).unwrap();
    keep("map-14-posts.png", &png);
    let picture = image::load_from_memory(&png).unwrap().to_rgb8();
    assert_eq!(picture.dimensions(), (2480, 1754));
    let again = map::draw(&town.content()).unwrap();
    assert!(png == again, "the same plan gives the same bytes");
    let found = texts(&town);
    for wanted in [
        &words::foot(perchline::plan::Houses::Unknown).join(" ") as &str,
        "Ferry Lights Half Marathon",
        "Saturday 5 December 2026, 16:30 to 20:00 · Ostler's Ferry Runners",
        "Relay on Grain elevator",
        "antenna 41 m above the ground · channel Event net, radios transmit 147.900, receive 147.300 MHz",
        "Clear both ways: 99 of 100 spots or more",
        "Not known: gap in the terrain file",
        "Lantern meadow, 97 %",
        "2 km",
        "36° 09′ N",
        "N",
    ] {
        assert!(found.iter().any(|w| w == wanted), "{wanted} is not on the map: {found:#?}");
    }
    for post in &town.site.posts {
        assert!(found.contains(&post.post), "{} is not on the map", post.post);
    }
    let decibels = found.iter().filter(|w| w.contains("dB")).count();
    assert_eq!(decibels, 0, "the map needs no radio knowledge");
}

/// Marks of distance are explained where there are some, in the units of the report, and
/// not where there are none.
#[test]
fn the_legend_explains_the_distances_along_routes() {
    let said = |town: &Town| -> Vec<String> {
        texts(town).into_iter().filter(|t| t.starts_with("Distance from the start")).collect()
    };
    let mut town = ferry(14);
    let rings = |town: &Town| {
        let drawing = map::draw_svg(&town.content()).unwrap();
        elements(&drawing, "circle", ["r"; 5]).iter().filter(|r| r[0] == Some(12.0)).count()
    };
    assert!(rings(&town) > 2, "{}", rings(&town));
    assert_eq!(said(&town), ["Distance from the start, km"]);
    town.plan.units = UnitSystem::Us;
    assert_eq!(said(&town), ["Distance from the start, miles"]);
    town.plan.routes.clear();
    assert_eq!((said(&town).len(), rings(&town)), (0, 0));
}

#[test]
fn forty_posts_are_all_listed() {
    let town = ferry(40);
    keep("map-40-posts.png", &map::draw(&town.content()).unwrap());
    let words = texts(&town);
    for (index, post) in town.site.posts.iter().enumerate() {
        assert!(words.contains(&post.post), "{} is not on the map", post.post);
        assert!(words.contains(&(index + 1).to_string()));
    }
}

/// Attributes of every element of one name, as numbers.
fn elements(drawing: &str, name: &str, wanted: [&str; 5]) -> Vec<[Option<f64>; 5]> {
    drawing
        .split(&format!("<{name} "))
        .skip(1)
        .map(|element| {
            let head = format!(" {}", element.split('>').next().unwrap());
            wanted.map(|key| {
                let value = head.split(&format!("{key}=\"")).nth(1)?;
                value.split('"').next()?.parse().ok()
            })
        })
        .collect()
}

/// Heights of the ferry's stronger contours, which are no numbers of posts or distances.
const HEIGHTS: [&str; 3] = ["50", "100", "150"];

/// Read back from the drawing, not from the placing of names: the white
/// grounds of names have rounded corners of 5 pixels, those of heights on contours of 4,
/// posts a radius of 13.
#[test]
fn no_name_touches_another_a_post_or_the_frame() {
    for posts in [14, 40] {
        let drawing = map::draw_svg(&ferry(posts).content()).unwrap();
        let picture = elements(&drawing, "image", [" x", " y", " width", " height", " none"]);
        let [left, top, width, height, _] = picture[0].map(Option::unwrap_or_default);
        let names: Vec<[f64; 4]> =
            elements(&drawing, "rect", [" x", " y", " width", " height", " rx"])
                .into_iter()
                .filter(|r| r[0].is_some_and(|x| x < left + width))
                .filter(|r| r[4] == Some(5.0) || (r[4] == Some(4.0) && r[3] == Some(17.0)))
                .map(|r| [r[0].unwrap(), r[1].unwrap(), r[2].unwrap(), r[3].unwrap()])
                .collect();
        let marks: Vec<(f64, f64)> =
            elements(&drawing, "circle", [" cx", " cy", " r", " none", " no"])
                .into_iter()
                .filter(|c| c[2] == Some(13.0))
                .map(|c| (c[0].unwrap(), c[1].unwrap()))
                .filter(|(x, _)| *x < left + width)
                .collect();
        assert!(marks.len() >= posts, "{} marks", marks.len());
        let heights = texts(&ferry(posts)).iter().filter(|t| HEIGHTS.contains(&&***t)).count();
        assert!(heights > 4, "{heights} heights on contours");
        assert!(names.len() >= posts + heights, "{} of {posts} names", names.len());
        for (i, [x, y, w, h]) in names.iter().enumerate() {
            let within = *x > left && *y > top && x + w < left + width && y + h < top + height;
            assert!(within, "a name leaves the frame at {x}, {y}");
            for [x2, y2, w2, h2] in names.iter().skip(i + 1) {
                let apart = x + w <= *x2 || x2 + w2 <= *x || y + h <= *y2 || y2 + h2 <= *y;
                assert!(apart, "names overlap at {x}, {y} and {x2}, {y2}");
            }
            for (cx, cy) in &marks {
                let distance = (cx - cx.clamp(*x, x + w)).hypot(cy - cy.clamp(*y, y + h));
                assert!(distance >= 13.0, "the name at {x}, {y} covers the post at {cx}, {cy}");
            }
        }
    }
}

#[test]
fn what_a_hundred_posts_leave_out_is_said() {
    let town = ferry(130);
    keep("map-130-posts.png", &map::draw(&town.content()).unwrap());
    let words = texts(&town);
    assert!(
        words
            .iter()
            .any(|w| w.starts_with("and ") && w.ends_with(" more: see the table of results"))
    );
}

#[test]
fn a_plan_of_one_post_and_nothing_else_is_drawn() {
    let mut town = ferry(1);
    town.plan.areas.clear();
    town.plan.routes.clear();
    town.plan.event.agency = None;
    town.plan.channels.clear();
    town.site.areas.clear();
    town.site.routes.clear();
    keep("map-1-post.png", &map::draw(&town.content()).unwrap());
    let words = texts(&town);
    assert!(!words.iter().any(|w| w == "Route" || w == "Staging area" || w == "Areas and routes"));
}

#[test]
fn hostile_names_stay_names() {
    let mut town = ferry(6);
    let names = [
        "<script>alert(1)</script> & \"tea\"",
        "Tea tent \u{1fad6}\u{1f9c1}",
        "\u{5e0}\u{5e7}\u{5d5}\u{5d3}\u{5ea} \u{5e2}\u{5d6}\u{5e8}\u{5d4}",
        "\u{202e}gnorw eht yaw dnuor",
        "The old customs house behind the upper ferry landing where the brass band plays until dusk",
        "../../etc\npasswd\0",
    ];
    for (post, name) in town.site.posts.iter_mut().zip(names) {
        post.post = name.to_owned();
    }
    town.plan.event.name = "Lights & <Water> ".repeat(12);
    town.site.site =
        "Grain elevator of the united river cooperative, upper wharf, north stair".to_owned();
    town.plan.units = UnitSystem::Us;
    keep("map-hostile-names.png", &map::draw(&town.content()).unwrap());
    let drawing = map::draw_svg(&town.content()).unwrap();
    assert!(!drawing.contains("<script") && drawing.contains("&lt;script"));
    assert!(!drawing.contains('\u{202e}') && !drawing.contains('\0'));
}

/// Geographic cells: at 60 degrees north they are half as wide as tall on the ground.
#[test]
fn geographic_grids_keep_the_shape_of_the_ground() {
    let step = 1.0 / 3600.0;
    let town = town(400, 200, [-33.0, step, 0.0, 60.1, 0.0, -step], "EPSG:4326", 9);
    keep("map-geographic.png", &map::draw(&town.content()).unwrap());
    let drawing = map::draw_svg(&town.content()).unwrap();
    let picture = drawing.split("<image").nth(1).unwrap();
    let side = |name: &str| -> f64 {
        let after = picture.split(&format!(" {name}=\"")).nth(1).unwrap();
        after.split('"').next().unwrap().parse().unwrap()
    };
    // 400 cells of 0.5 against 200 of 1: square, as far as the ellipsoid lets it.
    approx::assert_relative_eq!(side("width") / side("height"), 1.0, max_relative = 0.01);
}

#[test]
fn long_thin_and_tiny_grids_are_drawn() {
    let utm = "EPSG:32625";
    for (name, columns, rows) in
        [("tall", 60, 600), ("wide", 900, 90), ("tiny", 3, 2), ("single", 1, 1)]
    {
        let transform = [494_000.0, 20.0, 0.0, 4_004_500.0, 0.0, -20.0];
        let town = town(columns, rows, transform, utm, 5);
        keep(&format!("map-{name}.png"), &map::draw(&town.content()).unwrap());
    }
}

#[test]
fn a_turned_grid_names_its_true_north() {
    // Far east of the zone's middle at 60 degrees north: true north leans left.
    let transform = [800_000.0, 20.0, 0.0, 6_660_000.0, 0.0, -20.0];
    let town = town(300, 240, transform, "EPSG:32625", 5);
    let words = texts(&town);
    // Convergence of the transverse Mercator projection, first order (Snyder 1987,
    // USGS Professional Paper 1395, p. 51): longitude difference times the sine of
    // the latitude, here about 5.4 degrees east of the meridian, so 4.7 degrees.
    let note = words.iter().find(|w| w.starts_with("true north is")).unwrap();
    let degrees: f64 =
        note.trim_start_matches("true north is ").split('°').next().unwrap().parse().unwrap();
    approx::assert_abs_diff_eq!(degrees, 4.7, epsilon = 0.2);
    assert!(note.contains("left"), "{note}");
}

#[test]
fn layers_that_do_not_fit_their_grid_are_refused() {
    let mut town = ferry(2);
    town.relief = ndarray::Array2::zeros((5, 5));
    let error = map::draw(&town.content()).unwrap_err();
    assert!(matches!(error, ReportError::Uneven { layer: "relief", .. }), "{error}");
    let mut town = ferry(2);
    town.coverage =
        Coverage { outcome: ndarray::Array2::from_elem((4, 4), Outcome::Clear), ..town.coverage };
    let error = map::draw(&town.content()).unwrap_err();
    assert!(error.to_string().contains("coverage"), "{error}");
}

/// The route is drawn from end to end, its gap with kilometres and minutes, posts at their
/// kilometre.
#[test]
fn a_route_is_a_strip() {
    let town = ferry(14);
    let drawing = route_strip::draw_svg(&Routes::from(&town.content())).unwrap().unwrap();
    keep("route-strip.png", &route_strip::draw(&Routes::from(&town.content())).unwrap().unwrap());
    for part in [
        "Half-marathon course, 21.10 km",
        "1: 740 m (7 min) from 12.34 km on",
        "Minutes are those of Last runners",
        "Both ways",
        "You are heard",
        "6 Water stop 3 7.00 km",
        "70 m",
        "km",
    ] {
        assert!(drawing.contains(part), "{part} is not on the strip");
    }
    assert!(!drawing.contains('…'), "what a tint means is cut");
    // Wide enough for every bar: three pictures, and the legend's.
    assert!(drawing.matches("<image").count() >= 3 + 4);
    let mut none = ferry(3);
    none.site.routes.clear();
    none.courses.clear();
    assert!(route_strip::draw_svg(&Routes::from(&none.content())).unwrap().is_none());
}

/// A post at the rim of the map: its mark lies over the frame's line, not under it.
#[test]
fn a_mark_at_the_rim_is_not_cut() {
    let town = ferry(14);
    let drawing = map::draw_svg(&town.content()).unwrap();
    let frame = drawing.find("stroke-width=\"2.4\"").expect("no frame");
    let marks: Vec<usize> = drawing.match_indices("<circle").map(|(at, _)| at).collect();
    let beside = drawing.find("How to read the map").unwrap();
    let on_the_map = marks.iter().filter(|at| **at < beside);
    assert!(on_the_map.clone().count() >= 14);
    assert!(on_the_map.clone().all(|at| *at > frame), "a mark lies under the frame");
}
