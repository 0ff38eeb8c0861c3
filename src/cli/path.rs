//! `perchline path`: one link explained.

use perchline_link::{Comparison, LinkModel, Terminal, study};
use perchline_plan::{Channel, Service};
use perchline_report::answers::{self, Against};
use perchline_report::cautions::{Output, said};
use perchline_report::comparison::{comparison_json, comparison_table};
use perchline_report::documents::PathLink;
use perchline_report::outbox::file_stems;
use perchline_report::outputs::{PATH_PLOT, put_all};
use perchline_report::path_plot::PathPlot;
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, path_tables, remark_lines};
use perchline_report::words::closing;
use perchline_siting::station_on;

use super::args::{ALL_METHODS, PlanArgs};
use super::failure::Failure;
use super::files::{By, Document, Told, hand_out};
use super::session::{Session, named};

pub(super) fn run(
    args: &PlanArgs,
    from: &str,
    to: &str,
    channel: Option<&str>,
) -> Result<(), Failure> {
    let session = Session::open(args, |_| 0)?;
    let plan = &session.plan;
    let (from, to) = match (session.site(from), session.site(to)) {
        // The station is the first end of every study.
        (Err(_), Ok(_)) => (to, from),
        _ => (from, to),
    };
    let channel = channel_for(&session, from, channel)?;
    if channel.has_station() && session.site(from).is_ok() && session.site(to).is_ok() {
        return Err(Failure::Input(format!(
            "channel \"{}\" links a station and the radios that people carry, not two sites; name a post, or a simplex channel with --channel",
            channel.name
        )));
    }
    if channel.has_station() && session.site(from).is_err() {
        return Err(Failure::Input(format!(
            "channel \"{}\" has a station, so one end must be a site; name one, or a simplex channel with --channel",
            channel.name
        )));
    }
    session.begin("the path", 0, "the plot");
    let station = terminal(&session, channel, from)?;
    let carried = terminal(&session, channel, to)?;
    let model = LinkModel::new(plan, channel, &station, &carried);
    let study = study(&session.terrain, &session.propagator, &model, channel).map_err(|e| {
        Failure::Input(format!("{}: \"{from}\" to \"{to}\": {e}", plan.file.display()))
    })?;
    let against = against(&session, channel, from)?;
    let compared = (args.method.as_deref() == Some(ALL_METHODS)).then(|| {
        let model = |method: &str| {
            let mut plan = plan.clone();
            method.clone_into(&mut plan.prediction.method);
            LinkModel::new(&plan, channel, &station, &carried)
        };
        Comparison::of(&study, &session.propagator, model)
    });
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Path),
        result: PathLink::of(
            &study,
            &against,
            compared.as_ref().map(|c| comparison_json(&study, c, plan.units)),
        ),
    };
    let tables = match &compared {
        Some(compared) => comparison_table(&study, compared, plan.units),
        None => path_tables(&study, plan.units),
    };
    let text = Screen::new(answers::path(&study, &against, plan.units))
        .and(heading(&session))
        .and(tables)
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Path));
    hand_out(
        &session,
        args,
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let ends = file_stems([from, to]).join("-to-");
            let plot = PathPlot {
                study: &study,
                against: &against,
                units: plan.units,
                provenance: &session.provenance,
            };
            put_all(outbox, &PATH_PLOT, &ends, &plot).map_err(Failure::output)?;
            let tables = format!("{}.json", PATH_PLOT.stem(&ends));
            outbox.put_json(&tables, &session.timed(&document)).map_err(Failure::output)
        },
    )
}

/// What keeps the station of `channel` off the site of this name; nothing where there is
/// no station.
fn against(session: &Session, channel: &Channel, site: &str) -> Result<Against, Failure> {
    if !channel.has_station() {
        return Ok(Against::default());
    }
    Against::of(session, channel, session.site(site)?)
        .map_err(|e| Failure::Input(format!("{}: {e}", session.plan.file.display())))
}

/// The channel asked for, or the first that suits the ends.
fn channel_for<'a>(
    session: &'a Session,
    from: &str,
    name: Option<&str>,
) -> Result<&'a Channel, Failure> {
    let channels = &session.plan.channels;
    match name {
        Some(name) => named(&session.plan, channels, name, "channel", |c| &c.name),
        None if session.site(from).is_ok() => session.station_channel(None),
        None => channels
            .iter()
            .find(|c| matches!(c.service, Service::Simplex { .. }))
            .ok_or_else(|| Failure::Input("two posts need a simplex channel, and the plan has none; add a [[channel]] of kind \"simplex\"".to_owned())),
    }
}

/// The radio at a site's mast or at a post.
fn terminal(session: &Session, channel: &Channel, name: &str) -> Result<Terminal, Failure> {
    let plan = &session.plan;
    let terminal = match session.site(name) {
        Ok(site) => station_on(plan, channel, site, &session.terrain),
        Err(_) => match session.post(name) {
            Ok(post) => Terminal::at_post(plan, channel, post, &session.terrain),
            Err(_) => {
                let names =
                    plan.sites.iter().map(|s| &s.name).chain(plan.posts.iter().map(|p| &p.name));
                let names: Vec<String> = names.cloned().collect();
                named(plan, &names, name, "site or post", |n| n)?;
                return Err(Failure::Input(format!("\"{name}\" is neither a site nor a post")));
            }
        },
    };
    terminal.map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))
}
