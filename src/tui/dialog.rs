//! What asks for an answer in front of the panes: a line to type, a question, a page to read.

use ratatui::layout::Rect;

use super::app::App;
use super::effect::Effect;
use super::theme::Tone;
use super::view::screen;
use crate::report::text;

/// What asks for an answer.
pub enum Dialog {
    /// A line to type.
    Prompt(Prompt),
    /// A few lines that are asked together.
    Form(Form),
    /// A choice between a few answers.
    Question(Question),
    /// A page to read.
    Page(Page),
}

/// One line of a dialog.
pub type Remark = (Tone, String);

/// One kind of prompt; each stands beside the command that opens it.
pub struct Ask {
    /// What is asked.
    pub title: &'static str,
    /// What is said under the line while it is typed.
    pub remarks: fn(&App, &Prompt) -> Vec<Remark>,
    /// What could be meant, best first.
    pub options: fn(&App, &str) -> Vec<Choice>,
    /// Takes the answer.
    pub submit: fn(&mut App, Prompt) -> Effect,
}

/// One thing that could be meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// What Tab puts in the line.
    pub text: String,
    /// What is said beside it.
    pub detail: String,
    /// What stands at the right.
    pub aside: String,
    /// It can be chosen now.
    pub possible: bool,
}

/// A line to type.
pub struct Prompt {
    /// Which kind it is.
    pub ask: &'static Ask,
    /// What it is about, as the kind understands it: a path of a field, a file name.
    pub about: String,
    /// What is told above everything else, worked out once when the prompt was opened.
    pub told: Vec<Remark>,
    /// What was typed, and what could be meant.
    pub given: Answer,
}

impl Prompt {
    /// A prompt with `text` in its line.
    #[must_use]
    pub fn open(app: &App, ask: &'static Ask, about: impl Into<String>, text: &str) -> Dialog {
        Prompt::telling(app, ask, about, text, Vec::new())
    }

    /// A prompt that tells something besides.
    #[must_use]
    pub fn telling(
        app: &App,
        ask: &'static Ask,
        about: impl Into<String>,
        text: &str,
        told: Vec<Remark>,
    ) -> Dialog {
        let mut prompt = Prompt { ask, about: about.into(), told, given: Answer::offer(text) };
        prompt.refresh(app);
        Dialog::Prompt(prompt)
    }

    /// An empty prompt that takes the marked choice, and keeps what was typed for what stands behind it.
    #[must_use]
    pub fn marking(app: &App, ask: &'static Ask) -> Dialog {
        let given = Answer { marks: true, ..Answer::offer("") };
        let mut prompt = Prompt { ask, about: String::new(), told: Vec::new(), given };
        prompt.refresh(app);
        Dialog::Prompt(prompt)
    }

    /// Looks again at what could be meant; after the line changed.
    pub fn refresh(&mut self, app: &App) {
        self.given.offer_choices((self.ask.options)(app, self.given.line.text()));
    }

    /// The text that counts: the marked option, or what was typed.
    #[must_use]
    pub fn answer(&self) -> &str {
        self.given.text()
    }
}

/// What was typed into one line, and what could be meant by it.
pub struct Answer {
    /// What was typed.
    pub line: Line,
    /// What could be meant.
    pub options: Vec<Choice>,
    /// The marked one; `None` while what is typed counts.
    pub chosen: Option<usize>,
    /// What is typed only leads to a choice: the best is marked at once, and marking leaves the line as it is.
    pub marks: bool,
}

impl Answer {
    /// A line that offers `text`.
    #[must_use]
    pub fn offer(text: &str) -> Self {
        Answer { line: Line::offer(text), options: Vec::new(), chosen: None, marks: false }
    }

    /// Offers other choices.
    pub fn offer_choices(&mut self, options: Vec<Choice>) {
        let leads = self.marks && !self.line.text().trim().is_empty() && !options.is_empty();
        self.options = options;
        self.chosen = leads.then_some(0);
    }

    /// The marked choice.
    #[must_use]
    pub fn marked(&self) -> Option<&Choice> {
        self.options.get(self.chosen?)
    }

    /// The text that counts: the marked option, or what was typed.
    #[must_use]
    pub fn text(&self) -> &str {
        match self.marked().filter(|_| !self.marks) {
            Some(option) => &option.text,
            None => self.line.text(),
        }
    }

    /// Marks the option `by` further down; above the first none is marked, unless one must be.
    pub fn step(&mut self, by: isize) {
        let at = self.chosen.map_or(-1, |i| i as isize);
        let first = if self.marks { 0 } else { -1 };
        let to = at.saturating_add(by).max(first).min(self.options.len() as isize - 1);
        self.chosen = usize::try_from(to).ok();
    }
}

/// One kind of form; each stands beside the command that opens it.
pub struct FormKind {
    /// What is asked, and of which bytes.
    pub title: fn(&App, &Form) -> String,
    /// What each line is.
    pub labels: &'static [&'static str],
    /// What is said of the line with this index as it is now, beside it.
    pub beside: fn(&App, &Form, usize) -> Option<Remark>,
    /// What is said under the lines.
    pub remarks: fn(&App, &Form) -> Vec<Remark>,
    /// What could be meant in the line with this index, best first.
    pub options: fn(&App, &Form, usize) -> Vec<Choice>,
    /// What the answers would make, a line each; shown while nothing is offered for the line that is typed into.
    pub preview: fn(&App, &Form) -> Vec<Remark>,
    /// Takes the answers.
    pub submit: fn(&mut App, Form) -> Effect,
}

/// A few lines that are asked together.
pub struct Form {
    /// Which kind it is.
    pub kind: &'static FormKind,
    /// What it is about, as the kind understands it.
    pub about: String,
    /// The lines.
    pub lines: Vec<Answer>,
    /// The line that is typed into.
    pub at: usize,
}

impl Form {
    /// A form with these texts in its lines.
    #[must_use]
    pub fn open(app: &App, kind: &'static FormKind, about: impl Into<String>, texts: &[&str]) -> Dialog {
        let lines = texts.iter().map(|text| Answer::offer(text)).collect();
        let mut form = Form { kind, about: about.into(), lines, at: 0 };
        form.refresh(app);
        Dialog::Form(form)
    }

    /// Looks again at what could be meant in the line that is typed into.
    pub fn refresh(&mut self, app: &App) {
        let options = (self.kind.options)(app, self, self.at);
        if let Some(line) = self.lines.get_mut(self.at) {
            line.offer_choices(options);
        }
    }

    /// Gives the keys to the line `by` further down, round and round. A marked choice becomes the text of its line.
    pub fn turn(&mut self, app: &App, by: isize) {
        if let Some(line) = self.lines.get_mut(self.at)
            && line.chosen.is_some()
        {
            let text = line.text().to_owned();
            *line = Answer::offer(&text);
        }
        let many = self.lines.len().max(1) as isize;
        self.at = (self.at as isize + by).rem_euclid(many) as usize;
        self.refresh(app);
    }

    /// The text that counts in line `index`, without blanks at its ends.
    #[must_use]
    pub fn answer(&self, index: usize) -> &str {
        self.lines.get(index).map_or("", |l| l.text().trim())
    }
}

/// A line of text with a cursor in it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Line {
    text: String,
    at: usize,
    /// It stands as it was offered: what is typed takes its place, what moves keeps it.
    is_offer: bool,
}

impl Line {
    /// Longer input is no answer to anything we ask.
    pub const MOST: usize = 4096;

    /// A line with `text`, the cursor behind it.
    #[must_use]
    pub fn new(text: &str) -> Self {
        Line { text: text.to_owned(), at: text.len(), is_offer: false }
    }

    /// A line that offers `text`.
    #[must_use]
    pub fn offer(text: &str) -> Self {
        Line { is_offer: !text.is_empty(), ..Line::new(text) }
    }

    /// Whether what is typed takes the place of the text.
    #[must_use]
    pub fn is_offer(&self) -> bool {
        self.is_offer
    }

    fn take_offer_away(&mut self) {
        if self.is_offer {
            self.set("");
        }
    }

    /// The text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What stands before and after the cursor.
    #[must_use]
    pub fn parts(&self) -> (&str, &str) {
        self.text.split_at_checked(self.at).unwrap_or((&self.text, ""))
    }

    /// Types a text at the cursor; what cannot be shown is left out. Returns false, and does nothing, when the line
    /// would be too long.
    pub fn insert(&mut self, text: &str) -> bool {
        let text: String = text.chars().filter(|c| !c.is_control()).collect();
        let kept = if self.is_offer { 0 } else { self.text.len() };
        if kept + text.len() > Self::MOST {
            return false;
        }
        self.take_offer_away();
        if self.text.is_char_boundary(self.at) {
            self.text.insert_str(self.at, &text);
            self.at += text.len();
        }
        true
    }

    /// Puts another text in the place of everything.
    pub fn set(&mut self, text: &str) {
        *self = Line::new(text);
    }

    fn before(&self) -> usize {
        self.parts().0.chars().next_back().map_or(self.at, |c| self.at - c.len_utf8())
    }

    fn after(&self) -> usize {
        self.parts().1.chars().next().map_or(self.at, |c| self.at + c.len_utf8())
    }

    /// Takes out the character before the cursor.
    pub fn backspace(&mut self) {
        self.take_offer_away();
        let before = self.before();
        self.text.replace_range(before..self.at, "");
        self.at = before;
    }

    /// Takes out the character after the cursor.
    pub fn delete(&mut self) {
        self.take_offer_away();
        let after = self.after();
        self.text.replace_range(self.at..after, "");
    }

    /// One character to the left.
    pub fn left(&mut self) {
        self.is_offer = false;
        self.at = self.before();
    }

    /// One character to the right.
    pub fn right(&mut self) {
        self.is_offer = false;
        self.at = self.after();
    }

    /// To the beginning.
    pub fn home(&mut self) {
        self.is_offer = false;
        self.at = 0;
    }

    /// To the end.
    pub fn end(&mut self) {
        self.is_offer = false;
        self.at = self.text.len();
    }
}

/// One answer to a question.
#[derive(Clone, Copy)]
pub struct Reply {
    /// The letter that gives it.
    pub key: char,
    /// The word; holds the letter.
    pub word: &'static str,
    /// What it does.
    pub act: fn(&mut App) -> Effect,
}

/// A choice between a few answers. Esc gives none of them and changes nothing.
pub struct Question {
    /// What is asked.
    pub title: String,
    /// What the user should know before answering.
    pub remarks: Vec<Remark>,
    /// The answers.
    pub replies: &'static [Reply],
    /// The answer that Enter gives.
    pub chosen: usize,
}

/// One paragraph of a page: what stands before its first line, and the text that is set behind it.
pub type Paragraph = (Tone, String, String);

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
    pub fn open(app: &App, title: &str, paragraphs: &[Paragraph]) -> Dialog {
        let mut page = Page {
            title: title.to_owned(),
            paragraphs: paragraphs.to_vec(),
            lines: Vec::new(),
            top: 0,
            search: None,
            under: None,
        };
        page.set(screen::room(app));
        Dialog::Page(page)
    }

    /// A page that is searched by typing, in front of another dialog.
    #[must_use]
    pub fn searched(app: &App, title: &str, paragraphs: Vec<Paragraph>, under: Option<Dialog>) -> Dialog {
        let mut page = Page {
            title: title.to_owned(),
            paragraphs,
            lines: Vec::new(),
            top: 0,
            search: Some(Answer::offer("")),
            under: under.map(Box::new),
        };
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
        for (tone, lead, told) in found(&self.paragraphs, &wanted) {
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
        let (tone, lead, told) = paragraph;
        let text = format!("{lead} {told}").to_lowercase();
        if *tone == Tone::Accent {
            heading = Some(paragraph);
        } else if wanted.iter().all(|word| text.contains(word)) {
            found.extend(heading.take());
            found.push(paragraph);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_offered_text_is_replaced_by_typing_and_kept_by_moving() {
        let mut line = Line::offer("FF");
        line.insert("0");
        assert_eq!(line.text(), "0");
        line = Line::offer("FF");
        line.end();
        line.insert("0");
        assert_eq!(line.text(), "FF0");
        line = Line::offer("FF");
        line.backspace();
        assert_eq!(line.text(), "");
    }

    #[test]
    fn a_line_is_edited_by_whole_characters() {
        let mut line = Line::new("4.0 °C");
        line.left();
        line.backspace();
        assert_eq!(line.parts(), ("4.0 ", "C"));
        line.insert("µ\u{1b}\n");
        assert_eq!(line.text(), "4.0 µC");
        line.home();
        line.delete();
        line.left();
        line.end();
        line.right();
        line.delete();
        assert_eq!(line.parts(), (".0 µC", ""));
    }
}
