//! Records that stand one behind the other, each with its length before it: how variable texts are kept.
//!
//! A length is a number like any other. What tells is that it ends exactly where a text ends, and that another such
//! record begins there. Every offset is taken as the header of a record in every form; from the end of the image
//! backwards, each header adds what it explains to what the chain behind it explains.

use super::watch::Watch;
use super::{Kind, Region, labels, weigh};
use crate::find::Encoding;
use crate::find::encoding::View;
use crate::span::{ByteOrder, Span};

/// How the header of a record says its length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Header {
    /// One byte with the length in six bits and the coding of what follows in the two above; C1 hex ends the chain.
    TypeLength,
    /// Bytes of a tag, then the length in this many bytes.
    Tagged {
        /// Bytes of the tag.
        tag: usize,
        /// Bytes of the length.
        length: usize,
        /// Which byte of the length stands first.
        order: ByteOrder,
    },
}

impl Header {
    /// Every form that is looked for.
    const ALL: [Header; 8] = [
        Header::TypeLength,
        Header::Tagged { tag: 0, length: 1, order: ByteOrder::Big },
        Header::Tagged { tag: 1, length: 1, order: ByteOrder::Big },
        Header::Tagged { tag: 2, length: 1, order: ByteOrder::Big },
        Header::Tagged { tag: 1, length: 2, order: ByteOrder::Big },
        Header::Tagged { tag: 1, length: 2, order: ByteOrder::Little },
        Header::Tagged { tag: 2, length: 2, order: ByteOrder::Big },
        Header::Tagged { tag: 2, length: 2, order: ByteOrder::Little },
    ];

    /// Bytes of the header.
    const fn bytes(self) -> usize {
        match self {
            Header::TypeLength => 1,
            Header::Tagged { tag, length, .. } => tag + length,
        }
    }

    /// The words for it.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Header::TypeLength => "a byte of coding and length before each".to_owned(),
            Header::Tagged { tag: 0, .. } => "a byte of length before each".to_owned(),
            Header::Tagged { tag, length, order } => {
                let order = if length == 1 { String::new() } else { format!(", {}", order.words()) };
                let tag = if tag == 1 { "a byte of tag".to_owned() } else { format!("{tag} bytes of tag") };
                let length =
                    if length == 1 { "one of length".to_owned() } else { format!("{length} of length") };
                format!("{tag} and {length} before each{order}")
            }
        }
    }

    /// The bytes that the header at `at` says are its own; `None` where no record can begin.
    fn payload(self, bytes: &[u8], at: usize) -> Option<Span> {
        let header = bytes.get(at..at + self.bytes())?;
        let length = match self {
            Header::TypeLength if header[0] == 0xC1 => return None,
            Header::TypeLength => usize::from(header[0] & 0x3F),
            Header::Tagged { tag, length, order } => order.number_u64(&header[tag..tag + length]) as usize,
        };
        let payload = Span::of(at + self.bytes(), length);
        (payload.end <= bytes.len() && !header.iter().all(|&b| b == 0xFF)).then_some(payload)
    }
}

/// The chain that begins at an offset.
#[derive(Clone, Copy, Default)]
struct Chain {
    bits: f32,
    records: u32,
    texts: u32,
    end: usize,
}

/// The fewest bits and texts of a chain that is told.
const LEAST_BITS: f32 = 13.0;
const LEAST_TEXTS: u32 = 2;
/// The longest text of a record.
const LONGEST_TEXT: usize = 256;

/// Chains of records, and the texts in them, each with exactly the bytes that its length says.
pub(super) fn linked(bytes: &[u8], watch: Watch<'_>) -> Vec<Region> {
    let printable: Vec<bool> = bytes.iter().map(|b| (0x20..0x7F).contains(b)).collect();
    // up_to[i]: printable bytes before offset i.
    let mut up_to = Vec::with_capacity(bytes.len() + 1);
    up_to.push(0u32);
    for &p in &printable {
        up_to.push(up_to.last().copied().unwrap_or(0) + u32::from(p));
    }
    let scene = Scene { bytes, printable, up_to };
    let mut found = Vec::new();
    for (n, header) in Header::ALL.into_iter().enumerate() {
        if !watch.goes_on(n as f64 / Header::ALL.len() as f64) {
            break;
        }
        found.extend(scene.of(header));
    }
    found
}

struct Scene<'a> {
    bytes: &'a [u8],
    printable: Vec<bool>,
    up_to: Vec<u32>,
}

impl Scene<'_> {
    fn of(&self, header: Header) -> Vec<Region> {
        let mut chains = vec![Chain::default(); self.bytes.len() + 1];
        for at in (0..self.bytes.len()).rev() {
            let Some(payload) = header.payload(self.bytes, at) else { continue };
            let behind = chains[payload.end];
            let text = self.text_bits(header, at, payload, behind.texts > 0);
            // A record that holds no text is possible, but each is one more that need not be one.
            let bits = text.unwrap_or(-2.5) + behind.bits;
            // Zeros are headers of empty records without end.
            let empty = payload.is_empty() && text.is_none() && behind.records == 0;
            if bits > 0.0 && !empty {
                chains[at] = Chain {
                    bits,
                    records: behind.records + 1,
                    texts: behind.texts + u32::from(text.is_some()),
                    end: if behind.records > 0 { behind.end } else { payload.end },
                };
            }
        }
        let mut best: Vec<(usize, Chain)> = chains
            .into_iter()
            .enumerate()
            .filter(|(_, c)| c.bits >= LEAST_BITS && c.texts >= LEAST_TEXTS && c.texts * 3 >= c.records)
            .collect();
        best.sort_by(|a, b| b.1.bits.total_cmp(&a.1.bits).then(a.0.cmp(&b.0)));
        let mut taken = vec![false; self.bytes.len()];
        let mut found = Vec::new();
        for (at, chain) in best {
            if !taken[at] && !taken[chain.end - 1] {
                taken[at..chain.end].fill(true);
                found.extend(self.told(header, at, chain));
            }
        }
        found
    }

    /// Bits by which the length at `at` explains a text: that it ends, and that it begins, where the printable bytes
    /// do; `goes_on` tells that another text follows in the chain. `None` when what it holds is no text.
    fn text_bits(&self, header: Header, at: usize, payload: Span, goes_on: bool) -> Option<f32> {
        if !(2..=LONGEST_TEXT).contains(&payload.len()) {
            return None;
        }
        if header == Header::TypeLength {
            match self.bytes[at] >> 6 {
                2 => return (payload.len() >= 3 && six_bit(self.bytes, payload).is_some()).then_some(3.0),
                3 => {}
                _ => return None,
            }
        }
        let inside = |from: usize, to: usize| (self.up_to[to] - self.up_to[from]) as usize;
        // Padding behind the text belongs to it.
        let mut end = payload.end;
        while end > payload.start && self.bytes[end - 1] == 0x00 {
            end -= 1;
        }
        if end - payload.start < 2 || inside(payload.start, end) != end - payload.start {
            return None;
        }
        let is = |at: Option<usize>| at.and_then(|at| self.printable.get(at)).copied().unwrap_or(false);
        let begins = if is(payload.start.checked_sub(1)) { 0.0 } else { 1.5 };
        // Behind a text the tag of the next one may be printable.
        let ends = match is(Some(payload.end)) {
            false => 4.0,
            true if goes_on && begins > 0.0 => 2.0,
            true if begins > 0.0 => 0.0,
            true => return None,
        };
        let held = &self.bytes[payload.start..end];
        let plain = held.iter().filter(|c| c.is_ascii_alphanumeric() || **c == b' ').count();
        if plain * 2 < held.len() || held.iter().all(|b| *b == held[0]) && held.len() > 2 {
            return None;
        }

        // The two bits of the coding agree with what it holds.
        let coded = if header == Header::TypeLength { 2.0 } else { 0.0 };
        let length = if held.len() >= 4 { 1.0 } else { -0.5 };
        Some(ends + begins + coded + length)
    }

    /// The regions of a chain: itself, and its texts.
    fn told(&self, header: Header, at: usize, chain: Chain) -> Vec<Region> {
        // Every offset was tried in every form; chains through real data agree oftener than through random bytes.
        let tries = (self.bytes.len() * Header::ALL.len()) as f64;
        let chance = tries * (-f64::from(chain.bits)).exp2();
        let mut found = vec![Region {
            at: Span::new(at, chain.end),
            kind: Kind::Linked { header, records: chain.records as usize },
            evidence: format!(
                "{} records, {}; {} of the lengths end where a text ends",
                chain.records,
                header.words(),
                chain.texts
            ),
            chance,
        }];
        let mut next = at;
        while next < chain.end {
            let Some(payload) = header.payload(self.bytes, next) else { break };
            if self.text_bits(header, next, payload, true).is_some() {
                found.extend(self.text(header, next, payload, chance));
            }
            next = payload.end.max(next + 1);
        }
        found
    }

    fn text(&self, header: Header, at: usize, payload: Span, chance: f64) -> Option<Region> {
        let held = &self.bytes[payload.range()];
        let is_six = header == Header::TypeLength && self.bytes[at] >> 6 == 2;
        let (shown, encoding) = if is_six {
            (six_bit(self.bytes, payload)?, Encoding::SixBit { high_first: false, from_space: true })
        } else {
            let text = String::from_utf8_lossy(held);
            (text.trim_matches([' ', '\0']).to_owned(), Encoding::Text)
        };
        let (label, why) = labels::label(&shown);
        let why = why.map(|w| format!("; {w}")).unwrap_or_default();
        Some(Region {
            at: payload,
            evidence: format!(
                "{} characters, {}, with their length before them{why}",
                shown.chars().count(),
                encoding.words()
            ),
            kind: Kind::Text { encoding, text: shown, label },
            // The same text was found without its length as well; this is the better way to see it.
            chance: (self.bytes.len() as f64 * weigh::plain_chance(held)).min(1.0) * chance.min(1e-2),
        })
    }
}

/// The six-bit text in these bytes, if it is one that a person would write.
fn six_bit(bytes: &[u8], at: Span) -> Option<String> {
    let symbols = View::SixBits { high_first: false, phase: 0 }.symbols(at.of_bytes(bytes)?);
    let text = String::from_utf8_lossy(&symbols).trim().to_owned();
    let fits = |c: char| matches!(c, 'A'..='Z' | '0'..='9' | ' ' | '-' | '.' | '/');
    (text.len() >= 3 && text.chars().all(fits)).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(chain: &[u8]) -> Vec<Region> {
        let mut bytes = vec![0xFF; 256];
        bytes[40..40 + chain.len()].copy_from_slice(chain);
        linked(&bytes, Watch::nobody())
    }

    fn texts(regions: &[Region]) -> Vec<(usize, String)> {
        let text = |r: &Region| match &r.kind {
            Kind::Text { text, .. } => Some((r.at.start, text.clone())),
            _ => None,
        };
        let all: std::collections::BTreeSet<(usize, String)> = regions.iter().filter_map(text).collect();
        all.into_iter().collect()
    }

    fn told(texts: &[(usize, &str)]) -> Vec<(usize, String)> {
        texts.iter().map(|(at, text)| (*at, (*text).to_owned())).collect()
    }

    #[test]
    fn tagged_records_are_followed_from_length_to_length() {
        let mut chain = Vec::new();
        for (tag, text) in [(0x21, "CR8 board"), (0x22, "FK-CR8-2047B"), (0x23, "2207140312")] {
            chain.extend([tag, text.len() as u8]);
            chain.extend(text.as_bytes());
        }
        let regions = found(&chain);
        assert_eq!(texts(&regions), told(&[(42, "CR8 board"), (53, "FK-CR8-2047B"), (67, "2207140312")]));
        let header = Header::Tagged { tag: 1, length: 1, order: ByteOrder::Big };
        let at = Span::of(40, chain.len());
        assert!(regions.iter().any(|r| r.kind == Kind::Linked { header, records: 3 } && r.at == at));
    }

    #[test]
    fn a_byte_of_coding_and_length_is_read_with_its_six_bit_texts() {
        // The worked example "IPMI" of the Platform Management FRU Information Storage Definition, section 13.3.
        let mut chain = vec![0xC7];
        chain.extend(b"Kestrel");
        chain.extend([0x83, 0x29, 0xDC, 0xA6, 0xC6]);
        chain.extend(b"AM4010");
        chain.push(0xC1);
        assert_eq!(texts(&found(&chain)), told(&[(41, "Kestrel"), (49, "IPMI"), (53, "AM4010")]));
    }

    #[test]
    fn texts_without_lengths_are_no_chain() {
        assert!(found(b"\x01COLD ROOM CTRL\x02FK-CR8-2047B\x03STORE").is_empty());
        assert!(linked(&[0; 64], Watch::nobody()).is_empty());
        assert!(linked(&[], Watch::nobody()).is_empty());
    }
}
