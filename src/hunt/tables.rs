//! The numbers of every position, for one kernel over one alignment of its words.

use super::algebra::Algebra;
use super::kernel::Kernel;
use super::scene::Scene;
use crate::check::Algorithm;

/// Numbers of one image, or of its differences to the first image, at every position.
pub(super) struct Channel {
    /// As the beginning of a range.
    pub starts: Vec<u64>,
    /// As its end.
    pub ends: Vec<u64>,
    /// Constants left out.
    pub plain: Vec<u64>,
    /// Of differences, what each word adds to a value.
    pub words: Vec<u64>,
}

/// What is looked up in: one image with an algorithm's constants, or differences, in which constants drop out.
pub(super) struct View {
    pub member: Option<&'static Algorithm>,
    /// One for the image, or one for each image but the first.
    pub channels: Vec<Channel>,
    /// For each position the first and the last of those around it that are alike as beginnings.
    pub runs: Vec<(usize, usize)>,
}

/// Everything about one kernel over one alignment.
pub(super) struct Tables<'s, A> {
    pub scene: &'s Scene<'s>,
    pub kernel: &'static Kernel,
    pub algebra: &'s A,
    /// Offset of the first position; positions are `step` bytes apart.
    pub first: usize,
    pub step: usize,
    /// Numbers of the first image, constants left out.
    pub base: Vec<u64>,
    pub views: Vec<View>,
}

impl<'s, A: Algebra> Tables<'s, A> {
    pub(super) fn new(scene: &'s Scene<'s>, kernel: &'static Kernel, algebra: &'s A, first: usize) -> Self {
        let step = kernel.family.step();
        let mut images = scene.images.iter().map(|image| image.get(first..).unwrap_or_default());
        let first_image = images.next().unwrap_or_default();
        let base = algebra.numbers(first_image);
        let views = if scene.is_single() {
            let view = |member: &'static Algorithm| {
                let starts = algebra.begins(member.method, &base);
                let ends = algebra.ends(member.method, &base);
                View::new(
                    Some(member),
                    vec![Channel { starts, ends, plain: base.clone(), words: Vec::new() }],
                )
            };
            kernel.members.iter().map(view).collect()
        } else {
            let channel = |image: &[u8]| {
                let numbers = algebra.numbers(image);
                let plain: Vec<u64> =
                    numbers.iter().zip(&base).map(|(&own, &base)| algebra.less(own, base)).collect();
                let both = image.chunks_exact(step).zip(first_image.chunks_exact(step));
                let words = both.map(|(own, first)| algebra.word(own, first)).collect();
                Channel { starts: plain.clone(), ends: plain.clone(), plain, words }
            };
            vec![View::new(None, images.map(channel).collect())]
        };
        Tables { scene, kernel, algebra, first, step, base, views }
    }

    /// The offset of a position.
    pub(super) fn offset(&self, position: usize) -> usize {
        self.first + position * self.step
    }

    /// The position at an offset, if there is one.
    pub(super) fn position(&self, offset: usize) -> Option<usize> {
        let from = offset.checked_sub(self.first)?;
        (from.is_multiple_of(self.step) && from / self.step < self.base.len()).then(|| from / self.step)
    }

    /// The positions at some offsets.
    pub(super) fn positions(&self, offsets: &[usize]) -> Vec<usize> {
        offsets.iter().filter_map(|&offset| self.position(offset)).collect()
    }
}

impl View {
    fn new(member: Option<&'static Algorithm>, channels: Vec<Channel>) -> Self {
        let count = channels.first().map_or(0, |channel| channel.starts.len());
        let alike =
            |a: usize, b: usize| channels.iter().all(|channel| channel.starts[a] == channel.starts[b]);
        let mut runs = Vec::with_capacity(count);
        let mut from = 0;
        while from < count {
            let to = (from + 1..count).find(|&at| !alike(from, at)).unwrap_or(count) - 1;
            runs.resize(to + 1, (from, to));
            from = to + 1;
        }
        View { member, channels, runs }
    }

    /// One position for each run.
    pub(super) fn representatives(&self) -> Vec<usize> {
        self.runs.iter().enumerate().filter(|&(at, run)| at == run.0).map(|(at, _)| at).collect()
    }
}
