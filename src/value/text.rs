//! Text: ASCII, Latin-1, UTF-8 and UTF-16, padded or ended by a mark.

use crate::notation::{Entries, NodeValue, Problem, get};
use crate::span::ByteOrder;
use crate::wording::{count, does};

use super::Value;
use super::bytes::read_bytes;
use super::characters::{Code, Typed, escaped, unescaped};
use super::error::ValueError;
use super::kind::{Leaf, Seen, Size, shown_foreign};
use super::table::{Row, big, little, option};

/// Text and how it fills its bytes.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Text {
    /// How many; found by the end mark, or said by the layout, when it is left out.
    bytes: Option<usize>,
    code: Code,
    order: Option<ByteOrder>,
    /// The unit that fills up what the text leaves.
    pad: u16,
    /// The text stands at the end of its bytes, the padding before it.
    right: bool,
    /// The unit that ends the text.
    end: Option<u16>,
    /// The two bytes of each 16-bit word stand in each other's place.
    swapped: bool,
}

impl Text {
    fn unit_bytes(&self) -> usize {
        if self.code == Code::Utf16 { 2 } else { 1 }
    }

    fn unit_name(&self, unit: u16) -> String {
        let width = self.unit_bytes() * 2;
        format!("{unit:0width$X}")
    }

    /// Bytes put right, or back, when they are stored swapped.
    fn turned(&self, bytes: &[u8]) -> Vec<u8> {
        let mut bytes = bytes.to_vec();
        if self.swapped {
            bytes.chunks_exact_mut(2).for_each(|word| word.swap(0, 1));
        }
        bytes
    }

    fn units(&self, bytes: &[u8], order: ByteOrder) -> Vec<u16> {
        let bytes = self.turned(bytes);
        match (self.code, self.order.unwrap_or(order)) {
            (Code::Utf16, ByteOrder::Big) => {
                bytes.chunks_exact(2).map(|w| u16::from_be_bytes([w[0], w[1]])).collect()
            }
            (Code::Utf16, ByteOrder::Little) => {
                bytes.chunks_exact(2).map(|w| u16::from_le_bytes([w[0], w[1]])).collect()
            }
            _ => bytes.into_iter().map(u16::from).collect(),
        }
    }

    fn bytes_of(&self, units: &[u16], order: ByteOrder) -> Vec<u8> {
        let bytes: Vec<u8> = match (self.code, self.order.unwrap_or(order)) {
            (Code::Utf16, ByteOrder::Big) => units.iter().flat_map(|u| u.to_be_bytes()).collect(),
            (Code::Utf16, ByteOrder::Little) => units.iter().flat_map(|u| u.to_le_bytes()).collect(),
            _ => units.iter().map(|u| u.to_be_bytes()[1]).collect(),
        };
        self.turned(&bytes)
    }

    /// The units of the text itself, and what is odd about its padding.
    fn body<'u>(&self, units: &'u [u16]) -> (&'u [u16], Option<String>) {
        if let Some(end) = self.end
            && let Some(place) = units.iter().position(|&u| u == end)
        {
            return (&units[..place], None);
        }
        self.unpadded(units)
    }

    /// The units without the padding, and what is odd about it.
    fn unpadded<'u>(&self, units: &'u [u16]) -> (&'u [u16], Option<String>) {
        let bare = self.stripped(units, self.pad);
        let blank = if self.code == Code::Utf16 { [0, 0xFFFF] } else { [0, 0xFF] };
        for other in blank.into_iter().filter(|&u| u != self.pad) {
            let rest = self.stripped(bare, other);
            if rest.is_empty() && !units.is_empty() && !bare.is_empty() {
                return (rest, Some(format!("blank: filled with {}", self.unit_name(other))));
            }
            if rest.len() < bare.len() {
                let (found, wanted) = (self.unit_name(other), self.unit_name(self.pad));
                return (
                    self.stripped(rest, self.pad),
                    Some(format!("padded with {found} where {wanted} belongs")),
                );
            }
        }
        (bare, None)
    }

    fn stripped<'u>(&self, mut units: &'u [u16], pad: u16) -> &'u [u16] {
        loop {
            match units {
                [first, rest @ ..] if self.right && *first == pad => units = rest,
                [rest @ .., last] if !self.right && *last == pad => units = rest,
                _ => return units,
            }
        }
    }

    /// The units for the parts of `typed`.
    fn typed_units(
        &self,
        typed: &str,
        parts: impl IntoIterator<Item = Typed>,
    ) -> Result<Vec<u16>, ValueError> {
        let mut units = Vec::new();
        for part in parts {
            match part {
                Typed::Byte(byte) => units.push(u16::from(byte)),
                Typed::Char(c) => {
                    let found = self.code.units(c).ok_or_else(|| {
                        let wrong =
                            format!("holds '{}', which is not in {}", c.escape_debug(), self.code.name());
                        ValueError::typed(typed, wrong, format!("{} characters", self.code.name()))
                    })?;
                    units.extend(found);
                }
            }
        }
        Ok(units)
    }

    /// Whether the units fit in `bytes` and hold no end mark.
    fn check(&self, units: &[u16], bytes: Option<usize>, typed: &str) -> Result<(), ValueError> {
        if let Some(end) = self.end
            && units.contains(&end)
        {
            let wrong = format!("holds {}, which ends the text", self.unit_name(end));
            return Err(ValueError::typed(typed, wrong, "text without it"));
        }
        if let Some(fit) = bytes.map(|b| b / self.unit_bytes())
            && units.len() > fit
        {
            let wrong = format!("has {}", self.code.units_of(units.len()));
            return Err(ValueError::typed(typed, wrong, format!("at most {fit}")));
        }
        Ok(())
    }

    fn value(&self, units: &[u16]) -> Seen {
        match self.code.decoded(units) {
            Ok(text) => {
                let control = text.chars().position(char::is_control);
                let oddity = control.map(|n| format!("a control character at place {}", n + 1));
                Seen { value: Value::Text(text), oddity }
            }
            Err((place, unit)) => {
                let bytes = units.iter().map(|u| u.to_be_bytes()[1]).collect();
                let oddity =
                    format!("{} at place {} is no {}", self.unit_name(unit), place + 1, self.code.name());
                Seen::odd(Value::Bytes(bytes), oddity)
            }
        }
    }
}

impl Leaf for Text {
    fn size(&self) -> Size {
        match (self.bytes, self.end) {
            (Some(bytes), _) => Size::Bytes(bytes),
            (None, Some(_)) => Size::Found,
            (None, None) => Size::Given,
        }
    }

    fn is_picked_in(&self, order: ByteOrder) -> bool {
        // What was picked is handed over with the most significant byte first.
        self.order.is_none_or(|own| own == order && own == ByteOrder::Big)
    }

    fn extent(&self, bytes: &[u8]) -> Option<usize> {
        if let Some(fixed) = self.bytes {
            return (fixed <= bytes.len()).then_some(fixed);
        }
        let end = self.end?;
        // The order of the layout is not known here; UTF-16 ends are looked for in both, and 0 is the same in both.
        let order = self.order.unwrap_or_default();
        let place = self.units(bytes, order).iter().position(|&u| {
            u == end || u.swap_bytes() == end && self.order.is_none() && self.code == Code::Utf16
        })?;
        Some((place + 1) * self.unit_bytes())
    }

    fn decode(&self, bytes: &[u8], order: ByteOrder) -> Seen {
        if !bytes.len().is_multiple_of(self.unit_bytes()) {
            return Seen::nonsense(bytes, "an odd number of bytes for UTF-16");
        }
        let units = self.units(bytes, order);
        let (body, padding) = self.body(&units);
        let mut seen = self.value(body);
        if let Value::Bytes(stored) = &mut seen.value
            && self.code == Code::Utf16
        {
            *stored = bytes.to_vec();
        }
        seen.oddity = seen.oddity.or(padding);
        seen
    }

    fn encode(&self, value: &Value, old: &[u8], order: ByteOrder) -> Result<Vec<u8>, ValueError> {
        let mut units = match value {
            Value::Text(text) => self.typed_units(text, text.chars().map(Typed::Char))?,
            Value::Bytes(bytes) if self.code == Code::Utf16 && bytes.len() == old.len() => {
                return Ok(bytes.clone());
            }
            Value::Bytes(bytes) if self.code != Code::Utf16 => bytes.iter().map(|&b| u16::from(b)).collect(),
            other => return Err(ValueError::foreign(other, format!("{} text", self.code.name()))),
        };
        let found = self.size() == Size::Found;
        self.check(&units, (!found).then_some(old.len()), &self.show(value))?;
        if found {
            units.extend(self.end);
            return Ok(self.bytes_of(&units, order));
        }
        let fit = old.len() / self.unit_bytes();
        if let Some(end) = self.end
            && units.len() < fit
        {
            units.push(end);
        }
        let missing = fit - units.len().min(fit);
        if self.right {
            units.splice(0..0, std::iter::repeat_n(self.pad, missing));
        } else {
            units.extend(std::iter::repeat_n(self.pad, missing));
        }
        Ok(self.bytes_of(&units, order))
    }

    /// Text as it is; `\x0A` stands for a byte and `\\` for a backslash.
    fn parse(&self, typed: &str) -> Result<Value, ValueError> {
        let units = self.typed_units(typed, unescaped(typed))?;
        // Text that leaves no room for its end mark is read up to its padding, so padding at its end would be lost.
        let fills = self.bytes.is_some_and(|bytes| units.len() * self.unit_bytes() >= bytes);
        let (body, blank) =
            if self.end.is_some() && !fills { (&units[..], None) } else { self.unpadded(&units) };
        if blank.is_some() {
            let side = if self.right { "begins" } else { "ends" };
            let wrong = format!("{side} with what is read as blank");
            return Err(ValueError::typed(typed, wrong, "text without it"));
        }
        self.check(body, self.bytes, typed)?;
        let seen = self.value(body);
        if self.code == Code::Utf16 && matches!(seen.value, Value::Bytes(_)) {
            return Err(ValueError::typed(typed, "is no UTF-16 text", "whole characters"));
        }
        Ok(seen.value)
    }

    fn expects(&self) -> String {
        match self.bytes {
            Some(bytes) => format!("at most {}", self.code.units_of(bytes / self.unit_bytes())),
            None => format!("{} text", self.code.name()),
        }
    }

    fn show(&self, value: &Value) -> String {
        match value {
            Value::Text(text) => escaped(text),
            Value::Bytes(bytes) if self.code != Code::Utf16 => bytes
                .iter()
                .map(|&b| match b {
                    b'\\' => "\\\\".to_string(),
                    0x20..=0x7E => char::from(b).to_string(),
                    _ => format!("\\x{b:02X}"),
                })
                .collect(),
            other => shown_foreign(other),
        }
    }
}

/// A unit: one character in a string, or a number.
fn unit(node: &crate::notation::Node, code: Code, what: &str, problems: &mut Vec<Problem>) -> Option<u16> {
    let most = if code == Code::Utf16 { 0xFFFF } else { 0xFF };
    let found = match &node.value {
        NodeValue::Text(text) => {
            let mut chars = text.chars();
            chars.next().filter(|_| chars.next().is_none()).and_then(|c| u16::try_from(u32::from(c)).ok())
        }
        NodeValue::Char(c) => u16::try_from(u32::from(*c)).ok(),
        _ => get::as_integer(node).and_then(|n| u16::try_from(n).ok()),
    };
    let found = found.filter(|&u| u <= most);
    if found.is_none() {
        problems.push(Problem::unfit(
            node,
            format!("{what}: one character in quotes, or a number from 0 to {most}"),
        ));
    }
    found
}

fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Text> {
    const SIDES: &[(&str, bool)] = &[("Left", false), ("Right", true)];
    let bytes = read_bytes(entries, problems);
    let code = entries.or("code", Code::Ascii, |node| get::word(node, Code::WORDS, "a code", problems));
    let wide = code.unwrap_or(Code::Utf16);
    let pad = entries.or("pad", 0, |node| unit(node, wide, "what fills up the text", problems));
    let end = entries.or("end", None, |node| unit(node, wide, "what ends the text", problems).map(Some));
    let right = entries.or("align", false, |node| get::word(node, SIDES, "a side", problems));
    let swapped = entries.or("swapped", false, |node| get::boolean(node, problems));
    let order =
        entries.or("order", None, |node| get::word(node, &ByteOrder::WORDS, "an order", problems).map(Some));
    let (bytes, code, swapped) = (bytes?, code?, swapped?);
    let text = Text { bytes, code, order: order?, pad: pad?, right: right?, end: end?, swapped };
    let wrong = match bytes {
        Some(bytes) if bytes % 2 != 0 && (code == Code::Utf16 || swapped) => Some((
            format!("{} {} no whole words", count(bytes, "byte"), does(bytes, "is", "are")),
            "an even number of bytes",
        )),
        _ if text.right && text.end.is_some() => {
            Some(("text that ends with a mark stands left".to_string(), "align or end, not both"))
        }
        None if swapped && text.end.is_some() => {
            Some(("the end of swapped text cannot be found".to_string(), "bytes beside swapped"))
        }
        _ => None,
    };
    if let Some((wrong, expected)) = wrong {
        problems.push(Problem::new(entries.span(), wrong, expected));
        return None;
    }
    Some(text)
}

/// `Text`.
pub(super) const ROWS: &[Row] = &[Row {
    name: "Text",
    doc: "Text; what its characters leave of the bytes is padding",
    options: &[
        option(
            "bytes",
            "how many; left out where the text has an end mark or the layout says it in another way",
        ),
        option("code", "Ascii, Latin1, Utf8 or Utf16; Ascii when left out"),
        option("pad", "what fills up the text, one character in quotes or a number; 0 when left out"),
        option("align", "Left or Right: where the text stands in its bytes; Left when left out"),
        option("end", "what ends the text, one character in quotes or a number; nothing when left out"),
        option(
            "swapped",
            "true when the bytes of each 16-bit word stand in each other's place; false when left out",
        ),
        option("order", "Big or Little, for Utf16; the layout's order when left out"),
    ],
    examples: &[
        big(
            "Text(bytes: 8, pad: \" \")",
            "46 4B 2D 37 20 20 20 20",
            "FK-7",
            "ISO/IEC 646; padding is common practice, no source",
        ),
        big(
            "Text(bytes: 8, end: 0x0A, pad: \" \")",
            "46 4B 2D 37 0A 20 20 20",
            "FK-7",
            "the form of text in the display descriptors of VESA E-EDID release A.2",
        ),
        big("Text(bytes: 6, align: Right, pad: \"0\")", "30 30 30 34 31 32", "412", "invented"),
        big("Text(bytes: 6, code: Latin1)", "36 2E 35 20 B0 43", "6.5 °C", "ISO/IEC 8859-1"),
        little("Text(bytes: 8, code: Utf16)", "46 00 4B 00 37 00 00 00", "FK7", "ISO/IEC 10646, UTF-16LE"),
        big(
            "Text(bytes: 8, swapped: true, pad: \" \")",
            "4B 46 37 2D 20 20 20 20",
            "FK-7",
            "the word order of strings in ATA identify data, INCITS ACS",
        ),
        big("Text(end: 0)", "46 4B 2D 37 00", "FK-7", "common practice, no source"),
        big("Text(bytes: 4)", "46 5C 80 4B", r"F\\\x80K", "invented; 80 is no ASCII"),
    ],
    read: |entries, problems| read(entries, problems).map(Into::into),
}];
