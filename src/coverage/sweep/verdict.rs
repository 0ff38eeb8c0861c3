//! What gaps, the rim and the antenna's own cell leave in doubt.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use super::cells::{Group, Setting};
use super::ends::Ends;
use super::fan::Fan;
use super::lane::LANES;

/// What is known of a cell before its losses are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    /// The rays hold.
    Known,
    /// Gaps or the rim are so near that the cell's own profile must tell.
    Doubtful,
    /// Terrain is missing on the way.
    Lost,
}

pub(super) type Verdicts = [Verdict; LANES];

/// What gaps, the rim and the antenna's own cell leave in doubt.
#[inline(always)]
pub(super) fn verdicts(setting: &Setting<'_>, fan: &Fan, group: &Group, ends: &Ends) -> Verdicts {
    let mut verdicts = [Verdict::Known; LANES];
    let at_the_antenna = ends.distance.iter().any(|d| *d < 2.0);
    if fan.trouble.is_empty() && !group.rim && !at_the_antenna {
        return verdicts;
    }
    for l in 0..group.count {
        let ray = ends.ray[l] as usize;
        let whole = ends.steps[l] as u32;
        for trouble in fan.trouble.iter().skip(ray).take(2) {
            if trouble.lost < whole {
                verdicts[l] = Verdict::Lost;
            } else if trouble.doubt <= whole && verdicts[l] == Verdict::Known {
                verdicts[l] = Verdict::Doubtful;
            }
        }
        if ends.distance[l] < 2.0 {
            verdicts[l] = Verdict::Doubtful;
        }
        if group.rim && verdicts[l] != Verdict::Lost {
            verdicts[l] = verdicts[l].or(over_the_rim(setting, group, ends, l));
        }
    }
    verdicts
}

impl Verdict {
    /// The worse of both.
    fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Lost, _) | (_, Self::Lost) => Self::Lost,
            (Self::Doubtful, _) | (_, Self::Doubtful) => Self::Doubtful,
            _ => Self::Known,
        }
    }
}

/// Whether a cell's path leaves the raster on its way.
fn over_the_rim(setting: &Setting<'_>, group: &Group, ends: &Ends, l: usize) -> Verdict {
    /// How well the bend of a path is known, in cells.
    const DOUBT: f32 = 0.05;
    let last = setting.ground.surface.last();
    let farthest = |start: f32, offset: f32, bend: f32, last: f32| {
        // Extreme of start + t offset + t (t - 1) bend for t from 0 to 1.
        let turn = if bend == 0.0 { 0.0 } else { (0.5 * (bend - offset) / bend).clamp(0.0, 1.0) };
        let at = start + turn * offset + turn * (turn - 1.0) * bend;
        (-0.5 - at).max(at - last - 0.5)
    };
    let over = farthest(group.origin.0, ends.offset.0[l], group.bend.0, last.0).max(farthest(
        group.origin.1,
        ends.offset.1[l],
        group.bend.1,
        last.1,
    ));
    if over > DOUBT {
        Verdict::Lost
    } else if over > -DOUBT {
        Verdict::Doubtful
    } else {
        Verdict::Known
    }
}
