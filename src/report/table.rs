//! Aligned columns.

use std::io::{self, Write};

use super::paint::{Paint, Tone};
use super::text::{clean, width, wrap_to_copy};

/// Space between two columns.
const GUTTER: usize = 2;

/// On which side a column's text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// Words.
    #[default]
    Left,
    /// Numbers that are compared by size.
    Right,
}

/// The text of one place in a table, cleaned, and how it looks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Cell {
    text: String,
    tone: Tone,
}

impl Cell {
    /// Text in a tone.
    #[must_use]
    pub fn new(tone: impl Into<Tone>, text: impl AsRef<str>) -> Self {
        Cell { text: clean(text.as_ref()).into_owned(), tone: tone.into() }
    }
}

impl<S: AsRef<str>> From<S> for Cell {
    fn from(text: S) -> Self {
        Cell::new(Tone::Plain, text)
    }
}

/// A table. Columns are as wide as their widest text; the last one is wrapped to what is left of the line.
#[derive(Debug, Clone, Default)]
pub struct Table {
    indent: usize,
    heads: Vec<(String, Side)>,
    rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table with these headings; all empty for one without a heading line.
    #[must_use]
    pub fn new(heads: &[&str]) -> Self {
        Table {
            indent: 0,
            heads: heads.iter().map(|h| ((*h).to_owned(), Side::Left)).collect(),
            rows: Vec::new(),
        }
    }

    /// The same table with column `index` set to the right.
    #[must_use]
    pub fn right(mut self, index: usize) -> Self {
        if let Some(head) = self.heads.get_mut(index) {
            head.1 = Side::Right;
        }
        self
    }

    /// The same table, `columns` columns in from the edge.
    #[must_use]
    pub fn indent(mut self, columns: usize) -> Self {
        self.indent = columns;
        self
    }

    /// Adds a row; missing cells are empty, cells past the last heading are dropped.
    pub fn row<C: Into<Cell>>(&mut self, cells: impl IntoIterator<Item = C>) {
        let mut cells: Vec<Cell> = cells.into_iter().map(Into::into).collect();
        cells.resize(self.heads.len(), Cell::default());
        self.rows.push(cells);
    }

    /// True when no row was added.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Prints the table. A column without any text is left out.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub fn write(&self, out: &mut dyn Write, paint: Paint) -> io::Result<()> {
        let used: Vec<usize> = (0..self.heads.len())
            .filter(|&i| self.rows.iter().any(|r| r.get(i).is_some_and(|c| !c.text.is_empty())))
            .collect();
        let heading: Vec<Cell> = self.heads.iter().map(|(h, _)| Cell::new(Tone::Quiet, h)).collect();
        let has_heading = heading.iter().any(|c| !c.text.is_empty());
        let lines: Vec<&Vec<Cell>> = has_heading.then_some(&heading).into_iter().chain(&self.rows).collect();
        let widths: Vec<usize> = used
            .iter()
            .map(|&i| lines.iter().filter_map(|l| l.get(i)).map(|c| width(&c.text)).max().unwrap_or(0))
            .collect();
        for line in lines {
            self.write_row(out, paint, line, &used, &widths)?;
        }
        Ok(())
    }

    fn write_row(
        &self,
        out: &mut dyn Write,
        paint: Paint,
        cells: &[Cell],
        used: &[usize],
        widths: &[usize],
    ) -> io::Result<()> {
        let Some((&last, fixed)) = used.split_last() else { return Ok(()) };
        let before: usize = self.indent + widths.iter().take(fixed.len()).map(|w| w + GUTTER).sum::<usize>();
        let empty = Cell::default();
        let mut line = " ".repeat(self.indent);
        for (&column, &columns) in fixed.iter().zip(widths) {
            let cell = cells.get(column).unwrap_or(&empty);
            let room = " ".repeat(columns.saturating_sub(width(&cell.text)));
            let text = paint.tone(cell.tone, &cell.text);
            match self.heads.get(column).map(|h| h.1) {
                Some(Side::Right) => line.extend([room.as_str(), text.as_str()]),
                _ => line.extend([text.as_str(), room.as_str()]),
            }
            line.push_str(&" ".repeat(GUTTER));
        }
        let cell = cells.get(last).unwrap_or(&empty);
        let room = paint.width.saturating_sub(before).max(20);
        let pieces =
            if width(&cell.text) <= room { vec![cell.text.clone()] } else { wrap_to_copy(&cell.text, room) };
        for (i, piece) in pieces.iter().enumerate() {
            if i > 0 {
                line = " ".repeat(before);
            } else if let Some(Side::Right) = self.heads.get(last).map(|h| h.1) {
                let columns = widths.last().copied().unwrap_or(0);
                line.push_str(&" ".repeat(columns.saturating_sub(width(piece))));
            }
            line.push_str(&paint.tone(cell.tone, piece));
            writeln!(out, "{}", line.trim_end())?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn print(table: &Table, columns: usize) -> String {
        let mut out = Vec::new();
        table.write(&mut out, Paint { width: columns, ..Paint::default() }).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn columns_stand_under_each_other_and_the_last_one_wraps() {
        let mut table = Table::new(&["name", "bytes", "remark"]).right(1).indent(1);
        table.row(["wide °C", "8", "short"]);
        table.row(["b", "1024", "a remark that is too long for the line"]);
        assert_eq!(
            print(&table, 40),
            " name     bytes  remark\n wide °C      8  short\n b         1024  a remark that is too\n                 long for the line\n"
        );
    }

    #[test]
    fn a_column_without_text_is_left_out_and_control_characters_never_print() {
        let mut table = Table::new(&["a", "b", "c"]);
        table.row(["x\u{1b}[2J", "", "z"]);
        assert_eq!(print(&table, 80), "a         c\nx\\x1B[2J  z\n");
        assert_eq!(print(&Table::new(&["a"]), 80), "");
    }
}
