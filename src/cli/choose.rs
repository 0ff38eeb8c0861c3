//! `perchline choose`: the best set of sites, and which post uses which relay.

use perchline_assessment::Holds;
use perchline_plan::{Channel, ChooseInputs, Service};
use perchline_power::place::SitePlace;
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::choose_tables::{choice_screen, impossible};
use perchline_report::documents::{Chosen, Place};
use perchline_report::layers::Layers;
use perchline_report::map::choice::{ChoiceMap, in_words};
use perchline_report::outputs::{CHOICE, put_all};
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, remark_lines};
use perchline_report::words::{caveats, closing};
use perchline_siting::choose::{Choice, ChooseError};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
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
    let progress = session.begin(
        "what each site serves",
        plan.sites.iter().filter(|site| site.available).count(),
        "the choice",
    );
    let done = || progress.inc(1);
    let chosen = session.choice(channel, &asked, &grid, &done, &session.stop);
    let choice = chosen.map_err(|error| {
        let text = match &error {
            ChooseError::Impossible { relays, why, nearest, barred, refused } => {
                impossible(*relays, why, nearest, barred, refused)
            }
            other => other.to_string(),
        };
        Failure::Input(format!("{}: {text}", plan.file.display()))
    })?;
    let places = places(&session, channel, &choice);
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Choose),
        result: Chosen {
            event: &plan.event.name,
            caveats: caveats(plan.houses()),
            choice: &choice,
            picture: in_words(&choice),
            places: Place::all(&places, plan.units),
        },
    };
    let text = Screen::new(answers::chosen(&choice))
        .and(heading(&session))
        .both("\n")
        .and(choice_screen(plan, &choice, &places))
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Choose));
    tell(
        &session,
        args,
        "choice",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let relief = session.relief()?;
            let layers = Layers { plan, terrain: &session.terrain, relief: &relief, grid: &grid };
            let map = ChoiceMap { layers, choice: &choice, provenance: &session.provenance };
            put_all(outbox, &CHOICE, "", &map).map_err(Failure::output)
        },
    )
}

/// The sites of a choice as places where people work, then the digipeater's, then
/// those of the sets that it falls back on.
fn places(session: &Session, channel: &Channel, choice: &Choice) -> Vec<SitePlace> {
    let plan = &session.plan;
    let place = |channel: &Channel, name: &String| {
        let site = plan.sites.iter().find(|site| site.name == *name)?;
        Some(session.site_place(channel, site))
    };
    let packet = choice.digipeater.as_ref().and_then(|digipeater| {
        let channel = plan.channels.iter().find(|c| c.name == digipeater.channel)?;
        place(channel, &digipeater.site.as_ref()?.site)
    });
    let mut places: Vec<SitePlace> =
        choice.first.sites.iter().filter_map(|name| place(channel, name)).chain(packet).collect();
    let without = choice.sites.iter().filter_map(|part| part.without.as_ref());
    for name in without.chain(&choice.runner_up).flat_map(|set| &set.sites) {
        let told = |p: &SitePlace| p.site == *name && p.channel == channel.name;
        if !places.iter().any(told) {
            places.extend(place(channel, name));
        }
    }
    places
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
