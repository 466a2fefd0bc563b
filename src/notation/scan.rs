//! The letters of the text: white space, remarks, words, numbers, strings.

use super::lookalikes::{instead_of, is_curly_quote};
use super::{Name, Problem, TextSpan};

/// A place in the text that moves forward only.
pub(super) struct Scanner<'t> {
    pub(super) text: &'t str,
    pub(super) at: usize,
    pub(super) problems: Vec<Problem>,
}

impl<'t> Scanner<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        let at = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        Scanner { text, at, problems: Vec::new() }
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.text[self.at..].chars().next()
    }

    pub(super) fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    pub(super) fn bump(&mut self) -> Option<char> {
        let c = self.peek()?;
        self.at += c.len_utf8();
        Some(c)
    }

    pub(super) fn eat(&mut self, c: char) -> bool {
        let hit = self.peek() == Some(c);
        if hit {
            self.at += c.len_utf8();
        }
        hit
    }

    pub(super) fn span_from(&self, start: usize) -> TextSpan {
        TextSpan::new(start, self.at)
    }

    pub(super) fn problem(&mut self, problem: Problem) {
        if self.problems.len() < super::MAX_PROBLEMS {
            self.problems.push(problem);
        }
    }

    /// Passes white space and remarks.
    pub(super) fn skip_blank(&mut self) {
        loop {
            let rest = self.rest();
            let blank = rest.len() - rest.trim_start_matches([' ', '\t', '\r', '\n']).len();
            self.at += blank;
            let rest = self.rest();
            if rest.starts_with("//") {
                self.at += rest.find('\n').unwrap_or(rest.len());
            } else if rest.starts_with("/*") {
                self.skip_block_remark();
            } else {
                return;
            }
        }
    }

    /// Passes a remark that may hold others.
    fn skip_block_remark(&mut self) {
        let start = self.at;
        let bytes = self.text.as_bytes();
        let mut open = 0usize;
        let mut at = start;
        while at < bytes.len() {
            match (bytes[at], bytes.get(at + 1)) {
                (b'/', Some(b'*')) => {
                    open += 1;
                    at += 2;
                }
                (b'*', Some(b'/')) => {
                    open -= 1;
                    at += 2;
                    if open == 0 {
                        self.at = at;
                        return;
                    }
                }
                _ => at += 1,
            }
        }
        self.at = self.text.len();
        self.problem(
            Problem::new(TextSpan::new(start, start + 2), "a remark /* is never closed", "*/ at its end")
                .fix("close it, or use // for a remark of one line"),
        );
    }

    /// A word at this place: letters, digits and `_`, not beginning with a digit.
    pub(super) fn word(&mut self) -> Option<Name> {
        let start = self.at;
        let rest = self.rest();
        if !rest.starts_with(is_word_start) {
            return None;
        }
        let len = rest.find(|c| !is_word(c)).unwrap_or(rest.len());
        self.at += len;
        Some(Name { span: self.span_from(start), text: rest[..len].to_string() })
    }

    /// True when a word and a colon stand here, as they do in `(name: …)`, or an equals sign by mistake.
    /// Moves nothing.
    pub(super) fn at_entry(&mut self) -> bool {
        let (at, problems) = (self.at, self.problems.len());
        let hit = self.word().is_some() && {
            self.skip_blank();
            matches!(self.peek(), Some(':' | '='))
        };
        self.at = at;
        self.problems.truncate(problems);
        hit
    }

    /// A number as written, without its underscores. The caller has seen that one begins here.
    pub(super) fn number(&mut self) -> String {
        let start = self.at;
        let rest = self.rest();
        // In a number with a base, `e` is a digit and no sign can follow it.
        let based = is_based(rest);
        let mut last = ' ';
        let len = rest
            .find(|c: char| {
                let sign = matches!(c, '+' | '-') && (last == ' ' || !based && matches!(last, 'e' | 'E'));
                let part = is_word(c) || c == '.' || sign;
                last = c;
                !part
            })
            .unwrap_or(rest.len());
        self.at += len;
        let text: String = rest[..len].chars().filter(|&c| c != '_').collect();
        if !is_number(&text) {
            let span = self.span_from(start);
            self.problem(
                Problem::new(
                    span,
                    format!("{} is no number", super::clip(&rest[..len])),
                    "decimal digits, 0x and hexadecimal digits, or 0b and binary digits",
                )
                .suggest_number(&text),
            );
        }
        text
    }

    /// A string in double quotes, escapes resolved. The caller has seen the quote.
    pub(super) fn string(&mut self) -> String {
        let start = self.at;
        self.bump();
        let mut out = String::new();
        loop {
            let rest = self.rest();
            let plain = rest.find(['"', '\\']).unwrap_or(rest.len());
            out.push_str(&rest[..plain]);
            self.at += plain;
            match self.bump() {
                Some('"') => return out,
                Some('\\') => self.escape(&mut out),
                _ => break,
            }
        }
        self.problem(
            Problem::new(TextSpan::new(start, start + 1), "a string is never closed", "\" at its end")
                .fix("close it; a quote inside a string is written \\\""),
        );
        out
    }

    /// What stands behind a backslash.
    fn escape(&mut self, out: &mut String) {
        let start = self.at - 1;
        let c = self.bump();
        let plain = match c {
            Some('n') => Some('\n'),
            Some('r') => Some('\r'),
            Some('t') => Some('\t'),
            Some('0') => Some('\0'),
            Some('\\') => Some('\\'),
            Some('"') => Some('"'),
            Some('\'') => Some('\''),
            Some('x') => self.hex_digits(2, 2).and_then(char::from_u32),
            Some('u') => {
                let digits = if self.eat('{') { self.hex_digits(1, 6) } else { None };
                digits.filter(|_| self.eat('}')).and_then(char::from_u32)
            }
            Some('\n') => {
                let rest = self.rest();
                self.at += rest.len() - rest.trim_start().len();
                return;
            }
            _ => None,
        };
        match plain {
            Some(c) => out.push(c),
            None => {
                let shown: String = c.into_iter().flat_map(char::escape_debug).collect();
                let span = self.span_from(start);
                self.problem(
                    Problem::new(
                        span,
                        format!("\\{shown} means nothing in a string"),
                        "\\n, \\r, \\t, \\0, \\\\, \\\", \\x41 or \\u{B0}",
                    )
                    .fix("write \\\\ for a backslash, or r\"…\" for a string in which a backslash is plain"),
                );
            }
        }
    }

    fn hex_digits(&mut self, least: usize, most: usize) -> Option<u32> {
        let rest = self.rest();
        let len = rest.bytes().take(most).take_while(u8::is_ascii_hexdigit).count();
        self.at += len;
        if len < least { None } else { u32::from_str_radix(&rest[..len], 16).ok() }
    }

    /// `r"…"` or `r#"…"#`; `None` when none begins here.
    pub(super) fn raw_string(&mut self) -> Option<String> {
        let start = self.at;
        let rest = self.rest().strip_prefix('r')?;
        let hashes = rest.len() - rest.trim_start_matches('#').len();
        let body = rest[hashes..].strip_prefix('"')?;
        let end = format!("\"{}", "#".repeat(hashes));
        let begin = start + 1 + hashes + 1;
        match body.find(&end) {
            Some(len) => {
                self.at = begin + len + end.len();
                Some(body[..len].to_string())
            }
            None => {
                self.at = self.text.len();
                self.problem(Problem::new(
                    TextSpan::new(start, begin),
                    "a string is never closed",
                    format!("{end} at its end"),
                ));
                Some(body.to_string())
            }
        }
    }

    /// A character in single quotes; a whole string in single quotes is a problem, and read as a string.
    pub(super) fn character(&mut self) -> Result<char, String> {
        let start = self.at;
        self.bump();
        let mut out = String::new();
        loop {
            match self.peek() {
                Some('\'') => {
                    self.bump();
                    break;
                }
                Some('\\') => {
                    self.bump();
                    self.escape(&mut out);
                }
                None | Some('\n') => break,
                Some(c) => {
                    self.bump();
                    out.push(c);
                }
            }
        }
        let mut chars = out.chars();
        if let (Some(c), None) = (chars.next(), chars.next()) {
            return Ok(c);
        }
        let span = self.span_from(start);
        self.problem(
            Problem::new(
                span,
                format!("'{}' stands in single quotes", super::clip(&out)),
                "a string in \"…\"",
            )
            .fix(format!("write \"{}\"", super::clip(&out))),
        );
        Err(out)
    }

    /// A string that a word processor put in curly quotes: a problem, read up to the next such quote.
    pub(super) fn curly_string(&mut self) -> String {
        let start = self.at;
        self.bump();
        let rest = self.rest();
        let stop = rest.find(|c: char| is_curly_quote(c) || matches!(c, '"' | '\n')).unwrap_or(rest.len());
        self.at += stop;
        if self.peek().is_some_and(|c| c != '\n') {
            self.bump();
        }
        let span = self.span_from(start);
        self.problem(
            Problem::new(
                span,
                format!("{} stands in typographic quotes", super::clip(&self.text[start..self.at])),
                "a string in the straight quotes of the keyboard",
            )
            .fix(format!("write \"{}\"", super::clip(&rest[..stop]))),
        );
        rest[..stop].to_string()
    }

    /// Says that `c` cannot stand here, and passes it.
    pub(super) fn stray(&mut self, expected: &str) {
        let start = self.at;
        let what = match self.bump() {
            Some(c) => format!("'{}' cannot stand here", c.escape_debug()),
            None => "the text ends here".to_string(),
        };
        let mut problem = Problem::new(self.span_from(start), what, expected);
        problem.fix = self.text[start..self.at].chars().next().and_then(instead_of).map(str::to_string);
        self.problem(problem);
    }
}

fn is_word_start(c: char) -> bool {
    c.is_alphabetic() || c == '_'
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// True for a number that is written with a base.
fn is_based(number: &str) -> bool {
    let digits = number.strip_prefix(['+', '-']).unwrap_or(number);
    ["0x", "0b", "0o"].iter().any(|prefix| digits.starts_with(prefix))
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    let based = |prefix: &str, radix: u32| {
        digits.strip_prefix(prefix).map(|d| !d.is_empty() && d.chars().all(|c| c.is_digit(radix)))
    };
    based("0x", 16).or_else(|| based("0b", 2)).or_else(|| based("0o", 8)).unwrap_or_else(|| {
        digits.starts_with(|c: char| c.is_ascii_digit() || c == '.') && text.parse::<f64>().is_ok()
    })
}

impl Problem {
    fn suggest_number(self, text: &str) -> Self {
        let digits = text.strip_suffix(['h', 'H']).unwrap_or(text);
        if !digits.is_empty() && digits.len() <= 16 && digits.chars().all(|c| c.is_ascii_hexdigit()) {
            return self.fix(format!("write 0x{digits}"));
        }
        self
    }
}
