//! Did the chip take what was written? What was read back is held against what was approved.

use super::pattern::Pattern;
use super::{blank, size};
use crate::chip::Chip;
use crate::compare::{Differences, common_base};
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::{address, count};

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
    /// Adds findings from elsewhere, such as remarks on the files, and judges anew.
    pub fn add(&mut self, findings: impl IntoIterator<Item = Finding>) {
        let before = self.verdict;
        self.findings.extend(findings);
        self.verdict = Verdict::of(&self.findings);
        let heaviest = self.findings.iter().max_by_key(|f| f.weight).filter(|_| self.verdict > before);
        if let Some(heaviest) = heaviest {
            self.sentence = format!("{}; but {}", self.sentence, heaviest.seen);
        }
    }

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
    // From one first address on; the gap that this puts in front of a read-back is taken off every place that is told.
    let framed = common_base(readback, approved);
    let (here, there) = framed.as_ref().map_or((readback, approved), |(here, there)| (&**here, &**there));
    let front = here.len() - readback.len();
    let differences = match framed {
        Some(_) => Differences::between(here, there),
        None => Differences::default(),
    };
    findings.extend(other_places(readback, approved, &differences));
    if readback.is_empty() {
        findings.extend(blank::check(readback));
    }
    let differing: Vec<Span> =
        differences.changed.iter().map(|s| Span::new(s.start - front, s.end - front)).collect();
    let bytes_compared = differences.common_bytes;
    let proof = |findings: Vec<Finding>, sentence: String| Proof {
        verdict: Verdict::of(&findings),
        findings,
        sentence,
        bytes_compared,
        differing: differing.clone(),
    };
    let (Some(first), Some(last)) = (differing.first(), differing.last()) else {
        if !findings.is_empty() {
            let sentence =
                "not proven: what both images have is equal, but they do not cover the same addresses";
            return proof(findings, sentence.to_owned());
        }
        let note = Finding::new(
            Weight::Note,
            Code::WrittenExactly,
            format!("{bytes_compared} bytes were compared and none differs"),
            "the chip holds what was approved",
            "keep the read-back with the record of the job: `readproof docket image DOCKET READBACK --as read-back`",
        );
        return proof(vec![note], exactly(bytes_compared, &differences));
    };
    let cause = || {
        let at: Vec<usize> = differences.changed.iter().flat_map(|s| s.range()).collect();
        let before = before.filter(|b| (b.base(), b.len()) == (here.base(), here.len())).map(Image::bytes);
        Cause { here, there, before, at: &at, front }.finding(chip)
    };
    let place = Span::new(first.start, last.end);
    findings.push(blank::check(readback).unwrap_or_else(cause).at(place));
    let sentence = format!(
        "not written exactly: {} of {bytes_compared} bytes did not take, from 0x{:04X} to 0x{:04X}",
        differences.changed_bytes(),
        place.start,
        place.end - 1
    );
    proof(findings, sentence)
}

fn exactly(bytes: usize, differences: &Differences) -> String {
    match differences.only_before.iter().map(|s| s.len()).sum() {
        0_usize => format!("written exactly: all {bytes} bytes that were read back are the approved ones"),
        more => format!(
            "written exactly: all {bytes} approved bytes were read back; for {more} more that were read back nothing was approved"
        ),
    }
}

/// That the two images do not have bytes at the same addresses. Where the approved image has gaps inside, nothing was to
/// be written there, and what the chip holds there is no fault.
fn other_places(readback: &Image, approved: &Image, differences: &Differences) -> Option<Finding> {
    let missing: usize = differences.only_after.iter().map(|s| s.len()).sum();
    let seen = if readback.base() != approved.base() || readback.len() != approved.len() {
        format!(
            "{} bytes from {} were read back, but {} from {} were approved",
            readback.len(),
            address(readback.base()),
            approved.len(),
            address(approved.base())
        )
    } else if let Some(first) = differences.only_after.first() {
        format!(
            "{} of the approved image {} not read back, the first at {}",
            count(missing, "byte"),
            if missing == 1 { "was" } else { "were" },
            address(approved.address(first.start))
        )
    } else {
        return None;
    };
    Some(Finding::new(
        Weight::Fault,
        Code::WrongSize,
        seen,
        "another device was selected, or only a part was read back",
        "read back all of the chip with the device selected that is printed on it",
    ))
}

/// The largest page whose multiple a distance is.
fn page_of(shift: usize) -> usize {
    shift & shift.wrapping_neg()
}

/// What differs, for finding out why.
struct Cause<'a> {
    /// What was read back, and what was approved, from the same address on.
    here: &'a Image,
    there: &'a Image,
    before: Option<&'a [u8]>,
    /// Where they differ.
    at: &'a [usize],
    /// Bytes of the gap that was put in front of what was read back.
    front: usize,
}

/// Bytes that must speak for a cause before it is named.
const LEAST_BYTES: usize = 4;
/// Largest page that a burst can wrap in.
const LARGEST_SHIFT: usize = 512;

impl Cause<'_> {
    fn here(&self, at: usize) -> Option<u8> {
        self.here.bytes().get(at).copied()
    }

    fn finding(&self, chip: Option<&Chip>) -> Finding {
        let bytes = self.at.len();
        let all_old =
            self.before.is_some_and(|before| self.at.iter().all(|&i| self.here(i) == before.get(i).copied()));
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
            if self.here.bytes() == before {
                return self.protected(
                    "the chip still holds what it held before: nothing was written",
                    Code::OldContents,
                );
            }
            if all_old {
                // Protection keeps all of its block as it was, not only what differs.
                let kept = |&(from, _): &(usize, &str)| self.here.bytes().get(from..) == before.get(from..);
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
        let mut values: Vec<u8> = wrapped.iter().filter_map(|&i| self.here(i)).collect();
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
                && self.there.bytes().get(start + shift..=last + shift) == self.here.bytes().get(start..=last)
        };
        self.at.chunk_by(|a, b| a / page == b / page).filter(wraps).flatten().copied().collect()
    }

    fn lost_bit(&self) -> Option<Finding> {
        let [here, there] = [self.here, self.there].map(Image::bytes);
        let bits = self.at.iter().fold(0, |bits, &i| bits | (here[i] ^ there[i]));
        if !bits.is_power_of_two() {
            return None;
        }
        let up = self.at.iter().filter(|&&i| here[i] & bits != 0).count();
        let bytes = self.at.len();
        let direction = match up {
            0 => "0 where 1 was to be written",
            n if n == bytes => "1 where 0 was to be written",
            _ => "the other one than was to be written",
        };
        Some(Finding::new(
            Weight::Fault,
            Code::BitLost,
            format!("bit {} is {direction}, in {}", bits.trailing_zeros(), count(bytes, "byte")),
            "a cell that is worn or was not written fully, or a poor contact while reading back",
            "read back once more; if the same bit differs, write again, and if it stays, replace the chip",
        ))
    }

    fn unexplained(&self) -> Finding {
        let (here, there) = (self.here.bytes(), self.there.bytes());
        let len = here.len().min(there.len());
        let bytes = self.at.len();
        let told = |span: Span| Span::new(span.start - self.front, span.end - self.front);
        let (seen, means) = match Pattern::of(&here[..len], &there[..len], self.at, 0) {
            Pattern::Tail(span, value) => (
                format!(
                    "from offset {} to the end everything is {value:02X}",
                    address(told(span).start as u64)
                ),
                "the write or the read-back broke off there",
            ),
            Pattern::Transformed(transform) => (
                format!("what was read back is the approved image once {}", transform.remedy()),
                "the write and the read-back were made with different settings",
            ),
            Pattern::Burst(span) => (
                format!("all {bytes} differing bytes lie in offsets {}", told(span)),
                "a page that was not written: protection, a write that was cut short, or old contents left",
            ),
            _ => (
                format!(
                    "{} {}, with nothing in common",
                    count(bytes, "byte"),
                    if bytes == 1 { "differs" } else { "differ" }
                ),
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

    #[test]
    fn bytes_that_were_not_read_back_are_not_proven_and_where_nothing_was_approved_nothing_is_wrong() {
        let gap = vec![Span::new(64, 80)];
        let mut whole = content(1);
        whole[64..80].fill(0xFF);
        let (whole, cut) = (Image::raw(whole.clone()), Image::with_gaps(0, whole, gap));
        let proof = |readback, approved| prove(Write { readback, approved, before: None }, None);
        let missing = proof(&cut, &whole);
        assert_eq!((missing.verdict, missing.bytes_compared), (Verdict::Unsound, 1008));
        assert!(missing.sentence.starts_with("not proven"), "{}", missing.sentence);
        assert_eq!(
            missing.findings[0].seen,
            "16 bytes of the approved image were not read back, the first at 0x0040"
        );
        let old = Image::raw(content(1));
        let spare = proof(&old, &cut);
        assert_eq!((spare.verdict, spare.differing.len()), (Verdict::Sound, 0), "{spare:?}");
        assert!(spare.sentence.contains("16 more"), "{}", spare.sentence);
    }

    #[test]
    fn places_are_offsets_of_the_read_back_wherever_it_begins() {
        let mut bytes = content(1);
        bytes[100..120].iter_mut().for_each(|b| *b ^= 0x55);
        let approved = Image::raw(content(1));
        let readback = Image::with_gaps(64, bytes[64..].to_vec(), Vec::new());
        let proof = prove(Write { readback: &readback, approved: &approved, before: None }, None);
        assert_eq!(proof.differing, [Span::new(36, 56)]);
        assert!(proof.findings[1].seen.ends_with("0x0024..0x0038"), "{:?}", proof.findings);
        assert!(proof.sentence.ends_with("from 0x0024 to 0x0037"), "{}", proof.sentence);
    }
}
