//! The entries of a bracket, taken out by name, with everything that is wrong told at once.

use super::{Name, Node, NodeValue, Problem, TextSpan};

/// The named entries of `(a: 1, b: 2)` or `Name(a: 1)`, to be taken out one by one.
///
/// ```
/// use readproof::notation::{self, Entries, get};
///
/// let node = notation::parse("Int(bits: 16, sined: true)").unwrap();
/// let mut problems = Vec::new();
/// let mut entries = Entries::of(&node, "Int", &mut problems).unwrap();
/// let bits = entries.required("bits", &mut problems).and_then(|n| get::int(n, 1..=64, "bits", &mut problems));
/// let signed = entries.optional("signed").and_then(|n| get::boolean(n, &mut problems)).unwrap_or(false);
/// entries.finish(&mut problems);
/// assert_eq!((bits, signed), (Some(16), false));
/// assert_eq!(problems[0].what, "Int has no entry sined");
/// assert_eq!(problems[0].fix.as_deref(), Some("did you mean signed?"));
/// ```
#[derive(Debug)]
pub struct Entries<'n> {
    what: String,
    span: TextSpan,
    entries: &'n [(Name, Node)],
    taken: Vec<bool>,
    known: Vec<&'static str>,
}

impl<'n> Entries<'n> {
    /// The entries of `node`, which is called `what` in messages. `()`, `Name()` and a bare `Name` have none.
    /// Says what is wrong and gives `None` when `node` can have no named entries.
    pub fn of(node: &'n Node, what: &str, problems: &mut Vec<Problem>) -> Option<Self> {
        let entries: &[(Name, Node)] = match &node.value {
            NodeValue::Struct(_, entries) => entries,
            NodeValue::Tuple(_, values) if values.is_empty() => &[],
            NodeValue::Word(_) => &[],
            _ => {
                problems.push(Problem::new(
                    node.span,
                    format!("{} stands where {what} should", node.shown()),
                    "named entries in round brackets: (name: value, …)",
                ));
                return None;
            }
        };
        Some(Entries {
            what: what.to_string(),
            span: node.head_span(),
            entries,
            taken: vec![false; entries.len()],
            known: Vec::new(),
        })
    }

    /// Calls the bracket by another name in messages, when its own name has become known.
    pub fn call(&mut self, what: &str) {
        self.what = what.to_string();
    }

    /// Where the bracket's name stands, or the bracket.
    #[must_use]
    pub fn span(&self) -> TextSpan {
        self.span
    }

    /// The value of the entry `name`, if it is there.
    pub fn optional(&mut self, name: &'static str) -> Option<&'n Node> {
        self.known.push(name);
        let at = self.entries.iter().position(|(n, _)| n.text == name)?;
        self.taken[at] = true;
        Some(&self.entries[at].1)
    }

    /// What `read` makes of the value of the entry `name`; `default` when it is not there.
    pub fn or<T>(
        &mut self,
        name: &'static str,
        default: T,
        read: impl FnOnce(&'n Node) -> Option<T>,
    ) -> Option<T> {
        match self.optional(name) {
            Some(node) => read(node),
            None => Some(default),
        }
    }

    /// The value of the entry `name`; a problem when it is not there.
    pub fn required(&mut self, name: &'static str, problems: &mut Vec<Problem>) -> Option<&'n Node> {
        let node = self.optional(name);
        if node.is_none() {
            problems.push(Problem::new(
                self.span,
                format!("{} has no entry {name}", self.what),
                format!("{name}: …"),
            ));
        }
        node
    }

    /// Tells each entry that nobody asked for.
    pub fn finish(self, problems: &mut Vec<Problem>) {
        for ((name, _), _) in self.entries.iter().zip(&self.taken).filter(|(_, taken)| !**taken) {
            let expected = if self.known.is_empty() {
                format!("no entries in {}", self.what)
            } else {
                format!("one of {}", self.known.join(", "))
            };
            problems.push(
                Problem::new(
                    name.span,
                    format!("{} has no entry {}", self.what, super::clip(&name.text)),
                    expected,
                )
                .suggest(&name.text, self.known.iter().copied()),
            );
        }
    }
}
