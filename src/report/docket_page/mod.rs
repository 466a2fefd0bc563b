//! The record of a job as one page for a browser or for paper: no scripts, nothing fetched, drawings inside.
//!
//! Everything that comes from a docket or an image is escaped. What is told by colour is told by shape or words too,
//! because paper is often printed in black. On a narrow screen each change is a block of its own, on paper the head of
//! a long table stands on every page of it.

mod style;

use std::fmt::Write as _;

use super::docket::{Shown, State, label_lines, shortened, time, title, weight};
use super::svg::escape;
use super::text;
use crate::docket::{ChangeRecord, Entry, ImageRecord, Run, What};
use crate::finding::Finding;
use crate::skyline::{Density, Skyline};
use crate::wording::count;

/// What holds for every board, whatever its layout says.
const CAUTIONS: [&str; 2] = [
    "Before a board is touched, isolate the mains supply, lock it off and prove it dead.",
    "Many boards look after pressure equipment, gas or hot parts: a lockout in their memory is there for a reason. \
     Its cause is found and mended first, by the maker's instructions and local codes; what is licensed work is left \
     to licensed people.",
];

/// The contents of a recorded image, for its drawing.
pub struct Contents {
    /// What stands where.
    pub skyline: Skyline,
    /// How many bytes there are.
    pub bytes: usize,
    /// The address of the first.
    pub base: u64,
}

/// The page. `contents` are those of each recorded image, in order, where its file still is as recorded.
#[must_use]
pub fn page(shown: &Shown<'_>, contents: &[Option<Contents>]) -> String {
    let docket = shown.docket;
    let heading = if docket.job().is_empty() { "Record of a job" } else { docket.job() };
    let mut page = String::new();
    let mut put = |html: &str| {
        page.push_str(html);
        page.push('\n');
    };
    put("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">");
    put("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">");
    put("<meta name=\"color-scheme\" content=\"light dark\">");
    put(&format!("<title>{}</title>", escape(heading)));
    put(&format!(
        "<style>\n{}{}{}</style>\n</head>\n<body>",
        style::colours(),
        style::STYLE,
        style::paper(heading)
    ));
    put(&format!("<header>\n<h1 dir=\"auto\">{}</h1>", escape(heading)));
    let word = shown.verdict().word();
    let sentence = shown.sentence();
    let rest = sentence.strip_prefix(word).unwrap_or(&sentence);
    put(&format!("<p class=\"lead\"><span class=\"verdict {word}\">{word}</span>{}.</p>", escape(rest)));
    put(&label_list(&label_lines(&docket.label())));
    put("</header>\n<main>");
    put(&cautions(&docket.cautions()));
    if !shown.findings.is_empty() {
        put("<section aria-labelledby=\"about\">\n<h2 id=\"about\">About this record</h2>");
        put(&findings(shown.findings));
        put("</section>");
    }
    if !shown.images.is_empty() {
        put("<section aria-labelledby=\"images\">\n<h2 id=\"images\">Images</h2>");
        put(
            "<p class=\"quiet\">Each drawing shows an image from its first byte on the left to its last on the right. \
             How high it is says what most of a part holds: a flat line is blank, low is a few bytes in FF or 00, \
             half high is text, high is anything else.</p>",
        );
        for (n, (image, state)) in shown.images.iter().enumerate() {
            // One file can be several things to a job; it is drawn once.
            if shown.images.iter().take(n).any(|(earlier, _)| earlier.is_same(image)) {
                continue;
            }
            let alike = shown.images.iter().filter(|(other, _)| other.is_same(image));
            let roles: Vec<&str> = alike.map(|(other, _)| other.role.as_str()).collect();
            let contents = contents.get(n).and_then(Option::as_ref);
            put(&image_section(&roles.join(", "), image, *state, contents));
        }
        put("</section>");
    }
    put("<section aria-labelledby=\"done\">\n<h2 id=\"done\">What was done</h2>");
    if docket.entries.is_empty() {
        put("<p>Nothing is recorded yet.</p>");
    }
    for entry in &docket.entries {
        put(&entry_section(entry, &shown.images, contents));
    }
    put("</section>\n</main>\n<footer class=\"quiet\">");
    put(&format!("The record is kept in <code>{}</code>.", escape(&shown.path)));
    put("</footer>\n</body>\n</html>");
    page
}

/// The lines of a label that were typed.
fn label_list(lines: &[(&'static str, Option<&str>)]) -> String {
    let mut html = String::new();
    for (name, value) in lines {
        if let Some(value) = value {
            let _ = writeln!(html, "<dt>{}</dt><dd dir=\"auto\">{}</dd>", escape(name), escape(value));
        }
    }
    if html.is_empty() { html } else { format!("<dl>\n{html}</dl>") }
}

/// What to heed: for every board, then what the layouts say of this one.
fn cautions(of_layouts: &[&str]) -> String {
    let mut html = String::from(
        "<section class=\"cautions\" aria-labelledby=\"heed\">\n<h2 id=\"heed\">Caution</h2>\n<ul>\n",
    );
    for caution in CAUTIONS.iter().chain(of_layouts) {
        let _ = writeln!(html, "<li dir=\"auto\">{}</li>", escape(&text::sentence(caution)));
    }
    html + "</ul>\n</section>"
}

fn findings(findings: &[Finding]) -> String {
    let mut html = String::from("<ul>\n");
    for finding in findings {
        let word = finding.weight.word();
        let _ = writeln!(
            html,
            "<li><span class=\"verdict {word}\">{word}</span> {} {} <span class=\"advice\">{}</span></li>",
            escape(&text::sentence(&finding.seen)),
            escape(&text::sentence(&finding.means)),
            escape(&text::sentence(&finding.advice))
        );
    }
    html + "</ul>"
}

fn image_section(roles: &str, image: &ImageRecord, state: State, contents: Option<&Contents>) -> String {
    let mut html = String::from("<article class=\"short\">\n");
    let _ = writeln!(html, "<h3 dir=\"auto\">{}</h3>", escape(roles));
    let modified = image.modified.as_deref().map_or(String::new(), |at| format!(", file of {}", time(at)));
    let tone = match state {
        State::Same => "sound",
        State::Changed | State::Missing => "fault",
        State::Stream => "quiet",
    };
    let _ = writeln!(
        html,
        "<p><code dir=\"auto\">{}</code>, {}{}: <strong class=\"{tone}\">{}</strong><br>\
         <span class=\"quiet\">sha-256</span> <code>{}</code></p>",
        escape(&image.path),
        count(usize::try_from(image.bytes).unwrap_or(usize::MAX), "byte"),
        escape(&modified),
        state.word(),
        escape(&image.sha256)
    );
    match contents.filter(|c| c.bytes > 0) {
        Some(contents) => html.push_str(&drawing(&format!("contents of {roles}"), contents, &[])),
        None => html.push_str("<p class=\"quiet\">Not drawn: the file is not as recorded, or too large.</p>"),
    }
    html + "\n</article>"
}

/// Columns of a drawing, and how wide one is.
const COLUMNS: usize = 160;
const COLUMN: usize = 4;
/// Height of the tallest part.
const HEIGHT: usize = 32;

/// Each part of the image as high as its contents say; a wedge below each part that `marked` (addresses) touches.
fn drawing(name: &str, contents: &Contents, marked: &[(u64, u64)]) -> String {
    let columns = COLUMNS.min(contents.bytes);
    let width = columns * COLUMN;
    let foot = if marked.is_empty() { 2 } else { 12 };
    let name = escape(name);
    let mut svg = format!(
        "<svg viewBox=\"0 0 {width} {}\" width=\"{width}\" role=\"img\" aria-label=\"{name}\">\n",
        HEIGHT + foot,
    );
    let (mut areas, mut wedges) = (String::new(), String::new());
    for column in 0..columns {
        let (x, high) = (column * COLUMN, high(contents.skyline.density(column, columns)));
        let _ = write!(areas, "M{x} {HEIGHT}v-{high}h{COLUMN}v{high}z");
        let part = contents.skyline.stretch(column, columns);
        let at = |offset: usize| contents.base.saturating_add(offset as u64);
        if marked.iter().any(|&(start, end)| start < at(part.end) && at(part.start) < end) {
            let _ = write!(wedges, "M{} {}l-3 8h6z", x + COLUMN / 2, HEIGHT + 2);
        }
    }
    let _ = writeln!(svg, "<path class=\"bar\" d=\"{areas}\"/>");
    if !wedges.is_empty() {
        let _ = writeln!(svg, "<path class=\"mark\" d=\"{wedges}\"/>");
    }
    let _ = writeln!(svg, "<path class=\"base\" d=\"M0 {HEIGHT}.5H{width}\"/>");
    svg + "</svg>"
}

const fn high(density: Density) -> usize {
    match density {
        Density::Unknown | Density::Blank => 1,
        Density::Sparse => HEIGHT / 4,
        Density::Text => HEIGHT / 2,
        Density::Dense => HEIGHT,
    }
}

fn entry_section(entry: &Entry, images: &[(&ImageRecord, State)], contents: &[Option<Contents>]) -> String {
    // What fits a page stays together on it.
    let is_long = matches!(&entry.what, What::Ran(run) if run.changes.len() + run.findings.len() > 12);
    let class = if is_long { "" } else { " class=\"short\"" };
    let mut html = format!(
        "<article{class}>\n<h3>{} <time datetime=\"{}\">{}</time></h3>\n",
        escape(&title(entry)),
        escape(&entry.at),
        escape(&time(&entry.at))
    );
    match &entry.what {
        What::Opened(job) => html.push_str(&paragraph(job)),
        What::Noted(note) => note.lines().for_each(|line| html.push_str(&paragraph(line))),
        What::Labelled(label) => html.push_str(&label_list(&label_lines(label))),
        What::Added(image) => html.push_str(&paragraph(&image.path)),
        What::Ran(run) => html.push_str(&run_section(run, images, contents)),
    }
    html + "</article>"
}

fn paragraph(text: &str) -> String {
    if text.is_empty() { String::new() } else { format!("<p dir=\"auto\">{}</p>\n", escape(text)) }
}

fn run_section(run: &Run, images: &[(&ImageRecord, State)], contents: &[Option<Contents>]) -> String {
    let mut html = format!("<p><code>{}</code></p>\n", escape(&run.line));
    html.push_str(&paragraph(&run.said));
    if !run.findings.is_empty() {
        html.push_str("<ul>\n");
        for finding in &run.findings {
            let class = weight(finding).word();
            let at = finding.at.map_or(String::new(), |at| format!(" at {}", text::address(at)));
            let _ = writeln!(
                html,
                "<li><span class=\"verdict {class}\">{}</span>{at}: {} <span class=\"advice\">{}</span></li>",
                escape(&finding.weight),
                escape(&text::sentence(&finding.seen)),
                escape(&text::sentence(&finding.advice))
            );
        }
        html.push_str("</ul>\n");
    }
    if !run.changes.is_empty() {
        html.push_str(&changes(run, images, contents));
        for caution in &run.cautions {
            html.push_str(&paragraph(&format!("Caution: {caution}")));
        }
    }
    html
}

/// The change list: where it lies in the image, then each change.
fn changes(run: &Run, images: &[(&ImageRecord, State)], contents: &[Option<Contents>]) -> String {
    let mut html = String::new();
    let first = run.images.first();
    let place = images.iter().position(|(image, _)| first.is_some_and(|first| first.is_same(image)));
    let before = place.and_then(|n| contents.get(n)).and_then(Option::as_ref).filter(|c| c.bytes > 0);
    if let Some(before) = before {
        let end = |c: &ChangeRecord| c.at.saturating_add((c.before.len() / 2).max(1) as u64);
        let marked: Vec<(u64, u64)> = run.changes.iter().map(|c| (c.at, end(c))).collect();
        html.push_str("<figure style=\"margin:0\">\n<figcaption class=\"quiet\">Wedges show where the image changes.</figcaption>\n");
        html.push_str(&drawing("the image before, with its changes", before, &marked));
        html.push_str("\n</figure>\n");
    }
    let judged = run.changes.iter().any(|c| c.allowed.is_some());
    let ruling = if judged { "<th scope=\"col\">ruling</th>" } else { "" };
    let _ = writeln!(
        html,
        "<table>\n<caption>{}</caption>\n<thead><tr>{ruling}<th scope=\"col\">at</th><th scope=\"col\">before</th>\
         <th scope=\"col\">after</th><th scope=\"col\">field</th></tr></thead>\n<tbody>",
        text::count(run.changes.len() + run.more_changes, "change")
    );
    run.changes.iter().for_each(|change| html.push_str(&change_row(change, judged)));
    html.push_str("</tbody>\n</table>\n");
    if run.more_changes > 0 {
        html.push_str(&paragraph(&format!("and {}", text::count(run.more_changes, "more change"))));
    }
    html
}

fn change_row(change: &ChangeRecord, judged: bool) -> String {
    let (class, word) = match change.allowed {
        Some(true) => ("sound", "allowed"),
        Some(false) => ("fault", "refused"),
        None => ("quiet", ""),
    };
    let ruling = if judged { format!("<td class=\"ruling {class}\">{word}</td>") } else { String::new() };
    format!(
        "<tr>{ruling}<td class=\"at hex\">{}</td><td class=\"hex\" data-is=\"before\">{}</td>\
         <td class=\"hex\" data-is=\"after\">{}</td><td data-is=\"field\">{}</td></tr>\n",
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
            path_bytes: None,
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
            path: text::Name::of(std::path::Path::new(evil)),
            docket: &docket,
            images: vec![(&image, State::Same)],
            findings: &[],
        };
        let page = page(&shown, &[Some(contents(&[1, 2, 3, 4]))]);
        assert!(!page.contains("<script") && !page.contains('\u{1b}') && !page.contains("alert('"), "{page}");
        assert!(page.contains("&lt;script&gt;"));
        // Every tag that is opened is closed, but for those that have no end.
        for tag in ["section", "article", "table", "ul", "svg", "p", "h3", "span", "figure"] {
            let (open, close) = (format!("<{tag}"), format!("</{tag}>"));
            let opened = page.matches(&open).count();
            let opened =
                if tag == "p" { page.matches("<p>").count() + page.matches("<p ").count() } else { opened };
            assert_eq!(opened, page.matches(&close).count(), "{tag}");
        }
    }

    #[test]
    fn what_came_from_a_stream_is_not_said_to_be_sound() {
        let image = ImageRecord {
            role: "read 1".to_owned(),
            path: "-".to_owned(),
            path_bytes: None,
            bytes: 4,
            sha256: "ab".to_owned(),
            modified: None,
        };
        let html = image_section("read 1", &image, State::Stream, None);
        assert!(html.contains("<strong class=\"quiet\">from a stream</strong>"), "{html}");
    }

    fn contents(bytes: &[u8]) -> Contents {
        let skyline = Skyline::whole(&crate::image::Image::raw(bytes.to_vec()));
        Contents { skyline, bytes: bytes.len(), base: 0 }
    }

    #[test]
    fn what_a_part_holds_is_told_by_its_height() {
        let densities = [Density::Blank, Density::Sparse, Density::Text, Density::Dense];
        assert!(densities.map(high).windows(2).all(|pair| pair[0] < pair[1]));
        let svg = drawing("x", &contents(&[0xFF; 1600]), &[]);
        assert!(svg.contains("M0 32v-1h4v1z") && !svg.contains("mark"), "{svg}");
    }

    #[test]
    fn a_change_is_marked_at_its_place() {
        let svg = drawing("x", &contents(&[7; 1600]), &[(0, 1), (1595, 1600)]);
        assert!(svg.contains("M2 34l-3 8h6z") && svg.contains("M638 34l-3 8h6z"), "{svg}");
        assert_eq!(svg.matches("34l-3").count(), 2, "{svg}");
    }

    #[test]
    fn headings_go_down_one_level_at_a_time_and_an_empty_record_says_so() {
        let docket = Docket::default();
        let shown = Shown {
            path: text::Name::of(std::path::Path::new("job.ron")),
            docket: &docket,
            images: Vec::new(),
            findings: &[],
        };
        let page = page(&shown, &[]);
        assert_eq!(page.matches("<h1").count(), 1, "{page}");
        assert!(page.contains("Nothing is recorded yet") && page.contains("licensed people"), "{page}");
        for id in page.split("aria-labelledby=\"").skip(1).filter_map(|rest| rest.split('"').next()) {
            assert!(page.contains(&format!("<h2 id=\"{id}\">")), "{id}");
        }
    }
}
