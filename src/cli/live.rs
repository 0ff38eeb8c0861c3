//! `perchline live`: the page on which the plan is changed and its coverage follows.

use std::io::ErrorKind;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use serde_json::json;

use crate::live::desk::{Desk, Look, MOST_VARIANTS, first_look};
use crate::live::server::Listener;
use crate::opened::{self, Opened};

use super::args::LiveArgs;
use super::failure::Failure;
use super::session::{named, use_threads, weigh};
use super::{interrupt, print, say};

/// Maps that the page keeps: each variant's, the one shown and the one made.
const LIVE_MAPS: usize = MOST_VARIANTS + 2;

pub(super) fn run(args: &LiveArgs) -> Result<(), Failure> {
    use_threads(args.threads)?;
    let mut plan = opened::read(&args.plan).map_err(Failure::input)?;
    if let Some(file) = &args.calibration {
        plan.calibrate(file).map_err(Failure::Input)?;
    }
    let survey = weigh(&plan, &[], LIVE_MAPS, args.memory)?;
    let opened = Opened::surveyed(plan, survey).map_err(Failure::input)?;
    let look = look(&opened, args)?;
    let desk = Desk::open(opened, look, args.calibration.clone()).map_err(Failure::input)?;
    let stop: Arc<AtomicBool> = Arc::default();
    interrupt::ends_by(&stop);
    let listener = Listener::bind(args.port).map_err(|error| match error.kind() {
        ErrorKind::AddrInUse => Failure::Input(format!(
            "port {} and those after it are in use: name another with --port, or end what uses them",
            args.port
        )),
        _ => Failure::Output(format!("this machine cannot be listened to on port {}: {error}", args.port)),
    })?;
    let address = listener.address().clone();
    let instead = address.instead_of;
    if args.json {
        let line = json!({
            "address": address.url, "port": address.port, "instead_of_port": instead,
        });
        print(&format!("{line}\n"))?;
    } else {
        let taken = instead.map_or_else(String::new, |wanted| {
            format!("Port {wanted} is in use, so port {} is taken.\n", address.port)
        });
        print(&format!(
            "{taken}Open this address in a browser on this machine:\n\n  {}\n\nIt works here alone, and only until you end this with Ctrl-C. Nothing is written until you save.\n",
            address.url
        ))?;
    }
    listener.serve(&desk, &stop).map_err(Failure::output)?;
    say(if desk.lock().is_changed() {
        "\nEnded: changes that were not saved are gone; the plan's file is as it was last saved."
    } else {
        "\nEnded: the plan's file holds all that was on the page."
    });
    Ok(())
}

/// The site and the channel asked for, or the first of each.
fn look(opened: &Opened, args: &LiveArgs) -> Result<Look, Failure> {
    let plan = &opened.plan;
    let first = first_look(opened).ok_or_else(|| {
        Failure::Input(format!(
            "{}: no channel has a station: add a [[channel]] of kind \"relay\" or \"packet\"",
            plan.file.display()
        ))
    })?;
    let site = match &args.site {
        Some(name) => named(plan, &plan.sites, name, "site", |s| &s.name)?.name.clone(),
        None => first.site,
    };
    let channel = match &args.channel {
        Some(name) => {
            let stations: Vec<_> = plan.channels.iter().filter(|c| c.has_station()).collect();
            named(plan, &stations, name, "channel with a station", |c| &c.name)?.name.clone()
        }
        None => first.channel,
    };
    Ok(Look { site, channel })
}
