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
    /// Those that two images must show.
    truths: Vec<Truth>,
    /// Those that hold over so little that differs that images may not show them; measured only.
    faint: Vec<Truth>,
}

/// The rank of each truth (0 when it was not found), how many faint ones were found, and false hits of an
/// expectation under 0.01.
struct Score {
    ranks: Vec<usize>,
    faint: usize,
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

fn score(images: &[Vec<u8>], kind: &Kind) -> Score {
    let truths: Vec<Truth> = [kind.truths.as_slice(), &kind.faint].concat();
    let images: Vec<Image> = images.iter().cloned().map(Image::raw).collect();
    let question = Question { images: images.iter().collect(), bounds: Vec::new(), limit: LIMIT };
    let answer = hunt(&question, &|_| {}, &AtomicBool::new(false));
    let ranks = kind
        .truths
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
        .filter(|hit| !is_implied(hit, &truths))
        .map(|hit| {
            format!(
                "{} {} at {:#x} ({:.0e})",
                hit.way.by, hit.way.over, hit.way.stored_at.start, hit.expected
            )
        })
        .collect();
    let is_found = |truth: &&Truth| answer.hits.iter().any(|hit| is_seen(hit, truth));
    Score { ranks, faint: kind.faint.iter().filter(is_found).count(), wrong }
}

fn table(kinds: &[Kind], counts: &[usize]) -> (String, Vec<(&'static str, usize, Score)>) {
    let mut told = String::new();
    let mut scores = Vec::new();
    for kind in kinds {
        for &count in counts.iter().filter(|&&count| count <= kind.images.len()) {
            let score = score(&kind.images[..count], kind);
            let faint = match kind.faint.len() {
                0 => String::new(),
                all => format!(", {} of {all} faint ones", score.faint),
            };
            let (ranks, wrong) = (&score.ranks, &score.wrong);
            writeln!(told, "{:<14} {count} images: ranks {ranks:?}{faint}, false {wrong:?}", kind.name)
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
        faint: vec![],
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
            faint: vec![],
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
            faint: vec![],
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
            faint: vec![],
        },
        Kind {
            name: "SPD DDR3",
            images: derived_ddr3(&read("spd/ddr3-rdimm-m393b4g70bm0-cma09.bin", 176)),
            truths: vec![(Span::new(0, 117), 126)],
            faint: vec![],
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
            faint: vec![],
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
            // The header: seven bytes, of which one or two differ.
            faint: vec![(Span::new(0, 7), 7)],
        },
    ];
    let (told, scores) = table(&kinds, &[1, 2, 3, 5]);
    println!("{told}");
    assert_floors(&scores, &told);
}

/// Images at which nobody looked while the search was made and its idea of chance was adjusted. Of DDR3 the corpus
/// has one more module, whose check is wrong.
#[test]
fn published_images_kept_aside_show_their_checks_as_well() {
    let Some(corpus) = corpus() else { return };
    let read = |name: &str, from: usize, len: usize| -> Vec<u8> {
        let bytes = fs::read(corpus.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
        bytes[from..from + len].to_vec()
    };
    let all = |names: &[&str], len: usize| names.iter().map(|name| read(name, 0, len)).collect::<Vec<_>>();
    let kinds = [
        Kind {
            name: "EDID aside",
            images: all(
                &[
                    "edid/hitachi-vga-bad-extension.bin",
                    "edid/apple-xdr-6k.bin",
                    "edid/dell-u2515h-doubled-bad-extension.bin",
                    "edid/achieva-acb049b-bad-extension.bin",
                    "edid/nec-ea241wm-47-blocks.bin",
                ],
                128,
            ),
            truths: vec![(Span::new(0, 127), 127)],
            faint: vec![],
        },
        Kind {
            name: "SPD DDR5",
            images: all(
                &["spd/ddr5-rdimm-mtc40f2046s1rc48ba1.bin", "spd/ddr5-sodimm-samsung-m425r1gb4bb0-cqkod.bin"],
                512,
            ),
            truths: vec![(Span::new(0, 510), 510)],
            faint: vec![],
        },
        // SFF-8636 has the same two sums in its upper page; only the first holds in both.
        Kind {
            name: "SFF aside",
            images: vec![
                read("sfp/qsfp28-cwdm4.bin", 128, 96),
                read("sfp/sfp-ats-sfp-ge-t-bad-ext.bin", 0, 96),
            ],
            truths: vec![(Span::new(0, 63), 63)],
            faint: vec![],
        },
        // Words of 16 bits up to 0x3F come to 0xBABA: Intel's NVM map. Its constant has to be solved for, which costs
        // the evidence of one image.
        Kind {
            name: "Ethernet NVM",
            images: all(&["ethernet-nvm/lenovo-t440p.bin", "ethernet-nvm/lenovo-m900-tower.bin"], 256),
            truths: vec![],
            faint: vec![(Span::new(0, 126), 126)],
        },
        Kind {
            name: "ONIE TlvInfo",
            images: all(&["onie/solidrun-clearfog-base-188.bin"], 256),
            truths: vec![(Span::new(0, 104), 104)],
            faint: vec![],
        },
        // Two supplies of one maker: the records' headers, and their data with the check in front of it.
        Kind {
            name: "FRU records",
            images: all(&["fru/3y-power-urp1x151am-0050.bin", "fru/3y-power-urp1x151dm.bin"], 160),
            truths: vec![],
            faint: vec![
                (Span::new(0, 7), 7),
                (Span::new(88, 92), 92),
                (Span::new(93, 117), 91),
                (Span::new(117, 121), 121),
                (Span::new(135, 139), 139),
            ],
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
