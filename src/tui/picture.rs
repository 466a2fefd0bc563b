//! A screen as a picture: SVG in which every text can be selected and copied.

use std::fmt::Write;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

use super::theme::Ground;
use crate::report::svg;
use crate::report::text::width;

/// Size of a cell, and of the letters in it, in units of the picture.
const CELL: (f32, f32) = (8.4, 18.0);
const LETTERS: f32 = 14.0;
/// From the top of a cell to the line that its letters stand on.
const BASELINE: f32 = 13.5;
/// Free around the screen.
const MARGIN: f32 = 10.0;

/// The screen as SVG. `title` and `about` are told to who cannot see it; `ground` is the background that the
/// colours of the screen were chosen for, where `Any` is drawn as dark.
#[must_use]
pub fn of_screen(buffer: &Buffer, title: &str, about: &str, ground: Ground) -> String {
    let (paper, ink) = match ground {
        Ground::Any | Ground::Dark => ("#181a1e", "#dde1e5"),
        Ground::Light => ("#f6f6f3", "#24282c"),
    };
    let (columns, rows) = (f32::from(buffer.area.width), f32::from(buffer.area.height));
    let (wide, high) = (columns * CELL.0 + 2.0 * MARGIN, rows * CELL.1 + 2.0 * MARGIN);
    let mut svg = svg::open((wide.into(), high.into()), title, about);
    let _ = write!(
        svg,
        "<rect width=\"100%\" height=\"100%\" rx=\"6\" fill=\"{paper}\"/>\n\
         <g fill=\"{ink}\" font-family=\"ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas, monospace\" \
         font-size=\"{LETTERS}\" xml:space=\"preserve\" style=\"white-space: pre\">\n",
    );
    for (y, row) in buffer.content.chunks(usize::from(buffer.area.width).max(1)).enumerate() {
        for run in runs(row) {
            write_run(&mut svg, y, &run, paper);
        }
    }
    svg.push_str("</g>\n</svg>\n");
    svg
}

/// Cells of one look that stand beside each other.
struct Run<'a> {
    from: usize,
    cells: usize,
    text: String,
    look: &'a Cell,
}

fn runs(row: &[Cell]) -> Vec<Run<'_>> {
    let mut runs: Vec<Run<'_>> = Vec::new();
    let mut hidden = 0;
    for (x, cell) in row.iter().enumerate() {
        let is_hidden = hidden > 0;
        hidden = width(cell.symbol()).max(hidden).saturating_sub(1);
        let symbol = if is_hidden { "" } else { cell.symbol() };
        match runs.last_mut() {
            Some(run) if is_hidden || (run.look.fg, run.look.modifier) == (cell.fg, cell.modifier) => {
                run.cells += 1;
                run.text.push_str(symbol);
            }
            _ => runs.push(Run { from: x, cells: 1, text: symbol.to_owned(), look: cell }),
        }
    }
    runs
}

fn write_run(svg: &mut String, y: usize, run: &Run<'_>, paper: &str) {
    let has = |modifier| run.look.modifier.contains(modifier);
    let is_seen_blank = has(Modifier::REVERSED) || has(Modifier::UNDERLINED);
    // Blanks before and behind a text are not drawn, so that copied text has none of them.
    let (text, blanks, cells) = if is_seen_blank {
        (run.text.as_str(), 0, run.cells)
    } else {
        let behind = run.text.trim_end();
        let text = behind.trim_start_matches(' ');
        let cut = run.text.len() - text.len();
        (text, behind.len() - text.len(), run.cells.saturating_sub(cut))
    };
    if text.is_empty() {
        return;
    }
    let column = |x: usize| MARGIN + x as f32 * CELL.0;
    let (x, top, wide) = (column(run.from + blanks), MARGIN + y as f32 * CELL.1, cells as f32 * CELL.0);
    let colour = colour(run.look.fg);
    let mut fill = colour.as_ref().map(|c| format!(" fill=\"{c}\"")).unwrap_or_default();
    // Writing to a text cannot fail.
    if has(Modifier::REVERSED) {
        let _ = writeln!(
            svg,
            "<rect x=\"{x:.1}\" y=\"{top:.1}\" width=\"{wide:.1}\" height=\"{}\"{fill}/>",
            CELL.1
        );
        fill = format!(" fill=\"{paper}\"");
    }
    let looks = [
        (Modifier::BOLD, " font-weight=\"bold\""),
        (Modifier::ITALIC, " font-style=\"italic\""),
        (Modifier::UNDERLINED, " text-decoration=\"underline\""),
        (Modifier::DIM, " opacity=\"0.7\""),
    ];
    let look: String = looks.iter().filter(|(m, _)| has(*m)).map(|(_, look)| *look).collect();
    let _ = writeln!(
        svg,
        "<text x=\"{x:.1}\" y=\"{:.1}\" textLength=\"{wide:.1}\"{fill}{look}>{}</text>",
        top + BASELINE,
        svg::escape(text)
    );
}

/// A colour as SVG names it; `None` for the ordinary one of the text.
fn colour(colour: Color) -> Option<String> {
    match colour {
        Color::Reset | Color::Indexed(_) => None,
        Color::Rgb(r, g, b) => Some(format!("#{r:02x}{g:02x}{b:02x}")),
        Color::LightRed => Some("salmon".into()),
        Color::LightMagenta => Some("violet".into()),
        // The others have their names in the list of colours of SVG too.
        named => Some(named.to_string().to_ascii_lowercase()),
    }
}

#[cfg(test)]
mod tests {
    use ratatui::layout::Rect;
    use ratatui::style::Style;

    use super::*;

    fn picture(lines: &[(&str, Style)]) -> String {
        let mut buffer = Buffer::empty(Rect::new(0, 0, 12, lines.len() as u16));
        for (y, (line, style)) in lines.iter().enumerate() {
            buffer.set_string(0, y as u16, line, *style);
        }
        of_screen(&buffer, "A <title>", "about & more", Ground::Dark)
    }

    #[test]
    fn text_stands_in_the_picture_as_text_each_look_by_itself() {
        let svg =
            picture(&[("  a<b & c", Style::new()), ("bold", Style::new().add_modifier(Modifier::BOLD))]);
        assert!(svg.contains("<title id=\"title\">A &lt;title&gt;</title>"), "{svg}");
        assert!(
            svg.contains("<text x=\"26.8\" y=\"23.5\" textLength=\"58.8\">a&lt;b &amp; c</text>"),
            "{svg}"
        );
        assert!(svg.contains("font-weight=\"bold\">bold</text>"), "{svg}");
    }

    #[test]
    fn reversed_cells_are_seen_though_they_are_blank_and_others_leave_nothing() {
        let reversed = Style::new().fg(Color::Rgb(1, 2, 255)).add_modifier(Modifier::REVERSED);
        let svg = picture(&[("", Style::new()), ("  ", reversed)]);
        assert_eq!(svg.matches("<text").count(), 1, "{svg}");
        assert!(svg.contains("height=\"18\" fill=\"#0102ff\"/>"), "{svg}");
    }

    #[test]
    fn a_wide_character_takes_two_cells() {
        let svg = picture(&[("字x", Style::new())]);
        assert!(svg.contains("textLength=\"25.2\">字x</text>"), "{svg}");
    }
}
