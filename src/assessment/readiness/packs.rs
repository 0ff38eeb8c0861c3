//! Which pack dies first, and what people carry.

use perchline_power::{
    CrewNeeds, ONLY_JUST, PowerError, StandardPack, StationBudget, without_temperature,
};
use perchline_units::Hours;

use super::{Fix, Gravity, Judged, Matter};

/// What keeps a station on the air to the end in the poor case; nothing where its pack
/// lasts, or where neither a larger pack nor a change of packs does.
#[must_use]
pub fn pack_fix(budget: &StationBudget) -> Option<Fix> {
    if budget.poor.lasts() {
        return None;
    }
    let change = || Fix::ChangePacks {
        station: budget.station.clone(),
        at: budget.changes.clone(),
        sets_short: budget.sets_short(),
    };
    // What lies ready costs a climb; what has to be bought is a larger pack.
    if !budget.changes.is_empty() && budget.sets_short() == 0 {
        return Some(change());
    }
    let larger = budget.enough.as_ref().map(|pack| larger(budget, pack));
    larger.or_else(|| (!budget.changes.is_empty()).then(change))
}

fn larger(budget: &StationBudget, pack: &StandardPack) -> Fix {
    Fix::LargerPack {
        station: budget.station.clone(),
        capacity_ah: pack.capacity_ah,
        weight_kg: pack.weight_kg,
        left_in_poor_case: pack.left_in_poor_case,
        or_change_by: budget.changes.clone(),
        sets_short: budget.sets_short(),
    }
}

impl Judged<'_> {
    /// Packs of stations and crews, the one that dies first before tear-down first.
    pub(super) fn packs(&mut self) {
        let energy = self.assessment.energy();
        let mut budgets: Vec<&StationBudget> = energy.stations.iter().collect();
        let margin = |b: &StationBudget| b.poor.margin_h.map_or(f64::INFINITY, Hours::value);
        budgets.sort_by(|a, b| margin(a).total_cmp(&margin(b)));
        for budget in budgets {
            self.pack(budget);
        }
        let plan = &self.assessment.plan;
        for channel in plan.channels.iter().filter(|channel| channel.has_station()) {
            let powered = plan.power.stations.iter().any(|s| plan.is_channel(s.channel, channel));
            if !powered {
                let name = || channel.name.clone();
                let fix = Fix::StateSupply { channel: name() };
                self.require(Matter::NoSupply { channel: name() }, Some(fix), "power");
            }
        }
        for crew in &energy.crews {
            self.crew(crew);
        }
        self.without_temperature();
    }

    /// Stations and crews whose packs nobody can judge.
    fn without_temperature(&mut self) {
        for lacking in without_temperature(&self.assessment.plan) {
            if let PowerError::NoTemperature { name, .. } = lacking {
                self.require(Matter::NoTemperature { name }, Some(Fix::StateTemperature), "power");
            }
        }
    }

    fn pack(&mut self, budget: &StationBudget) {
        let station = || budget.station.clone();
        let poor = &budget.poor;
        let (Some(dies), Some(margin)) = (&poor.dies_at, poor.margin_h) else {
            return self.only_just(budget);
        };
        if margin.value() >= 0.0 {
            return self.only_just(budget);
        }
        let matter = Matter::Pack {
            station: station(),
            dies_at: dies.clone(),
            early_h: Hours::new(-margin.value()),
            off: budget.off.clone(),
            expected_dies_at: budget.expected.dies_at.clone().filter(|_| !budget.expected.lasts()),
        };
        self.require(matter, pack_fix(budget), "power");
    }

    fn only_just(&mut self, budget: &StationBudget) {
        let left = budget.poor.left_at_end;
        if left < ONLY_JUST {
            let station = budget.station.clone();
            let better = budget.enough.as_ref().filter(|pack| pack.left_in_poor_case > left);
            let larger = better.map(|pack| larger(budget, pack));
            self.find(Gravity::Told, Matter::OnlyJust { station, left }, larger, "power");
        }
    }

    fn crew(&mut self, crew: &CrewNeeds) {
        let matter = Matter::Spares {
            crew: crew.crew.clone(),
            people: crew.people,
            packs_each: crew.packs_each,
        };
        match crew.spares_total {
            Some(0) => {}
            Some(spares) => {
                let fix = Fix::SparePacks { crew: crew.crew.clone(), spares };
                self.require(matter, Some(fix), "power");
            }
            None => self.require(matter, None, "power"),
        }
        for line in &crew.lines {
            let (Some(short_wh), Some(lasts_h)) = (line.short_wh, line.poor_lasts_h) else {
                continue;
            };
            let matter = Matter::OwnBattery {
                crew: crew.crew.clone(),
                what: line.what.clone(),
                lasts_h,
                short_wh,
            };
            let fix = Fix::PowerBank { crew: crew.crew.clone(), what: line.what.clone(), short_wh };
            self.find(Gravity::Told, matter, Some(fix), "power");
        }
    }
}
