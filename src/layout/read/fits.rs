//! By what a layout is recognised.

use super::super::model::{Alternative, Mark, Sizes};
use super::Reader;
use crate::notation::{Entries, Node, NodeValue, Problem, get};

/// How many alternatives, sizes, marks, or strings of one mark.
const MAX_MARKS: usize = 64;

/// The longest mark, in bytes.
const MAX_MARK: usize = 1024;

/// The alternatives of a layout of which only what stands before its fields is there; `None` when there are none, or
/// they have problems.
pub(in super::super) fn fits_alone(head: &Node) -> Option<Vec<Alternative>> {
    let mut reader = Reader::default();
    let fits = Entries::of(head, "a layout", &mut reader.problems)?.optional("fits")?;
    reader.fits(fits);
    reader.problems.is_empty().then_some(reader.model.fits)
}

impl Reader {
    /// `fits: (bytes: […], marks: […])`, or a list of such alternatives.
    pub(super) fn fits(&mut self, node: &Node) {
        let nodes = get::one_or_more(node);
        if !self.is_short(node, nodes.len(), MAX_MARKS, "alternatives") {
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
        let mut alternative = Alternative { span: node.span, ..Alternative::default() };
        let sizes = bytes.map(get::one_or_more).unwrap_or_default();
        if !self.is_short(node, sizes.len(), MAX_MARKS, "sizes") {
            return None;
        }
        for node in sizes {
            alternative.sizes.extend(self.sizes(node));
        }
        let list = marks.and_then(|n| get::list(n, "marks", &mut self.problems))?;
        if !self.is_short(node, list.len(), MAX_MARKS, "marks") {
            return None;
        }
        for node in list {
            alternative.marks.extend(self.mark(node));
        }
        Some(alternative)
    }

    /// `8192`, `"256..4096"` (both ends included), or `(from: 128, to: 32768, step: 128)`.
    fn sizes(&mut self, node: &Node) -> Option<Sizes> {
        if let NodeValue::Number(_) = node.value {
            let size = get::size(node, "the bytes of an image", &mut self.problems)?;
            return Some(Sizes { least: size, most: size, step: 1 });
        }
        if let NodeValue::Text(text) = &node.value {
            let size = |n: i128| usize::try_from(n).ok();
            let ends = get::ends(text, "..").and_then(|(least, most)| Some((size(least)?, size(most)?)));
            if let Some((least, most)) = ends {
                return Some(Sizes { least, most, step: 1 });
            }
        }
        if !matches!(node.value, NodeValue::Struct(None, _)) {
            self.problems.push(Problem::new(
                node.span,
                format!("{} is no size", node.shown()),
                "a number of bytes, a range with both ends included (\"256..4096\"), or (from: 128, to: 32768, step: 128)",
            ));
            return None;
        }
        let mut entries = Entries::of(node, "a range of sizes", &mut self.problems)?;
        let problems = &mut self.problems;
        let least = entries.required("from", problems).and_then(|n| get::size(n, "the least size", problems));
        let most = entries.optional("to").and_then(|n| get::size(n, "the greatest size", problems));
        let step = entries.or("step", 1, |n| get::size(n, "a step of sizes", problems));
        entries.finish(problems);
        let sizes = Sizes { least: least?, most: most.unwrap_or(usize::MAX), step: step?.max(1) };
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
        let any = entries.optional("any");
        let text = entries.optional("text");
        let mask = entries.optional("mask");
        let sealed = entries.optional("sealed");
        let holds = entries.optional("holds");
        let bits = entries.optional("bits");
        entries.finish(&mut self.problems);
        let problems = &mut self.problems;
        let bits = bits.and_then(|n| get::int(n, 1u32..=64, "the bits of evidence it counts for", problems));
        let strings = [hex.is_some(), any.is_some(), text.is_some()].iter().filter(|there| **there).count();
        match (at, strings, sealed, holds) {
            (Some(at), 1, None, None) if bits.is_none() => {
                let at = get::size(at, "the offset of the mark", problems)?;
                let any = self.strings(hex, any, text)?;
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
            (None, 0, Some(check), None) if mask.is_none() => {
                let name = get::text(check, "the name of a check", problems)?;
                Some(Mark::Sealed { check: name.into(), bits: bits.unwrap_or(0), span: check.span })
            }
            (None, 0, None, Some(holds)) if mask.is_none() => {
                let that = self.expr(holds, "a condition")?;
                Some(Mark::Holds { that, bits: bits.unwrap_or(1) })
            }
            _ => {
                problems.push(Problem::new(
                    node.span,
                    "this is no mark",
                    "(at: …, hex: \"…\"), (at: …, any: [\"…\", \"…\"]) or (at: …, text: \"…\"), each perhaps with a mask; (sealed: \"check\") or (holds: \"condition\"), each perhaps with bits",
                ));
                None
            }
        }
    }

    /// The byte strings of a mark: one in hexadecimal, several of which any will do, or one as text.
    fn strings(
        &mut self,
        hex: Option<&Node>,
        any: Option<&Node>,
        text: Option<&Node>,
    ) -> Option<Vec<Vec<u8>>> {
        let problems = &mut self.problems;
        if let Some(text) = text {
            return Some(vec![get::text(text, "a mark", problems)?.as_bytes().to_vec()]);
        }
        let nodes = match any {
            Some(any) => get::list(any, "byte strings of which any will do", problems)?,
            None => std::slice::from_ref(hex?),
        };
        if let Some(any) = any
            && !self.is_short(any, nodes.len(), MAX_MARKS, "byte strings")
        {
            return None;
        }
        nodes.iter().map(|node| get::hex(node, "a mark", &mut self.problems)).collect()
    }
}
