use perchline::report::map;

use crate::town::{ferry, keep};

#[test]
fn the_sample_town_fills_a_sheet() {
    let town = ferry(14);
    let png = map::draw(&town.content()).unwrap();
    keep("map-14-posts.png", &png);
    let picture = image::load_from_memory(&png).unwrap().to_rgb8();
    assert_eq!(picture.dimensions(), (2480, 1754));
}

#[test]
fn forty_posts_fit() {
    let town = ferry(40);
    keep("map-40-posts.png", &map::draw(&town.content()).unwrap());
}
