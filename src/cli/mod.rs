//! The verbs of the `perchline` program: thin glue between the command line and
//! the library.

mod args;
mod brief;
mod check;
mod choose;
mod confined;
mod cosite;
mod coverage;
mod debrief;
mod direct;
mod extras;
mod failure;
mod files;
mod interrupt;
mod live;
mod masts;
mod path;
mod power;
mod progress;
mod rank;
mod rehearse;
mod search;
mod session;
mod trackers;

use std::process::ExitCode;
use std::sync::LazyLock;

use clap::{CommandFactory, FromArgMatches};

use crate::confine::{available, gdal_version, known_holes};
pub use args::Cli;
use args::Verb;
use failure::Failure;

/// Runs the program on the process's own arguments.
#[must_use]
pub fn run() -> ExitCode {
    let command = Cli::command().long_version(LONG_VERSION.as_str());
    let cli = match Cli::from_arg_matches(&command.get_matches()) {
        Ok(cli) => cli,
        Err(error) => error.exit(),
    };
    // Without it an interrupt still ends the program, only less tidily.
    drop(interrupt::watch());
    let done = match cli.verb {
        Verb::Check(common) => check::run(&common),
        Verb::Rank { common, channel, maps } => rank::run(&common, channel.as_deref(), maps),
        Verb::Choose { common, relays, channel, whole_area } => {
            choose::run(&common, relays.map(usize::from), channel.as_deref(), whole_area)
        }
        Verb::Coverage { common, site, channel } => {
            coverage::run(&common, &site, channel.as_deref())
        }
        Verb::Path { common, from, to, channel } => {
            path::run(&common, &from, &to, channel.as_deref())
        }
        Verb::Direct { common, channel, carry } => {
            direct::run(&common, channel.as_deref(), carry.map(Into::into))
        }
        Verb::Trackers { common, site } => trackers::run(&common, &site),
        Verb::Brief { common, site, channel, paper } => {
            brief::run(&common, site.as_deref(), channel.as_deref(), paper)
        }
        Verb::Masts { common, site, channel } => {
            masts::run(&common, site.as_deref(), channel.as_deref())
        }
        Verb::Search { common, channel, inside, mast } => {
            search::run(&common, channel.as_deref(), inside.as_deref(), mast.as_deref())
        }
        Verb::Power(common) => power::run(&common),
        Verb::Cosite(common) => cosite::run(&common),
        Verb::Debrief { common, wanted } => debrief::run(&common, &wanted),
        Verb::Rehearse { common, channel, calls } => {
            rehearse::run(&common, channel.as_deref(), usize::from(calls))
        }
        Verb::Live(args) => live::run(&args),
        Verb::Extras { out } => extras::run(&out),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

/// The version, with what it runs on.
static LONG_VERSION: LazyLock<String> = LazyLock::new(|| {
    let own = env!("CARGO_PKG_VERSION");
    let text = format!("{own}\nGDAL {}\n{}", gdal_version(), available());
    known_holes().map_or_else(|| text.clone(), |holes| format!("{text}\n{holes}"))
});

/// Prints a result; a closed pipe on the other side is no error.
fn print(text: &str) -> Result<(), Failure> {
    use std::io::{ErrorKind, Write};
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => Err(Failure::Output(e.to_string())),
        _ => Ok(()),
    }
}

/// Says something beside the results, on standard error.
fn say(text: &str) {
    use std::io::Write;
    // Nobody is left to tell if standard error is closed.
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// Where the results are, one file a line.
fn written(files: &[std::path::PathBuf]) -> String {
    files.iter().map(|file| format!("wrote {}\n", file.display())).collect()
}
