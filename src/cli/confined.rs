//! The process shut in before anything of a stranger's is opened, and ended when
//! a file holds it up.

use std::path::Path;
use std::time::Duration;

use perchline_confine::{Overrun, Room, allow_time, enter, on_overrun};
use perchline_plan::{files_named, folders_named};
use perchline_report::outbox;
use perchline_terrain::files_within;

use super::say;

/// Shuts the process in: beside what `room` says it may read the plan, what that
/// names and `more`. Called before any thread is started that works on them.
pub(super) fn shut_in(plan: &Path, more: &[&Path], mut room: Room, time: Option<Duration>) {
    prepare(time);
    room.beside(plan);
    for file in more {
        room.beside(file);
    }
    for file in files_named(plan) {
        // What a virtual raster refers to may lie anywhere.
        files_within(&file).iter().for_each(|inner| room.beside(inner));
        room.beside(&file);
    }
    folders_named(plan).iter().for_each(|folder| within(folder, &mut room));
    confine(room);
}

/// Lets all in a folder of elevation be read, and what that refers to.
fn within(folder: &Path, room: &mut Room) {
    files_within(folder).iter().for_each(|inner| room.beside(inner));
    room.read.push(std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned()));
}

/// Shuts the process in without a plan: it may read `files` and folders, with what
/// lies beside them, and what `room` says.
pub(super) fn shut_in_with(files: &[&Path], mut room: Room, time: Option<Duration>) {
    prepare(time);
    for file in files {
        if file.is_dir() {
            within(file, &mut room);
        } else {
            files_within(file).iter().for_each(|inner| room.beside(inner));
            room.beside(file);
        }
    }
    confine(room);
}

/// Sets how long a file may take, and that the program ends where one takes longer.
fn prepare(time: Option<Duration>) {
    if let Some(time) = time {
        allow_time(time);
    }
    on_overrun(end);
}

fn confine(mut room: Room) {
    room.read.sort();
    room.read.dedup();
    // What the kernel cannot keep is said by --version.
    let _ = enter(&room);
}

/// Ends the program: the file that it waits for may never come back.
fn end(overrun: &Overrun) {
    drop(outbox::close());
    say(&format!("{overrun}. Nothing was written."));
    signal_hook::low_level::exit(2);
}
