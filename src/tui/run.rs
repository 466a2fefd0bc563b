//! The loop: draws, waits, takes what came. The only place that performs effects on the terminal.

use std::io;
use std::sync::mpsc::{self, Receiver, Sender};
use std::time::Duration;

use ratatui::crossterm::event;

use super::app::App;
use super::effect::Effect;
use super::input::Input;
use super::proposals::Known;
use super::sheet::Judgement;
use super::terminal::{self, Terminal};
use super::theme::Tone;
use super::{command, perform, signals, update};
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
    /// The job that goes on is further than it was.
    Progress,
    /// A job is done: its number, and what came of it.
    Surveyed(u64, Known),
}

/// Runs the editor in the terminal until the user leaves.
///
/// # Errors
/// When the terminal cannot be used.
pub fn run(app: &mut App, mouse: bool) -> io::Result<()> {
    terminal::heed_panics();
    let (sender, events) = mpsc::channel();
    let judge = sender.clone();
    signals::heed(sender.clone())?;
    let mut terminal = Terminal::take()?;
    app.size = terminal.size()?;
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
    update::scroll(app);
    turn(app, &mut terminal, &events, &judge)
}

/// After so long without a key, images are judged.
const REST: Duration = Duration::from_millis(120);

fn turn(
    app: &mut App,
    terminal: &mut Terminal,
    events: &Receiver<Event>,
    judge: &Sender<Event>,
) -> io::Result<()> {
    // The revisions that are being judged.
    let mut sent: Vec<Option<u64>> = vec![None; app.images().len()];
    loop {
        terminal.draw(app)?;
        let waiting = app.images().iter().zip(&sent).any(|(i, s)| !i.is_judged && *s != Some(i.revision));
        let mut next = if waiting {
            match events.recv_timeout(REST) {
                Err(mpsc::RecvTimeoutError::Timeout) => {
                    send_to_judge(app, &mut sent, judge)?;
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
                        let effect = update::update(app, input);
                        if act(app, terminal, effect, judge)? {
                            return Ok(());
                        }
                    }
                }
                Event::Lost(error) => return Err(error),
                Event::Suspend => suspend(terminal)?,
                Event::Resume => terminal.take_again()?,
                Event::Judged(index, judgement) => {
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
                Event::Progress => {}
                Event::Surveyed(id, known) => {
                    command::surveyed(app, id, known);
                    update::scroll(app);
                }
            }
            next = events.try_recv().ok();
        }
    }
}

/// Has every image that is not judged as it is now judged in a thread, so that no key waits for it.
fn send_to_judge(app: &App, sent: &mut [Option<u64>], judge: &Sender<Event>) -> io::Result<()> {
    for (index, (sheet, sent)) in app.images().iter().zip(sent).enumerate() {
        if sheet.is_judged || *sent == Some(sheet.revision) {
            continue;
        }
        *sent = Some(sheet.revision);
        let (case, judge) = (sheet.case(), judge.clone());
        std::thread::Builder::new().name("judge".into()).spawn(move || {
            // The editor may be gone by then.
            let _ = judge.send(Event::Judged(index, case.judge()));
        })?;
    }
    Ok(())
}

/// Performs an effect; returns whether the user leaves.
fn act(
    app: &mut App,
    terminal: &mut Terminal,
    mut effect: Effect,
    events: &Sender<Event>,
) -> io::Result<bool> {
    loop {
        effect = match perform::perform(app, effect) {
            Effect::None => return Ok(false),
            Effect::Quit => return Ok(true),
            Effect::Redraw => {
                terminal.forget()?;
                Effect::None
            }
            Effect::Suspend => {
                suspend(terminal)?;
                Effect::None
            }
            Effect::Mouse(on) => {
                terminal.set_mouse(on)?;
                Effect::None
            }
            Effect::Copy(text) => {
                terminal.copy(&text)?;
                Effect::None
            }
            again @ (Effect::Save { .. } | Effect::SaveLayout { .. } | Effect::ReadLayout(_)) => again,
            Effect::Survey => {
                let (Some((id, work)), events) = (perform::work(app), events.clone()) else {
                    return Ok(false);
                };
                std::thread::Builder::new().name("survey".into()).spawn(move || {
                    // A thread of the hunt may tell; the editor may be gone by then.
                    let teller = std::sync::Mutex::new(events.clone());
                    let told = || {
                        let teller = teller.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                        let _ = teller.send(Event::Progress);
                    };
                    if let Some(known) = perform::survey(&work, &told) {
                        let _ = events.send(Event::Surveyed(id, known));
                    }
                })?;
                Effect::None
            }
        };
    }
}

fn suspend(terminal: &mut Terminal) -> io::Result<()> {
    terminal::give_back();
    signals::stop();
    terminal.take_again()
}
