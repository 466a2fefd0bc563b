//! The help: what is possible where the keys are comes first, and all of it is searched by typing.

use super::{Command, TABLE, Where};
use crate::layout::Role;
use crate::report::text;
use crate::tui::app::App;
use crate::tui::dialog::{Page, Paragraph};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// Opens it, over the dialog that has the keys if one has.
pub(super) fn open(app: &mut App) -> Effect {
    let paragraphs = paragraphs(app);
    let under = app.dialog.take();
    app.dialog = Some(Page::searched(app, "Help", paragraphs, under));
    Effect::None
}

/// What the marks on the screen mean.
const MARKS: &[(&str, &str)] = &[
    ("*", "differs from what was opened"),
    ("?", "belongs to a field whose value makes no sense"),
    ("!", "differs from the image beside it"),
    ("x", "a check that is broken"),
    ("= -", "a proposal that the layout describes already; one that was rejected"),
    ("--", "no byte is mapped at this address"),
    (
        "▁▂▅█·",
        "in the strip at the top: blank, nearly blank, text, other bytes, none mapped; ^ is the cursor",
    ),
];

fn paragraphs(app: &App) -> Vec<Paragraph> {
    let here = Where::now(app);
    let name = Where::EACH.iter().find(|(place, _)| *place == here).map_or("", |(_, name)| name);
    let in_pane = here.meets(Where::PANES);
    let plain = |told: String| Paragraph::new(Tone::Plain, told);
    let heading = |told: String| Paragraph::new(Tone::Accent, told);
    let width = super::all().map(|c| text::width(&keys(app, c, here))).max().unwrap_or(0);
    let entry = |row: &Command, place: &str| {
        let keys = keys(app, row, here);
        let told = match (keys.ends_with(row.name), place) {
            (true, "") => row.doc.to_owned(),
            (true, place) => format!("{} ({place})", row.doc),
            (false, "") => format!("{} ({})", row.doc, row.name),
            (false, place) => format!("{} ({}, {place})", row.doc, row.name),
        };
        let lead = |keys: &str| format!("{keys:width$}  ");
        match row.refusal(app).filter(|_| row.is_for_panes()) {
            None => Paragraph::led(Tone::Plain, lead(&keys), told),
            Some(_) => Paragraph::led(Tone::Quiet, lead(&keys), format!("{told} – not now")),
        }
    };
    let mut page = Vec::new();
    if in_pane {
        let told = "Arrows move, {next-pane} gives the keys to the next pane, {leave} goes back to Bytes. {find} finds a \
                    part number, {go-to} goes to an address or a field. {unlock} allows changes, {undo} takes the \
                    last one back, {save} saves under a new name: the file the image came from is written over only \
                    if you type its name. {commands} runs any command by its name, {mouse} turns the mouse on.";
        page.extend([plain(app.keys.fill(told)), plain(String::new())]);
    }
    let own = |row: &&Command| row.place.meets(here) && row.place != Where::PANES;
    let mut rows: Vec<&Command> = super::all().filter(own).collect();
    // What everybody expects of keys that move comes last.
    let moves = TABLE.iter().find(|(title, _)| *title == "Moving").map_or(&[][..], |(_, rows)| rows);
    rows.sort_by_key(|row| moves.iter().any(|m| m.name == row.name));
    if !rows.is_empty() {
        page.push(heading(format!("Here, in {name}")));
        page.extend(rows.iter().map(|row| entry(row, "")));
        page.push(plain(String::new()));
    }
    for (title, rows) in TABLE {
        let rows: Vec<&Command> = rows.iter().filter(|c| c.place == Where::PANES).collect();
        if !rows.is_empty() {
            page.push(heading((*title).to_owned()));
            page.extend(rows.iter().map(|row| entry(row, "")));
            page.push(plain(String::new()));
        }
    }
    page.push(heading("Marks".into()));
    page.extend(
        MARKS.iter().map(|(mark, told)| Paragraph::led(Tone::Plain, format!("{mark:width$}  "), *told)),
    );
    page.extend([plain(String::new()), heading("Roles, as their bytes look".into())]);
    page.extend(Role::ALL.map(|role| {
        Paragraph::led(role.into(), format!("{:width$}  ", role.word()), Tone::from(role).doc())
    }));
    page.extend([plain(String::new()), heading("In other panes".into())]);
    let elsewhere =
        super::all().filter(|c| c.is_for_panes() && c.place != Where::PANES && !c.place.meets(here));
    page.extend(elsewhere.map(|row| entry(row, &format!("in {}", row.place.words()))));
    page
}

/// The first two keys of a command; of one without, how the command line runs it.
fn keys(app: &App, command: &Command, here: Where) -> String {
    let keys: Vec<String> = app.keys.of(command, here).iter().take(2).map(ToString::to_string).collect();
    if keys.is_empty() { app.keys.way(command, here) } else { keys.join(" ") }
}
