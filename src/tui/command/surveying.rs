//! The survey of an image and the hunt for its checks: asked for, watched, called off, taken.

use super::{Command, USUAL, annotate, proposals};
use crate::image::Image;
use crate::report::text;
use crate::survey::{self, Course};
use crate::tui::app::App;
use crate::tui::dialog::{About, Dialog, Question, Reply};
use crate::tui::effect::Effect;
use crate::tui::job::{self, Task, Watch};
use crate::tui::panes::Pane;
use crate::tui::proposals::{Known, MOST_HUNTED, State};
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;

/// Lists what the survey found.
pub(super) const SURVEY: Command = Command {
    name: "survey",
    keys: &["v"],
    obstacle: annotate::alone,
    hint: "survey",
    doc: "Look for texts, tables, checks and more by the bytes alone, and list what is proposed",
    act: |app, _| {
        if app.it().proposals.known().is_some() && app.panes.focus() != Pane::Proposed {
            proposals::list(app);
            return Effect::None;
        }
        if let Some(job) = app.jobs.now() {
            let told = format!("Now {}, {} %; {{leave}} stops it", job.word, job.pace.percent());
            app.tell(Tone::Plain, &told);
            return Effect::None;
        }
        ask(app)
    },
    ..USUAL
};

/// Begins a layout with everything that the survey found.
pub(super) const DRAFT: Command = Command {
    name: "draft-layout",
    obstacle: |app| match app.it().proposals.known() {
        _ if app.it().layout().is_some() => {
            Some("A layout is in force; {accept-sure} in the list of {survey} adds what is sure")
        }
        None => Some("Nothing is known of the image yet; {survey} comes first"),
        Some(_) => None,
    },
    doc: "Begin a layout with every region and check that the survey found",
    act: |app, _| {
        let it = app.it();
        let known = it.proposals.known();
        let draft =
            known.map(|known| survey::draft(&it.file.stem(), &known.survey, it.image(), &known.checks));
        if let Some(draft) = draft
            && annotate::write(app, "drafted a layout from the survey", Ok(draft))
        {
            app.panes.show(Pane::Fields);
        }
        Effect::None
    },
    ..USUAL
};

/// Open images that are as large as this one, this one first.
fn alike(app: &App) -> Vec<usize> {
    let (here, len) = (app.current(), app.it().image().len());
    let others = app.images().iter().enumerate().filter(|(i, s)| *i != here && s.image().len() == len);
    std::iter::once(here).chain(others.map(|(i, _)| i)).collect()
}

/// Asks which images to look at, where there are several of one size.
fn ask(app: &mut App) -> Effect {
    let alike = alike(app).len();
    if alike == 1 {
        return begin(app, false, Course::Units);
    }
    app.dialog = Some(Dialog::Question(Question {
        title: format!("{alike} images of this size are open"),
        about: About::default(),
        remarks: vec![(
            Tone::Plain,
            "Together they tell more: which bytes are the unit's own, and checks that hold in all of them are no \
             chance."
                .into(),
        )],
        replies: if alike.is_multiple_of(2) { WHICH } else { WHICH.get(1..).unwrap_or(WHICH) },
        chosen: usize::from(alike.is_multiple_of(2)),
    }));
    Effect::None
}

/// The first is for an even number of images.
const WHICH: &[Reply] = &[
    Reply { key: 'p', word: "Pairs before/after", act: |app, _| begin(app, true, Course::Pairs) },
    Reply { key: 'u', word: "Units", act: |app, _| begin(app, true, Course::Units) },
    Reply { key: 't', word: "one unit in Time", act: |app, _| begin(app, true, Course::Time) },
    Reply { key: 'o', word: "Only this one", act: |app, _| begin(app, false, Course::Units) },
];

fn begin(app: &mut App, all: bool, course: Course) -> Effect {
    let mut images = alike(app);
    match course {
        _ if !all => images.truncate(1),
        // As they were named, which is in the order of time.
        Course::Time | Course::Pairs => images.sort_unstable(),
        Course::Units => {}
    }
    let sheets: Vec<&Sheet> = images.iter().filter_map(|i| app.images().get(*i)).collect();
    let writes = sheets.first().map_or(0, |s| s.contents.writes());
    let surveyed: Vec<Image> = sheets.iter().map(|s| s.image().clone()).collect();
    let survey = move |watch: &Watch<'_>| {
        let note = |done: f64| _ = watch.note(done);
        Known::of(&surveyed.iter().collect::<Vec<_>>(), course, &note, watch.stopped())
    };
    let finish = move |app: &mut App, known| {
        finish(app, &images, writes, known);
        Effect::None
    };
    job::begin(app, Task::new("surveying", survey, finish))
}

/// Takes what a survey of these images came to; `writes` counted the changes of the first when it began.
fn finish(app: &mut App, images: &[usize], writes: u64, known: Known) {
    let Some(&index) = images.first() else { return };
    let here = app.current() == index;
    let images = images.len();
    let Some(sheet) = app.images_mut().get_mut(index) else { return };
    if sheet.contents.writes() != writes {
        app.tell(Tone::Doubt, "Bytes were changed meanwhile; {survey} looks again");
        return;
    }
    sheet.proposals.take(known, sheet.contents.image(), &sheet.described);
    let (open, name) = (sheet.proposals.count(State::Open), sheet.file.name());
    let of = if images > 1 { format!(" by {images} images") } else { String::new() };
    let left = match sheet.image().len() > MOST_HUNTED {
        true => format!("; over {} KiB checks are left to readproof hunt", MOST_HUNTED >> 10),
        false => String::new(),
    };
    // Nothing is put in front of what the user does by now.
    if here && app.dialog.is_none() {
        proposals::list(app);
        app.say(Tone::Good, format!("{} proposed{of}{left}", text::count(open, "thing")));
    } else {
        let lists = app.keys.fill("{survey} lists what is proposed");
        app.say(Tone::Good, format!("{name}: surveyed; {lists}{of}{left}"));
    }
}
