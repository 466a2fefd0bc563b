//! What lies in a gap of an image was never read: no answer hangs on what stands there in memory, and none tells
//! anything of it.

use std::sync::atomic::AtomicBool;

use readproof::find::{Found, find};
use readproof::finding::Code;
use readproof::hunt::{LIMIT, Question, hunt};
use readproof::image::Image;
use readproof::layout::{self, Layout};
use readproof::nearest::Wanted;
use readproof::skyline::Skyline;
use readproof::span::Span;
use readproof::survey::{ByteClass, Course, Survey, draft, survey};
use sha2::{Digest, Sha256};

use crate::support::{Place, package};

/// A sample whose `gaps` were never read, with other bytes in memory there.
fn cut(name: &str, gaps: &[Span], in_gaps: fn(usize, u8) -> u8) -> Image {
    let mut bytes = std::fs::read(package().join("samples").join(name)).unwrap();
    for at in gaps.iter().flat_map(|gap| gap.range()) {
        bytes[at] = in_gaps(at, bytes[at]);
    }
    Image::with_gaps(0, bytes, gaps.to_vec())
}

/// What may stand in memory where nothing was read: what a reader of records puts there, what the chip holds, a text.
const MEMORY: [fn(usize, u8) -> u8; 4] =
    [|_, _| 0xFF, |_, byte| byte, |at, _| b"FK-CR8-2047B 2207140312 "[at % 24], |_, _| 0x00];

/// Gaps through texts, settings, lockouts and the end of the sample; one is a single byte.
fn gaps() -> Vec<Span> {
    [(0x48, 0x53), (0x101, 0x102), (0x200, 0x333), (0x1000, 0x1400), (0x1F01, 0x1FF3)]
        .map(|(start, end)| Span::new(start, end))
        .to_vec()
}

/// The answer, which must be the same whatever stands in the gaps.
fn same<A: PartialEq + std::fmt::Debug>(ask: impl Fn(fn(usize, u8) -> u8) -> A) -> A {
    let answers = MEMORY.map(ask);
    for answer in &answers[1..] {
        assert!(answers[0] == *answer, "{:#?}\nis not\n{answer:#?}", answers[0]);
    }
    answers.into_iter().next().unwrap()
}

fn untouched(survey: &Survey) {
    let told = survey.regions.iter().map(|r| r.at);
    let known = survey.stretches.iter().filter(|s| s.class != ByteClass::Missing).map(|s| s.at);
    for at in told.chain(known) {
        assert!(!gaps().iter().any(|gap| gap.overlaps(at)), "{at} touches a gap");
    }
}

#[test]
fn a_survey_tells_nothing_of_a_gap_and_names_how_much_it_is() {
    let one = same(|memory| survey(&[&cut("unit7-read1.bin", &gaps(), memory)], Course::Units, &[]));
    untouched(&one);
    assert!(one.regions.len() > 20, "{} regions", one.regions.len());
    assert_eq!((one.in_gaps, one.bytes), (11 + 1 + 0x133 + 0x400 + 0xF2, 8192 - one.in_gaps));
    let drafted = same(|memory| {
        let image = cut("unit7-read1.bin", &gaps(), memory);
        draft("x", &survey(&[&image], Course::Units, &[]), &image, &[])
    });
    let layout = layout::read(&drafted).unwrap();
    let image = cut("unit7-read1.bin", &gaps(), MEMORY[0]);
    assert!(layout::decode(&layout, &image).fields.iter().all(|f| image.is_mapped(f.cover())));
}

#[test]
fn many_small_parts_of_noise_hold_no_more_than_noise_does() {
    let noise: Vec<u8> = (0..500_u16).flat_map(|n| Sha256::digest(n.to_le_bytes())[..16].to_vec()).collect();
    let mut spread = Vec::new();
    noise.chunks(16).for_each(|part| spread.extend(part.iter().copied().chain([0xFF; 48])));
    let gaps = (0..500).map(|n| Span::of(n * 64 + 16, 48)).collect();
    let found = survey(&[&Image::with_gaps(0, spread, gaps)], Course::Units, &[]);
    assert_eq!(found.bytes, noise.len());
    assert!(found.regions.iter().all(|r| r.chance <= 0.5), "{:#?}", found.regions);
    assert!(found.regions.len() < 20, "{} regions", found.regions.len());
}

#[test]
fn what_some_image_does_not_hold_is_not_compared_over_several() {
    for course in [Course::Units, Course::Time, Course::Pairs] {
        let found = same(|memory| {
            let images = [cut("unit7-read1.bin", &gaps(), memory), cut("unit9.bin", &[], memory)];
            survey(&[&images[0], &images[1]], course, &[])
        });
        untouched(&found);
        let missing: Vec<Span> =
            found.stretches.iter().filter(|s| s.class == ByteClass::Missing).map(|s| s.at).collect();
        assert_eq!(missing, gaps());
    }
}

#[test]
fn a_known_memory_is_not_recognised_by_marks_that_were_not_read() {
    let layouts = [frostkeel()];
    let mark = [Span::new(2, 8)];
    let fits = same(|memory| layout::fits(&layouts, &cut("unit7-read1.bin", &mark, memory)).len());
    assert_eq!((fits, layout::fits(&layouts, &cut("unit7-read1.bin", &[], MEMORY[0])).len()), (0, 1));
    // Nor inside a larger memory.
    let within = same(|memory| {
        let part = cut("unit7-read1.bin", &mark, memory);
        let bytes = [&[0x5A; 0x400][..], part.bytes()].concat();
        survey(&[&Image::with_gaps(0, bytes, vec![Span::new(0x402, 0x408)])], Course::Units, &layouts)
    });
    assert!(within.regions.iter().all(|r| r.kind.word() != "layout"));
}

fn frostkeel() -> Layout {
    layout::read(&std::fs::read_to_string(package().join("layouts/frostkeel-cr8.ron")).unwrap()).unwrap()
}

#[test]
fn a_hunt_finds_no_check_over_a_gap_and_counts_no_byte_of_it_as_varying() {
    // Small, so that the whole catalogue is soon tried.
    let sealed = |seed: usize| {
        let mut bytes: Vec<u8> = (0..160).map(|i| (((i + seed) * (i + 7) * 31) >> 3) as u8).collect();
        let sum = bytes[16..78].iter().fold(0u16, |sum, byte| sum.wrapping_add(u16::from(*byte)));
        bytes[78..80].copy_from_slice(&sum.to_be_bytes());
        bytes
    };
    let gap = Span::new(84, 150);
    let answer = same(|memory| {
        let image = |seed: usize| {
            let mut bytes = sealed(seed);
            for at in gap.range() {
                bytes[at] = memory(at * seed, bytes[at]);
            }
            Image::with_gaps(0, bytes, vec![gap])
        };
        // The gap of one is enough.
        let images = [image(1), Image::raw(sealed(2)), image(3)];
        let question = Question { images: images.iter().collect(), bounds: vec![16], limit: LIMIT };
        hunt(&question, &|_| {}, &AtomicBool::new(false))
    });
    assert_eq!((answer.bytes, answer.images), (160 - gap.len(), 3));
    assert!(answer.varying <= 160 - gap.len());
    assert_eq!(answer.hits[0].way.over, Span::new(16, 78), "{:#?}", answer.hits);
    for hit in answer.hits.iter().chain(&answer.nearly) {
        for way in std::iter::once(&hit.way).chain(&hit.also) {
            assert!(!way.over.overlaps(gap) && !way.stored_at.overlaps(gap), "{way:?}");
        }
    }
}

#[test]
fn a_text_is_not_found_in_a_gap_and_that_it_may_be_there_is_told() {
    let found: Found = same(|memory| find(&cut("unit7-read1.bin", &gaps(), memory), "FK-CR8-2047B"));
    assert!(found.hits.iter().all(|hit| !hit.exact), "{found:?}");
    let none = same(|memory| find(&cut("unit7-read1.bin", &gaps(), memory), "QX-77-1234"));
    let told = none.findings.iter().find(|f| f.code == Code::NotFound).unwrap();
    assert!(told.means.ends_with("or in the 1585 bytes that the file does not hold"), "{}", told.means);
}

#[test]
fn the_nearest_read_is_none_by_what_was_not_read_and_none_is_equal_to_one_with_a_gap() {
    let layout = frostkeel();
    let likeness = same(|memory| {
        let (read, known) = (cut("unit7-read1.bin", &gaps(), memory), cut("unit7-read2.bin", &[], memory));
        let near = Wanted::new(&read, Some(&layout)).likeness(&known);
        assert_eq!(near.alike, Wanted::new(&known, Some(&layout)).likeness(&read).alike);
        near
    });
    assert!(likeness.same_size && !likeness.is_equal());
    let blank = Image::raw(vec![0; 64]);
    let unread = Image::with_gaps(0, vec![0xFF; 64], vec![Span::new(8, 64)]);
    assert_eq!(Wanted::new(&blank, None).likeness(&unread).alike.counted, 8);
}

#[test]
fn the_look_over_an_image_leaves_its_gaps_out() {
    let gaps = [Span::new(0x100, 0x180), Span::new(0x1000, 0x1803)];
    same(|memory| {
        let line = Skyline::of(&cut("unit7-read1.bin", &gaps, memory));
        (0..80).map(|column| line.density(column, 80)).collect::<Vec<_>>()
    });
    // One that is looked over in the background.
    same(|memory| {
        let bytes: Vec<u8> =
            (0..3 << 20).map(|at| if at / 5000 % 3 == 1 { memory(at, 0x41) } else { 0x42 }).collect();
        let gaps = (0..(3 << 20) / 15000).map(|n| Span::of(n * 15000 + 5000, 5000)).collect();
        let line = Skyline::whole(&Image::with_gaps(0, bytes, gaps));
        (0..200).map(|column| line.density(column, 200)).collect::<Vec<_>>()
    });
}

#[test]
fn contents_are_not_told_as_moved_by_what_a_gap_reads_as() {
    let place = Place::empty();
    let whole: Vec<u8> = (0..96_u32).map(|i| (i * i % 251) as u8).collect();
    place.file("whole.bin", &whole);
    let record = |at: usize, bytes: &[u8]| {
        let head = [bytes.len() as u8, (at >> 8) as u8, at as u8, 0];
        let sum = head.iter().chain(bytes).fold(0_u8, |sum, byte| sum.wrapping_sub(*byte));
        let hex: String = head.iter().chain(bytes).chain([&sum]).map(|b| format!("{b:02X}")).collect();
        format!(":{hex}\n")
    };
    place.file("cut.hex", format!("{}{}:00000001FF\n", record(0, &whole[..32]), record(48, &whole[48..])));
    let json = place.run(["compare", "whole.bin", "cut.hex", "--json"]).expect(1).json();
    assert_eq!(
        (&json["shifts"], &json["only_before"]),
        (&serde_json::Value::Null, &serde_json::json!([[32, 48]]))
    );
}

#[test]
fn a_copy_is_told_by_the_address_of_what_it_is_of() {
    let place = Place::empty();
    let block: Vec<u8> = (0..64_u32).map(|i| (i * i * 7 % 253) as u8).collect();
    place.file("twice.bin", [&[0x11; 64][..], &block, &[0x22; 64], &block].concat());
    place.run(["convert", "twice.bin", "twice.hex", "--base", "0x8000"]).expect(0);
    let json = place.run(["survey", "twice.hex", "--json"]).expect(0).json();
    let copy = json["regions"].as_array().unwrap().iter().find(|r| r["kind"] == "copy").unwrap();
    assert_eq!((&copy["at"], &copy["detail"]), (&0x80C0.into(), &"of 0x8040: the same 64 bytes".into()));
}

#[test]
fn images_are_laid_together_by_their_addresses() {
    let place = Place::with_samples();
    let part = |name: &str, from: usize, base: &str| {
        let whole = std::fs::read(place.path("samples").join(name)).unwrap();
        place.file(&format!("{base}.bin"), &whole[from..0x400]);
        place.run(["convert", &format!("{base}.bin"), &format!("{base}.hex"), "--base", base]).expect(0);
        format!("{base}.hex")
    };
    let (late, early) = (part("unit9.bin", 0x40, "0x40"), part("unit7-read1.bin", 0, "0x0"));
    // The mark is the same in every unit; part number and serial stand where the first image has them.
    for (first, second) in [(&late, &early), (&early, &late)] {
        let json = place.run(["survey", first, second, "--json"]).expect(0).json();
        let same = json["stretches"].as_array().unwrap().iter();
        let at: Vec<(u64, &str)> =
            same.map(|s| (s["at"].as_u64().unwrap(), s["class"].as_str().unwrap())).collect();
        assert!(at.contains(&(0x40, "same")), "{at:?}");
        assert!(
            at.iter().any(|(at, class)| (0x40..0x58).contains(at) && *class == "unit-specific"),
            "{at:?}"
        );
        assert_eq!(json["findings"], serde_json::json!([]));
    }
    // Of other addresses there is none in both.
    let far = part("unit9.bin", 0, "0x8000");
    for command in ["survey", "hunt"] {
        let told = place.run([command, &early, &far]);
        told.says("The images begin at 0x0000 and 0x8000 and share no address").says("size-changed");
        let json = place.run([command, &early, &far, "--json"]).json();
        assert_eq!(json["findings"][0]["code"], "size-changed");
    }
}
