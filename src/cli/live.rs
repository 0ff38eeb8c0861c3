//! `perchline live`: the page on which the plan is changed and its coverage follows.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use serde_json::json;

use perchline_assessment::{self as assessment, Assessment};
use perchline_confine::Room;
use perchline_live::desk::{Desk, Look, MOST_VARIANTS};
use perchline_live::file::PlanFile;
use perchline_live::opening::Opening;
use perchline_live::recovery::left_beside;
use perchline_live::server::{Address, Listener};
use perchline_live::view::OfferView;

use super::args::LiveArgs;
use super::confined;
use super::failure::Failure;
use super::live_start::make_plan;
use super::plan_at::{PlanIn, plan_in};
use super::session::{coordinate_systems, named, use_threads, weigh};
use super::{interrupt, print, say};

/// Maps that the page keeps: each variant's, the one shown, the one made and one more,
/// which is more than the classes of several sites weigh.
const LIVE_MAPS: usize = MOST_VARIANTS + 3;

pub(super) fn run(args: &LiveArgs) -> Result<(), Failure> {
    let stop: Arc<AtomicBool> = Arc::default();
    match plan_in(&args.plan, "perchline live ")? {
        PlanIn::File(plan) => {
            let args = LiveArgs { plan, ..args.clone() };
            // No socket is bound any more once the process is shut in.
            let listener = listen(args.port)?;
            shut_in(&args);
            serve(&args, listener, &stop, true)
        }
        PlanIn::Nowhere(folder) => {
            let listener = listen(args.port)?;
            match make_plan(args, &folder, &listener, &stop)? {
                Some(plan) => serve(&LiveArgs { plan, ..args.clone() }, listener, &stop, false),
                None => {
                    say("\nEnded: no plan was made, and the folder is as it was.");
                    interrupt::end_as_done()
                }
            }
        }
    }
}

/// Opens the plan and serves its page; prints the address where nobody has it yet.
fn serve(
    args: &LiveArgs,
    listener: Listener,
    stop: &Arc<AtomicBool>,
    is_first: bool,
) -> Result<(), Failure> {
    if is_first {
        use_threads(args.threads)?;
        coordinate_systems()?;
    }
    let desk = open(args).map_err(|failure| with_unsaved(failure, &args.plan))?;
    interrupt::ends_by(stop);
    let asked = Arc::clone(&desk);
    interrupt::asks_first(move || unsaved(&asked));
    notices(&desk).iter().for_each(|notice| say(notice));
    let address = listener.address().clone();
    let instead = address.instead_of;
    if !is_first {
        say(&format!("The plan is {}. Its page is at the same address.", args.plan.display()));
    } else if args.json {
        let state = desk.lock();
        let offers = state.offers.iter().map(|offer| OfferView::of(offer, &state.kept.text));
        let line = json!({
            "address": address.url, "port": address.port, "instead_of_port": instead,
            "opening": &state.opening, "offers": offers.collect::<Vec<_>>(), "warnings": state.warnings(),
        });
        drop(state);
        print(&format!("{line}\n"))?;
    } else {
        let taken = taken(&address);
        let opening = desk.lock().opening.words.clone();
        print(&format!(
            "{taken}Open this address in a browser on this machine:\n\n  {}\n\n{opening}\nIt works here alone, and only until you end this with Ctrl-C. The plan's file changes only when you save; until then changes are kept beside it.\n",
            address.url
        ))?;
    }
    let served = listener.serve(&desk, stop, say);
    // Whatever ended it: what is unsaved is kept first.
    desk.end();
    served.map_err(Failure::output)?;
    say(&format!("\n{}", last_words(&desk)));
    interrupt::end_as_done()
}

/// What to say of a port that was in use.
pub(super) fn taken(address: &Address) -> String {
    address.instead_of.map_or_else(String::new, |wanted| {
        format!("Port {wanted} is in use, so port {} is taken.\n", address.port)
    })
}

/// Shuts the process in: saving and what is unsaved go into the plan's folder.
fn shut_in(args: &LiveArgs) {
    // A plan that is a link is saved where it leads.
    let plan = std::fs::canonicalize(&args.plan).unwrap_or_else(|_| args.plan.clone());
    let folder = std::path::absolute(&plan).ok().and_then(|plan| plan.parent().map(Path::to_owned));
    let room = Room { write: folder.into_iter().collect(), ..Room::default() };
    let more: Vec<&Path> = args.calibration.iter().map(PathBuf::as_path).chain([&*plan]).collect();
    confined::shut_in(&args.plan, &more, room, args.file_time);
}

fn listen(port: u16) -> Result<Listener, Failure> {
    Listener::bind(port).map_err(|error| match error.kind() {
        ErrorKind::AddrInUse => Failure::Input(format!(
            "port {port} and those after it are in use: name another with --port, or end what uses them"
        )),
        _ => Failure::Output(format!(
            "this machine cannot be listened to on port {port}: {error}"
        )),
    })
}

fn open(args: &LiveArgs) -> Result<Arc<Desk>, Failure> {
    let file = PlanFile::open(&args.plan).map_err(Failure::Input)?;
    let mut plan = assessment::read(&args.plan).map_err(Failure::input)?;
    if let Some(file) = &args.calibration {
        plan.calibrate(file).map_err(Failure::Input)?;
    }
    let survey = weigh(&plan, &[], LIVE_MAPS, args.memory)?;
    let opened = Assessment::surveyed(plan, survey).map_err(Failure::input)?;
    let opening = opening(&opened, args)?;
    Desk::open(file, opened, opening, args.calibration.clone()).map_err(Failure::input)
}

/// A plan that cannot be opened, and where there is unsaved text of it.
fn with_unsaved(failure: Failure, plan: &Path) -> Failure {
    let left = left_beside(plan);
    match failure {
        Failure::Input(text) if !left.is_empty() => {
            let files: Vec<_> = left.iter().map(|file| file.display().to_string()).collect();
            Failure::Input(format!(
                "{text}\nUnsaved changes to this plan are in {}. They are offered once the plan can be opened.",
                files.join(" and ")
            ))
        }
        other => other,
    }
}

/// What to know before the page is opened.
fn notices(desk: &Desk) -> Vec<String> {
    let state = desk.lock();
    let mut notices: Vec<_> = state.warnings().iter().map(|w| format!("Warning: {w}.")).collect();
    for offer in &state.offers {
        let mut sentences = vec![offer.heading(&offer.written_words())];
        sentences.extend(offer.told(&state.kept.text));
        sentences.extend(offer.refusal().map(str::to_owned));
        if offer.is_sound() {
            sentences.push("The page asks whether to continue from them or to discard them; nothing is changed before you decide.".to_owned());
        }
        notices.push(sentences.join(" "));
    }
    notices
}

/// What to ask before it ends, where changes are unsaved.
fn unsaved(desk: &Desk) -> Option<String> {
    let state = desk.lock();
    if !state.is_changed() {
        return None;
    }
    let kept = match state.kept_in() {
        Some(file) => format!("They are kept in {}.", file.display()),
        None => "They are not kept beside the plan.".to_owned(),
    };
    Some(format!("Changes are unsaved. {kept} Press Ctrl-C again to end, or save on the page."))
}

/// What has become of what was on the page.
fn last_words(desk: &Desk) -> String {
    let state = desk.lock();
    let plan = state.file.named().display();
    let mut words = match (state.is_changed(), state.kept_in()) {
        (false, _) => "Ended: the plan's file holds all that was on the page.".to_owned(),
        (true, Some(file)) => format!(
            "Ended: changes that were not saved are in {}; `perchline live {plan}` offers them the next time. The plan's file is as it was last saved.",
            file.display()
        ),
        (true, None) => format!(
            "Ended: changes that were not saved are gone; the plan's file is as it was last saved. {}",
            state.warnings().join(". ")
        ),
    };
    for offer in &state.offers {
        words += &format!("\n{} still waits for your decision.", offer.path.display());
    }
    words
}

/// The site and the channel asked for, or the first channel and its best site.
fn opening(opened: &Assessment, args: &LiveArgs) -> Result<Opening, Failure> {
    let plan = &opened.plan;
    let channel = match &args.channel {
        Some(name) => {
            let stations: Vec<_> = plan.channels.iter().filter(|c| c.has_station()).collect();
            Some(*named(plan, &stations, name, "channel with a station", |c| &c.name)?)
        }
        None => plan.channels.iter().find(|channel| channel.has_station()),
    };
    let channel = channel.ok_or_else(|| {
        Failure::Input(format!(
            "{}: no channel has a station: add a [[channel]] of kind \"relay\" or \"packet\"",
            plan.file.display()
        ))
    })?;
    if let Some(name) = &args.site {
        let site = named(plan, &plan.sites, name, "site", |s| &s.name)?.name.clone();
        return Ok(Opening::asked(Look { site, channel: channel.name.clone() }));
    }
    Opening::foremost(opened, Some(channel))
        .ok_or_else(|| Failure::Input(format!("{}: the plan has no site", plan.file.display())))
}
