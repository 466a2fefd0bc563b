//! Promises of comparing and amending.

use proptest::prelude::*;

use super::amend::{Instruction, Selection, amend, named};
use super::audit::{Allowed, Ruling, audit};
use super::cases::{layout, resealed, unit, with};
use super::*;
use crate::edit;
use crate::image::Image;
use crate::layout::Role;
use crate::span::Span;

fn compared(before: &Image, after: &Image) -> Comparison {
    let (was, is) = decode_both(&layout(), before, after);
    compare(before, after, Some((&was, &is)))
}

/// `span: path,path` of each change.
fn changes(comparison: &Comparison) -> Vec<String> {
    let line = |c: &Changed| format!("{}: {}", c.span, c.paths().collect::<Vec<_>>().join(","));
    comparison.changes.iter().map(line).collect()
}

#[test]
fn a_run_of_changed_bytes_is_cut_where_other_fields_begin() {
    let before = unit(7);
    let after = with(&before, 0x40, &[0x00, 0x29, 0x03, 0x00]);
    assert_eq!(
        changes(&compared(&before, &after)),
        ["0x0041..0x0042: setpoint", "0x0042..0x0043: fan", "0x0043..0x0044: "]
    );
}

#[test]
fn changed_fields_are_told_as_values_and_counted_by_role() {
    let before = unit(7);
    let after = resealed(with(&with(&before, 0x41, &[0x29]), 0x50, &[0xFF; 8]));
    let comparison = compared(&before, &after);
    let told: Vec<String> = comparison
        .fields
        .iter()
        .map(|f| format!("{} {} {}", f.path, f.before.as_ref().unwrap().text, f.after.as_ref().unwrap().text))
        .collect();
    assert_eq!(told, ["setpoint 4.0 4.1", "lockouts[0].cause 1 255", "lockouts[0].hours 11211 4294967295"]);
    assert!(comparison.fields[1].came_to_rest());
    let totals: Vec<_> = comparison.totals.iter().map(|t| (t.role, t.fields, t.bytes)).collect();
    // Bytes 0x51 to 0x53 of the row held FF before, as they do now.
    assert_eq!(totals, [(Some(Role::Setting), 1, 1), (Some(Role::Record), 2, 5), (Some(Role::Check), 0, 2)]);
    let pair = comparison.checks.iter().find(|c| c.name == "settings").unwrap();
    assert_ne!(pair.before.as_ref().unwrap().stored, pair.after.as_ref().unwrap().stored);
}

#[test]
fn bytes_between_the_fields_of_a_record_row_belong_to_the_record_and_others_to_nobody() {
    let before = unit(7);
    let comparison = compared(&before, &with(&with(&before, 0x51, &[0x00]), 0xE0, &[0x00]));
    assert_eq!(changes(&comparison), ["0x0051..0x0052: lockouts[0]", "0x00E0..0x00E1: "]);
    assert_eq!(comparison.changes[0].guarded_role(), Some(Role::Record));
    assert!(!comparison.changes[0].is_undescribed() && comparison.changes[1].is_undescribed());
}

#[test]
fn images_that_begin_at_other_addresses_are_compared_by_address() {
    let whole = Image::raw((0..64).collect());
    let part = Image::with_gaps(0x10, (0x10..0x20).collect(), Vec::new());
    let (a, b) = common_base(&whole, &part).unwrap();
    let differences = Differences::between(&a, &b);
    assert_eq!(differences.changed, []);
    assert_eq!(differences.only_before, [Span::new(0, 0x10), Span::new(0x20, 64)]);
    assert_eq!(differences.common_bytes, 0x10);
    assert!(common_base(&whole, &Image::with_gaps(0x1000, vec![0; 4], Vec::new())).is_none());
}

proptest! {
    #[test]
    fn the_change_list_from_a_to_b_makes_b_of_a_and_back(
        a in proptest::collection::vec(any::<u8>(), 256),
        writes in proptest::collection::vec((0usize..256, any::<u8>()), 0..40),
    ) {
        let before = Image::raw(a);
        let mut after = before.clone();
        for (at, byte) in writes {
            after.bytes_mut()[at] = byte;
        }
        let change = Differences::between(&before, &after).change(&before, &after, "test");
        let mut made = before.clone();
        edit::apply(&mut made, &change).unwrap();
        prop_assert_eq!(made.bytes(), after.bytes());
        edit::apply(&mut made, &change.inverse()).unwrap();
        prop_assert_eq!(made.bytes(), before.bytes());
    }

    #[test]
    fn comparing_is_symmetric(
        writes in proptest::collection::vec((0usize..256, any::<u8>()), 0..30),
        length in 200usize..257,
    ) {
        let before = unit(7);
        let mut bytes = before.bytes().to_vec();
        for (at, byte) in writes {
            bytes[at] = byte;
        }
        bytes.truncate(length);
        let after = Image::raw(bytes);
        let (there, back) = (compared(&before, &after), compared(&after, &before));
        prop_assert_eq!(&there.changes, &back.changes);
        prop_assert_eq!(&there.differences.only_before, &back.differences.only_after);
        let told = |c: &Comparison, swap: bool| {
            let mut told: Vec<String> = c
                .fields
                .iter()
                .map(|f| {
                    let (a, b) = if swap { (&f.after, &f.before) } else { (&f.before, &f.after) };
                    format!("{} {:?} {:?}", f.path, a.as_ref().map(|f| &f.text), b.as_ref().map(|f| &f.text))
                })
                .collect();
            told.sort();
            told
        };
        prop_assert_eq!(told(&there, false), told(&back, true));
    }

    #[test]
    fn every_changed_byte_is_in_exactly_one_change(
        writes in proptest::collection::vec((0usize..256, any::<u8>()), 0..60),
    ) {
        let before = unit(7);
        let mut after = before.clone();
        for (at, byte) in writes {
            after.bytes_mut()[at] = byte;
        }
        let comparison = compared(&before, &after);
        let mut covered: Vec<usize> = comparison.changes.iter().flat_map(|c| c.span.range()).collect();
        let differing: Vec<usize> = (0..256).filter(|&at| before.bytes()[at] != after.bytes()[at]).collect();
        covered.sort_unstable();
        prop_assert_eq!(covered, differing);
        let total: usize = comparison.totals.iter().map(|t| t.bytes).sum();
        prop_assert_eq!(total, comparison.differences.changed_bytes());
    }

    /// What amend makes of allowed instructions, audit lets pass.
    #[test]
    fn amend_and_audit_agree(
        setpoint in proptest::option::of(0u32..1000),
        fan in proptest::option::of(any::<u8>()),
        serial in proptest::option::of(0u32..100_000_000),
        rest in any::<bool>(),
        reseal in any::<bool>(),
    ) {
        let (layout, before) = (layout(), unit(7));
        let mut instructions = Vec::new();
        if rest {
            instructions.push(Instruction::Rest(Selection::Path("lockouts".into())));
        }
        let sets = [
            setpoint.map(|v| ("setpoint", format!("{}.{}", v / 10, v % 10))),
            fan.map(|v| ("fan", v.to_string())),
            serial.map(|v| ("serial", format!("{v:08}"))),
        ];
        instructions.extend(sets.into_iter().flatten().map(|(p, v)| Instruction::Set(p.into(), v)));
        if reseal {
            instructions.push(Instruction::Reseal(Vec::new()));
        }
        let amended = amend(Some(&layout), &before, &instructions).unwrap();
        let decoded = crate::layout::decode(&layout, &before);
        let allowed = named(&instructions, Some(&decoded), Allowed::nothing()).unwrap();
        let audited = audit(Some(&layout), &before, &amended.image, &allowed);
        let covered = |from: usize, to: usize| before.bytes()[from..to] != amended.image.bytes()[from..to];
        let stale = !reseal && (covered(0x10, 0x3C) || covered(0x40, 0x4E));
        let wanted = if stale { Ruling::NotSafe } else { Ruling::Safe };
        prop_assert_eq!(audited.ruling, wanted, "{:?}", audited.findings);
        // Whoever audits later does not know what was named.
        let later = audit(Some(&layout), &before, &amended.image, &Allowed::nothing());
        let named_identity = covered(0x20, 0x24);
        prop_assert_eq!(later.ruling == Ruling::Safe, !stale && !named_identity);
    }
}

#[test]
fn fields_are_copied_by_value_and_their_checks_are_left_to_reseal() {
    let (layout, mine, other) = (layout(), unit(7), resealed(with(&unit(9), 0x40, &[0x01, 0x00, 0x05])));
    let copy = [
        Instruction::Copy(Selection::All(Role::Setting), &other),
        Instruction::Reseal(vec!["settings".into()]),
    ];
    let amended = amend(Some(&layout), &mine, &copy).unwrap();
    assert_eq!(amended.image.bytes()[0x40..0x43], [0x01, 0x00, 0x05]);
    assert_eq!(amended.image.bytes()[0x10..0x40], mine.bytes()[0x10..0x40]);
    assert_eq!(audit(Some(&layout), &mine, &amended.image, &Allowed::nothing()).ruling, Ruling::Safe);
    assert_eq!(amended.steps, ["copy every Setting", "reseal settings"]);
}

#[test]
fn records_without_a_rest_value_are_left_and_told() {
    let (layout, before) = (layout(), unit(7));
    let amended = amend(Some(&layout), &before, &[Instruction::Rest(Selection::All(Role::Record))]).unwrap();
    assert_eq!(amended.image.bytes()[0x50..0x70], [0xFF; 32]);
    assert_eq!(amended.image.bytes()[0x78..0x7C], before.bytes()[0x78..0x7C]);
    assert_eq!(amended.left[0].0, "hours");
}

#[test]
fn instructions_that_cannot_be_carried_out_say_which_and_do_nothing() {
    let (layout, before) = (layout(), unit(7));
    let refusal = |instruction| amend(Some(&layout), &before, &[instruction]).unwrap_err();
    assert!(refusal(Instruction::Set("serail".into(), "1".into())).advice.contains("serial"));
    assert!(refusal(Instruction::Bytes(255, vec![0, 0])).what.contains("0x00FF"));
    assert!(refusal(Instruction::Copy(Selection::Path("gian".into()), &before)).advice.contains("gain"));
    let without = amend(None, &before, &[Instruction::Reseal(Vec::new())]).unwrap_err();
    assert!(without.what.contains("no layout"), "{without:?}");
}

#[test]
fn a_kept_change_list_is_made_on_a_sister_unit_with_its_own_check() {
    let (layout, mine, sister) = (layout(), unit(7), resealed(with(&unit(9), 0x42, &[0x07])));
    let instructions = [Instruction::Set("setpoint".into(), "4.5".into()), Instruction::Reseal(Vec::new())];
    let amended = amend(Some(&layout), &mine, &instructions).unwrap();
    let list = ChangeList::of(&mine, &amended.image, Some(&layout), &compared(&mine, &amended.image));
    assert_eq!(list.changes.len(), 2);
    assert_eq!(list.changes[1].check.as_deref(), Some("settings"));
    let applied = amend(Some(&layout), &sister, &[Instruction::Apply(&list)]).unwrap();
    assert_eq!(applied.image.bytes()[0x40..0x43], [0x00, 0x2D, 0x07]);
    assert_eq!(audit(Some(&layout), &sister, &applied.image, &Allowed::nothing()).ruling, Ruling::Safe);
    let twice = amend(Some(&layout), &applied.image, &[Instruction::Apply(&list)]).unwrap_err();
    assert_eq!(twice.advice, "these changes are in the image already");
}

#[test]
fn a_kept_change_list_is_refused_where_the_bytes_under_it_are_not_the_expected_ones() {
    let (layout, mine) = (layout(), unit(7));
    let after = resealed(with(&mine, 0x41, &[0x2D]));
    let list = ChangeList::of(&mine, &after, Some(&layout), &compared(&mine, &after));
    let other = resealed(with(&unit(9), 0x41, &[0x30]));
    let refusal = list.change(&other, Some(&layout)).unwrap_err();
    assert_eq!(refusal.what, "0x0041 holds 30, and 28 was expected there");
    let stale = with(&unit(9), 0x42, &[0x30]);
    assert!(list.change(&stale, Some(&layout)).unwrap_err().what.contains("settings is not sealed"));
    let short = Image::raw(mine.bytes()[..128].to_vec());
    assert!(list.change(&short, Some(&layout)).unwrap_err().what.contains("256 bytes"));
}

#[test]
fn instructions_that_undo_each_other_are_refused() {
    let set = |value: &str| Instruction::Set("setpoint".into(), value.into());
    let refused = |instructions: &[Instruction<'_>]| {
        amend(Some(&layout()), &unit(7), instructions).map(|a| a.steps).unwrap_err().what
    };
    let undone = "setpoint was set to 3.0, and another instruction makes something else of it";
    assert_eq!(refused(&[set("3.0"), set("4.0")]), undone);
    assert_eq!(refused(&[set("3.0"), Instruction::Bytes(0x41, vec![0])]), undone);
    let sealed = [Instruction::Bytes(0x4E, vec![0, 0]), Instruction::Reseal(Vec::new())];
    assert!(refused(&sealed).starts_with("write 00 00 at 0x004E, and another instruction"));
    let agreed = [set("4.0"), set("4"), Instruction::Bytes(0x41, vec![40]), Instruction::Reseal(Vec::new())];
    assert!(amend(Some(&layout()), &unit(7), &agreed).is_ok());
}

#[test]
fn what_is_copied_from_an_image_that_is_not_good_is_refused_or_doubted() {
    let settings = || Selection::All(Role::Setting);
    let copied = |from: &Image, what| amend(Some(&layout()), &unit(7), &[Instruction::Copy(what, from)]);
    let foreign = copied(&Image::raw(vec![0xFF; 256]), settings()).unwrap_err();
    assert!(foreign.what.ends_with("are not in the image to copy from"), "{foreign:?}");
    let poor = with(&unit(9), 0x42, &[9]);
    let codes = |a: amend::Amended| a.findings.iter().map(|f| f.code.word()).collect::<Vec<_>>();
    assert_eq!(codes(copied(&poor, settings()).unwrap()), ["check-broken"]);
    assert!(codes(copied(&poor, Selection::Path("hours".into())).unwrap()).is_empty(), "no check is over it");
    assert!(codes(copied(&unit(9), settings()).unwrap()).is_empty());
}

#[test]
fn what_is_not_in_the_image_to_copy_from_is_told() {
    let cut = Image::with_gaps(0, unit(9).bytes().to_vec(), vec![Span::new(0x78, 0x7C)]);
    let copy = Instruction::Copy(Selection::All(Role::Record), &cut);
    let amended = amend(Some(&layout()), &unit(7), &[copy]).unwrap();
    let left = ("every Record".to_owned(), "the image to copy from does not have hours".to_owned());
    assert_eq!(amended.left, [left]);
}
