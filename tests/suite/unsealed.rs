//! Images of one kind in which no check holds: whatever the hunt finds in them, chance gave.

use std::fs;
use std::path::Path;

/// Numbers that look like anything, the same for the same seed.
pub struct Numbers(u64);

impl Numbers {
    pub fn new(seed: u64) -> Self {
        Numbers(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16
    }

    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % end.max(1) as u64) as usize
    }
}

/// `count` images of `len` bytes as memories of control boards are: blank stretches, text with a serial number,
/// counters, settings that differ little, copies and inverted copies, bytes that could be anything.
pub fn generated(seed: u64, len: usize, count: usize) -> Vec<Vec<u8>> {
    let mut numbers = Numbers::new(seed);
    let mut images = vec![Vec::with_capacity(len); count];
    while images[0].len() < len {
        let size = 8 + 4 * numbers.below(6);
        let at = images[0].len();
        match numbers.below(9) {
            0 | 1 => images.iter_mut().for_each(|image| image.extend(vec![0xFF; size])),
            2 => images.iter_mut().for_each(|image| image.extend(vec![0; size])),
            3 => {
                let word: Vec<u8> = (0..size).map(|_| b'A' + numbers.below(26) as u8).collect();
                for image in &mut images {
                    image.extend(&word[..size - 4]);
                    image.extend((0..4).map(|_| b'0' + numbers.below(10) as u8));
                }
            }
            4 => {
                // Hours, starts: numbers of 16 or 32 bits that grew differently in each unit.
                let width = 2 << numbers.below(2);
                let most = 200 << (3 * numbers.below(4));
                for image in &mut images {
                    for _ in 0..size / width {
                        let value = (numbers.below(most) as u64).to_be_bytes();
                        image.extend(&value[8 - width..]);
                    }
                }
            }
            5 | 6 => {
                let base: Vec<u8> = (0..size).map(|_| numbers.below(40) as u8).collect();
                for image in &mut images {
                    image.extend(base.iter().map(|&byte| match numbers.below(4) {
                        0 => byte.wrapping_add(numbers.below(5) as u8),
                        _ => byte,
                    }));
                }
            }
            7 if at >= size => {
                let from = numbers.below(at - size + 1);
                let invert = if numbers.below(2) == 0 { 0xFF } else { 0 };
                for image in &mut images {
                    let copy: Vec<u8> = image[from..from + size].iter().map(|byte| byte ^ invert).collect();
                    image.extend(copy);
                }
            }
            _ => images.iter_mut().for_each(|image| image.extend((0..size).map(|_| numbers.next() as u8))),
        }
    }
    images.iter_mut().for_each(|image| image.truncate(len));
    images
}

/// `images` cut to `len` bytes and their blocks of eight bytes put into another order, the same in each; bytes
/// where a check is stored are changed, so that a sum over everything does not survive.
pub fn shuffled(images: &[Vec<u8>], len: usize, stored: &[usize], seed: u64) -> Vec<Vec<u8>> {
    let mut numbers = Numbers::new(seed);
    let turn = numbers.below(8);
    let mut blocks: Vec<usize> = (0..len / 8).collect();
    for last in (1..blocks.len()).rev() {
        blocks.swap(last, numbers.below(last + 1));
    }
    images
        .iter()
        .map(|image| {
            let mut bytes = image[..len].to_vec();
            for &at in stored.iter().filter(|&&at| at < len) {
                bytes[at] ^= 1 + numbers.below(255) as u8;
            }
            bytes.rotate_left(turn);
            blocks.iter().flat_map(|&block| bytes[8 * block..8 * block + 8].to_vec()).collect()
        })
        .collect()
}

/// A kind of memory in the corpus: its folder, its images, and where checks are stored.
type Kind = (&'static str, &'static [&'static str], &'static [usize]);

const KINDS: &[Kind] = &[
    (
        "edid",
        &["dell-e178wfp-vga", "sony-gdmf520-vga", "adi-a500-version-1.5", "oculus-rift-dk1-hdmi"],
        &[127],
    ),
    ("spd", &["ddr2-transcend-jm667qlj-1g", "ddr2-kingston-99u5316-028", "ddr-infineon-64d32300gu5b"], &[63]),
    (
        "spd",
        &["ddr4-rdimm-36asf8g72pz-3g2e1", "ddr4-samsung-k4aag165wa-bctd", "lpddr4x-nanya-nt6ap512t32bv-j1i"],
        &[126, 127],
    ),
    (
        "sfp",
        &[
            "sfp-intel-ftlx8574d3bnl-it",
            "sfp-mikrotik-s-ao0005",
            "sfp-odi-dfp-34x-2c2",
            "sfp-avago-afbr-703sdz-hp1",
        ],
        &[63, 95],
    ),
    ("fru", &["ad9467-fmc-250ebz", "3y-power-urp1x151am-0050", "nvidia-p3809"], &[7, 87]),
];

/// For each kind of the corpus, its images.
pub fn kinds(corpus: &Path) -> Vec<(Vec<Vec<u8>>, &'static [usize])> {
    let read = |folder: &str, name: &str| fs::read(corpus.join(folder).join(format!("{name}.bin"))).unwrap();
    KINDS
        .iter()
        .map(|(folder, names, stored)| (names.iter().map(|name| read(folder, name)).collect(), *stored))
        .collect()
}
