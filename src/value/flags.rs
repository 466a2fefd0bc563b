//! A number whose bits have names.

use crate::notation::{Entries, NodeValue, Problem, get};

use super::Value;
use super::error::ValueError;
use super::form::{self, Form};
use super::kind::{Seen, shown_foreign};
use super::number::{Face, Facing, Number, unsigned, unsigned_raw};
use super::table::{Row, big, option};

/// Names of bits, sorted by bit.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Names(Vec<(u32, String)>);

/// What is shown when no bit is set.
const NONE: &str = "none";

impl Names {
    fn name(&self, bit: u32) -> String {
        let named = self.0.iter().find(|(b, _)| *b == bit);
        named.map_or_else(|| format!("bit {bit}"), |(_, name)| name.clone())
    }

    fn value(&self, raw: u64) -> Value {
        Value::Flags(raw, (0..64).filter(|bit| raw >> bit & 1 == 1).map(|bit| self.name(bit)).collect())
    }

    fn bit(&self, form: &Form, name: &str) -> Option<u32> {
        let named = self.0.iter().find(|(_, n)| n.to_lowercase() == name.to_lowercase());
        named
            .map(|(bit, _)| *bit)
            .or_else(|| get::plain(name.strip_prefix("bit ")?.trim()).filter(|bit| *bit < form.bits))
    }
}

impl Facing for Names {
    fn seen(&self, _form: &Form, raw: u64) -> Seen {
        Seen::fine(self.value(raw))
    }

    fn raw(&self, form: &Form, value: &Value) -> Result<u64, ValueError> {
        unsigned_raw(form, value, "named bits")
    }

    /// Names between commas, `bit 5`, `none`, or the whole number.
    fn parse(&self, form: &Form, typed: &str) -> Result<Value, ValueError> {
        if typed.eq_ignore_ascii_case(NONE) || typed.is_empty() {
            return Ok(self.value(0));
        }
        if let Some(number) = get::whole(typed) {
            return Ok(self.value(unsigned(form, number, typed)?));
        }
        let mut raw = 0u64;
        for name in typed.split(',').map(str::trim) {
            let Some(bit) = self.bit(form, name) else {
                let mut expected = self.expects(form);
                if let Some(near) = crate::notation::nearest(name, self.0.iter().map(|(_, n)| n.as_str())) {
                    expected = format!("{expected}; did you mean {near}?");
                }
                return Err(ValueError::typed(name, "is the name of no bit", expected));
            };
            raw |= 1 << bit;
        }
        Ok(self.value(raw))
    }

    fn expects(&self, _form: &Form) -> String {
        let names: Vec<_> = self.0.iter().map(|(_, name)| name.as_str()).collect();
        format!("names between commas out of {}, or {NONE}", names.join(", "))
    }

    fn show(&self, _form: &Form, value: &Value) -> String {
        match value {
            Value::Flags(0, _) => NONE.to_string(),
            Value::Flags(_, set) => set.join(", "),
            other => shown_foreign(other),
        }
    }
}

fn read(entries: &mut Entries<'_>, form: Option<&Form>, problems: &mut Vec<Problem>) -> Option<Names> {
    let bits = form.map_or(64, |form| form.bits);
    let node = entries.required("of", problems)?;
    let named: Vec<(Option<u32>, _)> = match &node.value {
        NodeValue::List(names) => (0..).map(Some).zip(names).collect(),
        _ => get::map(node, "names by bit", problems)?
            .iter()
            .map(|(bit, name)| (get::int(bit, 0..=bits - 1, "a bit", problems), name))
            .collect(),
    };
    let mut names: Vec<(u32, String)> = Vec::new();
    let mut whole = true;
    for (bit, node) in named {
        let name = get::text(node, "a name", problems);
        let (Some(bit), Some(name)) = (bit, name) else {
            whole = false;
            continue;
        };
        let wrong = if bit >= bits {
            Some(format!("bit {bit} is none of the {bits}"))
        } else if names.iter().any(|(b, _)| *b == bit) {
            Some(format!("bit {bit} has a name already"))
        } else if names.iter().any(|(_, n)| n.eq_ignore_ascii_case(name)) {
            Some(format!("{name:?} is the name of another bit"))
        } else if name.is_empty() || name.trim() != name || name.contains(',') {
            Some(format!("{name:?} is not fit as a name"))
        } else if name.eq_ignore_ascii_case(NONE) || name.starts_with("bit ") || get::whole(name).is_some() {
            Some(format!("{name:?} means something else when it is typed"))
        } else {
            None
        };
        match wrong {
            Some(wrong) => problems.push(Problem::new(
                node.span,
                wrong,
                "each bit once, with a name of its own, without commas",
            )),
            None => names.push((bit, name.to_string())),
        }
    }
    names.sort_by_key(|(bit, _)| *bit);
    whole.then_some(Names(names))
}

/// `Flags`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Flags",
    doc: "A number whose bits have names; those that are set are shown",
    options: &[
        form::BITS,
        form::BYTES,
        form::ORDER,
        form::WORDS,
        option("of", "names by bit, {0: \"fan\", 7: \"siren\"}, or a list of names from bit 0, the lowest"),
    ],
    examples: &[
        big("Flags(bits: 8, of: {0: \"fan\", 7: \"siren\"})", "81", "fan, siren", "invented"),
        big("Flags(bits: 8, of: [\"fan\", \"lamp\"])", "00", "none", "invented"),
        big("Flags(bits: 8, of: [\"fan\", \"lamp\"])", "22", "lamp, bit 5", "invented"),
    ],
    read: |entries, problems| {
        let form = Form::read(entries, problems);
        let names = read(entries, form.as_ref(), problems);
        Some(Number::family(form?, Face::Flags(names?)))
    },
}];
