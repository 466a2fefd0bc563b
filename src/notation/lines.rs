//! Places as a person counts them: lines and columns.

/// A line and a column, both counted from 1; columns count characters, not bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LineColumn {
    /// The line.
    pub line: usize,
    /// The character in the line.
    pub column: usize,
}

/// Where the lines of one text begin.
#[derive(Debug, Clone)]
pub struct Lines<'t> {
    text: &'t str,
    starts: Vec<usize>,
}

impl<'t> Lines<'t> {
    /// Finds the lines of `text`. A byte order mark at its start counts as no character.
    #[must_use]
    pub fn of(text: &'t str) -> Self {
        let first = text.len() - text.trim_start_matches('\u{feff}').len();
        let starts =
            [first].into_iter().chain(memchr::memchr_iter(b'\n', text.as_bytes()).map(|n| n + 1)).collect();
        Lines { text, starts }
    }

    /// The line and column of the byte at `offset`; past the end is the place after the last character.
    #[must_use]
    pub fn place(&self, offset: usize) -> LineColumn {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.starts.partition_point(|&start| start <= offset).max(1);
        let start = self.starts.get(line - 1).copied().unwrap_or(0).min(offset);
        LineColumn { line, column: self.text[start..offset].chars().count() + 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(text: &str, offset: usize) -> (usize, usize) {
        let at = Lines::of(text).place(offset);
        (at.line, at.column)
    }

    #[test]
    fn columns_count_characters_and_lines_count_from_one() {
        assert_eq!(place("", 0), (1, 1));
        assert_eq!(place("ab\ncd", 4), (2, 2));
        assert_eq!(place("a°b", 3), (1, 3));
        assert_eq!(place("a°b", 2), (1, 2), "inside a character counts as that character");
        assert_eq!(place("ab\n", 99), (2, 1));
        assert_eq!(place("a\r\nb", 3), (2, 1));
    }

    #[test]
    fn a_byte_order_mark_takes_no_column() {
        assert_eq!(place("\u{feff}(x)", 3), (1, 1));
        assert_eq!(place("\u{feff}(x)", 0), (1, 1));
    }
}
