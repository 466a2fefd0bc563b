//! Work that takes its time and goes on beside the keys: what it is, how far it is, how it is called off.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use super::app::{App, Pane};
use super::command::Places;

use super::effect::{Effect, NotSaved, Replace};
use super::found::Place;
use super::proposals::Known;
use super::saving::{Saving, Written};
use super::sheet::QUICK_BYTES;
use super::taking::{Taken, Taking};
use super::theme::Tone;
use super::{command, saving, taking};
use crate::edit::Change;
use crate::error::Error;
use crate::image::Image;
use crate::layout::{self, Layout, Refusal};
use crate::survey::Course;

/// Work that goes on beside the keys.
#[derive(Debug)]
pub struct Job {
    /// Tells it from others of this session.
    pub id: u64,
    /// What is to be done.
    pub task: Task,
    /// How far it is, and whether it is called off.
    pub pace: Pace,
    /// Of a search: what it found so far.
    pub so_far: SoFar,
}

/// Places that a search found so far, seen from both sides.
pub type SoFar = Arc<Mutex<Vec<Place>>>;

/// The most places that are shown while a search goes on.
const MOST_SO_FAR: usize = 200;

/// What is to be done beside the keys.
#[derive(Debug)]
pub enum Task {
    /// Look for what is in images by their bytes alone.
    Survey {
        /// The images, the one that what is found is told of first.
        images: Vec<usize>,
        /// What their order means.
        course: Course,
        /// Counts changes of the bytes of the first image, see [`super::sheet::Sheet::writes`]: when it began.
        writes: u64,
    },
    /// Look for what was typed.
    Find {
        /// The image.
        image: usize,
        /// What was typed.
        typed: String,
    },
    /// Take what the file of an image holds now.
    Take {
        /// The image.
        image: usize,
        /// Counts changes of its bytes: when it began.
        writes: u64,
    },
    /// Compute checks and store them.
    Reseal {
        /// The image.
        image: usize,
        /// The check; all of them when it has no name.
        name: Option<String>,
        /// Counts changes of its bytes and its layout: when it began.
        revision: u64,
    },
    /// Write an image to a file.
    Save {
        /// The image.
        image: usize,
        /// The file.
        path: PathBuf,
        /// What may become of a file that is there.
        replace: Replace,
        /// Leave the program once it is written.
        then_quit: bool,
    },
}

/// What came of a job.
#[derive(Debug)]
pub enum Outcome {
    /// Of a survey.
    Surveyed(Known),
    /// Of a search.
    Found(Places),
    /// Of a file that is taken.
    Taken(Result<Taken, Error>),
    /// Of checks.
    Resealed(Result<Change, Refusal>),
    /// Of a save.
    Saved(Result<Written, NotSaved>),
}

/// A job with everything it needs, to be done anywhere.
pub struct Work {
    what: What,
    pace: Pace,
    so_far: SoFar,
}

enum What {
    Survey(Vec<Image>, Course),
    Find(Image, String),
    Take(Taking),
    Reseal(Image, Arc<Layout>, Option<String>),
    Save(Saving),
}

impl Job {
    /// The word on the screen.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self.task {
            Task::Survey { .. } => "surveying",
            Task::Find { .. } => "searching",
            Task::Take { .. } => "taking the file",
            Task::Reseal { .. } => "computing checks",
            Task::Save { .. } => "saving",
        }
    }
}

/// Puts up a job, and has it done; says so where another one goes on.
pub fn begin(app: &mut App, task: Task) -> Effect {
    if let Some(why) = obstacle(app) {
        app.tell(Tone::Doubt, why);
        return Effect::None;
    }
    app.jobs_begun += 1;
    app.job = Some(Job { id: app.jobs_begun, task, pace: Pace::default(), so_far: SoFar::default() });
    Effect::Work
}

/// Why no job can be begun.
#[must_use]
pub fn obstacle(app: &App) -> Option<&'static str> {
    app.job.is_some().then_some("Something else goes on beside the keys; {leave} stops it")
}

/// The work of the job that goes on.
#[must_use]
pub fn work(app: &App) -> Option<(u64, Work)> {
    let job = app.job.as_ref()?;
    let image = |index: &usize| app.images().get(*index).map(|s| s.image().clone());
    let what = match &job.task {
        Task::Survey { images, course, .. } => {
            What::Survey(images.iter().filter_map(image).collect(), *course)
        }
        Task::Find { image: index, typed } => What::Find(image(index)?, typed.clone()),
        Task::Take { image, .. } => What::Take(Taking::of(app, *image)?),
        Task::Reseal { image: index, name, .. } => {
            let layout = app.images().get(*index)?.layout()?;
            What::Reseal(image(index)?, Arc::clone(&layout.layout), name.clone())
        }
        Task::Save { image, path, replace, .. } => What::Save(Saving::of(app, *image, path, *replace)?),
    };
    Some((job.id, Work { what, pace: job.pace.clone(), so_far: Arc::clone(&job.so_far) }))
}

/// Whether the job that goes on is done between a key and its frame.
#[must_use]
pub fn is_quick(app: &App) -> bool {
    let task = app.job.as_ref().map(|j| &j.task);
    let image = |index: usize| app.images().get(index).map_or(0, |s| s.image().len());
    match task {
        Some(Task::Find { image: index, .. } | Task::Reseal { image: index, .. }) => {
            image(*index) <= QUICK_BYTES
        }
        Some(Task::Take { image: index, .. }) => image(*index) <= saving::SAVED_AT_ONCE,
        _ => false,
    }
}

impl Work {
    /// Does it; `told` is called with every per cent. `None` once it is called off.
    #[must_use]
    pub fn run(&self, told: &(dyn Fn() + Sync)) -> Option<Outcome> {
        let note = |done: f64| {
            if self.pace.note(done) {
                told();
            }
        };
        match &self.what {
            What::Survey(images, course) => {
                let images: Vec<&Image> = images.iter().collect();
                Known::of(&images, *course, &note, self.pace.stopped()).map(Outcome::Surveyed)
            }
            What::Take(taking) => {
                let mut watch = |done: f64| {
                    note(done);
                    !self.pace.is_stopped()
                };
                taking.run(&mut watch).map(Outcome::Taken)
            }
            What::Reseal(image, layout, name) => {
                let names = name.as_deref();
                Some(Outcome::Resealed(layout::reseal(layout, image, names.as_slice())))
            }
            What::Save(saving) => {
                let mut watch = |done: f64| {
                    note(done);
                    !self.pace.is_stopped()
                };
                Some(Outcome::Saved(saving.run(&mut watch)))
            }
            What::Find(image, typed) => {
                let done = AtomicUsize::new(0);
                let watch = |bytes: usize, places: Vec<Place>| {
                    let mut so_far = self.so_far.lock().unwrap_or_else(PoisonError::into_inner);
                    let room = MOST_SO_FAR.saturating_sub(so_far.len());
                    so_far.extend(places.into_iter().take(room));
                    drop(so_far);
                    let done = done.fetch_add(bytes, Ordering::Relaxed) + bytes;
                    note(done as f64 / image.len() as f64);
                    !self.pace.is_stopped()
                };
                command::places(image, typed, &watch).map(Outcome::Found)
            }
        }
    }
}

/// Does the job that goes on here and now.
pub fn do_now(app: &mut App) -> Effect {
    match work(app) {
        Some((id, work)) => work.run(&|| ()).map_or(Effect::None, |outcome| finish(app, id, outcome)),
        None => Effect::None,
    }
}

/// Calls off what goes on beside the keys; returns whether there was something. What is being written is waited for:
/// it may be done already.
pub fn stop(app: &mut App) -> bool {
    let Some(job) = &app.job else { return false };
    job.pace.stop();
    if matches!(job.task, Task::Save { .. }) {
        app.say(Tone::Plain, "Stopping");
    } else {
        app.job = None;
        app.say(Tone::Plain, "Stopped; nothing was changed");
    }
    true
}

/// Takes what the job `id` came to. One that was called off is nobody's any more.
pub fn finish(app: &mut App, id: u64, outcome: Outcome) -> Effect {
    let Some(job) = app.job.take_if(|job| job.id == id) else { return Effect::None };
    match (job.task, outcome) {
        (Task::Survey { images, writes, .. }, Outcome::Surveyed(known)) => {
            command::surveyed(app, &images, writes, known);
        }
        (Task::Find { image, typed }, Outcome::Found(places)) => command::found(app, image, &typed, places),
        (Task::Take { image, writes }, Outcome::Taken(taken)) => taking::finish(app, image, writes, taken),
        (Task::Reseal { image, revision, name }, Outcome::Resealed(change)) => {
            command::resealed(app, image, revision, name.is_none(), change);
        }
        (Task::Save { image, path, then_quit, .. }, Outcome::Saved(written)) => {
            return saving::finish(app, image, &path, written, then_quit);
        }
        _ => {}
    }
    Effect::None
}

/// Shows what a search that goes on found so far; the keys stay where they are.
pub fn show_so_far(app: &mut App) {
    let Some(Job { task: Task::Find { image, .. }, so_far, .. }) = &app.job else { return };
    let places = so_far.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let index = *image;
    let Some(sheet) = app.images_mut().get_mut(index).filter(|_| !places.is_empty()) else { return };
    if sheet.found.places() != places {
        sheet.found.grow(places);
        if app.focus == Pane::Bytes && app.current() == index {
            app.beside = Pane::Found;
        }
    }
}

/// How far work is, seen from both sides.
#[derive(Debug, Clone, Default)]
pub struct Pace {
    percent: Arc<AtomicU8>,
    stop: Arc<AtomicBool>,
}

impl Pace {
    /// Notes the part that is done, 0 to 1; returns whether that is another per cent than before.
    #[must_use]
    pub fn note(&self, done: f64) -> bool {
        let percent = (done.clamp(0.0, 1.0) * 100.0) as u8;
        self.percent.fetch_max(percent, Ordering::Relaxed) < percent
    }

    /// Per cent that are done.
    #[must_use]
    pub fn percent(&self) -> u8 {
        self.percent.load(Ordering::Relaxed)
    }

    /// Calls the work off.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Whether the work is called off.
    #[must_use]
    pub fn is_stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Whether this is the pace of the same work.
    #[must_use]
    pub fn is(&self, other: &Pace) -> bool {
        Arc::ptr_eq(&self.stop, &other.stop)
    }

    /// Set once the work is called off.
    #[must_use]
    pub fn stopped(&self) -> &AtomicBool {
        &self.stop
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_per_cent_is_told_once_and_never_goes_back() {
        let pace = Pace::default();
        let told: Vec<bool> = [0.0, 0.011, 0.012, 0.5, 0.4, 7.0].into_iter().map(|d| pace.note(d)).collect();
        assert_eq!(told, [false, true, false, true, false, true]);
        assert_eq!(pace.percent(), 100);
        assert!(!pace.stopped().load(Ordering::Relaxed));
        pace.clone().stop();
        assert!(pace.stopped().load(Ordering::Relaxed));
    }
}
