//! Do several reads of one chip agree, and if not, what kind of fault is it?

use super::transform::Transform;
use crate::finding::{Code, Finding, Weight};
use crate::image::Image;
use crate::span::Span;

/// How several reads compare.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Agreement {
    /// Bytes that every read has.
    pub bytes_compared: usize,
    /// Those that are not the same in all reads.
    pub bytes_unstable: usize,
    /// Bits that are not the same in all reads.
    pub bits_unstable: usize,
    /// The unstable places, close ones taken together; offsets of the first read.
    pub places: Vec<Span>,
    /// For each read, the number (from 0) of the group of equal reads it is in; groups are counted in the order
    /// of their first read.
    pub groups: Vec<usize>,
    /// The group of equal reads, two at least, that is larger than every other.
    pub trusted: Option<usize>,
    /// Whether every read covers the same addresses.
    pub same_extent: bool,
    /// What the differences have in common, for each read that is not in the trusted group (or, without one, for
    /// each read against the first).
    pub flips: Vec<Flips>,
}

/// How one read differs from another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flips {
    /// The read that is compared.
    pub read: usize,
    /// The read it is compared with.
    pub against: usize,
    /// Bytes that differ.
    pub bytes: usize,
    /// Bits that are 1 here and 0 there.
    pub rising: usize,
    /// Bits that are 0 here and 1 there.
    pub falling: usize,
    /// What the differences have in common.
    pub pattern: Pattern,
}

/// What the differences between two reads have in common.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pattern {
    /// All in this one bit of their bytes.
    OneBit(u8),
    /// One read has the bytes of the addresses with this line the other way.
    OneAddressLine(u32),
    /// All in this stretch.
    Burst(Span),
    /// Most of them (so many bytes) in this stretch, the rest scattered.
    BurstAndScattered(Span, usize),
    /// Everything from here on is one value in one of the reads.
    Tail(Span, u8),
    /// One read is the other turned about as a whole.
    Transformed(Transform),
    /// Nothing.
    Scattered,
}

/// Unstable places with fewer stable bytes between them are told as one.
const JOIN_WITHIN: usize = 8;
/// Differences that must share a bit, an address line or a stretch before that counts.
const LEAST_SHARED: usize = 4;

/// Compares reads; fewer than two have nothing to agree on.
#[must_use]
pub fn compare(reads: &[&Image]) -> Option<Agreement> {
    if reads.len() < 2 {
        return None;
    }
    let start = reads.iter().map(|r| r.base()).max()?;
    let end = reads.iter().map(|r| r.address(r.len())).min()?;
    let common: Vec<&[u8]> = reads.iter().map(|r| between(r, start, end)).collect();
    let same_extent = reads.windows(2).all(|w| w[0].base() == w[1].base() && w[0].len() == w[1].len());
    let first = common.first()?;
    // Offsets are those of the first read.
    let shift = usize::try_from(start.saturating_sub(reads[0].base())).unwrap_or(0);

    let mut groups: Vec<usize> = Vec::new();
    for (i, read) in reads.iter().enumerate() {
        let like = |j: &usize| reads[*j].base() == read.base() && reads[*j].bytes() == read.bytes();
        let next = groups.iter().max().map_or(0, |g| g + 1);
        groups.push((0..i).find(like).map_or(next, |j| groups[j]));
    }

    let mut agreement = Agreement {
        bytes_compared: first.len(),
        bytes_unstable: 0,
        bits_unstable: 0,
        places: Vec::new(),
        trusted: trusted(&groups),
        groups,
        same_extent,
        flips: Vec::new(),
    };
    if common.iter().all(|c| c == first) {
        return Some(agreement);
    }
    for at in 0..first.len() {
        let unstable = common.iter().fold(0, |bits, read| bits | (read[at] ^ first[at]));
        if unstable != 0 {
            agreement.bytes_unstable += 1;
            agreement.bits_unstable += unstable.count_ones() as usize;
            match agreement.places.last_mut() {
                Some(last) if at + shift < last.end + JOIN_WITHIN => last.end = at + shift + 1,
                _ => agreement.places.push(Span::of(at + shift, 1)),
            }
        }
    }
    let anchor = agreement.trusted.and_then(|g| agreement.groups.iter().position(|&x| x == g)).unwrap_or(0);
    for (i, bytes) in common.iter().enumerate() {
        if agreement.groups[i] != agreement.groups[anchor]
            && let Some(flips) = flips(i, bytes, anchor, common[anchor], shift)
        {
            agreement.flips.push(flips);
        }
    }
    Some(agreement)
}

fn between(read: &Image, start: u64, end: u64) -> &[u8] {
    let offset = |address: u64| usize::try_from(address.saturating_sub(read.base())).unwrap_or(usize::MAX);
    let from = offset(start).min(read.len());
    let to = offset(end).clamp(from, read.len());
    &read.bytes()[from..to]
}

/// The group with at least two reads and more than any other.
fn trusted(groups: &[usize]) -> Option<usize> {
    let size = |g: usize| groups.iter().filter(|&&x| x == g).count();
    let most = groups.iter().map(|&g| size(g)).max().filter(|&n| n >= 2)?;
    let mut largest: Vec<usize> = groups.iter().copied().filter(|&g| size(g) == most).collect();
    largest.dedup();
    largest.sort_unstable();
    largest.dedup();
    if let [only] = largest[..] { Some(only) } else { None }
}

fn flips(read: usize, here: &[u8], against: usize, there: &[u8], shift: usize) -> Option<Flips> {
    let differing: Vec<usize> = (0..here.len()).filter(|&i| here[i] != there[i]).collect();
    if differing.is_empty() {
        return None;
    }
    let count =
        |f: fn(u8, u8) -> u8| differing.iter().map(|&i| f(here[i], there[i]).count_ones() as usize).sum();
    Some(Flips {
        read,
        against,
        bytes: differing.len(),
        rising: count(|h, t| h & !t),
        falling: count(|h, t| !h & t),
        pattern: pattern(here, there, &differing, shift),
    })
}

fn pattern(here: &[u8], there: &[u8], differing: &[usize], shift: usize) -> Pattern {
    let Some(&first) = differing.first() else { return Pattern::Scattered };
    if differing.len() < LEAST_SHARED {
        return Pattern::Scattered;
    }
    let whole = |t: &Transform| {
        let inner = 1..here.len().saturating_sub(1).max(1);
        t.apply(there).get(inner.clone()) == here.get(inner)
    };
    if differing.len() * 4 >= there.iter().filter(|&&b| b != 0xFF && b != 0x00).count()
        && let Some(transform) = Transform::ALL.into_iter().find(whole)
    {
        return Pattern::Transformed(transform);
    }
    let bits = differing.iter().fold(0, |bits, &i| bits | (here[i] ^ there[i]));
    if bits.is_power_of_two() {
        return Pattern::OneBit(bits.trailing_zeros() as u8);
    }
    for line in 0..usize::BITS - here.len().leading_zeros() {
        let other = |i: usize| i ^ 1 << line;
        let explained = |from: &[u8], to: &[u8]| {
            let same = |&&i: &&usize| from.get(other(i)) == Some(&to[i]);
            differing.iter().filter(same).count() * 20 >= differing.len() * 19
        };
        if explained(there, here) || explained(here, there) {
            return Pattern::OneAddressLine(line);
        }
    }
    // An end of one value that begins where the differences begin.
    for bytes in [here, there] {
        if let Some((tail, value)) = super::tail::one_value(bytes)
            && tail.start <= first
            && first < tail.start + JOIN_WITHIN
        {
            return Pattern::Tail(Span::new(tail.start + shift, tail.end + shift), value);
        }
    }
    burst(differing, shift)
}

/// The stretch with most of the differences in it, if they lie closer together there than elsewhere.
fn burst(differing: &[usize], shift: usize) -> Pattern {
    // Runs in which at least every eighth byte differs.
    let runs: Vec<&[usize]> = differing.chunk_by(|a, b| b - a <= JOIN_WITHIN).collect();
    let Some(longest) = runs.iter().max_by_key(|r| r.len()).filter(|r| r.len() >= LEAST_SHARED) else {
        return Pattern::Scattered;
    };
    let span = Span::new(longest[0] + shift, longest[longest.len() - 1] + 1 + shift);
    if longest.len() == differing.len() {
        Pattern::Burst(span)
    } else if longest.len() * 3 >= differing.len() {
        Pattern::BurstAndScattered(span, longest.len())
    } else {
        Pattern::Scattered
    }
}

impl Pattern {
    /// What the differences have in common, and what that usually means.
    fn words(&self) -> (String, String) {
        let (seen, means): (String, &str) = match self {
            Pattern::OneBit(bit) => {
                (format!("all in bit {bit}"), "a weak or stuck data bit, or a poor contact of the data line")
            }
            Pattern::OneAddressLine(line) => (
                format!("all where address line A{line} matters"),
                "address line contact, or a bit lost while the address was sent",
            ),
            Pattern::Burst(span) => (
                format!("all in one burst, offsets {span}"),
                "contact or supply was disturbed for a moment, or the chip changed there between the reads",
            ),
            Pattern::BurstAndScattered(span, n) => (
                format!("{n} of them in one burst, offsets {span}, the rest scattered"),
                "contact or supply was disturbed during that read",
            ),
            Pattern::Tail(span, value) => (
                format!("from offset 0x{:04X} to the end, where one read holds only {value:02X}", span.start),
                "contact was lost during one of the reads",
            ),
            Pattern::Transformed(transform) => (
                format!("one read is the other turned about: {}", transform.remedy()),
                "the reads were made with different settings",
            ),
            Pattern::Scattered => (
                "scattered, with nothing in common".to_owned(),
                "noise: a poor contact, long wires, a clock that is too fast, or a weak supply",
            ),
        };
        (seen, means.to_owned())
    }
}

/// The findings for how reads compare: nothing when they agree.
#[must_use]
pub fn findings(agreement: &Agreement) -> Vec<Finding> {
    let mut found = Vec::new();
    if !agreement.same_extent {
        found.push(Finding::new(
            Weight::Fault,
            Code::ReadsDisagree,
            format!(
                "the reads are not equally long or do not begin at the same address; {} bytes are in all",
                agreement.bytes_compared
            ),
            "different devices were selected, or a read was cut short",
            "select the device that is printed on the chip, and read all of it again each time",
        ));
    }
    let weight = if agreement.trusted.is_some() { Weight::Doubt } else { Weight::Fault };
    for flips in &agreement.flips {
        let (pattern, means) = flips.pattern.words();
        let (read, against) = (flips.read + 1, flips.against + 1);
        let seen = format!(
            "read {read} differs from read {against} in {} ({}; {}): {pattern}",
            count(flips.bytes, "byte"),
            count(flips.rising + flips.falling, "bit"),
            direction(flips),
        );
        let advice = match agreement.trusted {
            Some(group) => format!(
                "trust the equal reads ({}), leave read {read} out, and read once more to be sure",
                members(agreement, group)
            ),
            None if agreement.groups.len() == 2 => {
                "clean and reseat the contact, and read a third time: two reads cannot say which is right".to_owned()
            }
            None => "clean and reseat the contact and read until two reads agree; what most reads hold is written by `readproof vet READS --majority OUT`"
                .to_owned(),
        };
        let mut finding = Finding::new(weight, Code::ReadsDisagree, seen, means, advice);
        if let (Some(first), Some(last)) = (agreement.places.first(), agreement.places.last()) {
            finding = finding.at(Span::new(first.start, last.end));
        }
        found.push(finding);
    }
    found
}

/// The numbers of the reads in a group: `1 and 2`.
#[must_use]
pub fn members(agreement: &Agreement, group: usize) -> String {
    let numbers: Vec<String> = agreement
        .groups
        .iter()
        .enumerate()
        .filter(|&(_, &g)| g == group)
        .map(|(i, _)| (i + 1).to_string())
        .collect();
    match numbers.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => numbers.concat(),
    }
}

fn direction(flips: &Flips) -> String {
    match (flips.rising, flips.falling) {
        (_, 0) => "all 1 here and 0 there".to_owned(),
        (0, _) => "all 0 here and 1 there".to_owned(),
        (up, down) => format!("{up} are 1 here and 0 there, {down} the other way round"),
    }
}

fn count(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn content() -> Vec<u8> {
        (0..512_usize).map(|i| ((i * 167) ^ (i >> 3) ^ 0x5A) as u8).collect()
    }

    fn against(change: impl Fn(&mut Vec<u8>)) -> Agreement {
        let mut other = content();
        change(&mut other);
        compare(&[&Image::raw(content()), &Image::raw(other)]).unwrap()
    }

    #[test]
    fn equal_reads_agree() {
        let agreement = against(|_| ());
        assert_eq!((agreement.bytes_compared, agreement.bytes_unstable), (512, 0));
        assert_eq!((agreement.groups.as_slice(), agreement.trusted), ([0, 0].as_slice(), Some(0)));
        assert_eq!(findings(&agreement), []);
        assert_eq!(compare(&[&Image::raw(content())]), None);
    }

    #[test]
    fn what_the_differences_have_in_common_is_told() {
        let pattern = |change: fn(&mut Vec<u8>)| against(change).flips[0].pattern.clone();
        assert_eq!(pattern(|b| b.iter_mut().step_by(50).for_each(|b| *b ^= 0x10)), Pattern::OneBit(4));
        assert_eq!(
            pattern(|b| b[100..120].iter_mut().for_each(|b| *b = !*b)),
            Pattern::Burst(Span::new(100, 120))
        );
        assert_eq!(
            pattern(|b| {
                b[100..120].iter_mut().for_each(|b| *b = !*b);
                [7, 300, 450].iter().for_each(|&i| b[i] ^= 0x81);
            }),
            Pattern::BurstAndScattered(Span::new(100, 120), 20)
        );
        assert_eq!(pattern(|b| b[333..].fill(0xFF)), Pattern::Tail(Span::new(333, 512), 0xFF));
        assert_eq!(
            pattern(|b| [3, 99, 201, 340, 400].iter().zip([1, 6, 128, 24, 3]).for_each(|(&i, x)| b[i] ^= x)),
            Pattern::Scattered
        );
        assert_eq!(
            pattern(|b| *b = (0..512).map(|i| content()[i & !64]).collect()),
            Pattern::OneAddressLine(6)
        );
        for transform in Transform::ALL {
            let other = Image::raw(transform.apply(&content()));
            let agreement = compare(&[&Image::raw(content()), &other]).unwrap();
            assert_eq!(agreement.flips[0].pattern, Pattern::Transformed(transform));
        }
    }

    #[test]
    fn flips_are_counted_by_direction() {
        let agreement = against(|b| {
            b[10] |= 0x0F;
            b[400] &= 0x0F;
        });
        let (ten, four_hundred) = (content()[10], content()[400]);
        let flips = &agreement.flips[0];
        assert_eq!(flips.rising as u32, (!ten & 0x0F).count_ones());
        assert_eq!(flips.falling as u32, (four_hundred & 0xF0).count_ones());
        assert_eq!(agreement.bits_unstable, flips.rising + flips.falling);
    }

    #[test]
    fn two_equal_reads_outvote_a_third() {
        let mut poor = content();
        poor[9] ^= 1;
        let (good, poor) = (Image::raw(content()), Image::raw(poor));
        let agreement = compare(&[&good, &poor, &good]).unwrap();
        assert_eq!((agreement.groups.as_slice(), agreement.trusted), ([0, 1, 0].as_slice(), Some(0)));
        let found = findings(&agreement);
        assert_eq!((found.len(), found[0].weight), (1, Weight::Doubt));
        assert!(found[0].advice.starts_with("trust the equal reads (1 and 3), leave read 2 out"));
        let split = compare(&[&good, &good, &poor, &poor]).unwrap();
        assert_eq!(split.trusted, None, "two against two");
    }

    #[test]
    fn reads_of_different_length_or_place_are_compared_where_both_are() {
        let short = Image::raw(content()[..256].to_vec());
        let agreement = compare(&[&Image::raw(content()), &short]).unwrap();
        assert_eq!((agreement.same_extent, agreement.bytes_compared), (false, 256));
        assert_eq!(findings(&agreement)[0].weight, Weight::Fault);
        let moved = Image::with_gaps(0x100, content()[0x100..].to_vec(), Vec::new());
        let agreement = compare(&[&Image::raw(content()), &moved]).unwrap();
        assert_eq!((agreement.bytes_compared, agreement.bytes_unstable), (256, 0));
        let apart = Image::with_gaps(0x4000, content(), Vec::new());
        assert_eq!(compare(&[&short, &apart]).unwrap().bytes_compared, 0);
    }
}
