//! `perchline cosite`: what shares a roof and the air, and how far people keep away.

use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::channel_sheet::ChannelSheet;
use perchline_report::cosite_tables::cosite_screen;
use perchline_report::outbox::file_stems;
use perchline_report::outputs::{CHANNELS, ROOF, put_all};
use perchline_report::roof_plan::RoofPlan;
use perchline_report::screen::Screen;
use perchline_report::tables::remark_lines;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let session = Session::open(args, |_| 0)?;
    let plan = &session.plan;
    session.begin("what shares a roof and the air", 0, "the sheets");
    let findings = session.cosite();
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Cosite),
        result: findings,
    };
    let text = Screen::new(answers::shared(findings, session.plan.units))
        .and(cosite_screen(plan, findings))
        .long_only("notes", remark_lines(&session.remarks));
    tell(
        &session,
        args,
        "cosite",
        Told { document: &document, text: &text, by: By::Plan },
        |outbox| {
            let provenance = &session.provenance;
            let sheet = ChannelSheet { plan, provenance };
            put_all(outbox, &CHANNELS, "", &sheet).map_err(Failure::output)?;
            let stems =
                file_stems(findings.roofs.iter().map(|r| r.site.as_deref().unwrap_or("open")));
            for (roof, stem) in findings.roofs.iter().zip(&stems) {
                let seen = RoofPlan { plan, roof, exposures: &findings.exposure, provenance };
                put_all(outbox, &ROOF, stem, &seen).map_err(Failure::output)?;
            }
            Ok(())
        },
    )
}
