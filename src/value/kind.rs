//! A kind of field, whatever its family.

use std::borrow::Cow;

use crate::notation::{Entries, Node, Problem};
use crate::span::ByteOrder;
use crate::wording::{count, hex};

use super::scale::Scaling;
use super::{Value, ValueError, bcd, bytes, float, letters, maker, number, parts, table, text, typelength};

/// How many bytes a field of a kind has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Size {
    /// A number of this many bits, in the fewest bytes that hold them; its bits may also be gathered by the
    /// layout and handed over with [`Kind::decode_number`].
    Bits(u32),
    /// This many bytes.
    Bytes(usize),
    /// The bytes themselves say it: [`Kind::extent`].
    Found,
    /// The layout has to say it.
    Given,
}

impl Size {
    /// The number of bytes, when it does not depend on anything.
    #[must_use]
    pub const fn bytes(self) -> Option<usize> {
        match self {
            Size::Bits(bits) => Some(bits.div_ceil(8) as usize),
            Size::Bytes(bytes) => Some(bytes),
            Size::Found | Size::Given => None,
        }
    }
}

/// What was seen in the bytes of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// What they say; [`Value::Bytes`] when they say nothing that suits the kind.
    pub value: Value,
    /// Why they make no sense, in words; `None` when they do.
    pub oddity: Option<String>,
}

impl Seen {
    /// A value that makes sense.
    pub(super) fn fine(value: Value) -> Self {
        Seen { value, oddity: None }
    }

    /// A value, and what is odd about its bytes.
    pub(super) fn odd(value: Value, oddity: impl Into<String>) -> Self {
        Seen { value, oddity: Some(oddity.into()) }
    }

    /// Bytes that say nothing that suits the kind.
    pub(super) fn nonsense(bytes: &[u8], oddity: impl Into<String>) -> Self {
        Seen::odd(Value::Bytes(bytes.to_vec()), oddity)
    }
}

/// What a family of kinds has to do. Bytes have the length that [`Leaf::size`] or [`Leaf::extent`] says; when
/// the layout says it, any length.
pub(super) trait Leaf {
    fn size(&self) -> Size;
    /// How many of `bytes` belong to the field, for [`Size::Found`]; `None` when they end too early.
    fn extent(&self, bytes: &[u8]) -> Option<usize> {
        self.size().bytes().filter(|&n| n <= bytes.len())
    }
    fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen;
    fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError>;
    fn parse(&self, typed: &str) -> Result<Value, ValueError>;
    fn show(&self, value: &Value) -> String;
    /// What may be typed, in words.
    fn expects(&self) -> String;
    /// Whether the kind says nothing else about the order of its bytes than that they were picked in `order`.
    fn is_picked_in(&self, _order: ByteOrder) -> bool {
        true
    }
    /// What stands after the kind's name in its label: `16` in `Int 16`.
    fn measure(&self) -> Cow<'static, str> {
        match self.size() {
            Size::Bits(n) => n.to_string().into(),
            Size::Bytes(n) => n.to_string().into(),
            Size::Found | Size::Given => "".into(),
        }
    }
}

/// Declares the families: the one list of them.
macro_rules! families {
    ($($name:ident($type:ty),)*) => {
        #[derive(Debug, Clone, PartialEq)]
        pub(super) enum Family { $($name($type),)* }

        impl Family {
            fn leaf(&self) -> &dyn Leaf {
                match self { $(Family::$name(leaf) => leaf,)* }
            }
        }

        $(impl From<$type> for Family {
            fn from(leaf: $type) -> Self { Family::$name(leaf) }
        })*
    };
}

families! {
    Number(number::Number),
    Float(float::Float),
    Text(text::Text),
    Bcd(bcd::Bcd),
    Parts(parts::Parts),
    SixBit(letters::SixBit),
    TypeLength(typelength::TypeLength),
    Maker(maker::Maker),
    Bytes(bytes::Raw),
}

/// How the bytes of a field become a value and back.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    name: &'static str,
    family: Family,
    unit: Option<String>,
}

impl Kind {
    /// Reads `Int(bits: 16, signed: true)`, `Text(bytes: 16, pad: " ")`, `Guid`; what is wrong is added to
    /// `problems`.
    pub fn read(node: &Node, problems: &mut Vec<Problem>) -> Option<Kind> {
        let Some(row) = node.head().and_then(table::row) else {
            problems.push(Kind::unknown(node, []));
            return None;
        };
        let mut entries = Entries::of(node, row.name, problems)?;
        let family = (row.read)(&mut entries, problems);
        entries.finish(problems);
        Some(Kind { name: row.name, family: family?, unit: None })
    }

    /// The problem of a node that is neither a kind of the table nor one of `others`.
    pub fn unknown(node: &Node, others: impl IntoIterator<Item = &'static str>) -> Problem {
        let names: Vec<&str> = table::rows().map(|row| row.name).chain(others).collect();
        let expected = match node.head() {
            Some(_) => format!("one of {}", names.join(", ")),
            None => "a kind of field: Int(bits: 16)".to_string(),
        };
        Problem::new(node.head_span(), format!("{} is no kind of field", node.shown()), expected)
            .suggest(node.head().unwrap_or_default(), names)
    }

    /// The same kind with the entries `scale`, `offset` and `unit` of its field: the value shown is the stored
    /// number times the scale plus the offset. What is wrong is added to `problems`.
    pub fn presented(
        mut self,
        scale: Option<&Node>,
        offset: Option<&Node>,
        unit: Option<&Node>,
        problems: &mut Vec<Problem>,
    ) -> Option<Kind> {
        if let Some(unit) = unit {
            self.unit = Some(crate::notation::get::text(unit, "a unit", problems)?.to_string());
        }
        let Some(first) = scale.or(offset) else { return Some(self) };
        let scaling = Scaling::read(scale, offset, problems)?;
        let fault = match &mut self.family {
            Family::Number(number) => number.scaled(scaling),
            Family::Bcd(bcd) => bcd.scaled(scaling),
            _ => Err(format!("no scale on {}; only whole numbers have one", self.name)),
        };
        match fault {
            Ok(()) => Some(self),
            Err(expected) => {
                problems.push(Problem::new(
                    first.span,
                    format!("{} is not fit here", first.shown()),
                    expected,
                ));
                None
            }
        }
    }

    /// The kind's name in the table.
    #[must_use]
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// Whether the kind says nothing else about the order of its bytes than that they were picked in `order`.
    pub(crate) fn is_picked_in(&self, order: ByteOrder) -> bool {
        self.family.leaf().is_picked_in(order)
    }

    /// The unit of the value shown.
    #[must_use]
    pub fn unit(&self) -> Option<&str> {
        self.unit.as_deref()
    }

    /// The kind in a word and its size, for columns: `Int 16`, `Text 16`, `Guid`.
    #[must_use]
    pub fn label(&self) -> String {
        let measure = self.family.leaf().measure();
        if measure.is_empty() { self.name.to_string() } else { format!("{} {measure}", self.name) }
    }

    /// How many bytes a field of this kind has.
    #[must_use]
    pub fn size(&self) -> Size {
        self.family.leaf().size()
    }

    /// How many of `bytes`, counted from the first, belong to a field that begins there; `None` when they end
    /// too early or only the layout can tell.
    #[must_use]
    pub fn extent(&self, bytes: &[u8]) -> Option<usize> {
        self.family.leaf().extent(bytes)
    }

    /// What `bytes` say; `order` holds where the kind names no order of its own. Never panics: bytes of a wrong
    /// number are given back as they are, with the oddity.
    #[must_use]
    pub fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen {
        match self.size().bytes() {
            Some(wanted) if wanted != bytes.len() => Seen::nonsense(
                bytes,
                format!(
                    "{} where {} takes {}",
                    count(bytes.len(), "byte"),
                    self.label(),
                    count(wanted, "byte")
                ),
            ),
            _ => self.family.leaf().decode(bytes, order),
        }
    }

    /// The bytes that say `value`, in the place of `old`; bits that are not the field's own are kept, and
    /// nothing changes when `old` already says `value`. Only kinds of [`Size::Found`] may give another number of
    /// bytes than `old` has.
    ///
    /// # Errors
    /// When the value is of another kind, out of range or too long.
    pub fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        if self.decode(old, order).value == *value {
            return Ok(old.to_vec());
        }
        if let Some(wanted) = self.size().bytes()
            && wanted != old.len()
        {
            return Err(ValueError {
                what: format!("the field lies in {}", count(old.len(), "byte")),
                expected: format!("{} for {}", count(wanted, "byte"), self.label()),
            });
        }
        self.family.leaf().encode(value, old, order)
    }

    /// `over` with those bits of `bytes` that are the field's own; other bits stay as they are.
    #[must_use]
    pub(crate) fn laid(&self, bytes: &[u8], over: &[u8], order: ByteOrder) -> Vec<u8> {
        match &self.family {
            Family::Number(leaf) => leaf.laid(bytes, over, order),
            _ => bytes.to_vec(),
        }
    }

    /// What a number that the layout gathered from bits says: the field's bits stand lowest. Kinds that are no
    /// number see it as bytes, most significant first.
    #[must_use]
    pub fn decode_number(&self, number: u128) -> Seen {
        match (&self.family, self.size().bytes()) {
            (Family::Number(leaf), _) => leaf.seen(number as u64),
            (_, Some(n)) if n <= 16 => self.decode(&number.to_be_bytes()[16 - n..], ByteOrder::Big),
            _ => Seen::nonsense(
                &number.to_be_bytes(),
                format!("{} cannot be gathered from bits", self.label()),
            ),
        }
    }

    /// The number that says `value`, for the layout to spread over its bits; `old` is the number there now.
    ///
    /// # Errors
    /// As [`Kind::encode`].
    pub fn encode_number(&self, value: &Value, old: u128) -> Result<u128, ValueError> {
        if self.decode_number(old).value == *value {
            return Ok(old);
        }
        match (&self.family, self.size().bytes()) {
            (Family::Number(leaf), _) => Ok(u128::from(leaf.raw(value)?)),
            (_, Some(n)) if n <= 16 => {
                let bytes = self.encode(value, &old.to_be_bytes()[16 - n..], ByteOrder::Big)?;
                Ok(bytes.iter().fold(0, |number, &byte| number << 8 | u128::from(byte)))
            }
            _ => {
                Err(ValueError::foreign(value, format!("a kind that can be gathered, not {}", self.label())))
            }
        }
    }

    /// The value that `typed` means; the field's unit may stand behind a number.
    ///
    /// # Errors
    /// When it does not suit the kind: what is wrong, and what was expected.
    pub fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let leaf = self.family.leaf();
        let is_number = matches!(self.family, Family::Number(_) | Family::Float(_) | Family::Bcd(_));
        let unit = self.unit.as_deref().filter(|_| is_number);
        let bare = unit.and_then(|unit| typed.trim_end().strip_suffix(unit)).map(str::trim_end);
        match bare.filter(|bare| !bare.is_empty()) {
            // A word of a list or a hexadecimal number may end in the letters of the unit.
            Some(bare) => leaf.parse(typed).or_else(|_| leaf.parse(bare)),
            None => leaf.parse(typed),
        }
    }

    /// What may be typed, in words without a full stop: `a whole number from 0 to 255`.
    #[must_use]
    pub fn expects(&self) -> String {
        self.family.leaf().expects()
    }

    /// The text of `value`, without the unit, as it can be typed.
    #[must_use]
    pub fn show(&self, value: &Value) -> String {
        self.family.leaf().show(value)
    }

    /// The smallest and the largest value that can be stored, as shown; `None` for what is no number.
    #[must_use]
    pub fn range(&self) -> Option<(String, String)> {
        match &self.family {
            Family::Number(number) => number.range(),
            _ => None,
        }
    }
}

/// The text of a value that is none of the kind's own.
pub(super) fn shown_foreign(value: &Value) -> String {
    match value {
        Value::Int(n) => n.to_string(),
        Value::Decimal(d) => d.to_string(),
        Value::Real(r) => r.to_string(),
        Value::Text(text) => super::error::quoted(text),
        Value::Bytes(bytes) => hex(bytes),
        Value::Choice(n, label) => label.clone().unwrap_or_else(|| n.to_string()),
        Value::Flags(n, _) => n.to_string(),
        Value::Date(date) => date.to_string(),
    }
}
