//! A field split, taken out, stretched, moved.

use super::{base, field, write};
use crate::author;
use crate::report::text;
use crate::span::Span;
use crate::tui::app::App;
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

pub(super) fn split(app: &mut App) -> Effect {
    let it = app.it();
    let at = it.cursor.at;
    let found = it.decoded().leaf_at(at).and_then(|f| Some((f.path.clone(), f.spans.first().copied()?)));
    let Some((path, span)) = found else {
        app.say(Tone::Doubt, "No field is under the cursor");
        return Effect::None;
    };
    if at <= span.start || at >= span.end {
        app.say(Tone::Doubt, "Put the cursor on the byte of the field with which the second one begins");
        return Effect::None;
    }
    let new = author::split(&it.layout_text(), &path, at - span.start, span.len());
    let at_words = text::address(it.image().address(at));
    write(app, &format!("split {path} at {at_words}"), new);
    Effect::None
}

/// The chosen field as the text of the layout knows it.
fn chosen(app: &mut App) -> Option<(String, Span)> {
    let it = app.it();
    let found =
        it.described.chosen_field().and_then(|f| Some((base(&f.path).to_owned(), f.spans.first().copied()?)));
    if found.is_none() {
        app.say(Tone::Doubt, "No field with bytes of its own is chosen");
    }
    found
}

pub(super) fn remove(app: &mut App) -> Effect {
    let Some((path, _)) = chosen(app) else { return Effect::None };
    let new = author::remove(&app.it().layout_text(), &path);
    write(app, &format!("took {path} out of the layout"), new);
    Effect::None
}

pub(super) fn stretch(app: &mut App, by: isize) -> Effect {
    let Some((path, span)) = chosen(app) else { return Effect::None };
    let bytes = span.len().saturating_add_signed(by);
    let new = author::stretch(&app.it().layout_text(), &path, bytes);
    if write(app, &format!("made {path} {} long", text::count(bytes, "byte")), new) {
        app.it_mut().described.choose_field(&path);
    }
    Effect::None
}

pub(super) fn shift(app: &mut App, by: isize) -> Effect {
    let Some((path, span)) = chosen(app) else { return Effect::None };
    let parent = field(app, &path).and_then(|f| app.it().decoded().fields.get(f.parent?));
    let start = parent.and_then(|p| p.spans.first()).map_or(0, |s| s.start);
    let new = author::move_by(&app.it().layout_text(), &path, by, span.start.saturating_sub(start));
    let to = app.it().image().address(span.start.saturating_add_signed(by));
    if write(app, &format!("moved {path} to {}", text::address(to)), new) {
        app.it_mut().described.choose_field(&path);
        if let Some(at) = field(app, &path).and_then(|f| f.spans.first()).map(|s| s.start) {
            app.it_mut().go(at);
            app.it_mut().described.choose_field(&path);
        }
    }
    Effect::None
}
