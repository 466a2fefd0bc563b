//! The formats of image files: told apart, read, written.

use std::borrow::Cow;

use super::records::{self, MAX_SPAN, Rejected};
use super::{Image, StartAddress, ihex, srec};
use crate::error::Refusal;
use crate::finding::{Code, Finding, Weight};
use crate::wording::{count, does};

/// Declares [`Format`]: the one list of formats, each with its word, its name and the endings of its files.
macro_rules! formats {
    ($($(#[doc = $doc:literal])* $variant:ident = $word:literal, $name:literal, $endings:expr;)*) => {
        /// How an image is kept in a file.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Format {
            $($(#[doc = $doc])* $variant,)*
        }

        impl Format {
            /// Every format.
            pub const ALL: [Format; [$($word),*].len()] = [$(Format::$variant),*];

            /// The word on the command line and in JSON.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Format::$variant => $word,)* }
            }

            /// The name in sentences.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Format::$variant => $name,)* }
            }

            /// The endings of file names that stand for it when a file is written (common practice, no source).
            /// A file that is read is told by its content alone.
            #[must_use]
            pub const fn endings(self) -> &'static [&'static str] {
                match self { $(Format::$variant => &$endings,)* }
            }
        }
    };
}

formats! {
    /// The bytes themselves.
    Raw = "raw", "raw", ["bin", "raw", "rom", "eep"];
    /// Intel HEX records.
    IntelHex = "intel-hex", "Intel HEX", ["hex", "ihex", "ihx"];
    /// Motorola S-records.
    SRecord = "s-record", "S-record", ["s19", "s28", "s37", "srec", "mot"];
}

impl Format {
    /// The format of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.word() == word)
    }

    /// The format that the ending of a file name stands for, in any case of letters.
    #[must_use]
    pub fn of_ending(ending: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|f| f.endings().iter().any(|e| e.eq_ignore_ascii_case(ending)))
    }

    /// What the file that begins with `head` is: a record format when at least half of its lines begin as records
    /// of that format do, else raw.
    ///
    /// Half, not all, so that a damaged record file is told as one with its problems and never passes for a raw
    /// image of its own text.
    #[must_use]
    pub fn recognise(head: &[u8]) -> Self {
        let head = head.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(head);
        let lines = head.split(|&b| b == b'\n' || b == b'\r').map(<[u8]>::trim_ascii);
        let (mut all, mut hex, mut srec) = (0usize, 0usize, 0usize);
        for line in lines.filter(|l| l.iter().any(|&b| b != records::END_OF_FILE)) {
            all += 1;
            match line {
                [b':', rest @ ..] if begins_with_digits(rest, 8) => hex += 1,
                [b'S' | b's', rest @ ..] if begins_with_digits(rest, 7) => srec += 1,
                _ => {}
            }
        }
        if hex > 0 && hex * 2 >= all {
            Format::IntelHex
        } else if srec > 0 && srec * 2 >= all {
            Format::SRecord
        } else {
            Format::Raw
        }
    }
}

fn begins_with_digits(text: &[u8], digits: usize) -> bool {
    text.get(..digits).is_some_and(|t| t.iter().all(u8::is_ascii_hexdigit))
}

/// Reads a file of a known format: the image, and what is to be remarked about the file.
///
/// # Errors
/// Every problem of a record file with its place. Raw bytes are never refused.
pub fn read(format: Format, file: Vec<u8>) -> Result<(Image, Vec<Finding>), Rejected> {
    match format {
        Format::Raw => Ok((Image::raw(file), Vec::new())),
        Format::IntelHex => ihex::read(&file),
        Format::SRecord => srec::read(&file),
    }
}

/// How an image is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Writing {
    /// Data bytes of one record, 1 to 255; a format that holds fewer takes as many as it can.
    pub record_bytes: u8,
    /// What raw files hold where the image has gaps; `None` refuses gaps.
    pub fill: Option<u8>,
}

impl Default for Writing {
    fn default() -> Self {
        Writing { record_bytes: 16, fill: None }
    }
}

/// The image as a file of `format`, and a finding for whatever of it the format cannot hold.
///
/// # Errors
/// When the format cannot hold the bytes themselves: gaps in a raw file without a fill byte, addresses past the
/// end of the format's address space, more than [`MAX_SPAN`] bytes in records.
pub fn write(
    image: &Image,
    format: Format,
    writing: Writing,
) -> Result<(Cow<'_, [u8]>, Vec<Finding>), Refusal> {
    if format != Format::Raw && image.len() > MAX_SPAN {
        return Err(Refusal {
            what: format!(
                "the image spans {} bytes; record files are written, as they are read, up to {MAX_SPAN}",
                image.len()
            ),
            advice: "write it raw (--to raw)".to_owned(),
        });
    }
    let file = match format {
        Format::Raw => write_raw(image, writing.fill)?,
        Format::IntelHex => Cow::Owned(ihex::write(image, writing.record_bytes)?),
        Format::SRecord => Cow::Owned(srec::write(image, writing.record_bytes)?),
    };
    Ok((file, not_carried(image, format)))
}

fn write_raw(image: &Image, fill: Option<u8>) -> Result<Cow<'_, [u8]>, Refusal> {
    if image.gaps().is_empty() {
        return Ok(Cow::Borrowed(image.bytes()));
    }
    let Some(fill) = fill else {
        let unmapped: usize = image.gaps().iter().map(|g| g.len()).sum();
        let first = image.gaps().first().map_or(0, |g| image.address(g.start));
        return Err(Refusal {
            what: format!(
                "the image has {} that {} not mapped (the first at 0x{first:04X}), and a raw file cannot leave \
                 bytes out",
                count(unmapped, "byte"),
                does(unmapped, "is", "are")
            ),
            advice:
                "say what to fill them with (--fill 0xFF is what most erased memories hold), or write records"
                    .to_owned(),
        });
    };
    let mut bytes = image.bytes().to_vec();
    for gap in image.gaps() {
        if let Some(gap) = bytes.get_mut(gap.range()) {
            gap.fill(fill);
        }
    }
    Ok(Cow::Owned(bytes))
}

/// What of `image` a file of `format` cannot hold.
fn not_carried(image: &Image, format: Format) -> Vec<Finding> {
    let mut lost = Vec::new();
    let mut lose = |seen: String, means: &str| {
        lost.push(Finding::new(
            Weight::Note,
            Code::NotCarried,
            seen,
            means,
            "keep the file it was read from beside the new one",
        ));
    };
    let named = format.name();
    if format == Format::Raw && image.base() != 0 {
        lose(
            format!("the image begins at address 0x{:04X}, and a raw file holds no addresses", image.base()),
            "the first byte of the file is the byte at that address",
        );
    }
    match (image.start, format) {
        (Some(_), Format::Raw) => {
            lose("the start address is left out".to_owned(), "a raw file holds bytes and nothing else");
        }
        (Some(StartAddress::Segment(cs, ip)), Format::SRecord) => lose(
            format!(
                "the start address {cs:04X}:{ip:04X} is written as 0x{:05X}",
                u32::from(cs) * 16 + u32::from(ip)
            ),
            "S-records hold a linear start address only",
        ),
        (Some(StartAddress::Linear(0)), Format::SRecord) => lose(
            "the start address 0 is written as no start address".to_owned(),
            "an S-record file must name a start address, and 0 is what it names when there is none",
        ),
        _ => {}
    }
    if image.header.is_some() && format != Format::SRecord {
        lose("the header text is left out".to_owned(), &format!("{named} files have no header record"));
    }
    lost
}
