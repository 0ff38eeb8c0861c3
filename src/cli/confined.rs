//! The process shut in before anything of a stranger's is opened, and ended when
//! a file holds it up.

use std::path::Path;
use std::time::Duration;

use perchline_confine::{Overrun, Room, allow_time, enter, on_overrun};
use perchline_plan::files_named;
use perchline_report::outbox;
use perchline_terrain::files_of;

use super::say;

/// Shuts the process in: beside what `room` says it may read the plan, what that
/// names and `more`. Called before any thread is started that works on them.
pub(super) fn shut_in(plan: &Path, more: &[&Path], mut room: Room, time: Option<Duration>) {
    if let Some(time) = time {
        allow_time(time);
    }
    on_overrun(end);
    room.beside(plan);
    for file in more {
        room.beside(file);
    }
    for file in files_named(plan) {
        // What a virtual raster refers to may lie anywhere.
        files_of(&file).iter().for_each(|inner| room.beside(inner));
        room.beside(&file);
    }
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
