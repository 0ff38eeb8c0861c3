//! Radios where they stand: on a roof, at a post, on a tracker; and what the
//! footprints of buildings say of the places that a plan gives.

use std::fs;

use crate::support::{PLAN, open_plan, write_plan_raster};
use approx::assert_abs_diff_eq;
use perchline::link::{Misfit, RoofNoise, Terminal, TerminalError, building_remarks};
use perchline::plan::{
    CarriedIn, Carry, Environment, Indoors, Mount, Plan, Post, Roof, Site, Tracker,
};
use perchline::terrain::Terrain;
use perchline::units::{Dbm, Degrees, Metres, MetresPerSecond, Position, Seconds};

/// Ground above the sea, everywhere.
const GROUND: f32 = 40.0;

/// The small plan on level ground, with a square building of 9 m, "hall", whose
/// middle is at each of these places and whose walls are `half` degrees of
/// latitude from it.
fn with_buildings(ground: f32, places: &[(f64, f64)], half: f64) -> (Plan, Terrain) {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| ground);
    let mut plan = PLAN.to_owned();
    if !places.is_empty() {
        let features: Vec<String> = places
            .iter()
            .map(|(latitude, longitude)| {
                let ring: Vec<String> = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)]
                    .iter()
                    .map(|(east, north)| {
                        format!("[{:.7}, {:.7}]", longitude + east * 1.46 * half, latitude + north * half)
                    })
                    .collect();
                format!(
                    r#"{{"type": "Feature", "properties": {{"id": "hall", "height": 9}}, "geometry": {{"type": "Polygon", "coordinates": [[{}]]}}}}"#,
                    ring.join(", ")
                )
            })
            .collect();
        let text =
            format!(r#"{{"type": "FeatureCollection", "features": [{}]}}"#, features.join(","));
        fs::write(folder.path().join("halls.geojson"), text).unwrap();
        plan = plan.replace("[map]", "[buildings]\nfiles = [\"halls.geojson\"]\n\n[map]");
    }
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    open_plan(&folder.path().join("plan.toml"))
}

fn level() -> (Plan, Terrain) {
    with_buildings(GROUND, &[], 0.0)
}

/// The site Hotel with this roof on its mast of 3 m.
fn on(plan: &Plan, terrain: &Terrain, roof: Roof, tall: bool) -> Result<Terminal, TerminalError> {
    let site = Site { roof, tall, ..plan.sites[0].clone() };
    Terminal::at_site(plan, &plan.channels[0], &site, terrain)
}

const fn sea(height: f64) -> Roof {
    Roof::AboveSea(Metres::new(height))
}

fn position(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

/// By hand over ground at 40 m: a mast of 3 m on each roof.
#[test]
fn an_antenna_is_its_roof_and_its_mast_above_the_ground() {
    let (plan, terrain) = level();
    for (roof, antenna) in [
        (Roof::AboveGround(Metres::new(20.0)), 23.0),
        (sea(60.0), 23.0),
        // Rasters are no better than 2 m: a roof so far below counts as the ground.
        (sea(39.0), 3.0),
        (sea(38.0), 3.0),
        // The highest that nobody asks about.
        (sea(190.0), 153.0),
    ] {
        let terminal = on(&plan, &terrain, roof, false).unwrap();
        assert_abs_diff_eq!(terminal.antenna.value(), antenna, epsilon = 1e-9);
        assert_abs_diff_eq!(terminal.ground.value(), 40.0, epsilon = 1e-9);
        assert_eq!((terminal.carry, terminal.indoors), (None, None));
        assert_eq!(terminal.name, "Hotel");
        assert_eq!(terminal.radio.name, "relay");
        assert_eq!(terminal.cell, terrain.spacing());
    }
    let tall = on(&plan, &terrain, sea(200.0), true).unwrap();
    assert_abs_diff_eq!(tall.antenna.value(), 163.0, epsilon = 1e-9);
}

#[test]
fn a_roof_that_does_not_fit_the_ground_is_an_error_of_its_field() {
    let (plan, terrain) = level();
    for tall in [false, true] {
        let error = on(&plan, &terrain, sea(37.9), tall).unwrap_err();
        assert!(matches!(error.misfit, Misfit::Underground { .. }), "{error}");
        assert!(error.to_string().starts_with("site \"Hotel\": roof: 37.9 m above sea is below"));
    }
    let error = on(&plan, &terrain, sea(190.1), false).unwrap_err();
    let Misfit::TooHigh { roof, above } = error.misfit else { panic!("{error}") };
    assert_eq!(roof, Metres::new(190.1));
    assert_abs_diff_eq!(above.value(), 150.1, epsilon = 1e-9);
    let error = on(&plan, &terrain, Roof::OfBuilding, false).unwrap_err();
    assert!(matches!(error.misfit, Misfit::NoBuilding) && error.misfit.field() == "roof");

    let nowhere = Site { at: position(40.0, -34.9), ..plan.sites[0].clone() };
    let error = Terminal::at_site(&plan, &plan.channels[0], &nowhere, &terrain).unwrap_err();
    assert!(matches!(error.misfit, Misfit::Place(_)) && error.misfit.field() == "at");
    let post = Post { at: nowhere.at, ..plan.posts[0].clone() };
    let error = Terminal::at_post(&plan, &plan.channels[0], &post, &terrain).unwrap_err();
    assert!(error.to_string().starts_with("post \"Aid 1\": at: "), "{error}");
}

/// A foot is 0.3048 m: 250 ft are 76.2 m, 700 ft are 213.4 m.
#[test]
fn a_number_that_makes_a_roof_in_feet_is_asked_about() {
    let said = |ground: f32, roof: f64| {
        let (plan, terrain) = with_buildings(ground, &[], 0.0);
        on(&plan, &terrain, sea(roof), false).unwrap_err().to_string()
    };
    let asked = ": is it 250 ft, 76.2 m above sea and 36.2 m above the ground?";
    assert!(said(40.0, 250.0).contains(asked), "{}", said(40.0, 250.0));
    let asked = ": is it 400 ft, 121.9 m above sea and 61.9 m above the ground?";
    assert!(said(60.0, 400.0).contains(asked), "{}", said(60.0, 400.0));
    // In feet it would be 173 m high, or lie in the ground.
    for (ground, roof) in [(40.0, 700.0), (100.0, 260.0)] {
        let text = said(ground, roof);
        assert!(text.contains("above the ground there, which few roofs are"), "{text}");
        assert!(!text.contains(" ft"), "{text}");
    }
}

#[test]
fn a_roof_left_to_a_footprint_is_as_high_as_that() {
    let (plan, terrain) = with_buildings(GROUND, &[(47.004, -34.890)], 0.0003);
    let terminal = on(&plan, &terrain, Roof::OfBuilding, false).unwrap();
    assert_abs_diff_eq!(terminal.antenna.value(), 12.0, epsilon = 1e-9);
}

/// Every field of a post's radio comes from the post where it says something,
/// else from the radio and the plan.
#[test]
fn a_post_carries_its_radio_as_it_says() {
    let (mut plan, terrain) = level();
    let channel = plan.channels[0].clone();
    let plain = Terminal::at_post(&plan, &channel, &plan.posts[0], &terrain).unwrap();
    assert_eq!((plain.name.as_str(), plain.at), ("Aid 1", plan.posts[0].at));
    assert_eq!((plain.carry, plain.indoors), (Some(Carry::Shoulder), None));
    assert_eq!(plain.environment, plan.prediction.environment);
    assert_eq!(plain.carried_in(), CarriedIn::Open(plain.environment));
    assert_eq!((plain.antenna, plain.cell), (Metres::new(1.4), terrain.spacing()));
    assert_abs_diff_eq!(plain.ground.value(), 40.0, epsilon = 1e-9);
    assert!(plain.cell > Metres::new(29.0), "{}", plain.cell);

    let own = Post {
        radio: Some(1),
        carry: Some(Carry::Hip),
        indoors: Some(Indoors::Efficient),
        environment: Some(Environment::City),
        ..plan.posts[0].clone()
    };
    let own = Terminal::at_post(&plan, &channel, &own, &terrain).unwrap();
    assert_eq!(own.radio.name, plan.radios[1].name);
    assert_eq!((own.carry, own.antenna), (Some(Carry::Hip), Metres::new(1.0)));
    assert_eq!((own.indoors, own.environment), (Some(Indoors::Efficient), Environment::City));
    assert_eq!(own.carried_in(), CarriedIn::Indoors);

    // A height that the plan states stands, however the radio is worn.
    plan.radios[0].antenna_height = Some(Metres::new(2.5));
    let stated = Terminal::at_post(&plan, &channel, &plan.posts[0], &terrain).unwrap();
    assert_eq!(stated.antenna, Metres::new(2.5));
    assert_eq!(stated.clone().worn(Carry::Head).antenna, Metres::new(2.5));
    assert_eq!(plain.clone().worn(Carry::Head).antenna, Metres::new(1.6));
    assert_eq!(plain.worn(Carry::Head).carry, Some(Carry::Head));
}

/// The loss of a table counts unless the plan states one or nobody wears the radio.
#[test]
fn a_stated_body_loss_leaves_no_table_to_look_into() {
    let (plan, _) = level();
    let here = Terminal::anywhere(&plan, &plan.channels[0], None, plan.posts[0].at);
    let frequency = perchline::units::Megahertz::new(146.55);
    assert_eq!(here.table_carry(frequency), Some(Carry::Shoulder));
    let mut stated = here.clone();
    stated.radio.body_loss = Some(perchline::units::Db::new(3.0));
    assert_eq!(stated.table_carry(frequency), None);
    assert_eq!(Terminal { carry: None, ..here }.table_carry(frequency), None);
}

#[test]
fn a_radio_anywhere_has_the_surroundings_that_were_asked_for() {
    let (plan, terrain) = level();
    let (channel, at) = (&plan.channels[0], plan.posts[1].at);
    let city = Terminal::anywhere(&plan, channel, Some(Environment::City), at);
    assert_ne!(plan.prediction.environment, Environment::City);
    assert_eq!((city.environment, city.at), (Environment::City, at));
    let plain = Terminal::anywhere(&plan, channel, None, at);
    assert_eq!(plain.environment, plan.prediction.environment);
    assert_eq!((plain.ground, plain.cell), (Metres::new(0.0), Metres::new(0.0)));
    let named = Terminal::standing(&plan, channel, "Bend", at, &terrain).unwrap();
    assert_eq!((named.name.as_str(), named.at), ("Bend", at));
    assert_abs_diff_eq!(named.ground.value(), 40.0, epsilon = 1e-9);
    assert!(Terminal::standing(&plan, channel, "Off", position(40.0, -34.9), &terrain).is_err());
    let noise = RoofNoise { always: Some(Dbm::new(-101.0)), at_times: None };
    assert_eq!(named.roof_noise, RoofNoise::default());
    assert_eq!(named.with_roof_noise(noise).roof_noise, noise);
}

#[test]
fn a_tracker_rides_on_what_the_plan_says() {
    let (plan, _) = level();
    let tracker = |mount, radio| Tracker {
        name: "Sweep".to_owned(),
        count: 1,
        route: 0,
        channel: 0,
        radio,
        mount,
        every: Seconds::new(60.0),
        packet: Seconds::new(0.5),
        speed: MetresPerSecond::new(2.0),
    };
    let at = plan.posts[0].at;
    let worn = Terminal::on_tracker(&plan, &tracker(Mount::Person(Carry::Hip), 0), at).unwrap();
    assert_eq!((worn.name.as_str(), worn.at), ("Sweep", at));
    assert_eq!((worn.carry, worn.antenna), (Some(Carry::Hip), Metres::new(1.0)));
    // On a car's roof, where the plan states no height: common practice, no source.
    let driven = Terminal::on_tracker(&plan, &tracker(Mount::Vehicle, 0), at).unwrap();
    assert_eq!((driven.carry, driven.antenna), (None, Metres::new(1.5)));
    assert!(Terminal::on_tracker(&plan, &tracker(Mount::Vehicle, 99), at).is_none());
}

/// Remarks on the first post and the first site, changed so.
fn remarks(
    (plan, terrain): &(Plan, Terrain),
    post: impl Fn(&mut Post),
    site: impl Fn(&mut Site),
) -> (String, String) {
    let mut plan = plan.clone();
    post(&mut plan.posts[0]);
    site(&mut plan.sites[0]);
    plan.posts.truncate(1);
    plan.sites.truncate(1);
    let remarks = building_remarks(&plan, terrain);
    let about = |start: &str| {
        let texts: Vec<_> =
            remarks.iter().filter(|r| r.about.starts_with(start)).map(|r| &*r.text).collect();
        texts.join("; ")
    };
    (about("post \"Aid 1\""), about("site \"Hotel\": roof"))
}

/// The middle of the building is 33 m from its walls; where there are buildings
/// the surface has cells of 5 m.
#[test]
fn a_post_in_a_footprint_is_told_what_is_done_with_it() {
    let there = with_buildings(GROUND, &[(47.000, -34.900)], 0.0003);
    let of = |post: &dyn Fn(&mut Post)| remarks(&there, post, |_| {}).0;
    let asked = of(&|_| {});
    assert!(asked.starts_with("it lies in the footprint of "), "{asked}");
    assert!(asked.contains("(9.0 m): is it indoors or on the street?"), "{asked}");
    let street = of(&|post| post.street = true);
    assert!(street.contains("street level beside it") && !street.contains('?'), "{street}");
    let inside = of(&|post| post.indoors = Some(Indoors::Efficient));
    assert!(inside.contains("the loss into a efficient building is added"), "{inside}");

    // Its radio stands on the street: outside, a cell from the walls.
    let (plan, terrain) = &there;
    let terminal = Terminal::at_post(plan, &plan.channels[0], &plan.posts[0], terrain).unwrap();
    let away = terminal.at.distance(plan.posts[0].at).value();
    assert!(terrain.building(terminal.at).is_none());
    assert!((37.0..42.0).contains(&away), "{away}");

    // 220 m to the walls: no street within 200 m.
    let vast = with_buildings(GROUND, &[(47.000, -34.900)], 0.002);
    let (lost, _) = remarks(&vast, |_| {}, |_| {});
    assert!(lost.contains("there is no street within 200 m of it"), "{lost}");
}

#[test]
fn a_post_indoors_where_no_building_is_gets_told_if_there_are_footprints() {
    let elsewhere = with_buildings(GROUND, &[(47.004, -34.890)], 0.0003);
    let indoors = |post: &mut Post| post.indoors = Some(Indoors::Traditional);
    let (told, _) = remarks(&elsewhere, indoors, |_| {});
    assert!(told.starts_with("it is indoors, but no footprint holds it"), "{told}");
    assert_eq!(remarks(&elsewhere, |_| {}, |_| {}).0, "");
    assert_eq!(remarks(&level(), indoors, |_| {}).0, "");
}

/// More than 3 m between a roof and its footprint, or above nothing, is told of.
#[test]
fn a_roof_that_its_footprint_does_not_bear_out_is_told_of() {
    let there = with_buildings(GROUND, &[(47.004, -34.890)], 0.0003);
    let elsewhere = with_buildings(GROUND, &[(47.000, -34.900)], 0.0003);
    let of = |on: &(Plan, Terrain), roof: Roof| remarks(on, |_| {}, |site| site.roof = roof).1;
    let above = |height: f64| Roof::AboveGround(Metres::new(height));
    assert!(of(&there, Roof::OfBuilding).starts_with("the mast stands on the roof of "));
    for agreed in [above(9.0), above(12.0), above(6.0), sea(49.0), sea(51.9)] {
        assert_eq!(of(&there, agreed), "", "{agreed:?}");
    }
    for (apart, height) in [(above(12.1), "12.1"), (above(5.9), "5.9"), (sea(52.5), "12.5")] {
        let text = of(&there, apart);
        assert!(text.starts_with(&format!("the plan's roof is {height} m above")), "{text}");
        assert!(text.contains("says 9.0 m: which is right?"), "{text}");
    }
    assert_eq!(of(&elsewhere, above(3.0)), "");
    let text = of(&elsewhere, above(3.1));
    assert!(text.contains("nothing stands below its roof of 3.1 m"), "{text}");
    assert_eq!(of(&level(), above(20.0)), "");
}
