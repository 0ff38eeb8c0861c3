//! `perchline power`: does every station last, and what has each person to carry.

use serde::Serialize;

use perchline_plan::{Plan, Remark};
use perchline_power::{self as power, CrewNeeds, StationBudget};
use perchline_report::power_tables::power_text;
use perchline_report::tables::{made_from, remark_lines};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{Document, Told, tell};
use super::session::Session;

#[derive(Serialize)]
struct Energy<'a> {
    event: &'a str,
    stations: &'a [StationBudget],
    crews: &'a [CrewNeeds],
}

pub(super) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let session = Session::open(args, |_| 0)?;
    let plan = &session.plan;
    let fail = |e: power::PowerError| Failure::Input(format!("{}: {e}", plan.file.display()));
    if plan.power.stations.is_empty() && plan.power.crews.is_empty() {
        return Err(fail(power::PowerError::Nothing));
    }
    let stations = power::station_budgets(plan).map_err(fail)?;
    let crews = power::crew_needs(plan).map_err(fail)?;
    let remarks: Vec<_> = session.remarks.iter().cloned().chain(forecast_gaps(plan)).collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &remarks,
        result: Energy { event: &plan.event.name, stations: &stations, crews: &crews },
    };
    let text = format!(
        "{}\n{}{}",
        made_from(&session.provenance),
        power_text(plan, &stations, &crews),
        remark_lines(&remarks)
    );
    tell(&session, args, "power", Told { document: &document, text: &text }, |_| Ok(()))
}

/// Stations' budgets and crews' needs for a verb that stands without them; what
/// they lack is told.
pub(super) fn budgets_or_why(plan: &Plan) -> (Vec<StationBudget>, Vec<CrewNeeds>, Option<Remark>) {
    let why = |e: power::PowerError| Remark { about: "power".to_owned(), text: e.to_string() };
    let stations = power::station_budgets(plan).map_err(why);
    let crews = power::crew_needs(plan).map_err(why);
    let lacking = stations.as_ref().err().or(crews.as_ref().err()).cloned();
    (stations.unwrap_or_default(), crews.unwrap_or_default(), lacking)
}

/// What the forecast does not cover of all that leans on it.
pub(super) fn forecast_gaps(plan: &Plan) -> Vec<Remark> {
    let Some(forecast) = &plan.power.forecast else { return Vec::new() };
    let stations = plan.power.stations.iter().filter(|s| s.supply.kept_at.is_none());
    let crews = plan.power.crews.iter().filter(|c| c.kept_at.is_none());
    let spans = stations.map(|s| (s.on.clone(), s.off.clone())).chain(
        crews.map(|c| (plan.event.starts.clone(), power::after(&plan.event.starts, c.shift))),
    );
    let whole = spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
    whole.map_or_else(Vec::new, |(from, to)| power::gaps(forecast, &from, &to))
}
