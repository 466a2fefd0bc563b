//! What keys do in dialogs: a line that is typed, a question, a page.

use super::{Command, USUAL, Where, help, row};
use crate::tui::app::App;
use crate::tui::dialog::{Answer, Dialog, Line, Prompt, Question};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;
use crate::tui::view::{Spot, screen};

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        hint: "accept",
        ..row(TYPED, "accept-line", &["Enter"], "Take the line or the marked choice", submit)
    },
    Command {
        hint: "complete",
        obstacle: nothing_offered,
        ..row(
            Where::PROMPT,
            "complete",
            &["Tab"],
            "Put the marked or first choice into the line",
            |app, _| {
                with_line(app, |p| {
                    let choice = p.options.get(p.chosen.unwrap_or(0)).map(|c| c.text.clone());
                    choice.is_some_and(|text| {
                        p.line.set(&text);
                        true
                    })
                })
            },
        )
    },
    Command {
        hint: "next line",
        ..row(Where::FORM, "next-line", &["Tab"], "Give the keys to the next line", |app, _| {
            turn_form(app, 1)
        })
    },
    row(Where::FORM, "previous-line", &["Shift-Tab"], "Give the keys to the line before", |app, _| {
        turn_form(app, -1)
    }),
    row(
        TYPED,
        "choice-up",
        &["Up"],
        "Mark the choice above; without choices, to the line above",
        |app, _| step(app, -1),
    ),
    row(
        TYPED,
        "choice-down",
        &["Down"],
        "Mark the choice below; without choices, to the line below",
        |app, _| step(app, 1),
    ),
    row(TYPED, "choices-up", &["PgUp"], "Mark the choice ten further up", |app, _| step(app, -10)),
    row(TYPED, "choices-down", &["PgDn"], "Mark the choice ten further down", |app, _| step(app, 10)),
    row(SEARCHED, "rub-out", &["Backspace"], "Take out the character before the cursor", |app, _| {
        edit(app, |p| p.line.backspace())
    }),
    row(TYPED, "take-out", &["Delete"], "Take out the character under the cursor", |app, _| {
        edit(app, |p| p.line.delete())
    }),
    row(SEARCHED, "empty-line", &["Ctrl-U"], "Empty the line", |app, _| edit(app, |p| p.line.set(""))),
    row(TYPED, "line-left", &["Left"], "One character to the left", |app, _| still(app, |p| p.line.left())),
    row(TYPED, "line-right", &["Right"], "One character to the right", |app, _| {
        still(app, |p| p.line.right())
    }),
    row(TYPED, "to-line-start", &["Home"], "To the start of the line", |app, _| {
        still(app, |p| p.line.home())
    }),
    row(TYPED, "to-line-end", &["End"], "To the end of the line", |app, _| still(app, |p| p.line.end())),
    Command {
        hint: "answer",
        ..row(Where::QUESTION, "answer", &["Enter"], "Give the marked answer", answer)
    },
    Command {
        hint: "choose",
        ..row(Where::QUESTION, "next-answer", &["Right", "Tab", "Down"], "Mark the next answer", |app, _| {
            turn(app, 1)
        })
    },
    row(
        Where::QUESTION,
        "previous-answer",
        &["Left", "Shift-Tab", "Up"],
        "Mark the answer before",
        |app, _| turn(app, -1),
    ),
    row(READ, "scroll-up", &["Up"], "One line up", |app, _| scroll(app, -1, false)),
    Command {
        hint: "scroll",
        ..row(READ, "scroll-down", &["Down"], "One line down", |app, _| scroll(app, 1, false))
    },
    row(READ, "scroll-page-up", &["PgUp"], "One screenful up", |app, _| scroll(app, -1, true)),
    row(READ, "scroll-page-down", &["PgDn", "Space"], "One screenful down", |app, _| scroll(app, 1, true)),
    row(READ, "scroll-first", &["Home"], "To the first line", |app, _| scroll(app, isize::MIN, false)),
    row(READ, "scroll-last", &["End"], "To the last line", |app, _| scroll(app, isize::MAX, false)),
    Command {
        hint: "cancel",
        ..row(TYPED.and(Where::QUESTION), "cancel", &["Esc", "Ctrl-C"], "Close it and change nothing", close)
    },
    Command {
        hint: "close",
        ..row(READ, "close", &["Esc", "Enter", "?", "Ctrl-C"], "Close the page", close)
    },
    Command {
        name: "help-here",
        keys: &["F1", "Ctrl-K"],
        place: TYPED.and(Where::QUESTION).and(Where::PAGE),
        hint: "help",
        doc: "The keys of this dialog, and every other key and command",
        act: |app, _| help::open(app),
        ..USUAL
    },
];

/// Lines that are typed.
const TYPED: Where = Where::PROMPT.and(Where::FORM);
/// Lines that are typed, and what is searched for.
const SEARCHED: Where = TYPED.and(Where::HELP);
/// Pages that are read.
const READ: Where = Where::PAGE.and(Where::HELP);

fn nothing_offered(app: &App) -> Option<&'static str> {
    match &app.dialog {
        Some(Dialog::Prompt(prompt)) if !prompt.given.options.is_empty() => None,
        _ => Some("Nothing is offered"),
    }
}

/// Closes what has the keys; what a page stands in front of has them again.
fn close(app: &mut App, _: &str) -> Effect {
    app.dialog = match app.dialog.take() {
        Some(Dialog::Page(page)) => page.under.map(|under| *under),
        _ => None,
    };
    Effect::None
}

fn submit(app: &mut App, _: &str) -> Effect {
    match app.dialog.take() {
        Some(Dialog::Prompt(prompt)) => match (prompt.ask.submit)(app, &prompt) {
            Some(effect) => return effect,
            None => app.dialog = Some(Dialog::Prompt(prompt)),
        },
        Some(Dialog::Form(form)) => {
            if !(form.kind.submit)(app, &form) {
                app.dialog = Some(Dialog::Form(form));
            }
        }
        other => app.dialog = other,
    }
    Effect::None
}

/// Does something to the line that is typed into; when it changed, looks again at what could be meant.
fn with_line(app: &mut App, act: impl FnOnce(&mut Answer) -> bool) -> Effect {
    let room = screen::room(app);
    match app.dialog.take() {
        Some(Dialog::Prompt(mut prompt)) => {
            if act(&mut prompt.given) {
                prompt.refresh(app);
            }
            app.dialog = Some(Dialog::Prompt(prompt));
        }
        Some(Dialog::Form(mut form)) => {
            if form.lines.get_mut(form.at).is_some_and(act) {
                form.refresh(app);
            }
            app.dialog = Some(Dialog::Form(form));
        }
        Some(Dialog::Page(mut page)) => {
            if page.search.as_mut().is_some_and(act) {
                page.top = 0;
                page.set(room);
            }
            app.dialog = Some(Dialog::Page(page));
        }
        other => app.dialog = other,
    }
    Effect::None
}

fn edit(app: &mut App, act: impl FnOnce(&mut Answer)) -> Effect {
    with_line(app, |p| {
        act(p);
        true
    })
}

/// Types a text into the line.
pub fn type_into_line(app: &mut App, text: &str) -> Effect {
    let mut fits = true;
    let effect = edit(app, |p| {
        // What is typed behind a marked choice continues that choice.
        if p.chosen.is_some() && !p.marks {
            let answer = p.text().to_owned();
            p.line.set(&answer);
        }
        fits = p.line.insert(text);
    });
    if !fits {
        app.say(Tone::Doubt, format!("A line takes at most {} bytes; nothing was put into it", Line::MOST));
    }
    effect
}

/// Puts a pasted text into the line, in which the ends of its lines become blanks.
pub fn paste_into_line(app: &mut App, pasted: &str) {
    // Terminals paste the end of a line as a carriage return.
    let pasted = pasted.replace("\r\n", "\n").replace('\r', "\n");
    let lines: Vec<&str> = pasted.lines().collect();
    type_into_line(app, &lines.join(" ").replace('\t', " "));
    if lines.len() > 1 && app.notice.is_none() {
        app.say(Tone::Doubt, format!("{} lines were pasted as one", lines.len()));
    }
}

fn still(app: &mut App, act: impl FnOnce(&mut Answer)) -> Effect {
    with_line(app, |p| {
        act(p);
        false
    })
}

fn step(app: &mut App, by: isize) -> Effect {
    match &app.dialog {
        Some(Dialog::Form(form)) if form.lines.get(form.at).is_some_and(|l| l.options.is_empty()) => {
            turn_form(app, by.signum())
        }
        _ => still(app, |p| p.step(by)),
    }
}

fn turn_form(app: &mut App, by: isize) -> Effect {
    if let Some(Dialog::Form(mut form)) = app.dialog.take() {
        form.turn(app, by);
        app.dialog = Some(Dialog::Form(form));
    }
    Effect::None
}

fn turn(app: &mut App, by: isize) -> Effect {
    if let Some(Dialog::Question(Question { replies, chosen, .. })) = &mut app.dialog {
        let len = replies.len().max(1) as isize;
        *chosen = (*chosen as isize + by).rem_euclid(len) as usize;
    }
    Effect::None
}

fn answer(app: &mut App, _: &str) -> Effect {
    match &app.dialog {
        Some(Dialog::Question(question)) => give_reply(app, question.chosen),
        _ => Effect::None,
    }
}

/// Answers the open question with the reply of this index.
pub fn give_reply(app: &mut App, reply: usize) -> Effect {
    match app.dialog.take() {
        Some(Dialog::Question(question)) => {
            question.replies.get(reply).map_or(Effect::None, |reply| (reply.act)(app, &question.about))
        }
        other => {
            app.dialog = other;
            Effect::None
        }
    }
}

/// A press of the mouse: marks what is there, gives the keys to a line, and takes what was marked already.
pub fn press_in_dialog(app: &mut App, spot: Spot) -> Effect {
    match (&mut app.dialog, spot) {
        (Some(Dialog::Question(question)), Spot::Reply(reply)) => {
            if question.chosen == reply {
                return give_reply(app, reply);
            }
            question.chosen = reply;
            Effect::None
        }
        (Some(Dialog::Form(form)), Spot::Line(line)) => {
            let by = line as isize - form.at as isize;
            turn_form(app, by)
        }
        (Some(Dialog::Prompt(Prompt { given, .. })), Spot::Choice(choice)) => {
            if given.chosen == Some(choice) {
                return submit(app, "");
            }
            given.chosen = Some(choice);
            Effect::None
        }
        (Some(Dialog::Form(form)), Spot::Choice(choice)) => {
            if let Some(line) = form.lines.get_mut(form.at) {
                line.chosen = Some(choice);
            }
            Effect::None
        }
        _ => Effect::None,
    }
}

/// The wheel turned: through the choices, or through the page.
pub fn turn_wheel(app: &mut App, by: isize) -> Effect {
    match &app.dialog {
        Some(Dialog::Page(_)) => scroll(app, by, false),
        Some(Dialog::Prompt(_) | Dialog::Form(_)) => still(app, |p| p.step(by)),
        _ => Effect::None,
    }
}

fn scroll(app: &mut App, by: isize, pages: bool) -> Effect {
    let room = screen::room(app);
    if let Some(Dialog::Page(page)) = &mut app.dialog {
        let height = page.height(room);
        let by = if pages { by * height.saturating_sub(1).max(1) as isize } else { by };
        page.top = page.top.saturating_add_signed(by).min(page.lines.len().saturating_sub(height));
    }
    Effect::None
}
