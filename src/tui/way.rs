//! How the editor itself goes on from a finding: which of its commands leads to the next step.
//!
//! What a finding advises is the same in every output and may name a command of the shell. Where a key does it, or
//! leads there, the editor says so beside it.

use crate::finding::Code;

/// What can be done here about each kind of finding; the names in curly brackets are those of the command table.
/// Findings that only another read can settle have no row.
const WAYS: &[(&[Code], &str)] = &[
    (
        &[Code::FieldOdd, Code::PatternUnmet, Code::OutOfRange, Code::CopiesDiffer],
        "{go-there} selects its bytes, {set-value} types another value",
    ),
    (&[Code::CheckBroken], "{go-there} selects what is stored, {reseal-all} reseals every check"),
    (
        &[
            Code::CheckUnreadable,
            Code::ReservedUsed,
            Code::TailLost,
            Code::Repeats,
            Code::Displaced,
            Code::TakenForText,
            Code::NoMajority,
        ],
        "{go-there} selects the place",
    ),
    (
        &[Code::NoLayout],
        "{draft-layout} begins a layout from what the bytes say, {layout} reads one from a file",
    ),
    (&[Code::LayoutTie, Code::LayoutUnfit, Code::LimitReached], "{layout} puts another layout in force"),
    (&[Code::LayoutLeftOut], "{layout} reads it and lists its problems"),
    (&[Code::OneRead], "{twin} shows two reads side by side when both are open"),
    (&[Code::LooseRecords, Code::NoEndRecord], "{save} writes a clean file of another name"),
    (
        &[
            Code::OtherUnit,
            Code::IdentityChanged,
            Code::CalibrationChanged,
            Code::ReservedChanged,
            Code::UndescribedChanged,
            Code::ResealedOverIdentity,
            Code::ResealedOverBroken,
            Code::TextChanged,
            Code::SizeChanged,
            Code::LooksLikeReadFault,
        ],
        "{undo} takes the last change back",
    ),
    (&[Code::RecordsRested], "{undo} brings back what was recorded"),
];

/// The way on from a finding of this kind, with the commands in curly brackets; `None` where the editor has none.
#[must_use]
pub fn on(code: Code) -> Option<&'static str> {
    WAYS.iter().find(|(codes, _)| codes.contains(&code)).map(|(_, way)| *way)
}

/// The same on a page, where nothing is chosen that could be gone to.
#[must_use]
pub fn on_page(code: Code) -> Option<String> {
    let parts: Vec<&str> = on(code)?.split(", ").filter(|part| !part.starts_with("{go-there}")).collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::command;

    #[test]
    fn every_way_names_commands_of_the_table_and_no_code_has_two() {
        for (codes, way) in WAYS {
            let names: Vec<&str> =
                way.split('{').skip(1).map(|part| part.split('}').next().unwrap()).collect();
            assert!(!names.is_empty(), "{way}");
            for name in names {
                assert!(command::by_name(name).is_some(), "{way}: there is no command {name}");
            }
            for code in *codes {
                assert_eq!(WAYS.iter().filter(|(of, _)| of.contains(code)).count(), 1, "{}", code.word());
            }
        }
    }
}
