//! One input in, one effect out. Nothing here touches a file, a terminal or a clock.

use super::app::App;
use super::command::{self, Where};
use super::dialog::Dialog;
use super::effect::Effect;
use super::input::{Input, Key};
use super::panes::Pane;
use super::theme::Tone;
use super::view::screen::{self, SMALLEST, Screen};
use super::{typing, view};
use crate::store::Identity;

/// Takes one input.
pub fn update(app: &mut App, input: Input) -> Effect {
    // Where nothing can be seen, nothing is asked, and nothing is done but leaving.
    let is_too_small = app.size.0 < SMALLEST.0 || app.size.1 < SMALLEST.1;
    let effect = match input {
        Input::Key(key) if is_too_small => only_leave(app, key),
        Input::Key(key) => take_key(app, key),
        Input::Paste(_) if is_too_small => Effect::None,
        Input::Paste(text) => {
            take_paste(app, &text);
            Effect::None
        }
        Input::Mouse(mouse) => super::mouse::take(app, mouse),
        Input::Size(columns, rows) => {
            app.size = (columns, rows);
            let room = screen::room(app);
            if let Some(Dialog::Page(page)) = &mut app.dialog {
                page.set(room);
            }
            Effect::None
        }
    };
    scroll(app);
    effect
}

fn only_leave(app: &App, key: Key) -> Effect {
    let quits = app.keys.command(key, Where::BYTES).is_some_and(|c| c.name == "quit");
    let would_lose =
        app.images().iter().any(|i| i.is_modified() || i.layout_is_modified() || i.contents.is_being_saved);
    if quits && !would_lose { Effect::Quit } else { Effect::None }
}

fn take_key(app: &mut App, key: Key) -> Effect {
    app.notice = None;
    if typing::takes(app, key) {
        if let Some(c) = key.typed() {
            typing::type_char(app, c);
        }
        return Effect::None;
    }
    let here = Where::now(app);
    let command = app.keys.command(key, here);
    // What is typed searches the help, though other pages are scrolled by it.
    let searches = here == Where::HELP && key.typed().is_some() && command.is_none_or(|c| c.name != "close");
    if let Some(command) = command.filter(|_| !searches) {
        return command.run(app, "");
    }
    match (&app.dialog, key.typed()) {
        (Some(Dialog::Prompt(_) | Dialog::Form(_) | Dialog::Page(_)), Some(c)) => {
            command::type_into_line(app, c.encode_utf8(&mut [0; 4]))
        }
        (Some(Dialog::Question(question)), Some(c)) => {
            match question.replies.iter().position(|r| r.key == c.to_ascii_lowercase()) {
                Some(reply) => command::give_reply(app, reply),
                None => Effect::None,
            }
        }
        (None, Some(c)) if app.panes.focus() == Pane::Bytes => {
            typing::type_char(app, c);
            Effect::None
        }
        // Who goes to an address from a list and types must see that nothing was written.
        (None, Some(c)) if c.is_ascii_hexdigit() => {
            app.say(
                Tone::Doubt,
                app.keys.fill("Nothing was typed: the keys are not with Bytes; {next-pane} passes them on"),
            );
            Effect::None
        }
        _ => Effect::None,
    }
}

/// Pasted text is data wherever it lands: it goes into the line of a prompt or into the bytes, and gives no command.
fn take_paste(app: &mut App, text: &str) {
    app.notice = None;
    match &app.dialog {
        Some(Dialog::Question(_)) => app.say(Tone::Doubt, "A paste answers no question; type the letter"),
        Some(Dialog::Page(page)) if page.search.is_none() => {}
        Some(_) => command::paste_into_line(app, text),
        None => typing::paste(app, text),
    }
}

/// Settles what hangs on the rest after anything changed: the step of the tour, and every pane scrolled so that its
/// chosen item is shown.
pub fn scroll(app: &mut App) {
    // What has nothing to show any more has no place on the screen, and no keys.
    let there = app.there();
    app.panes.keep(&there);
    super::tour::follow(app);
    let screen = Screen::of(app);
    let readings = view::readings::count();
    super::twin::follow(app, screen.grid.per_row, screen.side_height());
    let heights = Pane::ALL.map(|pane| (pane, view::list_height(app, pane, screen.height_of(pane))));
    let it = app.it_mut();
    let row = it.cursor.at / screen.grid.per_row;
    let (height, rows) = (screen.bytes_height(), it.image().len().div_ceil(screen.grid.per_row));
    let top = super::rows::first_shown(it.cursor.top / screen.grid.per_row, row, height);
    it.cursor.top = top.min(rows.saturating_sub(height)) * screen.grid.per_row;
    it.readings.rows.fit(readings);
    for (pane, height) in heights {
        if let Some(rows) = command::rows_of(app, pane) {
            rows.show(height);
        }
    }
}

/// Takes how the file of an image differs from what it was; says it once. A file that we wrote since then is ours.
pub fn looked_at(app: &mut App, index: usize, was: &Identity, how: Option<String>) {
    let sheet = app.images_mut().get_mut(index).filter(|s| s.file.identity.as_ref() == Some(was));
    let Some(sheet) = sheet else { return };
    let before = std::mem::replace(&mut sheet.file.changed_on_disk, how.clone());
    if let (None, Some(how)) = (before, how) {
        let name = sheet.file.name();
        let told = app.keys.fill("{take-file} reads it again");
        app.say(Tone::Doubt, format!("{name} {how}; {told}"));
    }
}
