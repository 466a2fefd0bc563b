//! A list on the screen: which row is chosen and which is the first shown.

/// Which row of a list is chosen and which is the first shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Rows {
    /// The chosen row.
    pub at: usize,
    /// The first shown row.
    pub top: usize,
    /// How many rows there are.
    pub len: usize,
}

impl Rows {
    /// Another number of rows.
    pub fn fit(&mut self, len: usize) {
        self.len = len;
        self.at = self.at.min(len.saturating_sub(1));
    }

    /// Moves the choice by `by` rows, to the ends at most.
    pub fn step(&mut self, by: isize) {
        self.at = self.at.saturating_add_signed(by).min(self.len.saturating_sub(1));
    }

    /// Scrolls so that the chosen row is among `height` shown ones.
    pub fn show(&mut self, height: usize) {
        self.top = first_shown(self.top, self.at, height).min(self.len.saturating_sub(height));
    }
}

/// The first shown row after scrolling as little as needed for `at` to be among `height` rows.
#[must_use]
pub fn first_shown(top: usize, at: usize, height: usize) -> usize {
    if at < top { at } else { top.max((at + 1).saturating_sub(height.max(1))) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_chosen_row_is_always_shown_and_the_list_scrolls_no_further_than_needed() {
        let mut rows = Rows { at: 0, top: 0, len: 10 };
        rows.step(4);
        rows.show(3);
        assert_eq!((rows.at, rows.top), (4, 2));
        rows.step(-1);
        rows.show(3);
        assert_eq!((rows.at, rows.top), (3, 2));
        rows.step(100);
        rows.show(3);
        assert_eq!((rows.at, rows.top), (9, 7));
        rows.fit(2);
        rows.show(3);
        assert_eq!((rows.at, rows.top), (1, 0));
        rows.step(-100);
        assert_eq!(rows.at, 0);
    }
}
