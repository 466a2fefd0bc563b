//! A check that was found, looked over before it becomes one of the layout.

use super::{NO_ORDER, orders, write};
use crate::author;
use crate::check::{self, Seal};
use crate::hunt::{Hit, Way};
use crate::report::text;
use crate::span::{ByteOrder, Span};
use crate::tui::app::App;
use crate::tui::dialog::{Choice, Form, FormKind};
use crate::tui::effect::Effect;
use crate::tui::proposals::Makes;
use crate::tui::theme::Tone;

const NAME: usize = 0;
const BY: usize = 1;
const FROM: usize = 2;
const TO: usize = 3;
const STORED: usize = 4;
const ORDER: usize = 5;

/// Asks about a check before it is accepted.
pub(in crate::tui::command) fn ask(app: &mut App, hit: &Hit) -> Effect {
    let address = |at: usize| text::address(app.it().image().address(at));
    let Way { by, over, stored_at, order, .. } = &hit.way;
    let texts = [
        format!("check_{:04x}", stored_at.start),
        by.name.to_string(),
        address(over.start),
        address(over.end),
        address(stored_at.start),
        order.word().to_owned(),
    ];
    let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
    app.it_mut().select(*stored_at);
    app.dialog = Some(Form::open(app, &CHECK, "", &texts));
    Effect::None
}

/// The check that a form is about.
fn hit(app: &App) -> Option<&Hit> {
    match &app.it().proposals.chosen()?.0.makes {
        Makes::Check(hit) => Some(hit),
        _ => None,
    }
}

/// An address of the image as an offset.
fn offset(app: &App, typed: &str) -> Result<usize, String> {
    let digits = typed.trim().trim_start_matches("0x").trim_start_matches("0X");
    let number = u64::from_str_radix(digits, 16).ok();
    let offset =
        number.and_then(|n| n.checked_sub(app.it().image().base())).and_then(|n| usize::try_from(n).ok());
    offset
        .filter(|n| *n <= app.it().image().len())
        .ok_or_else(|| format!("{typed:?} is no address in this image"))
}

/// The check as the form says it; or the line that is wrong, and why.
fn asked(app: &App, form: &Form) -> Result<Way, (usize, String)> {
    let found = hit(app).ok_or((NAME, "the check is not there any more".to_owned()))?;
    let named = form.answer(BY);
    let by = if named == found.way.by.name {
        found.way.by.clone()
    } else {
        check::by_name(named).map_err(|_| (BY, "no check of this name is known".to_owned()))?
    };
    let at = |line: usize| offset(app, form.answer(line)).map_err(|why| (line, why));
    let (from, to, stored) = (at(FROM)?, at(TO)?, at(STORED)?);
    if from >= to {
        return Err((TO, "it ends before it begins".to_owned()));
    }
    let order = ByteOrder::of_word(form.answer(ORDER)).ok_or((ORDER, NO_ORDER.to_owned()))?;
    let stored_at = Span::of(stored, found.way.stored_at.len());
    Ok(Way { by, over: Span::new(from, to), stored_at, order, stored_bytes: found.way.stored_bytes })
}

/// A found check before it is accepted.
static CHECK: FormKind = FormKind {
    title: |_, _| "Add the check".into(),
    labels: &["name", "by", "from", "up to", "stored at", "order"],
    beside: |app, form, line| match (asked(app, form), line) {
        (Err((wrong, why)), line) if wrong == line => Some((Tone::Bad, why)),
        (_, NAME) if form.answer(NAME).is_empty() => Some((Tone::Bad, "type a name".into())),
        (_, TO) => Some((Tone::Quiet, "the first byte that is not covered any more".into())),
        _ => None,
    },
    remarks: |app, form| {
        let Ok(way) = asked(app, form) else { return Vec::new() };
        // Every open image of the kind is evidence for or against it.
        let images: Vec<_> = app.sharing().into_iter().filter_map(|i| app.images().get(i)).collect();
        let sealed =
            images.iter().filter(|s| check::verify(&way.placed(), s.image()).seal == Seal::Sealed).count();
        vec![match (sealed, images.len()) {
            (1, 1) => (Tone::Good, "It agrees in this image".into()),
            (0, 1) => (Tone::Bad, "It does not agree in this image".into()),
            (n, all) if n == all => (Tone::Good, format!("It agrees in all {all} images")),
            (n, all) => (Tone::Bad, format!("It agrees in {n} of {all} images")),
        }]
    },
    options: |app, form, at| {
        match (at, form.lines.get(at)) {
            (ORDER, _) => orders(),
            // The other ways to see the same check.
            (BY, Some(line)) if line.line.is_offer() => hit(app)
                .map(|hit| {
                    let ways = std::iter::once(&hit.way).chain(&hit.also);
                    let mut names: Vec<&str> = ways.map(|w| w.by.name.as_ref()).collect();
                    names.dedup();
                    names.into_iter().map(|name| Choice::new(name, "")).collect()
                })
                .unwrap_or_default(),
            _ => Vec::new(),
        }
    },
    preview: |app, _| {
        let told = |hit: &Hit| {
            let reach = format!("chance gives {:.0e} of these", hit.expected);
            let base = app.it().image().base();
            let others = hit
                .also
                .iter()
                .map(|w| (Tone::Quiet, format!("or {} over {}", w.by.name, text::place(w.over, base))));
            std::iter::once((Tone::Quiet, reach)).chain(others).collect()
        };
        hit(app).map(told).unwrap_or_default()
    },
    submit: |app, form| match asked(app, form) {
        Ok(way) if !form.answer(NAME).is_empty() => add(app, &way, Some(form.answer(NAME))),
        _ => false,
    },
};

/// Adds a check to the layout; returns whether it was.
pub(in crate::tui::command) fn add(app: &mut App, way: &Way, name: Option<&str>) -> bool {
    let over = text::place(way.over, app.it().image().base());
    let added = author::add_check(&app.it().layout_text(), way, name);
    let label =
        format!("added {}: {} over {over}", added.as_ref().map_or("a check", |(_, n)| n), way.by.name);
    write(app, &label, added.map(|(text, _)| text))
}
