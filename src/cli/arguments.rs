//! Arguments that several commands share.

use std::str::FromStr;

use crate::error::Error;
use crate::image::Image;
use crate::notation::get::{digits, plain};
use crate::report::text;
use crate::span::Span;

/// An address as typed: `0x1F0` or `496`.
///
/// # Errors
/// A sentence that quotes what was typed and says what was expected.
pub fn parse_address(typed: &str) -> Result<u64, String> {
    let is_based = typed.starts_with("0x") || typed.starts_with("0X");
    let is_decimal = typed.bytes().all(|b| b.is_ascii_digit() || b == b'_');
    let number =
        if is_based || is_decimal { digits(typed).and_then(|n| u64::try_from(n).ok()) } else { None };
    number.ok_or_else(|| format!("{typed:?} is no address; write 0x1F0 or 496"))
}

/// Takes a whole number from `least` to `most`, written in decimal digits alone.
pub fn number_in<N>(
    least: u64,
    most: u64,
) -> impl Fn(&str) -> Result<N, String> + Clone + Send + Sync + 'static
where
    N: TryFrom<u64> + 'static,
{
    move |typed| {
        let number = plain::<u64>(typed).filter(|n| (least..=most).contains(n));
        let number = number.and_then(|number| N::try_from(number).ok());
        number.ok_or_else(|| format!("{typed:?} is no whole number from {least} to {most}"))
    }
}

/// A range of addresses as typed: `0x40..0x1FE` (the end not included), `0x40+446`, `0x40..`, `..0x200`, `..`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AddressRange {
    start: Option<u64>,
    end: Option<u64>,
}

impl FromStr for AddressRange {
    type Err = String;

    fn from_str(typed: &str) -> Result<Self, String> {
        let range = if let Some((start, end)) = typed.split_once("..") {
            let part = |text: &str| (!text.is_empty()).then(|| parse_address(text)).transpose();
            AddressRange { start: part(start)?, end: part(end)? }
        } else if let Some((start, bytes)) = typed.split_once('+') {
            let start = parse_address(start)?;
            let end = start.checked_add(parse_address(bytes)?);
            AddressRange { start: Some(start), end: Some(end.ok_or("the range ends past 64 bits")?) }
        } else {
            return Err(format!(
                "{typed:?} is no range; write 0x40..0x1FE (the end not included) or 0x40+446"
            ));
        };
        match (range.start, range.end) {
            (Some(start), Some(end)) if end <= start => {
                Err(format!("{typed:?} holds no byte: its end is not after its start"))
            }
            _ => Ok(range),
        }
    }
}

impl AddressRange {
    /// The range as offsets in `image`; an end that is left out is the image's.
    ///
    /// # Errors
    /// When it does not lie in the image.
    pub fn in_image(self, image: &Image) -> Result<Span, Error> {
        let last = image.address(image.len());
        let (start, end) = (self.start.unwrap_or(image.base()), self.end.unwrap_or(last));
        let offset = |address: u64| usize::try_from(address.checked_sub(image.base())?).ok();
        match (offset(start), offset(end)) {
            (Some(from), Some(to)) if from < to && to <= image.len() => Ok(Span::new(from, to)),
            _ => Err(Error::new(format!(
                "the range {}..{} does not lie in the image, which is {}..{}",
                text::address(start),
                text::address(end),
                text::address(image.base()),
                text::address(last),
            ))
            .advice("name addresses of the image, the end not included")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_typed_in_hexadecimal_or_decimal() {
        assert_eq!(parse_address("0x1F0"), Ok(0x1F0));
        assert_eq!(parse_address("496"), Ok(496));
        assert_eq!(parse_address("0x1_F0"), Ok(0x1F0));
        let wrong = ["", "0x", "1F0", "-1", "0x-1", "0x1G", "99999999999999999999"];
        for wrong in
            wrong.into_iter().chain(["+4", "0x+4", " 4", "4_", "_4", "0x_4", "0b11", "\u{664}", "4 "])
        {
            assert!(parse_address(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn counts_are_typed_in_digits_and_nothing_else() {
        let count = number_in::<u8>(1, 255);
        assert_eq!((count("1"), count("255")), (Ok(1), Ok(255)));
        for wrong in ["", "0", "256", "+4", " 4", "4_", "4_0", "0x4", "-4", "\u{664}", "4.0"] {
            assert_eq!(count(wrong), Err(format!("{wrong:?} is no whole number from 1 to 255")));
        }
    }

    #[test]
    fn ranges_are_cut_out_of_the_image_by_address() {
        let image = Image::with_gaps(0x1000, vec![0; 0x100], Vec::new());
        let span = |typed: &str| typed.parse::<AddressRange>().unwrap().in_image(&image);
        assert_eq!(span("0x1010..0x1020"), Ok(Span::new(0x10, 0x20)));
        assert_eq!(span("0x1010+16"), Ok(Span::new(0x10, 0x20)));
        assert_eq!(span("0x10F0.."), Ok(Span::new(0xF0, 0x100)));
        assert_eq!(span(".."), Ok(Span::new(0, 0x100)));
        for outside in ["0x0..0x10", "0x1000..0x1101", "0x2000.."] {
            assert!(span(outside).is_err(), "{outside}");
        }
        for wrong in ["0x20..0x10", "5", "a..b", "1+0", "0xFFFFFFFFFFFFFFFF+2"] {
            assert!(wrong.parse::<AddressRange>().is_err(), "{wrong}");
        }
    }
}
