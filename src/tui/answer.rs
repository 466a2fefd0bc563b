//! A line that is typed, and what could be meant by it.

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

impl Choice {
    /// One that can be chosen, with nothing at the right.
    #[must_use]
    pub fn new(text: impl Into<String>, detail: impl Into<String>) -> Self {
        Choice { text: text.into(), detail: detail.into(), aside: String::new(), possible: true }
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
