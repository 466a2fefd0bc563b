//! Do several reads of one chip agree, and which of them are to be trusted?

use super::pattern::Pattern;
use crate::finding::{Code, Finding, Weight};
use crate::image::{Common, Image};
use crate::span::Span;
use crate::wording::{count, count_of, list};

/// How several reads compare.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Agreement {
    /// Bytes that every read has.
    pub bytes_compared: usize,
    /// Those that are not the same in all reads.
    pub bytes_unstable: usize,
    /// Bits that are not the same in all reads.
    pub bits_unstable: usize,
    /// For each read, the number (from 0) of the group of equal reads it is in; groups are counted in the order
    /// of their first read.
    pub groups: Vec<usize>,
    /// The group of equal reads, two at least, that is larger than every other.
    pub trusted: Option<usize>,
    /// Whether every read has bytes at the same addresses.
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
    /// From the first difference to the last; offsets of the first read.
    pub place: Span,
    /// What the differences have in common.
    pub pattern: Pattern,
}

/// Compares reads; fewer than two have nothing to agree on.
pub(super) fn compare(reads: &[&Image]) -> Option<Agreement> {
    if reads.len() < 2 {
        return None;
    }
    let common = Common::of(reads)?;
    let groups = groups(reads);
    let trusted = trusted(&groups);
    let anchor = trusted.and_then(|group| groups.iter().position(|&g| g == group)).unwrap_or(0);
    let others = (0..reads.len()).filter(|&read| groups[read] != groups[anchor]);
    let flips = others.filter_map(|read| common.flips(read, anchor)).collect();
    let unstable = common.unstable();
    Some(Agreement {
        bytes_compared: common.known_bytes(),
        bytes_unstable: unstable.len(),
        bits_unstable: unstable.iter().map(|bits| bits.count_ones() as usize).sum(),
        groups,
        trusted,
        same_extent: reads.windows(2).all(|w| same_extent(w[0], w[1])),
        flips,
    })
}

fn same_extent(a: &Image, b: &Image) -> bool {
    a.base() == b.base() && a.len() == b.len() && a.gaps() == b.gaps()
}

fn groups(reads: &[&Image]) -> Vec<usize> {
    let mut groups: Vec<usize> = Vec::new();
    for (i, read) in reads.iter().enumerate() {
        let equal = |j: &usize| same_extent(reads[*j], read) && reads[*j].bytes() == read.bytes();
        let next = groups.iter().max().map_or(0, |g| g + 1);
        groups.push((0..i).find(equal).map_or(next, |j| groups[j]));
    }
    groups
}

/// The group with at least two reads and more than any other.
fn trusted(groups: &[usize]) -> Option<usize> {
    let size = |group: usize| groups.iter().filter(|&&g| g == group).count();
    let all = 0..=groups.iter().copied().max()?;
    let largest = all.clone().max_by_key(|&group| size(group))?;
    let is_alone = all.filter(|&group| size(group) == size(largest)).count() == 1;
    (size(largest) >= 2 && is_alone).then_some(largest)
}

impl Common<'_> {
    /// The bits that are not the same in all reads, for each byte that has any.
    fn unstable(&self) -> Vec<u8> {
        let parts: Vec<&[u8]> = self.parts().collect();
        let Some((first, others)) = parts.split_first() else { return Vec::new() };
        if others.iter().all(|part| part == first) {
            return Vec::new();
        }
        let bits = |at: usize| others.iter().fold(0, |bits, part| bits | (part[at] ^ first[at]));
        (0..first.len()).filter(|&at| self.is_known(at)).map(bits).filter(|&bits| bits != 0).collect()
    }

    fn flips(&self, read: usize, against: usize) -> Option<Flips> {
        let (here, there) = (self.parts().nth(read)?, self.parts().nth(against)?);
        let differing: Vec<usize> =
            (0..here.len()).filter(|&at| here[at] != there[at] && self.is_known(at)).collect();
        let (first, last) = (differing.first()?, differing.last()?);
        let bits =
            |f: fn(u8, u8) -> u8| differing.iter().map(|&i| f(here[i], there[i]).count_ones() as usize).sum();
        Some(Flips {
            read,
            against,
            bytes: differing.len(),
            rising: bits(|h, t| h & !t),
            falling: bits(|h, t| !h & t),
            place: Span::new(first + self.shift, last + 1 + self.shift),
            pattern: Pattern::of(here, there, &differing, self.shift),
        })
    }
}

/// The findings for how reads compare: nothing when they agree. `by_contents` explains a difference that is no fault
/// of reading.
pub(super) fn findings(
    agreement: &Agreement,
    by_contents: impl Fn(&Flips, Weight) -> Option<Finding>,
) -> Vec<Finding> {
    let mut found = Vec::new();
    if !agreement.same_extent {
        found.push(Finding::new(
            Weight::Fault,
            Code::ReadsDisagree,
            format!(
                "the reads are not equally long, do not begin at the same address or have different gaps; {} in all of them",
                match agreement.bytes_compared {
                    1 => "1 byte is".to_owned(),
                    n => format!("{n} bytes are"),
                }
            ),
            "different devices were selected, or a read was cut short",
            "select the device that is printed on the chip, and read all of it again each time",
        ));
    }
    let weight = if agreement.trusted.is_some() { Weight::Doubt } else { Weight::Fault };
    for flips in &agreement.flips {
        if let Some(explained) = by_contents(flips, weight) {
            found.push(explained);
            continue;
        }
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
        found.push(Finding::new(weight, Code::ReadsDisagree, seen, means, advice).at(flips.place));
    }
    found
}

/// The numbers of the reads in a group: `1 and 2`.
fn members(agreement: &Agreement, group: usize) -> String {
    let of_group = agreement.groups.iter().enumerate().filter(|&(_, &g)| g == group);
    list(&of_group.map(|(i, _)| (i + 1).to_string()).collect::<Vec<_>>())
}

fn direction(flips: &Flips) -> String {
    match (flips.rising, flips.falling) {
        (_, 0) => "all 1 here and 0 there".to_owned(),
        (0, _) => "all 0 here and 1 there".to_owned(),
        (up, down) => format!("{} 1 here and 0 there, {down} the other way round", count_of(up, "is", "are")),
    }
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
        assert_eq!(findings(&agreement, |_, _| None), []);
        assert_eq!(compare(&[&Image::raw(content())]), None);
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
        let found = findings(&agreement, |_, _| None);
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
        assert_eq!(findings(&agreement, |_, _| None)[0].weight, Weight::Fault);
        let moved = Image::with_gaps(0x100, content()[0x100..].to_vec(), Vec::new());
        let agreement = compare(&[&Image::raw(content()), &moved]).unwrap();
        assert_eq!((agreement.bytes_compared, agreement.bytes_unstable), (256, 0));
        let apart = Image::with_gaps(0x4000, content(), Vec::new());
        assert_eq!(compare(&[&short, &apart]).unwrap().bytes_compared, 0);
    }

    #[test]
    fn what_is_in_the_gap_of_a_read_is_not_compared_and_such_a_read_is_equal_to_no_whole_one() {
        let mut bytes = content();
        bytes[0x40..0x50].fill(0xFF);
        let (whole, cut) =
            (Image::raw(bytes.clone()), Image::with_gaps(0, bytes, vec![Span::new(0x40, 0x50)]));
        let agreement = compare(&[&whole, &cut]).unwrap();
        assert_eq!((agreement.same_extent, agreement.trusted, agreement.bytes_compared), (false, None, 496));
        assert_eq!(findings(&agreement, |_, _| None)[0].weight, Weight::Fault);
        let agreement = compare(&[&Image::raw(content()), &cut]).unwrap();
        assert_eq!((agreement.bytes_unstable, agreement.flips.as_slice()), (0, [].as_slice()));
        assert_eq!(compare(&[&cut, &cut]).unwrap().trusted, Some(0));
    }

    #[test]
    fn each_read_is_told_with_the_place_of_its_own_differences() {
        let changed = |at: usize| {
            let mut bytes = content();
            bytes[at] ^= 1;
            Image::raw(bytes)
        };
        let good = Image::raw(content());
        let found = findings(&compare(&[&good, &good, &changed(9), &changed(300)]).unwrap(), |_, _| None);
        let places: Vec<_> = found.iter().map(|f| f.place).collect();
        assert_eq!(places, [Some(Span::of(9, 1)), Some(Span::of(300, 1))]);
    }
}
