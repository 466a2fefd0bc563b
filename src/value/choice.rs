//! A number that is one of a list.

use crate::notation::{Entries, Node, NodeValue, Problem, get};

use super::Value;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Family, Seen, shown_foreign};
use super::number::{Face, Facing, Number, unsigned, unsigned_raw};
use super::table::{Row, big, option};

/// Labels for numbers, in the order of the layout.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Choices {
    /// First number, last number, label; sorted by the first, none overlapping.
    ranges: Vec<(u64, u64, String)>,
    /// The label of every other number.
    other: Option<String>,
}

impl Choices {
    fn range(&self, number: u64) -> Option<&(u64, u64, String)> {
        let after = self.ranges.partition_point(|(first, _, _)| *first <= number);
        self.ranges[..after].last().filter(|(_, last, _)| number <= *last)
    }

    fn label(&self, number: u64) -> Option<&str> {
        self.range(number).map(|(_, _, label)| label.as_str()).or(self.other.as_deref())
    }

    /// The only number with a label, whatever the case of its letters.
    fn number(&self, label: &str) -> Option<u64> {
        let only = |same: &dyn Fn(&str) -> bool| {
            let mut found = self.ranges.iter().filter(|(_, _, l)| same(l));
            let (first, last, _) = found.next()?;
            (first == last && found.next().is_none() && !self.other.as_deref().is_some_and(same))
                .then_some(*first)
        };
        only(&|l| l == label).or_else(|| only(&|l| l.to_lowercase() == label.to_lowercase()))
    }

    fn names(&self) -> impl Iterator<Item = &str> {
        self.ranges.iter().map(|(_, _, label)| label.as_str())
    }

    fn value(&self, number: u64) -> Value {
        Value::Choice(number, self.label(number).map(str::to_string))
    }

    fn expected(&self) -> String {
        const SHOWN: usize = 8;
        let mut names: Vec<&str> = self.names().take(SHOWN).collect();
        if self.ranges.len() > SHOWN {
            names.push("…");
        }
        format!("one of {}, or its number", names.join(", "))
    }
}

impl Facing for Choices {
    fn seen(&self, _form: &Form, raw: u64) -> Seen {
        match self.label(raw) {
            Some(_) => Seen::fine(self.value(raw)),
            None => Seen::odd(self.value(raw), format!("{raw} is not in the list")),
        }
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        unsigned_raw(form, value, "one of the list")
    }

    /// A label, `label (5)`, `5`, `(5)`.
    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        if let Some(number) = self.number(typed) {
            return Ok(self.value(number));
        }
        let inner = typed.strip_suffix(')').and_then(|t| t.rsplit_once('('));
        let number = match inner {
            Some((label, inner)) => get::whole(inner).filter(|&n| {
                label.trim().is_empty()
                    || u64::try_from(n).ok().and_then(|n| self.label(n)) == Some(label.trim())
            }),
            None => get::whole(typed),
        };
        let Some(number) = number else {
            let ambiguous = self.names().chain(self.other.as_deref()).any(|l| l.eq_ignore_ascii_case(typed));
            let mut error = ValueError::typed(typed, "is not in the list", self.expected());
            if ambiguous {
                error = ValueError::typed(typed, "stands for several numbers", format!("{typed} (number)"));
            } else if let Some(near) = crate::notation::nearest(typed, self.names()) {
                error.expected = format!("{}; did you mean {near}?", error.expected);
            }
            return Err(error);
        };
        Ok(self.value(unsigned(form, number, typed)?))
    }

    fn expects(&self, _form: &Form) -> String {
        self.expected()
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        let Value::Choice(number, _) = value else { return shown_foreign(value) };
        match self.label(*number) {
            Some(label) if self.number(label) == Some(*number) => label.to_string(),
            Some(label) => Some(format!("{label} ({number})"))
                .filter(|text| self.number(text).is_none())
                .unwrap_or_else(|| format!("({number})")),
            None if self.number(&number.to_string()).is_some() => format!("({number})"),
            None => number.to_string(),
        }
    }
}

/// A key of `of`: a number, or a string with the first and the last of several: `"3 to 9"`.
fn key(node: &Node, most: u64, problems: &mut Vec<Problem>) -> Option<(u64, u64)> {
    let number = |n: i128| u64::try_from(n).ok().filter(|&n| n <= most);
    let found = match &node.value {
        NodeValue::Text(text) => {
            get::ends(text, " to ").and_then(|(first, last)| Some((number(first)?, number(last)?)))
        }
        _ => get::as_integer(node).and_then(number).map(|n| (n, n)),
    };
    if found.is_none() {
        problems.push(Problem::new(
            node.span,
            format!("{} is no number of the list", node.shown()),
            format!("a number from 0 to {most}, or a string such as \"3 to 9\""),
        ));
    }
    found
}

/// A label: not empty, and without the blanks around it, so that it can be typed.
fn label(node: &Node, problems: &mut Vec<Problem>) -> Option<String> {
    let label = get::text(node, "a label", problems)?.trim();
    if label.is_empty() {
        problems.push(Problem::new(node.span, "the label is empty", "a label that can be typed"));
        return None;
    }
    Some(label.to_string())
}

/// Takes `of` and `other` from the entries.
fn read(entries: &mut Entries<'_>, form: Option<&Form>, problems: &mut Vec<Problem>) -> Option<Choices> {
    let other = entries.or("other", None, |node| label(node, problems).map(Some));
    let node = entries.required("of", problems)?;
    let most = form.map_or(u64::MAX, Form::mask);
    let mut ranges: Vec<(u64, u64, String)> = Vec::new();
    let mut whole = true;
    let labels: Vec<(Option<_>, &Node, &Node)> = match &node.value {
        NodeValue::List(labels) => (0..).zip(labels).map(|(n, label)| (Some((n, n)), label, label)).collect(),
        _ => get::map(node, "labels by number", problems)?
            .iter()
            .map(|(at, label)| (key(at, most, problems), at, label))
            .collect(),
    };
    for (range, at, node) in labels {
        let (Some((first, last)), Some(label)) = (range, label(node, problems)) else {
            whole = false;
            continue;
        };
        if last > most {
            let wrong = format!("{last} does not fit the bits");
            problems.push(Problem::new(at.span, wrong, format!("at most {most}")));
            break;
        }
        if let Some((a, b, taken)) = ranges.iter().find(|(a, b, _)| first <= *b && *a <= last) {
            let wrong = format!("{} is already {taken:?} ({a} to {b})", at.shown());
            problems.push(Problem::new(at.span, wrong, "each number once"));
        } else {
            ranges.push((first, last, label));
        }
    }
    if !whole {
        return None;
    }
    ranges.sort_by_key(|(first, _, _)| *first);
    Some(Choices { ranges, other: other? })
}

/// `Choice`, `Bool`.
pub(super) const ROWS: &[Row] = &[
    Row {
        name: "Choice",
        doc: "A number that stands for one of a list of things",
        options: &[
            form::BITS,
            form::BYTES,
            form::ORDER,
            form::WORDS,
            option(
                "of",
                "labels by number, {1: \"high pressure\", \"3 to 9\": \"reserved\"}, or a list of labels from 0",
            ),
            option(
                "other",
                "the label of every number that is not in the list; without it such a number is odd",
            ),
        ],
        examples: &[
            big("Choice(bits: 8, of: {1: \"high pressure\", 2: \"low oil\"})", "02", "low oil", "invented"),
            big(
                "Choice(bits: 8, of: {1: \"on\", \"2 to 9\": \"reserved\"})",
                "05",
                "reserved (5)",
                "invented",
            ),
            big("Choice(bits: 2, of: [\"off\", \"slow\", \"fast\"])", "01", "slow", "invented"),
        ],
        read: |entries, problems| {
            let form = Form::read(entries, problems);
            let choices = read(entries, form.as_ref(), problems);
            Some(Number::family(form?, Face::Choice(choices?)))
        },
    },
    Row {
        name: "Bool",
        doc: "A yes or no: 0 is no, 1 is yes",
        options: &[
            option("bits", "how many bits, 1 to 64; 1 when neither bits nor bytes are given"),
            form::BYTES,
            form::ORDER,
            form::WORDS,
            option("no", "the label of 0; \"no\" when left out"),
            option("yes", "the label of 1; \"yes\" when left out"),
        ],
        examples: &[
            big("Bool", "01", "yes", "common practice, no source"),
            big("Bool(bits: 8, no: \"closed\", yes: \"open\")", "00", "closed", "invented"),
        ],
        read: read_bool,
    },
];

fn read_bool(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Family> {
    let form = Form::read_or(entries, 1, problems);
    let no = entries.or("no", "no".to_string(), |node| label(node, problems));
    let yes = entries.or("yes", "yes".to_string(), |node| label(node, problems));
    let ranges = vec![(0, 0, no?), (1, 1, yes?)];
    Some(Number::family(form?, Face::Choice(Choices { ranges, other: None })))
}
