//! Work that takes its time and goes on beside the keys: what it is, how far it is, how it is called off.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, AtomicUsize, Ordering};

use super::app::App;
use super::proposals::Known;
use super::sheet::{Place, QUICK_BYTES};
use super::{command, perform};
use crate::image::Image;
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
}

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
}

/// What came of a job.
#[derive(Debug)]
pub enum Outcome {
    /// Of a survey.
    Surveyed(Known),
    /// Of a search.
    Found(Vec<Place>),
}

/// A job with everything it needs, to be done anywhere.
pub struct Work {
    images: Vec<Image>,
    what: What,
    pace: Pace,
}

enum What {
    Survey(Course),
    Find(String),
}

impl Job {
    /// The word on the screen.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self.task {
            Task::Survey { .. } => "surveying",
            Task::Find { .. } => "searching",
        }
    }
}

/// Puts up a job, to be done as [`super::effect::Effect::Work`].
pub fn begin(app: &mut App, task: Task) {
    app.jobs_begun += 1;
    app.job = Some(Job { id: app.jobs_begun, task, pace: Pace::default() });
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
    let (indices, what) = match &job.task {
        Task::Survey { images, course, .. } => (images.as_slice(), What::Survey(*course)),
        Task::Find { image, typed } => (std::slice::from_ref(image), What::Find(typed.clone())),
    };
    let images = indices.iter().filter_map(|i| app.images().get(*i)).map(|s| s.image.clone()).collect();
    Some((job.id, Work { images, what, pace: job.pace.clone() }))
}

/// Whether the job that goes on is done between a key and its frame.
#[must_use]
pub fn is_quick(app: &App) -> bool {
    let task = app.job.as_ref().map(|j| &j.task);
    let image = |index: usize| app.images().get(index).map_or(0, |s| s.image.len());
    matches!(task, Some(Task::Find { image: index, .. }) if image(*index) <= QUICK_BYTES)
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
        let images: Vec<&Image> = self.images.iter().collect();
        match &self.what {
            What::Survey(course) => {
                perform::survey(&images, *course, &note, self.pace.stopped()).map(Outcome::Surveyed)
            }
            What::Find(typed) => {
                let image = images.first()?;
                let done = AtomicUsize::new(0);
                let watch = |bytes: usize| {
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
pub fn do_now(app: &mut App) {
    if let Some((id, work)) = work(app)
        && let Some(outcome) = work.run(&|| ())
    {
        finish(app, id, outcome);
    }
}

/// Takes what the job `id` came to. One that was called off is nobody's any more.
pub fn finish(app: &mut App, id: u64, outcome: Outcome) {
    let Some(job) = app.job.take_if(|job| job.id == id) else { return };
    match (job.task, outcome) {
        (Task::Survey { images, writes, .. }, Outcome::Surveyed(known)) => {
            command::surveyed(app, &images, writes, known);
        }
        (Task::Find { image, typed }, Outcome::Found(places)) => command::found(app, image, &typed, places),
        _ => {}
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
