//! Plays a session without a terminal: a script of inputs, then the last screen. Tests use it, and users who report
//! a bug (`--keys`, `--size`, `--dump`).

use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::style::{Color, Modifier};

use super::app::App;
use super::effect::Effect;
use super::input::Input;
use super::perform::perform;
use super::{twin, update, view};

/// A session without a terminal.
pub struct Player {
    /// The editor.
    pub app: App,
    terminal: Terminal<TestBackend>,
    /// The user has left.
    pub is_over: bool,
    /// What was put on the clipboard, last first.
    pub clipboard: Vec<String>,
}

impl Player {
    /// A session of `app`, at the size it has.
    #[must_use]
    pub fn new(mut app: App) -> Self {
        let backend = TestBackend::new(app.size.0, app.size.1);
        update::scroll(&mut app);
        let terminal = match Terminal::new(backend) {
            Ok(terminal) => terminal,
            Err(never) => match never {},
        };
        Player { app, terminal, is_over: false, clipboard: Vec::new() }
    }

    /// Takes one input and does what it asks for, and what it leads to in the background.
    pub fn input(&mut self, input: Input) {
        if self.is_over {
            return;
        }
        self.perform(input);
        if let Some(case) = twin::begin(&mut self.app) {
            twin::finish(&mut self.app, &case, case.run());
            update::scroll(&mut self.app);
        }
    }

    fn perform(&mut self, input: Input) {
        let mut effect = update::update(&mut self.app, input);
        loop {
            effect = match perform(&mut self.app, effect) {
                Effect::Quit => {
                    self.is_over = true;
                    return;
                }
                Effect::Copy(text) => {
                    self.clipboard.insert(0, text);
                    return;
                }
                Effect::Work => {
                    let effect = super::job::do_now(&mut self.app);
                    update::scroll(&mut self.app);
                    effect
                }
                _ => return,
            };
        }
    }

    /// Plays a script, see [`super::script::script`].
    ///
    /// # Errors
    /// The word of the script that could not be read.
    pub fn play(&mut self, script: &str) -> Result<(), String> {
        super::script::script(script)?.into_iter().for_each(|input| self.input(input));
        Ok(())
    }

    /// Draws the screen as it is after a moment of rest, in which images are judged.
    pub fn draw(&mut self) -> &Buffer {
        self.app.images_mut().iter_mut().for_each(super::sheet::Sheet::judge);
        update::scroll(&mut self.app);
        self.draw_at_once()
    }

    /// Draws the screen as it is right after a key.
    pub fn draw_at_once(&mut self) -> &Buffer {
        let (columns, rows) = self.app.size;
        let size = self.terminal.backend().buffer().area;
        if (size.width, size.height) != self.app.size {
            self.terminal.backend_mut().resize(columns, rows);
        }
        let app = &self.app;
        let drawn = self.terminal.draw(|frame| {
            view::draw(app, frame);
        });
        match drawn {
            Ok(_) => {}
            Err(never) => match never {},
        }
        self.terminal.backend().buffer()
    }

    /// The screen as text, blanks at the right taken off.
    pub fn screen(&mut self) -> String {
        text(self.draw())
    }

    /// The screen as text and, beside each row, its styles, see [`styles`].
    pub fn styled_screen(&mut self) -> String {
        let buffer = self.draw();
        format!("{}\n{}", text(buffer), styles(buffer))
    }

    /// Where the hardware cursor is.
    pub fn cursor(&mut self) -> (u16, u16) {
        self.draw();
        match self.terminal.get_cursor_position() {
            Ok(at) => (at.x, at.y),
            Err(never) => match never {},
        }
    }
}

fn rows(buffer: &Buffer) -> impl Iterator<Item = &[ratatui::buffer::Cell]> {
    buffer.content.chunks(usize::from(buffer.area.width).max(1))
}

/// A screen as text, blanks at the right taken off.
#[must_use]
pub fn text(buffer: &Buffer) -> String {
    let mut text = String::new();
    for row in rows(buffer) {
        let mut line = String::new();
        let mut hidden = 0;
        for cell in row {
            // The cell behind a wide character belongs to it.
            if hidden == 0 {
                line.push_str(cell.symbol());
            }
            hidden = crate::report::text::width(cell.symbol()).max(hidden).saturating_sub(1);
        }
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// The styles of a screen, one letter for each cell: `.` plain, `b` bold, `d` dim, `i` slanted, `u` underlined, `r`
/// reversed (that one decides), upper case where there is a colour too (`C` for colour alone).
#[must_use]
pub fn styles(buffer: &Buffer) -> String {
    let mut text = String::new();
    for row in rows(buffer) {
        let line: String = row.iter().map(letter).collect();
        text.push_str(line.trim_end_matches('.'));
        text.push('\n');
    }
    text
}

fn letter(cell: &ratatui::buffer::Cell) -> char {
    let letters = [
        (Modifier::REVERSED, 'r'),
        (Modifier::UNDERLINED, 'u'),
        (Modifier::BOLD, 'b'),
        (Modifier::DIM, 'd'),
        (Modifier::ITALIC, 'i'),
    ];
    let letter = letters.iter().find(|(m, _)| cell.modifier.contains(*m)).map(|(_, letter)| *letter);
    match (letter, cell.fg != Color::Reset) {
        (Some(letter), false) => letter,
        (Some(letter), true) => letter.to_ascii_uppercase(),
        (None, true) => 'C',
        (None, false) => '.',
    }
}
