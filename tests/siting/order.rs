//! Sites in order without maps, and sites scored again from losses that are there
//! already, against whole rankings.

use std::sync::atomic::AtomicBool;

use perchline::assessment::Assessment;
use perchline::plan::Calibration;
use perchline::siting::{Keep, RankInputs, SiteLosses, order, rank, score_without_map};
use perchline::units::{Db, Metres};

/// Both sample plans, and the first among houses that it states by their class.
fn plans() -> Vec<Assessment> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let file = folder.join("ferry-lights.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let class = text.replace(
        "reliability = \"95 %\"",
        "reliability = \"95 %\"\nsurroundings = \"suburb\"\nroof_height = \"9 m\"",
    );
    let classed = perchline::assessment::read_text(&file, &class).unwrap();
    assert!(text != class);
    vec![
        Assessment::read(&file).unwrap(),
        Assessment::read(&folder.join("ferry-lights-town.toml")).unwrap(),
        Assessment::new(classed, &[]).unwrap(),
    ]
}

#[test]
fn the_order_without_maps_is_the_ranking_but_for_the_maps() {
    let assessment = plans().remove(0);
    let grid = assessment.terrain.grid().coarser(Metres::new(500.0)).unwrap();
    let stop = AtomicBool::new(false);
    let inputs = assessment.rank_inputs(&grid, &|| (), &stop);
    for channel in assessment.plan.channels.iter().filter(|channel| channel.has_station()) {
        let (mut ranking, maps) = rank(&inputs, channel, Keep::Best).unwrap();
        assert!(ranking.sites.iter().all(|site| site.map_share.is_some()));
        let share = ranking.sites[0].map_share;
        assert_eq!(share, Some(maps[0].working_share()));
        let best = assessment.best(&inputs, channel).unwrap();
        assert_eq!(best.ranking.sites[0].map_share, share);
        assert_eq!(best.coverages[0].outcome, maps[0].outcome);
        assert!(best.ranking.sites.iter().skip(1).all(|site| site.map_share.is_none()));
        ranking.sites.iter_mut().for_each(|site| site.map_share = None);
        let whole = |ranking| serde_json::to_string(ranking).unwrap();
        assert_eq!(whole(&ranking), whole(&order(&inputs, channel).unwrap()));
    }
}

/// The same to the last bit for any corrections: losses know none of them.
#[test]
fn losses_that_are_kept_give_what_a_ranking_gives_whatever_is_corrected() {
    for assessment in plans() {
        let Assessment { plan, terrain, .. } = &assessment;
        let grid = terrain.grid().coarser(Metres::new(500.0)).unwrap();
        let stop = AtomicBool::new(false);
        let given = assessment.rank_inputs(&grid, &|| (), &stop);
        let mut taught = plan.clone();
        let mut corrections = Calibration::NONE;
        corrections.offsets.iter_mut().for_each(|offset| *offset += Db::new(1.7));
        corrections.bodies.iter_mut().for_each(|body| *body += Db::new(-2.3));
        corrections.model_error = Some(Db::new(4.4));
        taught.prediction.calibrate(corrections);
        let changed = RankInputs { plan: &taught, ..assessment.rank_inputs(&grid, &|| (), &stop) };
        let mut moved = 0;
        for channel in plan.channels.iter().filter(|channel| channel.has_station()) {
            for site in &plan.sites {
                let losses = SiteLosses::of(&given, channel, site).unwrap();
                let found = [&given, &changed].map(|inputs| {
                    let score = score_without_map(inputs, channel, site, None).unwrap();
                    let again = losses.weighted_probability(inputs, channel).unwrap();
                    assert_eq!(again.to_bits(), score.weighted_probability.to_bits());
                    again
                });
                moved += usize::from(found[0] != found[1]);
            }
        }
        assert!(moved > 6, "{moved}");
    }
}
