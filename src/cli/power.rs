//! `perchline power`: does every station last, and what has each person to carry.

use perchline_power::PowerError;
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::documents::{Place, Power};
use perchline_report::outputs::{POWER, put_all};
use perchline_report::power_plot::{PowerPlot, in_words};
use perchline_report::power_tables::power_screen;
use perchline_report::screen::Screen;
use perchline_report::tables::remark_lines;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let session = Session::open(args, |_| 0)?;
    let plan = &session.plan;
    let fail = |e: &PowerError| Failure::Input(format!("{}: {e}", plan.file.display()));
    if plan.power.stations.is_empty() && plan.power.crews.is_empty() {
        return Err(fail(&PowerError::Nothing));
    }
    session.begin("packs and loads", 0, "");
    let energy = session.energy();
    let (stations, crews) = (&energy.stations, &energy.crews);
    if let Some(lacking) = energy.lacking.first().filter(|_| energy.is_empty()) {
        return Err(fail(lacking));
    }
    let remarks: Vec<_> = session.remarks.iter().cloned().chain(energy.remarks()).collect();
    let places = session.settled_places();
    let document = Document {
        provenance: &session.provenance,
        remarks: &remarks,
        cautions: said(plan, Output::Power),
        result: Power {
            event: &plan.event.name,
            stations,
            crews,
            picture: in_words(energy),
            kits: &energy.kits,
            places: Place::all(&places, plan.units),
        },
    };
    let text = Screen::new(answers::power(energy))
        .and(power_screen(plan, energy, &places))
        .long_only("notes", remark_lines(&remarks));
    tell(
        &session,
        args,
        "power",
        Told { document: &document, text: &text, by: By::Plan },
        |outbox| {
            let plot = PowerPlot { plan, energy, provenance: &session.provenance };
            put_all(outbox, &POWER, "", &plot).map_err(Failure::output)
        },
    )
}
