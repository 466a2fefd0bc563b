//! From RON text to the model, with every problem at once.
//!
//! Three passes: the tree of the notation becomes items and scopes (here and in the files beside), names in
//! expressions are resolved and the order of decoding is found ([`super::resolve`]), and what can be known
//! without an image is checked ([`super::lint()`]).

mod checks;
mod compose;
mod fields;
mod fits;

use std::sync::Arc;

pub(super) use fits::fits_alone;

use super::expr::{self, Expr};
use super::model::{Model, Scope, ScopeId};
use super::{Layout, Role};
use crate::notation::{self, Entries, Node, NodeValue, Problem, TextSpan, get};
use crate::span::ByteOrder;

/// The version of the layout language that this program reads.
pub const FORMAT: u32 = 1;

/// How many fields a layout may have as written, rows and shapes counted once.
pub const MAX_ITEMS: usize = 20_000;

/// How deeply groups and tables may be nested.
pub const MAX_GROUPS: usize = 16;

/// The longest text of a layout, in bytes.
pub const MAX_TEXT: usize = 4 << 20;

/// What a field takes over from what encloses it.
#[derive(Debug, Clone, Copy)]
struct Inherited {
    order: ByteOrder,
    role: Role,
    fill: Option<u8>,
    fixed: bool,
    /// Groups and tables around it.
    depth: usize,
}

/// Items and scopes as they are found.
#[derive(Debug, Default)]
struct Reader {
    model: Model,
    problems: Vec<Problem>,
}

/// Reads a layout; with any problem there is no layout.
///
/// # Errors
/// Every problem of the text at once, in the order of their places.
pub fn read(text: &str) -> Result<Layout, Vec<Problem>> {
    if text.len() > MAX_TEXT {
        let span = TextSpan::new(0, 0);
        let what = format!("the layout is {} bytes long", text.len());
        return Err(vec![Problem::new(span, what, format!("at most {MAX_TEXT} bytes"))]);
    }
    let node = notation::parse(text)?;
    let mut reader = Reader::default();
    let layout = reader.layout(&node);
    let Reader { mut model, mut problems } = reader;
    // Names are only looked for in a layout whose items all stand, so that one slip is told once.
    super::resolve::resolve(&mut model, &mut problems);
    super::lint::static_problems(&model, &mut problems);
    if problems.is_empty()
        && let Some(mut layout) = layout
    {
        layout.model = Arc::new(model);
        return Ok(layout);
    }
    problems.sort_by_key(|p| p.span);
    problems.dedup();
    problems.truncate(notation::MAX_PROBLEMS);
    Err(problems)
}

impl Reader {
    fn layout(&mut self, node: &Node) -> Option<Layout> {
        let mut entries = Entries::of(node, "a layout", &mut self.problems)?;
        let problems = &mut self.problems;
        let title = entries
            .required("layout", problems)
            .and_then(|n| get::text(n, "what the layout is called", problems))
            .unwrap_or_default();
        if let Some(format) = entries.required("format", problems) {
            get::int(format, FORMAT..=FORMAT, "the version of the layout language", problems);
        }
        let source = entries
            .required("source", problems)
            .and_then(|n| get::text(n, "where the layout's facts come from", problems))
            .unwrap_or_default();
        let note = entries.optional("note").and_then(|n| get::text(n, "a remark", problems));
        let order =
            entries.optional("order").and_then(|n| get::word(n, &ByteOrder::WORDS, "a byte order", problems));
        let role = entries.optional("role").and_then(|n| get::word(n, &Role::WORDS, "a role", problems));
        let mut cautions = Vec::new();
        if let Some(list) = entries.optional("cautions").and_then(|n| get::list(n, "cautions", problems)) {
            cautions =
                list.iter().filter_map(|n| get::text(n, "a caution", problems)).map(str::to_string).collect();
        }
        let fits = entries.optional("fits");
        let fields = entries.required("fields", problems);
        let checks = entries.optional("checks");
        entries.finish(problems);
        let inherited = Inherited {
            order: order.unwrap_or_default(),
            role: role.unwrap_or(Role::Setting),
            fill: None,
            fixed: false,
            depth: 0,
        };
        let top = self.scope(None);
        if let Some(fields) = fields {
            self.fields(fields, top, inherited);
        }
        if let Some(checks) = checks {
            self.checks(checks, top, inherited);
        }
        if let Some(fits) = fits {
            self.fits(fits);
        }
        Some(Layout {
            title: title.to_string(),
            source: source.to_string(),
            note: note.map(str::to_string),
            cautions,
            model: Arc::default(),
        })
    }

    /// A new scope without fields.
    fn scope(&mut self, owner: Option<usize>) -> ScopeId {
        self.model.scopes.push(Scope { owner, ..Scope::default() });
        self.model.scopes.len() - 1
    }

    /// Whether a list of `count` things is short enough; tells when it is not.
    fn is_short(&mut self, node: &Node, count: usize, most: usize, what: &str) -> bool {
        if count > most {
            let found = format!("{count} {what}");
            self.problems.push(Problem::new(node.span, found, format!("at most {most} in one list")));
        }
        count <= most
    }

    /// The number or expression of the entry `name`, if it is there.
    fn optional_expr(&mut self, entries: &mut Entries<'_>, name: &'static str, what: &str) -> Option<Expr> {
        entries.optional(name).and_then(|node| self.expr(node, what))
    }

    /// The number or expression of the entry `name`; a problem when it is not there.
    fn required_expr(&mut self, entries: &mut Entries<'_>, name: &'static str, what: &str) -> Option<Expr> {
        entries.required(name, &mut self.problems).and_then(|node| self.expr(node, what))
    }

    /// A number, or an expression in quotes.
    fn expr(&mut self, node: &Node, what: &str) -> Option<Expr> {
        match &node.value {
            NodeValue::Number(_) => {
                get::int(node, i64::MIN..=i64::MAX, what, &mut self.problems).map(|n| Expr::Number(n.into()))
            }
            NodeValue::Text(text) => {
                // Inside a plain string the places of the expression's parts are known exactly.
                let plain = node.span.end - node.span.start == text.len() + 2;
                let span =
                    if plain { TextSpan::new(node.span.start + 1, node.span.end - 1) } else { node.span };
                match expr::parse(text, span) {
                    Ok(expr) => Some(expr),
                    Err(problem) => {
                        self.problems.push(problem);
                        None
                    }
                }
            }
            _ => {
                self.problems.push(Problem::unfit(
                    node,
                    format!("{what}: a number, or an expression in quotes such as \"4 * count + 1\""),
                ));
                None
            }
        }
    }
}

/// The name of a field or check: letters, digits and `_`, not beginning with a digit.
fn name<'n>(node: &'n Node, problems: &mut Vec<Problem>) -> Option<&'n str> {
    let name = get::text(node, "a name", problems)?;
    let begins = name.starts_with(|c: char| c.is_alphabetic() || c == '_');
    if begins && name.len() <= 80 && name.chars().all(|c| c.is_alphanumeric() || c == '_') {
        return Some(name);
    }
    let mut problem = Problem::new(
        node.span,
        format!("{} cannot be a name", node.shown()),
        "letters, digits and _, at most 80, not beginning with a digit",
    );
    let fixed: String = name.chars().map(|c| if c.is_alphanumeric() { c } else { '_' }).collect();
    if fixed.starts_with(char::is_alphabetic) && fixed.len() <= 80 {
        problem.fix = Some(format!("write \"{fixed}\""));
    }
    problems.push(problem);
    None
}
