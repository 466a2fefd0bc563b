//! The terminal: taken over, and given back as it was found on every way out.

use std::io::{self, Stdout, Write, stdout};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::clipboard::CopyToClipboard;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::event::{
    DisableBracketedPaste, DisableMouseCapture, EnableBracketedPaste, EnableMouseCapture,
};
use ratatui::crossterm::terminal::{
    BeginSynchronizedUpdate, Clear, ClearType, EndSynchronizedUpdate, EnterAlternateScreen,
    LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::crossterm::{execute, queue};
use ratatui::layout::Position;

use super::app::App;
use super::view;

/// The terminal is ours now; also guards the output, so that a signal does not write into the middle of a frame.
static OURS: Mutex<()> = Mutex::new(());
static TAKEN: AtomicBool = AtomicBool::new(false);

/// The terminal while the editor has it.
pub struct Terminal {
    screen: ratatui::Terminal<CrosstermBackend<Stdout>>,
    /// What it shows, and where its cursor is; `None` where that is not known.
    shown: Option<(Buffer, Option<Position>)>,
    mouse: bool,
}

impl Terminal {
    /// Takes the terminal over.
    ///
    /// # Errors
    /// When it refuses; then it is given back as it was.
    pub fn take() -> io::Result<Self> {
        // The look decides about colour, see `theme`; the library would wipe reverse video out under NO_COLOR.
        ratatui::crossterm::style::force_color_output(true);
        take_over().inspect_err(|_| give_back())?;
        let screen = ratatui::Terminal::new(CrosstermBackend::new(stdout())).inspect_err(|_| give_back())?;
        Ok(Terminal { screen, shown: None, mouse: false })
    }

    /// Columns and rows.
    ///
    /// # Errors
    /// When the terminal does not tell.
    pub fn size(&self) -> io::Result<(u16, u16)> {
        let size = self.screen.size()?;
        Ok((size.width, size.height))
    }

    /// Draws what changed since the last frame, which the terminal shows at once; sends nothing where nothing changed.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn draw(&mut self, app: &App) -> io::Result<()> {
        let _guard = OURS.lock();
        if !TAKEN.load(Ordering::SeqCst) {
            return Ok(());
        }
        if self.screen.size()? != self.screen.get_frame().area().as_size() {
            queue!(stdout(), BeginSynchronizedUpdate)?;
            self.screen.autoresize()?;
            self.shown = None;
        }
        let cursor = view::draw(app, &mut self.screen.get_frame());
        let drawn = (self.screen.current_buffer_mut().clone(), cursor);
        if self.shown.as_ref() == Some(&drawn) {
            self.screen.current_buffer_mut().reset();
            return Ok(());
        }
        queue!(stdout(), BeginSynchronizedUpdate)?;
        self.screen.apply_buffer_with_cursor(cursor)?;
        self.shown = Some(drawn);
        execute!(stdout(), EndSynchronizedUpdate)
    }

    /// Forgets what the terminal shows, so that the next frame paints every cell.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn forget(&mut self) -> io::Result<()> {
        self.shown = None;
        let area = self.screen.get_frame().area();
        self.screen.resize(area)
    }

    /// Switches the reports of the mouse on or off.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn set_mouse(&mut self, on: bool) -> io::Result<()> {
        self.mouse = on;
        if on { execute!(stdout(), EnableMouseCapture) } else { execute!(stdout(), DisableMouseCapture) }
    }

    /// Asks the terminal to put a text on the user's clipboard (OSC 52); whether it does is not told.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn copy(&mut self, text: &str) -> io::Result<()> {
        execute!(stdout(), CopyToClipboard::to_clipboard_from(text))
    }

    /// Takes the terminal over again after it was given back.
    ///
    /// # Errors
    /// When it refuses.
    pub fn take_again(&mut self) -> io::Result<()> {
        take_over()?;
        self.set_mouse(self.mouse)?;
        self.forget()
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        give_back();
    }
}

fn take_over() -> io::Result<()> {
    TAKEN.store(true, Ordering::SeqCst);
    enable_raw_mode()?;
    // A program that was killed may have left the other screen in force, with what it wrote there.
    execute!(stdout(), EnterAlternateScreen, Clear(ClearType::All), EnableBracketedPaste)
}

/// Gives the terminal back as it was found; harmless when that was done already. A thread that holds the output for
/// longer than a moment is stuck in a terminal that reads nothing any more, and is not waited for.
pub fn give_back() {
    let mut guard = OURS.try_lock();
    for _ in 0..50 {
        if guard.is_ok() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
        guard = OURS.try_lock();
    }
    if TAKEN.swap(false, Ordering::SeqCst) {
        let mut out = stdout();
        // Whatever fails here, the rest is still tried.
        let _ = queue!(out, EndSynchronizedUpdate);
        let _ = queue!(out, DisableMouseCapture);
        let _ = queue!(out, DisableBracketedPaste);
        let _ = queue!(out, LeaveAlternateScreen);
        let _ = queue!(out, Show);
        let _ = out.flush();
        let _ = disable_raw_mode();
    }
}

/// From now on a panic anywhere gives the terminal back first, and ends the program.
pub fn heed_panics() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        give_back();
        before(panic);
        // A panic in another thread would leave an editor without a terminal behind.
        if std::thread::current().name() != Some("main") {
            std::process::exit(101);
        }
    }));
}
