//! RON text as a tree in which every value knows its place.
//!
//! Layouts are written by hand, so a problem must be reported with its line and column, all problems at once,
//! and a file that is changed by the program must keep its comments and its formatting. The `ron` crate gives
//! neither places nor comments; this reader gives both and is checked against that crate in the tests.
//!
//! [`parse()`] makes the tree, [`Entries`] and the functions of [`get`] take it apart and collect what is wrong,
//! [`Lines`] turns places into lines and columns.

mod entries;
pub mod get;
mod lines;
mod lookalikes;
mod near;
mod parse;
mod scan;
pub mod splice;
#[cfg(test)]
mod tests;

pub use entries::Entries;
pub use lines::{LineColumn, Lines};
pub use near::nearest;
pub use parse::{MAX_DEPTH, MAX_PROBLEMS, parse};

/// A place in a text: byte offsets, the end not included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct TextSpan {
    /// First byte.
    pub start: usize,
    /// First byte after the end.
    pub end: usize,
}

impl TextSpan {
    /// From `start` up to, not including, `end`.
    #[must_use]
    pub const fn new(start: usize, end: usize) -> Self {
        TextSpan { start, end }
    }
}

/// One value of the text and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Where it stands.
    pub span: TextSpan,
    /// What it is.
    pub value: NodeValue,
}

/// A bare word and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// Where it stands.
    pub span: TextSpan,
    /// The word.
    pub text: String,
}

/// What a [`Node`] is.
#[derive(Debug, Clone, PartialEq)]
pub enum NodeValue {
    /// `true`, `false`.
    Bool(bool),
    /// A number as written, underscores taken out: `0x40`, `-3`, `0.5`.
    Number(String),
    /// A string, escapes resolved.
    Text(String),
    /// A character, escapes resolved.
    Char(char),
    /// A bare word: `Big`, `None`.
    Word(String),
    /// `[a, b]`.
    List(Vec<Node>),
    /// `{a: b}`.
    Map(Vec<(Node, Node)>),
    /// `(a: 1)` or `Name(a: 1)`.
    Struct(Option<Name>, Vec<(Name, Node)>),
    /// `(1, 2)`, `Name(1, 2)`, `()`; also `Some(x)`.
    Tuple(Option<Name>, Vec<Node>),
}

impl Node {
    /// The value in a few words, for messages that quote what was found: `"abc"`, `0x40`, `a list of 3`.
    #[must_use]
    pub fn shown(&self) -> String {
        let named = |name: &Option<Name>, rest: &str| match name {
            Some(name) => format!("{}{rest}", name.text),
            None => rest.to_string(),
        };
        match &self.value {
            NodeValue::Bool(value) => value.to_string(),
            NodeValue::Number(text) => clip(text),
            NodeValue::Word(text) => clip(text),
            NodeValue::Text(text) => format!("\"{}\"", clip(text)),
            NodeValue::Char(c) => format!("'{}'", c.escape_debug()),
            NodeValue::List(items) => format!("a list of {}", items.len()),
            NodeValue::Map(items) => format!("a map of {}", items.len()),
            NodeValue::Struct(name, _) => named(name, "(…: …)"),
            NodeValue::Tuple(name, items) if items.is_empty() => named(name, "()"),
            NodeValue::Tuple(name, _) => named(name, "(…)"),
        }
    }

    /// The name in front of a bracket or the bare word: `Int` of `Int(bits: 16)` and of `Int`.
    #[must_use]
    pub fn head(&self) -> Option<&str> {
        match &self.value {
            NodeValue::Word(text) => Some(text),
            NodeValue::Struct(Some(name), _) | NodeValue::Tuple(Some(name), _) => Some(&name.text),
            _ => None,
        }
    }

    /// Where the name in front stands, or the whole value when it has none.
    #[must_use]
    pub fn head_span(&self) -> TextSpan {
        match &self.value {
            NodeValue::Struct(Some(name), _) | NodeValue::Tuple(Some(name), _) => name.span,
            _ => self.span,
        }
    }
}

/// `text` with control characters escaped and cut to a length that suits a message.
fn clip(text: &str) -> String {
    const LONGEST: usize = 48;
    let mut out = String::new();
    for (n, c) in text.chars().enumerate() {
        if n == LONGEST {
            out.push('…');
            break;
        }
        if c.is_control() { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out
}

/// What is wrong in a text, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Where it stands.
    pub span: TextSpan,
    /// What is wrong, quoting the bad value.
    pub what: String,
    /// What was expected there.
    pub expected: String,
    /// A likely fix, when one can be guessed.
    pub fix: Option<String>,
}

impl Problem {
    /// A problem at a place, without a guess at its fix.
    #[must_use]
    pub fn new(span: TextSpan, what: impl Into<String>, expected: impl Into<String>) -> Self {
        Problem { span, what: what.into(), expected: expected.into(), fix: None }
    }

    /// A value that does not suit its place.
    #[must_use]
    pub fn unfit(node: &Node, expected: impl Into<String>) -> Self {
        Problem::new(node.span, format!("{} is not fit", node.shown()), expected)
    }

    /// The same problem with a likely fix.
    #[must_use]
    pub fn fix(mut self, fix: impl Into<String>) -> Self {
        self.fix = Some(fix.into());
        self
    }

    /// The same problem with the name of `names` that `wrong` is probably meant to be, if one is near.
    #[must_use]
    pub fn suggest<'n>(self, wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Self {
        match nearest(wrong, names) {
            Some(name) => self.fix(format!("did you mean {name}?")),
            None => self,
        }
    }

    /// The problem as one line: `path:line:column: what; expected …; fix`.
    #[must_use]
    pub fn line(&self, path: &str, lines: &Lines) -> String {
        let at = lines.place(self.span.start);
        let mut line = format!("{path}:{}:{}: {}; expected {}", at.line, at.column, self.what, self.expected);
        if let Some(fix) = &self.fix {
            line.push_str("; ");
            line.push_str(fix);
        }
        line
    }
}
