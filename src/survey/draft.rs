//! A first layout from what a survey and a hunt found: neutral names, guessed roles, the evidence as notes.

use std::fmt::Write as _;

use super::{ByteClass, Column, ColumnKind, Confidence, Kind, Label, Region, Survey, Table};
use crate::find::Encoding;
use crate::hunt::{Hit, entry};
use crate::image::Image;
use crate::layout::Role;
use crate::span::{ByteOrder, Span};

/// The longest mark that is written, and where it may begin.
const MARK_BYTES: usize = 8;
const MARK_WITHIN: usize = 64;

/// The text of a layout for images like `image`.
///
/// `title` names it; `checks` are what a hunt found, best first. What overlaps a stored check is left out: those
/// bytes are explained.
#[must_use]
pub fn draft(title: &str, survey: &Survey, image: &Image, checks: &[Hit]) -> String {
    let checks = apart(checks);
    let order = survey_order(survey);
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = write_head(&mut text, title, survey, image, order);
    let _ = write_fields(&mut text, survey, image, &checks);
    let _ = write_checks(&mut text, &checks);
    text.push_str(")\n");
    text
}

/// The byte order of a layout drafted from a survey.
fn survey_order(survey: &Survey) -> ByteOrder {
    survey.order.as_ref().map_or(ByteOrder::Big, |o| o.0)
}

/// The checks whose stored bytes touch no better one's.
fn apart(checks: &[Hit]) -> Vec<&Hit> {
    let mut kept: Vec<&Hit> = Vec::new();
    for check in checks {
        if kept.iter().all(|k| !k.way.stored_at.overlaps(check.way.stored_at)) {
            kept.push(check);
        }
    }
    kept.sort_by_key(|hit| hit.way.stored_at);
    kept
}

fn write_head(
    text: &mut String,
    title: &str,
    survey: &Survey,
    image: &Image,
    order: ByteOrder,
) -> std::fmt::Result {
    writeln!(text, "// Drafted from the bytes alone. Names and roles are guesses: rename, correct, delete.")?;
    writeln!(text, "(")?;
    writeln!(text, "    layout: {title:?},")?;
    writeln!(text, "    format: 1,")?;
    writeln!(text, "    source: \"drafted by survey\",")?;
    // Without a mark it would fit any image of the size, so then it fits only by its name.
    if let Some((at, bytes)) = mark(survey, image) {
        let hex: Vec<String> = bytes.iter().map(|b| format!("{b:02X}")).collect();
        let (bytes, hex) = (image.len(), hex.join(" "));
        writeln!(text, "    fits: (bytes: [{bytes}], marks: [(at: {at:#06X}, hex: {hex:?})]),")?;
    }
    writeln!(text, "    order: {},", order.word())
}

/// What images of this kind begin with: the first bytes that are no fill and are the same in all images.
fn mark<'i>(survey: &Survey, image: &'i Image) -> Option<(usize, &'i [u8])> {
    let plain = |at: usize| {
        let filled = survey.regions.iter().any(|r| matches!(r.kind, Kind::Fill(_)) && r.at.contains(at));
        let same = survey.stretches.is_empty()
            || survey.stretches.iter().any(|s| s.class == ByteClass::Same && s.at.contains(at));
        !filled && same && image.is_mapped(Span::of(at, 1))
    };
    let last = image.len().min(MARK_WITHIN);
    let start = (0..last).find(|&at| (at..at + 4).all(|o| o < image.len() && plain(o)))?;
    let len = (start..image.len().min(start + MARK_BYTES)).take_while(|&at| plain(at)).count();
    image.bytes().get(start..start + len).map(|bytes| (start, bytes))
}

fn write_fields(text: &mut String, survey: &Survey, image: &Image, checks: &[&Hit]) -> std::fmt::Result {
    let mut taken: Vec<Span> = checks.iter().map(|hit| hit.way.stored_at).collect();
    let mut fields: Vec<(usize, String)> = Vec::new();
    for region in worth_a_field(survey) {
        let Some((name, kind, role)) = field(region, survey, image) else { continue };
        let span = Span::of(region.at.start, region.at.len().max(kind.bytes));
        if taken.iter().any(|t| t.overlaps(span)) {
            continue;
        }
        taken.push(span);
        fields.push((span.start, written_field(name, span.start, &kind.ron, role, &region.evidence)));
    }
    for stretch in survey.stretches.iter().filter(|s| s.class == ByteClass::Record) {
        if taken.iter().any(|t| t.overlaps(stretch.at)) {
            continue;
        }
        taken.push(stretch.at);
        let kind = format!("Bytes(bytes: {})", stretch.at.len());
        let field = written_field("record", stretch.at.start, &kind, Role::Record, &stretch.evidence);
        fields.push((stretch.at.start, field));
    }
    fields.sort();
    writeln!(text, "    fields: [")?;
    fields.iter().try_for_each(|(_, field)| text.write_str(field))?;
    writeln!(text, "    ],")
}

/// The regions that become fields: those that are no mere hint, in their order; of very many, the surest, since a
/// layout with more fields than these helps nobody.
fn worth_a_field(survey: &Survey) -> Vec<&Region> {
    const MOST: usize = 2000;
    let mut regions: Vec<&Region> =
        survey.regions.iter().filter(|r| r.confidence() > Confidence::Weak).collect();
    regions.sort_by(|a, b| b.probability().total_cmp(&a.probability()));
    regions.truncate(MOST);
    regions.sort_by_key(|r| (r.at.start, std::cmp::Reverse(r.at.end)));
    regions
}

/// One field on two lines: what it is, then why.
fn written_field(name: &str, at: usize, kind: &str, role: Role, evidence: &str) -> String {
    let rest = if role == Role::Record { ", rest: 0xFF" } else { "" };
    format!(
        "        (name: \"{name}_{at:04x}\", at: {at:#06X}, kind: {kind}, role: {}{rest},\n            \
         note: {evidence:?}),\n",
        role.word(),
    )
}

/// A region as the field of a layout.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drafted {
    /// Its name.
    pub name: String,
    /// Its kind as a layout writes it.
    pub kind: String,
    /// Its bytes; padding that follows the region belongs to them.
    pub at: Span,
    /// A guess at what it is to the repair.
    pub role: Role,
}

/// The field that a region of `survey`, made of `image`, stands for; `None` for what is no field of its own.
#[must_use]
pub fn drafted(region: &Region, survey: &Survey, image: &Image) -> Option<Drafted> {
    let (name, kind, role) = field(region, survey, image)?;
    let start = region.at.start;
    Some(Drafted {
        name: format!("{name}_{start:04x}"),
        at: Span::of(start, region.at.len().max(kind.bytes)),
        kind: kind.ron,
        role,
    })
}

/// A kind as a layout writes it, and the bytes it takes.
struct Written {
    ron: String,
    bytes: usize,
}

/// The name, kind and role of the field that a region stands for; `None` for what is no field of its own.
fn field(region: &Region, survey: &Survey, image: &Image) -> Option<(&'static str, Written, Role)> {
    let bytes = region.at.len();
    let plain = |ron: String| Written { ron, bytes };
    match &region.kind {
        Kind::Text { encoding, label, .. } => {
            let (bytes, pad) = padded(region.at, *encoding, survey, image);
            let ron = match encoding {
                Encoding::Text => format!("Text(bytes: {bytes}{pad})"),
                Encoding::Utf16Big => format!("Text(bytes: {bytes}, code: Utf16, order: Big{pad})"),
                Encoding::Utf16Little => format!("Text(bytes: {bytes}, code: Utf16, order: Little{pad})"),
                Encoding::SwappedWords if region.at.start.is_multiple_of(2) && bytes.is_multiple_of(2) => {
                    format!("Text(bytes: {bytes}, swapped: true)")
                }
                // No kind of text reads these; the bytes are kept and the note says what they are.
                _ => format!("Bytes(bytes: {bytes})"),
            };
            let (name, role) = match label {
                Label::Vin | Label::VinForm => ("vin", Role::Identity),
                Label::Date => ("date", Role::Identity),
                Label::PartNumber => ("part_number", Role::Identity),
                Label::Serial => ("serial", Role::Identity),
                Label::Text => ("text", Role::Setting),
            };
            Some((name, Written { ron, bytes }, role))
        }
        Kind::PackedDigits { digits, encoding } => {
            let unpacked = if *encoding == Encoding::UnpackedDigits { ", unpacked: true" } else { "" };
            Some(("digits", plain(format!("Bcd(digits: {}{unpacked})", digits.len())), Role::Identity))
        }
        Kind::Date { form, .. } => Some(("date", plain(form.kind(survey_order(survey))), Role::Identity)),
        Kind::Table(table) => {
            Some(("table", plain(written_table(table, survey_order(survey))), Role::Record))
        }
        Kind::Pointer { order, .. } => Some(("pointer", plain(word(*order)), Role::Reserved)),
        Kind::Length { order, .. } => Some(("length", plain(word(*order)), Role::Reserved)),
        Kind::Dense => Some(("dense", plain(format!("Bytes(bytes: {bytes})")), Role::Reserved)),
        Kind::Fill(_) | Kind::Copy { .. } | Kind::Layout(_) | Kind::Linked { .. } => None,
    }
}

/// A 16-bit number.
fn word(order: ByteOrder) -> String {
    format!("Int(bits: 16, order: {})", order.word())
}

/// The bytes of a text with the padding that follows it, and the `pad` option of its kind.
fn padded(at: Span, encoding: Encoding, survey: &Survey, image: &Image) -> (usize, &'static str) {
    if encoding == Encoding::Text && image.bytes().get(at.range()).is_some_and(|held| held.ends_with(b" ")) {
        return (at.len(), ", pad: \" \"");
    }
    let next = survey
        .regions
        .iter()
        .filter(|r| r.at.start >= at.end && !matches!(r.kind, Kind::Fill(_)))
        .map(|r| r.at.start)
        .min()
        .unwrap_or(image.len());
    let gap = image.gaps().iter().map(|gap| gap.start).find(|&gap| gap >= at.end);
    let after = image.bytes().get(at.end..next.min(gap.unwrap_or(next))).unwrap_or_default();
    let Some(&value) = after.first().filter(|v| matches!(v, 0x20 | 0x00 | 0xFF)) else {
        return (at.len(), "");
    };
    if encoding != Encoding::Text {
        return (at.len(), "");
    }
    let room = after.iter().take_while(|&&b| b == value).count();
    // Fields have round lengths: the padding is taken up to the next multiple of four.
    let wanted = at.len().next_multiple_of(4) - at.len();
    let bytes = at.len() + wanted.min(room);
    let pad = match value {
        0x20 => ", pad: \" \"",
        0x00 => ", pad: 0x00",
        _ => ", pad: 0xFF",
    };
    if bytes == at.len() { (bytes, "") } else { (bytes, pad) }
}

fn written_table(table: &Table, order: ByteOrder) -> String {
    let columns: String =
        table.columns.iter().map(|c| format!("            {},\n", written_column(c, order))).collect();
    format!("Table(rows: {}, stride: {}, of: [\n{columns}        ])", table.rows, table.stride)
}

fn written_column(column: &Column, order: ByteOrder) -> String {
    let (bytes, bits) = (column.bytes, column.bytes * 8);
    let (name, kind) = match column.kind {
        ColumnKind::Counter(own) if bytes > 1 => {
            ("counter", format!("Int(bits: {bits}, order: {})", own.word()))
        }
        ColumnKind::Counter(_) => ("counter", "Int(bits: 8)".to_owned()),
        ColumnKind::Date(form) => ("date", form.kind(order)),
        ColumnKind::Seconds(own) => {
            ("time", format!("Since(bits: 32, count: Seconds, from: \"1970-01-01\", order: {})", own.word()))
        }
        ColumnKind::Text => ("text", format!("Text(bytes: {bytes})")),
        ColumnKind::Enumeration if bytes == 1 => ("choice", "Int(bits: 8)".to_owned()),
        ColumnKind::Flags if bytes == 1 => ("flags", "Int(bits: 8, base: Hex)".to_owned()),
        ColumnKind::Constant => ("constant", format!("Bytes(bytes: {bytes})")),
        ColumnKind::Number if matches!(bytes, 1 | 2 | 4) => ("number", format!("Int(bits: {bits})")),
        ColumnKind::Enumeration | ColumnKind::Flags | ColumnKind::Number => {
            ("bytes", format!("Bytes(bytes: {bytes})"))
        }
    };
    format!("(name: \"{name}_{0:02x}\", at: {0}, kind: {kind})", column.at)
}

fn write_checks(text: &mut String, checks: &[&Hit]) -> std::fmt::Result {
    if checks.is_empty() {
        return Ok(());
    }
    writeln!(text, "    checks: [")?;
    for Hit { way, images, expected, .. } in checks.iter().copied() {
        let images = if *images == 1 { "one image".to_owned() } else { format!("{images} images") };
        writeln!(text, "        // Holds in {images}; chance alone would give {expected:.1e} such checks.")?;
        writeln!(text, "        {},", entry::entry(way, &format!("check_{:04x}", way.stored_at.start)))?;
    }
    writeln!(text, "    ],")
}
