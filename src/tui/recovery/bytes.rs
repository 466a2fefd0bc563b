//! Changes of bytes that another session left: what they lead to, and making them again.

use crate::compare::Differences;
use crate::edit::{self, Done, Edit, Joining, Refused, Turn};
use crate::report::text;
use crate::span::Span;
use crate::store::{self, Step};
use crate::tui::app::App;
use crate::tui::dialog::{Page, Paragraph};
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;

/// Changes of bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changes {
    /// What was done.
    steps: Vec<Step>,
    /// The last one was not written to its end.
    is_torn: bool,
    /// The file is what it was when they were made.
    is_same: bool,
}

impl Changes {
    /// Reads a journal. `None` when nothing in it needs to be decided about: the file holds already what the changes led
    /// to, because the session ended after it was saved and before the journal was forgotten, or they led nowhere.
    pub(super) fn read(sheet: &Sheet, journal: &[u8], is_same: bool) -> Option<Changes> {
        let read = store::read_steps(journal);
        let changes = Changes { steps: read.steps, is_torn: read.torn > 0, is_same };
        let is_over = match is_same {
            true => changes.differing(sheet).0.is_empty(),
            false => changes.is_in(sheet),
        };
        (!is_over).then_some(changes)
    }

    /// Whether the file holds what the changes led to: they can all be taken back from it.
    fn is_in(&self, sheet: &Sheet) -> bool {
        let mut image = sheet.image().clone();
        let mut back = self.steps.iter().rev();
        back.all(|step| edit::apply(&mut image, &step.done.change.inverse()).is_ok())
    }

    /// Where the changes that fit make bytes differ, and how many of them fit.
    fn differing(&self, sheet: &Sheet) -> (Vec<Span>, usize) {
        let mut image = sheet.image().clone();
        let fits = |step: &&Step| edit::apply(&mut image, &step.done.change).is_ok();
        let fit: Vec<&Step> = self.steps.iter().filter(fits).collect();
        let touched = fit.iter().flat_map(|s| &s.done.change.edits).map(Edit::span).collect();
        let mut spans = Differences::within(sheet.image(), &image, touched).changed;
        if image.len() != sheet.image().len() {
            let (short, long) = (image.len().min(sheet.image().len()), image.len().max(sheet.image().len()));
            spans.push(Span::new(short, long));
        }
        (spans, count(fit.into_iter()))
    }

    /// Whether any of the changes can be made on what the file holds now.
    pub(super) fn fits(&self, sheet: &Sheet) -> bool {
        self.differing(sheet).1 > 0
    }

    /// What the question about them tells.
    pub(super) fn remarks(&self, sheet: &Sheet) -> Vec<(Tone, String)> {
        let (spans, fit) = self.differing(sheet);
        let total = spans.iter().map(|s| s.len()).sum();
        let (bytes, differ) = (text::count(total, "byte"), if total == 1 { "differs" } else { "differ" });
        let many = text::count(count(self.steps.iter()), "change");
        let [first, last] =
            [self.steps.first(), self.steps.last()].map(|s| s.map(|s| time(s.at)).unwrap_or_default());
        let when = if first == last { last } else { format!("from {first} to {last}") };
        let mut remarks = vec![(Tone::Plain, format!("{many}, {when}"))];
        if fit > 0 {
            remarks.push((Tone::Plain, format!("{bytes} that {differ}: {}", places(sheet, &spans))));
        }
        remarks.push(if self.is_same {
            (Tone::Good, "The file holds what it held when they were made.".into())
        } else if fit == 0 {
            (Tone::Bad, "The file is another one than when they were made, and none of them fits it.".into())
        } else {
            let told = format!("The file is another one than when they were made; {fit} of {many} fit it.");
            (Tone::Doubt, told)
        });
        if self.is_torn {
            remarks.push((Tone::Doubt, "A last change was not written to its end and is lost.".into()));
        }
        remarks
    }

    /// Each change, for a page.
    pub(super) fn listed(&self, sheet: &Sheet) -> Vec<Paragraph> {
        const MOST: usize = 500;
        let mut lines: Vec<Paragraph> = Vec::new();
        for step in self.steps.iter().take(MOST) {
            let Done { turn, change } = &step.done;
            let back = if *turn == Turn::TakenBack { "taken back: " } else { "" };
            lines.push(Paragraph::new(Tone::Plain, format!("{}  {back}{}", time(step.at), change.label)));
            for edit in &change.edits {
                let at = text::address(sheet.image().address(edit.at));
                let (before, after) = (text::hex_short(&edit.before, 16), text::hex_short(&edit.after, 16));
                lines.push(Paragraph::led(Tone::Quiet, "    ".into(), format!("{at}  {before} -> {after}")));
            }
        }
        if self.steps.len() > MOST {
            lines.push(Paragraph::new(Tone::Quiet, format!("and {} more", self.steps.len() - MOST)));
        }
        lines
    }

    /// Makes them again in the image that is worked on. Returns whether all of them could be made: if not, those that
    /// could not are told on a page, and their note must stay, because nothing else holds them.
    pub(super) fn take_up(&self, app: &mut App) -> bool {
        let (mut refused, mut made) = (Vec::new(), Vec::new());
        for step in &self.steps {
            match app.it_mut().repeat(&step.done) {
                Ok(()) => made.push(step),
                Err(why) => refused.push(format!("{}: {}", step.done.change.label, why.what)),
            }
        }
        app.it_mut().contents.history.close();
        let made = text::count(count(made.into_iter()), "change");
        app.tell(Tone::Good, &format!("Taken up: {made}; {{save}} saves, {{undo}} takes back"));
        if refused.is_empty() {
            return true;
        }
        let why = "These do not fit what the file holds now. They are kept, and asked about the next time.";
        let mut lines = vec![Paragraph::new(Tone::Doubt, why)];
        lines.extend(refused.into_iter().map(|line| Paragraph::new(Tone::Plain, line)));
        app.dialog = Some(Page::open(app, "Not every change could be taken up", lines));
        false
    }
}

/// How many steps of undo changes are.
fn count<'a>(steps: impl Iterator<Item = &'a Step>) -> usize {
    steps.filter(|step| step.done.turn != Turn::Joined).count()
}

fn time(at: i64) -> String {
    let time = jiff::Timestamp::from_second(at).unwrap_or_default().to_string();
    time.replace('T', " ").replace('Z', " UTC")
}

/// The fields, or the addresses, of some bytes.
fn places(sheet: &Sheet, spans: &[Span]) -> String {
    const MOST: usize = 4;
    let mut names: Vec<String> = Vec::new();
    for span in spans.iter().take(64) {
        let leaf = sheet.described.leaves(Span::of(span.start, 1)).first().copied().flatten();
        let field = leaf.and_then(|index| sheet.decoded().fields.get(index));
        let name = field.map_or_else(|| text::address(sheet.image().address(span.start)), |f| f.path.clone());
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let more = names.len().saturating_sub(MOST);
    names.truncate(MOST);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", text::clean(&names.join(", ")))
}

impl Sheet {
    /// Makes again what was done in another session.
    fn repeat(&mut self, done: &Done) -> Result<(), Refused> {
        let edits = &done.change.edits;
        match done.turn {
            Turn::TakenBack
                if self.contents.history.undoable().is_some_and(|c| c.inverse().edits == *edits) =>
            {
                self.undo().map(drop)
            }
            Turn::MadeAgain if self.contents.history.redoable().is_some_and(|c| c.edits == *edits) => {
                self.redo().map(drop)
            }
            Turn::Joined => self.apply(done.change.clone(), Joining::WithLast).map(drop),
            _ => self.apply(done.change.clone(), Joining::Separate).map(drop),
        }
    }
}
