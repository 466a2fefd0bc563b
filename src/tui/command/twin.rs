//! The Twin view: side by side, from difference to difference, one side's bytes to the other.

use super::{Command, USUAL, Where};
use crate::check::Seal;
use crate::compare::Differences;
use crate::compare::amend::{self, Instruction, Selection};
use crate::edit::Change;
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::dialog::{Ask, Choice, Prompt};
use crate::tui::effect::Effect;
use crate::tui::panes::Pane;
use crate::tui::theme::Tone;
use crate::tui::twin::{MOST_ALIGNED, Twin};
use crate::tui::typing;

/// The rows of this group.
pub(super) const ROWS: &[Command] = &[
    Command {
        name: "twin",
        keys: &["t"],
        obstacle: |app| match app.images() {
            _ if app.twin.is_some() => None,
            [_] => Some("Only one image is open; name two on the command line"),
            _ => None,
        },
        hint: "side by side",
        doc: "Show this image and the next one side by side, or one alone again",
        act: |app, _| {
            if app.twin.take().is_some() {
                return Effect::None;
            }
            if app.images().len() == 2 {
                open(app, 1 - app.current());
            } else {
                app.dialog = Some(Prompt::open(app, &BESIDE, ""));
            }
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "other-side",
        keys: &["o"],
        obstacle: in_twin,
        hint: "other side",
        doc: "Give the keys to the other image of the Twin view",
        act: |app, _| {
            if let Some(other) = other(app) {
                app.turn_to(other);
            }
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "only-differences",
        keys: &["n"],
        obstacle: in_twin,
        hint: "only differing",
        doc: "Show only the rows that differ, or all",
        act: |app, _| {
            if let Some(twin) = &mut app.twin {
                twin.only_differing = !twin.only_differing;
                twin.top = 0;
            }
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "line-up",
        keys: &["l"],
        obstacle: |app| {
            let vast = app.twin.as_ref().is_some_and(|t| is_too_large_to_align(app, [t.left, t.right]));
            in_twin(app)
                .or_else(|| vast.then_some("Images over 4 MiB are shown by address; they are not lined up"))
        },
        hint: "line up",
        doc: "Put contents that moved beside each other, or equal addresses",
        act: |app, _| {
            if let Some(twin) = &mut app.twin {
                twin.is_aligned = !twin.is_aligned;
                twin.top = 0;
                let said = if twin.is_aligned {
                    "Contents that moved stand beside each other"
                } else {
                    "Equal addresses stand beside each other"
                };
                app.say(Tone::Plain, said);
            }
            Effect::None
        },
        ..USUAL
    },
    Command {
        name: "copy-across",
        keys: &["Ctrl-X"],
        place: Where::BYTES.and(Where::FIELDS),
        obstacle: |app| {
            in_twin(app).or_else(|| {
                let locked = other(app).and_then(|i| app.images().get(i)).is_none_or(|i| i.locked);
                locked.then_some(
                    "The other image is LOCKED: give it the keys with {other-side}, and unlock it with {unlock}",
                )
            })
        },
        hint: "copy across",
        doc: "Copy the selection, the difference under the cursor or the chosen field to the other image",
        act: |app, _| {
            copy_across(app);
            Effect::None
        },
        ..USUAL
    },
];

fn in_twin(app: &App) -> Option<&'static str> {
    app.twin.is_none().then_some("Only in the Twin view, which {twin} opens when two images are open")
}

/// The image of the Twin view that is not worked on.
fn other(app: &App) -> Option<usize> {
    let twin = app.twin.as_ref()?;
    Some(if app.current() == twin.left { twin.right } else { twin.left })
}

fn is_too_large_to_align(app: &App, sides: [usize; 2]) -> bool {
    sides.iter().filter_map(|i| app.images().get(*i)).any(|i| i.image().len() > MOST_ALIGNED)
}

fn open(app: &mut App, beside: usize) {
    let here = app.current();
    let (left, right) = (here.min(beside), here.max(beside));
    let base = |i: usize| app.images().get(i).map(|s| s.image().base());
    let mut twin = Twin::new(left, right);
    twin.is_aligned = base(left) != base(right) && !is_too_large_to_align(app, [left, right]);
    app.twin = Some(twin);
    app.panes.give_keys(Pane::Bytes);
    app.panes.show(Pane::Fields);
}

/// Which of several images stands beside.
static BESIDE: Ask = Ask {
    title: "Beside this image",
    remarks: |_, _| vec![(Tone::Quiet, "the number of an open image".into())],
    options: |app, _| {
        let others = app.images().iter().enumerate().filter(|(i, _)| *i != app.current());
        others.map(|(i, sheet)| Choice::new((i + 1).to_string(), sheet.file.name())).collect()
    },
    submit: |app, prompt| {
        let typed = prompt.answer().trim();
        let number =
            typed.parse::<usize>().ok().or(prompt.given.options.first().and_then(|o| o.text.parse().ok()));
        let other = number.and_then(|n| n.checked_sub(1));
        open(app, other.filter(|i| *i < app.images().len() && *i != app.current())?);
        Some(Effect::None)
    },
};

/// Goes to the next or previous difference, round and round.
pub(super) fn difference(app: &mut App, by: isize) -> Effect {
    let Some(twin) = &app.twin else { return Effect::None };
    let (side, at) = (twin.side_of(app.current()), app.it().cursor.at);
    // A place that only the other image has is gone to over there.
    let places = twin.compared.stops.iter().filter_map(|stop| {
        let (here, there) = (stop.get(side).copied().flatten(), stop.get(1 - side).copied().flatten());
        here.map(|s| (s, true)).or_else(|| there.map(|s| (s, false)))
    });
    let places: Vec<(Span, bool)> = places.collect();
    let count = places.len();
    let next = if by > 0 {
        places.iter().position(|(s, _)| s.start > at).unwrap_or(0)
    } else {
        places.iter().rposition(|(s, _)| s.start < at && !s.contains(at)).unwrap_or(count.saturating_sub(1))
    };
    if let (true, Some(progress)) = (twin.is_new(), &twin.going_on) {
        let percent = progress.percent();
        app.say(Tone::Plain, format!("The images are being compared: {percent} %"));
        return Effect::None;
    }
    let Some(&(place, is_here)) = places.get(next) else {
        app.say(Tone::Good, "The two images are the same");
        return Effect::None;
    };
    if !is_here && let Some(other) = other(app) {
        app.turn_to(other);
    }
    app.it_mut().select(place);
    app.say(Tone::Plain, format!("Difference {} of {count}", next + 1));
    Effect::None
}

/// Puts both cursors on the chosen field that differs.
pub(super) fn go_to_field(app: &mut App) {
    let Some(twin) = &app.twin else { return };
    let change = twin.compared.comparison.fields.get(twin.fields.at);
    let place = change.and_then(|c| c.field()).map(crate::layout::Field::cover);
    if let Some(place) = place.filter(|p| !p.is_empty()) {
        app.it_mut().go(place.start);
    }
}

fn copy_across(app: &mut App) {
    let (Some(to), Some(twin)) = (other(app), &app.twin) else { return };
    let change = if app.panes.focus() == Pane::Fields {
        let path = twin.compared.comparison.fields.get(twin.fields.at).map(|c| c.path.clone());
        path.ok_or_else(|| "No field is chosen".to_owned()).and_then(|path| field_across(app, to, &path))
    } else {
        bytes_across(app, twin, to).map(|change| (change, None))
    };
    match change {
        Ok((change, doubt)) => {
            // Made as a change of the other image, which then has the keys, so that Ctrl-Z takes it back.
            app.turn_to(to);
            typing::make(app, change, "The other image holds the same already");
            let checks = &app.it().decoded().checks;
            let broken: Vec<String> =
                checks.iter().filter(|c| c.seal == Seal::Broken).map(|c| c.name.clone()).collect();
            if let (false, Some(notice)) = (broken.is_empty(), app.notice.clone()) {
                let text = format!(
                    "{} Broken there: {}; {} reseals",
                    notice.text,
                    text::list(&broken),
                    app.keys.fill("{reseal-all}")
                );
                app.say(Tone::Doubt, text);
            }
            if let (Some(doubt), Some(notice)) = (doubt, app.notice.clone()) {
                app.say(Tone::Doubt, format!("{} {}", text::sentence(&doubt), notice.text));
            }
        }
        Err(why) => app.say(Tone::Bad, why),
    }
}

/// The change, and what speaks against the image that it comes from.
fn field_across(app: &App, to: usize, path: &str) -> Result<(Change, Option<String>), String> {
    let (from, target) = (app.it().image(), app.images().get(to).ok_or("no other image")?);
    let layout = app.it().layout().or(target.layout()).ok_or("No layout is in force")?;
    let copy = Instruction::Copy(Selection::Path(path.to_owned()), from);
    let amended = amend::amend(Some(&layout.layout), target.image(), &[copy])
        .map_err(|refusal| format!("{}; {}", refusal.what, refusal.advice))?;
    let differences = Differences::between(target.image(), &amended.image);
    let change = differences.change(target.image(), &amended.image, format!("copied {path} across"));
    Ok((change, amended.findings.first().map(|finding| finding.seen.clone())))
}

fn bytes_across(app: &App, twin: &Twin, to: usize) -> Result<Change, String> {
    let (it, side) = (app.it(), twin.side_of(app.current()));
    let place = if it.cursor.anchor.is_some() {
        it.selection()
    } else {
        let stop = twin.stop_at(side, it.cursor.at).ok_or("Nothing differs under the cursor")?;
        match (stop.get(side).copied().flatten(), stop.get(1 - side).copied().flatten()) {
            (Some(here), Some(there)) if here.len() == there.len() => here,
            _ => {
                return Err(
                    "These bytes have no place in the other image, and images do not grow inside".into()
                );
            }
        }
    };
    let at = twin.beside(side, place.start).ok_or("These bytes have no place in the other image")?;
    let last = twin.beside(side, place.end.saturating_sub(1));
    if last != Some(at + place.len().saturating_sub(1)) {
        return Err("Beside these bytes the other image has another number of them".into());
    }
    let bytes = it.image().get(place).ok_or("A part of these bytes is not mapped")?;
    let target = app.images().get(to).ok_or("no other image")?;
    let label = format!("copied {} across", text::place(place, it.image().base()));
    Change::overwrite(target.image(), label, at, bytes.to_vec()).map_err(|refused| refused.what)
}
