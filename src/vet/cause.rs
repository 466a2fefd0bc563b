//! Why bytes did not take.

use super::pattern::Pattern;
use crate::chip::Chip;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;
use crate::wording::{address, count};

/// The largest page whose multiple a distance is.
fn page_of(shift: usize) -> usize {
    shift & shift.wrapping_neg()
}

/// What differs, for finding out why.
pub(super) struct Cause<'a> {
    /// What was read back.
    pub(super) here: &'a Image,
    /// What was approved, from the same address on.
    pub(super) there: &'a Image,
    /// What the chip held before.
    pub(super) before: Option<&'a [u8]>,
    /// Where they differ.
    pub(super) at: &'a [usize],
    /// Bytes of the gap that was put in front of what was read back.
    pub(super) front: usize,
}

/// Bytes that must speak for a cause before it is named.
const LEAST_BYTES: usize = 4;
/// Largest page that a burst can wrap in.
const LARGEST_SHIFT: usize = 512;

impl Cause<'_> {
    fn here(&self, at: usize) -> Option<u8> {
        self.here.bytes().get(at).copied()
    }

    /// What usually leads to such differences.
    pub(super) fn finding(&self, chip: Option<&Chip>) -> Finding {
        if let Some((by, which)) = self.shifted() {
            return Finding::new(
                Weight::Fault,
                Code::WriteDiffers,
                format!("what was read back is the approved image, {} {which}", count(by, "byte")),
                "the write or the read-back began at another address, or a byte was lost or added on the way",
                "read back once more from address 0 with the device selected that is printed on the chip; if it stays, write again and read back again",
            );
        }
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

    /// How many bytes further up or down the approved contents were read back, when that explains all but the ends.
    fn shifted(&self) -> Option<(usize, &'static str)> {
        /// Header, address or wrap: farther apart it is told by the read itself.
        const FARTHEST: usize = 1024;
        let (here, there) = (self.here.bytes(), self.there.bytes());
        let is = |from: &[u8], to: &[u8], by: usize| {
            let (from, to) = (from.get(..from.len() - by)?, to.get(by..)?);
            let same = from.len() == to.len() && from == to;
            same.then(|| from.iter().filter(|b| !matches!(b, 0x00 | 0xFF)).count())
        };
        let fits = here.len() == there.len() && here.len() > 2 * FARTHEST && self.at.len() >= 4 * LEAST_BYTES;
        (1..=FARTHEST).take_while(|_| fits).find_map(|by| {
            let up = is(there, here, by).map(|telling| (telling, "further up"));
            let found = up.or_else(|| is(here, there, by).map(|telling| (telling, "further down")));
            found.filter(|(telling, _)| *telling >= 4 * LEAST_BYTES).map(|(_, which)| (by, which))
        })
    }

    fn unexplained(&self) -> Finding {
        let (here, there) = (self.here.bytes(), self.there.bytes());
        let len = here.len().min(there.len());
        let bytes = self.at.len();
        let told = |span: Span| Span::new(span.start - self.front, span.end - self.front);
        let lie_in = |span: Span| {
            (
                format!("all {bytes} differing bytes lie in offsets {}", told(span)),
                "a page that was not written: protection, a write that was cut short, or old contents left",
            )
        };
        // The end that was to become one value is no end that was lost.
        let reads_so =
            |span: Span, value: u8| span.of_bytes(here).is_some_and(|end| end.iter().all(|&b| b == value));
        let (seen, means) = match Pattern::of(&here[..len], &there[..len], self.at, 0) {
            Pattern::Tail(span, value) if reads_so(span, value) => (
                format!(
                    "from offset {} to the end everything is {value:02X}",
                    address(told(span).start as u64)
                ),
                "the write or the read-back broke off there",
            ),
            Pattern::Tail(..) => lie_in(Span::new(
                self.at.first().copied().unwrap_or(0),
                self.at.last().map_or(0, |at| at + 1),
            )),
            Pattern::Transformed(transform) => (
                format!("what was read back is the approved image once {}", transform.remedy()),
                "the write and the read-back were made with different settings",
            ),
            Pattern::Burst(span) => lie_in(span),
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
