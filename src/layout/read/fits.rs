//! By what a layout is recognised.

use super::super::model::{Alternative, Mark, Sizes};
use super::Reader;
use crate::notation::{Entries, Node, NodeValue, Problem, get};

/// How many alternatives, sizes, marks, or strings of one mark.
const MAX_MARKS: usize = 64;

/// The longest mark, in bytes.
const MAX_MARK: usize = 1024;

impl Reader {
    /// `fits: (bytes: […], marks: […])`, or a list of such alternatives.
    pub(super) fn fits(&mut self, node: &Node) {
        let nodes = get::one_or_more(node);
        if nodes.len() > MAX_MARKS {
            self.problems.push(Problem::new(
                node.span,
                format!("{} alternatives", nodes.len()),
                format!("at most {MAX_MARKS}"),
            ));
            return;
        }
        for node in nodes {
            if let Some(alternative) = self.alternative(node) {
                self.model.fits.push(alternative);
            }
        }
    }

    fn alternative(&mut self, node: &Node) -> Option<Alternative> {
        let mut entries = Entries::of(node, "fits", &mut self.problems)?;
        let bytes = entries.optional("bytes");
        let marks = entries.required("marks", &mut self.problems);
        entries.finish(&mut self.problems);
        let mut alternative = Alternative::default();
        for node in bytes.map(get::one_or_more).unwrap_or_default() {
            alternative.sizes.extend(self.sizes(node));
        }
        let list = marks.and_then(|n| get::list(n, "marks", &mut self.problems))?;
        if list.len() > MAX_MARKS {
            self.problems.push(Problem::new(
                node.span,
                format!("{} marks", list.len()),
                format!("at most {MAX_MARKS}"),
            ));
            return None;
        }
        for node in list {
            alternative.marks.extend(self.mark(node));
        }
        Some(alternative)
    }

    /// `8192`, or `(from: 128, to: 32768, step: 128)`.
    fn sizes(&mut self, node: &Node) -> Option<Sizes> {
        if let NodeValue::Number(_) = node.value {
            let size = get::size(node, "the bytes of an image", &mut self.problems)?;
            return Some(Sizes { least: size, most: size, step: 1 });
        }
        let mut entries = Entries::of(node, "a range of sizes", &mut self.problems)?;
        let problems = &mut self.problems;
        let least = entries.required("from", problems).and_then(|n| get::size(n, "the least size", problems));
        let most = entries.optional("to").and_then(|n| get::size(n, "the greatest size", problems));
        let step = entries.optional("step").and_then(|n| get::size(n, "a step of sizes", problems));
        entries.finish(problems);
        let sizes = Sizes { least: least?, most: most.unwrap_or(usize::MAX), step: step.unwrap_or(1).max(1) };
        if sizes.most < sizes.least {
            problems.push(Problem::new(
                node.span,
                "no size lies in this range",
                "a `to` that is at least `from`",
            ));
        }
        Some(sizes)
    }

    fn mark(&mut self, node: &Node) -> Option<Mark> {
        let mut entries = Entries::of(node, "a mark", &mut self.problems)?;
        let at = entries.optional("at");
        let hex = entries.optional("hex");
        let text = entries.optional("text");
        let mask = entries.optional("mask");
        let sealed = entries.optional("sealed");
        let holds = entries.optional("holds");
        let bits = entries.optional("bits");
        entries.finish(&mut self.problems);
        let problems = &mut self.problems;
        let bits = bits.and_then(|n| get::int(n, 1u32..=64, "the bits of evidence it counts for", problems));
        match (at, hex, text, sealed, holds) {
            (Some(at), Some(_), None, None, None) | (Some(at), None, Some(_), None, None) => {
                let at = get::size(at, "the offset of the mark", problems)?;
                let any = self.strings(hex, text)?;
                let len = any.first().map_or(0, Vec::len);
                let mask = mask.and_then(|n| get::hex(n, "a mask", &mut self.problems));
                let uneven =
                    any.iter().any(|s| s.len() != len) || mask.as_ref().is_some_and(|m| m.len() != len);
                if len == 0 || len > MAX_MARK || uneven {
                    self.problems.push(Problem::new(
                        node.span,
                        "the strings of this mark and its mask are not equally long",
                        format!("1 to {MAX_MARK} bytes each, equally many"),
                    ));
                    return None;
                }
                Some(Mark::Bytes { at, any, mask })
            }
            (None, None, None, Some(check), None) => {
                let check = get::text(check, "the name of a check", problems)?;
                Some(Mark::Sealed { check: check.into(), bits: bits.unwrap_or(0) })
            }
            (None, None, None, None, Some(holds)) => {
                let text = get::text(holds, "a condition", problems)?.into();
                let that = self.expr(holds, "a condition")?;
                Some(Mark::Holds { that, text, bits: bits.unwrap_or(1) })
            }
            _ => {
                problems.push(Problem::new(
                    node.span,
                    "this is no mark",
                    "(at: …, hex: \"…\"), (at: …, text: \"…\"), (sealed: \"check\") or (holds: \"condition\")",
                ));
                None
            }
        }
    }

    /// The byte strings of a mark: one, or a list of which any will do.
    fn strings(&mut self, hex: Option<&Node>, text: Option<&Node>) -> Option<Vec<Vec<u8>>> {
        let problems = &mut self.problems;
        let mut strings = Vec::new();
        for node in hex.map(get::one_or_more).unwrap_or_default() {
            strings.push(get::hex(node, "a mark", problems)?);
        }
        for node in text.map(get::one_or_more).unwrap_or_default() {
            strings.push(get::text(node, "a mark", problems)?.as_bytes().to_vec());
        }
        strings.truncate(MAX_MARKS);
        Some(strings)
    }
}
