//! The loop: draws, waits, takes what came. The only place that performs effects on the terminal.

use std::io;
use std::sync::mpsc::{self, Receiver, Sender};
use std::time::{Duration, Instant};

use ratatui::crossterm::event;

use super::app::App;
use super::effect::Effect;
use super::input::Input;
use super::job::{self, Finish};
use super::judging::Judgement;
use super::keeping::{self, Keeper, News, Told};
use super::log::Log;
use super::terminal::{self, Terminal};
use super::theme::Tone;
use super::{perform, twin, update};
use crate::platform::{self, Signal};
use crate::skyline::Seen;
use crate::store;

/// What wakes the loop.
pub enum Event {
    /// Something the terminal reports.
    Input(event::Event),
    /// The terminal tells nothing any more.
    Lost(io::Error),
    /// The system asks the program to stop for a while.
    Suspend,
    /// The program was stopped and goes on.
    Resume,
    /// An image was judged: its index, and what came of it.
    Judged(usize, Judgement),
    /// The thread that keeps what is not saved has to say something.
    News(News),
    /// How the file of an image, by its index, differs from what it was, as [`store::Identity`] says it.
    LookedAt(usize, store::Identity, Option<String>),
    /// The job that goes on is further than it was.
    Progress,
    /// A job is done: its number, and who takes what it came to.
    Done(u64, Finish),
    /// Two images were compared side by side.
    Compared(Box<twin::Case>, Option<twin::Compared>),
    /// A part of an image was looked over: its index, and what was seen.
    Seen(usize, Seen),
}

/// Runs the editor in the terminal until the user leaves.
///
/// # Errors
/// When the terminal cannot be used.
pub fn run(app: &mut App, mouse: bool, log: &mut Option<Log>) -> io::Result<()> {
    terminal::heed_panics();
    let (events, received) = mpsc::channel();
    heed_signals(events.clone())?;
    let mut terminal = Terminal::take()?;
    app.size = terminal.size()?;
    log.iter_mut().for_each(|log| log.input(&Input::Size(app.size.0, app.size.1)));
    app.mouse = mouse;
    if mouse {
        terminal.set_mouse(true)?;
    }
    // One reader, which waits in the system: an idle editor costs nothing.
    let reader = events.clone();
    in_thread("reader", move || {
        loop {
            let event = event::read();
            let is_last = event.is_err();
            if reader.send(event.map_or_else(Event::Lost, Event::Input)).is_err() || is_last {
                break;
            }
        }
    })?;
    let mut keeper = None;
    if let Some(mut notes) = store::Unsaved::open() {
        keeping::look_for(app, &mut notes);
        let events = events.clone();
        // The editor may be gone by then.
        let tell = move |news| drop(events.send(Event::News(news)));
        keeper = Some(Keeper::begin(notes, tell)?);
    }
    update::scroll(app);
    let mut told = Told::default();
    let judging = vec![false; app.images().len()];
    let mut session = Session { app, terminal, log, events, judging, looked: Instant::now() };
    let ended = session.go_on(&received, &mut |app| {
        if let Some(keeper) = &keeper {
            keeper.take(told.orders(app));
        }
    });
    // What was saved or given up on leaving is forgotten too.
    if let Some(keeper) = keeper {
        keeper.take(told.orders(session.app));
        keeper.end();
    }
    ended
}

/// Has the loop told of signals, and the terminal given back before one of them ends the program.
fn heed_signals(events: Sender<Event>) -> io::Result<()> {
    platform::on_signals(move |signal| match signal {
        Signal::Suspend => events.send(Event::Suspend).is_ok(),
        Signal::Resume => events.send(Event::Resume).is_ok(),
        // The reader of a terminal that hung up never comes back, so the end is not left to the loop.
        Signal::End => {
            terminal::give_back();
            true
        }
    })
}

/// After so long without a key, images are judged.
const REST: Duration = Duration::from_millis(120);

/// A file that somebody else wrote to is noticed while keys come, as often as this at the most.
const LOOK: Duration = Duration::from_secs(2);

/// A session in the terminal.
struct Session<'a> {
    app: &'a mut App,
    terminal: Terminal,
    log: &'a mut Option<Log>,
    /// Where threads tell what came of their work.
    events: Sender<Event>,
    /// Which images are being judged; one thread for each is enough.
    judging: Vec<bool>,
    /// When the files of the images were looked at last.
    looked: Instant,
}

impl Session<'_> {
    /// Draws, waits and takes what came, until the user leaves; `keep` is called after each round.
    fn go_on(&mut self, received: &Receiver<Event>, keep: &mut dyn FnMut(&mut App)) -> io::Result<()> {
        loop {
            self.draw()?;
            self.look_over()?;
            if self.app.twin.as_ref().is_some_and(twin::Twin::is_new) {
                self.compare()?;
            }
            let mut next = if self.is_waiting() {
                match received.recv_timeout(REST) {
                    Err(mpsc::RecvTimeoutError::Timeout) => {
                        // Drawn again also where there is nothing to judge, so that progress is seen.
                        self.judge()?;
                        self.compare()?;
                        continue;
                    }
                    event => event.ok(),
                }
            } else {
                received.recv().ok()
            };
            // Everything that came meanwhile is taken before the next frame.
            while let Some(event) = next {
                if self.take(event)? {
                    return Ok(());
                }
                next = received.try_recv().ok();
            }
            keep(self.app);
        }
    }

    fn draw(&mut self) -> io::Result<()> {
        if let Some(error) = self.log.as_mut().and_then(Log::problem) {
            self.app.say(Tone::Doubt, format!("The log ends here; it cannot be written any more: {error}"));
        }
        let began = Instant::now();
        self.terminal.draw(self.app)?;
        self.log.iter_mut().for_each(|log| log.drew(began.elapsed()));
        Ok(())
    }

    /// Whether there is something to be judged or compared once no keys come.
    fn is_waiting(&self) -> bool {
        let mut images = self.app.images().iter().zip(&self.judging);
        twin::is_stale(self.app) || images.any(|(image, judging)| !image.is_judged() && !judging)
    }

    /// Takes what came; returns whether the user leaves.
    fn take(&mut self, event: Event) -> io::Result<bool> {
        match event {
            Event::Input(event) => return Input::of(event).map_or(Ok(false), |input| self.input(input)),
            Event::Lost(error) => return Err(error),
            Event::Suspend => self.suspend()?,
            Event::Resume => self.terminal.take_again()?,
            Event::Compared(case, compared) => twin::finish(self.app, &case, compared),
            Event::Seen(index, seen) => {
                if let Some(sheet) = self.app.images_mut().get_mut(index) {
                    sheet.contents.looked(seen);
                }
            }
            Event::Judged(index, judgement) => {
                self.judging.iter_mut().skip(index).take(1).for_each(|judging| *judging = false);
                if let Some(sheet) = self.app.images_mut().get_mut(index) {
                    sheet.take(judgement);
                }
                // What was judged counts only if a large file was there, and the same, to the end.
                if let Err(error) = store::still_there() {
                    let place = error.place.unwrap_or_default();
                    self.app.say(Tone::Bad, format!("{place}: {}", error.what));
                }
            }
            Event::News(News::Others(path, others)) => keeping::say_others(self.app, &path, &others),
            Event::News(News::NotKept(error)) => {
                let (place, what) = (error.place.unwrap_or_default(), error.what);
                let told = format!("Should the program be killed, this work is lost: {place}: {what}");
                self.app.say(Tone::Doubt, told);
            }
            Event::LookedAt(index, was, how) => update::looked_at(self.app, index, &was, how),
            Event::Progress => job::show_so_far(self.app),
            Event::Done(id, came_to) => {
                let effect = job::finish(self.app, id, came_to);
                update::scroll(self.app);
                return self.act(effect);
            }
        }
        update::scroll(self.app);
        Ok(false)
    }

    fn input(&mut self, input: Input) -> io::Result<bool> {
        self.look_at_files()?;
        self.log.iter_mut().for_each(|log| log.input(&input));
        let began = Instant::now();
        let effect = update::update(self.app, input);
        self.log.iter_mut().for_each(|log| log.effect(&effect, began.elapsed()));
        self.act(effect)
    }

    /// Performs an effect; returns whether the user leaves.
    fn act(&mut self, effect: Effect) -> io::Result<bool> {
        match perform::perform(self.app, effect) {
            Effect::Quit => return Ok(true),
            Effect::Redraw => self.terminal.forget()?,
            Effect::Suspend => self.suspend()?,
            Effect::Mouse(on) => self.terminal.set_mouse(on)?,
            Effect::Copy(text) => self.terminal.copy(&text)?,
            Effect::Work => self.work()?,
            // Everything else is done.
            _ => {}
        }
        Ok(false)
    }

    fn suspend(&mut self) -> io::Result<()> {
        terminal::give_back();
        platform::stop();
        self.terminal.take_again()
    }

    /// Has every image that is not judged as it is now judged in a thread, so that no key waits for it.
    fn judge(&mut self) -> io::Result<()> {
        for (index, (sheet, judging)) in self.app.images().iter().zip(&mut self.judging).enumerate() {
            if sheet.is_judged() || *judging {
                continue;
            }
            *judging = true;
            let (case, events) = (sheet.case(), self.events.clone());
            in_thread("judge", move || drop(events.send(Event::Judged(index, case.judge()))))?;
        }
        Ok(())
    }

    /// Has the files of the images looked at in a thread: one that is far away may take its time.
    fn look_at_files(&mut self) -> io::Result<()> {
        if self.looked.elapsed() < LOOK {
            return Ok(());
        }
        self.looked = Instant::now();
        let files =
            self.app.images().iter().map(|i| i.file.identity.clone().map(|was| (i.file.path.clone(), was)));
        let (files, events) = (files.collect::<Vec<_>>(), self.events.clone());
        in_thread("files", move || {
            for (index, (path, was)) in files.into_iter().enumerate().filter_map(|(i, f)| Some((i, f?))) {
                // A file that cannot be looked at now will say so when it is saved.
                if let Ok(how) = was.changed_at(&path) {
                    let how = how.map(|how| how.to_string());
                    let _ = events.send(Event::LookedAt(index, was, how));
                }
            }
        })
    }

    /// Has large images that stand side by side compared in a thread.
    fn compare(&mut self) -> io::Result<()> {
        let Some(case) = twin::begin(self.app) else { return Ok(()) };
        let events = self.events.clone();
        in_thread("compare", move || {
            let compared = case.run();
            let _ = events.send(Event::Compared(Box::new(case), compared));
        })
    }

    /// Has large images looked over in a thread, so that the first frame does not wait for it.
    fn look_over(&mut self) -> io::Result<()> {
        for (index, sheet) in self.app.images_mut().iter_mut().enumerate() {
            let Some(look) = sheet.contents.look() else { continue };
            let events = self.events.clone();
            in_thread("skyline", move || look.over(|seen| events.send(Event::Seen(index, seen)).is_ok()))?;
        }
        Ok(())
    }

    /// Does the job that goes on in a thread.
    fn work(&mut self) -> io::Result<()> {
        let Some((id, work)) = job::work(self.app) else { return Ok(()) };
        let events = self.events.clone();
        in_thread("work", move || {
            // Several threads of the work may tell.
            let teller = std::sync::Mutex::new(events.clone());
            let told = || {
                let teller = teller.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                let _ = teller.send(Event::Progress);
            };
            if let Some(came_to) = work.run(&told) {
                let _ = events.send(Event::Done(id, came_to));
            }
        })
    }
}

/// Does something while the keys are answered; what it sends may reach nobody, when the editor is gone by then.
fn in_thread(name: &str, work: impl FnOnce() + Send + 'static) -> io::Result<()> {
    std::thread::Builder::new().name(name.into()).spawn(work).map(drop)
}
