//! What was done to an image, as bytes that are only ever added to.
//!
//! Each step is a frame: its length (4 bytes), its CRC-32 (4 bytes, over the number of the frame and what follows), and
//! what follows: when (8 bytes, seconds since 1970), how ([`Turn`], 1 byte), the label, the edits. Numbers stand least
//! significant byte first; texts and bytes stand behind their lengths (4 bytes). Whoever is stopped while he writes
//! leaves a frame that is cut short or wrong at the end: reading ends there, and everything before counts.

use crc::{CRC_32_ISO_HDLC, Crc};

use crate::edit::{Change, Done, Edit, Turn};

/// Bytes before what a frame holds.
const HEAD: usize = 8;

const TURNS: [Turn; 4] = [Turn::Made, Turn::Joined, Turn::TakenBack, Turn::MadeAgain];

/// How a turn is written.
const fn byte(turn: Turn) -> u8 {
    match turn {
        Turn::Made => 1,
        Turn::Joined => 2,
        Turn::TakenBack => 3,
        Turn::MadeAgain => 4,
    }
}

/// One step that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// When it was done, in seconds since 1970.
    pub at: i64,
    /// What was done.
    pub done: Done,
}

/// What was done to an image, as it was added to a note.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Steps {
    /// In the order in which they were done.
    pub steps: Vec<Step>,
    /// Bytes at the end that make no whole step.
    pub torn: usize,
}

/// The frame with this number, counted from 0, for what was done `at` that many seconds since 1970.
pub(super) fn frame(number: u64, at: i64, done: &Done) -> Vec<u8> {
    let mut inside = at.to_le_bytes().to_vec();
    inside.push(byte(done.turn));
    put(&mut inside, done.change.label.as_bytes());
    for edit in &done.change.edits {
        inside.extend((edit.at as u64).to_le_bytes());
        put(&mut inside, &edit.before);
        put(&mut inside, &edit.after);
    }
    let mut frame = length(&inside).to_vec();
    frame.extend(check(number, &inside).to_le_bytes());
    frame.extend(inside);
    frame
}

/// Reads frames until there are no more, or one is not whole.
#[must_use]
pub fn read_steps(mut bytes: &[u8]) -> Steps {
    let mut read = Steps::default();
    while let Some((step, rest)) = first(read.steps.len() as u64, bytes) {
        read.steps.push(step);
        bytes = rest;
    }
    read.torn = bytes.len();
    read
}

fn first(number: u64, bytes: &[u8]) -> Option<(Step, &[u8])> {
    let (head, rest) = bytes.split_at_checked(HEAD)?;
    let (mut head, sum) = head.split_at_checked(4)?;
    let length = take_length(&mut head)?;
    let (inside, rest) = rest.split_at_checked(length)?;
    if check(number, inside).to_le_bytes() != *sum {
        return None;
    }
    let mut inside = inside;
    let at = i64::from_le_bytes(*take(&mut inside)?);
    let [written] = *take::<1>(&mut inside)?;
    let turn = TURNS.into_iter().find(|&turn| byte(turn) == written)?;
    let label = String::from_utf8(take_bytes(&mut inside)?.to_vec()).ok()?;
    let mut edits = Vec::new();
    while !inside.is_empty() {
        edits.push(Edit {
            at: usize::try_from(u64::from_le_bytes(*take(&mut inside)?)).ok()?,
            before: take_bytes(&mut inside)?.to_vec(),
            after: take_bytes(&mut inside)?.to_vec(),
        });
    }
    Some((Step { at, done: Done { turn, change: Change { label, edits } } }, rest))
}

fn check(number: u64, inside: &[u8]) -> u32 {
    const CRC: Crc<u32> = Crc::<u32>::new(&CRC_32_ISO_HDLC);
    let mut digest = CRC.digest();
    digest.update(&number.to_le_bytes());
    digest.update(inside);
    digest.finalize()
}

/// What comes near 4 GiB is never added to a journal.
fn length(bytes: &[u8]) -> [u8; 4] {
    u32::try_from(bytes.len()).unwrap_or(u32::MAX).to_le_bytes()
}

fn put(into: &mut Vec<u8>, bytes: &[u8]) {
    into.extend(length(bytes));
    into.extend(bytes);
}

fn take<'a, const N: usize>(bytes: &mut &'a [u8]) -> Option<&'a [u8; N]> {
    let (taken, rest) = bytes.split_first_chunk::<N>()?;
    *bytes = rest;
    Some(taken)
}

fn take_length(bytes: &mut &[u8]) -> Option<usize> {
    usize::try_from(u32::from_le_bytes(*take(bytes)?)).ok()
}

fn take_bytes<'a>(bytes: &mut &'a [u8]) -> Option<&'a [u8]> {
    let length = take_length(bytes)?;
    let (taken, rest) = bytes.split_at_checked(length)?;
    *bytes = rest;
    Some(taken)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn any_done() -> impl Strategy<Value = Done> {
        let bytes = || prop::collection::vec(any::<u8>(), 0..9);
        let edit = (any::<u32>(), bytes(), bytes()).prop_map(|(at, before, after)| Edit {
            at: at as usize,
            before,
            after,
        });
        let edits = prop::collection::vec(edit, 0..4);
        (prop::sample::select(&TURNS[..]), "\\PC{0,9}", edits)
            .prop_map(|(turn, label, edits)| Done { turn, change: Change { label, edits } })
    }

    proptest! {
        #[test]
        fn a_journal_that_ends_anywhere_gives_every_whole_step_before_its_end(
            all in prop::collection::vec(any_done(), 0..6),
            end in any::<prop::sample::Index>(),
        ) {
            let frames: Vec<Vec<u8>> = all.iter().enumerate().map(|(n, d)| frame(n as u64, 7, d)).collect();
            let whole = frames.concat();
            let end = end.index(whole.len() + 1);
            let read = read_steps(&whole[..end]);
            let mut left = end;
            let fit = frames.iter().take_while(|f| left.checked_sub(f.len()).inspect(|l| left = *l).is_some()).count();
            prop_assert_eq!((read.steps.len(), read.torn), (fit, left));
            prop_assert!(read.steps.iter().zip(&all).all(|(step, done)| step.done == *done && step.at == 7));
        }

        #[test]
        fn a_byte_that_is_wrong_ends_the_journal_there_and_invents_nothing(
            all in prop::collection::vec(any_done(), 1..6),
            place in any::<prop::sample::Index>(),
            other in 1u8..,
        ) {
            let mut bytes: Vec<u8> = all.iter().enumerate().flat_map(|(n, d)| frame(n as u64, 7, d)).collect();
            let at = place.index(bytes.len());
            bytes[at] ^= other;
            let read = read_steps(&bytes);
            prop_assert!(read.steps.len() < all.len());
            prop_assert!(read.steps.iter().zip(&all).all(|(step, done)| step.done == *done));
        }

        #[test]
        fn bytes_of_anybody_are_read_without_harm(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            prop_assert_eq!(read_steps(&bytes).steps, vec![]);
        }
    }

    #[test]
    fn a_step_that_stands_in_another_place_does_not_count() {
        let done = Done { turn: Turn::Made, change: Change::default() };
        assert_eq!(read_steps(&frame(1, 0, &done)).steps, []);
        let twice = [frame(0, 0, &done), frame(0, 0, &done)].concat();
        assert_eq!(read_steps(&twice).steps.len(), 1);
    }
}
