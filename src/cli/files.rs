//! The files that verbs write.

use std::borrow::Cow;

use ndarray::Array2;
use perchline_assessment::Assessment;
use perchline_coverage::Coverage;
pub(super) use perchline_report::documents::Document;
use perchline_report::map::MapContent;
use perchline_report::outbox::Outbox;
use perchline_report::outputs::{SITE_MAP, make_all};
use perchline_report::screen::Screen;
use perchline_report::tables::Made;
use perchline_report::{COLUMNS, folded};
use perchline_siting::SiteScore;
use rayon::prelude::*;
use serde::Serialize;

use super::args::PlanArgs;
use super::failure::Failure;
use super::session::Session;
use super::{print, print_json, prints_into_a_file, written};

/// What a verb has to tell, for machines and for people.
pub(super) struct Told<'a, T> {
    pub(super) document: &'a T,
    pub(super) text: &'a Screen,
    /// What made the text: it stands last, short on the screen and with the digests of
    /// files in the file.
    pub(super) by: By,
}

/// What a text rests on.
pub(super) enum By {
    /// The plan's prediction.
    Prediction,
    /// The plan alone.
    Plan,
    /// This.
    Other(Made),
    /// What the text says itself.
    Said,
}

impl By {
    fn made(self, session: &Session) -> Option<Made> {
        match self {
            Self::Prediction => Some(Made::with(&session.plan, &session.provenance)),
            Self::Plan => Some(Made::from(&session.provenance)),
            Self::Other(made) => Some(made),
            Self::Said => None,
        }
    }
}

/// How many of the rows under a title a screen shows of a text that rests on `by`.
pub(super) fn rows_on_screen(session: &Session, text: &Screen, by: By, title: &str) -> usize {
    let made = by.made(session).as_ref().map(Made::on_screen).unwrap_or_default();
    text.rows_under(title, &made)
}

/// Writes what a verb has to tell, as JSON and as text, and what `add` puts
/// beside them into the folder that was asked for, if one was; and prints it.
pub(super) fn tell<T: Serialize>(
    session: &Session,
    args: &PlanArgs,
    name: &str,
    told: Told<'_, T>,
    add: impl FnOnce(&mut Outbox) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let Told { document, text, by } = told;
    let made = by.made(session);
    let in_file = made.as_ref().map(Made::in_file).unwrap_or_default();
    let by = made.map_or(By::Said, By::Other);
    hand_out(session, args, Told { document, text, by }, |outbox| {
        let timed = session.timed(document);
        let text = text.long() + &in_file;
        outbox.put_json(&format!("{name}.json"), &timed).map_err(Failure::output)?;
        outbox.put(&format!("{name}.txt"), text.as_bytes()).map_err(Failure::output)?;
        add(outbox)
    })
}

/// Delivers what `fill` puts into the folder that was asked for, if one was, and
/// prints what there is to tell.
pub(super) fn hand_out<T: Serialize>(
    session: &Session,
    args: &PlanArgs,
    told: Told<'_, T>,
    fill: impl FnOnce(&mut Outbox) -> Result<(), Failure>,
) -> Result<(), Failure> {
    let Told { document, text, by } = told;
    let made = by.made(session).as_ref().map(Made::on_screen).unwrap_or_default();
    session.answered();
    if args.out.is_some() {
        session.begin("files", 0, "");
    }
    let mut outbox = session.outbox();
    if let Some(outbox) = &mut outbox {
        fill(outbox)?;
    }
    let out = || {
        if args.json {
            return print_json(&session.timed(document));
        }
        let text = if args.long { text.long() } else { text.short(&made) } + &made;
        print(&folded(&text, COLUMNS))
    };
    // A file takes what it is given or has no room for it, and then nothing is
    // changed in the folder. A reader may take its time; results do not wait for it.
    let before = prints_into_a_file();
    if before {
        out()?;
    }
    let delivered = outbox.map(Outbox::deliver).transpose().map_err(Failure::output)?;
    session.end();
    if !before {
        out()?;
    }
    if !args.json {
        print(&written(&delivered.unwrap_or_default()))?;
    }
    session.tell_times();
    Ok(())
}

/// A site's map, to be drawn and written.
pub(super) struct ToDraw<'a> {
    pub stem: String,
    pub channel: &'a str,
    pub site: Cow<'a, SiteScore>,
    pub coverage: Cow<'a, Coverage>,
}

/// Adds maps of sites, drawn over `relief`, to the outbox in every format of maps, as
/// many maps at a time as there are threads.
pub(super) fn add_maps(
    outbox: &mut Outbox,
    session: &Session,
    relief: &Array2<u8>,
    maps: &[ToDraw<'_>],
) -> Result<(), Failure> {
    let assessment: &Assessment = session;
    for some in maps.chunks(rayon::current_num_threads()) {
        let make = |map: &ToDraw<'_>| {
            let ToDraw { stem, channel, site, coverage } = map;
            let content = MapContent::of(assessment, relief, channel, site, coverage);
            make_all(outbox, &SITE_MAP, stem, &content)
        };
        let made: Vec<_> = some.par_iter().map(make).collect();
        for names in made {
            outbox.take_in(names.map_err(Failure::output)?);
        }
    }
    Ok(())
}
