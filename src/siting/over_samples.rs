//! Profiles from one place to many, on all cores.

use rayon::prelude::*;

use super::demand::Sample;
use perchline_profile::Profile;
use perchline_terrain::Terrain;
use perchline_units::Position;

/// Samples that one thread takes in a row at the most: what is known of the place where
/// their profiles start is found once for them.
const IN_A_ROW: usize = 32;

/// How many of `count` a thread takes in a row, so that all have enough to do.
pub(super) fn in_a_row(count: usize) -> usize {
    (count / (4 * rayon::current_num_threads())).clamp(1, IN_A_ROW)
}

/// What `of` makes of the profile from a place to each of the samples, in their order;
/// nothing where terrain is missing on the way.
pub(super) fn over_samples<T: Send>(
    terrain: &Terrain,
    from: Position,
    samples: &[Sample],
    of: impl Fn(&Sample, &Profile) -> T + Sync,
) -> Vec<Option<T>> {
    let parts: Vec<Vec<Option<T>>> = samples
        .par_chunks(in_a_row(samples.len()))
        .map(|some| {
            let mut tracer = terrain.tracer(from).ok();
            let mut profile = Profile::default();
            some.iter()
                .map(|sample| {
                    tracer.as_mut()?.trace(sample.at, &mut profile).ok()?;
                    Some(of(sample, &profile))
                })
                .collect()
        })
        .collect();
    parts.into_iter().flatten().collect()
}
