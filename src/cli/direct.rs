//! `perchline direct`: everybody without the relay.

use std::sync::Arc;

use perchline_assessment::Holds;
use perchline_plan::{Carry, Channel, Remark};
use perchline_report::answers;
use perchline_report::card::{NamedCard, cards};
use perchline_report::cautions::{Output, said};
use perchline_report::direct_tables::{cards_text, direct_text, first_text};
use perchline_report::documents::Direct;
use perchline_report::group_tables::{group_text, ways_screen};
use perchline_report::outbox::file_stems;
use perchline_report::outputs::{CARD, put_all};
use perchline_report::screen::Screen;
use perchline_report::tables::{Made, heading, remark_lines};
use perchline_report::words::{caveats, closing};
use perchline_siting::direct::{DirectNet, Fallback, GroupNet, Held};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::{Session, named};

pub(super) fn run(
    args: &PlanArgs,
    channel: Option<&str>,
    carry: Option<Carry>,
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        let simplex = plan.channels.iter().filter(|c| !c.has_station()).count();
        Holds::default().nets(plan, simplex)
    })?;
    let plan = &session.plan;
    let channels = simplex_channels(&session, channel)?;
    let fallback = |held| {
        let fallback = session.fallback(held);
        fallback.map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))
    };
    session.begin("posts without the relay", 0, "the cards");
    let worn = fallback(Held::AsWithRelay)?;
    let fallback = fallback(carry.map_or(Held::Fallback, Held::Everywhere))?;
    let Asked { nets, groups, cards } = Asked::of(&session, &fallback, &channels);
    // Of the same nets as worn no more is told than how many posts they bring to
    // net control.
    let compared: Vec<Option<&DirectNet>> = nets
        .iter()
        .map(|net| worn.nets.iter().find(|worn| worn.channel == net.channel).map(Arc::as_ref))
        .collect();
    let remarks: Vec<Remark> = fallback.remarks.iter().chain(&session.remarks).cloned().collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &remarks,
        cautions: said(plan, Output::Direct),
        result: Direct {
            event: &plan.event.name,
            caveats: caveats(plan.houses()),
            first_channel: fallback.first.as_ref(),
            nets: &nets,
            reaching_as_with_relay: compared
                .iter()
                .map(|net| net.map(DirectNet::reaching))
                .collect(),
            groups: &groups,
            ways: &fallback.ways,
        },
    };
    let in_groups: String = groups.iter().map(|group| group_text(plan, &fallback, group)).collect();
    let in_nets = nets.iter().zip(&compared);
    let in_nets: String = in_nets
        .map(|(net, compared)| direct_text(plan, net, compared.filter(|_| carry.is_none())))
        .collect();
    let text = Screen::new(answers::without_relay(&fallback))
        .and(heading(&session))
        .remarks(&fallback.remarks)
        .both("\n")
        .long_only("", first_text(&fallback))
        .and(ways_screen(plan, &fallback))
        .long_only("each group", in_groups)
        .long_only("who hears whom", in_nets)
        .long_only("the cards", cards_text(cards.iter().map(|named| &named.card)))
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Direct));
    let made = Made::without_relay(plan, &session.provenance);
    tell(
        &session,
        args,
        "direct",
        Told { document: &document, text: &text, by: By::Other(made) },
        |outbox| {
            let stems = file_stems(cards.iter().map(|named| named.whose.as_str()));
            for (content, stem) in cards.iter().zip(&stems) {
                put_all(outbox, &CARD, stem, &content.card).map_err(Failure::output)?;
            }
            Ok(())
        },
    )
}

/// What was asked for of a fallback.
struct Asked<'a> {
    nets: Vec<&'a DirectNet>,
    groups: Vec<&'a GroupNet>,
    cards: Vec<NamedCard>,
}

impl<'a> Asked<'a> {
    /// Nets and groups on these channels, with the cards that name one of them.
    fn of(session: &Session, fallback: &'a Fallback, channels: &[&Channel]) -> Self {
        let is_asked = |name: &str| channels.iter().any(|channel| channel.name == name);
        let nets: Vec<&DirectNet> =
            fallback.nets.iter().map(Arc::as_ref).filter(|net| is_asked(&net.channel)).collect();
        let groups: Vec<&GroupNet> =
            fallback.groups.iter().filter(|group| is_asked(&group.channel)).collect();
        let cards = cards(&session.plan, fallback, &session.energy().crews, &session.provenance);
        let cards = cards
            .into_iter()
            .filter(|named| named.channels.iter().any(|channel| is_asked(channel)));
        Self { nets, groups, cards: cards.collect() }
    }
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
