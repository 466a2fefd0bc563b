//! Did the chip take what was written? What was read back is held against what was approved.

use super::agreement::{self, Pattern};
use super::{blank, size};
use crate::chip::Chip;
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::span::Span;

/// What holding a read-back against the approved image came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Proof {
    /// What was seen.
    pub findings: Vec<Finding>,
    /// What the findings add up to.
    pub verdict: Verdict,
    /// The verdict in one sentence, without its full stop.
    pub sentence: String,
    /// Bytes that both have.
    pub bytes_compared: usize,
    /// The bytes that did not take; offsets of the read-back.
    pub differing: Vec<Span>,
}

impl Proof {
    /// How many bytes did not take.
    #[must_use]
    pub fn bytes_differing(&self) -> usize {
        self.differing.iter().map(|s| s.len()).sum()
    }
}

/// The images of a write.
#[derive(Debug, Clone, Copy)]
pub struct Write<'a> {
    /// What was read from the chip after the write.
    pub readback: &'a Image,
    /// What was to be written.
    pub approved: &'a Image,
    /// What the chip held before the write, when it is known.
    pub before: Option<&'a Image>,
}

/// Holds a read-back against the approved image and says what usually leads to the differences there are.
#[must_use]
pub fn prove(write: Write<'_>, chip: Option<&Chip>) -> Proof {
    let Write { readback, approved, before } = write;
    let mut findings: Vec<Finding> = chip.and_then(|c| size::check(readback.len(), c)).into_iter().collect();
    if readback.base() != approved.base() || readback.len() != approved.len() {
        findings.push(Finding::new(
            Weight::Fault,
            Code::WrongSize,
            format!(
                "{} bytes from 0x{:04X} were read back, but {} from 0x{:04X} were approved",
                readback.len(),
                readback.base(),
                approved.len(),
                approved.base()
            ),
            "another device was selected, or only a part was read back",
            "read back all of the chip with the device selected that is printed on it",
        ));
    }
    let (here, there) = aligned(readback, approved);
    let at: Vec<usize> = (0..here.bytes.len()).filter(|&i| here.bytes[i] != there.bytes[i]).collect();
    let differing: Vec<Span> = at
        .chunk_by(|a, b| a + 1 == *b)
        .filter_map(|run| Some(Span::new(*run.first()? + here.from, *run.last()? + 1 + here.from)))
        .collect();
    let bytes_compared = here.bytes.len();
    if at.is_empty() && findings.is_empty() {
        let sentence =
            format!("written exactly: all {bytes_compared} bytes that were read back are the approved ones");
        let note = Finding::new(
            Weight::Note,
            Code::WrittenExactly,
            format!("{bytes_compared} bytes were compared and none differs"),
            "the chip holds what was approved",
            "keep the read-back with the record of the job: `readproof docket image DOCKET READBACK --as read-back`",
        );
        return Proof { findings: vec![note], verdict: Verdict::Sound, sentence, bytes_compared, differing };
    }
    if !at.is_empty() {
        let differences = Differences {
            here: here.bytes,
            there: there.bytes,
            before: before
                .filter(|b| b.base() == readback.base() && b.len() == readback.len())
                .and_then(|b| b.bytes().get(here.from..here.from + bytes_compared)),
            at: &at,
        };
        let place = Span::new(at[0] + here.from, at[at.len() - 1] + 1 + here.from);
        findings.push(blank::check(readback).unwrap_or_else(|| differences.finding(chip)).at(place));
    }
    let sentence = match at.len() {
        0 => {
            "not proven: what both images have is equal, but they do not cover the same addresses".to_owned()
        }
        n => format!(
            "not written exactly: {n} of {bytes_compared} bytes did not take, from 0x{:04X} to 0x{:04X}",
            at[0] + here.from,
            at[at.len() - 1] + here.from
        ),
    };
    let verdict = Verdict::of(&findings);
    Proof { findings, verdict, sentence, bytes_compared, differing }
}

struct Part<'a> {
    bytes: &'a [u8],
    from: usize,
}

/// The parts of two images at the addresses that both have.
fn aligned<'a>(a: &'a Image, b: &'a Image) -> (Part<'a>, Part<'a>) {
    let start = a.base().max(b.base());
    let end = a.address(a.len()).min(b.address(b.len()));
    let part = |image: &'a Image| {
        let offset =
            |address: u64| usize::try_from(address.saturating_sub(image.base())).unwrap_or(usize::MAX);
        let from = offset(start).min(image.len());
        let to = offset(end).clamp(from, image.len());
        Part { bytes: &image.bytes()[from..to], from }
    };
    (part(a), part(b))
}

/// The largest page whose multiple a distance is.
fn page_of(shift: usize) -> usize {
    shift & shift.wrapping_neg()
}

/// What differs, for finding out why.
struct Differences<'a> {
    here: &'a [u8],
    there: &'a [u8],
    before: Option<&'a [u8]>,
    at: &'a [usize],
}

/// Bytes that must speak for a cause before it is named.
const LEAST_BYTES: usize = 4;
/// Largest page that a burst can wrap in.
const LARGEST_SHIFT: usize = 512;

impl Differences<'_> {
    fn finding(&self, chip: Option<&Chip>) -> Finding {
        let bytes = self.at.len();
        let all_old = self.before.is_some_and(|before| self.at.iter().all(|&i| self.here[i] == before[i]));
        if let Some((page, wrapped)) = self.page_wrap().filter(|_| !all_old) {
            let by_chip = match chip {
                Some(chip) if chip.page == page => format!(", which is the page of a {}", chip.name),
                _ => String::new(),
            };
            return Finding::new(
                Weight::Fault,
                Code::PageWrap,
                format!(
                    "{wrapped} of {bytes} differing bytes are those approved for a place further up, and pages of {page} bytes explain the distance"
                ),
                format!(
                    "more than one page was sent at a time, and the chip wrapped at the end of a page of {page} bytes{by_chip}"
                ),
                format!(
                    "select the right chip, with a page of {page} bytes (`readproof chips` lists them), write again, and read back again"
                ),
            );
        }
        if let Some(before) = self.before {
            if self.here == before {
                return self.protected(
                    "the chip still holds what it held before: nothing was written",
                    Code::OldContents,
                );
            }
            if all_old {
                // Protection keeps all of its block as it was, not only what differs.
                let kept = |&(from, _): &(usize, &str)| self.here.get(from..) == before.get(from..);
                return match self.block().filter(kept) {
                    Some((_, block)) => self.protected(
                        &format!("all {bytes} differing bytes hold what they held before, and all lie in {block} of the chip"),
                        Code::WriteProtected,
                    ),
                    None => self.protected(
                        &format!("all {bytes} differing bytes hold what they held before"),
                        Code::OldContents,
                    ),
                };
            }
        }
        if let Some(bit) = self.lost_bit() {
            return bit;
        }
        if let (Some((_, block)), true, None) = (self.block(), bytes >= LEAST_BYTES, self.before) {
            return self.protected(
                &format!("all {bytes} differing bytes lie in {block} of the chip"),
                Code::WriteProtected,
            );
        }
        self.unexplained()
    }

    fn protected(&self, seen: &str, code: Code) -> Finding {
        let means = match code {
            Code::WriteProtected => {
                "the write protection of that block is on: its pin, or bits of the status register"
            }
            _ => {
                "write protection is on, the write was not sent or not finished, or the supply was too weak for it"
            }
        };
        Finding::new(
            Weight::Fault,
            code,
            seen,
            means,
            "check the write-protect pin and the protection bits, write again, and read back again",
        )
    }

    /// The part of the chip that protection covers and that holds every difference: where it begins, and its name.
    fn block(&self) -> Option<(usize, &'static str)> {
        let (len, &first) = (self.here.len(), self.at.first()?);
        if !len.is_power_of_two() || len < 64 {
            None
        } else if first >= len / 4 * 3 {
            Some((len / 4 * 3, "the upper quarter"))
        } else if first >= len / 2 {
            Some((len / 2, "the upper half"))
        } else {
            None
        }
    }

    /// The page in which a burst wrapped, and how many bytes say so: what was approved for a place some pages
    /// further up stands here, from the beginning of a page to the last difference in it.
    fn page_wrap(&self) -> Option<(usize, usize)> {
        let (wrapped, shift) = (8..=LARGEST_SHIFT)
            .step_by(8)
            .map(|shift| (self.wrapped(shift), shift))
            .max_by_key(|(wrapped, shift)| (wrapped.len(), std::cmp::Reverse(*shift)))?;
        let mut values: Vec<u8> = wrapped.iter().map(|&i| self.here[i]).collect();
        values.sort_unstable();
        values.dedup();
        let enough = wrapped.len() >= LEAST_BYTES && values.len() >= 3 && wrapped.len() * 10 >= self.at.len();
        enough.then_some((page_of(shift), wrapped.len()))
    }

    /// The differing bytes in pages that hold what was approved for `shift` bytes further up.
    fn wrapped(&self, shift: usize) -> Vec<usize> {
        let page = page_of(shift);
        let wraps = |in_page: &&[usize]| {
            let (Some(first), Some(&last)) = (in_page.first(), in_page.last()) else { return false };
            let start = first / page * page;
            in_page.len() >= LEAST_BYTES
                && self.there.get(start + shift..=last + shift) == self.here.get(start..=last)
        };
        self.at.chunk_by(|a, b| a / page == b / page).filter(wraps).flatten().copied().collect()
    }

    fn lost_bit(&self) -> Option<Finding> {
        let bits = self.at.iter().fold(0, |bits, &i| bits | (self.here[i] ^ self.there[i]));
        let (up, down) = self.at.iter().fold((0_usize, 0_usize), |(up, down), &i| {
            let rose = self.here[i] & !self.there[i] != 0;
            (up + usize::from(rose), down + usize::from(!rose))
        });
        if !bits.is_power_of_two() {
            return None;
        }
        let direction = match (up, down) {
            (_, 0) => "1 where 0 was to be written",
            (0, _) => "0 where 1 was to be written",
            _ => "the other one than was to be written",
        };
        let bytes = self.at.len();
        Some(Finding::new(
            Weight::Fault,
            Code::BitLost,
            format!(
                "bit {} is {direction}, in {bytes} byte{}",
                bits.trailing_zeros(),
                if bytes == 1 { "" } else { "s" }
            ),
            "a cell that is worn or was not written fully, or a poor contact while reading back",
            "read back once more; if the same bit differs, write again, and if it stays, replace the chip",
        ))
    }

    fn unexplained(&self) -> Finding {
        let (here, there) = (Image::raw(self.here.to_vec()), Image::raw(self.there.to_vec()));
        let pattern =
            agreement::compare(&[&there, &here]).and_then(|a| a.flips.into_iter().next()).map(|f| f.pattern);
        let bytes = self.at.len();
        let (seen, means) = match pattern {
            Some(Pattern::Tail(span, value)) => (
                format!("from offset 0x{:04X} to the end everything is {value:02X}", span.start),
                "the write or the read-back broke off there",
            ),
            Some(Pattern::Transformed(transform)) => (
                format!("what was read back is the approved image once {}", transform.remedy()),
                "the write and the read-back were made with different settings",
            ),
            Some(Pattern::Burst(span)) => (
                format!("all {bytes} differing bytes lie in offsets {span}"),
                "a page that was not written: protection, a write that was cut short, or old contents left",
            ),
            _ => (
                format!("{bytes} bytes differ, with nothing in common"),
                "a poor contact while writing or reading back, or old contents left",
            ),
        };
        Finding::new(
            Weight::Fault,
            Code::WriteDiffers,
            seen,
            means,
            "read back once more; if the same bytes differ, write again and read back again",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn content(seed: usize) -> Vec<u8> {
        (0..1024_usize).map(|i| (((i + seed) * 167) ^ (i >> 2) ^ seed) as u8).collect()
    }

    fn proof(readback: Vec<u8>, before: Option<Vec<u8>>) -> Proof {
        let (readback, approved) = (Image::raw(readback), Image::raw(content(1)));
        let before = before.map(Image::raw);
        prove(Write { readback: &readback, approved: &approved, before: before.as_ref() }, None)
    }

    fn code(readback: Vec<u8>, before: Option<Vec<u8>>) -> Code {
        proof(readback, before).findings[0].code
    }

    #[test]
    fn equal_images_are_written_exactly() {
        let proof = proof(content(1), None);
        assert_eq!((proof.verdict, proof.findings[0].code), (Verdict::Sound, Code::WrittenExactly));
        assert_eq!(
            proof.sentence,
            "written exactly: all 1024 bytes that were read back are the approved ones"
        );
    }

    #[test]
    fn a_burst_over_the_page_wraps_and_the_page_is_named() {
        for (page, burst) in [(32, 64), (16, 64), (32, 128), (64, 128)] {
            let mut chip = content(77);
            for (n, &byte) in content(1).iter().enumerate() {
                let start = n / burst * burst;
                chip[start + n % burst % page] = byte;
            }
            let proof = proof(chip, Some(content(77)));
            assert_eq!(proof.findings[0].code, Code::PageWrap);
            assert!(proof.findings[0].means.contains(&format!("a page of {page} bytes")), "{proof:?}");
        }
    }

    #[test]
    fn protection_old_contents_and_lost_bits_are_told_apart() {
        let old = content(77);
        assert_eq!(code(old.clone(), Some(old.clone())), Code::OldContents);
        let mut quarter = content(1);
        quarter[768..].copy_from_slice(&old[768..]);
        assert_eq!(code(quarter.clone(), Some(old.clone())), Code::WriteProtected);
        assert_eq!(code(quarter, None), Code::WriteProtected);
        let mut page = content(1);
        page[64..96].copy_from_slice(&old[64..96]);
        assert_eq!(code(page.clone(), Some(old)), Code::OldContents);
        assert_eq!(code(page, None), Code::WriteDiffers);
        let mut bit = content(1);
        bit[500] ^= 0x10;
        assert_eq!(code(bit, None), Code::BitLost);
        assert_eq!(code(vec![0xFF; 1024], None), Code::Blank);
    }

    #[test]
    fn a_part_that_is_equal_proves_nothing_about_the_rest() {
        let proof = proof(content(1)[..512].to_vec(), None);
        assert_eq!((proof.verdict, proof.findings[0].code), (Verdict::Unsound, Code::WrongSize));
        assert!(proof.differing.is_empty() && proof.sentence.starts_with("not proven"));
    }
}
