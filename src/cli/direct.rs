//! `perchline direct`: the posts among themselves when the relay is gone.

use std::sync::Arc;

use perchline_assessment::Holds;
use perchline_plan::{Carry, Channel};
use perchline_report::card::Card;
use perchline_report::direct_tables::direct_text;
use perchline_report::documents::Direct;
use perchline_report::outbox::file_stems;
use perchline_report::outputs::{CARD, put_all};
use perchline_report::tables::{heading, remark_lines};
use perchline_report::words::{LOCAL_CODES, caveats, foot};
use perchline_siting::direct::DirectNet;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{Document, Told, tell};
use super::session::{Session, named};

pub(super) fn run(
    args: &PlanArgs,
    channel: Option<&str>,
    carry: Option<Carry>,
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        let simplex = plan.channels.iter().filter(|c| !c.has_station()).count();
        Holds::default().nets(plan, if channel.is_some() { 1 } else { simplex })
    })?;
    let plan = &session.plan;
    let channels = simplex_channels(&session, channel)?;
    let nets = |carry| {
        channels
            .iter()
            .map(|channel| session.net(channel, carry))
            .collect::<Result<Vec<_>, _>>()
            .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))
    };
    // Of these no more is told than how many posts they bring to net control.
    let at_the_head = nets(Some(Carry::Head))?;
    let at_the_head: Vec<usize> = at_the_head.iter().map(|net| net.reaching()).collect();
    let nets = nets(carry)?;
    let nets: Vec<&DirectNet> = nets.iter().map(Arc::as_ref).collect();
    let cards: Vec<Card> =
        nets.iter().map(|net| Card::of(plan, net, &session.provenance)).collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        result: Direct {
            event: &plan.event.name,
            caveats: caveats(plan.houses()),
            nets: &nets,
            reaching_at_the_head: at_the_head.clone(),
        },
    };
    let mut text = heading(&session) + "\n";
    for ((net, held), card) in nets.iter().zip(&at_the_head).zip(&cards) {
        let compared = carry.is_none().then_some(*held);
        text += &direct_text(plan, net, compared, card);
    }
    text += &remark_lines(session.further_remarks());
    for line in foot(plan.houses()).iter().chain([&LOCAL_CODES]) {
        text += &format!("{line}\n");
    }
    tell(&session, args, "direct", Told { document: &document, text: &text }, |outbox| {
        let stems = file_stems(nets.iter().map(|net| net.channel.as_str()));
        for (content, stem) in cards.iter().zip(&stems) {
            put_all(outbox, &CARD, stem, content).map_err(Failure::output)?;
        }
        Ok(())
    })
}

/// The simplex channel with this name, or all of them.
fn simplex_channels<'a>(
    session: &'a Session,
    name: Option<&str>,
) -> Result<Vec<&'a Channel>, Failure> {
    let plan = &session.plan;
    if let Some(name) = name {
        let channel = named(plan, &plan.channels, name, "channel", |c| &c.name)?;
        return if channel.has_station() {
            Err(Failure::Input(format!(
                "channel \"{name}\" needs a station on a site; name a simplex channel, which runs from radio to radio"
            )))
        } else {
            Ok(vec![channel])
        };
    }
    let simplex: Vec<_> = plan.channels.iter().filter(|c| !c.has_station()).collect();
    if simplex.is_empty() {
        return Err(Failure::Input(format!(
            "{}: no channel runs from radio to radio: add a [[channel]] of kind \"simplex\" to fall back on",
            plan.file.display()
        )));
    }
    Ok(simplex)
}
