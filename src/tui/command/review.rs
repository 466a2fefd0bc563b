//! What would be written: the changed image held against the one that was opened.

use super::{Command, USUAL};
use crate::check::Seal;
use crate::compare::audit::{Allowed, Audit, Ruling, audit_at};
use crate::layout;
use crate::report::{sides, text};
use crate::tui::app::App;
use crate::tui::dialog::{Page, Paragraph, Remark};
use crate::tui::effect::Effect;
use crate::tui::sheet::Sheet;
use crate::tui::theme::Tone;
use crate::tui::way;

/// The row of the table.
pub(super) const REVIEW: Command = Command {
    name: "review",
    keys: &["Ctrl-W"],
    hint: "review",
    doc: "What would be written, and whether it is safe: this image against the one that was opened",
    act: |app, _| {
        app.dialog = Some(Page::open(app, "What would be written", page(app)));
        Effect::None
    },
    ..USUAL
};

fn judge(it: &Sheet) -> Audit {
    let layout = it.layout().map(|l| &*l.layout);
    let mut audit =
        audit_at(layout, it.contents.before(), it.image(), &Allowed::nothing(), it.contents.differences());
    it.names().fill(&mut audit.findings);
    audit
}

const fn tone(ruling: Ruling) -> Tone {
    match ruling {
        Ruling::Safe => Tone::Good,
        Ruling::CannotTell => Tone::Doubt,
        Ruling::NotSafe => Tone::Bad,
    }
}

/// What the user should know before this image is written: broken checks, and what the audit says.
pub(super) fn warnings(app: &App) -> Vec<Remark> {
    let it = app.it();
    let broken: Vec<&str> =
        it.decoded().checks.iter().filter(|c| c.seal == Seal::Broken).map(|c| c.name.as_str()).collect();
    let mut remarks = Vec::new();
    if it.is_stale() && it.layout().is_some() {
        remarks.push((Tone::Doubt, "The checks are still being computed.".into()));
    } else if !broken.is_empty() {
        remarks.push((
            Tone::Bad,
            format!("Broken: {}. Esc, then {} reseals", text::list(&broken), app.keys.fill("{reseal-all}")),
        ));
    }
    if it.contents.differences().is_empty() {
        remarks.push((Tone::Plain, "Nothing was changed since it was opened.".into()));
        return remarks;
    }
    let audit = judge(it);
    remarks.push((tone(audit.ruling), sentence(&audit)));
    let refused: Vec<String> =
        audit.refused().flat_map(|r| r.changed.paths().map(str::to_owned).collect::<Vec<_>>()).collect();
    if !refused.is_empty() {
        let list = text::cut(&text::list(&refused), 160).into_owned();
        remarks.push((Tone::Doubt, format!("Changed and not allowed to be: {list}")));
    }
    remarks.extend(audit.cautions.iter().map(|c| (Tone::Doubt, format!("Caution: {c}"))));
    remarks
}

fn sentence(audit: &Audit) -> String {
    text::sentence(&format!("{}: {}", audit.ruling.word(), audit.why))
}

/// The audit as a page.
fn page(app: &App) -> Vec<Paragraph> {
    let it = app.it();
    if it.contents.differences().is_empty() {
        return vec![Paragraph::new(Tone::Good, "Nothing was changed since it was opened.")];
    }
    let audit = judge(it);
    let mut page = Vec::new();
    let mut tell =
        |tone: Tone, indent: usize, told: &str| page.push(Paragraph::led(tone, " ".repeat(indent), told));
    tell(tone(audit.ruling), 0, &sentence(&audit));
    for finding in &audit.findings {
        tell(Tone::Plain, 0, "");
        tell(
            finding.weight.into(),
            0,
            &format!("{}: {}", finding.weight.word(), text::sentence(&finding.seen)),
        );
        tell(Tone::Quiet, 2, &text::sentence(&finding.means));
        let way = way::on_page(finding.code);
        // A command on the changed image needs its file, which is not there yet.
        if way.is_none() || !finding.advice.contains(" AFTER ") {
            tell(Tone::Plain, 2, &text::sentence(&finding.advice));
        }
        if let Some(way) = way {
            tell(Tone::Plain, 2, &text::sentence(&format!("here, {}", app.keys.fill(&way))));
        }
    }
    if !audit.comparison.fields.is_empty() {
        tell(Tone::Plain, 0, "");
        tell(Tone::Accent, 0, "Fields");
    }
    let mut changes = audit.comparison.fields.as_slice();
    while let Some((change, behind)) = changes.split_first() {
        let together = sides::rested_together(changes);
        if together > sides::MOST_RESTED {
            let role = change.role().map_or("", crate::layout::Role::word);
            let (top, fields) = (layout::top(&change.path), text::count(together, "field"));
            tell(Tone::Plain, 0, &format!("{top} ({fields}, {role}): recorded → at rest"));
            changes = changes.get(together..).unwrap_or_default();
            continue;
        }
        changes = behind;
        let value =
            |field: &Option<crate::layout::Field>| field.as_ref().map_or("absent".into(), |f| f.shown());
        let role = change.role().map_or("", crate::layout::Role::word);
        let told = format!("{} ({role}): {} → {}", change.path, value(&change.before), value(&change.after));
        tell(Tone::Plain, 0, &told);
    }
    tell(Tone::Plain, 0, "");
    tell(Tone::Accent, 0, "Bytes");
    for judged in &audit.changes {
        let span = judged.changed.span;
        let hex = |image: &crate::image::Image| {
            span.intersection(crate::span::Span::new(0, image.len()))
                .and_then(|s| s.of_bytes(image.bytes()))
                .map_or("none".into(), |b| text::hex_short(b, 8))
        };
        let place = text::place(span, it.image().base());
        let (word, tone) = if judged.allowed { ("allowed", Tone::Plain) } else { ("NOT ALLOWED", Tone::Bad) };
        tell(
            tone,
            0,
            &format!("{place}: {} → {}  {word}: {}", hex(it.contents.before()), hex(it.image()), judged.why),
        );
    }
    if !audit.cautions.is_empty() {
        tell(Tone::Plain, 0, "");
        tell(Tone::Accent, 0, "Cautions");
        audit.cautions.iter().for_each(|caution| tell(Tone::Doubt, 0, caution));
    }
    page
}
