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
mod live_start;
mod masts;
mod parts;
mod path;
mod plan_at;
mod power;
mod progress;
mod rank;
mod ready;
mod rehearse;
mod search;
mod session;
mod start;
mod trackers;

use std::fs::File;
use std::io::{self, BufWriter, ErrorKind, Write};
use std::os::fd::AsFd;
use std::process::ExitCode;
use std::sync::LazyLock;

use clap::{CommandFactory, FromArgMatches};
use serde::Serialize;

use perchline_confine::{available, gdal_version, known_holes};
use perchline_heard::rehearsal::Most;
use perchline_report::outbox::{in_words, write_json};

pub use args::Cli;
use args::Verb;
use failure::Failure;

/// Runs the program on the process's own arguments.
#[must_use]
pub fn run() -> ExitCode {
    let mut command = Cli::command().long_version(LONG_VERSION.as_str());
    command.build();
    let command = command.mut_subcommand("help", |help| help.about("Say what a verb does"));
    let cli = match command.try_get_matches().and_then(|found| Cli::from_arg_matches(&found)) {
        Ok(cli) => cli,
        Err(told) => return tell_usage(&told),
    };
    // Without it an interrupt still ends the program, only less tidily.
    drop(interrupt::watch());
    let done = match cli.verb {
        Verb::Start(args) => start::run(&args),
        Verb::Check(common) => check::run(&common),
        Verb::Ready { common, site, channel, paper } => {
            ready::run(&common, site.as_deref(), channel.as_deref(), &paper)
        }
        Verb::Rank { common, channel, part: Some(part), .. } => {
            parts::run(&common, channel.as_deref(), part)
        }
        Verb::Rank { common, channel, maps, part: None, gather } => {
            rank::run(&common, channel.as_deref(), maps, gather.as_deref())
        }
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
            brief::run(&common, site.as_deref(), channel.as_deref(), &paper)
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
        Verb::Rehearse { common, channel, calls, hours } => {
            let most = Most { places: usize::from(calls), minutes: u32::from(hours) * 60 };
            rehearse::run(&common, channel.as_deref(), most)
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

/// Prints the help or the version that was asked for, or what is wrong with the
/// command, and gives the exit code.
fn tell_usage(told: &clap::Error) -> ExitCode {
    let printed = told.print();
    let code = u8::try_from(told.exit_code()).unwrap_or(2);
    if told.use_stderr() {
        // Nobody is left to tell if standard error is closed.
        return ExitCode::from(code);
    }
    match printed_whole(printed.and_then(|()| io::stdout().flush())) {
        Ok(()) => ExitCode::from(code),
        Err(failure) => failure.report(),
    }
}

/// Prints a text; a closed pipe on the other side is no error.
fn print(text: &str) -> Result<(), Failure> {
    printed(|to| to.write_all(text.as_bytes()))
}

/// Prints a value as JSON, which is never in memory as a whole.
fn print_json(value: &impl Serialize) -> Result<(), Failure> {
    printed(|to| write_json(to, value))
}

/// Prints to the last byte, so that a full disk is noticed.
fn printed(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut to = BufWriter::new(io::stdout().lock());
    let done = write(&mut to).and_then(|()| to.flush());
    // What is left in it after an error is not written again.
    drop(to.into_parts());
    printed_whole(done)
}

/// Whether all that was printed stands where it belongs.
fn printed_whole(done: io::Result<()>) -> Result<(), Failure> {
    match done.and_then(|()| settle()) {
        Err(e) if e.kind() != ErrorKind::BrokenPipe => Err(Failure::Output(format!(
            "standard output: cannot be written: {}; what stands there is not whole. Write into a place with room",
            in_words(&e)
        ))),
        _ => Ok(()),
    }
}

/// Lets a disk that is told of what it lacks only later tell it now.
fn settle() -> io::Result<()> {
    match output_file() {
        Some(file) => file.sync_all(),
        None => Ok(()),
    }
}

/// Whether what is printed goes into a file.
fn prints_into_a_file() -> bool {
    output_file().is_some()
}

/// The file that standard output is, if it is one.
fn output_file() -> Option<File> {
    let file = File::from(io::stdout().as_fd().try_clone_to_owned().ok()?);
    file.metadata().ok()?.is_file().then_some(file)
}

/// Says something beside the results, on standard error.
fn say(text: &str) {
    // Nobody is left to tell if standard error is closed.
    let _ = writeln!(std::io::stderr(), "{text}");
}

/// Where the results are, one file a line.
fn written(files: &[std::path::PathBuf]) -> String {
    files.iter().map(|file| format!("wrote {}\n", file.display())).collect()
}
