//! Did the chip take what was written? What was read back is held against what was approved.

use super::cause::Cause;
use super::{blank, size};
use crate::chip::Chip;
use crate::compare::{self, Changed, Differences, common_base};
use crate::finding::{Code, Finding, Verdict, Weight};
use crate::image::Image;
use crate::layout::{self, Layout, Role};
use crate::span::Span;
use crate::wording::{address, count, short_list};

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
    /// By which layout what differs has names.
    pub layout: Option<&'a Layout>,
}

/// Holds a read-back against the approved image and says what usually leads to the differences there are.
#[must_use]
pub fn prove(write: Write<'_>, chip: Option<&Chip>) -> Proof {
    let Write { readback, approved, before, layout } = write;
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
    let same_frame = |b: &&Image| (b.base(), b.len()) == (here.base(), here.len());
    let before = before.filter(same_frame);
    findings.extend(before.and_then(|before| spoilt(here, before, &differences, front)));
    let (Some(first), Some(last)) = (differing.first(), differing.last()) else {
        findings.extend(proves_nothing(readback, there, before));
        if let Some(found) = findings.first() {
            let sentence = format!("not proven: what both images have is equal, but {}", found.seen);
            return proof(findings, sentence);
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
        Cause { here, there, before: before.map(Image::bytes), at: &at, front }.finding(chip)
    };
    let place = Span::new(first.start, last.end);
    findings.push(blank::check(readback).unwrap_or_else(cause).at(place));
    findings.extend(layout.and_then(|layout| fields(layout, here, there, &differences)));
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

/// Which fields did not take.
fn fields(layout: &Layout, here: &Image, there: &Image, differences: &Differences) -> Option<Finding> {
    let decoded = compare::decode_both(layout, there, here);
    let comparison = compare::compare_at(differences.clone(), there, here, Some((&decoded.0, &decoded.1)));
    let mut names: Vec<&str> = comparison.changes.iter().flat_map(|c| c.paths()).map(layout::top).collect();
    names.dedup();
    let of_unit = |c: &Changed| matches!(c.guarded_role(), Some(Role::Record | Role::Check));
    let means = match comparison.changes.iter().all(of_unit) {
        true => {
            "they did not take, or the unit ran between the write and the read-back and wrote its records itself"
        }
        false => "these do not hold what was approved",
    };
    (!names.is_empty()).then(|| {
        Finding::new(
            Weight::Note,
            Code::WriteDiffers,
            format!("what differs belongs to {}", short_list(&names)),
            means,
            "look at both values with `readproof compare AFTER READBACK`, and keep the unit from running until it is read back",
        )
    })
}

/// Why a read-back that is equal proves no write: it would have been just so without one.
fn proves_nothing(readback: &Image, approved: &Image, before: Option<&Image>) -> Option<Finding> {
    if let Some(before) = before.filter(|before| before.bytes() == approved.bytes()) {
        return Some(Finding::new(
            Weight::Doubt,
            Code::OldContents,
            format!("the approved image is what the chip held before: all {} bytes are equal", before.len()),
            "nothing was to be changed, so this proves no write; the original may have been named in place of the changed image",
            "name the changed image with --must-equal, and what was read before the write with --before",
        ));
    }
    let blank = blank::check(readback).filter(|found| found.code == Code::Blank)?;
    Some(Finding {
        weight: Weight::Doubt,
        means: "a clip without contact, or a chip without supply, reads just so".to_owned(),
        advice: "check the contact with a read that is not blank, such as that of another chip in the same clip, then read back again".to_owned(),
        ..blank
    })
}

/// That places of which nothing was approved are not what they were: whoever wrote the chip filled the gaps.
fn spoilt(here: &Image, before: &Image, differences: &Differences, front: usize) -> Option<Finding> {
    let held = |span: &&Span| span.of_bytes(here.bytes()) != span.of_bytes(before.bytes());
    let spoilt: Vec<&Span> =
        differences.only_before.iter().filter(|s| before.is_mapped(**s)).filter(held).collect();
    let first = Span::new(spoilt.first()?.start - front, spoilt.first()?.end - front);
    let bytes = spoilt
        .iter()
        .flat_map(|s| s.range())
        .filter(|&i| here.bytes().get(i) != before.bytes().get(i))
        .count();
    let (hold, they) =
        if bytes == 1 { ("does not hold what it", "it") } else { ("do not hold what they", "they") };
    Some(
        Finding::new(
            Weight::Fault,
            Code::WriteDiffers,
            format!(
                "{} of which nothing was approved {hold} held before, from {} on",
                count(bytes, "byte"),
                address(here.address(spoilt.first()?.start))
            ),
            format!("the gaps of the approved file were written too, and what {they} held is lost"),
            "write what the chip held before, make the change on the whole of it with `readproof amend`, and approve that",
        )
        .at(first),
    )
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

#[cfg(test)]
mod tests {
    use super::*;

    fn content(seed: usize) -> Vec<u8> {
        (0..1024_usize).map(|i| (((i + seed) * 167) ^ (i >> 2) ^ seed) as u8).collect()
    }

    fn proof(readback: Vec<u8>, before: Option<Vec<u8>>) -> Proof {
        let (readback, approved) = (Image::raw(readback), Image::raw(content(1)));
        let before = before.map(Image::raw);
        prove(Write { readback: &readback, approved: &approved, before: before.as_ref(), layout: None }, None)
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
        let (image, chip) = (Image::raw(content(1)), crate::chip::by_name("24C64"));
        let of_another_chip =
            prove(Write { readback: &image, approved: &image, before: None, layout: None }, chip);
        assert!(
            of_another_chip.sentence.ends_with("1024 bytes, but a 24C64 holds 8192"),
            "{of_another_chip:?}"
        );
    }

    #[test]
    fn bytes_that_were_not_read_back_are_not_proven_and_where_nothing_was_approved_nothing_is_wrong() {
        let gap = vec![Span::new(64, 80)];
        let mut whole = content(1);
        whole[64..80].fill(0xFF);
        let (whole, cut) = (Image::raw(whole.clone()), Image::with_gaps(0, whole, gap));
        let proof =
            |readback, approved| prove(Write { readback, approved, before: None, layout: None }, None);
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
        let proof =
            prove(Write { readback: &readback, approved: &approved, before: None, layout: None }, None);
        assert_eq!(proof.differing, [Span::new(36, 56)]);
        assert!(proof.findings[1].seen.ends_with("0x0024..0x0038"), "{:?}", proof.findings);
        assert!(proof.sentence.ends_with("from 0x0024 to 0x0037"), "{}", proof.sentence);
    }

    #[test]
    fn an_equal_read_back_that_would_be_so_without_a_write_proves_none() {
        let blank = Image::raw(vec![0xFF; 1024]);
        let erased = prove(Write { readback: &blank, approved: &blank, before: None, layout: None }, None);
        assert_eq!((erased.verdict, erased.findings[0].code), (Verdict::Doubtful, Code::Blank));
        assert!(erased.sentence.starts_with("not proven"), "{}", erased.sentence);
        let unchanged = proof(content(1), Some(content(1)));
        assert_eq!((unchanged.verdict, unchanged.findings[0].code), (Verdict::Doubtful, Code::OldContents));
        assert!(
            unchanged.sentence.ends_with("what the chip held before: all 1024 bytes are equal"),
            "{}",
            unchanged.sentence
        );
    }

    #[test]
    fn a_gap_that_was_written_over_is_a_fault_where_it_is_known_what_was_there() {
        let approved = Image::with_gaps(0, content(1), vec![Span::new(64, 80)]);
        let mut filled = content(1);
        filled[64..80].fill(0xFF);
        let (before, kept, filled) = (Image::raw(content(77)), Image::raw(content(1)), Image::raw(filled));
        let mut held = content(77);
        held[64..80].copy_from_slice(&content(1)[64..80]);
        let held = Image::raw(held);
        let proof =
            |readback, before| prove(Write { readback, approved: &approved, before, layout: None }, None);
        assert_eq!(proof(&kept, Some(&held)).verdict, Verdict::Sound);
        assert_eq!(proof(&filled, None).verdict, Verdict::Sound, "nobody knows what was there");
        let spoilt = proof(&filled, Some(&held));
        assert_eq!((spoilt.verdict, spoilt.findings[0].code), (Verdict::Unsound, Code::WriteDiffers));
        assert_eq!(
            spoilt.findings[0].seen,
            "16 bytes of which nothing was approved do not hold what they held before, from 0x0040 on"
        );
        assert!(spoilt.sentence.starts_with("not proven"), "{}", spoilt.sentence);
        assert_eq!(proof(&before, Some(&before)).findings.len(), 1, "{:?}", proof(&before, Some(&before)));
    }

    #[test]
    fn an_end_that_was_to_become_fill_and_did_not_is_not_called_fill() {
        let mut approved = content(1);
        approved[256..].fill(0xFF);
        let mut readback = approved.clone();
        readback[256..384].copy_from_slice(&content(77)[256..384]);
        let (readback, approved) = (Image::raw(readback), Image::raw(approved));
        let proof =
            prove(Write { readback: &readback, approved: &approved, before: None, layout: None }, None);
        assert_eq!(proof.findings[0].seen, "all 128 differing bytes lie in offsets 0x0100..0x0180");
    }

    #[test]
    fn a_read_back_that_begins_elsewhere_is_told_with_the_distance() {
        let long: Vec<u8> = (0..4096_usize).map(|i| ((i * 167) ^ (i >> 3) ^ (i >> 7)) as u8).collect();
        let approved = Image::raw(long.clone());
        let seen = |readback: Vec<u8>| {
            let readback = Image::raw(readback);
            prove(Write { readback: &readback, approved: &approved, before: None, layout: None }, None)
                .findings[0]
                .seen
                .clone()
        };
        let late = [&[0xFF][..], &long[..4095]].concat();
        assert_eq!(seen(late), "what was read back is the approved image, 1 byte further up");
        let early = [&long[16..], &[0xFF; 16]].concat();
        assert_eq!(seen(early), "what was read back is the approved image, 16 bytes further down");
    }

    #[test]
    fn what_did_not_take_is_told_by_its_field_and_that_a_unit_may_have_written_its_records_itself() {
        const BOARD: &str = r#"(layout: "board", format: 1, source: "invented for the tests",
            fields: [(name: "serial", at: 0, kind: Bcd(digits: 8), role: Identity),
                (name: "hours", at: 4, kind: Int(bits: 32), role: Record)])"#;
        let layout = crate::layout::read(BOARD).expect("a layout without problems");
        let told = |readback: [u8; 8]| {
            let (readback, approved) = (Image::raw(readback.to_vec()), Image::raw(vec![0x11; 8]));
            let write =
                Write { readback: &readback, approved: &approved, before: None, layout: Some(&layout) };
            let proof = prove(write, None);
            let note = proof.findings.last().expect("what differs").clone();
            (proof.verdict, note.seen, note.means.contains("the unit ran"))
        };
        let hours = told([0x11, 0x11, 0x11, 0x11, 0x11, 0x11, 0x11, 0x15]);
        assert_eq!(hours, (Verdict::Unsound, "what differs belongs to hours".to_owned(), true));
        let serial = told([0x11, 0x11, 0x11, 0x15, 0x11, 0x11, 0x11, 0x15]);
        assert_eq!(serial, (Verdict::Unsound, "what differs belongs to serial and hours".to_owned(), false));
    }
}
