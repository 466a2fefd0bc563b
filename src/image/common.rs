//! What several images have in common: the stretch of addresses that lies in every one of them.

use super::Image;
use crate::finding::{Code, Finding, Weight};
use crate::span::{Span, ending_behind};
use crate::wording::{address, short_list};

/// The stretch of addresses that lies in every image.
pub struct Common<'a> {
    /// What each image holds from where the stretch begins to its own end.
    pub tails: Vec<&'a [u8]>,
    /// Bytes of the stretch.
    pub len: usize,
    /// Where some image has a gap; sorted and apart, offsets in the stretch.
    pub gaps: Vec<Span>,
    /// Where the stretch begins in the first image.
    pub shift: usize,
}

impl<'a> Common<'a> {
    /// What `images` have in common, address by address; `None` without any image.
    #[must_use]
    pub fn of(images: &[&'a Image]) -> Option<Self> {
        Self::from(images, Image::base)
    }

    /// As [`Common::of`]; images that share no address are laid together by their first bytes, which is to be remarked.
    #[must_use]
    pub fn of_one_kind(images: &[&'a Image]) -> Option<(Self, Option<Finding>)> {
        let common = Self::of(images)?;
        if common.len > 0 || images.iter().any(|image| image.is_empty()) {
            return Some((common, None));
        }
        Some((Self::from(images, |_| 0)?, Some(no_shared_address(images))))
    }

    fn from(images: &[&'a Image], first: impl Fn(&Image) -> u64) -> Option<Self> {
        let start = images.iter().map(|image| first(image)).max()?;
        let offset =
            |image: &Image| usize::try_from(start - first(image)).unwrap_or(usize::MAX).min(image.len());
        let tails: Vec<&[u8]> =
            images.iter().map(|image| image.bytes().get(offset(image)..).unwrap_or_default()).collect();
        let len = tails.iter().map(|tail| tail.len()).min()?;
        let mut inside: Vec<Span> = Vec::new();
        for image in images {
            let from = offset(image);
            let gaps = image.gaps().iter().filter_map(|gap| gap.intersection(Span::of(from, len)));
            inside.extend(gaps.map(|gap| Span::new(gap.start - from, gap.end - from)));
        }
        inside.sort_unstable();
        let mut gaps: Vec<Span> = Vec::new();
        for gap in inside {
            match gaps.last_mut().filter(|last| gap.start <= last.end) {
                Some(last) => last.end = last.end.max(gap.end),
                None => gaps.push(gap),
            }
        }
        Some(Common { tails, len, gaps, shift: offset(images.first()?) })
    }

    /// What each image holds in the stretch.
    pub fn parts(&self) -> impl Iterator<Item = &'a [u8]> {
        self.tails.iter().filter_map(|tail| tail.get(..self.len))
    }

    /// Whether every image holds the byte at this offset of the stretch.
    #[must_use]
    pub fn is_known(&self, at: usize) -> bool {
        ending_behind(&self.gaps, at).first().is_none_or(|gap| at < gap.start)
    }

    /// Bytes that every image holds.
    #[must_use]
    pub fn known_bytes(&self) -> usize {
        self.len - self.gaps.iter().map(|gap| gap.len()).sum::<usize>()
    }
}

fn no_shared_address(images: &[&Image]) -> Finding {
    let mut first: Vec<String> = Vec::new();
    for image in images {
        let base = address(image.base());
        if !first.contains(&base) {
            first.push(base);
        }
    }
    Finding::new(
        Weight::Note,
        Code::SizeChanged,
        format!("the images begin at {} and share no address", short_list(&first)),
        "they are compared from their first bytes on",
        "if that is wrong, give one its right address with `readproof convert IMAGE OUT --base ADDRESS`",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn image(base: u64, len: usize, gaps: &[Span]) -> Image {
        Image::with_gaps(
            base,
            (0..len).map(|i| (base as usize).wrapping_add(i) as u8).collect(),
            gaps.to_vec(),
        )
    }

    #[test]
    fn images_are_laid_together_by_their_addresses_and_the_gaps_of_all_are_kept() {
        let (a, b) =
            (image(0x10, 32, &[Span::new(2, 24)]), image(0x20, 32, &[Span::new(8, 12), Span::new(14, 30)]));
        let common = Common::of(&[&a, &b]).unwrap();
        assert_eq!((common.len, common.shift), (16, 16));
        assert!(common.parts().all(|part| part == (0x20..0x30).collect::<Vec<u8>>()));
        assert_eq!(common.gaps, [Span::new(0, 12), Span::new(14, 16)]);
        assert_eq!(common.known_bytes(), 2);
        let known: Vec<usize> = (0..16).filter(|&at| common.is_known(at)).collect();
        assert_eq!(known, [12, 13]);
        assert_eq!(common.tails.iter().map(|t| t.len()).collect::<Vec<_>>(), [16, 32]);
    }

    #[test]
    fn images_that_share_no_address_are_laid_together_by_their_first_bytes_and_that_is_told() {
        let (a, b) = (image(0, 16, &[]), image(0x8000, 24, &[]));
        assert_eq!(Common::of(&[&a, &b]).unwrap().len, 0);
        let (common, remark) = Common::of_one_kind(&[&a, &b]).unwrap();
        assert_eq!((common.len, common.shift), (16, 0));
        assert_eq!(remark.unwrap().seen, "the images begin at 0x0000 and 0x8000 and share no address");
        assert!(Common::of_one_kind(&[&a, &a]).unwrap().1.is_none());
        assert!(Common::of_one_kind(&[&a, &image(0, 0, &[])]).unwrap().1.is_none());
        assert!(Common::of(&[]).is_none());
    }

    #[test]
    fn the_last_addresses_there_are_have_no_end_behind_them() {
        let (a, b) = (image(u64::MAX - 3, 16, &[]), image(u64::MAX - 7, 16, &[]));
        let common = Common::of(&[&a, &b]).unwrap();
        assert_eq!((common.len, common.shift), (12, 0));
    }
}
