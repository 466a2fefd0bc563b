//! How the bytes move from image to image.

use std::collections::HashMap;

/// The moves of every offset at which images differ, in the order of offsets.
pub(super) struct Moves {
    /// By exclusive or.
    pub toggled: Vec<Move>,
    /// By subtraction.
    pub added: Vec<Move>,
}

/// How the byte at one offset moves from the first image to each other one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Move {
    /// The offset.
    pub at: usize,
    /// Bytes that move alike have one name, and so have those that move the other way round.
    pub name: u32,
    /// It is the one of the two.
    pub is_against: bool,
    /// To and fro are the same, so that two such moves undo each other.
    pub is_own_inverse: bool,
}

impl Moves {
    pub(super) fn new(images: &[&[u8]], len: usize) -> Self {
        Moves {
            toggled: moves(images, len, |byte, first| byte ^ first, |change| change),
            added: moves(images, len, u8::wrapping_sub, u8::wrapping_neg),
        }
    }
}

fn moves(images: &[&[u8]], len: usize, change: fn(u8, u8) -> u8, inverse: fn(u8) -> u8) -> Vec<Move> {
    let Some((first, others)) = images.split_first() else { return Vec::new() };
    let mut names: HashMap<Vec<u8>, u32> = HashMap::new();
    let mut moves = Vec::new();
    for at in 0..len {
        let there: Vec<u8> = others.iter().map(|image| change(image[at], first[at])).collect();
        if there.iter().all(|&change| change == 0) {
            continue;
        }
        let back: Vec<u8> = there.iter().map(|&change| inverse(change)).collect();
        let (is_against, is_own_inverse) = (there > back, there == back);
        let next = names.len() as u32;
        let name = *names.entry(there.min(back)).or_insert(next);
        moves.push(Move { at, name, is_against, is_own_inverse });
    }
    moves
}
