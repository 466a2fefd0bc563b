//! From the text of an expression to its tree.

use super::{Expr, FieldUse, MAX_NESTING, MAX_NODES, One, Place, Step, Two, Want};
use crate::notation::{Problem, TextSpan, get};

/// Reads an expression; `span` is where its text, without quotes, stands in the layout.
///
/// # Errors
/// What is wrong first.
pub fn parse(text: &str, span: TextSpan) -> Result<Expr, Problem> {
    let mut reader = Reader { text, at: 0, span, nodes: 0, nesting: 0 };
    let expr = reader.ladder(0)?;
    reader.blank();
    if reader.at < text.len() {
        return Err(reader.wrong("an operation such as + - * / == < and or, or the end"));
    }
    Ok(expr)
}

struct Reader<'t> {
    text: &'t str,
    at: usize,
    span: TextSpan,
    nodes: usize,
    nesting: usize,
}

/// Operations from the loosest to the tightest; within a row from left to right.
/// A sign that begins with another one stands before it.
const LADDER: &[&[(&str, Two)]] = &[
    &[("or", Two::Or)],
    &[("and", Two::And)],
    &[
        ("==", Two::Equal),
        ("!=", Two::Differs),
        ("<=", Two::AtMost),
        (">=", Two::AtLeast),
        ("<", Two::Less),
        (">", Two::More),
    ],
    &[("|", Two::BitOr)],
    &[("^", Two::BitXor)],
    &[("&", Two::BitAnd)],
    &[("<<", Two::Left), (">>", Two::Right)],
    &[("+", Two::Add), ("-", Two::Subtract)],
    &[("*", Two::Times), ("/", Two::Divide), ("%", Two::Remainder)],
];

/// Where comparisons stand in [`LADDER`]; they do not chain.
const COMPARISONS: usize = 2;

impl<'t> Reader<'t> {
    fn ladder(&mut self, rung: usize) -> Result<Expr, Problem> {
        let Some(signs) = LADDER.get(rung) else { return self.one() };
        let mut left = self.ladder(rung + 1)?;
        let mut compared = false;
        while let Some(two) = self.sign(signs) {
            if compared && rung == COMPARISONS {
                return Err(self.wrong("one comparison; join two with and"));
            }
            compared = true;
            let right = self.ladder(rung + 1)?;
            self.count()?;
            left = Expr::Two(two, Box::new((left, right)));
        }
        Ok(left)
    }

    fn sign(&mut self, signs: &[(&str, Two)]) -> Option<Two> {
        self.blank();
        let rest = &self.text[self.at..];
        let (sign, two) = signs.iter().find(|(sign, _)| {
            rest.strip_prefix(sign).is_some_and(|after| {
                // `<<` is not `<`, and `order` is not `or`.
                let longer = if matches!(*sign, "<" | ">") {
                    after.starts_with(*sign)
                } else {
                    sign.starts_with(char::is_alphabetic) && after.starts_with(is_word)
                };
                !longer
            })
        })?;
        self.at += sign.len();
        Some(*two)
    }

    fn one(&mut self) -> Result<Expr, Problem> {
        self.blank();
        let rest = &self.text[self.at..];
        let one = match rest.chars().next() {
            Some('-') => One::Minus,
            Some('~') => One::Invert,
            Some('!') if !rest.starts_with("!=") => One::Not,
            _ if rest.strip_prefix("not").is_some_and(|after| !after.starts_with(is_word)) => {
                self.at += 2;
                One::Not
            }
            _ => return self.atom(),
        };
        self.at += 1;
        self.deeper()?;
        let inner = self.one()?;
        self.nesting -= 1;
        self.count()?;
        if let (One::Minus, Expr::Number(n)) = (one, &inner) {
            return Ok(Expr::Number(-n));
        }
        Ok(Expr::One(one, Box::new(inner)))
    }

    fn atom(&mut self) -> Result<Expr, Problem> {
        self.count()?;
        let rest = &self.text[self.at..];
        match rest.chars().next() {
            Some('(') => {
                self.at += 1;
                self.deeper()?;
                let inner = self.ladder(0)?;
                self.nesting -= 1;
                self.close(')')?;
                Ok(inner)
            }
            Some('\'') => {
                let Some(len) = rest[1..].find('\'') else {
                    return Err(self.wrong("a single quote at the end of the text"));
                };
                self.at += len + 2;
                Ok(Expr::Text(rest[1..=len].to_string()))
            }
            Some('0'..='9') => self.number(),
            Some(c) if is_word(c) => self.worded(),
            _ => Err(self.wrong("a number, a field, or ( … )")),
        }
    }

    fn number(&mut self) -> Result<Expr, Problem> {
        let start = self.at;
        let rest = &self.text[start..];
        let len = rest.find(|c| !is_word(c)).unwrap_or(rest.len());
        let number = get::whole(&rest[..len]);
        let number = number.ok_or_else(|| self.wrong("a decimal number, or one with 0x or 0b"))?;
        self.at += len;
        Ok(Expr::Number(number))
    }

    /// A function, a word about the place, or a field.
    fn worded(&mut self) -> Result<Expr, Problem> {
        let start = self.at;
        let word = self.word();
        self.blank();
        if !self.text[self.at..].starts_with('(') {
            self.at = start;
            let field = self.field(Want::Value)?;
            return Ok(Expr::Field(Box::new(field)));
        }
        self.at += 1;
        self.deeper()?;
        let wants = [
            ("start", Want::Start),
            ("end", Want::End),
            ("size", Want::Size),
            ("count", Want::Count),
            ("present", Want::Present),
            ("fine", Want::Fine),
        ];
        let expr = if let Some((_, want)) = wants.iter().find(|(name, _)| *name == word) {
            self.blank();
            Expr::Field(Box::new(self.field(*want)?))
        } else {
            match word {
                "byte" => Expr::One(One::Byte, Box::new(self.ladder(0)?)),
                "min" => Expr::Two(Two::Min, Box::new((self.ladder(0)?, self.then()?))),
                "max" => Expr::Two(Two::Max, Box::new((self.ladder(0)?, self.then()?))),
                "if" => Expr::If(Box::new((self.ladder(0)?, self.then()?, self.then()?))),
                "bits" => Expr::Bits(Box::new((self.ladder(0)?, self.then()?, self.then()?))),
                _ => {
                    let names = ["byte", "min", "max", "if", "bits"].into_iter();
                    let names: Vec<_> = names.chain(wants.iter().map(|(name, _)| *name)).collect();
                    self.at = start;
                    return Err(self
                        .wrong(&format!("one of {}", names.join(", ")))
                        .suggest(word, names.iter().copied()));
                }
            }
        };
        self.nesting -= 1;
        self.close(')')?;
        Ok(expr)
    }

    /// The next argument of a function.
    fn then(&mut self) -> Result<Expr, Problem> {
        self.close(',')?;
        self.ladder(0)
    }

    /// The name of a field: `count`, `header.count`, `areas[row].length`.
    fn field(&mut self, want: Want) -> Result<FieldUse, Problem> {
        let start = self.at;
        let mut steps = Vec::new();
        loop {
            let name = self.word();
            if name.is_empty() {
                return Err(self.wrong("the name of a field"));
            }
            let name = name.to_string();
            let row = if self.text[self.at..].starts_with('[') {
                self.at += 1;
                self.deeper()?;
                let row = self.ladder(0)?;
                self.nesting -= 1;
                self.close(']')?;
                Some(row)
            } else {
                None
            };
            self.count()?;
            steps.push(Step { name, row });
            if !self.text[self.at..].starts_with('.') {
                break;
            }
            self.at += 1;
        }
        Ok(FieldUse {
            text: self.text[start..self.at].to_string(),
            span: TextSpan::new(self.span.start + start, self.span.start + self.at),
            steps,
            want,
            targets: Vec::new(),
        })
    }

    fn word(&mut self) -> &'t str {
        let text = self.text;
        let start = self.at;
        let rest = &text[start..];
        self.at += rest.find(|c| !is_word(c)).unwrap_or(rest.len());
        &text[start..self.at]
    }

    fn close(&mut self, c: char) -> Result<(), Problem> {
        self.blank();
        if self.text[self.at..].starts_with(c) {
            self.at += 1;
            Ok(())
        } else {
            Err(self.wrong(&format!("'{c}'")))
        }
    }

    fn blank(&mut self) {
        let rest = &self.text[self.at..];
        self.at += rest.len() - rest.trim_start().len();
    }

    fn count(&mut self) -> Result<(), Problem> {
        self.nodes += 1;
        if self.nodes > MAX_NODES {
            return Err(self.wrong(&format!("an expression of at most {MAX_NODES} parts")));
        }
        Ok(())
    }

    fn deeper(&mut self) -> Result<(), Problem> {
        self.nesting += 1;
        if self.nesting > MAX_NESTING {
            return Err(self.wrong(&format!("brackets nested at most {MAX_NESTING} deep")));
        }
        Ok(())
    }

    fn wrong(&self, expected: &str) -> Problem {
        let rest = &self.text[self.at..];
        let found: String = rest.chars().take_while(|c| is_word(*c)).take(24).collect();
        let found = match (found.is_empty(), rest.chars().next()) {
            (true, None) => "the expression ends here".to_string(),
            (true, Some(c)) => format!("'{}' is not fit here", c.escape_debug()),
            (false, _) => format!("'{found}' is not fit here"),
        };
        let at = (self.span.start + self.at).min(self.span.end);
        Problem::new(TextSpan::new(at, self.span.end), found, expected)
    }
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

impl Place {
    /// The words that say something about the place, when no field is called so.
    pub const WORDS: [(&str, Place); 5] = [
        ("here", Place::Here),
        ("next", Place::Next),
        ("row", Place::Row),
        ("image", Place::Image),
        ("left", Place::Left),
    ];
}
