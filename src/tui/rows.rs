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

    /// Scrolls what is shown by `by` rows, of which `height` are; the choice stays where it is as long as it is shown.
    pub fn scroll(&mut self, by: isize, height: usize) {
        self.top = self.top.saturating_add_signed(by).min(self.len.saturating_sub(height));
        self.at = kept_in(self.top, self.at, height).min(self.len.saturating_sub(1));
    }

    /// Scrolls so that the chosen row is among `height` shown ones.
    pub fn show(&mut self, height: usize) {
        self.top = first_shown(self.top, self.at, height).min(self.len.saturating_sub(height));
    }
}

/// The first shown row after scrolling as little as needed for `at` to be among `height` rows; after a leap of more
/// than a screenful, with some rows before `at`, so that it is seen what it stands in.
#[must_use]
pub fn first_shown(top: usize, at: usize, height: usize) -> usize {
    let height = height.max(1);
    if at + height < top || at >= top + 2 * height {
        at.saturating_sub(height / 3)
    } else if at < top {
        at
    } else {
        top.max((at + 1).saturating_sub(height))
    }
}

/// The row nearest to `at` among the `height` ones from `top` on.
#[must_use]
pub fn kept_in(top: usize, at: usize, height: usize) -> usize {
    at.clamp(top, top + height.max(1) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn after_a_leap_a_third_of_what_is_shown_stands_before_the_row_and_no_room_is_left_empty() {
        assert_eq!(first_shown(0, 100, 9), 97);
        assert_eq!(first_shown(100, 3, 9), 0);
        assert_eq!(first_shown(0, 17, 9), 9, "a screenful down");
        let mut rows = Rows { at: 0, top: 0, len: 50 };
        rows.step(49);
        rows.show(9);
        assert_eq!((rows.at, rows.top), (49, 41));
    }

    #[test]
    fn scrolling_takes_the_choice_along_only_when_it_would_not_be_shown() {
        let mut rows = Rows { at: 4, top: 0, len: 20 };
        rows.scroll(3, 8);
        assert_eq!((rows.at, rows.top), (4, 3));
        rows.scroll(3, 8);
        assert_eq!((rows.at, rows.top), (6, 6));
        rows.scroll(100, 8);
        assert_eq!((rows.at, rows.top), (12, 12));
        rows.scroll(-100, 8);
        assert_eq!((rows.at, rows.top), (7, 0));
        let mut none = Rows::default();
        none.scroll(3, 8);
        assert_eq!((none.at, none.top), (0, 0));
    }

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
