//! Where the checks of published memories are known, the hunt is told nothing and has to find them.
//!
//! Layouts of the images: EDID (VESA E-EDID A.2), SPD (JEDEC JESD21-C annexes), SFF-8472, IPMI FRU (Platform
//! Management FRU Information Storage Definition 1.0); what holds in which image is in `facts.json` of the corpus.

use std::fmt::Write as _;
use std::fs;
use std::sync::atomic::AtomicBool;

use readproof::hunt::{Hit, LIMIT, Question, hunt};
use readproof::image::Image;
use readproof::span::Span;

use crate::support::{corpus, package};

/// A check that is there: its range and where its value begins.
type Truth = (Span, usize);

/// Images of one kind and the checks that hold in all of them.
struct Kind {
    name: &'static str,
    images: Vec<Vec<u8>>,
    truths: Vec<Truth>,
}

/// The rank of each truth (0 when it was not found) and false hits of an expectation under 0.01.
struct Score {
    ranks: Vec<usize>,
    wrong: Vec<String>,
}

fn is_seen(hit: &Hit, &(over, at): &Truth) -> bool {
    std::iter::once(&hit.way).chain(&hit.also).any(|way| way.over == over && way.stored_at.start == at)
}

/// A hit that holds wherever one of the truths does: both read and store the same bytes.
fn is_implied(hit: &Hit, truths: &[Truth]) -> bool {
    truths.iter().any(|&(over, at)| {
        let stretch = Span::new(over.start.min(at), over.end.max(at + 1));
        stretch.contains(hit.way.stored_at.start)
    })
}

fn score(images: &[Vec<u8>], truths: &[Truth]) -> Score {
    let images: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    let answer = hunt(&question, &|_| {}, &AtomicBool::new(false));
    let ranks = truths
        .iter()
        .map(|truth| {
            let before =
                |hits: &[Hit]| hits.iter().filter(|hit| !truths.iter().any(|t| is_seen(hit, t))).count();
            match answer.hits.iter().position(|hit| is_seen(hit, truth)) {
                // Other true checks before it do not count.
                Some(position) => before(&answer.hits[..position]) + 1,
                None => 0,
            }
        })
        .collect();
    let wrong = answer
        .hits
        .iter()
        .filter(|hit| hit.expected < 0.01 && !truths.iter().any(|truth| is_seen(hit, truth)))
        .filter(|hit| !is_implied(hit, truths))
        .map(|hit| {
            format!(
                "{} {} at {:#x} ({:.0e})",
                hit.way.by, hit.way.over, hit.way.stored_at.start, hit.expected
            )
        })
        .collect();
    Score { ranks, wrong }
}

fn table(kinds: &[Kind], counts: &[usize]) -> (String, Vec<(&'static str, usize, Score)>) {
    let mut told = String::new();
    let mut scores = Vec::new();
    for kind in kinds {
        for &count in counts.iter().filter(|&&count| count <= kind.images.len()) {
            let score = score(&kind.images[..count], &kind.truths);
            writeln!(
                told,
                "{:<14} {count} images: ranks {:?}, false {:?}",
                kind.name, score.ranks, score.wrong
            )
            .unwrap();
            scores.push((kind.name, count, score));
        }
    }
    (told, scores)
}

fn assert_floors(scores: &[(&'static str, usize, Score)], told: &str) {
    for (name, count, score) in scores {
        if *count >= 2 {
            assert!(score.ranks.iter().all(|&rank| rank == 1), "{name} with {count} images\n{told}");
        }
        if *count >= 3 {
            assert!(score.wrong.is_empty(), "{name} with {count} images\n{told}");
        }
    }
}

#[test]
fn three_samples_are_enough_for_each_check_of_the_board() {
    // The first 512 bytes; the sum over the whole image is measured in the bench, which is optimised.
    let read = |name: &str| fs::read(package().join("samples").join(name)).unwrap()[..0x200].to_vec();
    let kind = Kind {
        name: "Frostkeel CR8",
        images: ["unit7-read1.bin", "unit9.bin", "unit12.bin"].map(read).to_vec(),
        truths: vec![(Span::new(0x40, 0x7C), 0x7C), (Span::new(0x100, 0x1FE), 0x1FE)],
    };
    let (told, scores) = table(&[kind], &[1, 2, 3]);
    println!("{told}");
    assert_floors(&scores, &told);
}

#[test]
fn three_published_images_are_enough_for_each_of_their_checks() {
    let Some(corpus) = corpus() else { return };
    let read = |name: &str, len: usize| -> Vec<u8> {
        fs::read(corpus.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))[..len].to_vec()
    };
    let all =
        |names: &[&str], len: usize| -> Vec<Vec<u8>> { names.iter().map(|name| read(name, len)).collect() };
    let kinds = [
        Kind {
            name: "EDID",
            images: all(
                &[
                    "edid/dell-e178wfp-vga.bin",
                    "edid/sony-gdmf520-vga.bin",
                    "edid/adi-a500-version-1.5.bin",
                    "edid/oculus-rift-dk1-hdmi.bin",
                    "edid/acer-xv273k-dp1-corrupted.bin",
                ],
                128,
            ),
            truths: vec![(Span::new(0, 127), 127)],
        },
        Kind {
            name: "SPD DDR4",
            images: all(
                &[
                    "spd/ddr4-rdimm-36asf8g72pz-3g2e1.bin",
                    "spd/ddr4-samsung-k4aag165wa-bctd.bin",
                    "spd/lpddr4x-nanya-nt6ap512t32bv-j1i.bin",
                ],
                256,
            ),
            truths: vec![(Span::new(0, 126), 126), (Span::new(128, 254), 254)],
        },
        Kind {
            name: "SPD DDR2",
            images: all(
                &[
                    "spd/ddr2-transcend-jm667qlj-1g.bin",
                    "spd/ddr2-kingston-99u5316-028.bin",
                    "spd/ddr-infineon-64d32300gu5b.bin",
                    "spd/rdram-samsung-mr16r1624af0-ck8.bin",
                ],
                256,
            ),
            truths: vec![(Span::new(0, 63), 63)],
        },
        Kind {
            name: "SPD DDR3",
            images: derived_ddr3(&read("spd/ddr3-rdimm-m393b4g70bm0-cma09.bin", 176)),
            truths: vec![(Span::new(0, 117), 126)],
        },
        Kind {
            name: "SFF-8472",
            images: all(
                &[
                    "sfp/sfp-intel-ftlx8574d3bnl-it.bin",
                    "sfp/sfp-mikrotik-s-ao0005.bin",
                    "sfp/sfp-odi-dfp-34x-2c2.bin",
                    "sfp/sfp-avago-afbr-703sdz-hp1.bin",
                ],
                128,
            ),
            truths: vec![(Span::new(0, 63), 63), (Span::new(64, 95), 95)],
        },
        Kind {
            name: "FRU area",
            images: all(
                &[
                    "fru/ad9467-fmc-250ebz.bin",
                    "fru/3y-power-urp1x151am-0050.bin",
                    "fru/nvidia-p3809.bin",
                    "fru/3y-power-urp1x151dm.bin",
                ],
                160,
            ),
            truths: vec![(Span::new(8, 87), 87)],
        },
    ];
    let (told, scores) = table(&kinds, &[1, 2, 3, 5]);
    println!("{told}");
    assert_floors(&scores, &told);
}

/// The corpus has one DDR3 module whose check is right; others are made from it by changing bytes that it protects
/// (timings, thermal values) and some that it does not (serial number), and sealing again by a plain loop.
fn derived_ddr3(first: &[u8]) -> Vec<Vec<u8>> {
    let mut images = vec![first.to_vec()];
    for number in 1_u8..5 {
        let mut bytes = first.to_vec();
        for at in [12, 14, 16, 18, 20, 25, 34, 62, 63, 67] {
            bytes[at] = bytes[at].wrapping_add(number.wrapping_mul(37) ^ at as u8);
        }
        for byte in &mut bytes[122..126] {
            *byte = byte.wrapping_mul(13).wrapping_add(number);
        }
        let crc = bytes[..117].iter().fold(0_u16, |crc, &byte| {
            (0..8).fold(crc ^ (u16::from(byte) << 8), |crc, _| {
                if crc & 0x8000 == 0 { crc << 1 } else { (crc << 1) ^ 0x1021 }
            })
        });
        bytes[126..128].copy_from_slice(&crc.to_le_bytes());
        images.push(bytes);
    }
    images
}
