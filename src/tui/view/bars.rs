//! The lines that are always there: the title with its states, what is under the cursor, what can be done.

use super::canvas::Canvas;
use super::screen::{SMALLEST, Screen, TOUR};
use crate::finding::Verdict;
use crate::layout::{FieldState, Shape};
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::command::{self, Command, Where};
use crate::tui::dialog::Dialog;
use crate::tui::theme::Tone;
use crate::tui::typing;

/// One message where nothing else has room: what is needed, where one is, how to leave.
pub(super) fn too_small(canvas: &mut Canvas<'_>, app: &App) {
    let it = app.it();
    let is_unsaved = app.images().iter().any(|i| i.is_modified() || i.layout_is_modified());
    let lines = [
        format!("{}x{} is too small,", canvas.width(), canvas.height()),
        format!("{}x{} is needed.", SMALLEST.0, SMALLEST.1),
        format!("{} in {}", it.address(it.cursor.at), it.file.name()),
        if is_unsaved { "Not saved yet.".to_owned() } else { app.keys.fill("{quit} quit") },
    ];
    for (y, line) in lines.iter().enumerate() {
        canvas.cell(0, y, canvas.width(), line, Tone::Plain);
    }
}

/// Columns that the name of the image keeps, whatever its states.
const LEAST_NAME: usize = 12;

/// The image's name and its states, in words. Where there is no room for all of them, those go first that the panes
/// tell too.
pub(super) fn title(canvas: &mut Canvas<'_>, app: &App) {
    let it = app.it();
    let many = app.images().len();
    let verdict = Verdict::of(it.judged.findings());
    let known = it.decoded().checks.iter().filter(|_| !it.is_stale());
    let broken = known.filter(|c| c.seal == crate::check::Seal::Broken).count();
    let all = [
        (3, Tone::Quiet, (many > 1).then(|| format!("{} of {many}", app.current() + 1))),
        (0, Tone::Edited, it.is_modified().then(|| "modified".into())),
        (0, Tone::Bad, it.file.changed_on_disk.as_ref().map(|_| "changed on disk".into())),
        (1, Tone::Edited, it.layout_is_modified().then(|| "layout modified".into())),
        (4, Tone::Quiet, it.file.read_only.then(|| "read-only".into())),
        (2, Tone::Bad, (broken > 0).then(|| format!("{} broken", text::count(broken, "check")))),
        // A broken check says more than the word for what it makes of the read.
        (3, verdict.into(), (broken == 0 && verdict != Verdict::Sound).then(|| verdict.word().into())),
        match it.locked {
            true => (0, Tone::Strong, Some("LOCKED".into())),
            false => (0, Tone::Doubt, Some("unlocked".into())),
        },
    ];
    let mut states: Vec<(u8, Tone, String)> =
        all.into_iter().filter_map(|(rank, tone, state)| Some((rank, tone, state?))).collect();
    let width =
        |states: &[(u8, Tone, String)]| states.iter().map(|(_, _, s)| text::width(s) + 2).sum::<usize>();
    while width(&states) + LEAST_NAME > canvas.width() {
        let least =
            states.iter().enumerate().max_by_key(|(_, (rank, ..))| *rank).filter(|(_, (rank, ..))| *rank > 0);
        let Some((at, _)) = least else { break };
        states.remove(at);
    }
    let start = canvas.width().saturating_sub(width(&states));
    let mut x = start + 1;
    for (_, tone, state) in &states {
        x = canvas.text(x, 0, state, *tone) + 2;
    }
    let room = start.saturating_sub(1);
    let x = canvas.name(1, 0, text::width(&it.file.name()).min(room), &it.file.name(), Tone::Strong);
    let (all, gaps) = (it.image().len(), it.image().gaps());
    let bytes = match gaps.iter().map(|gap| gap.len()).sum::<usize>() {
        0 => text::count(all, "byte"),
        unmapped => format!("{} of {}", all - unmapped.min(all), text::count(all, "byte")),
    };
    let mut more = format!("{bytes}, {}", it.file.format.name());
    match it.layout() {
        Some(in_force) => more = format!("{more}, {}", text::clean(&in_force.layout.title)),
        None => more.push_str(", no layout"),
    }
    canvas.cell(x + 2, 0, room.saturating_sub(x + 1), &more, Tone::Quiet);
}

/// The step of the tour: its number and name, and what to do.
pub(super) fn tour(canvas: &mut Canvas<'_>, app: &App) {
    let Some(tour) = &app.tour else { return };
    let (heading, task) = tour.told(app);
    canvas.cell(1, 0, canvas.width().saturating_sub(1), &heading, Tone::Accent);
    canvas.paragraph(1, &task, Tone::Plain);
    if canvas.height() >= usize::from(TOUR) {
        canvas.rule(0, canvas.height() - 1);
    }
}

/// The answer to the last key and where the cursor is, else what is under it; at the right what goes on beside the
/// keys.
pub(super) fn status(canvas: &mut Canvas<'_>, app: &App) {
    let Some(job) = app.jobs.now() else { return said(canvas, app) };
    let told = app.keys.fill(&format!("{} {:2} %, {{leave}} stops", job.word, job.pace.percent()));
    let from = canvas.width().saturating_sub(text::width(&told) + 1);
    said(&mut canvas.left(from.saturating_sub(2)), app);
    canvas.text(from, 0, &told, Tone::Accent);
}

fn said(canvas: &mut Canvas<'_>, app: &App) {
    let it = app.it();
    let at = it.cursor.at;
    if let Some(notice) = &app.notice {
        let place = it.address(at);
        let room = canvas.width().saturating_sub(text::width(&place) + 4);
        canvas.cell(1, 0, room, &text::clean(&notice.text), notice.tone);
        canvas.text(room + 3, 0, &place, Tone::Quiet);
        return;
    }
    let place = if it.cursor.anchor.is_some() {
        format!("{} selected", text::place(it.selection(), it.image().base()))
    } else {
        format!("{}, byte {} of {}", it.address(at), at + 1, it.image().len())
    };
    if it.cursor.anchor.is_none() && !it.image().is_empty() && !it.image().is_mapped(Span::of(at, 1)) {
        canvas.text(1, 0, &format!("{}, no byte is mapped here", it.address(at)), Tone::Plain);
        return;
    }
    let x = canvas.text(1, 0, &place, Tone::Plain) + 2;
    let Some(field) = it.decoded().leaf_at(at) else {
        if it.layout().is_some() && it.described.undescribed().iter().any(|run| run.contains(at)) {
            canvas.text(x, 0, "undescribed", Tone::Quiet);
        }
        return;
    };
    let path = text::clean(&field.path);
    let x = canvas.name(x, 0, text::width(&path).min(canvas.width() * 2 / 5), &path, field.role);
    let (said, tone) = match &field.state {
        FieldState::Odd(why) => (text::clean(why).into_owned(), Tone::Bad),
        _ => {
            let unit = field.unit.as_deref().map(|u| format!(" {}", text::clean(u))).unwrap_or_default();
            (format!("{}{unit}", text::clean(&field.text)), Tone::Plain)
        }
    };
    let room = canvas.width().saturating_sub(x + 3);
    let x = canvas.cell(x + 2, 0, room.min(text::width(&said)), &said, tone);
    // In words too: what it is to the repair is told elsewhere by its look alone.
    let role = field.role.word();
    if x + 2 + role.len() < canvas.width() {
        canvas.text(x + 2, 0, role, Tone::Quiet);
    }
}

/// Commands in the hint line, the first first; each place shows those of them that are valid there.
const ORDER: &[&str] = &[
    "unlock",
    "accept-line",
    "next-line",
    "complete",
    "answer",
    "next-answer",
    "scroll-down",
    "cancel",
    "close",
    "help-here",
    "open-row",
    "go-there",
    "accept-proposal",
    "reject-proposal",
    "accept-sure",
    "set-reading",
    "reseal",
    "to-rest",
    "set-value",
    "save",
    "find",
    "go-to",
    "next-pane",
    "quit",
    "commands",
    "describe",
    "reseal-all",
    "undo",
    "review",
    "next",
    "copy-across",
    "other-side",
    "twin",
    "only-differences",
    "line-up",
    "next-image",
    "column",
    "unfold",
    "copy",
    "next-undescribed",
    "survey",
];

/// Commands that come first in the Twin view.
const IN_TWIN: &[&str] = &["next", "other-side", "copy-across", "only-differences", "line-up", "twin"];

/// One thing that can be done, where it stands in the lines at the bottom.
struct Hint {
    x: usize,
    y: usize,
    key: String,
    word: String,
    /// The command, for all but what is typed.
    command: Option<&'static Command>,
}

impl Hint {
    fn width(&self) -> usize {
        text::width(&self.key) + 1 + text::width(&self.word)
    }
}

/// What can be done now, and last, always, how to get help.
pub(super) fn hints(canvas: &mut Canvas<'_>, app: &App) {
    for hint in laid_out(app, canvas.width(), canvas.height()) {
        let x = canvas.text(hint.x, hint.y, &hint.key, Tone::Accent) + 1;
        canvas.text(x, hint.y, &hint.word, Tone::Plain);
    }
}

/// The command whose hint is at a cell of the screen.
#[must_use]
pub fn hint_at(app: &App, screen: &Screen, column: u16, row: u16) -> Option<&'static Command> {
    let area = Some(screen.hints).filter(|a| a.contains((column, row).into()))?;
    let (x, y) = (usize::from(column - area.x), usize::from(row - area.y));
    let hints = laid_out(app, usize::from(area.width), usize::from(area.height));
    hints.into_iter().find(|h| h.y == y && (h.x..h.x + h.width()).contains(&x)).and_then(|h| h.command)
}

fn laid_out(app: &App, width: usize, height: usize) -> Vec<Hint> {
    let here = Where::now(app);
    let last = height.saturating_sub(1);
    let (mut hints, mut help_at) = (Vec::new(), width);
    if let Some(help) = command::by_name("help").filter(|_| here.meets(Where::PANES)) {
        let key = working_key(app, help).unwrap_or_else(|| app.keys.way(help, here));
        help_at = width.saturating_sub(text::width(&key) + " help ".len());
        hints.push(Hint { x: help_at, y: last, key, word: "help".into(), command: Some(help) });
    }
    let (mut x, mut y) = (1, 0);
    for (key, word, command) in entries(app, here) {
        let hint = Hint { x, y, key, word, command };
        let needed = hint.width() + 1;
        let room = |y: usize| if y == last { help_at } else { width };
        if x + needed > room(y) && y < last {
            (x, y) = (1, y + 1);
        }
        // One that does not fit makes room for shorter ones behind it.
        if x + needed > room(y) {
            continue;
        }
        hints.push(Hint { x, y, ..hint });
        x += needed + 1;
    }
    hints
}

/// Each with its key, its word, and the command if it is one.
fn entries(app: &App, here: Where) -> Vec<(String, String, Option<&'static Command>)> {
    let mut entries = Vec::new();
    if let Some(Dialog::Question(question)) = &app.dialog {
        entries.extend(question.replies.iter().map(|r| (r.key.to_string(), r.word.to_string(), None)));
    }
    if here == Where::HELP {
        entries.push(("Letters".into(), "search".into(), None));
    }
    if here.meets(Where::BYTES) {
        let (digits, locked) = (app.it().cursor.column == crate::tui::sheet::Column::Digits, app.it().locked);
        match (locked, digits) {
            (true, _) => {}
            (false, true) => entries.push(("0-9 A-F".into(), "overwrite".into(), None)),
            (false, false) => entries.push(("Letters".into(), "overwrite".into(), None)),
        }
    }
    // Side by side, what moves and copies between the two comes first.
    let first: &[&str] = if app.twin.is_some() { IN_TWIN } else { &[] };
    let order = first.iter().chain(ORDER.iter().filter(|name| !first.contains(name)));
    let rows = order.filter_map(|name| command::by_name(name));
    for row in rows.filter(|c| c.place.meets(here) && (c.obstacle)(app).is_none()) {
        if let Some(key) = working_key(app, row) {
            let word = match row.name {
                // Nothing to write, nothing to look over.
                "save" if !app.it().is_modified() && !app.it().layout_is_modified() => continue,
                "review" if !app.it().is_modified() => continue,
                "unfold" if !is_folded(app) => continue,
                "open-row" => match app.it().described.chosen_field().map(|f| f.shape) {
                    Some(Shape::Leaf) if app.it().locked => continue,
                    Some(Shape::Leaf) => "set value",
                    _ => row.hint,
                },
                "unlock" if !app.it().locked => "lock",
                "next" if app.twin.is_some() => "next differing",
                "twin" if app.twin.is_some() => "one alone",
                _ => row.hint,
            };
            entries.push((key, word.into(), Some(row)));
        }
    }
    entries
}

/// Whether the chosen group or table hides what it holds.
fn is_folded(app: &App) -> bool {
    let it = app.it();
    app.twin.is_none()
        && it
            .described
            .chosen_field()
            .is_some_and(|f| f.shape != Shape::Leaf && !it.described.fields.is_open(f))
}

/// The first key of a command that gives it now and is not typed instead.
fn working_key(app: &App, command: &Command) -> Option<String> {
    let keys = app.keys.of(command, Where::now(app));
    keys.iter().find(|key| !typing::takes(app, **key)).map(ToString::to_string)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_with_a_hint_has_its_turn_in_the_hint_line() {
        for row in command::all() {
            let listed = ORDER.contains(&row.name) || row.name == "help";
            assert_eq!(!row.hint.is_empty(), listed, "{}", row.name);
        }
    }
}
