//! Real names in the commands that findings propose.
//!
//! The core knows no files: a command in a finding says IMAGE or BEFORE (see [`NAMES`]). Whoever knows the files puts
//! their names there, so that the command can be run as it stands.

use std::path::Path;

use super::text;
use crate::finding::{Finding, NAMES};

/// Commands that look for a layout, and so must be told again which one was named.
pub const BY_LAYOUT: &[&str] = &["vet", "show", "find", "nearest", "compare", "audit", "amend", "survey"];

/// What the words of [`NAMES`] stand for in one run of the program.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Names {
    words: Vec<(String, String)>,
    layout: String,
}

impl Names {
    /// The image alone.
    #[must_use]
    pub fn of_image(path: &Path) -> Self {
        Names::default().with("IMAGE", path)
    }

    /// The same with one more. Standard input cannot be read again, so its word stays.
    ///
    /// A `word` that is not one of [`NAMES`] stands in no command and changes nothing.
    #[must_use]
    pub fn with(mut self, word: &str, path: &Path) -> Self {
        if NAMES.iter().any(|(known, _)| *known == word) && path != Path::new("-") {
            self.words.push((word.to_owned(), text::shell(path)));
        }
        self
    }

    /// The same with all `reads`, together and each by its number.
    #[must_use]
    pub fn with_reads<'a>(mut self, reads: impl Iterator<Item = &'a Path>) -> Self {
        let names: Vec<String> = reads.map(text::shell).collect();
        if names.iter().all(|name| name != "-") {
            self.words.push(("READS".to_owned(), names.join(" ")));
        }
        let each = names.into_iter().enumerate().filter(|(_, name)| name != "-");
        self.words.extend(each.map(|(n, name)| (format!("IMAGE{}", n + 1), name)));
        self
    }

    /// The same with what was said about layouts: the one that was named, the folder with more of them.
    #[must_use]
    pub fn with_layout(mut self, layout: Option<&Path>, folder: Option<&Path>) -> Self {
        for (option, path) in [("--layouts", folder), ("--layout", layout)] {
            if let Some(path) = path {
                self.layout = format!(" {option} {}{}", text::shell(path), self.layout);
            }
        }
        self
    }

    /// Puts the names into what `findings` propose.
    pub fn fill(&self, findings: &mut [Finding]) {
        for finding in findings.iter_mut().filter(|f| f.advice.contains('`')) {
            finding.advice = self.filled(&finding.advice);
        }
    }

    /// What to do next, a command alone or words with commands between backticks, with the names put in.
    #[must_use]
    pub fn filled_next(&self, next: &str) -> String {
        if next.starts_with("readproof ") { self.command(next) } else { self.filled(next) }
    }

    fn filled(&self, text: &str) -> String {
        let parts = text.split('`').enumerate();
        let parts: Vec<String> =
            parts.map(|(n, part)| if n % 2 == 1 { self.command(part) } else { part.to_owned() }).collect();
        parts.join("`")
    }

    fn command(&self, command: &str) -> String {
        let word = |word: &str| {
            let named = self.words.iter().find(|(known, _)| known == word);
            named.map_or_else(|| word.to_owned(), |(_, name)| name.clone())
        };
        let words: Vec<String> = command.split(' ').map(word).collect();
        let by_layout = command.split(' ').nth(1).is_some_and(|name| BY_LAYOUT.contains(&name));
        let layout = if by_layout && !command.contains(" --layout") { &self.layout } else { "" };
        format!("{}{layout}", words.join(" "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Code, Weight};

    fn filled(names: &Names, advice: &str) -> String {
        let mut findings = [Finding::new(Weight::Doubt, Code::FieldOdd, "", "", advice)];
        names.fill(&mut findings);
        let [finding] = findings;
        finding.advice
    }

    #[test]
    fn a_command_gets_the_names_of_the_files_and_prose_does_not() {
        let names = Names::of_image(Path::new("unit 7.bin")).with("BEFORE", Path::new("-"));
        let advice = "keep IMAGE; `readproof vet IMAGE READ2`, `readproof audit BEFORE AFTER`";
        assert_eq!(
            filled(&names, advice),
            "keep IMAGE; `readproof vet 'unit 7.bin' READ2`, `readproof audit BEFORE AFTER`"
        );
        let reads = [Path::new("a.bin"), Path::new("b.bin")];
        let names = Names::default().with_reads(reads.into_iter());
        assert_eq!(filled(&names, "`readproof vet READS`"), "`readproof vet a.bin b.bin`");
        assert_eq!(filled(&names, "`readproof show IMAGE2`"), "`readproof show b.bin`");
    }

    #[test]
    fn a_layout_that_was_named_is_named_again_where_a_command_looks_for_one() {
        let names = Names::default().with_layout(Some(Path::new("mine.ron")), Some(Path::new("more")));
        assert_eq!(
            filled(&names, "`readproof show A`"),
            "`readproof show A --layout mine.ron --layouts more`"
        );
        assert_eq!(filled(&names, "`readproof chips A`"), "`readproof chips A`");
        assert_eq!(filled(&names, "`readproof show A --layout B`"), "`readproof show A --layout B`");
    }
}
