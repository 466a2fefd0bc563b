//! What stands beside the strips: each label at the height of its place, or as near as the others let it.

use std::ops::Range;

use super::look::Fill;
use super::scale::Scale;

/// From one label to the next.
pub(super) const STEP: f64 = 15.0;

/// What lies at a place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Label {
    /// Where.
    pub places: Range<u64>,
    /// What is there, in a few words.
    pub text: String,
    /// The word for what it is to the repair.
    pub word: &'static str,
    /// A person should look at it.
    pub is_loud: bool,
}

impl Label {
    /// A label for what has this role.
    pub fn new(places: Range<u64>, text: String, fill: Option<Fill>, is_loud: bool) -> Self {
        Label { places, text, word: fill.map_or("", Fill::word), is_loud }
    }

    fn join(&mut self, other: Label) {
        const MOST: usize = 90;
        self.places.end = self.places.end.max(other.places.end);
        if self.text.chars().count() + other.text.chars().count() < MOST {
            self.text.push_str(", ");
            self.text.push_str(&other.text);
        } else if !self.text.ends_with('…') {
            self.text.push_str(", …");
        }
        if self.word != other.word {
            self.word = "";
        }
        self.is_loud |= other.is_loud;
    }
}

/// The labels with how far below the top each stands: in order, no two over each other, and joined where there are
/// more than fit.
pub(super) fn placed(scale: &Scale, mut labels: Vec<Label>) -> Vec<(f64, Label)> {
    labels.sort_by_key(|l| (l.places.start, l.places.end));
    let room = (scale.height() / STEP) as usize;
    let labels = fewer(scale, labels, room.max(1));
    let mut heights: Vec<f64> = Vec::new();
    for label in &labels {
        let wanted = scale.y(label.places.start).max(STEP / 2.0);
        heights.push(heights.last().map_or(wanted, |last| wanted.max(last + STEP)));
    }
    let mut below = scale.height() - STEP / 2.0 + STEP;
    for height in heights.iter_mut().rev() {
        *height = height.min(below - STEP);
        below = *height;
    }
    heights.into_iter().zip(labels).collect()
}

/// At most `room` labels: the nearest ones are joined, those with the same word first.
fn fewer(scale: &Scale, labels: Vec<Label>, room: usize) -> Vec<Label> {
    if labels.len() <= room {
        return labels;
    }
    for least in [0.25, 0.5, 1.0, 2.0, 4.0, f64::INFINITY] {
        let mut joined: Vec<Label> = Vec::new();
        for label in labels.iter().cloned() {
            match joined.last_mut() {
                Some(last)
                    if scale.y(label.places.start) - scale.y(last.places.start) < STEP * least
                        && (last.word == label.word || least > 0.9) =>
                {
                    last.join(label);
                }
                _ => joined.push(label),
            }
        }
        if joined.len() <= room {
            return joined;
        }
    }
    Vec::new()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn labels_never_lie_over_each_other_or_outside(starts in proptest::collection::vec(0u64..4096, 0..300)) {
            let scale = Scale::over(0..4096);
            let labels = starts.iter().map(|&s| Label::new(s..s + 1, "x".into(), None, false)).collect();
            let placed = placed(&scale, labels);
            prop_assert_eq!(placed.is_empty(), starts.is_empty());
            for pair in placed.windows(2) {
                prop_assert!(pair[1].0 - pair[0].0 > STEP - 0.001, "{:?}", placed);
            }
            prop_assert!(placed.iter().all(|(y, _)| (0.0..=scale.height()).contains(y)), "{:?}", placed);
        }
    }
}
