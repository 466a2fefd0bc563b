//! The loop: draws, waits, takes what came. The only place that performs effects on the terminal.

use std::io;
use std::sync::mpsc::{self, Receiver, Sender};
use std::time::{Duration, Instant};

use ratatui::crossterm::event;

use super::app::App;
use super::effect::Effect;
use super::input::Input;
use super::job::{self, Outcome};
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
    /// A job is done: its number, and what came of it.
    Done(u64, Outcome),
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
    let (sender, events) = mpsc::channel();
    let judge = sender.clone();
    heed_signals(sender.clone())?;
    let mut terminal = Terminal::take()?;
    app.size = terminal.size()?;
    log.iter_mut().for_each(|log| log.input(&Input::Size(app.size.0, app.size.1)));
    app.mouse = mouse;
    if mouse {
        terminal.set_mouse(true)?;
    }
    // One reader, which waits in the system: an idle editor costs nothing.
    std::thread::Builder::new().name("reader".into()).spawn(move || {
        loop {
            let event = event::read();
            let is_last = event.is_err();
            if sender.send(event.map_or_else(Event::Lost, Event::Input)).is_err() || is_last {
                break;
            }
        }
    })?;
    let mut keeper = None;
    if let Some(mut notes) = store::Unsaved::open() {
        keeping::look_for(app, &mut notes);
        let sender = judge.clone();
        // The editor may be gone by then.
        let tell = move |news| drop(sender.send(Event::News(news)));
        keeper = Some(Keeper::begin(notes, tell)?);
    }
    update::scroll(app);
    let mut told = Told::default();
    let mut keep = |app: &mut App| {
        if let Some(keeper) = &keeper {
            keeper.take(told.orders(app));
        }
    };
    let ended = turn(app, &mut terminal, &events, &judge, &mut keep, log);
    // What was saved or given up on leaving is forgotten too.
    if let Some(keeper) = keeper {
        keeper.take(told.orders(app));
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

fn turn(
    app: &mut App,
    terminal: &mut Terminal,
    events: &Receiver<Event>,
    judge: &Sender<Event>,
    keep: &mut dyn FnMut(&mut App),
    log: &mut Option<Log>,
) -> io::Result<()> {
    // Which images are being judged; one thread for each is enough.
    let mut sent = vec![false; app.images().len()];
    let mut looked = Instant::now();
    loop {
        if let Some(error) = log.as_mut().and_then(Log::problem) {
            app.say(Tone::Doubt, format!("The log ends here; it cannot be written any more: {error}"));
        }
        let began = Instant::now();
        terminal.draw(app)?;
        log.iter_mut().for_each(|log| log.drew(began.elapsed()));
        look_over(app, judge)?;
        if app.twin.as_ref().is_some_and(twin::Twin::is_new) {
            compare(app, judge)?;
        }
        let waiting =
            twin::is_stale(app) || app.images().iter().zip(&sent).any(|(i, sent)| !i.is_judged && !sent);
        let mut next = if waiting {
            match events.recv_timeout(REST) {
                Err(mpsc::RecvTimeoutError::Timeout) => {
                    // Drawn again also where there is nothing to judge, so that progress is seen.
                    send_to_judge(app, &mut sent, judge)?;
                    compare(app, judge)?;
                    continue;
                }
                event => event.ok(),
            }
        } else {
            events.recv().ok()
        };
        // Everything that came meanwhile is taken before the next frame.
        while let Some(event) = next {
            match event {
                Event::Input(event) => {
                    if let Some(input) = Input::of(event) {
                        look_at_files(app, &mut looked, judge)?;
                        log.iter_mut().for_each(|log| log.input(&input));
                        let began = Instant::now();
                        let effect = update::update(app, input);
                        log.iter_mut().for_each(|log| log.effect(&effect, began.elapsed()));
                        if act(app, terminal, effect, judge)? {
                            return Ok(());
                        }
                    }
                }
                Event::Lost(error) => return Err(error),
                Event::Suspend => suspend(terminal)?,
                Event::Resume => terminal.take_again()?,
                Event::Compared(case, compared) => {
                    twin::finish(app, &case, compared);
                    update::scroll(app);
                }
                Event::Seen(index, seen) => {
                    if let Some(sheet) = app.images_mut().get_mut(index) {
                        sheet.skyline.take(seen);
                    }
                }
                Event::Judged(index, judgement) => {
                    sent.iter_mut().skip(index).take(1).for_each(|sent| *sent = false);
                    if let Some(sheet) = app.images_mut().get_mut(index) {
                        sheet.take(judgement);
                    }
                    // What was judged counts only if a large file was there, and the same, to the end.
                    if let Err(error) = store::still_there() {
                        let place = error.place.unwrap_or_default();
                        app.say(Tone::Bad, format!("{place}: {}", error.what));
                    }
                    update::scroll(app);
                }
                Event::News(News::Others(path, others)) => keeping::say_others(app, &path, &others),
                Event::News(News::NotKept(error)) => {
                    let place = error.place.unwrap_or_default();
                    app.say(
                        Tone::Doubt,
                        format!("Should the program be killed, this work is lost: {place}: {}", error.what),
                    );
                }
                Event::LookedAt(index, was, how) => update::looked_at(app, index, &was, how),
                Event::Progress => {
                    job::show_so_far(app);
                    update::scroll(app);
                }
                Event::Done(id, outcome) => {
                    let effect = job::finish(app, id, outcome);
                    update::scroll(app);
                    if act(app, terminal, effect, judge)? {
                        return Ok(());
                    }
                }
            }
            next = events.try_recv().ok();
        }
        keep(app);
    }
}

/// Has every image that is not judged as it is now judged in a thread, so that no key waits for it.
fn send_to_judge(app: &App, sent: &mut [bool], judge: &Sender<Event>) -> io::Result<()> {
    for (index, (sheet, sent)) in app.images().iter().zip(sent).enumerate() {
        if sheet.is_judged || *sent {
            continue;
        }
        *sent = true;
        let (case, judge) = (sheet.case(), judge.clone());
        in_thread("judge", move || {
            let _ = judge.send(Event::Judged(index, case.judge()));
        })?;
    }
    Ok(())
}

/// A file that somebody else wrote to is noticed while keys come, as often as this at the most.
const LOOK: Duration = Duration::from_secs(2);

/// Has the files of the images looked at in a thread: one that is far away may take its time.
fn look_at_files(app: &App, looked: &mut Instant, events: &Sender<Event>) -> io::Result<()> {
    if looked.elapsed() < LOOK {
        return Ok(());
    }
    *looked = Instant::now();
    let files = app.images().iter().map(|i| i.identity.clone().map(|was| (i.path.clone(), was)));
    let (files, events) = (files.collect::<Vec<_>>(), events.clone());
    in_thread("files", move || {
        for (index, (path, was)) in files.into_iter().enumerate().filter_map(|(i, f)| Some((i, f?))) {
            // A file that cannot be looked at now will say so when it is saved.
            if let Ok(how) = was.changed_at(&path) {
                let _ = events.send(Event::LookedAt(index, was, how));
            }
        }
    })
}

/// Does something while the keys are answered; what it sends may reach nobody, when the editor is gone by then.
fn in_thread(name: &str, work: impl FnOnce() + Send + 'static) -> io::Result<()> {
    std::thread::Builder::new().name(name.into()).spawn(work).map(drop)
}

/// Has large images that stand side by side compared in a thread.
fn compare(app: &mut App, events: &Sender<Event>) -> io::Result<()> {
    let Some(case) = twin::begin(app) else { return Ok(()) };
    let events = events.clone();
    in_thread("compare", move || {
        let compared = case.run();
        let _ = events.send(Event::Compared(Box::new(case), compared));
    })
}

/// Has large images looked over in a thread, so that the first frame does not wait for it.
fn look_over(app: &mut App, seen: &Sender<Event>) -> io::Result<()> {
    for (index, sheet) in app.images_mut().iter_mut().enumerate() {
        let Some(look) = sheet.skyline.look(&sheet.image) else { continue };
        let events = seen.clone();
        in_thread("skyline", move || look.over(|seen| events.send(Event::Seen(index, seen)).is_ok()))?;
    }
    Ok(())
}

/// Performs an effect; returns whether the user leaves.
fn act(app: &mut App, terminal: &mut Terminal, effect: Effect, events: &Sender<Event>) -> io::Result<bool> {
    match perform::perform(app, effect) {
        Effect::Quit => return Ok(true),
        Effect::Redraw => terminal.forget()?,
        Effect::Suspend => suspend(terminal)?,
        Effect::Mouse(on) => terminal.set_mouse(on)?,
        Effect::Copy(text) => terminal.copy(&text)?,
        Effect::Work => work(app, events)?,
        // Everything else is done.
        _ => {}
    }
    Ok(false)
}

/// Does the job that goes on in a thread.
fn work(app: &App, events: &Sender<Event>) -> io::Result<()> {
    let Some((id, work)) = job::work(app) else { return Ok(()) };
    let events = events.clone();
    in_thread("work", move || {
        // Several threads of the work may tell.
        let teller = std::sync::Mutex::new(events.clone());
        let told = || {
            let teller = teller.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
            let _ = teller.send(Event::Progress);
        };
        if let Some(outcome) = work.run(&told) {
            let _ = events.send(Event::Done(id, outcome));
        }
    })
}

fn suspend(terminal: &mut Terminal) -> io::Result<()> {
    terminal::give_back();
    platform::stop();
    terminal.take_again()
}
