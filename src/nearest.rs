//! Which of many known images is nearest to a read.
//!
//! Nearer is, in this order: what has the same part number, what is of the same layout, what has more bytes alike,
//! what has the same size. Bytes are compared at equal distance from the first; a byte that is blank (00 or FF) in
//! both says nothing and is not counted, or two nearly empty memories would always look alike. A read whose contents
//! repeat, because a larger device was selected, is compared by its first part.
//!
//! Part numbers are the fields called `part_number` or ending in `_part_number`. They are decoded only where their
//! bytes are in the known image but not at the same place, and the layout is told by its marks alone, so that most
//! of the work is comparing bytes.

use std::borrow::Cow;
use std::cmp::Ordering;

use memchr::memmem::Finder;

use crate::compare::{self, FieldChange};
use crate::image::Image;
use crate::layout::{self, Decoded, FieldState, Layout, Shape};
use crate::span::Span;
use crate::vet;

/// A read, ready to be compared with many known images.
pub struct Wanted<'a> {
    read: &'a Image,
    /// The part of the read that is compared, when its contents repeat.
    part: Option<Image>,
    layout: Option<(&'a Layout, Decoded)>,
    numbers: Vec<PartNumber>,
}

/// A part number of the read.
struct PartNumber {
    path: String,
    text: String,
    spans: Vec<Span>,
    /// The bytes that hold it, without what fills the field up.
    stored: Finder<'static>,
}

/// How near a known image is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Likeness {
    /// Whether its part numbers are those of the read; `None` when the read has none.
    pub same_part_number: Option<bool>,
    /// Whether the marks of the read's layout fit it; `None` when the read has no layout with marks.
    pub same_layout: Option<bool>,
    /// How much of it is the same.
    pub alike: Alike,
    /// Whether it has as many bytes as the read, or as the part of it that is compared.
    pub same_size: bool,
    /// Whether both hold bytes in the same places: they are as long and have the same gaps.
    pub same_places: bool,
}

/// How many bytes of two images are the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Alike {
    /// Bytes that are the same and not blank.
    pub same: usize,
    /// Bytes that are not blank in both; what only the longer image has counts when it is not blank.
    pub counted: usize,
}

impl Alike {
    /// Compares two images from their first bytes on. What is in a gap of one counts as what only the other has.
    #[must_use]
    pub fn between(a: &Image, b: &Image) -> Self {
        let a_bytes = blank_in_gaps(a, b.bytes());
        let b_bytes = blank_in_gaps(b, &a_bytes);
        Self::of(&a_bytes, &b_bytes)
    }

    /// Compares bytes from the first on.
    #[must_use]
    pub fn of(a: &[u8], b: &[u8]) -> Self {
        let (a, b) = if a.len() <= b.len() { (a, b) } else { (b, a) };
        let (common, rest) = b.split_at(a.len());
        // Sums of at most 255 ones fit into bytes, of which processors add many at once.
        const CHUNK: usize = 240;
        let (mut equal, mut blank) = (0, 0);
        for (x, y) in a.chunks(CHUNK).zip(common.chunks(CHUNK)) {
            let (mut equal_here, mut blank_here) = (0_u8, 0_u8);
            for (x, y) in x.iter().zip(y) {
                let same = u8::from(x == y);
                equal_here += same;
                blank_here += same & u8::from(is_blank(*x));
            }
            equal += usize::from(equal_here);
            blank += usize::from(blank_here);
        }
        let beyond = rest.iter().filter(|byte| !is_blank(**byte)).count();
        Alike { same: equal - blank, counted: a.len() - blank + beyond }
    }

    /// Nothing that counts differs.
    #[must_use]
    pub fn all(self) -> bool {
        self.same == self.counted
    }

    /// In thousandths, cut: 1000 only when nothing differs.
    #[must_use]
    pub fn thousandths(self) -> usize {
        match self.counted {
            0 => 1000,
            counted => (self.same as u128 * 1000 / counted as u128) as usize,
        }
    }

    /// By the share that is the same.
    fn by_share(self, other: Self) -> Ordering {
        let share = |alike: Self| match alike.counted {
            0 => (1, 1),
            counted => (alike.same as u128, counted as u128),
        };
        let ((same, counted), (others_same, others_counted)) = (share(self), share(other));
        (same * others_counted).cmp(&(others_same * counted))
    }
}

/// The bytes of an image, those in gaps as blank as the other bytes there, which then only count when they are not.
fn blank_in_gaps<'i>(image: &'i Image, other: &[u8]) -> Cow<'i, [u8]> {
    if image.gaps().is_empty() {
        return Cow::Borrowed(image.bytes());
    }
    let mut bytes = image.bytes().to_vec();
    for at in image.gaps().iter().flat_map(|gap| gap.range()) {
        bytes[at] = if other.get(at) == Some(&0x00) { 0x00 } else { 0xFF };
    }
    Cow::Owned(bytes)
}

fn is_blank(byte: u8) -> bool {
    byte == 0x00 || byte == 0xFF
}

impl Likeness {
    /// The greater is the nearer.
    #[must_use]
    pub fn by_nearness(&self, other: &Self) -> Ordering {
        let kind = |one: &Self| (one.same_part_number == Some(true), one.same_layout == Some(true));
        let by_size = self.same_size.cmp(&other.same_size);
        kind(self).cmp(&kind(other)).then(self.alike.by_share(other.alike)).then(by_size)
    }

    /// Whether it is of the same kind by its part number, else by its layout, else by half of its bytes.
    #[must_use]
    pub fn is_near(&self) -> bool {
        match (self.same_part_number, self.same_layout) {
            (Some(same), _) | (None, Some(same)) => same,
            (None, None) => self.alike.same * 2 >= self.alike.counted,
        }
    }

    /// Whether it holds the same bytes.
    #[must_use]
    pub fn is_equal(&self) -> bool {
        self.same_places && self.alike.all()
    }
}

impl<'a> Wanted<'a> {
    /// A read and the layout it is read by, if one is known.
    #[must_use]
    pub fn new(read: &'a Image, layout: Option<&'a Layout>) -> Self {
        let mut wanted = Wanted { read, part: vet::repeated(read), layout: None, numbers: Vec::new() };
        if let Some(layout) = layout {
            let decoded = layout::decode(layout, wanted.image());
            wanted.numbers = part_numbers(&decoded, wanted.image());
            wanted.layout = Some((layout, decoded));
        }
        wanted
    }

    /// What is compared: the read, or the part of it that repeats.
    #[must_use]
    pub fn image(&self) -> &Image {
        self.part.as_ref().unwrap_or(self.read)
    }

    /// Bytes of the part that is compared, when the contents of the read repeat.
    #[must_use]
    pub fn period(&self) -> Option<usize> {
        self.part.as_ref().map(Image::len)
    }

    /// The part numbers of the read, as path and text.
    pub fn part_numbers(&self) -> impl Iterator<Item = (&str, &str)> {
        self.numbers.iter().map(|number| (number.path.as_str(), number.text.as_str()))
    }

    /// How near `known` is.
    #[must_use]
    pub fn likeness(&self, known: &Image) -> Likeness {
        let same_layout = self
            .layout
            .as_ref()
            .filter(|(layout, _)| layout.has_marks())
            .map(|(layout, _)| !layout::fits(std::slice::from_ref(*layout), known).is_empty());
        Likeness {
            same_part_number: self.same_part_number(known, same_layout),
            same_layout,
            alike: Alike::between(self.image(), known),
            same_size: self.image().len() == known.len(),
            same_places: self.image().len() == known.len() && self.image().gaps() == known.gaps(),
        }
    }

    fn same_part_number(&self, known: &Image, same_layout: Option<bool>) -> Option<bool> {
        let (layout, _) = self.layout.as_ref()?;
        if self.numbers.is_empty() {
            return None;
        }
        if same_layout == Some(false) {
            return Some(false);
        }
        let bytes = known.bytes();
        let in_place = |number: &PartNumber| {
            number.spans.iter().all(|span| {
                known.get(*span).is_some_and(|held| Some(held) == span.of_bytes(self.image().bytes()))
            })
        };
        if self.numbers.iter().all(in_place) {
            return Some(true);
        }
        if !self.numbers.iter().all(|number| number.stored.find(bytes).is_some()) {
            return Some(false);
        }
        let decoded = layout::decode(layout, known);
        let holds = |number: &PartNumber| {
            decoded.fields.iter().any(|f| f.path == number.path && f.text.trim_end() == number.text)
        };
        Some(self.numbers.iter().all(holds))
    }

    /// The fields in which `known` differs, by the layout of the read; `None` without one. Fields come in the order
    /// of the layout.
    #[must_use]
    pub fn differing_fields(&self, known: &Image) -> Option<Vec<FieldChange>> {
        let (layout, decoded) = self.layout.as_ref()?;
        let (read, known) = compare::common_base(self.image(), known)?;
        // Where a gap was put before the read, its fields lie elsewhere.
        let moved = read.len() != self.image().len();
        let own = moved.then(|| layout::decode(layout, &read));
        let others = layout::decode(layout, &known);
        Some(compare::compare(&read, &known, Some((own.as_ref().unwrap_or(decoded), &others))).fields)
    }
}

fn part_numbers(decoded: &Decoded, read: &Image) -> Vec<PartNumber> {
    let is_number = |name: &str| name == "part_number" || name.ends_with("_part_number");
    let leaves = decoded.fields.iter().filter(|f| f.shape == Shape::Leaf && is_number(&f.name));
    leaves
        .filter(|f| f.state == FieldState::Fine && !f.text.trim().is_empty())
        .filter_map(|f| {
            let stored = f.spans.first()?.of_bytes(read.bytes())?;
            let fill = |byte: &u8| is_blank(*byte) || *byte == b' ';
            let end = stored.iter().rposition(|byte| !fill(byte))? + 1;
            Some(PartNumber {
                path: f.path.clone(),
                text: f.text.trim_end().to_owned(),
                spans: f.spans.clone(),
                stored: Finder::new(stored.get(..end)?).into_owned(),
            })
        })
        .collect()
}

/// The nearest of many, the nearest first; of equally near ones those that came first.
#[derive(Debug, Clone)]
pub struct Nearest<K> {
    most: usize,
    kept: Vec<(Likeness, K)>,
}

impl<K> Nearest<K> {
    /// Keeps at most `most`.
    #[must_use]
    pub fn of_at_most(most: usize) -> Self {
        Nearest { most, kept: Vec::new() }
    }

    /// One more, kept if it is near enough.
    pub fn offer(&mut self, likeness: Likeness, known: K) {
        let at = self.kept.partition_point(|(kept, _)| kept.by_nearness(&likeness).is_ge());
        if at < self.most {
            self.kept.insert(at, (likeness, known));
            self.kept.truncate(self.most);
        }
    }

    /// What is kept.
    #[must_use]
    pub fn into_kept(self) -> Vec<(Likeness, K)> {
        self.kept
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const LAYOUT: &str = r#"(layout: "Test", format: 1, source: "a test",
        fits: (bytes: [48, 64], marks: [(at: 0, hex: "4652 4F53")]),
        fields: [
            (name: "length", at: 4, kind: Int(bits: 8)),
            (name: "part_number", at: "8 + length % 8", kind: Text(bytes: 8, pad: " "), role: Identity),
        ])"#;

    /// An image by the layout: its part number at a place that depends on the image.
    fn image(shift: u8, number: &str, rest: &[u8], bytes: usize) -> Image {
        let mut image = vec![0xFF; bytes];
        image[..4].copy_from_slice(b"FROS");
        image[4] = shift;
        let at = 8 + usize::from(shift % 8);
        image[at..at + 8].fill(b' ');
        image[at..at + number.len()].copy_from_slice(number.as_bytes());
        for (place, byte) in image[24..].iter_mut().zip(rest) {
            *place = *byte;
        }
        Image::raw(image)
    }

    /// The same answers without any short cut.
    fn naive(read: &Image, known: &Image, layout: &Layout) -> Likeness {
        let number = |image: &Image| {
            let decoded = layout::decode(layout, image);
            decoded
                .field("part_number")
                .filter(|f| f.state == FieldState::Fine)
                .map(|f| f.text.trim_end().to_owned())
        };
        let fits = |image: &Image| !layout::fits(std::slice::from_ref(layout), image).is_empty();
        let longest = read.len().max(known.len());
        let at = |image: &Image, i: usize| image.bytes().get(i).copied();
        let blank = |byte: Option<u8>| byte.is_none_or(|b| b == 0 || b == 0xFF);
        let both_blank = |i: &usize| match (at(read, *i), at(known, *i)) {
            (Some(a), Some(b)) => a == b && blank(Some(a)),
            (a, b) => blank(a) && blank(b),
        };
        let counted: Vec<usize> = (0..longest).filter(|i| !both_blank(i)).collect();
        let same = counted.iter().filter(|&&i| at(read, i) == at(known, i)).count();
        let wanted = number(read).filter(|n| !n.is_empty());
        Likeness {
            same_part_number: wanted.map(|w| fits(known) && number(known).is_some_and(|n| n == w)),
            same_layout: Some(fits(known)),
            alike: Alike { same, counted: counted.len() },
            same_size: read.len() == known.len(),
            same_places: read.len() == known.len(),
        }
    }

    fn images() -> impl Strategy<Value = Image> {
        let numbers = prop::sample::select(vec!["", "CR8-1", "CR8-2", "CR8"]);
        let rest = prop::collection::vec(prop::sample::select(vec![0, 1, 0xFF, b'C', b'R']), 0..24);
        let sizes = prop::sample::select(vec![48usize, 64, 50]);
        (0u8..12, numbers, rest, sizes, 0..8usize).prop_map(|(shift, number, rest, bytes, spoilt)| {
            let mut image = image(shift, number, &rest, bytes);
            // One of eight has no marks.
            if spoilt == 0 {
                image.bytes_mut()[0] ^= 0x20;
            }
            image
        })
    }

    proptest! {
        #[test]
        fn likeness_is_what_decoding_and_comparing_everything_gives(read in images(), known in images()) {
            let layout = layout::read(LAYOUT).unwrap();
            let wanted = Wanted::new(&read, Some(&layout));
            prop_assert_eq!(wanted.likeness(&known), naive(&read, &known, &layout));
        }

        #[test]
        fn the_nearest_are_the_first_of_all_sorted(
            read in images(),
            known in prop::collection::vec(images(), 0..20),
            most in 0..6usize,
        ) {
            let layout = layout::read(LAYOUT).unwrap();
            let wanted = Wanted::new(&read, Some(&layout));
            let mut all: Vec<(Likeness, usize)> =
                known.iter().map(|k| wanted.likeness(k)).enumerate().map(|(n, l)| (l, n)).collect();
            let mut nearest = Nearest::of_at_most(most);
            all.iter().for_each(|(likeness, n)| nearest.offer(*likeness, *n));
            all.sort_by(|(a, _), (b, _)| b.by_nearness(a));
            all.truncate(most);
            prop_assert_eq!(nearest.into_kept(), all);
        }

        #[test]
        fn an_image_is_nearest_to_itself(read in images(), other in images()) {
            let layout = layout::read(LAYOUT).unwrap();
            let wanted = Wanted::new(&read, Some(&layout));
            let own = wanted.likeness(&read);
            prop_assert!(own.is_equal());
            prop_assume!(own.same_layout == Some(true)); // a layout that was forced on the read may suit others better
            prop_assert!(own.by_nearness(&wanted.likeness(&other)).is_ge());
        }
    }

    #[test]
    fn the_part_number_comes_before_the_layout_and_the_layout_before_bytes() {
        let layout = layout::read(LAYOUT).unwrap();
        let read = image(1, "CR8-1", b"abcdefgh", 64);
        let wanted = Wanted::new(&read, Some(&layout));
        let same_number = wanted.likeness(&image(3, "CR8-1", b"12345678", 64));
        let same_layout = wanted.likeness(&image(1, "CR8-2", b"abcdefgh", 64));
        let mut bytes = read.bytes().to_vec();
        bytes[0] = b'X';
        let same_bytes = wanted.likeness(&Image::raw(bytes));
        assert!(
            same_number.by_nearness(&same_layout).is_gt() && same_layout.by_nearness(&same_bytes).is_gt()
        );
        assert!(same_number.is_near() && !same_layout.is_near() && !same_bytes.is_near());
        let fields = wanted.differing_fields(&image(1, "CR8-2", b"abcdefgh", 64)).unwrap();
        assert_eq!(fields.iter().map(|f| f.path.as_str()).collect::<Vec<_>>(), ["part_number"]);
    }

    #[test]
    fn a_read_with_a_larger_device_selected_is_compared_by_its_first_part() {
        let known: Vec<u8> = (0..1024u32).map(|i| (i * i / 7 + i) as u8).collect();
        let read = Image::raw(known.iter().chain(&known).copied().collect());
        let wanted = Wanted::new(&read, None);
        assert_eq!(wanted.period(), Some(1024));
        assert!(wanted.likeness(&Image::raw(known)).is_equal());
    }
}
