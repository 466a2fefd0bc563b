//! Where the entries of a docket stand in its text, however the text came about.

use super::form::WORDS;

/// What was found in a text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Scanned {
    /// Whether it is a docket's at all.
    pub is_docket: bool,
    /// The entries, from their first byte to the one after their last bracket.
    pub entries: Vec<(usize, usize)>,
    /// Where the bracket that closes the list stands, when everything around it is as it should be.
    pub end_of_list: Option<usize>,
    /// Whether a comma follows the last entry.
    has_comma: bool,
    /// What makes no sense, and where.
    pub problems: Vec<(usize, String)>,
}

impl Scanned {
    /// `text` with an entry more at the end of its list; `None` when its brackets are wrong.
    pub(super) fn with_entry(&self, text: &str, entry: &str) -> Option<String> {
        let end = self.end_of_list?;
        let mut grown = String::with_capacity(text.len() + entry.len() + 8);
        // The comma comes right behind the last entry; a remark may follow.
        let behind = self.entries.last().map_or(0, |e| e.1);
        grown.push_str(text.get(..behind)?);
        if !self.entries.is_empty() && !self.has_comma {
            grown.push(',');
        }
        let rest = text.get(behind..end)?.trim_end_matches([' ', '\t']);
        grown.push_str(rest);
        if !grown.ends_with('\n') {
            grown.push('\n');
        }
        grown.push_str(entry);
        grown.push_str("    ");
        grown.push_str(text.get(end..)?);
        Some(grown)
    }
}

/// One step through the text.
enum Token {
    /// An opening bracket.
    Open,
    /// A closing one, and which.
    Close(char),
    /// A bare word.
    Word,
    /// A comma.
    Comma,
    /// Text in quotes; false when the file ends in it.
    Quoted(bool),
    /// Anything else: numbers, colons.
    Other,
}

struct Scanner<'t> {
    text: &'t str,
    at: usize,
}

impl<'t> Scanner<'t> {
    fn rest(&self) -> &'t str {
        self.text.get(self.at..).unwrap_or_default()
    }

    /// The next token and where it begins; `None` at the end.
    fn next(&mut self) -> Option<(usize, Token)> {
        loop {
            let rest = self.rest();
            let blank = rest.len() - rest.trim_start().len();
            self.at += blank;
            let rest = self.rest();
            if rest.starts_with("//") {
                self.at += rest.find('\n').unwrap_or(rest.len());
            } else if rest.starts_with("/*") {
                self.at += rest.find("*/").map_or(rest.len(), |end| end + 2);
            } else {
                break;
            }
        }
        let start = self.at;
        let first = self.rest().chars().next()?;
        self.at += first.len_utf8();
        let token = match first {
            '(' | '[' | '{' => Token::Open,
            ')' | ']' | '}' => Token::Close(first),
            ',' => Token::Comma,
            '"' => Token::Quoted(self.quoted()),
            c if c.is_alphabetic() || c == '_' => {
                let rest = self.rest();
                self.at += rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
                Token::Word
            }
            _ => Token::Other,
        };
        Some((start, token))
    }

    /// Goes past the quote that ends a string. A line that begins as an entry does ends it too: the program writes
    /// no line breaks into strings, so the quote was lost.
    fn quoted(&mut self) -> bool {
        let bytes = self.text.as_bytes();
        while let Some(byte) = bytes.get(self.at) {
            match byte {
                b'\\' => self.at += 2,
                b'"' => {
                    self.at += 1;
                    return true;
                }
                b'\n' if begins_entry(self.text.get(self.at + 1..).unwrap_or_default()) => return false,
                _ => self.at += 1,
            }
        }
        self.at = self.text.len();
        false
    }

    fn word(&self, start: usize) -> &'t str {
        self.text.get(start..self.at).unwrap_or_default()
    }
}

/// What stands before an entry that the program wrote.
const INDENT: &str = "        ";

/// Whether a line begins as the program begins an entry.
fn begins_entry(line: &str) -> bool {
    let Some(line) = line.strip_prefix(INDENT) else { return false };
    WORDS.iter().any(|word| line.strip_prefix(word).is_some_and(|rest| rest.starts_with('(')))
}

/// Finds the entries in `text`.
pub(super) fn scan(text: &str) -> Scanned {
    let mut scanned = Scanned::default();
    let mut scanner = Scanner { text, at: 0 };
    if !head(&mut scanner, &mut scanned) {
        return scanned;
    }
    loop {
        let Some((start, token)) = scanner.next() else {
            scanned.problems.push((text.len(), "the docket ends in the middle: it was cut short".to_owned()));
            return scanned;
        };
        match token {
            Token::Word if WORDS.contains(&scanner.word(start)) => {
                if !entry(&mut scanner, start, &mut scanned) {
                    return scanned;
                }
            }
            Token::Comma => scanned.has_comma = true,
            Token::Close(']') => {
                scanned.end_of_list = tail(&mut scanner, &mut scanned).then_some(start);
                return scanned;
            }
            _ => {
                let what = format!("{:?} is no entry; it is passed over", clip(scanner.word(start)));
                scanned.problems.push((start, what));
                // What is passed over inside its own brackets can stay where it is.
                if let Token::Open = token
                    && !skip(&mut scanner)
                {
                    scanned.problems.push((text.len(), "the docket ends in the middle".to_owned()));
                    return scanned;
                }
            }
        }
    }
}

fn clip(text: &str) -> String {
    text.chars().take(24).collect()
}

/// Goes past `(docket: 1, entries: [`; false when that is not there.
fn head(scanner: &mut Scanner<'_>, scanned: &mut Scanned) -> bool {
    let mut last = "";
    while let Some((start, token)) = scanner.next() {
        match token {
            Token::Word => {
                last = scanner.word(start);
                scanned.is_docket |= last == "docket";
            }
            Token::Open if last == "entries" && scanner.word(start) == "[" => return scanned.is_docket,
            _ => {}
        }
    }
    scanned.problems.push((scanner.at, "the docket ends before its entries".to_owned()));
    false
}

/// Goes past one entry, whose word was read; false at the end of the text.
fn entry(scanner: &mut Scanner<'_>, start: usize, scanned: &mut Scanned) -> bool {
    let mut depth = 0_usize;
    loop {
        let before = scanner.at;
        let Some((at, token)) = scanner.next() else {
            scanned.problems.push((start, "the entry that begins here is cut short".to_owned()));
            return false;
        };
        // The next entry begins although this one has not ended: a bracket or a quote was lost.
        let line = scanner.text.get(..at).unwrap_or_default().rfind('\n').map_or(0, |n| n + 1);
        let first_in_line = matches!(token, Token::Word) && at == line + INDENT.len();
        if depth > 0 && first_in_line && begins_entry(scanner.text.get(line..).unwrap_or_default()) {
            scanned.problems.push((start, "the entry that begins here does not end".to_owned()));
            scanner.at = before;
            scanned.has_comma = true;
            // The list cannot be trusted to end where its bracket seems to be.
            scanned.problems.push((at, "the docket's brackets are wrong before this entry".to_owned()));
            return resume(scanner, scanned);
        }
        match token {
            Token::Open => depth += 1,
            Token::Close(_) => {
                depth = depth.saturating_sub(1);
                if depth == 0 {
                    scanned.entries.push((start, scanner.at));
                    scanned.has_comma = false;
                    return true;
                }
            }
            Token::Quoted(false) if scanner.rest().is_empty() => {
                scanned.problems.push((start, "the entry that begins here is cut short".to_owned()));
                return false;
            }
            _ if depth == 0 => {
                scanned.problems.push((start, "the entry that begins here has no bracket".to_owned()));
                return true;
            }
            _ => {}
        }
    }
}

/// Reads on after an entry that lost a bracket: entries are taken, but the file counts as damaged.
fn resume(scanner: &mut Scanner<'_>, scanned: &mut Scanned) -> bool {
    while let Some((start, token)) = scanner.next() {
        if matches!(token, Token::Word)
            && WORDS.contains(&scanner.word(start))
            && !entry(scanner, start, scanned)
        {
            return false;
        }
    }
    false
}

/// Goes past brackets that were opened; false at the end of the text.
fn skip(scanner: &mut Scanner<'_>) -> bool {
    let mut depth = 1_usize;
    while depth > 0 {
        match scanner.next() {
            Some((_, Token::Open)) => depth += 1,
            Some((_, Token::Close(_))) => depth -= 1,
            Some(_) => {}
            None => return false,
        }
    }
    true
}

/// Whether only the end of the docket follows the list.
fn tail(scanner: &mut Scanner<'_>, scanned: &mut Scanned) -> bool {
    let mut closed = false;
    while let Some((start, token)) = scanner.next() {
        match token {
            Token::Close(')') if !closed => closed = true,
            Token::Comma if !closed => {}
            Token::Word | Token::Other | Token::Quoted(true) | Token::Open | Token::Close(_) if closed => {
                scanned.problems.push((start, "something follows the end of the docket".to_owned()));
                return false;
            }
            // Keys that somebody put behind the entries stay where they are.
            _ => {}
        }
    }
    if !closed {
        scanned.problems.push((scanner.at, "the docket ends in the middle: it was cut short".to_owned()));
    }
    closed
}
