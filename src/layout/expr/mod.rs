//! Small sums over fields: where something lies, how long it is, whether it is there.
//!
//! In a layout they stand in quotes: `at: "8 * header.board"`, `rows: "count + 1"`, `when: "version >= 2"`.
//! An expression works on whole numbers of up to 127 bits and their sign; a comparison gives 1 or 0; text can
//! only be compared. What cannot be worked out (a field that is absent, a division by zero, an overflow) is
//! undefined, and so is everything that hangs on it. There are no loops and no assignments: an expression
//! takes at most [`MAX_NODES`] steps.

mod parse;

pub use parse::parse;

use crate::notation::TextSpan;

/// How many numbers, names and operations one expression may hold.
pub const MAX_NODES: usize = 200;

/// How deeply brackets of an expression may be nested.
pub const MAX_NESTING: usize = 24;

/// An expression.
#[derive(Debug, Clone, PartialEq)]
pub enum Expr {
    /// A number as written.
    Number(i128),
    /// Text in single quotes.
    Text(String),
    /// A field, or something about it.
    Field(Box<FieldUse>),
    /// Something about the place where the expression stands.
    Place(Place),
    /// An operation on one value.
    One(One, Box<Expr>),
    /// An operation on two.
    Two(Two, Box<(Expr, Expr)>),
    /// `if(condition, then, otherwise)`.
    If(Box<(Expr, Expr, Expr)>),
    /// `bits(value, lowest, number)`.
    Bits(Box<(Expr, Expr, Expr)>),
}

/// What an expression can say about the place where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// `here`: the offset in the image at which the enclosing group or row begins.
    Here,
    /// `next`: the first byte behind the field before, counted from `here`.
    Next,
    /// `row`: the number of the enclosing row, counted from 0.
    Row,
    /// `image`: the bytes of the image.
    Image,
    /// `left`: the bytes from `next` to the end of what encloses it.
    Left,
}

/// Operations on one value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum One {
    /// `-a`
    Minus,
    /// `~a`: every bit the other way.
    Invert,
    /// `not a`
    Not,
    /// `byte(a)`: the byte at offset `a`, counted from `here`.
    Byte,
}

/// Operations on two values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Two {
    /// `a + b`
    Add,
    /// `a - b`
    Subtract,
    /// `a * b`
    Times,
    /// `a / b`, cut towards zero.
    Divide,
    /// `a % b`
    Remainder,
    /// `a << b`
    Left,
    /// `a >> b`
    Right,
    /// `a & b`
    BitAnd,
    /// `a | b`
    BitOr,
    /// `a ^ b`
    BitXor,
    /// `a == b`
    Equal,
    /// `a != b`
    Differs,
    /// `a < b`
    Less,
    /// `a <= b`
    AtMost,
    /// `a > b`
    More,
    /// `a >= b`
    AtLeast,
    /// `a and b`
    And,
    /// `a or b`
    Or,
    /// `min(a, b)`
    Min,
    /// `max(a, b)`
    Max,
}

/// What is asked about a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Want {
    /// The number or the text it holds.
    Value,
    /// `start(f)`: its first byte, counted from `here`.
    Start,
    /// `end(f)`: the first byte behind it, counted from `here`.
    End,
    /// `size(f)`: its bytes from first to last.
    Size,
    /// `count(f)`: the rows of a table.
    Count,
    /// `present(f)`: whether it is there.
    Present,
    /// `fine(f)`: whether it is there and its bytes make sense.
    Fine,
}

/// A field named in an expression.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldUse {
    /// The name as written.
    pub text: String,
    /// Where it stands in the layout.
    pub span: TextSpan,
    /// Its steps: `areas[2].length` has two.
    pub steps: Vec<Step>,
    /// What is asked about it.
    pub want: Want,
    /// Which items of the layout it can mean; empty until names are resolved. The first that is there counts.
    pub targets: Vec<Target>,
}

/// One step of a field's name.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The name.
    pub name: String,
    /// The row, for a step into a table.
    pub row: Option<Expr>,
}

/// How a name is followed: some scopes outwards, then through slots inwards.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    /// How many scopes outwards the first step is found.
    pub up: usize,
    /// For each step the slot in its scope and the step of the name whose row counts.
    pub slots: Vec<(usize, usize)>,
}

/// What an expression comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome<'a> {
    /// A number.
    Number(i128),
    /// Text.
    Text(&'a str),
}

impl Outcome<'_> {
    /// The number, or the one that text of digits says.
    ///
    /// # Errors
    /// For other text.
    pub fn number(self) -> Result<i128, Undefined> {
        match self {
            Outcome::Number(number) => Ok(number),
            Outcome::Text(text) if !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit()) => {
                text.parse().map_err(|_| Undefined::Overflow)
            }
            Outcome::Text(_) => Err(Undefined::Mixed),
        }
    }
}

/// Why an expression comes to nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Undefined {
    /// A field is absent from this image.
    Absent(String),
    /// A field holds no number.
    NoNumber(String),
    /// Text stands where a number is needed, or is compared with one.
    Mixed,
    /// The result does not fit into 127 bits.
    Overflow,
    /// Something was divided by zero.
    DividedByZero,
    /// A byte outside the image was asked for.
    Outside,
}

impl std::fmt::Display for Undefined {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Undefined::Absent(name) => write!(f, "{name} is absent"),
            Undefined::NoNumber(name) => write!(f, "{name} holds no number"),
            Undefined::Mixed => write!(f, "text and a number do not go together"),
            Undefined::Overflow => write!(f, "the number grows too large"),
            Undefined::DividedByZero => write!(f, "it divides by zero"),
            Undefined::Outside => write!(f, "it asks for a byte outside the image"),
        }
    }
}

/// What an expression asks of the image around it.
pub trait Surroundings {
    /// What is asked about the field that the first present target of `field` leads to.
    ///
    /// # Errors
    /// When it is absent or holds nothing of the sort.
    fn field<'s>(&'s self, field: &'s FieldUse) -> Result<Outcome<'s>, Undefined>;
    /// A number about the place.
    ///
    /// # Errors
    /// When there is no such number here.
    fn place(&self, place: Place) -> Result<i128, Undefined>;
    /// The byte at an offset counted from `here`.
    ///
    /// # Errors
    /// When there is no such byte.
    fn byte(&self, offset: i128) -> Result<u8, Undefined>;
}

impl Expr {
    /// The number that needs nothing of an image, if it is one.
    #[must_use]
    pub fn constant(&self) -> Option<i128> {
        if let Expr::Number(number) = self { Some(*number) } else { None }
    }

    /// The expressions inside it, rows of fields among them.
    pub fn parts(&self) -> Vec<&Expr> {
        match self {
            Expr::Number(_) | Expr::Text(_) | Expr::Place(_) => Vec::new(),
            Expr::Field(field) => field.steps.iter().filter_map(|s| s.row.as_ref()).collect(),
            Expr::One(_, a) => vec![a],
            Expr::Two(_, ab) => vec![&ab.0, &ab.1],
            Expr::If(abc) | Expr::Bits(abc) => vec![&abc.0, &abc.1, &abc.2],
        }
    }

    /// The same, to be changed.
    pub fn parts_mut(&mut self) -> Vec<&mut Expr> {
        match self {
            Expr::Number(_) | Expr::Text(_) | Expr::Place(_) => Vec::new(),
            Expr::Field(field) => field.steps.iter_mut().filter_map(|s| s.row.as_mut()).collect(),
            Expr::One(_, a) => vec![a],
            Expr::Two(_, ab) => vec![&mut ab.0, &mut ab.1],
            Expr::If(abc) | Expr::Bits(abc) => vec![&mut abc.0, &mut abc.1, &mut abc.2],
        }
    }

    /// Calls `visit` for each field named in the expression.
    pub fn for_each_field(&self, visit: &mut dyn FnMut(&FieldUse)) {
        if let Expr::Field(field) = self {
            visit(field);
        }
        self.parts().into_iter().for_each(|part| part.for_each_field(visit));
    }

    /// True when it asks about `place`.
    #[must_use]
    pub fn asks(&self, place: Place) -> bool {
        *self == Expr::Place(place) || self.parts().into_iter().any(|part| part.asks(place))
    }

    /// Works it out.
    ///
    /// # Errors
    /// Why it comes to nothing.
    pub fn evaluate<'s>(&'s self, around: &'s dyn Surroundings) -> Result<Outcome<'s>, Undefined> {
        Ok(Outcome::Number(match self {
            Expr::Number(number) => *number,
            Expr::Text(text) => return Ok(Outcome::Text(text)),
            Expr::Field(field) => return around.field(field),
            Expr::Place(place) => around.place(*place)?,
            Expr::One(one, a) => match one {
                One::Minus => a.number(around)?.checked_neg().ok_or(Undefined::Overflow)?,
                One::Invert => !a.number(around)?,
                One::Not => i128::from(a.number(around)? == 0),
                One::Byte => i128::from(around.byte(a.number(around)?)?),
            },
            Expr::Two(two, ab) => evaluate_two(*two, &ab.0, &ab.1, around)?,
            Expr::If(abc) => {
                let branch = if abc.0.number(around)? != 0 { &abc.1 } else { &abc.2 };
                return branch.evaluate(around);
            }
            Expr::Bits(abc) => {
                let (value, low, n) = (abc.0.number(around)?, abc.1.number(around)?, abc.2.number(around)?);
                let (low, n) = (shift(low)?, shift(n)?);
                (value >> low) & (1i128 << n).wrapping_sub(1)
            }
        }))
    }

    /// Works it out to a number.
    ///
    /// # Errors
    /// Why it comes to nothing, or that it comes to text.
    pub fn number(&self, around: &dyn Surroundings) -> Result<i128, Undefined> {
        self.evaluate(around)?.number()
    }
}

fn evaluate_two(two: Two, a: &Expr, b: &Expr, around: &dyn Surroundings) -> Result<i128, Undefined> {
    match two {
        // The second side is not asked for when the first decides, so that it may be undefined.
        Two::And => return Ok(i128::from(a.number(around)? != 0 && b.number(around)? != 0)),
        Two::Or => return Ok(i128::from(a.number(around)? != 0 || b.number(around)? != 0)),
        _ => {}
    }
    let (a, b) = match (a.evaluate(around)?, b.evaluate(around)?) {
        (Outcome::Number(a), Outcome::Number(b)) => (a, b),
        (Outcome::Text(a), Outcome::Text(b)) => {
            return match two {
                Two::Equal => Ok(i128::from(a == b)),
                Two::Differs => Ok(i128::from(a != b)),
                _ => Err(Undefined::Mixed),
            };
        }
        // Digits that are stored as text count as the number they say.
        (a, b) => (a.number()?, b.number()?),
    };
    let checked = match two {
        Two::Add => a.checked_add(b),
        Two::Subtract => a.checked_sub(b),
        Two::Times => a.checked_mul(b),
        Two::Divide | Two::Remainder if b == 0 => return Err(Undefined::DividedByZero),
        Two::Divide => a.checked_div(b),
        Two::Remainder => a.checked_rem(b),
        Two::Left => {
            let n = shift(b)?;
            let out = a << n;
            (out >> n == a).then_some(out)
        }
        Two::Right => Some(a >> shift(b)?),
        Two::BitAnd => Some(a & b),
        Two::BitOr => Some(a | b),
        Two::BitXor => Some(a ^ b),
        Two::Equal => Some(i128::from(a == b)),
        Two::Differs => Some(i128::from(a != b)),
        Two::Less => Some(i128::from(a < b)),
        Two::AtMost => Some(i128::from(a <= b)),
        Two::More => Some(i128::from(a > b)),
        Two::AtLeast => Some(i128::from(a >= b)),
        Two::And | Two::Or => None,
        Two::Min => Some(a.min(b)),
        Two::Max => Some(a.max(b)),
    };
    checked.ok_or(Undefined::Overflow)
}

/// A number of places to shift by.
fn shift(n: i128) -> Result<u32, Undefined> {
    u32::try_from(n).ok().filter(|n| *n < 127).ok_or(Undefined::Overflow)
}
