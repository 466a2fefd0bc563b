//! What asks for an answer in front of the panes: a line to type, a question, a page to read.

use std::path::PathBuf;

pub use super::answer::{Answer, Choice, Line};
use super::app::App;
use super::effect::Effect;
pub use super::page::{Page, Paragraph};
use super::theme::Tone;

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

/// What a prompt or a question is about, as far as its kind needs it.
#[derive(Debug, Clone, Default)]
pub struct About {
    /// Path of the field.
    pub field: String,
    /// The file that would be replaced.
    pub file: PathBuf,
    /// The program ends once everything is saved.
    pub then_quit: bool,
}

/// One kind of prompt; each stands beside the command that opens it.
pub struct Ask {
    /// What is asked.
    pub title: &'static str,
    /// What is said under the line while it is typed.
    pub remarks: fn(&App, &Prompt) -> Vec<Remark>,
    /// What could be meant, best first.
    pub options: fn(&App, &str) -> Vec<Choice>,
    /// Takes the answer; `None` where it is none, and the line stays.
    pub submit: fn(&mut App, &Prompt) -> Option<Effect>,
}

/// A line to type.
pub struct Prompt {
    /// Which kind it is.
    pub ask: &'static Ask,
    /// What it is about.
    pub about: About,
    /// What is told above everything else, worked out once when the prompt was opened.
    pub told: Vec<Remark>,
    /// What was typed, and what could be meant.
    pub given: Answer,
}

impl Prompt {
    /// A prompt with `text` in its line.
    #[must_use]
    pub fn open(app: &App, ask: &'static Ask, text: &str) -> Dialog {
        Prompt::about(app, ask, About::default(), text, Vec::new())
    }

    /// A prompt about something, that tells something besides.
    #[must_use]
    pub fn about(app: &App, ask: &'static Ask, about: About, text: &str, told: Vec<Remark>) -> Dialog {
        Prompt { ask, about, told, given: Answer::offer(text) }.refreshed(app)
    }

    /// An empty prompt that takes the marked choice, and keeps what was typed for what stands behind it.
    #[must_use]
    pub fn marking(app: &App, ask: &'static Ask) -> Dialog {
        let given = Answer { marks: true, ..Answer::offer("") };
        Prompt { ask, about: About::default(), told: Vec::new(), given }.refreshed(app)
    }

    fn refreshed(mut self, app: &App) -> Dialog {
        self.refresh(app);
        Dialog::Prompt(self)
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
    /// Takes the answers; returns false where one is none, and the form stays.
    pub submit: fn(&mut App, &Form) -> bool,
}

/// A few lines that are asked together.
pub struct Form {
    /// Which kind it is.
    pub kind: &'static FormKind,
    /// Path of the field it is about; empty for something new.
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

/// One answer to a question.
#[derive(Clone, Copy)]
pub struct Reply {
    /// The letter that gives it.
    pub key: char,
    /// The word; holds the letter.
    pub word: &'static str,
    /// What it does.
    pub act: fn(&mut App, &About) -> Effect,
}

impl Reply {
    /// Changes nothing.
    pub const CANCEL: Reply = Reply { key: 'c', word: "Cancel", act: |_, _| Effect::None };
}

/// A choice between a few answers. Esc gives none of them and changes nothing.
pub struct Question {
    /// What is asked.
    pub title: String,
    /// What it is about.
    pub about: About,
    /// What the user should know before answering.
    pub remarks: Vec<Remark>,
    /// The answers.
    pub replies: &'static [Reply],
    /// The answer that Enter gives.
    pub chosen: usize,
}
