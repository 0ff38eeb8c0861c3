//! What a person should know before trusting a prediction of this plan.

use perchline_link::{NOISE_VALID_TO, Propagator, frequencies};
use perchline_plan::{InputFile, Plan, Remark};
use perchline_propagation::p833::Leaves;
use perchline_propagation::p1411;
use perchline_propagation::p2108::HEIGHT_GAIN_FREQUENCIES;
use perchline_propagation::streets::Streets;
use perchline_propagation::{Climate, METHODS, PathLoss};
use perchline_terrain::Terrain;
use perchline_units::{Metres, Position};

/// Frequencies and distances for which the method or the noise tables are
/// stretched beyond their source.
pub(super) fn range_remarks(plan: &Plan, propagator: &Propagator) -> Vec<Remark> {
    let frequency = propagator.method.valid_frequency();
    let distance = propagator.method.valid_distance();
    let method = propagator.method.name();
    let channels = plan.channels.iter().flat_map(|channel| {
        let (input, output) = frequencies(&channel.service);
        let about = format!("channel \"{}\"", channel.name);
        let outside =
            [input, output].into_iter().find(|f| !frequency.contains(f)).map(|f| Remark {
                about: about.clone(),
                text: format!(
                    "{f} is outside the range of {method}, {} to {}: take its losses with care",
                    frequency.start(),
                    frequency.end()
                ),
            });
        let noisy = [input, output].into_iter().find(|f| *f > NOISE_VALID_TO).map(|f| Remark {
            about,
            text: format!(
                "man-made noise is published up to {NOISE_VALID_TO}; at {f} its line is prolonged"
            ),
        });
        outside.into_iter().chain(noisy)
    });
    let leaves = plan.channels.iter().filter(|_| plan.land_cover.is_some()).filter_map(|channel| {
        let (input, output) = frequencies(&channel.service);
        let outside =
            [input, output].into_iter().find(|f| !Leaves::FREQUENCIES.contains(&f.value()))?;
        Some(Remark {
            about: format!("channel \"{}\"", channel.name),
            text: format!(
                "the loss in leaves is known from {} to {} MHz; at {outside} trees count as solid obstacles",
                Leaves::FREQUENCIES.start(),
                Leaves::FREQUENCIES.end()
            ),
        })
    });
    let low: Vec<String> = plan
        .channels
        .iter()
        .filter(|_| plan.buildings.is_some())
        .filter(|channel| {
            let (input, output) = frequencies(&channel.service);
            [input, output].into_iter().any(Streets::is_prolonged)
        })
        .map(|channel| channel.name.clone())
        .collect();
    let streets = (!low.is_empty()).then(|| Remark {
        about: format!("channels {}", low.join(", ")),
        text: format!(
            "between two radios below the roofs or near street level waves along the streets count by ITU-R P.1411, which is given for {:.0} to {:.0}; outside that range a wider spread is taken",
            p1411::FREQUENCIES.0, p1411::FREQUENCIES.1
        ),
    });
    let houses = plan.channels.iter().filter(|_| states_houses(plan)).filter_map(|channel| {
        let (input, output) = frequencies(&channel.service);
        let range = HEIGHT_GAIN_FREQUENCIES;
        let outside = [input, output].into_iter().find(|f| !range.contains(&f.value()))?;
        Some(Remark {
            about: format!("channel \"{}\"", channel.name),
            text: format!(
                "what houses around a radio take is published from {} to {} MHz; at {outside} its form is prolonged",
                range.start(),
                range.end()
            ),
        })
    });
    let farthest = farthest(plan);
    let far = (!distance.contains(&farthest)).then(|| Remark {
        about: "map".to_owned(),
        text: format!(
            "the longest path, {}, is outside the range of {method}, {} to {}",
            plan.units.distance(farthest),
            plan.units.distance(*distance.start()),
            plan.units.distance(*distance.end())
        ),
    });
    channels.chain(leaves).chain(streets).chain(houses).chain(far).collect()
}

/// Whether it states the houses around any place.
fn states_houses(plan: &Plan) -> bool {
    plan.clutter().is_some()
        || plan.clutter_areas().next().is_some()
        || plan.posts.iter().any(|post| plan.clutter_of(post).is_some())
}

/// That no name of the ground is on the terrain: the file is of another place.
pub(super) fn names_elsewhere(plan: &Plan, terrain: &Terrain) -> Option<Remark> {
    let named = &plan.place_names.as_ref()?.found;
    let bounds = terrain.bounds();
    (!named.names.iter().any(|name| bounds.meets(&name.geometry))).then(|| Remark {
        about: "place_names: file".to_owned(),
        text: format!(
            "none of the {} names of {} is on the maps, whose ground covers {bounds}: is the file of another place?",
            named.names.len(),
            named.file.display()
        ),
    })
}

/// What the plan says of the radio climate and its method does not count.
pub(super) fn climate_remark(propagator: &Propagator) -> Option<Remark> {
    let stated = Climate { latitude: Climate::DEFAULT.latitude, ..propagator.climate };
    let counts_it = |method: &&&dyn PathLoss| method.counted().climate;
    (!propagator.method.counted().climate && stated != Climate::DEFAULT).then(|| {
        let names: Vec<_> = METHODS.iter().filter(counts_it).map(|m| m.name()).collect();
        Remark {
            about: "prediction".to_owned(),
            text: format!(
                "n0 and time_percent count with method {} alone; {} predicts for the middle of the time",
                names.join(" or "),
                propagator.method.name()
            ),
        }
    })
}

/// The longest distance from a site to anything in the plan.
fn farthest(plan: &Plan) -> Metres {
    let places: Vec<Position> = plan.extent_points().collect();
    plan.sites
        .iter()
        .flat_map(|site| places.iter().map(|place| site.at.distance(*place)))
        .fold(Metres::new(0.0), Metres::max)
}
/// The same with files by their names: remarks stand in what is mailed, and where the
/// files lie on this machine is nobody else's.
pub(super) fn without_folders(remark: Remark, plan: &Plan, inputs: &[InputFile]) -> Remark {
    let mut folders: Vec<String> = inputs
        .iter()
        .filter_map(|input| input.path.parent())
        .chain(plan.file.parent())
        .filter(|folder| folder.is_absolute())
        .map(|folder| format!("{}{}", folder.display(), std::path::MAIN_SEPARATOR))
        .collect();
    // A folder inside another before that one.
    folders.sort_by_key(|folder| std::cmp::Reverse(folder.len()));
    let told = |text: String| {
        folders.iter().fold(text, |text, folder| match folder.as_str() {
            // The root alone would take slashes out of words.
            "/" => text,
            folder => text.replace(folder, ""),
        })
    };
    Remark { about: told(remark.about), text: told(remark.text) }
}
