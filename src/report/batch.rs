//! What is said about many images together.

use super::paint::{Paint, Tone};
use super::text;
use crate::finding::Verdict;

/// How many images there were, and what became of them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Told {
    /// Images that were done.
    pub images: usize,
    /// Images that could not be done and folders that could not be read, each told in its place.
    pub failed: usize,
    /// What a walk through folders left out, in words; empty when nothing was.
    pub left_out: String,
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

/// One image among many, as `vet` lists it: verdict, file, reason, on one line however long.
#[must_use]
pub fn verdict_line(paint: Paint, verdict: Verdict, path: &str, sentence: &str) -> String {
    // The sentence opens with the verdict, which is the first column here.
    let reason = sentence.split_once(": ").map_or(sentence, |(_, reason)| reason);
    line(paint, verdict.into(), verdict.word(), path, reason)
}

/// An image that could not be read, in the same list.
#[must_use]
pub fn unreadable_line(paint: Paint, error: &crate::error::Error) -> String {
    line(paint, Tone::Bad, "unreadable", error.place.as_deref().unwrap_or_default(), &error.what)
}

fn line(paint: Paint, tone: Tone, word: &str, path: &str, reason: &str) -> String {
    let space = " ".repeat(12usize.saturating_sub(word.len()));
    format!("{}{space}{}: {}\n", paint.tone(tone, word), text::clean(text::named(path)), text::clean(reason))
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
