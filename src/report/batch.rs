//! What is said about many images together.

use super::paint::{Paint, Tone};
use super::text;
use crate::error::Error;
use crate::finding::Verdict;
use crate::image::Image;
use crate::vet::Report;

/// How many images there were, and what became of them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Told {
    /// Images that were done.
    pub images: usize,
    /// Images that could not be done and folders that could not be read, each told in its place.
    pub failed: usize,
    /// What a walk through folders left out, in words; empty when nothing was.
    pub left_out: String,
    /// Whether the reader of the results went away before the end.
    pub cut_short: bool,
}

impl Told {
    /// `300 images; 2 could not be done; left out: 3 hidden files and folders`.
    #[must_use]
    pub fn sentence(&self) -> String {
        self.after(&text::count(self.images, "image"))
    }

    /// The same after other words on the images that were done.
    #[must_use]
    pub fn after(&self, said: &str) -> String {
        let mut sentence = said.to_owned();
        if self.failed > 0 {
            sentence.push_str(&format!("; {} could not be done", self.failed));
        }
        if !self.left_out.is_empty() {
            sentence.push_str(&format!("; left out: {}", self.left_out));
        }
        sentence.push('.');
        sentence
    }
}

/// Columns of the word that an entry begins with.
const WORD_COLUMNS: usize = 12;

/// One image among many in a list: a word, then the file and what is said of it, wrapped.
#[must_use]
pub fn entry(paint: Paint, tone: Tone, word: &str, said: &str) -> String {
    let mut lines = String::new();
    let room = paint.width.saturating_sub(WORD_COLUMNS);
    for (n, line) in text::wrap(&text::clean(said), room).iter().enumerate() {
        let word = if n == 0 { word } else { "" };
        let space = " ".repeat(WORD_COLUMNS.saturating_sub(word.len()));
        lines.push_str(&format!("{}{space}{line}\n", paint.tone(tone, word)));
    }
    lines
}

/// What `vet` lists of an image that it judged.
#[must_use]
pub fn judged(paint: Paint, path: &str, image: &Image, report: &Report, layout: Option<&str>) -> String {
    let reason = match (report.verdict, &report.layout, layout) {
        (Verdict::Sound, Some(judged), Some(layout)) => {
            let (sealed, all) = judged.seals();
            let checks =
                if all == 0 { "no check".to_owned() } else { format!("{sealed} of {all} checks agree") };
            format!("{}, {layout}, {checks}", text::count(image.len(), "byte"))
        }
        (Verdict::Sound, ..) => format!("{}, no layout fits", text::count(image.len(), "byte")),
        // The sentence opens with the verdict, which is the word before.
        _ => report.sentence.split_once(": ").map_or(&*report.sentence, |(_, reason)| reason).to_owned(),
    };
    entry(paint, report.verdict.into(), report.verdict.word(), &format!("{}: {reason}", text::named(path)))
}

/// What `vet` lists of an image that could not be read.
#[must_use]
pub fn unreadable(paint: Paint, error: &Error) -> String {
    let place = error.place.as_deref().unwrap_or_default();
    entry(paint, Tone::Bad, "unreadable", &format!("{place}: {}", error.what))
}

/// How many images came to which verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Verdicts {
    /// Sound ones.
    pub sound: usize,
    /// Doubtful ones.
    pub doubtful: usize,
    /// Unsound ones.
    pub unsound: usize,
}

impl Verdicts {
    /// Counts one more.
    pub fn count(&mut self, verdict: Verdict) {
        match verdict {
            Verdict::Sound => self.sound += 1,
            Verdict::Doubtful => self.doubtful += 1,
            Verdict::Unsound => self.unsound += 1,
        }
    }

    /// `300 images: 290 sound, 8 doubtful, 2 unsound, 1 unreadable; left out: 3 hidden files and folders.`
    #[must_use]
    pub fn sentence(&self, told: &Told) -> String {
        let Verdicts { sound, doubtful, unsound } = self;
        let (all, failed) = (text::count(told.images + told.failed, "image"), told.failed);
        let said =
            format!("{all}: {sound} sound, {doubtful} doubtful, {unsound} unsound, {failed} unreadable");
        Told { failed: 0, ..told.clone() }.after(&said)
    }
}
