//! Faults of reads, as they come about, put into clean images: the rows of the fault matrix.
//!
//! A fault counts as *changing* an image when at least [`LEAST_CHANGED`] bytes come out another way. Whether the
//! bytes alone can show it is stricter, and each fault says when: a stuck bit needs bytes in which it would vary, a
//! lost end must not look like the fill that the image has anyway. The rule looks at the clean image and the
//! damaged one, never at what the program says.

use readproof::finding::Code;
use readproof::vet::Transform;

/// Bytes that a fault must change before it counts.
pub const LEAST_CHANGED: usize = 8;

/// One fault, put into one image.
pub struct Case {
    /// Which, with its particulars: `data bit 3 stuck at 0`.
    pub what: String,
    /// The damaged read.
    pub damaged: Vec<u8>,
    /// Whether the bytes alone can show it.
    pub shows: bool,
}

/// A kind of fault: a row of the matrix.
pub struct Fault {
    /// Its name in the table.
    pub name: &'static str,
    /// The codes that name it.
    pub codes: &'static [Code],
    /// Every case of it for a clean image.
    pub cases: fn(&Clean) -> Vec<Case>,
}

/// A clean image as the chip holds it: the free rest of the chip is erased.
pub struct Clean {
    /// Where it comes from.
    pub name: String,
    /// The whole chip.
    pub chip: Vec<u8>,
    /// The file as it is.
    pub file: Vec<u8>,
}

impl Clean {
    pub fn new(name: impl Into<String>, file: Vec<u8>) -> Self {
        let mut chip = file.clone();
        chip.resize(file.len().next_power_of_two().max(128), 0xFF);
        Clean { name: name.into(), chip, file }
    }

    /// Bytes that are no fill.
    fn contents(&self) -> Vec<u8> {
        self.chip.iter().copied().filter(|b| !matches!(b, 0x00 | 0xFF)).collect()
    }
}

/// A small generator with a seed, so that every run makes the same faults.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Dice(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n.max(1) as u64) as usize
    }
}

/// Every kind of fault.
pub const FAULTS: &[Fault] = &[
    Fault { name: "blank read", codes: &[Code::Blank], cases: blank },
    Fault { name: "larger device, exact", codes: &[Code::Repeats], cases: repeats },
    Fault { name: "larger device, some bits off", codes: &[Code::Repeats], cases: nearly_repeats },
    Fault { name: "address line stuck", codes: &[Code::AddressLine, Code::Repeats], cases: address_line },
    Fault { name: "address lines shorted", codes: &[Code::AddressLine], cases: shorted },
    Fault { name: "data bit stuck", codes: &[Code::DataBit], cases: data_bit },
    Fault { name: "bytes swapped in words", codes: &[Code::BytesSwapped], cases: swapped },
    Fault {
        name: "bit order reversed",
        codes: &[Code::BitsReversed],
        cases: |c| turned(c, Transform::ReversedBits),
    },
    Fault {
        name: "all bits inverted",
        codes: &[Code::BitsInverted],
        cases: |c| turned(c, Transform::InvertedBits),
    },
    Fault {
        name: "stream 1 to 7 bits late",
        codes: &[Code::BitsShifted],
        cases: |c| shifted(c, Transform::Late),
    },
    Fault {
        name: "stream 1 to 7 bits early",
        codes: &[Code::BitsShifted],
        cases: |c| shifted(c, Transform::Early),
    },
    Fault { name: "end lost", codes: &[Code::TailLost], cases: tail },
];

pub fn changed(clean: &[u8], damaged: &[u8]) -> usize {
    clean.iter().zip(damaged).filter(|(a, b)| a != b).count() + clean.len().abs_diff(damaged.len())
}

fn distinct(bytes: &[u8]) -> usize {
    let mut seen = [false; 256];
    bytes.iter().for_each(|&b| seen[usize::from(b)] = true);
    seen.iter().filter(|s| **s).count()
}

fn case(what: impl Into<String>, damaged: Vec<u8>, shows: bool) -> Case {
    Case { what: what.into(), damaged, shows }
}

fn blank(clean: &Clean) -> Vec<Case> {
    [0xFF, 0x00, 0x5A].map(|v| case(format!("all {v:02X}"), vec![v; clean.chip.len()], true)).into()
}

/// Something must be there to repeat.
fn has_contents(clean: &Clean) -> bool {
    let contents = clean.contents();
    contents.len() >= 16 && distinct(&contents) >= 8
}

fn repeats(clean: &Clean) -> Vec<Case> {
    [2, 4, 8].map(|n| case(format!("read {n} times over"), clean.chip.repeat(n), has_contents(clean))).into()
}

fn nearly_repeats(clean: &Clean) -> Vec<Case> {
    let mut dice = Dice::new(clean.chip.len() as u64);
    let mut damaged = clean.chip.repeat(4);
    // One byte in three hundred, as in a poor read.
    let flips = (damaged.len() / 300).max(1);
    for _ in 0..flips {
        let at = dice.below(damaged.len());
        damaged[at] ^= 1 << dice.below(8);
    }
    // The noise must be less than what there is to compare.
    let enough = clean.contents().len() >= (4 * flips).max(64) && has_contents(clean);
    vec![case("read 4 times over with bits off", damaged, enough)]
}

fn readdressed(clean: &Clean, address: impl Fn(usize) -> usize) -> Vec<u8> {
    (0..clean.chip.len()).map(|i| clean.chip[address(i)]).collect()
}

/// An image that holds copies of its own contents looks like one with dead address lines to begin with.
fn holds_copies(chip: &[u8]) -> bool {
    let telling: Vec<usize> = (0..chip.len()).filter(|&i| !matches!(chip[i], 0x00 | 0xFF)).collect();
    let equal = |shift: usize| telling.iter().filter(|&&i| chip.get(i ^ shift) == Some(&chip[i])).count();
    (4..chip.len().trailing_zeros()).any(|k| equal(1 << k) * 10 >= telling.len() * 9)
}

/// The contents of the half that can still be read must say something, and the other half must have been
/// different.
fn still_telling(clean: &Clean, damaged: &[u8]) -> bool {
    if holds_copies(&clean.chip) {
        return false;
    }
    let contents: Vec<u8> = damaged.iter().copied().filter(|b| !matches!(b, 0x00 | 0xFF)).collect();
    changed(&clean.chip, damaged) >= LEAST_CHANGED && contents.len() >= 32 && distinct(&contents) >= 8
}

fn address_line(clean: &Clean) -> Vec<Case> {
    let lines = clean.chip.len().trailing_zeros();
    (0..lines)
        .flat_map(|k| {
            [(0, readdressed(clean, |i| i & !(1 << k))), (1, readdressed(clean, |i| i | 1 << k))].map(
                |(level, d)| {
                    let shows = still_telling(clean, &d);
                    case(format!("A{k} stuck at {level}"), d, shows)
                },
            )
        })
        .collect()
}

fn shorted(clean: &Clean) -> Vec<Case> {
    let lines = clean.chip.len().trailing_zeros();
    let pairs = (1..lines).map(|high| (high - 1, high));
    pairs
        .flat_map(|(low, high)| {
            let both = 1 << low | 1 << high;
            let and = readdressed(clean, |i| if i & both == both { i } else { i & !both });
            let or = readdressed(clean, |i| if i & both == 0 { i } else { i | both });
            [("low", and), ("high", or)].map(|(wins, d)| {
                // A short shows only where the two lines differ, in a half of the addresses, and only when the
                // contents there differ from each other line being dead alone.
                let mixed: Vec<u8> = (0..d.len())
                    .filter(|i| i & both != 0 && i & both != both)
                    .map(|i| d[i])
                    .filter(|b| !matches!(b, 0x00 | 0xFF))
                    .collect();
                let shows = still_telling(clean, &d) && mixed.len() >= 32 && distinct(&mixed) >= 8;
                case(format!("A{low} and A{high} shorted, {wins} wins"), d, shows)
            })
        })
        .collect()
}

fn data_bit(clean: &Clean) -> Vec<Case> {
    (0..8_u8)
        .flat_map(|bit| {
            [(0, !(1 << bit), 0), (1, 0xFF, 1 << bit)].map(|(level, and, or)| {
                let damaged: Vec<u8> = clean.chip.iter().map(|b| b & and | or).collect();
                let telling: Vec<u8> = clean.contents().into_iter().filter(|b| b & and | or != *b).collect();
                let fill =
                    clean.chip.iter().filter(|&&b| matches!(b, 0x00 | 0xFF) && (b & and | or) != b).count();
                // Either enough different bytes lose the bit while enough others stay, or the fill does.
                let varied = telling.len() >= LEAST_CHANGED && distinct(&damaged) >= 20;
                let filled = fill * 4 >= clean.chip.len() && distinct(&damaged) >= 4;
                // A top bit that reads 0 leaves plain text and small numbers, which have none.
                let shows = if bit == 7 && level == 0 { filled } else { varied || filled };
                case(format!("bit {bit} stuck at {level}"), damaged, shows)
            })
        })
        .collect()
}

fn text_characters(bytes: &[u8]) -> usize {
    bytes
        .chunk_by(|a, b| a.is_ascii_graphic() == b.is_ascii_graphic() || *b == b' ')
        .filter(|run| run.len() >= 6 && run.iter().all(|b| b.is_ascii_graphic() || *b == b' '))
        .map(<[u8]>::len)
        .sum()
}

fn swapped(clean: &Clean) -> Vec<Case> {
    let damaged = Transform::SwappedBytes.apply(&clean.chip);
    // Numbers read either way; only words of text can tell, and only when there are many.
    let shows = text_characters(&clean.chip) >= 200;
    vec![case("bytes of words swapped", damaged, shows)]
}

fn turned(clean: &Clean, transform: Transform) -> Vec<Case> {
    let shows = clean.contents().len() >= 64;
    vec![case(format!("{transform:?}"), transform.apply(&clean.chip), shows)]
}

fn shifted(clean: &Clean, transform: fn(u8) -> Transform) -> Vec<Case> {
    (1..8).flat_map(|bits| turned(clean, transform(bits))).collect()
}

fn tail(clean: &Clean) -> Vec<Case> {
    let mut dice = Dice::new(clean.chip.len() as u64 + 7);
    let used = clean.chip.iter().rposition(|b| !matches!(b, 0x00 | 0xFF)).unwrap_or(0);
    [0xFF, 0x00, 0x5A]
        .into_iter()
        .flat_map(|value| [0, 1].map(|_| value))
        .map(|value| {
            // Somewhere in what is used, off every page boundary.
            let at = dice.below(used.max(16)).max(9) / 8 * 8 + 1 + dice.below(7);
            let at = at.min(clean.chip.len() - 20) | 1;
            let mut damaged = clean.chip.clone();
            damaged[at..].fill(value);
            let fill = |v: u8| {
                clean.chip[..at]
                    .chunk_by(|a, b| a == b)
                    .filter(|r| r[0] == v && r.len() >= 4)
                    .map(<[u8]>::len)
                    .sum::<usize>()
            };
            let other = if value == 0xFF { fill(0x00) } else { fill(0xFF) };
            let shows = match value {
                // Makers write structures filled with zeros into erased chips: an end of FF is how those look.
                0xFF => false,
                0x00 => fill(value) == 0 && other >= 12,
                _ => true,
            };
            case(format!("{value:02X} from {at} on"), damaged, shows)
        })
        .collect()
}
