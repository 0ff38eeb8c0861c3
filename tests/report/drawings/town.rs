//! A made-up valley with an event in it, complete enough to draw.

use std::path::PathBuf;

use ndarray::Array2;
use perchline::coverage::Coverage;
use perchline::link::{
    Budget, BudgetLine, Direction, LinkBudgets, NoiseFloor, NoiseSource, Outcome,
};
use perchline::plan::{
    Area, AudioQuality, Channel, ChooseInputs, Environment, Event, InputFile, MapInputs,
    MastInputs, Plan, Post, PowerInputs, Prediction, ReferenceGrid, Route, SearchInputs, Service,
    TerrainInputs, UnitSystem,
};
use perchline::propagation::Model;
use perchline::report::Provenance;
use perchline::report::map::MapContent;
use perchline::siting::{
    ClassStretch, Paced, PassedPost, PostScore, RouteCourse, RouteScore, ShareScore, SiteScore,
    Stretch,
};
use perchline::terrain::{Grid, Terrain};
use perchline::units::{Db, Dbm, Megahertz, Metres, Percent, Polarization, Position, Refractivity};

/// Everything that a map borrows.
pub struct Town {
    pub plan: Plan,
    pub terrain: Terrain,
    pub relief: Array2<u8>,
    pub coverage: Coverage,
    pub site: SiteScore,
    pub courses: Vec<RouteCourse>,
    pub provenance: Provenance,
}

impl Town {
    pub fn content(&self) -> MapContent<'_> {
        MapContent {
            plan: &self.plan,
            terrain: &self.terrain,
            relief: &self.relief,
            remarks: &self.plan.remarks,
            coverage: &self.coverage,
            site: &self.site,
            courses: &self.courses,
            channel: "Event net",
            provenance: &self.provenance,
        }
    }
}

/// Scatter that is the same on every machine (a linear congruential generator).
pub struct Scatter(u64);

impl Scatter {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A number from 0 to 1.
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963);
        (self.0 >> 33) as f64 / (1u64 << 31) as f64
    }
}

const NAMES: [&str; 14] = [
    "Start line",
    "Net control",
    "First aid east",
    "Ferry landing",
    "Mill bridge",
    "Water stop 3",
    "Orchard corner",
    "River cut underpass",
    "Back of the ridge",
    "Lantern assembly gate",
    "Shuttle lot A",
    "Shuttle lot B",
    "School crossing",
    "Finish chute",
];

/// Height of the made-up ground at a share of the map's width and height.
fn height(u: f64, v: f64) -> f64 {
    let river = 0.5 + 0.06 * (u * 7.0).sin();
    let valley = ((v - river) / 0.16).powi(2).min(1.0);
    let ridges = 140.0 * (-((v - 0.16 - 0.03 * (u * 9.0).cos()) / 0.07).powi(2)).exp()
        + 170.0 * (-((v - 0.83 + 0.05 * (u * 5.0).sin()) / 0.09).powi(2)).exp();
    let knolls = 12.0 * (u * 31.0).sin() * (v * 23.0).cos() + 5.0 * (u * 67.0 + v * 41.0).sin();
    20.0 + 45.0 * valley + ridges + knolls * valley
}

/// A town of `posts` posts on a grid of `columns` by `rows` cells that spans
/// `transform` in `crs`.
pub fn town(columns: usize, rows: usize, transform: [f64; 6], crs: &str, posts: usize) -> Town {
    let grid = Grid::new(columns, rows, transform, crs).unwrap();
    let heights = Array2::from_shape_fn((rows, columns), |(r, c)| {
        height((c as f64 + 0.5) / columns as f64, (r as f64 + 0.5) / rows as f64)
    });
    let ground = heights.mapv(|height| height as f32);
    let terrain = Terrain::from_heights(grid.clone(), ground).unwrap();
    let (width, tall) = grid.cell_size().unwrap();
    let relief = shade(&heights, width.value(), tall.value());
    let site_share = (0.46, 0.42);
    let at_share = |u: f64, v: f64| {
        grid.projector().unwrap().to_position(u * columns as f64, v * rows as f64).unwrap()
    };
    let outcome = outcomes(&heights, site_share, width.value(), tall.value());
    let margin = |shift: f32| outcome.map(|o| rough_margin(*o).map_or(f32::NAN, |m| m + shift));
    let coverage = Coverage {
        grid: grid.clone(),
        talk_in_margin: margin(0.0),
        talk_out_margin: margin(3.0),
        talk_out_wanted: Dbm::new(-100.0),
        probability: outcome.map(|o| rough_probability(*o).map_or(f32::NAN, |p| p as f32)),
        reliability: 0.95,
        line_of_sight: outcome.map(|o| *o >= Outcome::Clear),
        unknown_cells: outcome.iter().filter(|o| **o == Outcome::Unknown).count(),
        outcome: outcome.clone(),
    };
    let mut scatter = Scatter::new(7);
    let site_at = at_share(site_share.0, site_share.1);
    let mut spots = Vec::new();
    for index in 0..posts {
        let (u, v) = match index % 3 {
            0 => (0.42 + 0.12 * scatter.next(), 0.42 + 0.14 * scatter.next()),
            1 => (0.08 + 0.84 * scatter.next(), 0.40 + 0.2 * scatter.next()),
            _ => (0.05 + 0.9 * scatter.next(), 0.06 + 0.88 * scatter.next()),
        };
        let round = index / NAMES.len();
        let name = NAMES[index % NAMES.len()];
        let name = if round == 0 { name.to_owned() } else { format!("{name} {}", round + 1) };
        spots.push((name, u, v));
    }
    let scores = spots
        .iter()
        .map(|(name, u, v)| {
            let outcome = outcome[(
                ((v * rows as f64) as usize).min(rows - 1),
                ((u * columns as f64) as usize).min(columns - 1),
            )];
            let at = at_share(*u, *v);
            let margin = f64::from(rough_margin(outcome).unwrap_or(f32::NAN));
            PostScore {
                post: name.clone(),
                at,
                must: false,
                counts: true,
                distance_m: site_at.distance(at),
                line_of_sight: Some(outcome >= Outcome::Clear),
                outcome,
                probability: rough_probability(outcome),
                sure: rough_probability(outcome),
                governing_margin_db: Some(Db::new(margin)),
                budgets: Some(Box::new(budgets(outcome, margin))),
                reason: "made up".to_owned(),
                remedy: None,
            }
        })
        .collect::<Vec<_>>();
    let covered = scores.iter().filter(|s| s.outcome >= Outcome::Clear).count();
    let line = |points: &[(f64, f64)]| {
        geo::LineString::from(
            points.iter().map(|(u, v)| at_share(*u, *v).point()).collect::<Vec<_>>(),
        )
    };
    let course: Vec<(f64, f64)> = (0..60)
        .map(|i| {
            let t = f64::from(i) / 59.0;
            (
                0.12 + 0.76 * t,
                0.5 + 0.06 * ((0.12 + 0.76 * t) * 7.0).sin() + 0.035 * (t * 9.0).cos(),
            )
        })
        .collect();
    let meadow = [(0.44, 0.55), (0.50, 0.54), (0.51, 0.60), (0.45, 0.61), (0.44, 0.55)];
    let lot = [(0.80, 0.45), (0.84, 0.45), (0.84, 0.49), (0.80, 0.49), (0.80, 0.45)];
    let area = |name: &str, ring: &[(f64, f64)]| Area {
        name: name.to_owned(),
        outline: geo::Polygon::new(line(ring), vec![]),
        weight: 1.0,
        environment: None,
        surroundings: None,
        roof_height: None,
        street_width: None,
    };
    let plan = Plan {
        text: String::new(),
        file: PathBuf::from("ferry-lights.toml"),
        sha256: "0f".repeat(32),
        vector_files: vec![],
        event: Event {
            name: "Ferry Lights Half Marathon".to_owned(),
            agency: Some("Ostler's Ferry Runners".to_owned()),
            starts: "2026-12-05T16:30:00+00:00[UTC]".parse().unwrap(),
            ends: "2026-12-05T20:00:00+00:00[UTC]".parse().unwrap(),
            tear_down: "2026-12-05T21:00:00+00:00[UTC]".parse().unwrap(),
        },
        contacts: vec![],
        units: UnitSystem::Metric,
        buildings: None,
        land_cover: None,
        water: None,
        place_names: None,
        terrain: TerrainInputs {
            files: vec![],
            height_unit: None,
            crs: None,
            fill_gaps: false,
            cell: None,
        },
        prediction: Prediction {
            method: "delta-bullington".to_owned(),
            k_factor: 4.0 / 3.0,
            delta_n: None,
            n0: Refractivity::new(325.0),
            time: Percent::new(50.0),
            polarization: Polarization::Vertical,
            audio_quality: AudioQuality::Daq34,
            reliability: 0.95,
            variability: Some(Db::new(5.5)),
            model_error: Some(Db::new(0.0)),
            environment: Environment::Residential,
            surroundings: None,
            roof_height: None,
            street_width: None,
            packet_over_sinad: Db::new(6.0),
            calibration: None,
        },
        map: MapInputs {
            cell: None,
            margin: Metres::new(500.0),
            tiles: None,
            grid: ReferenceGrid::None,
        },
        radios: vec![],
        trackers: vec![],
        choose: ChooseInputs::default(),
        masts: MastInputs::default(),
        search: SearchInputs::default(),
        power: PowerInputs::default(),
        channels: vec![Channel {
            name: "Event net".to_owned(),
            service: Service::Relay {
                input: Megahertz::new(147.9),
                output: Megahertz::new(147.3),
                station: 0,
            },
            tone: None,
            carried: 0,
            background_an_hour: None,
            hops: 1,
            placeholder: false,
            function: None,
            users: None,
        }],
        posts: spots
            .iter()
            .map(|(name, u, v)| Post {
                name: name.clone(),
                at: at_share(*u, *v),
                weight: 1.0,
                must: false,
                net_control: false,
                radio: None,
                carry: None,
                indoors: None,
                street: false,
                environment: None,
                surroundings: None,
                roof_height: None,
                street_width: None,
                extra_loss: None,
                extra_loss_from: None,
                extra_loss_to: None,
            })
            .collect(),
        groups: Vec::new(),
        fallback: perchline::plan::FallbackInputs::default(),
        areas: vec![area("Lantern meadow", &meadow), area("Shuttle lot east", &lot)],
        routes: vec![Route {
            name: "Half-marathon course".to_owned(),
            line: line(&course),
            weight: 1.0,
            environment: None,
        }],
        sites: vec![],
        remarks: vec![],
    };
    let share = |name: &str, share: f64| ShareScore {
        name: name.to_owned(),
        share,
        probability: 0.5 + share / 2.0,
        samples: 100,
        unknown: 0,
    };
    Town {
        plan,
        terrain,
        relief,
        coverage,
        site: SiteScore {
            duplexers: Vec::new(),
            site: "Grain elevator".to_owned(),
            at: site_at,
            available: true,
            refused_mast: None,
            ground_m: Metres::new(31.0),
            antenna_above_ground_m: Metres::new(41.0),
            weighted_probability: 0.8,
            must_posts_met: true,
            posts_covered: covered,
            worst_post: None,
            posts: scores,
            areas: vec![share("Lantern meadow", 0.97), share("Shuttle lot east", 0.41)],
            routes: vec![RouteScore {
                share: share("Half-marathon course", 0.88),
                length_m: Metres::new(21_100.0),
                expected_without_contact_m: Metres::new(1_900.0),
                longest_gap: Some(Stretch {
                    from_m: Metres::new(12_340.0),
                    to_m: Metres::new(13_080.0),
                }),
                gaps: vec![Stretch { from_m: Metres::new(12_340.0), to_m: Metres::new(13_080.0) }],
                classes: route_classes(),
            }],
            map_share: Some(0.55),
        },
        courses: vec![hilly_course()],
        provenance: provenance(),
    }
}

/// From end to end, with the gap that the score tells of.
fn route_classes() -> Vec<ClassStretch> {
    let (clear, none) = (Outcome::Clear, Outcome::NoContact);
    let pieces = [
        (0.0, 12_340.0, Outcome::Strong, clear, clear),
        (12_340.0, 12_700.0, Outcome::OneWay, none, clear),
        (12_700.0, 13_080.0, none, none, none),
        (13_080.0, 21_100.0, clear, clear, clear),
    ];
    pieces
        .into_iter()
        .map(|(from, to, outcome, talk_in, talk_out)| ClassStretch {
            stretch: Stretch { from_m: Metres::new(from), to_m: Metres::new(to) },
            outcome,
            talk_in,
            talk_out,
        })
        .collect()
}

/// A course over two hills, with three posts.
fn hilly_course() -> RouteCourse {
    let height = |n: u32| 40.0 + 30.0 * (f64::from(n) / 80.0).sin();
    let passed = |post: usize, along: f64| PassedPost { post, along_m: Metres::new(along) };
    RouteCourse {
        route: "Half-marathon course".to_owned(),
        length_m: Metres::new(21_100.0),
        ground: (0..844)
            .map(|n| (Metres::new(12.5 + 25.0 * f64::from(n)), Some(Metres::new(height(n)))))
            .collect(),
        posts: vec![passed(0, 10.0), passed(5, 7_000.0), passed(6, 12_900.0)],
        slowest: Some(Paced {
            tracker: "Last runners".to_owned(),
            speed: perchline::units::MetresPerSecond::new(2.0),
        }),
        fastest: None,
    }
}

/// What the drawings say made them.
pub fn provenance() -> Provenance {
    Provenance {
        program: "perchline",
        version: "0.1.0",
        method: "delta-bullington",
        method_source: "ITU-R P.526",
        instructions: "none",
        reliability: 0.95,
        location_spread_db: Db::new(5.5),
        model_error_db: Db::new(0.0),
        k_factor: 4.0 / 3.0,
        delta_n: None,
        n0: Refractivity::new(325.0),
        time_percent: Percent::new(50.0),
        made_at: "2026-11-25T10:00:00Z".to_owned(),
        inputs: vec![InputFile {
            path: PathBuf::from("sample/ostlers-ferry.tif"),
            sha256: "a1".repeat(32),
        }],
    }
}

/// The usual town: 12 by 9 km in UTM zone 25 north, out in the ocean.
pub fn ferry(posts: usize) -> Town {
    town(600, 450, [494_000.0, 20.0, 0.0, 4_004_500.0, 0.0, -20.0], "EPSG:32625", posts)
}

fn shade(heights: &Array2<f64>, width: f64, tall: f64) -> Array2<u8> {
    let (rows, columns) = heights.dim();
    Array2::from_shape_fn((rows, columns), |(r, c)| {
        let at = |r: usize, c: usize| heights[(r.min(rows - 1), c.min(columns - 1))];
        let east = (at(r, c + 1) - at(r, c.saturating_sub(1))) / (2.0 * width);
        let north = (at(r.saturating_sub(1), c) - at(r + 1, c)) / (2.0 * tall);
        // Lamp in the north-west at 45 degrees.
        let light = (0.707 + 0.5 * (east - north)) / (1.0 + east * east + north * north).sqrt();
        (light.clamp(0.0, 1.0) * 255.0) as u8
    })
}

/// Outcomes from how deep a cell lies in the shadow of the site, and from its distance.
fn outcomes(heights: &Array2<f64>, site: (f64, f64), width: f64, tall: f64) -> Array2<Outcome> {
    let (rows, columns) = heights.dim();
    let (sc, sr) = (site.0 * columns as f64, site.1 * rows as f64);
    let mast = heights[(sr as usize, sc as usize)] + 41.0;
    Array2::from_shape_fn((rows, columns), |(r, c)| {
        let (u, v) = (c as f64 / columns as f64, r as f64 / rows as f64);
        if (u - 0.9).hypot(v - 0.1) < 0.06 {
            return Outcome::Unknown;
        }
        let (dx, dy) = (c as f64 + 0.5 - sc, r as f64 + 0.5 - sr);
        let steps = dx.hypot(dy).ceil().max(1.0) as usize;
        let end = heights[(r, c)] + 1.5;
        let mut depth = f64::NEG_INFINITY;
        for step in 1..steps {
            let t = step as f64 / steps as f64;
            let ground = heights[((sr + dy * t) as usize, (sc + dx * t) as usize)];
            depth = depth.max(ground - (mast + (end - mast) * t));
        }
        let km = (dx * width).hypot(dy * tall) / 1000.0;
        let loss = 28.0 + 22.0 * (km.max(0.1)).log10() + 1.1 * (depth + 12.0).max(0.0);
        match 58.0 - loss {
            m if m > 15.0 => Outcome::Strong,
            m if m > 5.0 => Outcome::Clear,
            m if m > -3.0 => Outcome::Patchy,
            m if m > -9.0 => Outcome::OneWay,
            _ => Outcome::NoContact,
        }
    })
}

fn rough_margin(outcome: Outcome) -> Option<f32> {
    match outcome {
        Outcome::Unknown => None,
        Outcome::NoContact => Some(-25.0),
        Outcome::OneWay => Some(-12.0),
        Outcome::Patchy => Some(-3.0),
        Outcome::Clear => Some(5.0),
        Outcome::Strong => Some(18.0),
    }
}

/// A probability in the middle of each class.
fn rough_probability(outcome: Outcome) -> Option<f64> {
    match outcome {
        Outcome::Unknown => None,
        Outcome::NoContact => Some(0.01),
        Outcome::OneWay => Some(0.32),
        Outcome::Patchy => Some(0.79),
        Outcome::Clear => Some(0.975),
        Outcome::Strong => Some(0.9987),
    }
}

/// Both budgets of a link whose talk-in comes out at `margin`.
pub fn budgets(outcome: Outcome, margin: f64) -> LinkBudgets {
    let one = |direction, power: f64, own: &[(&str, f64)], noise: f64, extra: f64| {
        let allowance = 9.0;
        let required = noise + 17.0;
        let fixed: f64 = own.iter().map(|(_, change)| change).sum();
        let path = required + allowance + margin + extra - power - fixed;
        let mut level = power;
        let mut lines = Vec::new();
        let mut push = |label: &str, change: f64| {
            level += change;
            lines.push(BudgetLine {
                label: label.to_owned(),
                change_db: Db::new(change),
                level_dbm: Dbm::new(level),
            });
        };
        let (before, after) = own.split_at(own.len() / 2);
        before.iter().for_each(|(label, change)| push(label, *change));
        push("Free space", path * 0.8);
        push("Terrain in the way", path * 0.2);
        after.iter().for_each(|(label, change)| push(label, *change));
        Budget {
            direction,
            frequency_mhz: Megahertz::new(if direction == Direction::TalkIn {
                147.9
            } else {
                147.3
            }),
            model: Model::Method("delta-bullington"),
            power_dbm: Dbm::new(power),
            lines,
            signal_dbm: Dbm::new(level),
            noise: NoiseFloor {
                receiver_dbm: Dbm::new(noise - 7.0),
                environment_dbm: Dbm::new(noise - 1.0),
                roof_dbm: None,
                total_dbm: Dbm::new(noise),
                governed_by: NoiseSource::Environment,
                environment_cost_db: Db::new(7.0),
                roof_cost_db: Db::new(0.0),
                desense_at_times: None,
                measured: false,
            },
            required_over_noise_db: Db::new(17.0),
            required_dbm: Dbm::new(required),
            reliability_allowance_db: Db::new(allowance),
            margin_db: Db::new(margin + extra),
            share_of_locations: 0.93,
        }
    };
    let carried: &[(&str, f64)] = &[
        ("Hand-held antenna", -3.0),
        ("Body, worn on the hip", -14.0),
        ("Relay antenna, collinear", 6.2),
        ("Feed line, 12 m of RG-213", -0.9),
        ("Duplexer", -1.5),
    ];
    let mut back = carried.to_vec();
    back.reverse();
    LinkBudgets {
        talk_in: one(Direction::TalkIn, 36.99, carried, -122.0, 0.0),
        talk_out: one(Direction::TalkOut, 43.98, &back, -116.0, 3.0),
        governing: Direction::TalkIn,
        probability: rough_probability(outcome).unwrap_or(0.0),
        missing_db: Db::new(-margin),
        outcome,
        wanted: 0.95,
        sure: rough_probability(outcome).unwrap_or(0.0),
        spread: perchline::link::Spread::new(Db::new(5.6), 0.9),
    }
}

/// A position that must exist.
pub fn position(latitude: f64, longitude: f64) -> Position {
    use perchline::units::Degrees;
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

/// Writes a picture where people can look at it.
pub fn keep(name: &str, png: &[u8]) {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/looks");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name), png).unwrap();
}
