//! The layout as a whole: what it is called, where it comes from, by what an image is known.

use super::{NO_ORDER, orders, write};
use crate::author::{self, head};
use crate::report::text;
use crate::span::ByteOrder;
use crate::tui::app::App;
use crate::tui::dialog::{Form, FormKind};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

const TITLE: usize = 0;
const SOURCE: usize = 1;
const ORDER: usize = 2;
const NOTE: usize = 3;

/// Asks about the whole.
pub(super) fn ask(app: &mut App) -> Effect {
    let said = head(&app.it().layout_text());
    let texts = [said.title.as_str(), &said.source, &said.order, &said.note];
    app.dialog = Some(Form::open(app, &HEAD, "", &texts));
    Effect::None
}

/// Lets the selected bytes be a mark.
pub(super) fn mark(app: &mut App) -> Effect {
    let (it, span) = (app.it(), app.it().selection());
    let bytes = span.of_bytes(it.image().bytes()).unwrap_or_default();
    let new = author::mark(&it.layout_text(), span, bytes, it.image().len());
    let label = format!("made {} a mark of the layout", text::place(span, it.image().base()));
    write(app, &label, new);
    Effect::None
}

/// Title, source, byte order and a remark.
static HEAD: FormKind = FormKind {
    title: |_, _| "The layout as a whole".into(),
    labels: &["title", "source", "order", "note"],
    beside: |_, form, line| match (line, form.answer(line)) {
        (TITLE, "") => Some((Tone::Bad, "type what the memory is called".into())),
        (SOURCE, "") => {
            Some((Tone::Bad, "type where this is known from: a standard, papers, measuring".into()))
        }
        (ORDER, typed) => Some(match ByteOrder::of_word(typed) {
            Some(ByteOrder::Big) => (Tone::Quiet, "0x1234 is stored as 12 34".into()),
            Some(ByteOrder::Little) => (Tone::Quiet, "0x1234 is stored as 34 12".into()),
            None => (Tone::Bad, NO_ORDER.into()),
        }),
        _ => None,
    },
    remarks: |app, _| {
        let marks = head(&app.it().layout_text()).marks;
        let told = match marks {
            0 => "No marks: the layout is used only when it is named; select bytes, then {mark-layout}"
                .to_owned(),
            n => format!("Images are known by {}", text::count(n, "mark")),
        };
        vec![(if marks == 0 { Tone::Doubt } else { Tone::Quiet }, app.keys.fill(&told))]
    },
    options: |_, _, at| match at {
        ORDER => orders(),
        _ => Vec::new(),
    },
    preview: |_, _| Vec::new(),
    submit: change,
};

fn change(app: &mut App, form: &Form) -> bool {
    let before = app.it().layout_text();
    let said = head(&before);
    let order = ByteOrder::of_word(form.answer(ORDER));
    if form.answer(TITLE).is_empty() || form.answer(SOURCE).is_empty() || order.is_none() {
        return false;
    }
    let quoted =
        |line: usize| Some(format!("{:?}", form.answer(line))).filter(|_| !form.answer(line).is_empty());
    let answers = [
        ("layout", said.title.as_str(), TITLE, quoted(TITLE)),
        ("source", &said.source, SOURCE, quoted(SOURCE)),
        ("order", &said.order, ORDER, Some(form.answer(ORDER).to_owned())),
        ("note", &said.note, NOTE, quoted(NOTE)),
    ];
    let (mut changed, mut new) = (Vec::new(), Ok(before.clone()));
    for (entry, was, line, value) in answers {
        if was.trim() != form.answer(line) {
            changed.push(if entry == "layout" { "title" } else { entry });
            new = new.and_then(|text| author::set_head(&text, entry, value.as_deref()));
        }
    }
    if changed.is_empty() && app.it().layout().is_some() {
        app.say(Tone::Plain, "The layout says this already");
        return true;
    }
    let what = if changed.is_empty() {
        "began a layout".to_owned()
    } else {
        format!("changed the {} of the layout", text::list(&changed))
    };
    write(app, &what, new)
}
