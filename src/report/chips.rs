//! What `chips` prints: the table of chips, and what a marking can mean.

use std::io::{self, Write};

use serde::Serialize;

use super::json::Report;
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::chip::{self, Addressing, CHIPS, Candidate, Chip, FAMILIES, FamilyFacts};

const SOURCE: &str = "Values as data sheets of these families typically state, a few from memory; makers differ, and \
                      the data sheet of the very part counts.";

/// Prints every chip, by family.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_list(out: &mut dyn Write, paint: Paint) -> io::Result<()> {
    let (chips, families) = (text::count(CHIPS.len(), "chip"), text::list(&series()));
    paragraph(out, paint, 0, &format!("{chips} of the series {families}. {SOURCE}"))?;
    for facts in FAMILIES {
        writeln!(out, "\n{}", paint.tone(Tone::Strong, facts.name))?;
        write_facts(out, paint, facts)?;
        let of_family = CHIPS.iter().filter(|c| c.family == facts.family);
        chip_table(of_family).write(out, paint)?;
    }
    Ok(())
}

fn series() -> Vec<&'static str> {
    FAMILIES.iter().filter_map(|f| f.name.split(',').next()).collect()
}

fn write_facts(out: &mut dyn Write, paint: Paint, facts: &FamilyFacts) -> io::Result<()> {
    let volts: Vec<String> = facts.supply.iter().map(|&(low, high)| volts(low, high)).collect();
    let unit = if facts.family == crate::chip::Family::SpiNor { "erases of a sector" } else { "writes" };
    paragraph(
        out,
        paint,
        2,
        &format!(
            "Supply by class: {}. Bears about {} {unit}. Erased bytes read {:02X}.",
            volts.join("; "),
            grouped(facts.endurance),
            Chip::ERASED,
        ),
    )?;
    paragraph(out, paint, 2, &format!("Heed: {}", text::sentence(facts.remark)))
}

fn volts(low: u16, high: u16) -> String {
    let volt = |mv: u16| format!("{}.{:02}", mv / 1000, mv % 1000 / 10).trim_end_matches('0').to_owned();
    let whole = |v: String| if v.ends_with('.') { format!("{v}0") } else { v };
    format!("{} to {} V", whole(volt(low)), whole(volt(high)))
}

/// `1,000,000`: no space that a line could be broken at.
fn grouped(number: u32) -> String {
    let digits = number.to_string();
    let lead = digits.len() % 3;
    let mut groups: Vec<&str> = Vec::new();
    groups.extend(digits.get(..lead).filter(|g| !g.is_empty()));
    groups.extend((lead..digits.len()).step_by(3).filter_map(|at| digits.get(at..at + 3)));
    groups.join(",")
}

fn paragraph(out: &mut dyn Write, paint: Paint, indent: usize, said: &str) -> io::Result<()> {
    for line in text::wrap(said, paint.width.saturating_sub(indent)) {
        writeln!(out, "{}{line}", " ".repeat(indent))?;
    }
    Ok(())
}

fn chip_table<'c>(chips: impl Iterator<Item = &'c Chip>) -> Table {
    let mut table = Table::new(&["chip", "capacity", "bytes", "page", "word", "address"])
        .right(1)
        .right(2)
        .right(3)
        .indent(2);
    for chip in chips {
        let word = if chip.word_bits == 8 { String::new() } else { format!("{} bits", chip.word_bits) };
        table.row([
            named(chip),
            capacity(chip),
            chip.bytes.to_string(),
            chip.page.to_string(),
            word,
            chip.addressing.to_string(),
        ]);
    }
    table
}

fn named(chip: &Chip) -> String {
    match chip.also {
        Some(also) => format!("{}, {also}", chip.name),
        None => chip.name.to_owned(),
    }
}

/// In bits, as chips are sold.
fn capacity(chip: &Chip) -> String {
    match chip.bytes * 8 {
        bits if bits < 1024 => format!("{bits} bit"),
        bits if bits < 1 << 20 => format!("{} Kbit", bits >> 10),
        bits => format!("{} Mbit", bits >> 20),
    }
}

/// Prints what `marking` can stand for.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_marking(
    out: &mut dyn Write,
    paint: Paint,
    marking: &str,
    candidates: &[Candidate],
) -> io::Result<()> {
    let marking = text::clean(marking);
    let whole = candidates.iter().filter(|c| c.left_out == 0).count();
    let verdict = match (candidates, whole) {
        ([], _) => {
            let told = paint.tone(Tone::Doubt, &format!("{marking} fits no chip of the table."));
            writeln!(out, "{told}")?;
            let meant = match chip::meant(&marking).as_slice() {
                [] => String::new(),
                meant => format!("Did you mean {}? ", meant.join(" or ")),
            };
            let what = "Type the digits as printed, without date codes and logos; `readproof chips` lists the chips.";
            return paragraph(out, paint, 0, &format!("{meant}{what}"));
        }
        ([one], 1) => {
            paragraph(out, paint, 0, &format!("{marking} is the whole name of {}.", named(one.chip)))?;
            return write_one(out, paint, one.chip);
        }
        ([one], _) => format!("{marking} can stand for {}, shortened.", named(one.chip)),
        (many, 0) => format!("{marking} can stand for {} names, shortened; the likeliest first.", many.len()),
        (many, _) => format!("{marking} is a whole name, and {} names in all fit it.", many.len()),
    };
    paragraph(out, paint, 0, &verdict)?;
    writeln!(out)?;
    let mut table = Table::new(&["name", "capacity", "bytes", "kind", "why"]).right(1).right(2).indent(2);
    for candidate in candidates {
        let chip = candidate.chip;
        table.row([
            Cell::new(Tone::Strong, candidate.name),
            Cell::from(capacity(chip)),
            Cell::from(chip.bytes.to_string()),
            Cell::from(chip.facts().short),
            Cell::from(&candidate.why),
        ]);
    }
    table.write(out, paint)?;
    writeln!(out)?;
    paragraph(
        out,
        paint,
        0,
        "Makers leave out leading or trailing digits on small packages. Look which bus the pins are wired to, read \
         with the largest capacity that is left, and run `readproof vet READ`: contents that repeat tell the true size.",
    )
}

/// Prints all that the table says of one chip.
fn write_one(out: &mut dyn Write, paint: Paint, chip: &Chip) -> io::Result<()> {
    writeln!(out, "\n{}", paint.tone(Tone::Strong, chip.facts().name))?;
    write_facts(out, paint, chip.facts())?;
    chip_table([chip].into_iter()).write(out, paint)?;
    writeln!(out)?;
    paragraph(out, paint, 0, SOURCE)?;
    paragraph(out, paint, 0, &format!("`readproof vet READ --chip {}` checks a read of it.", chip.name))
}

/// Prints the chips that hold exactly `bytes` bytes.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_size(out: &mut dyn Write, paint: Paint, bytes: usize, chips: &[&Chip]) -> io::Result<()> {
    let bytes_told = text::count(bytes, "byte");
    if chips.is_empty() {
        let told = format!("No chip of the table holds exactly {bytes_told}.");
        writeln!(out, "{}", paint.tone(Tone::Doubt, &told))?;
        let below = CHIPS.iter().filter(|c| c.bytes < bytes).min_by_key(|c| std::cmp::Reverse(c.bytes));
        let above = CHIPS.iter().filter(|c| c.bytes > bytes).min_by_key(|c| c.bytes);
        let near: Vec<String> = below
            .into_iter()
            .chain(above)
            .map(|c| format!("{} ({})", text::count(c.bytes, "byte"), c.name))
            .collect();
        let said = format!(
            "The nearest sizes are {}: a read of another size is cut, padded or not raw.",
            text::list(&near)
        );
        return paragraph(out, paint, 0, &said);
    }
    paragraph(out, paint, 0, &format!("{} hold exactly {bytes_told}.", text::count(chips.len(), "chip")))?;
    writeln!(out)?;
    chip_table(chips.iter().copied()).write(out, paint)
}

/// A chip in JSON.
#[derive(Debug, Serialize)]
struct ChipJson {
    name: &'static str,
    also: Option<&'static str>,
    family: &'static str,
    bytes: usize,
    page: usize,
    word_bits: u8,
    address_bytes: Option<u8>,
    address_bits: u8,
    erased: u8,
    supply_millivolts: &'static [(u16, u16)],
    endurance: u32,
}

impl ChipJson {
    fn new(chip: &Chip) -> Self {
        let facts = chip.facts();
        let (address_bytes, address_bits) = match chip.addressing {
            Addressing::DeviceSelect { bytes, bits } | Addressing::Instruction { bytes, bits } => {
                (Some(bytes), 8 * bytes + bits)
            }
            Addressing::Bits(bits) => (None, bits),
        };
        ChipJson {
            name: chip.name,
            also: chip.also,
            family: facts.word,
            bytes: chip.bytes,
            page: chip.page,
            word_bits: chip.word_bits,
            address_bytes,
            address_bits,
            erased: Chip::ERASED,
            supply_millivolts: facts.supply,
            endurance: facts.endurance,
        }
    }
}

#[derive(Debug, Serialize)]
struct ListJson {
    chips: Vec<ChipJson>,
}

#[derive(Debug, Serialize)]
struct CandidateJson {
    name: &'static str,
    left_out: usize,
    why: String,
    chip: ChipJson,
}

#[derive(Debug, Serialize)]
struct MarkingJson {
    marking: String,
    candidates: Vec<CandidateJson>,
}

/// Prints chips as JSON.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_list_json<'c>(out: &mut dyn Write, chips: impl IntoIterator<Item = &'c Chip>) -> io::Result<()> {
    let chips = chips.into_iter().map(ChipJson::new).collect();
    Report::new("chips", None, &[], 0, ListJson { chips }).write(out)
}

/// Prints what `marking` can stand for as JSON.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_marking_json(out: &mut dyn Write, marking: &str, candidates: &[Candidate]) -> io::Result<()> {
    let candidates = candidates
        .iter()
        .map(|c| CandidateJson {
            name: c.name,
            left_out: c.left_out,
            why: c.why.clone(),
            chip: ChipJson::new(c.chip),
        })
        .collect();
    Report::new("chips", None, &[], 0, MarkingJson { marking: marking.to_owned(), candidates }).write(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chip::{by_name, explain};

    #[test]
    fn volts_and_numbers_are_written_for_people() {
        assert_eq!(volts(1700, 5500), "1.7 to 5.5 V");
        assert_eq!(volts(1650, 2000), "1.65 to 2.0 V");
        assert_eq!((grouped(1_000_000).as_str(), grouped(100).as_str()), ("1,000,000", "100"));
        assert_eq!(capacity(by_name("93C06").unwrap()), "256 bit");
        assert_eq!(capacity(by_name("24CM02").unwrap()), "2 Mbit");
    }

    #[test]
    fn a_marking_is_explained_with_its_candidates_and_why() {
        let mut out = Vec::new();
        write_marking(&mut out, Paint::default(), "564", &explain("564")).unwrap();
        let text = String::from_utf8(out).unwrap();
        assert!(text.starts_with("564 can stand for 3 names, shortened; the likeliest first.\n"), "{text}");
        assert!(
            text.contains("95640   64 Kbit     8192  SPI EEPROM     the leading 9 and the trailing 0 are"),
            "{text}"
        );
        assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    }

    #[test]
    fn a_marking_cannot_act_on_the_terminal() {
        let mut out = Vec::new();
        write_marking(&mut out, Paint::default(), "\u{1b}[2J", &[]).unwrap();
        assert!(!out.contains(&0x1B));
    }
}
