//! Work that takes its time and goes on beside the keys: one piece at a time, each with the closure that does it and
//! the one that takes what it came to, so that nobody else needs to know which kinds there are.

use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};

use super::app::App;
use super::effect::Effect;
use super::theme::Tone;

/// What is to be done beside the keys.
pub struct Task {
    word: &'static str,
    is_quick: bool,
    is_waited_for: bool,
    glance: Option<Glance>,
    run: Run,
}

/// Does a piece of work; `None` once it is called off.
type Run = Box<dyn FnOnce(&Watch<'_>) -> Option<Finish> + Send>;

/// Shows what a piece of work came to so far.
type Glance = Rc<dyn Fn(&mut App)>;

/// Takes what a piece of work came to.
pub type Finish = Box<dyn FnOnce(&mut App) -> Effect + Send>;

impl Task {
    /// Work that `run` does anywhere, with everything it needs; `None` once it is called off. What it comes to is given
    /// to `finish`. The word is the one on the screen.
    pub fn new<T: Send + 'static>(
        word: &'static str,
        run: impl FnOnce(&Watch<'_>) -> Option<T> + Send + 'static,
        finish: impl FnOnce(&mut App, T) -> Effect + Send + 'static,
    ) -> Task {
        let run = move |watch: &Watch<'_>| -> Option<Finish> {
            let came_to = run(watch)?;
            Some(Box::new(move |app| finish(app, came_to)))
        };
        Task { word, is_quick: false, is_waited_for: false, glance: None, run: Box::new(run) }
    }

    /// It is done between a key and its frame, if it `is_quick`.
    #[must_use]
    pub fn quick(self, is_quick: bool) -> Task {
        Task { is_quick, ..self }
    }

    /// When it is called off, what it comes to is waited for all the same: it may be done already.
    #[must_use]
    pub fn waited_for(self) -> Task {
        Task { is_waited_for: true, ..self }
    }

    /// While it goes on, `glance` shows what it came to so far.
    #[must_use]
    pub fn glance(self, glance: impl Fn(&mut App) + 'static) -> Task {
        Task { glance: Some(Rc::new(glance)), ..self }
    }
}

/// The work of a session that goes on beside the keys.
#[derive(Default)]
pub struct Jobs {
    now: Option<Job>,
    begun: u64,
}

impl Jobs {
    /// The one that goes on.
    #[must_use]
    pub fn now(&self) -> Option<&Job> {
        self.now.as_ref()
    }
}

/// A task that was begun.
pub struct Job {
    /// Tells it from others of this session.
    id: u64,
    /// The word on the screen.
    pub word: &'static str,
    /// How far it is, and whether it is called off.
    pub pace: Pace,
    is_quick: bool,
    is_waited_for: bool,
    glance: Option<Glance>,
    /// Taken by who does it.
    work: Option<Work>,
}

/// Puts up a job, and has it done; says so where another one goes on.
pub fn begin(app: &mut App, task: Task) -> Effect {
    if let Some(why) = obstacle(app) {
        app.tell(Tone::Doubt, why);
        return Effect::None;
    }
    let Task { word, is_quick, is_waited_for, glance, run } = task;
    let pace = Pace::default();
    app.jobs.begun += 1;
    let id = app.jobs.begun;
    let work = Some(Work { pace: pace.clone(), run });
    app.jobs.now = Some(Job { id, word, pace, is_quick, is_waited_for, glance, work });
    Effect::Work
}

/// Why no job can be begun.
#[must_use]
pub fn obstacle(app: &App) -> Option<&'static str> {
    app.jobs.now.is_some().then_some("Something else goes on beside the keys; {leave} stops it")
}

/// The number and the work of the job that was begun, for who does it.
pub fn work(app: &mut App) -> Option<(u64, Work)> {
    let job = app.jobs.now.as_mut()?;
    Some((job.id, job.work.take()?))
}

/// Whether the job that goes on is done between a key and its frame.
#[must_use]
pub fn is_quick(app: &App) -> bool {
    app.jobs.now.as_ref().is_some_and(|job| job.is_quick)
}

/// A job with everything it needs, to be done anywhere.
pub struct Work {
    pace: Pace,
    run: Run,
}

impl Work {
    /// Does it; `told` is called with every per cent. `None` once it is called off.
    #[must_use]
    pub fn run(self, told: &(dyn Fn() + Sync)) -> Option<Finish> {
        (self.run)(&Watch { pace: self.pace, told })
    }
}

/// Who waits for work, as the work sees it.
pub struct Watch<'a> {
    pace: Pace,
    told: &'a (dyn Fn() + Sync),
}

impl Watch<'_> {
    /// Notes the part that is done, 0 to 1; returns whether to go on.
    pub fn note(&self, done: f64) -> bool {
        if self.pace.note(done) {
            (self.told)();
        }
        !self.pace.is_stopped()
    }

    /// Set once the work is called off.
    #[must_use]
    pub fn stopped(&self) -> &AtomicBool {
        self.pace.stopped()
    }
}

/// Does the job that goes on here and now.
pub fn do_now(app: &mut App) -> Effect {
    let Some((id, work)) = work(app) else { return Effect::None };
    work.run(&|| ()).map_or(Effect::None, |came_to| finish(app, id, came_to))
}

/// Calls off what goes on beside the keys; returns whether there was something.
pub fn stop(app: &mut App) -> bool {
    let Some(job) = &app.jobs.now else { return false };
    job.pace.stop();
    if job.is_waited_for {
        app.say(Tone::Plain, "Stopping");
    } else {
        app.jobs.now = None;
        app.say(Tone::Plain, "Stopped; nothing was changed");
    }
    true
}

/// Takes what the job `id` came to. One that was called off is nobody's any more.
pub fn finish(app: &mut App, id: u64, came_to: Finish) -> Effect {
    app.jobs.now.take_if(|job| job.id == id).map_or(Effect::None, |_| came_to(app))
}

/// Shows what the job that goes on came to so far; the keys stay where they are.
pub fn show_so_far(app: &mut App) {
    if let Some(glance) = app.jobs.now.as_ref().and_then(|job| job.glance.clone()) {
        glance(app);
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
    use crate::image::{Format, Image};
    use crate::tui::sheet::Sheet;
    use crate::tui::theme::Look;

    fn named(name: &'static str) -> Task {
        Task::new(
            "working",
            move |_| Some(name),
            |app, name| {
                app.say(Tone::Good, name);
                Effect::None
            },
        )
    }

    #[test]
    fn what_a_job_came_to_is_taken_while_it_goes_on_and_never_for_the_next_one() {
        let sheet = Sheet::new("unit.bin".into(), Image::raw(vec![0; 4]), Format::Raw);
        let mut app = App::new(sheet, vec![], (80, 24), Look::default());
        let said = |app: &App| app.notice.as_ref().map(|notice| notice.text.clone());
        assert_eq!(begin(&mut app, named("first")), Effect::Work);
        assert_eq!(begin(&mut app, named("meanwhile")), Effect::None);
        let (first, work) = work(&mut app).unwrap();
        let late = work.run(&|| ()).unwrap();
        assert!(stop(&mut app));
        assert_eq!(begin(&mut app, named("second")), Effect::Work);
        finish(&mut app, first, late);
        assert_eq!(said(&app).as_deref(), Some("Stopped; nothing was changed"));
        do_now(&mut app);
        assert_eq!(said(&app).as_deref(), Some("second"));
        assert!(app.jobs.now().is_none() && !stop(&mut app));
    }

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
