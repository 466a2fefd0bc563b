//! The form of a stored number: how many bits, which byte stands first, how a sign is kept.

use crate::notation::{Entries, Problem, get};
use crate::span::ByteOrder;
use crate::wording::{count, does};

use super::table::{OptionDoc, option};

/// How a negative number is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sign {
    /// There are none.
    Unsigned,
    /// Two's complement.
    Twos,
    /// One's complement.
    Ones,
    /// The highest bit is the sign, the rest the size.
    Magnitude,
}

/// The form of a stored number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Form {
    pub bits: u32,
    pub sign: Sign,
    /// Which byte stands first; the layout's order when it is not said.
    order: Option<ByteOrder>,
    /// Which 16-bit word stands first, when words and their bytes differ in order.
    words: Option<ByteOrder>,
}

pub(super) const BITS: OptionDoc = option("bits", "how many bits, 1 to 64; or give bytes");
pub(super) const BYTES: OptionDoc = option("bytes", "how many bytes, 1 to 8; or give bits");
pub(super) const ORDER: OptionDoc = option("order", "Big or Little; the layout's order when left out");
pub(super) const WORDS: OptionDoc =
    option("words", "Big or Little: the order of 16-bit words, when it is not that of the bytes in them");
pub(super) const SIGNED: OptionDoc = option("signed", "true for two's complement; false when left out");
pub(super) const SIGN: OptionDoc =
    option("sign", "Twos, Ones or Magnitude: how a sign is stored, instead of signed");

impl Form {
    /// Takes `bits` or `bytes`, `order` and `words` from the entries.
    pub(super) fn read(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Form> {
        let bits = read_bits(entries, None, problems);
        Form::of(bits, entries, problems)
    }

    /// As [`Form::read`], with `bits` for when the entries do not say how many.
    pub(super) fn read_or(entries: &mut Entries<'_>, bits: u32, problems: &mut Vec<Problem>) -> Option<Form> {
        let bits = read_bits(entries, Some(bits), problems);
        Form::of(bits, entries, problems)
    }

    /// Takes `order` and `words` from the entries, for a number of bits that leaves no choice.
    pub(super) fn of(
        bits: Option<u32>,
        entries: &mut Entries<'_>,
        problems: &mut Vec<Problem>,
    ) -> Option<Form> {
        let mut order_of = |name| {
            entries.or(name, None, |node| get::word(node, &ByteOrder::WORDS, "an order", problems).map(Some))
        };
        let (order, words) = (order_of("order"), order_of("words"));
        let form = Form { bits: bits?, sign: Sign::Unsigned, order: order?, words: words? };
        if form.words.is_some() && !form.bits.is_multiple_of(16) {
            problems.push(Problem::new(
                entries.span(),
                format!(
                    "{} {} not fill 16-bit words",
                    count(form.bits as usize, "bit"),
                    does(form.bits as usize, "does", "do")
                ),
                "32, 48 or 64 bits where words is given",
            ));
            return None;
        }
        Some(form)
    }

    /// As [`Form::read`], with `signed` and `sign`.
    pub(super) fn read_signed(entries: &mut Entries<'_>, problems: &mut Vec<Problem>) -> Option<Form> {
        const SIGNS: &[(&str, Sign)] =
            &[("Twos", Sign::Twos), ("Ones", Sign::Ones), ("Magnitude", Sign::Magnitude)];
        let form = Form::read(entries, problems);
        let signed = entries.or("signed", false, |node| get::boolean(node, problems));
        let sign =
            entries.or("sign", None, |node| get::word(node, SIGNS, "a form of sign", problems).map(Some));
        let plain = if signed? { Sign::Twos } else { Sign::Unsigned };
        Some(Form { sign: sign?.unwrap_or(plain), ..form? })
    }

    /// The same form with an order of its own, where it has none.
    pub(super) fn or_order(mut self, order: ByteOrder) -> Form {
        self.order = self.order.or(Some(order));
        self
    }

    /// Whether the form says nothing else about the order of its bytes than that they were picked in `order`.
    pub(super) fn is_picked_in(&self, order: ByteOrder) -> bool {
        self.words.is_none() && self.order.is_none_or(|own| own == order)
    }

    pub(super) fn bytes(&self) -> usize {
        self.bits.div_ceil(8) as usize
    }

    /// The lowest `bits` bits set.
    pub(super) fn mask(&self) -> u64 {
        u64::MAX >> (64 - self.bits.clamp(1, 64))
    }

    /// Puts bytes in the order most significant first, or back: it is its own inverse.
    fn reorder(&self, bytes: &mut [u8], order: ByteOrder) {
        let order = self.order.unwrap_or(order);
        match self.words {
            None => {
                if order == ByteOrder::Little {
                    bytes.reverse();
                }
            }
            Some(words) => {
                if words == ByteOrder::Little {
                    bytes.reverse();
                }
                if words != order {
                    bytes.chunks_exact_mut(2).for_each(|word| word.swap(0, 1));
                }
            }
        }
    }

    /// The number that `bytes` form, all of their bits.
    fn whole(&self, bytes: &[u8], order: ByteOrder) -> u64 {
        let mut buffer = [0; 8];
        let n = bytes.len().min(8);
        buffer[..n].copy_from_slice(&bytes[..n]);
        self.reorder(&mut buffer[..n], order);
        buffer[..n].iter().fold(0, |number, &byte| number << 8 | u64::from(byte))
    }

    /// The field's bits out of its bytes.
    pub(super) fn gather(&self, bytes: &[u8], order: ByteOrder) -> u64 {
        self.whole(bytes, order) & self.mask()
    }

    /// The field's bits put into its bytes; other bits stay as they are in `old`.
    pub(super) fn spread(&self, raw: u64, old: &[u8], order: ByteOrder) -> Vec<u8> {
        let number = self.whole(old, order) & !self.mask() | raw & self.mask();
        let n = old.len().min(8);
        let mut bytes = number.to_be_bytes()[8 - n..].to_vec();
        self.reorder(&mut bytes, order);
        bytes
    }

    /// The signed number that the bits mean.
    pub(super) fn number(&self, raw: u64) -> i128 {
        let raw = raw & self.mask();
        let negative = raw >> (self.bits - 1) & 1 == 1;
        let span = 1i128 << self.bits;
        match self.sign {
            Sign::Twos if negative => i128::from(raw) - span,
            Sign::Ones if negative => i128::from(raw) - (span - 1),
            Sign::Magnitude if negative => -(i128::from(raw) - span / 2),
            _ => i128::from(raw),
        }
    }

    /// The bits that mean a number; `None` when it is out of range.
    pub(super) fn raw(&self, number: i128) -> Option<u64> {
        if number < self.least() || self.most() < number {
            return None;
        }
        let span = 1i128 << self.bits;
        let raw = match self.sign {
            _ if number >= 0 => number,
            Sign::Twos | Sign::Unsigned => number + span,
            Sign::Ones => number + span - 1,
            Sign::Magnitude => span / 2 - number,
        };
        u64::try_from(raw).ok()
    }

    /// The bits that are a number without a sign; `None` when it is out of range.
    pub(super) fn unsigned(&self, number: i128) -> Option<u64> {
        u64::try_from(number).ok().filter(|&n| n <= self.mask())
    }

    pub(super) fn least(&self) -> i128 {
        let half = 1i128 << (self.bits - 1);
        match self.sign {
            Sign::Unsigned => 0,
            Sign::Twos => -half,
            Sign::Ones | Sign::Magnitude => 1 - half,
        }
    }

    pub(super) fn most(&self) -> i128 {
        match self.sign {
            Sign::Unsigned => (1i128 << self.bits) - 1,
            Sign::Twos | Sign::Ones | Sign::Magnitude => (1i128 << (self.bits - 1)) - 1,
        }
    }
}

fn read_bits(entries: &mut Entries<'_>, default: Option<u32>, problems: &mut Vec<Problem>) -> Option<u32> {
    let (bits, bytes) = (entries.optional("bits"), entries.optional("bytes"));
    match (bits, bytes) {
        (Some(node), None) => get::int(node, 1..=64u32, "a number of bits", problems),
        (None, Some(node)) => get::int(node, 1..=8u32, "a number of bytes", problems).map(|n| n * 8),
        (Some(_), Some(node)) => {
            problems.push(
                Problem::new(node.span, "both bits and bytes are given", "one of the two")
                    .fix("take one out"),
            );
            None
        }
        (None, None) => {
            if default.is_none() {
                problems.push(Problem::new(entries.span(), "the size is missing", "bits: 16 or bytes: 2"));
            }
            default
        }
    }
}
