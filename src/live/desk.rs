//! The states of a plan on the desk: what was typed, dragged, undone and kept,
//! and the picture of the latest. Everything that a browser asks for comes
//! from here, so all browsers see the same.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use std::time::Instant;

use serde::{Deserialize, Serialize};
use tokio::sync::watch;

use perchline_assessment::{self as assessment, Assessment};
use perchline_plan::{PlanError, Problem};
use perchline_siting::SiteScore;

use super::board::Board;
use super::edit::{Change, EditError};
use super::file::{Kept, PlanFile};
use super::offer::{self, Offer};
use super::opening::Opening;
use super::recovery::{Recovery, Unsaved};
use super::together::Together;
use super::values::table as table_named;
use super::work::{Found, Job, JobError, Picture, Stage};

/// Texts that can be gone back to; older ones are forgotten.
const HISTORY: usize = 200;
/// Variants that are kept at once: each holds a coverage in memory.
pub const MOST_VARIANTS: usize = 8;
/// Letters of a variant's name.
pub const LONGEST_NAME: usize = 60;

/// A plan under work, shared by the server's threads.
pub struct Desk {
    state: Mutex<State>,
    changed: watch::Sender<u64>,
    recovery: Arc<Recovery>,
}

/// What is looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Look {
    /// Name of the site.
    pub site: String,
    /// Name of the channel.
    pub channel: String,
}

/// A state that was kept, with its picture.
pub struct Variant {
    /// Its number, never used again.
    pub id: u64,
    /// What its owner calls it.
    pub name: String,
    /// The plan's text.
    pub text: String,
    /// What was looked at.
    pub look: Look,
    /// Its full picture.
    pub picture: Arc<Picture>,
    /// What its posts come to.
    pub score: Arc<SiteScore>,
    /// The ground it was made on.
    pub board: Arc<Board>,
}

/// The latest picture and what belongs to it.
#[derive(Default)]
pub struct Latest {
    /// How far the work has come.
    pub stage: Option<Stage>,
    /// The best picture yet.
    pub picture: Option<Arc<Picture>>,
    /// The posts, once they are known.
    pub score: Option<Arc<SiteScore>>,
    /// What stopped the work, if anything did.
    pub trouble: Option<String>,
    /// Milliseconds from the change to the first and to the full picture.
    pub took_ms: [Option<f64>; 2],
}

/// What is being computed.
#[derive(Debug, Clone, Copy)]
struct Running {
    /// Of which aim.
    aim: u64,
    /// Whether it has come to a picture.
    seen: bool,
}

/// Everything on the desk.
pub struct State {
    /// The plan's file.
    pub file: PlanFile,
    /// What the file held when it was last read or written here.
    pub kept: Kept,
    calibration: Option<PathBuf>,
    history: Vec<String>,
    at: usize,
    /// The entry that a passing change was made to last.
    passing: Option<(&'static str, String)>,
    /// The plan as it stands, always a sound one.
    pub opened: Arc<Assessment>,
    /// Its ground.
    pub board: Arc<Board>,
    /// Counts grounds: a page draws its map anew when it changes.
    pub board_number: u64,
    /// What is looked at.
    pub look: Look,
    /// What was looked at first, and why.
    pub opening: Opening,
    /// Several sites at once.
    pub together: Together,
    /// Counts everything that can be seen.
    pub revision: u64,
    /// Counts what pictures are made of: an older picture is of no use.
    pub aim: u64,
    /// The latest picture.
    pub latest: Latest,
    /// The last picture before it, shown until there is a newer one.
    pub before: Option<Arc<Picture>>,
    /// Counts pictures: a page fetches one whose number it has not shown.
    pub pictures: u64,
    /// What is being computed.
    running: Option<Running>,
    /// The state waits for its turn since then, until there is a first picture of
    /// what is running.
    due: Option<Instant>,
    /// What was kept.
    pub variants: Vec<Variant>,
    variants_made: u64,
    /// What is wrong with the file as somebody else has changed it.
    pub underneath: Option<Underneath>,
    /// Unsaved text of an earlier page that nobody has decided on yet.
    pub offers: Vec<Offer>,
    told: Vec<String>,
    recovery: Arc<Recovery>,
    stop: Arc<AtomicBool>,
}

/// The file was changed by another program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Underneath {
    /// What to know and to do.
    pub text: String,
    /// What is wrong in the file, where something is.
    pub problems: Vec<Problem>,
}

/// Why something was not done.
#[derive(Debug, thiserror::Error)]
pub enum Refused {
    /// The plan would have problems.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The plan has no such entry.
    #[error(transparent)]
    Edit(#[from] EditError),
    /// It cannot be done now, and why.
    #[error("{0}")]
    Now(String),
    /// The plan's file was changed by another program.
    #[error("{0}")]
    ChangedUnderneath(String),
}

impl Desk {
    /// Puts the plan in `file` on the desk and starts on its first picture. The
    /// corrections in `calibration` count with every state of it.
    ///
    /// # Errors
    /// [`Refused`] when the plan has no such site, the channel no station, or
    /// the ground cannot be drawn.
    pub fn open(
        file: PlanFile,
        opened: Assessment,
        opening: Opening,
        calibration: Option<PathBuf>,
    ) -> Result<Arc<Self>, Refused> {
        let look = opening.look.clone();
        if !can_look(&opened, &look) {
            return Err(no_look(&look));
        }
        let kept = Kept { text: opened.plan.text.clone() };
        let opened = Arc::new(opened.with_tiles()?);
        let board = Arc::new(Board::of(&opened).map_err(|e| Refused::Now(e.to_string()))?);
        let recovery = Arc::new(Recovery::of(&file));
        let (offers, told) = offer::find(&file, &kept.text, |text| {
            let read = assessment::read_text(file.named(), text);
            read.err().map_or_else(Vec::new, |error| error.problems().to_vec())
        });
        let state = State {
            file,
            history: vec![kept.text.clone()],
            at: 0,
            calibration,
            passing: None,
            kept,
            board,
            board_number: 1,
            look,
            opening,
            together: Together::default(),
            opened,
            revision: 1,
            aim: 0,
            latest: Latest::default(),
            before: None,
            pictures: 0,
            running: None,
            due: None,
            variants: Vec::new(),
            variants_made: 0,
            underneath: None,
            offers,
            told,
            recovery: Arc::clone(&recovery),
            stop: Arc::default(),
        };
        let (changed, _) = watch::channel(1);
        let desk = Arc::new(Self { state: Mutex::new(state), changed, recovery });
        desk.keep_what_is_unsaved();
        desk.start(&mut desk.lock(), Instant::now());
        Ok(desk)
    }

    /// A look at everything; hold it only as long as it takes to read.
    pub fn lock(&self) -> MutexGuard<'_, State> {
        // A thread that panicked left numbers and texts, each whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tells of every new revision.
    pub fn watch(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// Ends what is being computed.
    pub fn stop(&self) {
        let mut state = self.lock();
        state.stop.store(true, Ordering::Relaxed);
        state.together.halt();
    }

    /// Ends all work. What is unsaved stays in its file, to the last change; the
    /// plan's file is free for others.
    pub fn end(&self) {
        self.stop();
        self.recovery.end();
        self.recovery.settle();
        self.lock().file.let_go();
    }

    /// Keeps what is unsaved in its file, aside, until the desk ends.
    fn keep_what_is_unsaved(self: &Arc<Self>) {
        let (desk, recovery) = (Arc::downgrade(self), Arc::clone(&self.recovery));
        std::thread::spawn(move || {
            while recovery.wait() {
                if recovery.settle()
                    && let Some(desk) = Weak::upgrade(&desk)
                {
                    desk.tell(&mut desk.lock());
                }
            }
        });
    }

    /// Makes a change, or says which problems the plan would have with it. One
    /// that is `passing`, as in the middle of a drag, is replaced by the next
    /// of its kind: undoing goes back to before the first of them.
    ///
    /// # Errors
    /// [`Refused`]; the plan then stands as it stood.
    pub fn change(self: &Arc<Self>, change: &Change, passing: bool) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        let text = change.make(state.text()).map_err(|error| state.refusal(error))?;
        let (table, name) = change.entry();
        let entry = (table, name.to_owned());
        let goes_on = state.passing.as_ref() == Some(&entry);
        if text == state.text() {
            if !passing {
                state.passing = None;
            }
            return Ok(());
        }
        state.take_renamed(&text, change.renames())?;
        state.passing = passing.then_some(entry);
        if goes_on && state.at > 0 {
            state.at -= 1;
        }
        state.remember(text);
        state.keep_unsaved();
        if passing {
            self.follow(&mut state, since);
        } else {
            self.start(&mut state, since);
        }
        Ok(())
    }

    /// Goes to the text `by` steps away, back if below zero.
    ///
    /// # Errors
    /// [`Refused`] where there is none.
    pub fn step(self: &Arc<Self>, by: isize) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        state.passing = None;
        let wanted = state.at.checked_add_signed(by);
        let text = wanted.and_then(|at| state.history.get(at)).cloned().ok_or_else(|| {
            let what = if by < 0 { "undo" } else { "redo" };
            Refused::Now(format!("there is nothing to {what}"))
        })?;
        state.take(&text)?;
        state.at = wanted.unwrap_or(state.at);
        state.keep_unsaved();
        self.start(&mut state, since);
        Ok(())
    }

    /// Looks at another site or channel.
    ///
    /// # Errors
    /// [`Refused`] when the plan has no such site, or the channel no station.
    pub fn look(self: &Arc<Self>, look: Look) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        if !can_look(&state.opened, &look) {
            return Err(no_look(&look));
        }
        if look != state.look {
            state.look = look;
            self.start(&mut state, since);
        }
        Ok(())
    }

    /// Keeps the state as it stands under a name.
    ///
    /// # Errors
    /// [`Refused`] while its picture is not complete, without a name, and when
    /// there are too many already.
    pub fn keep(&self, name: &str) -> Result<u64, Refused> {
        let name = name.trim();
        if name.is_empty() || name.chars().count() > LONGEST_NAME {
            return Err(Refused::Now(format!(
                "give the variant a name of 1 to {LONGEST_NAME} letters"
            )));
        }
        let mut state = self.lock();
        if state.variants.len() >= MOST_VARIANTS {
            return Err(Refused::Now(format!(
                "{MOST_VARIANTS} variants are kept already; drop one first"
            )));
        }
        let (Some(picture), Some(score), Some(Stage::Scored)) =
            (state.latest.picture.clone(), state.latest.score.clone(), state.latest.stage)
        else {
            return Err(Refused::Now(
                "the picture is not complete yet: keep it in a moment".to_owned(),
            ));
        };
        state.variants_made += 1;
        let variant = Variant {
            id: state.variants_made,
            name: name.to_owned(),
            text: state.text().to_owned(),
            look: state.look.clone(),
            picture,
            score,
            board: Arc::clone(&state.board),
        };
        let id = variant.id;
        state.variants.push(variant);
        self.tell(&mut state);
        Ok(id)
    }

    /// Forgets a variant.
    ///
    /// # Errors
    /// [`Refused`] when there is none of that number.
    pub fn drop_variant(&self, id: u64) -> Result<(), Refused> {
        let mut state = self.lock();
        let before = state.variants.len();
        state.variants.retain(|v| v.id != id);
        if state.variants.len() == before {
            return Err(gone());
        }
        self.tell(&mut state);
        Ok(())
    }

    /// Takes a variant's plan and look for the present one; what stood before
    /// can be come back to.
    ///
    /// # Errors
    /// [`Refused`] when there is none of that number.
    pub fn take_up(self: &Arc<Self>, id: u64) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        let variant = state.variants.iter().find(|v| v.id == id).ok_or_else(gone)?;
        let (text, look) = (variant.text.clone(), variant.look.clone());
        state.take(&text)?;
        if can_look(&state.opened, &look) {
            state.look = look;
        }
        state.remember(text);
        state.keep_unsaved();
        self.start(&mut state, since);
        Ok(())
    }

    /// Goes on with the unsaved text of an earlier page in place of what is on the
    /// desk, which can be come back to. Its file stays until that is saved.
    ///
    /// # Errors
    /// [`Refused`] when there is none of that number, or the plan would not be
    /// sound; all stays as it is then.
    pub fn recover(self: &Arc<Self>, id: usize) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        let (at, text) = state.offered(id)?;
        let text = text.map_err(Refused::Now)?;
        state.take(&text)?;
        state.passing = None;
        state.remember(text);
        let offer = state.offers.remove(at);
        self.recovery.take_up(offer, state.unsaved());
        self.start(&mut state, since);
        Ok(())
    }

    /// Removes the unsaved text of an earlier page for good.
    ///
    /// # Errors
    /// [`Refused`] when there is none of that number, or its file cannot be removed.
    pub fn discard(&self, id: usize) -> Result<(), Refused> {
        let mut state = self.lock();
        let (at, _) = state.offered(id)?;
        if let Some(offer) = state.offers.get(at) {
            let name = offer.path.display();
            if !offer.can_be_discarded() {
                return Err(Refused::Now(format!("{name} is no file of this page: move it away")));
            }
            offer
                .remove()
                .map_err(|error| Refused::Now(format!("{name} cannot be removed: {error}")))?;
        }
        state.offers.remove(at);
        self.tell(&mut state);
        Ok(())
    }

    /// Writes the plan to its file: beside it first, then in its place. Returns
    /// what else there is to know.
    ///
    /// # Errors
    /// [`Refused::ChangedUnderneath`] when another program has changed the file
    /// and `over` does not say to write all the same; [`Refused::Now`] when it
    /// cannot be written.
    pub fn save(&self, over: bool) -> Result<Option<String>, Refused> {
        let mut state = self.lock();
        // Where there is no file any more, its writing says what to do.
        if !over && state.file.is_there() && !state.file.holds(&state.kept) {
            return Err(Refused::ChangedUnderneath(format!(
                "{} was changed by another program since it was read here: reload it, or overwrite it",
                state.file.named().display()
            )));
        }
        let text = state.text().to_owned();
        let written = state.file.write(&text);
        let (kept, note) = match written {
            Ok(written) => written,
            Err(why) => {
                self.recovery.settle();
                let kept_in = self.recovery.status().kept_in;
                let kept_in = kept_in.map_or_else(String::new, |file| {
                    format!(" Until then what is unsaved is in {}.", file.display())
                });
                return Err(Refused::Now(why + &kept_in));
            }
        };
        state.kept = kept;
        state.underneath = None;
        state.keep_unsaved();
        self.recovery.settle();
        self.tell(&mut state);
        Ok(note)
    }

    /// Saves to a new file of this name beside the plan's, and works on that one from
    /// now on. The file before keeps what it holds.
    ///
    /// # Errors
    /// [`Refused`] where the name is taken or makes no sense, or the file cannot be
    /// written; nothing was written then.
    pub fn save_as(&self, name: &str) -> Result<String, Refused> {
        let mut state = self.lock();
        let text = state.text().to_owned();
        let before = state.file.named().display().to_string();
        let (file, kept) = state.file.write_as(name, &text).map_err(Refused::Now)?;
        state.file = file;
        state.kept = kept;
        state.underneath = None;
        self.recovery.turn_to(&state.file);
        // Its name stands in what is told of it; the text is the same, and sound.
        let told = state.take(&text).err().map_or_else(String::new, |error| format!(" {error}"));
        self.tell(&mut state);
        Ok(format!(
            "Saved as {}. The page works on that file now; {before} keeps what it holds.{told}",
            state.file.named().display()
        ))
    }

    /// Reloads the file in place of what is on the desk, which can be come
    /// back to.
    ///
    /// # Errors
    /// [`Refused`] when the plan in the file is not sound; what is on the desk stays.
    pub fn reload(self: &Arc<Self>) -> Result<(), Refused> {
        let since = Instant::now();
        let mut state = self.lock();
        let kept = state.file.read()?;
        let text = kept.text.clone();
        state.take(&text)?;
        state.kept = kept;
        state.underneath = None;
        state.remember(text);
        state.keep_unsaved();
        self.start(&mut state, since);
        Ok(())
    }

    /// Looks whether the file is still the one that was read. One that was
    /// changed is read anew where nothing on the desk would be lost by it;
    /// otherwise, and where it is not sound, the desk keeps what it has and
    /// says so.
    pub fn look_at_file(self: &Arc<Self>) {
        let since = Instant::now();
        let mut state = self.lock();
        if state.file.hold_on() {
            self.tell(&mut state);
        }
        if state.file.holds(&state.kept) {
            if state.underneath.take().is_some() {
                self.tell(&mut state);
            }
            return;
        }
        let name = state.file.named().display().to_string();
        let found = state.file.read();
        let underneath = match found {
            Ok(kept) if !state.is_changed() => match state.take(&kept.text) {
                Ok(()) => {
                    state.remember(kept.text.clone());
                    state.kept = kept;
                    state.underneath = None;
                    state.keep_unsaved();
                    self.start(&mut state, since);
                    return;
                }
                Err(error) => Underneath {
                    text: format!(
                        "{name} was changed by another program and has problems now; the picture is of the last plan without"
                    ),
                    problems: problems_of(&error),
                },
            },
            Ok(_) => Underneath {
                text: format!(
                    "{name} was changed by another program; what is changed here stays here: reload the file, or overwrite it"
                ),
                problems: Vec::new(),
            },
            Err(error) => Underneath {
                text: format!("{name} cannot be read any more; what is on the desk stays"),
                problems: error.problems().to_vec(),
            },
        };
        if state.underneath.as_ref() != Some(&underneath) {
            state.underneath = Some(underneath);
            self.tell(&mut state);
        }
    }

    pub(super) fn tell(&self, state: &mut State) {
        state.revision += 1;
        self.changed.send_replace(state.revision);
    }

    /// Starts on the picture of the state, ending whatever else is computed.
    fn start(self: &Arc<Self>, state: &mut State, since: Instant) {
        state.aim_anew();
        self.begin(state, since);
        self.tell(state);
    }

    /// The same in the middle of a drag: what is computed comes to a first picture
    /// before it is ended. Were each state to end the one before it, a hand that
    /// does not rest would see none.
    fn follow(self: &Arc<Self>, state: &mut State, since: Instant) {
        if state.running.is_none_or(|running| running.seen) {
            return self.start(state, since);
        }
        state.aim_anew();
        state.due = Some(since);
        self.tell(state);
    }

    /// Begins to compute the picture of the state.
    fn begin(self: &Arc<Self>, state: &mut State, since: Instant) {
        state.stop.store(true, Ordering::Relaxed);
        state.stop = Arc::default();
        state.due = None;
        state.running = Some(Running { aim: state.aim, seen: false });
        let plan = &state.opened.plan;
        let job = Job {
            channel: plan.channels.iter().position(|c| c.name == state.look.channel).unwrap_or(0),
            site: plan.sites.iter().position(|s| s.name == state.look.site).unwrap_or(0),
            opened: Arc::clone(&state.opened),
            board: Arc::clone(&state.board),
            held: state.passing.is_some(),
            stop: Arc::clone(&state.stop),
        };
        let (desk, aim) = (Arc::clone(self), state.aim);
        std::thread::spawn(move || {
            let done = job.run(|found| desk.found(aim, since, found));
            desk.ended(aim, done.err().as_ref());
        });
    }

    fn found(self: &Arc<Self>, aim: u64, since: Instant, found: Found) {
        let mut state = self.lock();
        let Some(running) = state.running.as_mut().filter(|running| running.aim == aim) else {
            return;
        };
        let took = Some(since.elapsed().as_secs_f64() * 1e3);
        match found {
            Found::Picture(stage, picture) => {
                running.seen = true;
                state.pictures += 1;
                if let Some(due) = state.due {
                    // A picture of where the mark was a moment ago, and on to where it is.
                    state.before = Some(Arc::from(picture));
                    self.begin(&mut state, due);
                } else {
                    state.latest.picture = Some(Arc::from(picture));
                    state.latest.stage = Some(stage);
                    state.before = None;
                    let [first, full] = &mut state.latest.took_ms;
                    *first = first.or(took);
                    if stage == Stage::Full {
                        *full = took;
                    }
                }
            }
            Found::Score(score) => {
                state.latest.score = Some(Arc::from(score));
                state.latest.stage = Some(Stage::Scored);
            }
        }
        self.tell(&mut state);
    }

    /// The job of that aim has ended, and why if it came to nothing.
    fn ended(self: &Arc<Self>, aim: u64, error: Option<&JobError>) {
        let mut state = self.lock();
        if state.running.is_none_or(|running| running.aim != aim) {
            return;
        }
        state.running = None;
        if let Some(due) = state.due {
            self.begin(&mut state, due);
        } else {
            if let Some(error) = error {
                state.latest.trouble = Some(error.to_string());
                self.tell(&mut state);
            }
            self.go_on_together(&mut state);
        }
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        self.recovery.end();
    }
}

impl State {
    /// What a person at the page and at the terminal should know: that work may be
    /// lost, or is being done elsewhere.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        let unkept = self.recovery.status().warning;
        unkept
            .into_iter()
            .chain(self.file.warning().map(str::to_owned))
            .chain(self.told.iter().cloned())
            .collect()
    }

    /// The file that holds what is unsaved.
    #[must_use]
    pub fn kept_in(&self) -> Option<PathBuf> {
        self.recovery.status().kept_in
    }

    /// The plan's sites by name.
    pub(super) fn site_names(&self) -> Vec<String> {
        self.opened.plan.sites.iter().map(|site| site.name.clone()).collect()
    }

    /// Whether the picture of what is looked at is computed.
    pub(super) fn is_at_work(&self) -> bool {
        self.running.is_some()
    }

    /// What is to be kept: what differs from the plan's file.
    fn unsaved(&self) -> Option<Unsaved> {
        let (text, from) = (self.text(), &self.kept.text);
        (text != from).then(|| Unsaved { text: text.to_owned(), from: from.clone() })
    }

    fn keep_unsaved(&self) {
        self.recovery.keep(self.unsaved());
    }

    /// Where an offer stands in the list, and its text.
    fn offered(&self, id: usize) -> Result<(usize, Result<String, String>), Refused> {
        let found = self.offers.iter().enumerate().find(|(_, offer)| offer.id == id);
        found.map(|(at, offer)| (at, offer.text.clone())).ok_or_else(|| {
            Refused::Now("that is decided on already: somebody was faster".to_owned())
        })
    }

    /// The plan's text as it stands.
    #[must_use]
    pub fn text(&self) -> &str {
        self.history.get(self.at).map_or("", String::as_str)
    }

    /// Whether it differs from what the file held.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        self.text() != self.kept.text
    }

    /// Whether there is anything to undo, and to redo.
    #[must_use]
    pub fn can_step(&self) -> (bool, bool) {
        (self.at > 0, self.at + 1 < self.history.len())
    }

    /// The picture is to be of the state as it is now: what there is of the one
    /// before is shown until then.
    fn aim_anew(&mut self) {
        self.aim += 1;
        let there = self.site_names();
        self.together.forget(&there);
        if let Some(picture) = self.latest.picture.take() {
            self.before = Some(picture);
        }
        self.latest = Latest { stage: Some(Stage::Begun), ..Latest::default() };
    }

    /// Takes a text in which a site or channel that is looked at may have another
    /// name.
    fn take_renamed(
        &mut self,
        text: &str,
        renamed: Option<(&'static str, &str, &str)>,
    ) -> Result<(), Refused> {
        let before = self.look.clone();
        let looked_at = match renamed {
            Some(("site", ..)) => Some(&mut self.look.site),
            Some(("channel", ..)) => Some(&mut self.look.channel),
            _ => None,
        };
        if let (Some(name), Some((_, old, new))) = (looked_at, renamed)
            && name.trim() == old
        {
            new.clone_into(name);
        }
        self.take(text).inspect_err(|_| self.look = before)?;
        if let Some(("site", old, new)) = renamed {
            self.together.rename(old, new);
        }
        Ok(())
    }

    /// A change that cannot be made, at its place in the plan where it has one.
    fn refusal(&self, error: EditError) -> Refused {
        let EditError::Value { table, name, field, text } = error else { return error.into() };
        let plan = &self.opened.plan;
        let many = table_named(table).is_some_and(|table| table.many);
        let problem = if many {
            plan.problem(table, &name, &field, text)
        } else {
            plan.table_problem(table, &field, text)
        };
        PlanError::new(self.file.named(), vec![problem]).into()
    }

    /// Puts a text after those that one can go back to; what was undone is
    /// forgotten.
    fn remember(&mut self, text: String) {
        if self.history.get(self.at) == Some(&text) {
            return;
        }
        self.history.truncate(self.at + 1);
        self.history.push(text);
        if self.history.len() > HISTORY {
            self.history.remove(0);
        }
        self.at = self.history.len() - 1;
    }

    /// The look at what stands where the site and the channel stood that are looked at:
    /// they have other names now.
    fn look_renamed(&self, opened: &Assessment) -> Option<Look> {
        let (before, after) = (&self.opened.plan, &opened.plan);
        if before.sites.len() != after.sites.len() || before.channels.len() != after.channels.len()
        {
            return None;
        }
        let site = before.sites.iter().position(|site| site.name == self.look.site)?;
        let channel = before.channels.iter().position(|c| c.name == self.look.channel)?;
        let site = after.sites.get(site)?.name.clone();
        let look = Look { site, channel: after.channels.get(channel)?.name.clone() };
        Some(look).filter(|look| can_look(opened, look))
    }

    /// Makes `text` the plan, if it is sound.
    fn take(&mut self, text: &str) -> Result<(), Refused> {
        let mut plan = assessment::read_text(self.file.named(), text)?;
        if let Some(file) = &self.calibration {
            plan.calibrate(file).map_err(Refused::Now)?;
        }
        let mut opened = self.opened.revised(plan)?;
        let new_ground = !Arc::ptr_eq(&opened.terrain, &self.opened.terrain);
        if new_ground {
            opened = opened.with_tiles()?;
        }
        let opened = Arc::new(opened);
        if new_ground {
            self.board = Arc::new(Board::of(&opened).map_err(|e| Refused::Now(e.to_string()))?);
            self.board_number += 1;
            self.before = None;
            self.latest.picture = None;
            // What is computed of the old ground fits no more.
            self.running = None;
        }
        if !can_look(&opened, &self.look) {
            let look = self.look_renamed(&opened).or_else(|| first_look(&opened));
            self.look = look.ok_or_else(no_station)?;
        }
        self.opened = opened;
        Ok(())
    }
}

/// The first site on the first channel with a station.
#[must_use]
pub fn first_look(opened: &Assessment) -> Option<Look> {
    let channel = opened.plan.channels.iter().find(|c| c.has_station())?;
    let site = opened.plan.sites.first()?;
    Some(Look { site: site.name.clone(), channel: channel.name.clone() })
}

/// What is wrong, field by field.
#[must_use]
pub fn problems_of(refused: &Refused) -> Vec<Problem> {
    match refused {
        Refused::Plan(error) => error.problems().to_vec(),
        _ => Vec::new(),
    }
}

fn can_look(opened: &Assessment, look: &Look) -> bool {
    opened.plan.sites.iter().any(|s| s.name == look.site)
        && opened.plan.channels.iter().any(|c| c.name == look.channel && c.has_station())
}

fn no_look(look: &Look) -> Refused {
    Refused::Now(format!(
        "the plan has no site \"{}\", or channel \"{}\" no station",
        look.site, look.channel
    ))
}

fn no_station() -> Refused {
    Refused::Now(
        "the plan has no channel with a station any more: add a [[channel]] of kind \"relay\" or \"packet\""
            .to_owned(),
    )
}

fn gone() -> Refused {
    Refused::Now("that variant is gone: somebody has dropped it".to_owned())
}
