//! A page to read, set for the terminal; one that is searched by typing shows what holds the words.

use ratatui::layout::Rect;

use super::answer::Answer;
use super::app::App;
use super::dialog::{Dialog, Remark};
use super::theme::Tone;
use super::view::screen;
use crate::report::text;

/// One paragraph of a page.
#[derive(Debug, Clone)]
pub struct Paragraph {
    /// What it is; a heading is an accent.
    pub tone: Tone,
    /// What stands before its first line.
    pub lead: String,
    /// What is set behind that.
    pub text: String,
}

impl Paragraph {
    /// One with nothing before it.
    #[must_use]
    pub fn new(tone: Tone, text: impl Into<String>) -> Self {
        Paragraph::led(tone, String::new(), text)
    }

    /// One behind a lead.
    #[must_use]
    pub fn led(tone: Tone, lead: String, text: impl Into<String>) -> Self {
        Paragraph { tone, lead, text: text.into() }
    }
}

/// A page to read.
pub struct Page {
    /// What it is.
    pub title: String,
    paragraphs: Vec<Paragraph>,
    /// Its lines, set for the terminal.
    pub lines: Vec<Remark>,
    /// The first shown line.
    pub top: usize,
    /// What is searched for, on a page that is searched by typing.
    pub search: Option<Answer>,
    /// What it stands in front of.
    pub under: Option<Box<Dialog>>,
}

impl Page {
    /// A page of paragraphs, set for the terminal as it is.
    #[must_use]
    pub fn open(app: &App, title: &str, paragraphs: Vec<Paragraph>) -> Dialog {
        Page::put_up(app, title, paragraphs, None, None)
    }

    /// A page that is searched by typing, in front of another dialog.
    #[must_use]
    pub fn searched(app: &App, title: &str, paragraphs: Vec<Paragraph>, under: Option<Dialog>) -> Dialog {
        Page::put_up(app, title, paragraphs, Some(Answer::offer("")), under)
    }

    fn put_up(
        app: &App,
        title: &str,
        paragraphs: Vec<Paragraph>,
        search: Option<Answer>,
        under: Option<Dialog>,
    ) -> Dialog {
        let (title, under) = (title.to_owned(), under.map(Box::new));
        let mut page = Page { title, paragraphs, lines: Vec::new(), top: 0, search, under };
        page.set(screen::room(app));
        Dialog::Page(page)
    }

    /// Sets its lines for the room that dialogs have, those that what is searched for is in.
    pub fn set(&mut self, room: Rect) {
        let width = screen::page_width(room);
        let wanted: Vec<String> = self
            .search
            .iter()
            .flat_map(|s| s.line.text().split_whitespace())
            .map(str::to_lowercase)
            .collect();
        self.lines.clear();
        for Paragraph { tone, lead, text: told } in found(&self.paragraphs, &wanted) {
            let indent = text::width(lead);
            let set = text::wrap(&text::clean(told), width.saturating_sub(indent).max(10));
            for (i, line) in set.into_iter().enumerate() {
                let lead = if i == 0 { lead.clone() } else { " ".repeat(indent) };
                self.lines.push((*tone, format!("{lead}{line}")));
            }
        }
        self.top = self.top.min(self.lines.len().saturating_sub(self.height(room)));
    }

    /// How many of its lines the room that dialogs have shows.
    #[must_use]
    pub fn height(&self, room: Rect) -> usize {
        screen::page_height(room).saturating_sub(usize::from(self.search.is_some()))
    }
}

/// The paragraphs that hold every wanted word, each with the heading it stands under.
fn found<'p>(paragraphs: &'p [Paragraph], wanted: &[String]) -> Vec<&'p Paragraph> {
    if wanted.is_empty() {
        return paragraphs.iter().collect();
    }
    let (mut found, mut heading) = (Vec::new(), None);
    for paragraph in paragraphs {
        let text = format!("{} {}", paragraph.lead, paragraph.text).to_lowercase();
        if paragraph.tone == Tone::Accent {
            heading = Some(paragraph);
        } else if wanted.iter().all(|word| text.contains(word)) {
            found.extend(heading.take());
            found.push(paragraph);
        }
    }
    found
}
