//! What the bytes alone say is in the image, listed; and its regions as fields.

use super::{Command, Where};
use crate::author;
use crate::report::text;
use crate::span::Span;
use crate::survey::{self, Confidence, Drafted, Region, Survey};
use crate::tui::app::{App, Pane};
use crate::tui::dialog::{Ask, Choice, Prompt};
use crate::tui::effect::Effect;
use crate::tui::theme::Tone;

/// Lists what the survey found.
pub(super) const SURVEY: Command = Command {
    name: "survey",
    keys: &["v"],
    place: Where::PANES,
    obstacle: super::annotate::alone,
    hint: "survey",
    doc: "Look for texts, tables, copies and more by the bytes alone, and list what is found",
    act: |app, _| {
        if app.it().survey.is_some() {
            list(app);
            return Effect::None;
        }
        app.say(Tone::Plain, "Looking through the image; the list opens when it is done");
        Effect::Survey
    },
};

/// Begins a layout with everything that the survey found.
pub(super) const DRAFT: Command = Command {
    name: "draft-layout",
    keys: &[],
    place: Where::PANES,
    obstacle: |app| match &app.it().survey {
        _ if app.it().layout.is_some() => Some("A layout is in force; describe single regions with i"),
        None => Some("Nothing is known of the image yet; the command survey (v) comes first"),
        Some(_) => None,
    },
    hint: "",
    doc: "Begin a layout with a field for every region that the survey found",
    act: |app, _| {
        let it = app.it();
        let stem = it.origin.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let draft = it.survey.as_ref().map(|s| survey::draft(&text::clean(&stem), s, &it.image, &[]));
        if let Some(draft) = draft
            && super::annotate::write(app, "drafted a layout from the survey".into(), Ok(draft))
        {
            app.beside = Pane::Fields;
        }
        Effect::None
    },
};

/// Takes what a survey of the image with this index and revision came to.
pub fn surveyed(app: &mut App, index: usize, revision: u64, survey: Survey) {
    let here = app.current() == index;
    let Some(sheet) = app.images_mut().get_mut(index) else { return };
    if sheet.revision != revision {
        app.say(Tone::Doubt, "The image or its layout was changed meanwhile; ask for the survey again");
        return;
    }
    sheet.survey = Some(survey);
    // Nothing is put in front of what the user does by now.
    if here && app.dialog.is_none() {
        list(app);
    }
}

fn list(app: &mut App) {
    app.dialog = Some(Prompt::open(app, &REGIONS, "", ""));
}

/// The regions, round from the one behind the cursor, so that Enter alone goes from each to the next.
fn regions(app: &App) -> impl Iterator<Item = &Region> {
    let here = app.it().selection().start;
    let all = app.it().survey.as_ref().map_or(&[][..], |s| &s.regions);
    let next = all.iter().position(|r| r.at.start > here).unwrap_or(0);
    let (before, behind) = all.split_at(next);
    behind.iter().chain(before)
}

/// A region as it is listed, and found again.
fn title(app: &App, region: &Region) -> String {
    format!("{} {}", text::address(app.it().image.address(region.at.start)), region.kind.word())
}

/// A region of the survey.
static REGIONS: Ask = Ask {
    title: "Survey",
    remarks: |app, prompt| {
        let found = text::count(regions(app).count(), "region");
        let mut remarks = vec![(Tone::Quiet, format!("{found}; Enter goes there, then i describes it"))];
        let marked = match prompt.answer() {
            "" => prompt.given.options.first().map_or("", |o| &o.text),
            answer => answer,
        };
        if let Some(region) = regions(app).find(|r| title(app, r) == marked) {
            remarks.push((Tone::Plain, text::sentence(&region.evidence)));
        }
        remarks
    },
    options: |app, typed| {
        let open = &app.it().undescribed;
        let is_described = |r: &Region| app.it().layout.is_some() && !open.iter().any(|o| o.overlaps(r.at));
        let wanted = typed.trim().to_lowercase();
        let all = regions(app).map(|r| Choice {
            text: title(app, r),
            detail: r.evidence.clone(),
            aside: if is_described(r) { "described" } else { r.confidence().word() }.into(),
            possible: r.confidence() > Confidence::Weak,
        });
        all.filter(|c| {
            wanted.is_empty() || format!("{} {}", c.text, c.detail).to_lowercase().contains(&wanted)
        })
        .collect()
    },
    submit: |app, prompt| {
        let typed = prompt.answer().to_owned();
        let first = prompt.given.options.first().map(|c| c.text.clone()).unwrap_or_default();
        let wanted = [typed, first];
        let found = app.it().survey.as_ref().and_then(|s| {
            let of = |wanted: &String| s.regions.iter().find(|r| title(app, r) == *wanted);
            let region = wanted.iter().find_map(of)?;
            let at = survey::drafted(region, s, &app.it().image).map_or(region.at, |d| d.at);
            Some((at, region.evidence.clone()))
        });
        match found {
            Some((at, evidence)) => {
                app.it_mut().select(at);
                app.give_keys(Pane::Bytes);
                app.say(Tone::Plain, text::sentence(&evidence));
            }
            None => app.say(Tone::Doubt, "There is no such region"),
        }
        Effect::None
    },
};

/// The region of the survey whose field would lie over exactly these bytes.
fn region(app: &App, span: Span) -> Option<(&Region, Drafted)> {
    let it = app.it();
    let survey = it.survey.as_ref()?;
    let drafted = |r| Some((r, survey::drafted(r, survey, &it.image)?));
    survey.regions.iter().filter_map(drafted).find(|(_, d)| d.at == span)
}

/// The field that the survey makes of exactly these bytes.
pub(super) fn drafted(app: &App, span: Span) -> Option<Drafted> {
    region(app, span).map(|(_, d)| d).filter(|d| author::kind_problem(&d.kind).is_none())
}

/// What speaks for that field.
pub(super) fn evidence(app: &App, span: Span) -> Option<String> {
    region(app, span).map(|(r, _)| r.evidence.clone())
}

/// A kind that is written in several lines, in one.
pub(super) fn in_one_line(kind: &str) -> String {
    kind.split_whitespace().collect::<Vec<_>>().join(" ")
}
