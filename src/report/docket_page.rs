//! The record of a job as one page for a browser or for paper: no scripts, nothing fetched, drawings inside.
//!
//! Everything that comes from a docket or an image is escaped. What is told by colour is told by shape or words too,
//! because paper is often printed in black.

use std::fmt::Write as _;

use super::docket::{Shown, State, label_lines, shortened, time, title};
use super::text;
use crate::docket::{ChangeRecord, Entry, ImageRecord, Run, What};
use crate::finding::Finding;

/// Style of the page. `@page` keeps the margins of paper.
const STYLE: &str = "\
@page { margin: 18mm }
body { font: 15px/1.45 system-ui, sans-serif; color: #111; max-width: 62em; margin: 2em auto; padding: 0 1em }
h1 { font-size: 1.5em; margin: 0 0 .2em } h2 { font-size: 1.15em; margin: 1.6em 0 .4em }
h3 { font-size: 1em; margin: 1.2em 0 .2em }
table { border-collapse: collapse; margin: .4em 0 } th, td { text-align: left; vertical-align: top;
padding: .15em .8em .15em 0; border-bottom: 1px solid #ddd } th { font-weight: 600; color: #444 }
code, .hex { font-family: ui-monospace, monospace; font-size: .88em; overflow-wrap: anywhere }
.lead { font-size: 1.1em; margin: .2em 0 1em } .quiet { color: #555 }
.sound { color: #17692f } .doubtful, .doubt { color: #7a5200 } .unsound, .fault { color: #a01515 }
.verdict { font-weight: 700 } section { break-inside: avoid } svg { display: block; max-width: 100%; height: auto }
@media print { body { margin: 0; max-width: none; font-size: 11pt } a { color: inherit } }
";

/// The page. `pictures` are the bytes of each recorded image, in order, where its file still is as recorded.
#[must_use]
pub fn page(shown: &Shown<'_>, pictures: &[Option<Vec<u8>>]) -> String {
    let docket = shown.docket;
    let heading = if docket.job().is_empty() { "Record of a job" } else { docket.job() };
    let mut page = String::new();
    let mut put = |html: &str| {
        page.push_str(html);
        page.push('\n');
    };
    put("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">");
    put("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">");
    put(&format!("<title>{}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>", escape(heading)));
    put(&format!("<h1>{}</h1>", escape(heading)));
    let word = shown.verdict().word();
    let sentence = shown.sentence();
    let rest = sentence.strip_prefix(word).unwrap_or(&sentence);
    put(&format!("<p class=\"lead\"><span class=\"verdict {word}\">{word}</span>{}.</p>", escape(rest)));
    let label = docket.label();
    let lines: Vec<_> = label_lines(&label).into_iter().filter_map(|(n, v)| Some((n, v?))).collect();
    if !lines.is_empty() {
        put("<table>");
        for (name, value) in lines {
            put(&format!("<tr><th>{}</th><td>{}</td></tr>", escape(name), escape(value)));
        }
        put("</table>");
    }
    if !shown.findings.is_empty() {
        put("<h2>About this record</h2>");
        put(&findings(shown.findings));
    }
    if !shown.images.is_empty() {
        put("<h2>Images</h2>");
        put(
            "<p class=\"quiet\">Each drawing shows an image from its first byte on the left to its last on the right. \
             The taller and darker, the more different values stand there: a flat line is blank.</p>",
        );
        for (n, (image, state)) in shown.images.iter().enumerate() {
            let is_same = |other: &ImageRecord| (&other.path, &other.sha256) == (&image.path, &image.sha256);
            // One file can be several things to a job; it is drawn once.
            if shown.images.iter().take(n).any(|(earlier, _)| is_same(earlier)) {
                continue;
            }
            let alike = shown.images.iter().filter(|(other, _)| is_same(other));
            let roles: Vec<&str> = alike.map(|(other, _)| other.role.as_str()).collect();
            put(&image_section(&roles.join(", "), image, *state, pictures.get(n).and_then(Option::as_deref)));
        }
    }
    put("<h2>What was done</h2>");
    for entry in &docket.entries {
        put(&entry_section(entry, &shown.images, pictures));
    }
    put("</body>\n</html>");
    page
}

/// `text` without anything that a browser would take for markup, and without hidden characters.
fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for c in text::clean(text).chars() {
        match c {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            c => escaped.push(c),
        }
    }
    escaped
}

fn findings(findings: &[Finding]) -> String {
    let mut html = String::from("<ul>\n");
    for finding in findings {
        let word = finding.weight.word();
        let _ = writeln!(
            html,
            "<li><span class=\"verdict {word}\">{word}</span> {} {} <em>{}</em></li>",
            escape(&text::sentence(&finding.seen)),
            escape(&text::sentence(&finding.means)),
            escape(&text::sentence(&finding.advice))
        );
    }
    html + "</ul>"
}

fn image_section(roles: &str, image: &ImageRecord, state: State, bytes: Option<&[u8]>) -> String {
    let mut html = String::from("<section>\n");
    let _ = writeln!(html, "<h3>{}</h3>", escape(roles));
    let modified = image.modified.as_deref().map_or(String::new(), |at| format!(", file of {}", time(at)));
    let _ = writeln!(
        html,
        "<p><code>{}</code>, {} bytes{}: <strong>{}</strong><br><span class=\"quiet\">sha-256</span> <code>{}</code></p>",
        escape(&image.path),
        image.bytes,
        escape(&modified),
        state.word(),
        escape(&image.sha256)
    );
    match bytes {
        Some(bytes) if !bytes.is_empty() => html.push_str(&skyline(roles, bytes, &[])),
        _ => html.push_str("<p class=\"quiet\">Not drawn: the file is not as recorded, or too large.</p>"),
    }
    html + "\n</section>"
}

/// Columns of a drawing.
const COLUMNS: usize = 160;
/// Width of one column.
const COLUMN: usize = 4;
/// Height of the tallest bar.
const HEIGHT: usize = 32;

/// One bar for each part of the image; a wedge below each part that `marked` (ranges of offsets) touches.
fn skyline(name: &str, bytes: &[u8], marked: &[(usize, usize)]) -> String {
    let columns = COLUMNS.min(bytes.len());
    let width = columns * COLUMN;
    let foot = if marked.is_empty() { 2 } else { 12 };
    let mut svg = format!(
        "<svg viewBox=\"0 0 {width} {}\" width=\"{width}\" role=\"img\" aria-label=\"contents of {}\">\n",
        HEIGHT + foot,
        escape(name)
    );
    let edge = |n: usize| n * bytes.len() / columns;
    for n in 0..columns {
        let part = bytes.get(edge(n)..edge(n + 1)).unwrap_or_default();
        let (height, shade) = bar(part);
        let (x, y) = (n * COLUMN, HEIGHT - height);
        let _ = writeln!(
            svg,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{COLUMN}\" height=\"{height}\" fill=\"#{shade:02X}{shade:02X}{shade:02X}\"/>"
        );
        let touched = marked.iter().any(|&(start, end)| start < edge(n + 1) && edge(n) < end);
        if touched {
            let _ =
                writeln!(svg, "<path d=\"M{} {} l-3 8 h6 z\" fill=\"#A01515\"/>", x + COLUMN / 2, HEIGHT + 2);
        }
    }
    let _ = writeln!(svg, "<path d=\"M0 {HEIGHT}.5 H{width}\" stroke=\"#111\" stroke-width=\"1\"/>");
    svg + "</svg>"
}

/// How tall and how dark a part is: by how many different values it holds.
fn bar(part: &[u8]) -> (usize, u8) {
    let mut seen = [false; 256];
    for &byte in part {
        if let Some(place) = seen.get_mut(usize::from(byte)) {
            *place = true;
        }
    }
    let values = seen.iter().filter(|s| **s).count();
    let most = part.len().clamp(1, 64);
    match (values, part.first()) {
        (0 | 1, None | Some(0x00 | 0xFF)) => (1, 0xBB),
        _ => {
            let share = (values.min(most) * 100) / most;
            (4 + share * (HEIGHT - 4) / 100, 0xB0 - (share * 0x80 / 100).min(0x80) as u8)
        }
    }
}

fn entry_section(entry: &Entry, images: &[(&ImageRecord, State)], pictures: &[Option<Vec<u8>>]) -> String {
    let mut html = format!(
        "<section>\n<h3>{} <span class=\"quiet\">{}</span></h3>\n",
        escape(&title(entry)),
        escape(&time(&entry.at))
    );
    match &entry.what {
        What::Opened(job) => html.push_str(&paragraph(job)),
        What::Noted(note) => note.lines().for_each(|line| html.push_str(&paragraph(line))),
        What::Labelled(label) => {
            for (name, value) in label_lines(label) {
                if let Some(value) = value {
                    html.push_str(&paragraph(&format!("{name}: {value}")));
                }
            }
        }
        What::Added(image) => html.push_str(&paragraph(&image.path)),
        What::Ran(run) => html.push_str(&run_section(run, images, pictures)),
    }
    html + "</section>"
}

fn paragraph(text: &str) -> String {
    if text.is_empty() { String::new() } else { format!("<p>{}</p>\n", escape(text)) }
}

fn run_section(run: &Run, images: &[(&ImageRecord, State)], pictures: &[Option<Vec<u8>>]) -> String {
    let mut html = format!("<p><code>{}</code></p>\n", escape(&run.line));
    html.push_str(&paragraph(&run.said));
    if !run.findings.is_empty() {
        html.push_str("<ul>\n");
        for finding in &run.findings {
            let class = match finding.weight.as_str() {
                "fault" => "fault",
                "doubt" => "doubt",
                _ => "note",
            };
            let at = finding.at.map_or(String::new(), |at| format!(" at {}", text::address(at)));
            let _ = writeln!(
                html,
                "<li><span class=\"verdict {class}\">{}</span>{at}: {} <em>{}</em></li>",
                escape(&finding.weight),
                escape(&text::sentence(&finding.seen)),
                escape(&text::sentence(&finding.advice))
            );
        }
        html.push_str("</ul>\n");
    }
    if !run.changes.is_empty() {
        html.push_str(&changes(run, images, pictures));
    }
    for caution in &run.cautions {
        html.push_str(&paragraph(&format!("Caution: {caution}")));
    }
    html
}

/// The change list: where it lies in the image, then each change.
fn changes(run: &Run, images: &[(&ImageRecord, State)], pictures: &[Option<Vec<u8>>]) -> String {
    let mut html = String::new();
    let first = run.images.first();
    let place =
        images.iter().position(|(i, _)| first.is_some_and(|f| f.path == i.path && f.sha256 == i.sha256));
    if let Some(bytes) =
        place.and_then(|n| pictures.get(n)).and_then(Option::as_deref).filter(|b| !b.is_empty())
    {
        let base = run.changes.first().map_or(0, |c| if c.at as usize >= bytes.len() { c.at } else { 0 });
        let marked: Vec<(usize, usize)> = run
            .changes
            .iter()
            .map(|c| {
                let at = c.at.saturating_sub(base) as usize;
                (at, at + c.before.len() / 2)
            })
            .collect();
        html.push_str("<p class=\"quiet\">Wedges show where the image changes.</p>\n");
        html.push_str(&skyline("the image before, with its changes", bytes, &marked));
    }
    html.push_str("<table>\n<tr><th></th><th>at</th><th>before</th><th>after</th><th>field</th></tr>\n");
    run.changes.iter().for_each(|change| html.push_str(&change_row(change)));
    html.push_str("</table>\n");
    if run.more_changes > 0 {
        html.push_str(&paragraph(&format!("and {}", text::count(run.more_changes, "more change"))));
    }
    html
}

fn change_row(change: &ChangeRecord) -> String {
    let (class, word) = match change.allowed {
        Some(true) => ("sound", "allowed"),
        Some(false) => ("fault", "refused"),
        None => ("quiet", ""),
    };
    format!(
        "<tr><td class=\"{class}\">{word}</td><td class=\"hex\">{}</td><td class=\"hex\">{}</td>\
         <td class=\"hex\">{}</td><td>{}</td></tr>\n",
        text::address(change.at),
        escape(&shortened(&change.before)),
        escape(&shortened(&change.after)),
        escape(&change.fields.join(", "))
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::docket::{Docket, FindingRecord};

    #[test]
    fn nothing_from_a_docket_reaches_the_page_as_markup() {
        let evil = "<script>alert('\"x\"')</script>&\u{1b}[2J";
        let image = ImageRecord {
            role: evil.to_owned(),
            path: evil.to_owned(),
            bytes: 4,
            sha256: evil.to_owned(),
            modified: Some(evil.to_owned()),
        };
        let finding = FindingRecord {
            weight: evil.to_owned(),
            code: evil.to_owned(),
            at: None,
            seen: evil.to_owned(),
            means: evil.to_owned(),
            advice: evil.to_owned(),
        };
        let change = ChangeRecord {
            at: 1,
            before: evil.to_owned(),
            after: evil.to_owned(),
            fields: vec![evil.to_owned()],
            allowed: None,
        };
        let run = Run {
            command: evil.to_owned(),
            line: evil.to_owned(),
            said: evil.to_owned(),
            verdict: Some(evil.to_owned()),
            images: vec![image.clone()],
            findings: vec![finding],
            changes: vec![change],
            cautions: vec![evil.to_owned()],
            ..Run::default()
        };
        let entry = |what| Entry { at: evil.to_owned(), what };
        let docket = Docket {
            entries: vec![
                entry(What::Opened(evil.to_owned())),
                entry(What::Noted(evil.to_owned())),
                entry(What::Ran(run)),
            ],
        };
        let shown = Shown {
            path: evil.to_owned(),
            docket: &docket,
            images: vec![(&image, State::Same)],
            findings: &[],
        };
        let page = page(&shown, &[Some(vec![1, 2, 3, 4])]);
        assert!(!page.contains("<script") && !page.contains('\u{1b}') && !page.contains("alert('"), "{page}");
        assert!(page.contains("&lt;script&gt;"));
        // Every tag that is opened is closed, but for those that have no end.
        for tag in ["section", "table", "ul", "svg", "p", "h3", "span"] {
            let (open, close) = (format!("<{tag}"), format!("</{tag}>"));
            let opened = page.matches(&open).filter(|_| true).count();
            let opened =
                if tag == "p" { page.matches("<p>").count() + page.matches("<p ").count() } else { opened };
            assert_eq!(opened, page.matches(&close).count(), "{tag}");
        }
    }

    #[test]
    fn blank_parts_are_flat_and_dense_ones_tall() {
        let noise: Vec<u8> = (0..64).map(|n| n * 3).collect();
        assert_eq!(bar(&[0xFF; 64]).0, 1);
        assert_eq!(bar(&noise).0, HEIGHT);
        let text = bar(b"COLD ROOM CONTROLLER COLD ROOM CONTROLLER COLD ROOM CONTROLLER  ").0;
        assert!(1 < text && text < HEIGHT, "{text}");
    }

    #[test]
    fn changed_parts_have_a_wedge_of_their_own() {
        let svg = skyline("x", &[7; 1600], &[(0, 1), (1595, 1600)]);
        assert_eq!(svg.matches("l-3 8 h6 z").count(), 2);
        assert!(svg.contains("M2 34 l-3") && svg.contains("M638 34 l-3"), "{svg}");
    }
}
