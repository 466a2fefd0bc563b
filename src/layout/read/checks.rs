//! Checks as they are written.

use super::super::expr::Expr;
use super::super::model::{CheckSpec, ScopeId, Stretch};
use super::{Inherited, Reader, name};
use crate::check::{self, Algorithm, StoredBytes};
use crate::notation::{Entries, Node, NodeValue, Problem, get};
use crate::span::ByteOrder;

/// How many checks one list may have, and how many ranges one check.
const MAX_CHECKS: usize = 256;

impl Reader {
    /// A list of checks.
    pub(super) fn checks(&mut self, node: &Node, scope: ScopeId, inherited: Inherited) {
        let Some(list) = get::list(node, "checks", &mut self.problems) else { return };
        if !self.is_short(node, list.len(), MAX_CHECKS, "checks") {
            return;
        }
        for node in list {
            if let Some(check) = self.check(node, inherited) {
                self.model.scopes[scope].checks.push(check);
            }
        }
    }

    fn check(&mut self, node: &Node, inherited: Inherited) -> Option<CheckSpec> {
        let mut entries = Entries::of(node, "a check", &mut self.problems)?;
        let name_node = entries.required("name", &mut self.problems);
        let check_name = name_node.and_then(|n| name(n, &mut self.problems));
        let over = entries.required("over", &mut self.problems);
        let stored = entries.required("stored", &mut self.problems);
        let by = entries.required("by", &mut self.problems);
        let order = entries.optional("order");
        let stored_bytes = entries.optional("stored_bytes");
        let when = self.optional_expr(&mut entries, "when", "a condition");
        entries.finish(&mut self.problems);
        let over = over.map(|n| self.stretches(n));
        let stored = stored.and_then(|n| self.stretch(n));
        let algorithm = by.and_then(|n| self.algorithm(n));
        let order = order.and_then(|n| get::word(n, &ByteOrder::WORDS, "a byte order", &mut self.problems));
        let stored_bytes = stored_bytes.and_then(|n| {
            get::word(n, &StoredBytes::WORDS, "what happens to the stored bytes", &mut self.problems)
        });
        Some(CheckSpec {
            name: check_name?.into(),
            span: name_node?.span,
            algorithm: algorithm?,
            over: over?,
            stored: stored?,
            stored_bytes: stored_bytes.unwrap_or_default(),
            order: order.unwrap_or(inherited.order),
            when,
        })
    }

    /// `"CRC-16/XMODEM"`, or parameters: `CRC(width: 16, poly: 0x1021, …)`, in quotes or without.
    fn algorithm(&mut self, node: &Node) -> Option<Algorithm> {
        let text = match &node.value {
            NodeValue::Struct(Some(name), entries) => {
                let parts: Vec<_> =
                    entries.iter().map(|(name, node)| format!("{}: {}", name.text, node.shown())).collect();
                format!("{}({})", name.text, parts.join(", "))
            }
            NodeValue::Text(text) => text.clone(),
            _ => node.shown(),
        };
        match check::by_name(&text) {
            Ok(algorithm) => Some(algorithm),
            Err(error) => {
                self.problems
                    .push(Problem::new(node.span, error.what, "the name of a check").fix(error.advice));
                None
            }
        }
    }

    /// `[(0x40, 0x1FE), "header", (at: 0, bytes: 8)]`, or one of them alone.
    fn stretches(&mut self, node: &Node) -> Vec<Stretch> {
        let nodes = get::one_or_more(node);
        if nodes.is_empty() || nodes.len() > MAX_CHECKS {
            self.problems.push(Problem::new(
                node.span,
                format!("{} ranges", nodes.len()),
                format!("1 to {MAX_CHECKS} ranges: [(start, end), …]"),
            ));
            return Vec::new();
        }
        nodes.iter().filter_map(|n| self.stretch(n)).collect()
    }

    fn stretch(&mut self, node: &Node) -> Option<Stretch> {
        match &node.value {
            NodeValue::Tuple(None, values) if values.len() == 2 => {
                let start = self.expr(&values[0], "the first offset");
                let end = self.expr(&values[1], "the offset behind the last byte");
                let (start, end) = (start?, end?);
                if let (Some(a), Some(b)) = (start.constant(), end.constant())
                    && a >= b
                {
                    self.problems.push(Problem::new(
                        node.span,
                        format!("the range from {a:#x} to {b:#x} holds no byte"),
                        "an end behind the start; the end itself does not belong to the range",
                    ));
                }
                Some(Stretch::Between(start, end))
            }
            NodeValue::Struct(None, _) => {
                let mut entries = Entries::of(node, "a range", &mut self.problems)?;
                let anchor = self.anchor(&mut entries);
                let bytes = self.required_expr(&mut entries, "bytes", "a number of bytes");
                entries.finish(&mut self.problems);
                let (origin, at) = anchor?;
                Some(Stretch::Bytes(origin, at, bytes?))
            }
            NodeValue::Text(_) => {
                let field = self.expr(node, "the name of a field")?;
                if !matches!(field, Expr::Field(_)) {
                    self.problems.push(Problem::new(
                        node.span,
                        format!("{} is no field", node.shown()),
                        "the name of a field, (start, end), or (at: …, bytes: …)",
                    ));
                }
                Some(Stretch::Field(field))
            }
            _ => {
                self.problems.push(Problem::new(
                    node.span,
                    format!("{} is no range", node.shown()),
                    "(start, end), (at: …, bytes: …), or the name of a field in quotes",
                ));
                None
            }
        }
    }
}
