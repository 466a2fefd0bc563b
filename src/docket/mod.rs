//! The record of one job: what the label says, which images there were, which command said what, and notes.
//!
//! A docket only grows. Whatever happens is an entry with its time; a label that was typed wrongly is not changed but
//! followed by another one. So the record shows what was known when, and a write that is cut short can only lose the
//! last entry. Nothing here knows the clock or a file: times and digests are text that the shell fills in.

/// The record of one job.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Docket {
    /// What happened, oldest first.
    pub entries: Vec<Entry>,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// When: `2026-11-25T13:40:12Z`.
    pub at: String,
    /// What.
    pub what: What,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// The docket was begun; the job in the technician's words.
    Opened(String),
    /// What is printed on the label and on the chip was typed in.
    Labelled(Label),
    /// Something was noted.
    Noted(String),
    /// An image was added by hand.
    Added(ImageRecord),
    /// A command was run.
    Ran(Run),
}

/// What is printed on the unit, as typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Label {
    /// The part number on the label.
    pub part_number: Option<String>,
    /// The serial on the label.
    pub serial: Option<String>,
    /// The marking on the chip.
    pub chip: Option<String>,
    /// What kind of unit or board it is.
    pub unit: Option<String>,
}

impl Label {
    /// True when nothing was typed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Label::default()
    }
}

/// An image as it was at one moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImageRecord {
    /// What it is to the job: `read 1`, `before`, `approved`, `read-back`.
    pub role: String,
    /// Its file, seen from the docket's folder; `-` for standard input.
    pub path: String,
    /// That name byte for byte, where it is no text.
    pub path_bytes: Option<Vec<u8>>,
    /// Bytes of the file.
    pub bytes: u64,
    /// The digest of the file.
    pub sha256: String,
    /// When the file was last changed, where that is known.
    pub modified: Option<String>,
}

impl ImageRecord {
    /// True for a record of the same file with the same contents, whatever each is to the job.
    #[must_use]
    pub fn is_same(&self, other: &ImageRecord) -> bool {
        (&self.path, &self.path_bytes, &self.sha256) == (&other.path, &other.path_bytes, &other.sha256)
    }
}

/// A command that was run.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Run {
    /// The command's name.
    pub command: String,
    /// The whole line, as typed.
    pub line: String,
    /// Its exit status.
    pub status: u8,
    /// `sound`, `doubtful`, `unsound`, where something was judged.
    pub verdict: Option<String>,
    /// What it said first, or what could not be done.
    pub said: String,
    /// The images it read or wrote.
    pub images: Vec<ImageRecord>,
    /// What it saw.
    pub findings: Vec<FindingRecord>,
    /// The change list, at most [`MOST_CHANGES`] of it.
    pub changes: Vec<ChangeRecord>,
    /// Changes beyond those.
    pub more_changes: usize,
    /// What is to be heeded: what the layouts of its images say, and what was said about the changes.
    pub cautions: Vec<String>,
}

/// One finding as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingRecord {
    /// `note`, `doubt`, `fault`.
    pub weight: String,
    /// The word of its code.
    pub code: String,
    /// The address of its first byte.
    pub at: Option<u64>,
    /// What was seen.
    pub seen: String,
    /// What it usually means.
    pub means: String,
    /// What to do.
    pub advice: String,
}

/// One change as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeRecord {
    /// The address of its first byte.
    pub at: u64,
    /// The bytes before, in hexadecimal.
    pub before: String,
    /// The bytes after, in hexadecimal.
    pub after: String,
    /// What lies there.
    pub fields: Vec<String>,
    /// Whether it was allowed, where that was judged.
    pub allowed: Option<bool>,
}

/// Changes that are kept of one command; the rest is counted.
pub const MOST_CHANGES: usize = 400;

impl Docket {
    /// The job in the technician's words, the last ones typed.
    #[must_use]
    pub fn job(&self) -> &str {
        let job = self.entries.iter().rev().find_map(|e| match &e.what {
            What::Opened(job) if !job.is_empty() => Some(job.as_str()),
            _ => None,
        });
        job.unwrap_or_default()
    }

    /// The label: of each line the last one typed.
    #[must_use]
    pub fn label(&self) -> Label {
        let mut label = Label::default();
        for entry in &self.entries {
            let What::Labelled(typed) = &entry.what else { continue };
            let lines = [
                (&mut label.part_number, &typed.part_number),
                (&mut label.serial, &typed.serial),
                (&mut label.chip, &typed.chip),
                (&mut label.unit, &typed.unit),
            ];
            for (line, typed) in lines {
                if typed.is_some() {
                    line.clone_from(typed);
                }
            }
        }
        label
    }

    /// Every image that was recorded, in order of time, each role, file and content once.
    #[must_use]
    pub fn images(&self) -> Vec<&ImageRecord> {
        let mut images: Vec<&ImageRecord> = Vec::new();
        let recorded = self.entries.iter().flat_map(|e| match &e.what {
            What::Added(image) => std::slice::from_ref(image),
            What::Ran(run) => run.images.as_slice(),
            _ => &[],
        });
        for image in recorded {
            if !images.iter().any(|known| known.role == image.role && known.is_same(image)) {
                images.push(image);
            }
        }
        images
    }

    /// What the layouts of the images say is to be heeded, each caution once.
    #[must_use]
    pub fn cautions(&self) -> Vec<&str> {
        let mut cautions: Vec<&str> = Vec::new();
        for caution in self.runs().flat_map(|(_, run)| &run.cautions) {
            if !cautions.contains(&caution.as_str()) {
                cautions.push(caution);
            }
        }
        cautions
    }

    /// The commands that were run.
    pub fn runs(&self) -> impl Iterator<Item = (&str, &Run)> {
        self.entries.iter().filter_map(|e| match &e.what {
            What::Ran(run) => Some((e.at.as_str(), run)),
            _ => None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(what: What) -> Entry {
        Entry { at: "2026-01-02T03:04:05Z".to_owned(), what }
    }

    #[test]
    fn the_label_is_what_was_typed_last_line_by_line() {
        let typed = |part: Option<&str>, serial: Option<&str>| {
            entry(What::Labelled(Label {
                part_number: part.map(str::to_owned),
                serial: serial.map(str::to_owned),
                ..Label::default()
            }))
        };
        let docket = Docket { entries: vec![typed(Some("A"), Some("1")), typed(Some("B"), None)] };
        let label = docket.label();
        assert_eq!((label.part_number.as_deref(), label.serial.as_deref()), (Some("B"), Some("1")));
    }

    #[test]
    fn an_image_that_stays_as_it_is_stands_once_and_one_that_changed_twice() {
        let image = |sha: &str| ImageRecord {
            role: "before".to_owned(),
            path: "a.bin".to_owned(),
            path_bytes: None,
            bytes: 4,
            sha256: sha.to_owned(),
            modified: None,
        };
        let run = Run { images: vec![image("aa"), image("bb")], ..Run::default() };
        let docket = Docket { entries: vec![entry(What::Added(image("aa"))), entry(What::Ran(run))] };
        assert_eq!(docket.images().iter().map(|i| i.sha256.as_str()).collect::<Vec<_>>(), ["aa", "bb"]);
    }
}
