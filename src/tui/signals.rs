//! Signals: the terminal is given back before one of them ends or stops the program.

use std::sync::mpsc::Sender;

use super::run::Event;

/// Heeds the signals in a thread of its own until the program ends.
///
/// # Errors
/// When the system refuses.
#[cfg(unix)]
pub fn heed(events: Sender<Event>) -> std::io::Result<()> {
    use signal_hook::consts::{SIGCONT, SIGHUP, SIGQUIT, SIGTERM, SIGTSTP};
    let mut signals = signal_hook::iterator::Signals::new([SIGTERM, SIGHUP, SIGQUIT, SIGTSTP, SIGCONT])?;
    std::thread::Builder::new().name("signals".into()).spawn(move || {
        for signal in signals.forever() {
            let told = match signal {
                SIGTSTP => events.send(Event::Suspend),
                SIGCONT => events.send(Event::Resume),
                // The reader of a terminal that hung up never comes back, so the end is not left to the loop.
                deadly => {
                    super::terminal::give_back();
                    let _ = signal_hook::low_level::emulate_default_handler(deadly);
                    std::process::exit(2);
                }
            };
            if told.is_err() {
                break;
            }
        }
    })?;
    Ok(())
}

/// Stops the program until the user brings it back.
#[cfg(unix)]
pub fn stop() {
    // A program that cannot be stopped goes on.
    let _ = signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP);
}

/// There is nothing to heed.
///
/// # Errors
/// Never.
#[cfg(not(unix))]
pub fn heed(_events: Sender<Event>) -> std::io::Result<()> {
    Ok(())
}

/// Programs are not stopped here.
#[cfg(not(unix))]
pub fn stop() {}
