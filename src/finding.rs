//! What was seen, what it usually means, and what to do about it.
//!
//! Every judgement of the program is a list of [`Finding`]s; the [`Verdict`] is computed from them and from
//! nothing else, so that a person can always see why a read was called what it was called.

use std::borrow::Cow;

use crate::span::Span;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Weight {
    /// Worth knowing; changes no verdict.
    Note,
    /// A person must look before the image is used.
    Doubt,
    /// The image must not be used as it is.
    Fault,
}

impl Weight {
    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Weight::Note => "note",
            Weight::Doubt => "doubt",
            Weight::Fault => "fault",
        }
    }
}

/// What findings add up to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Nothing speaks against it.
    Sound,
    /// Something a person must look at.
    Doubtful,
    /// Something that makes it unusable as it is.
    Unsound,
}

impl Verdict {
    /// The heaviest finding decides.
    #[must_use]
    pub fn of(findings: &[Finding]) -> Self {
        match findings.iter().map(|f| f.weight).max() {
            Some(Weight::Fault) => Verdict::Unsound,
            Some(Weight::Doubt) => Verdict::Doubtful,
            Some(Weight::Note) | None => Verdict::Sound,
        }
    }

    /// The word on screens and in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Verdict::Sound => "sound",
            Verdict::Doubtful => "doubtful",
            Verdict::Unsound => "unsound",
        }
    }
}

/// One observation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// How much it weighs.
    pub weight: Weight,
    /// Which kind of observation it is; the documentation explains each.
    pub code: Code,
    /// Where in the image, as offsets; `None` when it concerns the whole image.
    pub place: Option<Span>,
    /// What was seen, with the values: one sentence without its full stop.
    pub seen: String,
    /// What that usually means: one sentence without its full stop.
    pub means: String,
    /// What to do next: one sentence in the imperative, without its full stop. What the program can do itself stands
    /// there as the command, between backticks; a word of [`NAMES`] in it stands for a file that the report names.
    pub advice: String,
}

impl Finding {
    /// A finding about the whole image.
    #[must_use]
    pub fn new(
        weight: Weight,
        code: Code,
        seen: impl Into<String>,
        means: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        Finding { weight, code, place: None, seen: seen.into(), means: means.into(), advice: advice.into() }
    }

    /// The same finding, tied to a place.
    #[must_use]
    pub fn at(mut self, place: Span) -> Self {
        self.place = Some(place);
        self
    }
}

/// The words in proposed commands that stand for files, and what each stands for.
pub const NAMES: &[(&str, &str)] = &[
    ("IMAGE", "the image that the finding is about; IMAGE2 is the second of several reads"),
    ("READS", "all reads that were handed over"),
    ("BEFORE", "the original, as it was read"),
    ("AFTER", "the changed image"),
    ("READBACK", "what was read back after a write"),
];

/// A text as one word of a proposed command: quoted when a shell would take it apart.
#[must_use]
pub fn argument(text: &str) -> Cow<'_, str> {
    let plain = |c: char| c.is_alphanumeric() || "._-/+=:@,%".contains(c);
    match text.is_empty() || !text.chars().all(plain) {
        true => Cow::Owned(format!("'{}'", text.replace('\'', r"'\''"))),
        false => Cow::Borrowed(text),
    }
}

explained! {
    /// The kinds of observation, each with a fixed kebab-case word: the one list of them.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    pub enum Code:

    // Size and contents of one read (vet).
    WrongSize = "wrong-size": "The image has another size than the chip";
    Blank = "blank": "Every byte holds the same value";
    Repeats = "repeats": "The contents repeat: a larger device was selected than the chip, or copies are kept";
    AddressLine = "address-line": "An address line has no effect, or two act as one";
    DataBit = "data-bit": "A data bit is the same in every byte";
    BytesSwapped = "bytes-swapped": "The two bytes of each 16-bit word changed places";
    BitsReversed = "bits-reversed": "The bits of each byte stand in the other order";
    BitsInverted = "bits-inverted": "Every bit is inverted";
    BitsShifted = "bits-shifted": "The stream of bits is shifted by 1 to 7";
    Displaced = "displaced": "The contents stand at other offsets than they should";
    TakenForText = "taken-for-text": "Bytes were rewritten on the way, as if the file were text";
    TextFile = "text-file": "The file is text and not the bytes of a memory";
    TailLost = "tail-lost": "The end turned to one value: contact was lost during the read";
    // Several reads (vet).
    OneRead = "one-read": "There is only one read, which cannot show an unstable bit";
    ReadsDisagree = "reads-disagree": "Reads of one chip differ";
    GoodReadsDiffer = "good-reads-differ": "Reads differ and the checks of each agree: they hold different contents";
    NoMajority = "no-majority": "More than half of the reads agree on some bytes nowhere";
    // Layout: marks, patterns, copies, reserved fields (vet, show).
    NoLayout = "no-layout": "No layout's marks fit the image";
    LayoutTie = "layout-tie": "Several layouts fit the image equally well";
    LayoutUnfit = "layout-unfit": "The marks of the named layout are not in the image";
    LayoutLeftOut = "layout-left-out": "A layout has problems and was not tried";
    FieldOdd = "field-odd": "The bytes of a field make no sense for its kind";
    FieldAbsent = "field-absent": "Fields lie outside the bytes that were read";
    PatternUnmet = "pattern-unmet": "Text does not suit the pattern that the layout asks for";
    OutOfRange = "out-of-range": "A number lies outside the limits that the layout gives";
    CopiesDiffer = "copies-differ": "Copies of a field do not say the same";
    ReservedUsed = "reserved-used": "A reserved field does not hold its rest value";
    LimitReached = "limit-reached": "A limit of decoding was reached; what follows is left out";
    // Checks.
    CheckBroken = "check-broken": "A stored check differs from the computed one";
    CheckUnreadable = "check-unreadable": "A part of a check's ranges is not in the image";
    // Expectation of the technician (vet --expect).
    ExpectMet = "expect-met": "A field holds what was expected, to the character";
    ExpectDiffers = "expect-differs": "A field holds something else than was expected";
    // Finding text (find).
    NearMiss = "near-miss": "Something like the wanted text is there, but not the text itself";
    NotFound = "not-found": "Neither the wanted text nor anything like it is there";
    ShortText = "short-text": "The wanted text is so short that chance alone would find it";
    // Proof of a write (vet --must-equal).
    WrittenExactly = "written-exactly": "What was read back is what was approved";
    WriteDiffers = "write-differs": "Bytes that were read back are not the approved ones";
    WriteProtected = "write-protected": "The bytes that did not take lie in a block that can be protected";
    PageWrap = "page-wrap": "A burst wrapped at the end of a page";
    BitLost = "bit-lost": "One bit did not take";
    OldContents = "old-contents": "The bytes that did not take hold what they held before";
    // Comparing, audit.
    SizeChanged = "size-changed": "A changed image has bytes in other places than the original";
    OtherUnit = "other-unit": "A changed image is another unit's, or was made from it";
    IdentityChanged = "identity-changed": "Fields that say which unit this is changed";
    CalibrationChanged = "calibration-changed": "Fields that were measured for one unit changed";
    ReservedChanged = "reserved-changed": "Fields that the maker keeps for itself changed";
    UndescribedChanged = "undescribed-changed": "Bytes outside every field changed";
    ResealedOverIdentity = "resealed-over-identity": "A check was made right over changed identity or calibration";
    ResealedOverBroken = "resealed-over-broken": "A check that was wrong in the original was made right";
    RecordsRested = "records-rested": "Records were returned to their rest value";
    RecordsFilled = "records-filled": "Records that were at rest hold something";
    LooksLikeReadFault = "looks-like-read-fault": "Changes look like a poor read, not like an edit";
    TextChanged = "text-changed": "Printed text changed, and no layout says what it is";
    // Dockets.
    RecordDiffers = "record-differs": "A file is not the image that the docket recorded";
    RecordMissing = "record-missing": "The file of a recorded image cannot be read";
    DocketDamaged = "docket-damaged": "A part of a docket makes no sense";
    // Image files: what is remarked when one is read or written.
    LooseRecords = "loose-records": "A record file is written in a way that a stricter program may refuse";
    NoEndRecord = "no-end-record": "An S-record file has no end record";
    SecondStartAddress = "second-start-address": "A record file names two start addresses";
    NotCarried = "not-carried": "The format that is written cannot hold something of the image";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_heaviest_finding_decides_the_verdict() {
        let of = |weights: &[Weight]| {
            Verdict::of(
                &weights.iter().map(|&w| Finding::new(w, Code::Blank, "", "", "")).collect::<Vec<_>>(),
            )
        };
        assert_eq!(of(&[]), Verdict::Sound);
        assert_eq!(of(&[Weight::Note]), Verdict::Sound);
        assert_eq!(of(&[Weight::Doubt, Weight::Note]), Verdict::Doubtful);
        assert_eq!(of(&[Weight::Doubt, Weight::Fault, Weight::Note]), Verdict::Unsound);
    }

    #[test]
    fn a_text_is_one_word_of_a_command() {
        assert_eq!(argument("settings.setpoint"), "settings.setpoint");
        assert_eq!(argument("lockouts[3].cause"), "'lockouts[3].cause'");
        assert_eq!(argument("it's"), r"'it'\''s'");
        assert_eq!(argument(""), "''");
    }

    #[test]
    fn code_words_are_kebab_case_and_unique() {
        let mut words: Vec<_> = Code::ALL.iter().map(|c| c.word()).collect();
        assert!(
            words.iter().all(|w| w.chars().all(|c| c.is_ascii_lowercase() || c == '-' || c.is_ascii_digit()))
        );
        words.sort_unstable();
        let all = words.len();
        words.dedup();
        assert_eq!(words.len(), all, "a code word is used twice");
    }
}
