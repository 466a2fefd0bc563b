//! What `checks` prints: the list, one of it, a result.

use std::io::{self, Write};
use std::path::Path;

use serde::Serialize;

use super::json::{self, Report};
use super::paint::{Paint, Tone};
use super::table::{Cell, Table};
use super::text;
use crate::check::catalogue::Listed;
use crate::check::digits::{DigitRule, DigitState};
use crate::check::{Algorithm, CrcParameters, Finish, Method, Operation, SumParameters, catalogue};
use crate::span::{ByteOrder, Span};

/// The text that published check values are computed over.
const NINE: &str = "123456789";

/// A result over an image or a text.
pub struct Computed<'a> {
    /// The image; `None` for a text.
    pub path: Option<&'a Path>,
    /// Address of its first byte.
    pub base: u64,
    /// What was computed over, as offsets.
    pub over: Vec<Span>,
    /// The result.
    pub value: u128,
    /// Which byte stands first; `None` to show both.
    pub order: Option<ByteOrder>,
}

/// The parameters in few words: `16 bits, poly 1021, init FFFF, reflected`.
fn summary(method: Method) -> String {
    match method {
        Method::Crc(CrcParameters { width, poly, init, refin, refout, xorout }) => {
            let hex = |value: u128| format!("{value:0digits$X}", digits = usize::from(width).div_ceil(4));
            let mut words = vec![format!("poly {}, init {}", hex(poly), hex(init))];
            match (refin, refout) {
                (true, true) => words.push("reflected".to_owned()),
                (true, false) => words.push("input reflected".to_owned()),
                (false, true) => words.push("output reflected".to_owned()),
                (false, false) => {}
            }
            if xorout != 0 {
                words.push(format!("xorout {}", hex(xorout)));
            }
            words.join(", ")
        }
        Method::Sum(SumParameters { operation, bits, word, order, init, finish }) => {
            let words = match (word, order) {
                (8, _) => "bytes".to_owned(),
                (_, ByteOrder::Big) => format!("{word}-bit words, big-endian"),
                (_, ByteOrder::Little) => format!("{word}-bit words, little-endian"),
            };
            let mut said = match operation {
                Operation::Add => format!("sum of {words}"),
                Operation::AddCarry => format!("sum of {words}, carry brought round"),
                Operation::Xor => format!("exclusive or of {words}"),
            };
            if init != 0 {
                said.push_str(&format!(", from {init:X}"));
            }
            match finish {
                Finish::Plain => {}
                Finish::To(0) => said.push_str(", two's complement"),
                Finish::To(ones) if u32::from(bits) == ones.trailing_ones() => {
                    said.push_str(", one's complement");
                }
                Finish::To(constant) => said.push_str(&format!(", what is missing to {constant:X}")),
            }
            said
        }
        Method::Fletcher(bits) => {
            format!("two sums modulo 2^{half} - 1 over {half}-bit words", half = bits / 2)
        }
        Method::Adler32 => "two sums of bytes modulo 65521; RFC 1950".to_owned(),
        Method::BsdSum => "sum of bytes, rotated right before each".to_owned(),
        Method::SystemVSum => "sum of bytes, folded into 16 bits".to_owned(),
    }
}

/// Prints every check with its parameters.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_list(out: &mut dyn Write, paint: Paint) -> io::Result<()> {
    writeln!(
        out,
        "{} and {} are known.",
        text::count(catalogue().len(), "check"),
        text::count(DigitRule::ALL.len(), "rule")
    )?;
    let intro =
        "`readproof checks NAME` tells more of one; `readproof checks NAME IMAGE --over RANGE` computes it.";
    for line in text::wrap(intro, paint.width) {
        writeln!(out, "{line}")?;
    }
    writeln!(out)?;
    let mut table = Table::new(&["check", "parameters"]);
    for Listed { algorithm, aliases, .. } in catalogue() {
        let mut said = summary(algorithm.method);
        if paint.whole {
            let nine = value(algorithm, algorithm.compute([NINE.as_bytes()]));
            let also = aliases.iter().map(|alias| format!("; also {alias}")).collect::<String>();
            said = format!("{said}; {nine} over 123456789{also}");
        }
        table.row([Cell::new(Tone::Strong, &algorithm.name), said.into()]);
    }
    table.write(out, paint)?;
    writeln!(out)?;
    let mut table = Table::new(&["check digit", "over"]);
    for &rule in DigitRule::ALL {
        table.row([Cell::new(Tone::Strong, rule.word()), rule.doc().into()]);
    }
    table.write(out, paint)
}

/// A result with the digits that its bits need.
fn value(algorithm: &Algorithm, value: u128) -> String {
    format!("{value:0digits$X}", digits = algorithm.bits().div_ceil(4) as usize)
}

/// A check as JSON.
#[derive(Serialize)]
struct CheckJson {
    name: String,
    bits: u32,
    parameters: String,
    value_of_123456789: String,
    aliases: Vec<&'static str>,
}

impl CheckJson {
    fn new(algorithm: &Algorithm, aliases: Vec<&'static str>) -> Self {
        CheckJson {
            name: algorithm.name.clone().into_owned(),
            bits: algorithm.bits(),
            parameters: algorithm.method.to_string(),
            value_of_123456789: value(algorithm, algorithm.compute([NINE.as_bytes()])),
            aliases,
        }
    }
}

/// A rule as JSON.
#[derive(Serialize)]
struct RuleJson {
    name: &'static str,
    over: &'static str,
}

impl RuleJson {
    fn new(rule: DigitRule) -> Self {
        RuleJson { name: rule.word(), over: rule.doc() }
    }
}

#[derive(Serialize)]
struct ListJson {
    checks: Vec<CheckJson>,
    check_digits: Vec<RuleJson>,
}

/// The JSON object for the list.
#[must_use]
pub fn list_json() -> Report<impl Serialize> {
    let checks = catalogue().iter().map(|listed| CheckJson::new(&listed.algorithm, listed.aliases.clone()));
    let check_digits = DigitRule::ALL.iter().copied().map(RuleJson::new).collect();
    Report::new("checks", None, &[], 0, ListJson { checks: checks.collect(), check_digits })
}

fn listed(algorithm: &Algorithm) -> Option<&'static Listed> {
    catalogue().iter().find(|listed| listed.algorithm == *algorithm)
}

/// Prints one check.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_one(out: &mut dyn Write, paint: Paint, algorithm: &Algorithm) -> io::Result<()> {
    let named = listed(algorithm).is_some();
    let name = if named { &algorithm.name } else { "A check that the catalogue does not list" };
    let sentence =
        format!("{name}: {}, {}.", text::count(algorithm.bits() as usize, "bit"), summary(algorithm.method));
    for line in text::wrap(&sentence, paint.width) {
        writeln!(out, "{line}")?;
    }
    let mut table = Table::new(&["", ""]).indent(2);
    if let Some(listed) = listed(algorithm).filter(|listed| !listed.aliases.is_empty()) {
        table.row(["also called", &text::list(&listed.aliases)]);
    }
    table.row(["parameters", &algorithm.method.to_string()]);
    table.row(["over 123456789", &value(algorithm, algorithm.compute([NINE.as_bytes()]))]);
    if algorithm.can_include() {
        table.row(["over range and value", &value(algorithm, algorithm.constant())]);
    }
    table.write(out, paint)
}

/// The JSON object for one check.
#[must_use]
pub fn one_json(algorithm: &Algorithm) -> Report<impl Serialize> {
    let aliases = listed(algorithm).map(|listed| listed.aliases.clone()).unwrap_or_default();
    let checks = vec![CheckJson::new(algorithm, aliases)];
    Report::new("checks", None, &[], 0, ListJson { checks, check_digits: Vec::new() })
}

/// Prints one rule for check digits.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_rule(out: &mut dyn Write, paint: Paint, rule: DigitRule) -> io::Result<()> {
    let name = rule.word();
    writeln!(out, "{name}: {}.", rule.doc())?;
    writeln!(
        out,
        "  {}",
        paint.tone(Tone::Quiet, &format!("`readproof checks {name} --text TEXT` tries it."))
    )
}

/// The JSON object for one rule.
#[must_use]
pub fn rule_json(rule: DigitRule) -> Report<impl Serialize> {
    let check_digits = vec![RuleJson::new(rule)];
    Report::new("checks", None, &[], 0, ListJson { checks: Vec::new(), check_digits })
}

/// The bytes of a result as they would be stored.
fn stored(algorithm: &Algorithm, value: u128, order: ByteOrder) -> Vec<u8> {
    let mut bytes: Vec<u8> = value.to_le_bytes().into_iter().take(algorithm.bytes()).collect();
    if order == ByteOrder::Big {
        bytes.reverse();
    }
    bytes
}

/// Prints a result.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_computed(
    out: &mut dyn Write,
    paint: Paint,
    algorithm: &Algorithm,
    computed: &Computed<'_>,
) -> io::Result<()> {
    let name = text::clean(&algorithm.name);
    writeln!(out, "{name} is {}.", paint.tone(Tone::Strong, &value(algorithm, computed.value)))?;
    let mut table = Table::new(&["", ""]).indent(2);
    if let Some(path) = computed.path {
        table.row(["image", text::named(&text::path(path))]);
    }
    let bytes: usize = computed.over.iter().map(|span| span.len()).sum();
    let ranges: Vec<String> = computed.over.iter().map(|&span| text::range(span, computed.base)).collect();
    let over = match computed.path {
        Some(_) => format!("{}, {}", ranges.join(" then "), text::count(bytes, "byte")),
        None => text::count(bytes, "byte"),
    };
    table.row(["over", &over]);
    for (order, label) in [(ByteOrder::Big, "stored big-endian"), (ByteOrder::Little, "stored little-endian")]
    {
        let wanted = computed.order.is_none_or(|wanted| wanted == order);
        if wanted && algorithm.bytes() > 1 {
            table.row([label, &text::hex(&stored(algorithm, computed.value, order))]);
        }
    }
    table.write(out, paint)
}

/// The JSON object for a result.
#[must_use]
pub fn computed_json(algorithm: &Algorithm, computed: &Computed<'_>) -> Report<impl Serialize> {
    #[derive(Serialize)]
    struct Body {
        by: String,
        bits: u32,
        #[serde(flatten)]
        file: text::NoName,
        over: Vec<(u64, u64)>,
        value: String,
        stored_big: Option<String>,
        stored_little: Option<String>,
    }
    let bytes = |order| {
        let wanted = computed.order.is_none_or(|wanted| wanted == order);
        wanted.then(|| text::hex_plain(&stored(algorithm, computed.value, order)))
    };
    let body = Body {
        by: algorithm.name.clone().into_owned(),
        bits: algorithm.bits(),
        file: computed.path.map(text::Name::of).as_ref().into(),
        over: json::ranges(&computed.over, computed.base),
        value: value(algorithm, computed.value),
        stored_big: bytes(ByteOrder::Big),
        stored_little: bytes(ByteOrder::Little),
    };
    Report::new("checks", None, &[], computed.base, body)
}

/// Prints what the check digit of a text says.
///
/// # Errors
/// When `out` cannot be written.
pub fn write_digits(
    out: &mut dyn Write,
    paint: Paint,
    rule: DigitRule,
    typed: &str,
    state: &DigitState,
) -> io::Result<()> {
    let (name, shown) = (rule.word(), text::clean(typed));
    match state {
        DigitState::Right => {
            writeln!(out, "{shown}: the check digit is {} by {name}.", paint.tone(Tone::Good, "right"))
        }
        DigitState::Wrong { at, found, expected } => {
            let wrong = paint.tone(Tone::Bad, "wrong");
            writeln!(out, "{shown}: the check digit is {wrong} by {name}.")?;
            let mut table = Table::new(&["", ""]).indent(2);
            table.row(["stands there", &format!("{found}, at place {}", at + 1)]);
            table.row(["expected", expected.as_str()]);
            table.write(out, paint)?;
            writeln!(out, "  Another character may be the wrong one: the digit only tells that one is.")
        }
        DigitState::Odd(why) => {
            let odd = paint.tone(Tone::Doubt, "no such text");
            writeln!(out, "{shown}: {odd}: {}", text::clean(why))
        }
    }
}

/// The JSON object for what the check digit of a text says.
#[must_use]
pub fn digits_json(rule: DigitRule, typed: &str, state: &DigitState) -> Report<impl Serialize> {
    #[derive(Serialize, Default)]
    struct Body {
        by: &'static str,
        text: String,
        right: bool,
        at: Option<usize>,
        found: Option<String>,
        expected: Option<String>,
        why: Option<String>,
    }
    let mut body = Body { by: rule.word(), text: typed.to_owned(), ..Body::default() };
    match state {
        DigitState::Right => body.right = true,
        DigitState::Wrong { at, found, expected } => {
            body.at = Some(*at);
            body.found = Some(found.clone());
            body.expected = Some(expected.clone());
        }
        DigitState::Odd(why) => body.why = Some(why.clone()),
    }
    Report::new("checks", None, &[], 0, body)
}
