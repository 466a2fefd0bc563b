//! RON text as a tree in which every value knows its place.
//!
//! Layouts are written by hand, so a problem must be reported with its line and column, all problems at once,
//! and a file that is changed by the program must keep its comments and its formatting. The `ron` crate gives
//! neither places nor comments; this reader gives both and is checked against that crate in the tests.

/// A place in a text: byte offsets, the end not included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct TextSpan {
    /// First byte.
    pub start: usize,
    /// First byte after the end.
    pub end: usize,
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
