//! What the bytes alone say is in the image, listed; and its regions as fields.

use super::{Command, Where};
use crate::author;
use crate::hunt::{self, Hit};
use crate::report::text;
use crate::span::Span;
use crate::survey::{self, Confidence, Drafted, Region};
use crate::tui::annotate::Known;
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
    doc: "Look for texts, tables, checks and more by the bytes alone, and list what is found",
    takes: "",
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
    doc: "Begin a layout with every region and check that the survey found",
    takes: "",
    act: |app, _| {
        let it = app.it();
        let stem = it.origin.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        let draft = it
            .survey
            .as_ref()
            .map(|known| survey::draft(&text::clean(&stem), &known.survey, &it.image, &known.checks));
        if let Some(draft) = draft
            && super::annotate::write(app, "drafted a layout from the survey".into(), Ok(draft))
        {
            app.beside = Pane::Fields;
        }
        Effect::None
    },
};

/// Takes what a survey of the image with this index and revision came to.
pub fn surveyed(app: &mut App, index: usize, revision: u64, survey: Known) {
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
    let all = app.it().survey.as_ref().map_or(&[][..], |s| &s.survey.regions);
    let next = all.iter().position(|r| r.at.start > here).unwrap_or(0);
    let (before, behind) = all.split_at(next);
    behind.iter().chain(before)
}

/// A region as it is listed, and found again.
fn title(app: &App, region: &Region) -> String {
    format!("{} {}", text::address(app.it().image.address(region.at.start)), region.kind.word())
}

/// The checks that hold.
fn hits(app: &App) -> &[Hit] {
    app.it().survey.as_ref().map_or(&[], |s| &s.checks)
}

/// A check as it is listed, and found again.
fn check_title(app: &App, hit: &Hit) -> String {
    format!("{} {}", text::address(app.it().image.address(hit.way.stored_at.start)), hit.way.by.name)
}

/// What a check covers, and how often chance gives one.
fn told(app: &App, hit: &Hit) -> String {
    let over = text::place(hit.way.over, app.it().image.base());
    format!("{} over {over}; chance gives {:.0e} of these", hit.way.by.name, hit.expected)
}

/// Whether the layout has a check that is stored here.
fn is_placed(app: &App, stored_at: Span) -> bool {
    let mut checks = app.it().decoded.checks.iter().filter_map(|c| c.placed.as_ref());
    checks.any(|p| p.stored_at == stored_at)
}

/// Adds the check that was found to be stored in exactly these bytes to the layout; `None` when there is none, or the
/// layout has one there.
pub(super) fn add_check(app: &mut App, span: Span) -> Option<Effect> {
    let hit = hits(app).iter().find(|h| h.way.stored_at == span).cloned()?;
    if is_placed(app, span) {
        return None;
    }
    let added = hunt::entry::add(&app.it().layout_text(), &[&hit.way]);
    let name = added.as_ref().map(|a| a.names.join(", ")).unwrap_or_default();
    let new = added.map(|a| a.text).map_err(author::Refused::Problems);
    if super::annotate::write(app, format!("added {name}: {}", told(app, &hit)), new) {
        app.give_keys(Pane::Checks);
    }
    Some(Effect::None)
}

/// A region of the survey.
static REGIONS: Ask = Ask {
    title: "Survey",
    remarks: |app, prompt| {
        let found = text::count(regions(app).count(), "region");
        let found = format!("{found}, {}", text::count(hits(app).len(), "check"));
        let mut remarks = vec![(Tone::Quiet, format!("{found}; Enter goes there, then i describes it"))];
        let marked = match prompt.answer() {
            "" => prompt.given.options.first().map_or("", |o| &o.text),
            answer => answer,
        };
        if let Some(region) = regions(app).find(|r| title(app, r) == marked) {
            remarks.push((Tone::Plain, text::sentence(&region.evidence)));
        }
        if let Some(hit) = hits(app).iter().find(|h| check_title(app, h) == marked) {
            remarks.push((Tone::Plain, told(app, hit)));
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
        let is_known = |h: &Hit| is_placed(app, h.way.stored_at);
        let checks = hits(app).iter().map(|h| Choice {
            text: check_title(app, h),
            detail: told(app, h),
            aside: if is_known(h) { "described" } else { "check" }.into(),
            possible: true,
        });
        all.chain(checks)
            .filter(|c| {
                wanted.is_empty() || format!("{} {}", c.text, c.detail).to_lowercase().contains(&wanted)
            })
            .collect()
    },
    submit: |app, prompt| {
        let typed = prompt.answer().to_owned();
        let first = prompt.given.options.first().map(|c| c.text.clone()).unwrap_or_default();
        let place = |wanted: &String| {
            let known = app.it().survey.as_ref()?;
            if let Some(hit) = hits(app).iter().find(|h| check_title(app, h) == *wanted) {
                return Some((hit.way.stored_at, told(app, hit)));
            }
            let region = regions(app).find(|r| title(app, r) == *wanted)?;
            let at = survey::drafted(region, &known.survey, &app.it().image).map_or(region.at, |d| d.at);
            Some((at, region.evidence.clone()))
        };
        let found = [typed, first].iter().find_map(place);
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
    let survey = &it.survey.as_ref()?.survey;
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
