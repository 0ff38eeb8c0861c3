//! `perchline choose`: the best set of sites, and which post uses which relay.

use perchline_assessment::Holds;
use perchline_plan::{Channel, ChooseInputs, Service};
use perchline_report::choose_tables::{choice_text, impossible};
use perchline_report::documents::Chosen;
use perchline_report::tables::{heading, remark_lines};
use perchline_report::words::{caveats, closing};
use perchline_siting::choose::ChooseError;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{Document, Told, tell};
use super::progress::bar;
use super::session::{Session, named};

pub(super) fn run(
    args: &PlanArgs,
    relays: Option<usize>,
    channel: Option<&str>,
    whole_area: bool,
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        Holds::maps(1).contacts(plan, whole_area || plan.choose.whole_area).site(plan)
    })?;
    let plan = &session.plan;
    let channel = relay_channel(&session, channel)?;
    let asked = ChooseInputs {
        relays: relays.unwrap_or(plan.choose.relays),
        whole_area: whole_area || plan.choose.whole_area,
        ..plan.choose
    };
    let grid = session.map_grid()?;
    let progress = bar(plan.sites.iter().filter(|site| site.available).count() as u64, "sites");
    let done = || progress.inc(1);
    let chosen = session.choice(channel, &asked, &grid, &done, &session.stop);
    let choice = chosen.map_err(|error| {
        let text = match &error {
            ChooseError::Impossible { relays, why, nearest } => impossible(*relays, why, nearest),
            other => other.to_string(),
        };
        Failure::Input(format!("{}: {text}", plan.file.display()))
    })?;
    progress.finish_and_clear();
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        result: Chosen {
            event: &plan.event.name,
            caveats: caveats(plan.houses()),
            choice: &choice,
        },
    };
    let mut text = heading(&session) + "\n";
    text += &choice_text(plan, &choice);
    text += &remark_lines(session.further_remarks());
    text += &closing(plan.houses());
    tell(&session, args, "choice", Told { document: &document, text: &text }, |_| Ok(()))
}

/// The relay channel with this name, else the plan's choice, else its first.
fn relay_channel<'s>(session: &'s Session, name: Option<&str>) -> Result<&'s Channel, Failure> {
    let plan = &session.plan;
    let is_relay = |channel: &&Channel| matches!(channel.service, Service::Relay { .. });
    if let Some(name) = name {
        let channel = named(plan, &plan.channels, name, "channel", |c| &c.name)?;
        return Some(channel).filter(is_relay).ok_or_else(|| {
            Failure::Input(format!(
                "channel \"{name}\" has no relay; name a channel of kind \"relay\" (trackers chooses for digipeaters)"
            ))
        });
    }
    let chosen = plan.choose.channel.and_then(|index| plan.channels.get(index));
    chosen.or_else(|| plan.channels.iter().find(is_relay)).ok_or_else(|| {
        Failure::Input(format!(
            "{}: no channel has a relay to choose sites for: add a [[channel]] of kind \"relay\"",
            plan.file.display()
        ))
    })
}
